"""Cuts and orders: what each candidate takes; Plan: the figures to cut, make and order to."""

from __future__ import annotations

from typing import Any

from compare.answer.report import plain_name
from compare.figures import number, unit_of
from compare.report.workbook.book import Book, Head, Page

__all__ = ["write"]

HEADS = (
    Head("candidate", 22),
    Head("build", 16),
    Head("what is done", 40),
    Head("on", 16),
    Head("undo", 12),
    Head("extent", 9, "mm"),
    Head("hours", 7, "h"),
    Head("money", 8, "money"),
    Head("tool", 18),
    Head("how, and why", 56),
)
PLAN = (
    Head("candidate", 22),
    Head("build", 16),
    Head("figure of", 40),
    Head("on", 16),
    Head("before the parts meet", 12),
    Head("figure", 9),
    Head("unit", 7),
    Head("from", 8),
    Head("to", 18),
)


def write(book: Book) -> None:
    """Write both sheets."""
    page = Page(book, "Cuts and orders", [h.width for h in HEADS])
    page.title(
        "Cuts and orders",
        "Figures are for planning: measure the parts in hand before anything is cut.",
    )
    rows = [
        [
            r["candidate"],
            r["build"],
            r["operation"],
            r["on"],
            r["undo"],
            r["extent_mm"],
            r["hours"],
            r["cost"],
            r["tool"],
            r["why"],
        ]
        for r in book.report.work
    ]
    page.table(HEADS, rows, filtered=True)
    plan = Page(book, "Plan", [h.width for h in PLAN])
    plan.title("Plan", "The figures to cut, make and order to; from and to: as good as the figure.")
    figures = [_plan(r, book.units) for r in book.report.plan if r["unit"]]
    plan.table(PLAN, figures, filtered=True)


def _plan(row: dict[str, Any], units: str) -> list[Any]:
    shown = lambda value: None if value is None else f"{number(value, row['unit'], units):g}"
    either = lambda value: "" if value is None else shown(value)
    return [
        row["candidate"],
        row["build"],
        plain_name(row["decision"].split(":")[0]),
        row["on"],
        "yes" if row["blind"] else "no",
        shown(row["figure"]),
        unit_of(row["unit"], units),
        either(row["tolerance_low"]),
        either(row["tolerance_high"]),
    ]
