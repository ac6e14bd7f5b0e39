"""Measured: what was measured or made since the files were written, and counts instead of them."""

from __future__ import annotations

import math
from typing import Any

from compare.answer.report import plain_name
from compare.figures import figure
from compare.report.workbook.book import NOT_KNOWN, Book, Head, Page

__all__ = ["NAME", "write"]

NAME = "Measured"
HEADS = (
    Head("on", 12),
    Head("by", 16),
    Head("of", 26),
    Head("what", 30),
    Head("value", 14),
    Head("give or take", 14),
)


def write(book: Book) -> None:
    """Write the sheet, where there is a log; its rows travel with the workbook."""
    rows = book.report.measured
    if not rows:
        return
    page = Page(book, NAME, [h.width for h in HEADS], landscape=False)
    page.title(NAME, "The last value of a dimension counts, instead of what the files say.")
    page.table(HEADS, [_cells(book, row) for row in rows], filtered=True)
    for row in rows:
        told = "\t".join(
            (row["on"], row["by"], repr(row["value"]), repr(row["half"]), row["typed"])
        )
        book.sent.append((NAME, str(row["line"]), row["of"], row["dimension"], told))


def _cells(book: Book, row: dict[str, Any]) -> list[str]:
    unit, half = row["unit"], row["half"]
    known = not math.isnan(row["value"])
    value = row["chosen"] or (figure(row["value"], unit, book.units) if known else NOT_KNOWN)
    doubt = "" if math.isnan(half) or not half else figure(half, unit, book.units)
    return [row["on"], row["by"], row["of"], plain_name(row["dimension"]), value, doubt]
