"""Tables for the screen: one listing a sheet, its columns in order.

A column takes its value from a row of the report by key, or makes it of the row. A number has the
unit of its head; `own` gives it the row's unit instead, written beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from compare.answer.report import Report, plain_name
from compare.judge.outcome import percent
from compare.report.workbook.book import Book, Head, Page, words
from compare.report.workbook.labels import chance, outcome_style, top_rpm, verdict_style

__all__ = ["LISTINGS", "Listing", "writer"]

Row = dict[str, Any]
WIDEST = 230.0  # characters; what is wider is printed on several pages side by side
Make = Callable[[Report, Row], Any]


def shown(key: str) -> Make:
    """A key's value."""
    return lambda _, row: row[key]


def given(key: str) -> Make:
    """A key's value, nothing where there is none or it is nought."""
    return lambda _, row: "" if not row[key] else row[key]


def named(key: str) -> Make:
    """A name in words."""
    return lambda _, row: "" if row.get(key) is None else plain_name(words(row[key], "metric"))


def own(key: str, blank: Iterable[Any] = (None,)) -> Make:
    """A number with the row's own unit; nothing where there is none. A text stays one."""
    without = tuple(blank)

    def make(_: Report, row: Row) -> Any:
        value = row.get(key)
        if value in without or not isinstance(value, int | float):
            return value or ""
        return value, row.get("shown_unit") or row.get("unit") or ""

    return make


def share(key: str) -> Make:
    """A chance of a row of the ranking, with its error."""
    return lambda _, row: chance(row, key)


@dataclass(frozen=True)
class Listing:
    """One sheet: its name, how to read it, its rows, and per column a head and where its value is
    from; foot: a line below."""

    name: str
    note: str
    rows: Callable[[Report], Sequence[Row]]
    columns: tuple[tuple[Head, Make], ...]
    foot: Callable[[Report, int], str] = field(default=lambda *_: "")
    landscape: bool = True


def writer(one: Listing) -> Callable[[Book], None]:
    """What writes a listing's sheet; nothing where it has no rows."""

    def write(book: Book) -> None:
        rows = one.rows(book.report)
        if not rows:
            return
        heads = [head for head, _ in one.columns]
        page = Page(book, one.name, [h.width for h in heads], landscape=one.landscape)
        if sum(page.widths) > WIDEST:
            page.across(next((n for n, h in enumerate(heads) if h is CANDIDATE[0]), 0))
        page.title(one.name, one.note)
        made = [[make(book.report, row) for _, make in one.columns] for row in rows]
        page.table(heads, made, filtered=True)
        if foot := one.foot(book.report, len(rows)):
            page.wide(foot)

    return write


def _not_clear(report: Report) -> list[Row]:
    return [r for r in report.checks if {r["verdict"], r["verdict_as_found"]} != {"clear"}]


def _clear_ones(report: Report, listed: int) -> str:
    rest = len(report.checks) - listed
    if not rest:
        return ""
    subject, verb = ("One check that is", "is") if rest == 1 else (f"{rest} checks that are", "are")
    return f"{subject} clear, as found and with the plan, {verb} not listed."


def _left_out(report: Report, _: int) -> str:
    n = report.left_out
    who = "One more candidate was" if n == 1 else f"{n} more candidates were"
    return f"{who} not asked for: run without --top to see all." if n else ""


def _band(key: str) -> Make:
    """An end of a band; today's gearbox has none."""
    return lambda _, row: "" if row[key] is None and not row["build"] else row[key]


