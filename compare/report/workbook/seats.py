"""Seats: where each gearbox sits, and how far that may be off."""

from __future__ import annotations

from compare.report.workbook.book import Book, Head, Page

__all__ = ["write"]

HEADS = (
    Head("candidate", 24),
    Head("build", 18),
    Head("adapter, planned", 10, "mm"),
    Head("from", 8, "mm"),
    Head("to", 8, "mm"),
    Head("engine forward, planned", 11, "mm"),
    Head("from", 8, "mm"),
    Head("to", 8, "mm"),
    Head("deepest cut there", 13),
    Head("cut", 8, "mm"),
    Head("thickness that all allow, from", 12, "mm"),
    Head("to", 9, "mm"),
    Head("how it comes about", 60),
)


def write(book: Book) -> None:
    """Write the sheet."""
    page = Page(book, "Seats", [h.width for h in HEADS])
    page.title(
        "Seats",
        "Thickness of the adapter and how far the engine goes forward, chosen together; from "
        "and to: as good as the plan.",
    )
    rows = []
    for r in book.report.seats:
        thick, shift, window = (
            r[k]
            for k in (
                "adapter_thickness_tolerance_mm",
                "engine_shift_tolerance_mm",
                "thickness_window_mm",
            )
        )
        rows.append(
            [
                r["candidate"],
                r["build"],
                r["planned_adapter_thickness_mm"],
                *("" if v is None else v for v in thick),
                r["planned_engine_shift_mm"],
                *("" if v is None else v for v in shift),
                r["undo"],
                r["cut_mm"],
                *window,
                r["why"],
            ]
        )
    page.table(HEADS, rows, filtered=True)
