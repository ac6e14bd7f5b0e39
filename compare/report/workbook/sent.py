"""What was sent, in a sheet that no menu shows: a workbook that comes back is compared with it."""

from __future__ import annotations

from compare.report.workbook.book import MOST_TEXT, Book

__all__ = ["NAME", "write"]

NAME = "Sent"
HEADS = ("sheet", "place", "of", "what", "typed")


def write(book: Book) -> None:
    """Write the hidden sheet: every cell that may come back changed."""
    sheet = book.file.add_worksheet(NAME)
    sheet.very_hidden()
    for at, head in enumerate(HEADS):
        sheet.write_string(0, at, head)
    for row, cells in enumerate(book.sent, start=1):
        for at, text in enumerate(cells):
            sheet.write_string(row, at, _kept(text))


def _kept(text: str) -> str:
    """A text without loss that a sheet can hold."""
    return text.encode("unicode_escape", "surrogatepass").decode("ascii")[: 15 * MOST_TEXT]
