"""One candidate in depth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rich.text import Text

from compare.answer.report import Report, Row, plain_name
from compare.figures import figure, safe, unit_of
from compare.judge.outcome import percent
from compare.report.drawing.characters import in_characters
from compare.report.drawing.scene import scene, views_of
from compare.report.terminal.page import STYLES, VERDICT_STYLES, Page, points, whole
from compare.report.terminal.rank import name_of
from compare.said import Said, fill
from compare.topics import views
from compare.words import CAUTIONS, NOT_JUDGED, chance_words, money_words, ways_words

__all__ = ["detail_report"]

NARROW, WIDE = 72, 110
MOST = 10  # lines of a list
TALLEST = 24  # lines of one drawing
NOTHING = {"Adapter": "none", "Engine": "where it is"}


def detail_report(
    report: Report, candidate: str, *, width: int = 80, color: bool = False, units: str = "metric"
) -> str:
    """Everything known of one candidate, its best build first."""
    page = Page(width, color)
    row = next(r for r in report.ranking if r["candidate"] == candidate)
    page.say(f"{name_of(row, 60)} in {safe(report.car['name'], 60)}", "bold")
    page.say(f"{row['outcome']}: {fill(row['why'], units)}", STYLES[row["outcome"]])
    page.say(_summary(row, report))
    for place in report.extra.get("places") or ():
        said = fill(place["text"], units)
        if place["candidate"] == candidate and said:
            page.say(f"{said}.")
    _builds(page, report, candidate)
    _seat(page, report, candidate, units)
    _plan(page, report, candidate, units)
    _work(page, report, candidate, units)
    _routes(page, report, candidate)
    _checks(page, report, candidate, units)
    _windows(page, report, candidate, units)
    _gears(page, report, candidate, units)
    page.head("Cautions")
    for line in CAUTIONS:
        page.item("!", line)
    page.say(f"Not judged here: {NOT_JUDGED}.")
    return page.text()


def _summary(row: Row, report: Report) -> str:
    goes = f"Goes in {chance_words(row)} with the parts in hand"
    planned = chance_words(row, "chance_with_these_figures")
    if row["chance_with_these_figures"] is not None and planned != chance_words(row):
        goes += f", {planned} if all is made from these numbers"
    cost = money_words(row["cost"], safe(report.car["currency"], 12))
    parts = [goes, f"{cost}{_band(row, 'cost')}", f"{whole(row['hours'])} h{_band(row, 'hours')}"]
    parts.append(f"score {points(row['score'])}, value {points(row['value'])}")
    return "; ".join(parts) + "."


def _band(row: Row, key: str) -> str:
    """The band of a figure, where it is one."""
    low, high = (whole(row[f"{key}_{end}"]) for end in ("low", "high"))
    return "" if row[f"{key}_low"] is None or low == high else f" ({low} to {high})"


def _builds(page: Page, report: Report, candidate: str) -> None:
    others = report.of("builds", candidate)
    if len(others) < 2:
        return
    page.head("With other parts")
    page.table(
        [("build", "left"), ("outcome", "left"), ("goes in", "right"), ("undo", "left"), ("cost", "right"),
         ("value", "right")],
        [
            [safe(b["build"], 60), Text(b["outcome"], style=STYLES[b["outcome"]]), chance_words(b), b["undo"],
             whole(b["cost"]), points(b["value"])]
            for b in others
        ],
    )  # fmt: skip


def _seat(page: Page, report: Report, candidate: str, units: str) -> None:
    page.head("Where it sits")
    seat = report.of("seats", candidate)[0]
    for what, key, unit in (
        ("Adapter", "adapter_thickness", report.units["adapter_thickness"]),
        ("Engine", "engine_shift", report.units["engine_shift"]),
    ):
        planned = seat[f"planned_{key}_mm"]
        low, high = seat[f"{key}_tolerance_mm"]
        if not planned:
            page.say({None: f"{what}: not known.", 0.0: f"{what}: {NOTHING[what]}."}[planned])
            continue
        text = f"{what}: {figure(planned, unit, units)}{' forward' if what == 'Engine' else ''}"
        if low is not None and high is not None and high - low > 0.05:
            text += f"; anywhere from {figure(low, unit, units)} to {figure(high, unit, units)} is as good"
        page.say(text + ".")
    page.say(fill(seat["why"], units))
    _drawings(page, report, candidate, units)


def _drawings(page: Page, report: Report, candidate: str, units: str) -> None:
    """Side, plan and shaft in characters, to scale, as far as their numbers are known."""
    found = views_of((views,))
    for name, title in (
        ("side", "From the side"),
        ("plan", "From above"),
        ("shaft", "Shaft in the crankshaft"),
    ):
        one = scene(found[name], report.facts[candidate])
        if not any(shape.role == "metal" for shape in one.shapes):
            names = ", ".join(plain_name(n) for n in one.unknown[:6])
            page.say(f"{title}: no drawing, since too little of the gearbox is known ({names}).")
            continue
        try:
            drawing = in_characters(
                one.shapes, min(page.width - 1, 110), system=units, tallest=TALLEST
            )
        except ValueError:
            continue
        page.say()
        page.say(title, "bold")
        page.raw(drawing.lines)
        page.say(drawing.legend)
        if one.unknown:
            names = ", ".join(plain_name(n) for n in one.unknown[:6])
            page.say(f"Not drawn, since not known: {names}.")


def _plan(page: Page, report: Report, candidate: str, units: str) -> None:
    rows = [r for r in report.of("plan", candidate) if r["tolerance_low"] is not None or r["blind"]]
    if not rows:
        return
    page.head("Made before the parts meet")
    named = {w["decision"]: w["operation"] for w in report.of("work", candidate)}
    for r in rows:
        text = named.get(r["decision"], r["decision"].replace("_", " "))
        if r["unit"] == "mm":
            text += f": {figure(r['figure'], r['shown_unit'], units)}"
        page.item("·", text)


def _work(page: Page, report: Report, candidate: str, units: str) -> None:
    page.head("Work")
    currency = safe(report.car["currency"], 12)
    for item in report.of("work", candidate):
        size = (
            f" {figure(item['extent_mm'], item['shown_unit'], units)}" if item["extent_mm"] else ""
        )
        hours = f", {figure(item['hours'], 'h', units)}" if item["hours"] else ""
        words = safe(fill(item["why"], units))
        page.item(
            "·",
            f"{item['operation']} ({item['on']}): {item['undo']}{size}, {item['tool']}{hours}, "
            f"{money_words(item['cost'], currency)}: {words}.",
        )


def _routes(page: Page, report: Report, candidate: str) -> None:
    by: dict[str, list[Row]] = {}
    for row in report.of("routes", candidate):
        by.setdefault(row["about"], []).append(row)
    page.head("Ways considered (> is the plan's)")
    for about, rows in by.items():
        parts = []
        for r in rows:
            goes = "does not go" if r["margin"] is None or r["margin"] < 0 else "goes"
            if r["share"] is not None:
                goes = f"works in {percent(r['share'], math.nan)}"
            parts.append(f"{'> ' if r['chosen'] else ''}{r['option']} ({goes}, {r['undo']})")
        page.item("·", f"{about}: {'; '.join(parts)}")


def _checks(page: Page, report: Report, candidate: str, units: str) -> None:
    rows = report.of("checks", candidate)
    page.head("Checks")
    if page.width < NARROW:
        _checks_in_lines(page, rows, units)
        return
    wide = page.width >= WIDE
    columns = [
        ("check", "left"),
        ("as found", "left"),
        ("planned", "left"),
        ("value", "right"),
        ("limit", "left"),
    ]
    columns += [("why", "left")] if wide else []
    page.table(
        columns,
        [
            [
                c["check"].replace("_", " "),
                Text(c["verdict_as_found"], style=VERDICT_STYLES[c["verdict_as_found"]]),
                Text(c["verdict"], style=VERDICT_STYLES[c["verdict"]]),
                "–" if c["value"] is None else figure(c["value"], c["shown_unit"], units),
                fill(c["limit"], units),
                *([safe(fill(c["why"], units))] if wide else []),
            ]
            for c in rows
        ],
    )
    if not wide:
        for c in rows:
            if c["verdict"] != "clear":
                page.item("·", f"{c['check'].replace('_', ' ')}: {safe(fill(c['why'], units))}")


def _checks_in_lines(page: Page, rows: Sequence[Row], units: str) -> None:
    """The checks as items, where a table has no room: those that are not clear first, with why."""
    clear = lambda c: c["verdict"] == c["verdict_as_found"] == "clear"
    for c in sorted(rows, key=clear):
        value = "" if c["value"] is None else f", {figure(c['value'], c['shown_unit'], units)}"
        verdict = c["verdict"] if c["verdict"] == c["verdict_as_found"] else (
            f"{c['verdict_as_found']} as found, {c['verdict']} as planned"
        )  # fmt: skip
        why = "" if c["verdict"] == "clear" else f" {safe(fill(c['why'], units))}."
        name = c["check"].replace("_", " ")
        page.item("·", f"{name}: {verdict}{value} ({fill(c['limit'], units)}).{why}")


def _figure_of(row: Row, key: str, units: str) -> str:
    """A figure of a window with its unit."""
    return "any" if row[key] is None else figure(row[key], str(row["shown_unit"]) or "ratio", units)


def _windows(page: Page, report: Report, candidate: str, units: str) -> None:
    """The windows that matter: nearest edges first."""
    rows: list[Any] = [r for r in report.extra.get("windows") or () if r["candidate"] == candidate]
    near = sorted(
        (r for r in rows if r["doubts_to_edge"] is not None), key=lambda r: r["doubts_to_edge"]
    )
    if near:
        page.head("How far each number may move")
        for r in near[:MOST]:
            name = str(r["dimension"]).replace("_", " ")
            low, high, now = (_figure_of(r, key, units) for key in ("low", "high", "value"))
            ends = f"from {low} to {high}"
            if r["low"] is None or r["high"] is None:
                ends = f"up to {high}" if r["low"] is None else f"from {low} up"
            page.item("·", f"{name}: {now}, goes in {ends}")
        _rest(page, len(near), "numbers", "the JSON report (rank --json) has all windows")
    ways = ways_words(report.extra.get("ways_out"), candidate, units)
    if ways:
        page.head("Ways out")
        for text in ways[:MOST]:
            page.item("·", text)
        _rest(page, len(ways), "ways", "the JSON report (rank --json) has all")
    for key, title in (("gates", "Gates"), ("visits", "Worth measuring")):
        said = [
            r["text"]
            for r in report.extra.get(key) or ()
            if r.get("candidate", r.get("of")) == candidate
        ]
        if said:
            page.head(title)
            for text in said[:MOST]:
                page.item("·", fill(text, units) if isinstance(text, Said) else str(text))
            _rest(page, len(said), "lines", "the JSON report (rank --json) has all")


def _rest(page: Page, count: int, what: str, where: str) -> None:
    """Says how many are left out, where some are."""
    if count > MOST:
        page.say(f"  and {count - MOST} more {what}: {where}")


def _gears(page: Page, report: Report, candidate: str, units: str) -> None:
    speed = unit_of("km/h", units)
    page.head(
        "Gears"
        if page.width >= NARROW
        else f"Gears ({speed} at redline; rev/min at cruise, after changing up; % held)"
    )
    names = ("redline", "cruise", "shift to", "holds")
    if page.width >= NARROW:
        names = (f"{speed} at redline", "rpm at cruise", "rpm after upshift", "holds % at cruise")
    heads = [(name, "right") for name in ("gear", "ratio", *names)]
    body: list[list[Text | str]] = []
    for g in report.of("gears", candidate):
        top = g["speed_at_redline_kmh"]
        held = g["gradient_at_cruise_percent"]
        body.append(
            [
                str(g["gear"]), f"{g['ratio']:.3f}",
                "?" if top is None else figure(top, "km/h", units).split(" ")[0],
                whole(g["rpm_at_cruise"]),
                "" if g["rpm_after_upshift"] is None else whole(g["rpm_after_upshift"]),
                "" if held is None else f"{held:.1f}",
            ]
        )  # fmt: skip
    page.table(heads, body)
