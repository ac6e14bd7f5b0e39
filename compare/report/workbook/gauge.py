"""Ways out, what to buy by, gates and windows, once the report brings them; left out until then."""

from __future__ import annotations

from typing import Any

from compare.answer.report import plain_name
from compare.figures import figure
from compare.report.workbook.book import Book, Head, Page, words

__all__ = ["write"]

# sheet, what it says, report's rows; then per column: head, width, key; a key in UNITED has the row's unit
TABLES = (
    (
        "Ways out",
        "The smallest changes that let in what is ruled out or doubtful.",
        "ways_out",
        (("candidate", 24, "candidate"), ("of", 20, "of"), ("what is changed", 24, "dimension"),
         ("from", 10, "from"), ("to", 10, "to"), ("undo", 12, "undo"), ("money", 10, "cost"),
         ("chance then", 12, "chance_then"), ("in words", 60, "text")),
    ),
    (
        "Buy by",
        "Buy within the first two figures, walk away beyond the others; between them, write down and rank.",
        "accept",
        (("candidate", 24, "candidate"), ("dimension", 24, "dimension"), ("buy from", 11, "buy_low"),
         ("buy to", 11, "buy_high"), ("walk away below", 11, "walk_low"),
         ("walk away above", 11, "walk_high"), ("in words", 60, "text")),
    ),
    (
        "Gates",
        "Stop, measure, and go on only between the two figures.",
        "gates",
        (("candidate", 24, "candidate"), ("before", 28, "before"), ("measure", 24, "measure"),
         ("from", 11, "low"), ("to", 11, "high"), ("then", 40, "then"), ("in words", 50, "text")),
    ),
    (
        "Windows",
        "How far each dimension may go before something ends it.",
        "windows",
        (("candidate", 24, "candidate"), ("of", 20, "of"), ("dimension", 24, "dimension"),
         ("is", 10, "value"), ("goes in from", 11, "low"), ("to", 11, "high"),
         ("ended below by", 18, "ended_low_by"), ("ended above by", 18, "ended_high_by"),
         ("with the plan, from", 11, "plan_low"), ("to", 11, "plan_high"),
         ("doubts to the edge", 10, "doubts_to_edge")),
    ),
)  # fmt: skip
UNITED = {"from", "to", "buy_low", "buy_high", "walk_low", "walk_high", "low", "high", "value",
          "plan_low", "plan_high"}  # fmt: skip
NAMED = {"dimension", "before", "measure", "ended_low_by", "ended_high_by"}


def write(book: Book) -> None:
    """Write a sheet for each table that the report brings."""
    for name, note, key, columns in TABLES:
        rows = book.report.extra.get(key)
        if not rows:
            continue
        page = Page(book, name, [width for _, width, _ in columns])
        page.title(name, note)
        heads = [Head(label, width) for label, width, _ in columns]
        page.table(
            heads,
            [[_cell(row, k, book.units) for _, _, k in columns] for row in rows],
            filtered=True,
        )


def _cell(row: dict[str, Any], key: str, units: str) -> str:
    """One cell as text: what has no end is left empty, a number has its unit."""
    value = row.get(key)
    if value is None:
        return ""
    if key in UNITED and isinstance(value, int | float):
        return figure(value, row.get("unit") or "", units)
    if key == "chance_then" and isinstance(value, int | float):
        return f"{100 * value:.0f} %"
    if key in NAMED:
        return plain_name(words(value, units))
    return (
        figure(value, "money" if key == "cost" else "")
        if isinstance(value, float)
        else words(value, units)
    )
