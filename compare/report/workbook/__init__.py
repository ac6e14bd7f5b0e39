"""The workbook: one file a sheet, written from a Report and from nothing else.

Four sheets print on one page each; the rest are tables for the screen. What is sent is kept in a
hidden sheet, so that a workbook that comes back can say what was changed (`answer.take_in`).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from compare.answer.report import Report
from compare.figures import safe
from compare.report.workbook import (
    charts,
    decision,
    drawings,
    measured,
    measuring,
    method,
    sent,
    typed,
    unclear,
    what_if,
)
from compare.report.workbook.book import Book
from compare.report.workbook.combinations import write_combinations
from compare.report.workbook.listings import LISTINGS, writer
from compare.words import draws_words

__all__ = ["SHEETS", "write_combinations", "write_workbook"]

# In the order of the story; each writes one sheet, or none where it has nothing to show.
SHEETS = (
    decision.write,
    unclear.write,
    measuring.write,
    what_if.write,
    charts.write,
    drawings.write,
    *map(writer, LISTINGS),
    typed.write_catalogue,
    typed.write_parts,
    typed.write_car,
    typed.write_readings,
    measured.write,
    method.write,
    what_if.write_sums,
    sent.write,
)


def write_workbook(
    path: str | Path,
    report: Report,
    readings: Sequence[dict[str, Any]] | None = None,
    units: str = "metric",
) -> None:
    """Write the whole workbook. readings: rows of the reading ledger, where there are any."""
    book = Book(str(path), report, units, readings)
    car = report.car
    book.file.set_properties(
        {
            "title": safe(f"Gearbox swap: {car['name']}", 200),
            "comments": safe(
                f"catalogue {car['catalogue_digest']}, car {car['digest']}, parts "
                f"{car['parts_digest']}, "
                f"{draws_words(car)}, seed {car['seed']}",
                250,
            ),
        }
    )
    for write in SHEETS:
        write(book)
    book.file.close()
