"""Gears: ratios and speeds gear by gear."""

from __future__ import annotations

from compare.report.workbook.book import Book, Head, Page

__all__ = ["write"]

HEADS = (
    Head("candidate", 24),
    Head("gear", 7, "count"),
    Head("ratio", 8, "ratio"),
    Head("speed at redline", 11, "km/h"),
    Head("at cruising speed", 11, "rev/min"),
    Head("after changing up", 11, "rev/min"),
    Head("gradient held at cruise", 12, "%"),
    Head("speed it reaches on the level", 13, "km/h"),
)
KEYS = (
    "candidate",
    "gear",
    "ratio",
    "speed_at_redline_kmh",
    "rpm_at_cruise",
    "rpm_after_upshift",
    "gradient_at_cruise_percent",
    "top_speed_kmh",
)


def write(book: Book) -> None:
    """Write the sheet."""
    page = Page(book, "Gears", [h.width for h in HEADS], landscape=False)
    page.title("Gears", "Not known: the torque curve, or another number, does not say.")
    page.table(HEADS, [[row[k] for k in KEYS] for row in book.report.gears], filtered=True)
