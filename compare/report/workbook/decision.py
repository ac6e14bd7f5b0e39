"""Decision: what to buy, why, and the ranking, on one printed page."""

from __future__ import annotations

from itertools import accumulate
from typing import Any

from compare.figures import figure
from compare.report.workbook.book import LINE, NOT_KNOWN, Book, Head, Page, lines_of, words
from compare.report.workbook.labels import JUST, chance, outcome_style, row_name, top_rpm

__all__ = ["cut_words", "write"]

HEADS = (
    Head("rank", 7, "count"),
    Head("candidate", 23),
    Head("outcome", 15, style=outcome_style),
    Head("goes in", 9),
    Head("value", 8, "points"),
    Head("at cruise", 11, "rev/min"),
    Head("deepest cut", 17),
    Head("money", 8, "money"),
    Head("hours", 8, "h"),
    Head("what it takes, or why not", 52),
)
LONG_NAME = 80  # letters of a name on this page; the sheet Ranking has all of it
ROOM = 578.0  # points above the last line that fit on the page in letters of 8.5 points


def cut_words(row: dict[str, Any], units: str) -> str:
    """The deepest undo step with how much of it; nothing where nothing is cut."""
    return (
        f"{row['undo']}, {figure(row['cut_mm'], row['shown_unit'], units)}" if row["cut_mm"] else ""
    )


def write(book: Book) -> None:
    """Write the sheet."""
    page = Page(book, "Decision", [h.width for h in HEADS], one_page=True)
    page.sheet.set_margins(0.4, 0.4, 0.3, 0.4)
    report = book.report
    page.title(f"Which gearbox: {words(report.car['name'], book.units, 80)}")
    _headline(page)
    _today(page)
    used = sum(r[0] for r in page.sheet.row_sizes.values()) + 30
    rows = [_cells(book, row) for row in report.ranking]
    each = [
        max(
            lines_of(words(c, book.units), h.width)
            for h, c in zip(HEADS, cells, strict=True)
            if h.unit is None
        )
        * LINE
        + 2.0
        for cells in rows
    ]
    # Where not all of them go on the page, the line that says so takes room too.
    room = ROOM if used + sum(each) <= ROOM else ROOM - LINE - 3.0
    shown = [
        cells for cells, end in zip(rows, accumulate(each), strict=True)
        if used + end <= room
    ]  # fmt: skip
    page.table(HEADS, shown)
    page.left_out(len(rows) - len(shown), "in the ranking", "see the sheet Ranking")
    page.left_out(report.left_out, "candidates were not asked for", "run without --top to see them")
    page.wide(
        "Value: 100 is all you could wish for; what may not go in counts as today's gearbox "
        "less what is lost on it."
    )


def _cells(book: Book, row: dict[str, Any]) -> list[Any]:
    return [
        row["rank"],
        words(row_name(row), book.units, LONG_NAME),
        row["outcome"] if row["firm"] else JUST + row["outcome"],
        chance(row),
        row["value"],
        top_rpm(book.report, row["candidate"]),
        cut_words(row, book.units),
        row["cost"],
        row["hours"],
        row["why"],
    ]


def _headline(page: Page) -> None:
    """The decision as the engine gives it; while there is none, what stands first and how sure
    that is."""
    report, units = page.book.report, page.book.units
    decision = report.extra.get("decision")
    if decision:
        page.wide(decision.get("text"), "big", 11)
        return
    if not report.ranking:
        page.wide("There is no candidate to judge.", "big", 11)
        return
    first = report.ranking[0]
    sure = chance(first)
    page.wide(
        f"First by expected value: {words(row_name(first), units, LONG_NAME)}, {first['outcome']}"
        f"{', chance ' + sure if sure else ''}; {figure(first['cost'], 'money', units)} "
        f"{words(report.car['currency'], units, 20)} in all, {figure(first['hours'], 'h', units)}.",
        "big",
        11,
    )
    page.wide(f"It takes: {words(first['why'], units)}.", "wrap")
    page.wide(f"What a measurement could change: {NOT_KNOWN} yet.")


def _today(page: Page) -> None:
    """Today's gearbox, where it does not pass through its own numbers."""
    baseline = page.book.report.baseline
    if baseline is None:
        page.wide(
            "Today's gearbox is not in the profile: nothing can be compared with keeping it.",
            "wrap",
        )
    elif not baseline["passes"]:
        failing = words(baseline["failing"], page.book.units)
        page.wide(
            f"Today's gearbox does not fit your numbers ({failing}): check them before all else.",
            "big",
            11,
        )
