"""Drawings: where the first candidate sits, and its shaft in the crankshaft, to scale.

Metafiles, so that lines and letters stay sharp; the text beside each says what it shows.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from compare.answer.report import KEEP, plain_name
from compare.figures import unit_of
from compare.report.drawing.layout import arrange
from compare.report.drawing.model import Drawing
from compare.report.drawing.picture import emf_of
from compare.report.drawing.scene import Scene, scene, views_of
from compare.report.workbook.book import LINE, Book, Page, words
from compare.report.workbook.labels import row_name
from compare.topics import views

__all__ = ["NAME", "write"]

NAME = "Drawings"
WIDTH = 100.0  # letters
ROW = LINE + 2.5  # points of a row at its usual height
MM = 72 / 25.4  # points
PAPER = 235.0  # mm of drawings on a page, captions aside
# View, what it shows, its most height on paper [mm].
SHOWN = (
    ("side", "From the side, the car around it", 120.0),
    ("plan", "From above, left side up", 100.0),
    ("shaft", "Input shaft in crankshaft and clutch", 190.0),
)
LETTERS = 8.5 * 25.4 / 72  # height of a letter [mm]


def write(book: Book) -> None:
    """Write the sheet; nothing where no candidate has numbers enough to draw."""
    row = next((r for r in book.report.ranking if r["candidate"] != KEEP), None)
    if row is None:
        return
    drawn = _drawn(book, row)
    if not drawn:
        return
    page = Page(book, NAME, [WIDTH], landscape=False)
    page.title(
        f"Drawings: {words(row_name(row), book.units, 80)}",
        "Of the first candidate, as planned. What is cut off is red and cross-hatched, what is made "
        "is blue and hatched one way.",
    )
    used = 0.0
    breaks = []
    for name, title, drawing, found in drawn:
        if used and used + drawing.height > PAPER:
            breaks.append(page.row)
            used = 0.0
        used += drawing.height
        _place(page, name, title, drawing, found)
    page.sheet.set_h_pagebreaks(breaks)


def _drawn(book: Book, row: Mapping[str, Any]) -> list[tuple[str, str, Drawing, Scene]]:
    found = []
    marked = views_of((views,))
    for name, title, tallest in SHOWN:
        one = scene(marked[name], book.report.facts[row["candidate"]])
        if any(s.form in ("polygon", "line", "circle") for s in one.shapes):
            drawing = arrange(one.shapes, title, system=book.units, tallest=tallest, size=LETTERS)
            found.append((name, title, drawing, one))
    return found


def _place(page: Page, name: str, title: str, drawing: Drawing, found: Scene) -> None:
    """The picture below its caption; the rows that it takes are left empty."""
    book = page.book
    unit = "inches" if book.units == "inch" else unit_of("mm")
    caption = f"{title}. Scale {drawing.scale_words}; sizes in {unit}."
    if drawing.notes:
        caption += f" Also: {'; '.join(drawing.notes)}."
    if found.unknown:
        caption += f" Not known, so left out: {', '.join(map(plain_name, found.unknown))}."
    page.wide(caption, "wrap")
    page.sheet.insert_image(
        page.row,
        0,
        f"{name}.emf",
        {
            "image_data": io.BytesIO(emf_of(drawing)),
            "description": words(drawing.description, book.units),
            "object_position": 1,
        },
    )
    page.row += int(drawing.height * MM / ROW) + 2
