"""The workbook for a friend who has no Python: values on every sheet, live formulas on What-if only."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.hyperlink import Hyperlink

from compare import __version__
from compare.answer.report import Row, Tables, plain_name
from compare.answer.visits import Dimension, Missing, term_of
from compare.figures import figure, number, safe, unit_of
from compare.judge.value import MEANINGS
from compare.read.catalogue import split_head
from compare.report.charts import add_gear_chart, add_ranking_charts, write_layout
from compare.report.sheets import Page, Styles, colour_words
from compare.report.terminal import spline_words
from compare.report.what_if_sheet import write_what_if
from compare.standards import limits_of_size
from compare.vocabulary import CRITERIA, OUTCOMES, VERDICTS, catalogue_terms
from compare.words import CAUTIONS, SOURCES, measure_line, missing_line

__all__ = ["SHEETS", "write_combinations", "write_workbook"]

SHEETS = (
    ("Ranking", "what to buy, best first, and why"),
    ("Checks", "every candidate against every question"),
    ("Reasons", "every check that is not clear, with its value and what it means"),
    ("Shaft work", "an order that a machinist can read"),
    ("Cuts", "everything that is cut or made, how it is undone, hours and money"),
    ("Measure next", "which dimension decides most of the doubt"),
    ("What-if", "change weights, cruising speed, axle, tyre and budget; the ranking follows"),
    ("Gears", "ratios, speeds, engine speed at cruise"),
    ("Layout", "side and plan view of the best candidates in the car"),
    ("Car", "the car profile as typed"),
    ("Catalogue", "the candidates as typed"),
    ("Method", "how it was computed, sources, cautions"),
)


def write_workbook(path: str | Path, tables: Tables, measure: list[Dimension], missing: list[Missing]) -> None:
    """Write the whole workbook to `path`."""
    book = Workbook()
    assert book.active is not None
    book.remove(book.active)
    styles = Styles(book)
    a = tables.assessment
    book.properties.title = safe(f"Gearbox swap: {a.car.name}", 120)
    book.properties.creator = f"gearbox-compare {__version__}"
    book.properties.created = datetime.datetime.now(datetime.UTC).replace(tzinfo=None, microsecond=0)
    book.properties.description = safe(_digests(tables), 500)
    _contents(book, styles, tables)
    _ranking(book, styles, tables)
    _checks(book, styles, tables)
    _shaft_work(book, styles, tables)
    _cuts(book, styles, tables)
    _measure(book, styles, tables, measure, missing)
    write_what_if(book, styles, tables)
    _gears(book, styles, tables)
    write_layout(book, styles, tables)
    _car(book, styles, tables)
    _catalogue(book, styles, tables)
    _method(book, styles, tables)
    book.active = 0
    book.save(path)


def write_combinations(path: str | Path, rows: list[Row], car: str, units: str) -> None:
    """The table of `what-if` as a workbook of one sheet: every combination, its best marked."""
    book = Workbook()
    assert book.active is not None
    book.remove(book.active)
    speed = unit_of("km/h", units)
    page = Page(book, Styles(book), "Combinations", safe(f"Axles, tyres and speeds: {car}", 90), "Every combination with its best candidates; the best of each is marked.")
    page.heads(["best", "axle", "tyre", f"cruise [{speed}]", "candidate", "build", "rpm at cruise", "pull [%]", "outcome", "score"], [7, 9, 18, 12, 26, 26, 10, 10, 18, 8])
    first = page.row
    for r in rows:
        page.line(["best" if r["best"] else "", r["axle"], r["tyre"], number(r["cruise_kmh"], "km/h", units), r["candidate"], r["build"], r["cruise_rpm"], r["pull_percent"], r["outcome"], r["score"]],
                  ["text", "three", "text", "whole", "wrap", "wrap", "whole", "one", "text", "one"])  # fmt: skip
    colour_words(page, f"I{first}:I{page.row}", OUTCOMES)
    page.close()
    book.save(path)


def _digests(tables: Tables) -> str:
    a = tables.assessment
    parts = f", parts {Path(a.builds.parts.file).name} {a.builds.parts.digest}" if a.builds.parts else ""
    return (
        f"catalogue {Path(a.builds.catalogue.file).name} {a.builds.catalogue.digest}, car {Path(a.car.file).name} {a.car.digest}{parts}, "
        f"{a.draws} draws, seed {a.seed}"
    )


def _contents(book: Workbook, styles: Styles, tables: Tables) -> None:
    a = tables.assessment
    page = Page(book, styles, "Contents", safe(f"Gearbox swap: {a.car.name}", 90))
    page.sheet.column_dimensions["A"].width, page.sheet.column_dimensions["B"].width = 22, 100
    best = tables.ranking[0] if tables.ranking else None
    for label, text in (
        ("In short", f"{len(tables.ranking)} candidates. First: {best['candidate']}, {best['outcome']} ({best['why']})." if best else ""),
        ("Made", f"{datetime.date.today().isoformat()} with gearbox-compare {__version__}"),
        ("From", _digests(tables)),
        ("Units", "metric" if tables.units == "metric" else "inch"),
    ):
        page.put(page.row, 1, label, "text")
        page.put(page.row, 2, text, "wrap")
        page.fit([(text, 100)])
        page.row += 1
    page.row += 1
    page.group("Sheets")
    for name, what in SHEETS:
        cell = page.put(page.row, 1, name, "link")
        cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{name}'!A1", display=name)
        cell._style = styles.record("link")
        page.put(page.row, 2, what, "wrap")
        page.row += 1
    page.row += 1
    page.group("Words")
    for word, what in (
        ("clear", "the margin is comfortable"),
        ("tight", "it works, the margin is below what is comfortable"),
        ("clash", "it does not work as it stands; work may put it right"),
        ("unmeasured", "an input is missing; the check names it"),
        ("undo scale", "bolts back · donor cut · panel cut · body cut · frame cut: how hard it is to go back"),
    ):
        page.put(page.row, 1, word, "text")
        page.put(page.row, 2, what, "wrap")
        page.row += 1
    page.row += 1
    page.group("Cautions")
    for line in CAUTIONS:
        page.put(page.row, 2, line, "wrap")
        page.fit([(line, 100)])
        page.row += 1
    page.close()


def _ranking(book: Workbook, styles: Styles, tables: Tables) -> None:
    a = tables.assessment
    page = Page(book, styles, "Ranking", "Ranking", "Outcome first, then score. The band holds 90 % of the draws; chances are shares of draws.")
    unit = unit_of("mm", tables.units)
    heads = ["rank", "candidate", "build", "outcome", "score", "band", "goes in", "first", "first, any weights", "rpm at cruise", "undo", f"cut [{unit}]", "cost", "hours", "why", "no reason to choose:"]
    comments = {
        "score": "0 to 100: weighted mean of the criteria on What-if.",
        "band": "Nine draws in ten give a score within it.",
        "goes in": "Share of the draws in which it bolts in or goes in with permitted work.",
        "first": "Share of the draws in which it comes first.",
        "first, any weights": "Chance of first place when all weights are equally possible, among candidates of the best outcome.",
        "undo": "The deepest step of the undo scale that the work needs.",
        "no reason to choose:": "A candidate that is as good or better in everything that counts.",
    }  # fmt: skip
    page.heads(heads, [5, 19, 15, 15, 6, 8, 7, 6, 8, 7, 10, 8, 7, 6, 56, 16], comments)
    cut_style = "two" if tables.units == "inch" else "one"
    kinds = ["whole", "wrap", "wrap", "text", "one", "text", "percent", "percent", "percent", "whole", "text", cut_style, "whole", "one", "wrap", "wrap"]
    first = page.row
    for r in tables.ranking:
        band = f"{r['score_low']:.0f} to {r['score_high']:.0f}"
        page.line(
            [r["rank"], r["candidate"], r["build"], r["outcome"], r["score"], band, r["chance_goes_in"], r["chance_first"],
             r["chance_first_any_weights"], r["cruise_rpm"], r["undo"], number(r["cut_mm"], "mm", tables.units), r["cost"], r["hours"], r["why"], r["dominated_by"]],
            kinds,
        )  # fmt: skip
    if a.baseline is not None:
        blank = [""] * len(heads)
        blank[1], blank[3] = "present gearbox", "as the car is today"
        page.line([*blank[:9], tables.value("cruise_rpm", 0, a.baseline), *blank[10:]], ["text"] * 9 + ["whole"] + ["text"] * (len(heads) - 10))
    colour_words(page, f"D{first}:D{page.row}", OUTCOMES)
    if len(tables.ranking) <= 200:
        add_ranking_charts(page, tables)
    page.close(last_column=len(heads))


def _checks(book: Workbook, styles: Styles, tables: Tables) -> None:
    checks = tables.assessment.engine.checks
    page = Page(book, styles, "Checks", "Checks", "The verdict in words; a star means that the work listed puts it right. Values and reasons: next sheet.", title_column=3)
    heads = ["candidate", "build", *(r.title.replace("_", " ") for r in checks)]
    comments = {r.title.replace("_", " "): f"{r.question}\n{tables.limit_words(r)}\n{r.reason}" for r in checks}
    page.heads(heads, [20, 15, *[9.5] * len(checks)], comments)
    for column in range(3, len(heads) + 1):
        page.sheet.cell(page.head_row, column)._style = styles.record("tall")
    page.sheet.row_dimensions[page.head_row].height = 92
    first = page.row
    for at in range(len(tables.shown)):
        row = tables.checks_of(at) if len(tables.shown) <= 200 else _bare_checks(tables, at)
        page.line([tables.candidate(at), tables.build(at), *(r["verdict"] + ("*" if r["resolved"] and r["verdict"] == "clash" else "") for r in row)], ["wrap", "wrap", *["text"] * len(checks)])
    baseline = tables.assessment.baseline
    if baseline is not None:
        page.line(["present gearbox", "", *(VERDICTS[int(v)] for v in baseline.verdicts[:, 0, 0])], ["wrap", "wrap", *["text"] * len(checks)])
    area = f"C{first}:{get_column_letter(2 + len(checks))}{page.row}"
    colour_words(page, area, VERDICTS)
    page.sheet.conditional_formatting.add(area, CellIsRule(operator="equal", formula=['"clash*"'], fill=PatternFill("solid", bgColor="F1CFA9")))
    page.sheet.print_title_cols = "A:B"
    page.close(pages_wide=2)
    _reasons(book, styles, tables)


def _reasons(book: Workbook, styles: Styles, tables: Tables) -> None:
    page = Page(book, styles, "Reasons", "Values and reasons", "Every check that is not clear, with its value and what it means. The chance is that of not clashing, over the doubt in every dimension.")
    page.heads(["candidate", "check", "verdict", "value", "limit", "chance", "why"], [22, 18, 12, 14, 44, 8, 74])
    first = page.row
    for at in range(min(len(tables.shown), 200)):
        for r in tables.checks_of(at):
            if r["verdict"] != "clear":
                chance = "" if r["chance"] is None else r["chance"]
                page.line([r["candidate"], r["check"].replace("_", " "), r["verdict"], r["shown"], r["limit"], chance, r["why"]], ["wrap", "wrap", "text", "wrap", "wrap", "percent", "wrap"])
    colour_words(page, f"C{first}:C{page.row}", VERDICTS)
    page.close()


def _bare_checks(tables: Tables, at: int) -> list[Row]:
    result = tables.result
    return [
        {"verdict": VERDICTS[int(result.verdicts[i, at, 0])], "resolved": bool(result.resolved[i, at, 0])}
        for i in range(len(tables.assessment.engine.checks))
    ]


# Oil-bronze bush, running clearance over bore, installed: RBC Bearings, 'Running clearance', rule of thumb.
RUNNING_CLEARANCE = 0.0015


def _fit(nominal: float, grade: str, units: str) -> str:
    """`Ø 16 f7: 15.966 to 15.984 mm`."""
    if not 3 < nominal <= 50:
        return figure(nominal, "mm diameter", units)
    low, high = limits_of_size(nominal, grade)
    if units == "inch":
        return f"Ø {nominal / 25.4:.4f} in {grade}: {low / 25.4:.4f} to {high / 25.4:.4f} in"
    return f"Ø {nominal:g} {grade}: {low:.3f} to {high:.3f} mm"


def shaft_orders(tables: Tables, at: int) -> list[Row]:
    """What a machinist is asked to do for one candidate, in order, with limits of size."""
    units = tables.units
    show = lambda name, unit="mm": figure(tables.value(name, at), unit, units)
    names = {w["operation"]: w for w in tables.work_of(at)}
    orders: list[Row] = []

    def order(operation: str, on: str, start: str, to: str, length: str, note: str) -> None:
        orders.append({"operation": operation, "on": on, "from": start, "to": to, "length": length, "note": note})

    chosen = next((r for r in tables.routes_of(at) if r["chosen"]), None)
    if chosen is None:
        return orders
    journal = chosen["to_mm"] or float("nan")
    if "Shorten the tip" in names:
        order("face the tip back", "input shaft", "", show("tip_cut"), "", "Leave a 1 × 45° chamfer. The tip may be hard: grind rather than turn.")
    if "Turn the journal down" in names:
        order("turn or grind the journal", "input shaft", f"Ø {figure(tables.value('pilot_diameter', at), 'mm diameter', units)}", _fit(journal, "f7", units),
              f"{show('journal_needed')} from the tip", f"{figure(chosen['cut_per_side_mm'], 'mm diameter', units)} off each side, {chosen['case']} "
              f"({show('case_assumed', 'mm diameter')}). Undercut radius 0.8 mm at the shoulder, no sharp corner. A tip is usually left as it is turned: hardening it again risks the shaft behind it.")  # fmt: skip
    if "Turn the journal back" in names:
        order("turn the journal back", "input shaft", f"{show('pilot_length')} long", _fit(journal, "f7", units), f"{show('journal_needed')} from the tip",
              f"Full splines then start {show('spline_start_after')} from the tip. Undercut radius 0.8 mm.")  # fmt: skip
    if "Make and fit a bush for the journal" in names or "Make and fit an extended bush" in names:
        bore = chosen["bore_mm"] or float("nan")
        order("turn a bush, outside", "bush, oil bronze", "", _fit(bore, "s6" if journal < 18 else "r6", units), figure(chosen["bush_length_mm"], "mm", units),
              f"For a crankshaft bore of {_fit(bore, 'H7', units)}; measure the bore in hand and set the press fit from it.")  # fmt: skip
        turned = "Turn the journal down" in names
        clearance = RUNNING_CLEARANCE * journal
        inside = _fit(journal, "H7", units) if turned else f"{figure(journal + clearance, 'mm order', units)}: the journal as measured and {figure(clearance, 'mm order', units)}"
        order("size the bush, inside", "bush, oil bronze", "", inside, figure(chosen["bush_length_mm"], "mm", units),
              "Size as pressed in: a thin bush closes by about its interference. Do not ream a sintered bush, its pores close. Running clearance about 0.0015 in per inch of bore. Soak in oil.")  # fmt: skip
        if chosen["route"] == "extended bush":
            order("fit the bush proud", "crankshaft", "", f"hold of {show('hold_after')}", "", "It stands out of the crankshaft and must stay clear of the disc's hub, worn.")
    if "Open the crankshaft's bore" in names:
        order("open the bore", "crankshaft", show("crank_bore_diameter", "mm diameter"), _fit(chosen["bore_mm"] or 0.0, "H7", units), show("crank_bore_depth"), "Engine out. Only on advice from someone qualified.")
    if "Shorten the release-bearing guide" in names:
        order("shorten the guide", "front cover", show("collar_length"), figure(names["Shorten the release-bearing guide"]["extent_mm"], "mm", units) + " off", "", "Deburr; the bearing must not catch.")
    if "Turn a register ring" in names:
        order("turn a register ring", "bellhousing", "", f"{_fit(tables.value('register_diameter', at), 'H7', units)} inside", "", f"Outside to the bellhousing's bore, {show('car_bellhousing_register_diameter', 'mm diameter')}.")
    if "Make the adapter plate" in names:
        order("make the adapter plate", "bellhousing", "", f"{show('adapter_thickness')} thick", "", "Faces parallel within 0.05 mm, doweled, bore within 0.13 mm total indicator reading of the crankshaft (practice).")
    if "Mill the mount pad level" in names:
        order("mill the mount pad", "tail housing", show("mount_tilt_off", "deg") + " off level", f"{show('pad_milling')} off the thick end", show("mount_pad_length"), f"The pad then sits {show('drop_after')} below the axis.")
    return orders


def _shaft_work(book: Workbook, styles: Styles, tables: Tables) -> None:
    page = Page(book, styles, "Shaft work", "Shaft work", "For candidates that are not ruled out. Offer the box up first: measure reach and hub on the real parts before cutting metal. Limits of size from ISO 286-2.")
    page.heads(["candidate", "operation", "on", "from", "to", "length", "note"], [20, 22, 17, 14, 34, 18, 76])
    if not tables.shown:
        page.close()
        return
    any_order = False
    for at in range(min(len(tables.shown), 200)):
        orders = shaft_orders(tables, at) if tables.ranking[at]["outcome"] != "ruled out" else []
        if not orders:
            continue
        any_order = True
        for o in orders:
            page.line([tables.candidate(at), o["operation"], o["on"], o["from"], o["to"], o["length"], o["note"]], ["wrap"] * 7)
        page.line([tables.candidate(at), "check before cutting", "", "", "", "", (
            f"reach {figure(tables.value('reach', at), 'mm', tables.units)} beyond the flange, hub {figure(tables.value('hub_front_margin', at), 'mm', tables.units)} from the start of the splines (worn) and "
            f"{figure(tables.value('hub_rear_margin', at), 'mm', tables.units)} from the run-out (released). {spline_words(tables.value('spline_teeth', at), tables.value('spline_diameter', at), tables.units).split(' Equal numbers')[0]}"
        )], ["wrap"] * 7)  # fmt: skip
    if not any_order:
        page.line(["none", "No candidate needs shaft work.", "", "", "", "", ""], ["wrap"] * 7)
    page.close()


def _cuts(book: Workbook, styles: Styles, tables: Tables) -> None:
    page = Page(book, styles, "Cuts", "Work, and how it is undone", "The deepest cut of each candidate first. Hours count at your own rate where you own the tool.")
    unit = unit_of("mm", tables.units)
    page.heads(["candidate", "build", "operation", "on", "undo", f"extent [{unit}]", "tool", "hours", "cost", "permitted", "why"], [18, 15, 30, 15, 11, 8, 13, 7, 7, 10, 58])
    for at in range(len(tables.shown)):
        for w in tables.work_of(at):
            page.line(
                [w["candidate"], w["build"], w["operation"], w["on"], w["undo"], number(w["extent_mm"], "mm", tables.units), w["tool"], w["hours"], w["cost"], "yes" if w["permitted"] else "no", w["why"]],
                ["wrap", "wrap", "wrap", "wrap", "text", "two" if tables.units == "inch" else "one", "wrap", "one", "whole", "text", "wrap"],
            )
    page.close()


def _measure(book: Workbook, styles: Styles, tables: Tables, measure: list[Dimension], missing: list[Missing]) -> None:
    page = Page(book, styles, "Measure next", "Measure next", "Dimensions in the order of how much of the shortlist's doubt they decide; what is unknown and blocks comes first.")
    page.heads(["#", "of", "dimension", "in words", "tool", "how"], [5, 20, 22, 76, 18, 46])
    for n, d in enumerate(measure, start=1):
        term = term_of(d.column)
        page.line([n, "the car" if d.owner == "car" else d.owner, plain_name(d.column), measure_line(d, tables.units), term.tool, term.measure], ["whole", "wrap", "wrap", "wrap", "wrap", "wrap"])
    for m in missing:
        page.line(["", m.candidate, plain_name(m.column), missing_line(m, tables.units), term_of(m.column).tool, term_of(m.column).measure], ["text", "wrap", "wrap", "wrap", "wrap", "wrap"])
    if not measure and not missing:
        page.line(["", "", "", "Nothing is in doubt that would change an outcome.", "", ""], ["text", "text", "text", "wrap", "text", "text"])
    page.close()


def _gears(book: Workbook, styles: Styles, tables: Tables) -> None:
    speed = unit_of("km/h", tables.units)
    page = Page(book, styles, "Gears", "Gears", "Speeds at the engine's redline; the gradient is what the gear holds at cruising speed.")
    page.heads(["candidate", "gear", "ratio", f"{speed} at redline", "rpm at cruise", "rpm after upshift", "gradient held at cruise [%]", f"top speed [{speed}]"], [26, 7, 9, 12, 10, 12, 15, 12])
    convert = lambda v: None if v is None else number(v, "km/h", tables.units)
    for g in tables.gears:
        page.line(
            [g["candidate"], g["gear"], g["ratio"], convert(g["speed_at_redline_kmh"]), g["rpm_at_cruise"], "" if g["rpm_after_upshift"] is None else g["rpm_after_upshift"],
             "" if g["gradient_at_cruise_percent"] is None else g["gradient_at_cruise_percent"], "" if g["top_speed_kmh"] is None else convert(g["top_speed_kmh"])],
            ["wrap", "whole", "three", "whole", "whole", "whole", "one", "whole"],
        )  # fmt: skip
    add_gear_chart(page, tables)
    page.close(last_column=20)


def _car(book: Workbook, styles: Styles, tables: Tables) -> None:
    page = Page(book, styles, "Car", "The car, as typed", safe(tables.assessment.car.file, 200))
    page.heads(["section", "key", "value"], [20, 28, 100], filters=False)
    for section, key, typed in tables.assessment.car.shown:
        page.line([section, key, typed], ["text", "text", "wrap"])
    page.close()


def _catalogue(book: Workbook, styles: Styles, tables: Tables) -> None:
    a = tables.assessment
    terms = catalogue_terms()
    page = Page(book, styles, "Catalogue", "The candidates, as typed", safe(a.builds.catalogue.file, 200), title_column=2)
    comments: dict[str, str] = {}
    for head in a.builds.catalogue.head:
        term = terms.get(split_head(head)[0])
        if term is not None:
            comments[head] = ". ".join(part for part in (term.meaning, term.measure, term.tool) if part)
    heads = list(a.builds.catalogue.head)
    wordy = [split_head(h)[0] == "notes" for h in heads]
    page.heads(heads, [24, *(44 if w else max(12, len(h) + 1) for h, w in zip(heads[1:], wordy[1:], strict=True))] if heads else [], comments)
    shown = {int(row) for row in a.builds.candidate}
    for row, cells in enumerate(a.builds.catalogue.rows):
        if row in shown:
            page.line([c.strip() for c in cells], ["wrap" if w or at == 0 else "text" for at, w in enumerate(wordy)])
    if a.builds.parts is not None:
        page.row += 1
        page.group("Parts, as typed")
        for table_row in (a.builds.parts.head, *a.builds.parts.rows):
            for column, cell in enumerate(table_row, start=1):
                if cell.strip():
                    page.put(page.row, column, cell.strip(), "wrap")
            page.fit([(cell.strip(), 24 if column == 0 else 12) for column, cell in enumerate(table_row)])
            page.row += 1
    page.sheet.print_title_cols = "A:A"
    page.close(pages_wide=5)


def _method(book: Workbook, styles: Styles, tables: Tables) -> None:
    a = tables.assessment
    page = Page(book, styles, "Method", "Method, sources and cautions", f"gearbox-compare {__version__}; {_digests(tables)}")
    page.sheet.column_dimensions["A"].width, page.sheet.column_dimensions["B"].width, page.sheet.column_dimensions["C"].width, page.sheet.column_dimensions["D"].width = 20, 52, 52, 62

    def block(title: str, rows: list[tuple[Any, ...]]) -> None:
        page.group(title)
        for values in rows:
            for column, value in enumerate(values, start=1):
                page.put(page.row, column, value, "wrap")
            widths = (20, 160) if len(values) == 2 else (20, 52, 52, 62)
            page.fit(list(zip(values, widths, strict=False)))
            if len(values) == 2:
                page.sheet.merge_cells(start_row=page.row, end_row=page.row, start_column=2, end_column=4)
            page.row += 1
        page.row += 1

    block("Cautions", [("", line) for line in CAUTIONS])
    block("Checks: question, limit, why it is asked", [(r.title.replace("_", " "), r.question, tables.limit_words(r), r.reason) for r in a.engine.checks])
    block("Criteria: weight, what the utility says", [(c.replace("_", " "), f"weight {w:.3f} of 1", MEANINGS[c]) for c, w in zip(CRITERIA, a.engine.weights, strict=True)])
    block("Doubt", [("defaults", "half-width of the uniform doubt when a cell states none", "lengths: measured 0.5, drawing 0.25, published 2, hearsay 6 mm; diameters 0.05, 0.02, 0.1, 1 mm; angles 0.25, 0.1, 0.5, 2°")])
    block("Sources", [(what, source) for what, source in SOURCES])
    if a.warnings:
        block("Notes on the input", [("", safe(w, 400)) for w in a.warnings])
    page.close()