CANDIDATE, BUILD = (Head("candidate", 22), shown("candidate")), (Head("build", 17), shown("build"))
RANKING = Listing(
    "Ranking",
    "Every candidate by its best build. Chances come from random draws within each number's doubt; "
    "5 % and 95 % of them lie below the two figures beside a value or a cost.",
    lambda report: report.ranking,
    (
        (Head("rank", 6, "count"), shown("rank")), CANDIDATE, BUILD,
        (Head("outcome", 17, style=outcome_style), shown("outcome")),
        (Head("fitted, chance", 11), share("chance_fitted")),
        (Head("if ordered from these figures", 13), share("chance_with_these_figures")),
        (Head("bolts in, chance", 10), share("chance_bolts_in")),
        (Head("first, chance", 8), share("chance_first")),
        (Head("value", 8, "points"), shown("value")), (Head("5 %", 7, "points"), shown("value_low")),
        (Head("95 %", 7, "points"), shown("value_high")), (Head("score", 7, "points"), shown("score")),
        (Head("at cruise", 9, "rev/min"), lambda report, row: top_rpm(report, row["candidate"])),
        (Head("deepest cut", 12), shown("undo")), (Head("cut", 11, right=True), own("cut_mm", (None, 0.0))),
        (Head("money", 8, "money"), shown("cost")), (Head("5 %", 8, "money"), _band("cost_low")),
        (Head("95 %", 8, "money"), _band("cost_high")), (Head("hours", 7, "h"), shown("hours")),
        (Head("why", 60), shown("why")),
    ),
    _left_out,
)  # fmt: skip
CHECKS = Listing(
    "Checks",
    "What is not clear only: a check that passes easily, as found and with the plan, is left out.",
    _not_clear,
    (
        CANDIDATE, BUILD, (Head("check", 18), named("check")), (Head("kind", 7), shown("kind")),
        (Head("as found", 12, style=verdict_style), shown("verdict_as_found")),
        (Head("with the plan", 12, style=verdict_style), shown("verdict")),
        (Head("holds, fitted", 10), share("chance_fitted")),
        (Head("what was found", 58), shown("why")), (Head("limit", 42), shown("limit")),
    ),
    _clear_ones,
)  # fmt: skip
NONE = "–"  # what cannot be, told from what is not known


def _after_changing_up(_: Report, row: Row) -> Any:
    return NONE if row["last"] else row["rpm_after_upshift"]


def _gradient(report: Report, row: Row) -> Any:
    cruise, most = report.car["cruise_speed_kmh"], row["speed_at_redline_kmh"]
    beyond = cruise is not None and most is not None and most < cruise
    known = row["gradient_at_cruise_percent"]
    return NONE if beyond and known is None else known


GEARS = Listing(
    "Gears",
    "–: there is no gear above, or the engine would turn beyond its redline at that speed. Not known: "
    "the torque curve, or another number, does not say.",
    lambda report: report.gears,
    (
        (Head("candidate", 24), shown("candidate")), (Head("gear", 7, "count"), shown("gear")),
        (Head("ratio", 8, "ratio"), shown("ratio")),
        (Head("speed at redline", 12, "km/h"), shown("speed_at_redline_kmh")),
        (Head("at cruising speed", 12, "rev/min"), shown("rpm_at_cruise")),
        (Head("after changing up", 12, "rev/min"), _after_changing_up),
        (Head("gradient held at cruise", 12, "%"), _gradient),
        (Head("speed it reaches on the level", 13, "km/h"), shown("top_speed_kmh")),
    ),
    landscape=False,
)  # fmt: skip
WORK = Listing(
    "Cuts and orders",
    "Figures are for planning: measure the parts in hand before anything is cut.",
    lambda report: report.work,
    (
        CANDIDATE, BUILD, (Head("what is done", 40), shown("operation")), (Head("on", 17), shown("on")),
        (Head("undo", 12), shown("undo")), (Head("extent", 12, right=True), own("extent_mm", (None, 0.0))),
        (Head("hours", 7, "h"), given("hours")), (Head("money", 8, "money"), given("cost")),
        (Head("tool", 18), shown("tool")), (Head("how, and why", 56), shown("why")),
    ),
)  # fmt: skip
PLAN = Listing(
    "Plan",
    "The figures to cut, make and order to; from and to: as good as the figure.",
    lambda report: [r for r in report.plan if r["unit"]],
    (
        CANDIDATE, BUILD,
        (Head("figure of", 30), lambda _, row: plain_name(row["decision"].split(":")[0])),
        (Head("on", 19), shown("on")),
        (Head("made before the parts meet", 14), lambda _, row: "yes" if row["blind"] else "no"),
        (Head("figure", 13, right=True), own("figure")),
        (Head("from", 13, right=True), own("tolerance_low")),
        (Head("to", 13, right=True), own("tolerance_high")),
    ),
)  # fmt: skip
SEATS = Listing(
    "Seats",
    "Thickness of the adapter and how far the engine goes forward, chosen together; from and to: "
    "as good as the plan.",
    lambda report: report.seats,
    (
        CANDIDATE, BUILD,
        (Head("adapter, planned", 10, "mm"), shown("planned_adapter_thickness_mm")),
        *((Head(end, 9, "mm"), lambda _, row, at=at: _end(row["adapter_thickness_tolerance_mm"][at]))
          for at, end in enumerate(("from", "to"))),
        (Head("engine forward, planned", 11, "mm tape"), shown("planned_engine_shift_mm")),
        *((Head(end, 9, "mm tape"), lambda _, row, at=at: _end(row["engine_shift_tolerance_mm"][at]))
          for at, end in enumerate(("from", "to"))),
        (Head("how it comes about", 80), shown("why")),
    ),
)  # fmt: skip


