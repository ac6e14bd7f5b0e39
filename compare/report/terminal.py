"""The report on a terminal: read at a glance when wide, still whole when narrow, plain when piped."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from compare.answer.report import Row, Tables
from compare.answer.visits import Dimension, Missing
from compare.figures import figure, safe, unit_of
from compare.report.drawing import Drawing, layout_of, plan_view, shaft_view, side_view
from compare.standards import identify_spline
from compare.words import CAUTIONS, measure_line, missing_line

__all__ = ["PLAIN", "detail_report", "plain_characters", "rank_report", "what_if_report"]

STYLES = {"bolts in": "green", "goes in with work": "cyan", "measure first": "yellow", "ruled out": "red"}
VERDICT_STYLES = {"clear": "green", "tight": "yellow", "clash": "red", "unmeasured": "magenta"}
NARROW = 76
ROOMY = 92
WIDE = 110
# For outputs that know only ASCII.
PLAIN = str.maketrans(
    {"–": "-", "—": "-", "…": "...", "≥": ">=", "≤": "<=", "±": "+/-", "·": ".", "°": " deg", "²": "2", "×": "x", "½": "1/2",
     "─": "-", "━": "-", "│": "|", "’": "'", "“": '"', "”": '"', "é": "e", "ö": "o", "ü": "u", "ä": "a", "√": "sqrt", "−": "-", "³": "3"}
)  # fmt: skip


def plain_characters(text: str) -> str:
    """The same text in ASCII.

    >>> plain_characters("≥ 3 mm ±1°")
    '>= 3 mm +/-1 deg'
    """
    return text.translate(PLAIN).encode("ascii", "replace").decode("ascii")


class _Page:
    def __init__(self, width: int, color: bool) -> None:
        self.out = io.StringIO()
        self.width = max(width, 40)
        self.console = Console(file=self.out, width=self.width, force_terminal=color, no_color=not color, color_system="standard" if color else None,
                               highlight=False, emoji=False, markup=False, legacy_windows=False)  # fmt: skip

    def say(self, text: str = "", style: str = "", indent: int = 0) -> None:
        self.console.print(Padding(Text(text, style=style), (0, 0, 0, indent)) if indent else Text(text, style=style))

    def head(self, text: str) -> None:
        self.say()
        self.say(text, "bold")

    def item(self, mark: str, text: str, style: str = "") -> None:
        grid = Table.grid(padding=(0, 1, 0, 0))
        grid.add_column(no_wrap=True)
        grid.add_column()
        grid.add_row(Text(mark, style=style), Text(text))
        self.console.print(grid)

    def raw(self, drawing: Drawing) -> None:
        for line in drawing.lines:
            self.console.print(Text(line), no_wrap=True, crop=True, soft_wrap=False)
        self.say(drawing.legend)

    def table(self, columns: Sequence[tuple[str, str]], rows: Sequence[Sequence[Text | str]]) -> None:
        table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
        for name, justify in columns:
            fold = justify != "right"
            table.add_column(Text(name), justify=justify, overflow="fold", no_wrap=not fold)  # type: ignore[arg-type]
        for row in rows:
            table.add_row(*(cell if isinstance(cell, Text) else Text(cell) for cell in row))
        self.console.print(table)

    def text(self) -> str:
        return "\n".join(line.rstrip() for line in self.out.getvalue().split("\n"))


def rank_report(tables: Tables, measure: list[Dimension], missing: list[Missing], *, width: int = 80, color: bool = False, top: int = 0,
                changes: Sequence[str] = ()) -> str:  # fmt: skip
    """The ranked report as text. `top` limits the rows shown (0: all)."""
    a, page = tables.assessment, _Page(width, color)
    rows = tables.ranking[:top] if top else tables.ranking
    builds = f", {len(a.builds)} builds" if a.builds.parts is not None else ""
    page.say(safe(a.car.name, 60), "bold")
    candidates = "1 candidate" if len(tables.ranking) == 1 else f"{len(tables.ranking)} candidates"
    page.say(f"{candidates}{builds}, {a.draws} draws. {_today(tables)}")
    if changes:
        page.head("What changed")
        for line in changes:
            page.item("·", line)
    page.say()
    if page.width < NARROW:
        _narrow(page, rows)
    else:
        _ranked(page, tables, rows)
        page.head("Why")
        for row in rows:
            page.item(f"{row['rank']:>3}", f"{safe(row['candidate'], 40)}: {row['why']}")
    if top and len(tables.ranking) > top:
        page.say(f"{len(tables.ranking) - top} more candidates; leave out --top to see them.")
    windows = [s for s in tables.seats[: len(rows)] if "Engine where it is" in s["why"] or "No adapter thickness" in s["why"]]
    if windows:
        page.head("Where it sits")
        for s in windows:
            lead = f"engine {figure(s['engine_shift_mm'], 'mm', tables.units)} forward" if s["engine_shift_mm"] else "engine where it is"
            where = s["why"][s["why"].index("Engine where it is") :] if "Engine where it is" in s["why"] else s["why"]
            page.item("·", f"{safe(s['candidate'], 40)} ({lead}): {where}")
    if missing or measure:
        page.head("Measure next")
        for number, d in enumerate(measure[:10], start=1):
            page.item(f"{number:>3}", safe(measure_line(d, tables.units)))
        for m in missing:
            page.item("  ·", safe(missing_line(m, tables.units)))
        if len(measure) > 10:
            page.say(f"    {len(measure) - 10} more in the workbook.")
    dominated = [r for r in rows if r["dominated_by"] and r["outcome"] != "ruled out"]
    if dominated:
        page.head("No reason to choose")
        by: dict[str, list[str]] = {}
        for r in dominated:
            by.setdefault(r["dominated_by"], []).append(safe(r["candidate"], 40))
        for better, worse in by.items():
            page.item("·", f"{', '.join(worse)}: {safe(better, 40)} is as good or better in everything that counts.")
    page.head("Cautions")
    for line in CAUTIONS:
        page.item("!", line)
    return page.text()


def _today(tables: Tables) -> str:
    baseline = tables.assessment.baseline
    car = tables.assessment.car
    if baseline is None or "cruise_speed" not in car.values:
        return ""
    rpm = tables.value("cruise_rpm", 0, baseline)
    speed = figure(car.values["cruise_speed"].nominal, "km/h", tables.units)
    return f"Today's gearbox turns {figure(rpm, 'rev/min')} at {speed}." if rpm == rpm else ""


def _score(row: Row) -> str:
    return f"{row['score']:.0f}"


def _band(row: Row) -> str:
    low, high = f"{row['score_low']:.0f}", f"{row['score_high']:.0f}"
    return low if low == high else f"{low}–{high}"


def _whole(value: Any) -> str:
    return "?" if value is None or value != value else f"{value:.0f}"


def _percent(value: float) -> str:
    return f"{100 * value:.0f} %"


def _ranked(page: _Page, tables: Tables, rows: Sequence[Row]) -> None:
    wide = page.width >= WIDE
    columns = [("#", "right"), ("candidate", "left"), ("outcome", "left"), ("score", "right")]
    columns += [("5–95 %", "right")] if wide else []
    roomy = page.width >= ROOMY
    columns += [("goes in", "right"), ("rpm", "right"), ("undo", "left"), ("cost", "right")]
    columns += [("hours", "right")] if roomy else []
    columns += [("first", "right"), ("any weights", "right")] if wide else []
    body: list[list[Text | str]] = []
    baseline = tables.assessment.baseline
    for row in rows:
        name = Text(safe(row["candidate"], 34))
        if row["build"] != "as sold":
            name.append("\n + " + safe(row["build"], 60), style="dim")
        undo = row["undo"] + (f"{' ' if roomy else chr(10)}{figure(row['cut_mm'], 'mm', tables.units)}" if row["cut_mm"] else "")
        line: list[Text | str] = [str(row["rank"]), name, Text(row["outcome"], style=STYLES[row["outcome"]]), _score(row)]
        line += [_band(row)] if wide else []
        line += [_percent(row["chance_goes_in"]), _whole(row["cruise_rpm"]), undo, _whole(row["cost"])]
        line += ["?" if row["hours"] is None else f"{row['hours']:.1f}"] if roomy else []
        line += [_percent(row["chance_first"]), _percent(row["chance_first_any_weights"])] if wide else []
        body.append(line)
    if baseline is not None:
        line = ["–", Text("present gearbox", style="dim"), "", "", *([""] if wide else []), "", _whole(tables.value("cruise_rpm", 0, baseline)), "", "", *([""] if roomy else [])]
        body.append(line + (["", ""] if wide else []))
    page.table(columns, body)


def _narrow(page: _Page, rows: Sequence[Row]) -> None:
    for row in rows:
        page.say(f"{row['rank']}. {safe(row['candidate'], 34)}", "bold")
        if row["build"] != "as sold":
            page.say("+ " + safe(row["build"], 60), "dim", 3)
        page.say(f"{row['outcome']}, score {_score(row)}, goes in {_percent(row['chance_goes_in'])}", STYLES[row["outcome"]], 3)
        page.say(f"{_whole(row['cruise_rpm'])} rev/min, {row['undo']}, cost {_whole(row['cost'])}", "", 3)
        page.say(row["why"], "", 3)


def detail_report(tables: Tables, at: int, measure: list[Dimension], missing: list[Missing], *, width: int = 80, color: bool = False) -> str:
    """One candidate in depth."""
    page = _Page(width, color)
    row = tables.ranking[at]
    inner = min(page.width - 1, 120)
    show = lambda v, unit="mm": figure(v, unit, tables.units)
    page.say(f"{safe(row['candidate'], 60)} in {safe(tables.assessment.car.name, 60)}", "bold")
    if row["build"] != "as sold":
        page.say(f"with {safe(row['build'], 120)}")
    page.say(f"{row['outcome']}: {row['why']}", STYLES[row["outcome"]])
    page.say(f"Score {row['score']:.0f} ({_band(row)} with 90 % of the draws), goes in {_percent(row['chance_goes_in'])}, "
             f"cost {_whole(row['cost'])}, {'?' if row['hours'] is None else row['hours']} h.")  # fmt: skip
    if row["dominated_by"]:
        page.say(f"{safe(row['dominated_by'], 60)} is as good or better in everything that counts.")
    page.say(f"To move it up: {row['to_move_up']}.")
    changed = tables.changed_by_parts(at)
    if changed:
        page.head("What the parts change")
        page.table([("part", "left"), ("column", "left"), ("was", "right"), ("is", "right")],
                   [[safe(c["part"], 40), c["column"], c["was"], c["is"]] for c in changed if c["was"] != c["is"]])  # fmt: skip

    page.head("Where it sits")
    seat = tables.seat_of(at)
    page.say(f"Adapter {show(_nan(seat['adapter_thickness_mm']))}, engine {show(_nan(seat['engine_shift_mm']))} forward.")
    page.say(seat["why"])
    if seat["shift_window_mm"][0] is not None and seat["shift_window_mm"][1] - seat["shift_window_mm"][0] > 0.05:
        low, high = seat["shift_window_mm"]
        page.say(f"Anywhere from {show(low)} to {show(high)} forward is as good.")
    layout = layout_of(tables, at)
    page.say()
    if layout.x_face == layout.x_face and layout.tail_end == layout.tail_end:
        page.raw(side_view(layout, inner))
    else:
        page.say("No side view: the gearbox's place or length is not known.")
    if page.width >= 60 and layout.tail_end == layout.tail_end:
        page.say()
        page.raw(plan_view(layout, inner))

    page.head("Shaft in the crankshaft")
    page.raw(shaft_view(tables, at, inner))
    routes = tables.routes_of(at)
    if routes:
        page.head("Pilot, by every route")
        page.table(
            [("", "left"), ("route", "left"), ("", "left"), ("to Ø", "right"), ("wall", "right"), ("cut a side", "right"), ("hold", "right"), ("undo", "left"), ("h", "right"), ("cost", "right")],
            [
                [">" if r["chosen"] else " ", r["route"], r["state"] + (f", {r['case']}" if r["case"] and r["cut_per_side_mm"] else ""), show(_nan(r["to_mm"]), "mm diameter"),
                 show(_nan(r["wall_or_clearance_mm"]), "mm diameter"), show(_nan(r["cut_per_side_mm"]), "mm diameter"), show(_nan(r["hold_mm"])), r["undo"], f"{r['hours']:.1f}", f"{r['cost']:.0f}"]
                for r in routes
            ],
        )  # fmt: skip
        first = routes[0]
        page.say(f"On every route: end gap {show(_nan(first['end_gap_mm']))}, hub {show(_nan(first['hub_front_mm']))} to the start of the splines, "
                 f"{show(_nan(first['hub_rear_mm']))} to the run-out (disc worn, clutch released; new and engaged {show(_nan(first['hub_front_new_mm']))} "
                 f"and {show(_nan(first['hub_rear_new_mm']))}), journal {show(_nan(first['journal_length_mm']))} long.")  # fmt: skip
        for other in tables.other_shafts_of(at):
            numbers = (
                f"end gap {show(_nan(other['end_gap_mm']))}, hold {show(_nan(other['hold_mm']))}, hub {show(_nan(other['hub_front_mm']))} and {show(_nan(other['hub_rear_mm']))}; "
                f"{other['undo']}, {'?' if other['hours'] is None else other['hours']} h, {_whole(other['cost'])} in all"
            )
            page.item("·", f"with {safe(other['shaft'], 40)}: {other['outcome']}, score {other['score']:.0f}: {other['why']} ({numbers})")
        teeth, over = tables.value("spline_teeth", at), tables.value("spline_diameter", at)
        page.say(spline_words(teeth, over, tables.units))

    page.head("Work")
    work = tables.work_of(at)
    if not work:
        page.say("None beyond fitting.")
    for item in work:
        size = f" {show(item['extent_mm'])}" if item["extent_mm"] else ""
        page.item("·", f"{item['operation']} ({item['on']}): {item['undo']}{size}, {item['tool']}, {item['hours']:.1f} h, {item['cost']:.0f}. {safe(item['why'])}")

    page.head("Checks")
    page.table(
        [("check", "left"), ("verdict", "left"), ("value", "right"), ("limit", "left")] + ([("why", "left")] if page.width >= WIDE else []),
        [
            [c["check"].replace("_", " "), Text(c["verdict"], style=VERDICT_STYLES[c["verdict"]]), c["shown"], c["limit"], *([safe(c["why"])] if page.width >= WIDE else [])]
            for c in tables.checks_of(at)
        ],
    )  # fmt: skip
    if page.width < WIDE:
        for c in tables.checks_of(at):
            if c["verdict"] != "clear":
                page.item("·", f"{c['check'].replace('_', ' ')}: {safe(c['why'])}")

    page.head("Gears")
    speed = unit_of("km/h", tables.units)
    gears = [("gear", "right"), ("ratio", "right"), (f"{speed} at redline", "right"), ("rpm at cruise", "right"), ("after upshift", "right"), ("holds %", "right")]
    page.table(gears, [_gear(g, tables.units) for g in tables.gears_of(at, tables.result, row["candidate"])])
    _car_lines(page, tables, at)
    mine = [d for d in measure if d.candidate == row["candidate"] or d.owner == row["candidate"]]
    if mine or missing:
        page.head("Measure next")
        for d in mine[:6]:
            page.item("·", safe(measure_line(d, tables.units)))
        for m in missing:
            if m.candidate == row["candidate"]:
                page.item("·", safe(missing_line(m, tables.units)))
    page.head("Cautions")
    for line in CAUTIONS:
        page.item("!", line)
    return page.text()


def spline_words(teeth: float, diameter: float, units: str = "metric") -> str:
    """The standard forms that the splines match, or that none does."""
    if teeth != teeth or diameter != diameter:
        return "Splines: teeth or diameter not known."
    forms = identify_spline(teeth, diameter)
    lead = f"Splines, {teeth:.0f} of {figure(diameter, 'mm diameter', units)}: "
    if not forms:
        return lead + "no standard form has these numbers; count and measure once more."
    tail = " Equal numbers are no proof of fit: a straight and an involute spline can share them."
    return lead + "; ".join(forms) + "." + tail


def _car_lines(page: _Page, tables: Tables, at: int) -> None:
    show = lambda name, unit: figure(tables.value(name, at), unit, tables.units)
    known = lambda name: tables.value(name, at) == tables.value(name, at)
    lines = []
    if known("top_speed"):
        lines.append(f"Top speed {show('top_speed', 'km/h')} in gear {show('top_speed_gear', 'count')}; at cruise the engine pulls best in gear {show('best_pull_gear', 'count')}.")
    if known("shaft_length"):
        today = f", {show('shaft_change', 'mm')} against today's" if known("shaft_change") else ""
        lines.append(f"Propeller shaft to order: {show('shaft_length', 'mm')} joint to joint{today}; joints {show('front_angle', 'rad')} and {show('rear_angle', 'rad')}; "
                     f"whirls at {show('whirl_speed', 'rev/min')}, turns {show('shaft_speed', 'rev/min')} at top speed.")  # fmt: skip
        lines.append(f"A pinion at {show('pinion_tilt_equal', 'rad')} sets the joints equal: wedge of {show('axle_wedge', 'rad')}.")
        lines.append("An overdrive does not spin the shaft faster at a given road speed; length does the harm.")
    if known("release_travel"):
        lines.append(f"Clutch: bearing travels {show('release_travel', 'mm')}; a slave of {show('slave_bore_wanted', 'mm diameter')} would centre it, made is {show('slave_bore_made', 'mm diameter')}. "
                     f"Force at the bearing is {show('leverage', '')} × that at the pedal.")  # fmt: skip
    if known("driven_to_order"):
        lines.append(f"Speedometer: {show('driven_to_order', 'count')} driven teeth to order ({show('driven_wanted', '')} would be true).")
    if lines:
        page.head("The rest of the car")
        for line in lines:
            page.item("·", line)


def _nan(value: float | None) -> float:
    return float("nan") if value is None else value


def _gear(g: Row, units: str) -> list[Text | str]:
    speed = "?" if g["speed_at_redline_kmh"] is None else figure(g["speed_at_redline_kmh"], "km/h", units).split(" ")[0]
    return [str(g["gear"]), f"{g['ratio']:.3f}", speed, _whole(g["rpm_at_cruise"]), "" if g["rpm_after_upshift"] is None else _whole(g["rpm_after_upshift"]),
            "" if g["gradient_at_cruise_percent"] is None else f"{g['gradient_at_cruise_percent']:.1f}"]  # fmt: skip


def what_if_report(rows: Sequence[Row], *, width: int = 80, color: bool = False, units: str = "metric") -> str:
    """Every combination × candidate, the best marked."""
    page = _Page(width, color)
    body: list[list[Text | str]] = []
    for r in rows:
        body.append([">" if r["best"] else " ", f"{r['axle']:.3f}", safe(r["tyre"], 16), figure(r["cruise_kmh"], "km/h", units), safe(r["candidate"], 26), _whole(r["cruise_rpm"]),
                     "?" if r["pull_percent"] is None else f"{r['pull_percent']:.1f}", Text(r["outcome"], style=STYLES[r["outcome"]]), f"{r['score']:.0f}"])  # fmt: skip
    columns = [("", "left"), ("axle", "right"), ("tyre", "left"), ("cruise", "right"), ("candidate", "left"), ("rpm", "right"), ("pull %", "right"), ("outcome", "left"), ("score", "right")]
    page.table(columns, body)
    page.say("> the best of its combination; tyre as the profile says, unless given.")
    return page.text()
