"""One dimension on its measuring drawing, in characters: for whoever is asked for it in a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from compare.report.drawing.characters import CharacterDrawing, in_characters
from compare.report.drawing.measuring import LETTERS, Mark, Sheet

__all__ = ["asked_drawing"]

TALLEST = 24  # lines, so that drawing and question stand on one screen


def asked_drawing(sheet: Sheet, names: Sequence[str], width: int) -> list[str]:
    """The sheet with the dimensions `names` and their letters, at most `width` columns."""
    drawing = in_characters(sheet.outline, width, stretch=sheet.stretch)
    tall = len(drawing.lines)
    if tall > TALLEST:
        drawing = in_characters(sheet.outline, width * TALLEST // tall, stretch=sheet.stretch)
    rows = [list(line.ljust(drawing.x.count)) for line in drawing.lines[:-1]]  # without the ruler
    below: list[str] = []
    for mark in sheet.marks:
        if mark.name in names:
            for pair in range(0, len(mark.points) - 1, 2) if len(mark.points) == 4 else (0,):
                below += _drawn(mark, pair, drawing, rows)
    lines = ["".join(row).rstrip() for row in rows]
    while lines and not lines[0]:
        lines.pop(0)
    return [*lines, *below]


def _drawn(mark: Mark, first: int, drawing: CharacterDrawing, rows: list[list[str]]) -> list[str]:
    """Draw one dimension over the rows; a horizontal one becomes a line below them."""
    letter = LETTERS[mark.name]
    points = mark.points[first : first + 2]
    if mark.form != "dimension":
        _write(rows, *_cell(drawing, mark.points[-1]), letter)
        return []
    (x0, z0), (x1, z1) = points
    if x0 != x1:
        start, stop = sorted((drawing.x.cell(x0), drawing.x.cell(x1)))
        return [" " * start + _span(letter, stop - start + 1)]
    column, high = _cell(drawing, (x0, max(z0, z1)))
    low = _cell(drawing, (x0, min(z0, z1)))[1]
    for row in range(high, low + 1):
        _write(rows, column, row, "|")
    if low > high + 1:
        _write(rows, column, high, "^")
        _write(rows, column, low, "v")
    _write(rows, column, (high + low) // 2, letter)
    return []


def _span(letter: str, width: int) -> str:
    """A dimension line of some width: `|<-- F -->|`; what is too narrow stands beside its letter.

    >>> _span("F", 11), _span("F", 4)
    ('|<-- F -->|', '|--| F')
    """
    inner = width - len(letter) - 6
    if inner < 0:
        return f"|{'-' * max(width - 2, 0)}| {letter}"
    left = inner // 2
    return f"|<{'-' * left} {letter} {'-' * (inner - left)}>|"


def _cell(drawing: CharacterDrawing, point: tuple[float, float]) -> tuple[int, int]:
    """Column and row of a point, within the drawing."""
    column = min(max(drawing.x.cell(point[0]), 0), drawing.x.count - 1)
    row = drawing.z.count - 1 - drawing.z.cell(point[1])
    return column, min(max(row, 0), drawing.z.count - 1)


def _write(rows: list[list[str]], column: int, row: int, text: str) -> None:
    for at, character in enumerate(text):
        if column + at < len(rows[row]):
            rows[row][column + at] = character