def _end(value: float | None) -> Any:
    return "" if value is None else value


def _extra(key: str) -> Callable[[Report], Sequence[Row]]:
    return lambda report: report.extra.get(key) or ()


WAYS = Listing(
    "Ways out",
    "The smallest changes that let in what is ruled out or doubtful. What helps only together has "
    "one number.",
    _extra("ways_out"),
    (
        CANDIDATE, (Head("change", 8, "count"), shown("change")), (Head("of", 20), shown("of")),
        (Head("what is changed", 24), named("dimension")),
        (Head("from", 13, right=True), own("from")), (Head("to", 13, right=True), own("to")),
        (Head("undo", 12), shown("undo")),
        (Head("money", 10, "money"), lambda _, row: _end(row["cost"])),
        (Head("chance then", 12), lambda _, row: _percent(row["chance_then"])),
        (Head("in words", 60), shown("text")),
    ),
)  # fmt: skip


def _percent(value: float | None) -> str:
    return "" if value is None else percent(value, float("nan"))


BUY = Listing(
    "Buy by",
    "Buy within the first two figures, walk away beyond the others; between them, write down and rank.",
    _extra("accept"),
    (
        CANDIDATE, (Head("dimension", 24), named("dimension")),
        (Head("buy from", 13, right=True), own("buy_low")), (Head("buy to", 13, right=True), own("buy_high")),
        (Head("walk away below", 13, right=True), own("walk_low")),
        (Head("walk away above", 13, right=True), own("walk_high")), (Head("in words", 60), shown("text")),
    ),
)  # fmt: skip
GATES = Listing(
    "Gates",
    "Stop, measure, and go on only between the two figures.",
    _extra("gates"),
    (
        CANDIDATE, (Head("before", 28), named("before")), (Head("measure", 24), named("measure")),
        (Head("from", 13, right=True), own("low")), (Head("to", 13, right=True), own("high")),
        (Head("in words", 70), shown("text")),
    ),
)  # fmt: skip
WINDOWS = Listing(
    "Windows",
    "How far each dimension may go before something ends it.",
    _extra("windows"),
    (
        CANDIDATE, (Head("of", 20), shown("of")), (Head("dimension", 24), named("dimension")),
        (Head("is", 13, right=True), own("value")), (Head("goes in from", 13, right=True), own("low")),
        (Head("to", 13, right=True), own("high")), (Head("ended below by", 18), named("ended_low_by")),
        (Head("ended above by", 18), named("ended_high_by")),
        (Head("with the plan, from", 13, right=True), own("plan_low")),
        (Head("to", 13, right=True), own("plan_high")),
        (Head("doubts to the edge", 10, ""), lambda _, row: _end(row["doubts_to_edge"])),
    ),
)  # fmt: skip
LISTINGS = (RANKING, CHECKS, WAYS, BUY, GATES, WINDOWS, GEARS, WORK, PLAN, SEATS)
