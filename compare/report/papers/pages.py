"""What a sheet is made of, how high it is in print, and how sheets are put on pages.

Heights are reckoned here, a little on the safe side, so that the browser never has to cut a sheet:
a table that is longer than a page is continued on the next one under its head. Lengths in mm; a
page is what A4 and letter have in common within margins of 10 mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from compare.report.drawing.model import Drawing, width_of

__all__ = [
    "Block",
    "Boxes",
    "Bullets",
    "Cell",
    "Page",
    "Picture",
    "Sheet",
    "Table",
    "Words",
    "height_of",
    "pages_of",
]

WIDTH = 186.0
# Letter is the lower paper (279.4 mm): less two margins, the head of a page, and a reserve.
HEIGHT = 279.4 - 20.0 - 13.0 - 6.0
POINT = 25.4 / 72
BODY, SMALL, HEADING = 10.0, 9.0, 13.0  # points
LINE = 1.3  # line height over letter size
CELL_SIDE, CELL_TOP = 1.2, 0.8  # padding of a cell
BOX_HEIGHT = 8.0
THICK = 1.0  # what the lines of a marked row take more
AFTER = 3.0  # below a block
HEADINGS = ("heading", "part")
SPARE = 1.04  # of the width of a line, for fonts that are a little wider


@dataclass(frozen=True)
class Boxes:
    """Empty boxes to write in, side by side, each with what stands in small letters before it."""

    labels: tuple[str, ...] = ("",)


Cell = str | Boxes


@dataclass(frozen=True)
class Words:
    """A paragraph; sort: `plain`, `strong`, `note`, `heading` (kept with what follows) or `part`.

    A part's heading is kept with all that follows up to the next heading, where that fits on a
    page.
    """

    text: str
    sort: str = "plain"


@dataclass(frozen=True)
class Bullets:
    """A list; boxes: to tick off; columns: so many beside each other."""

    items: tuple[str, ...]
    boxes: bool = False
    columns: int = 1


@dataclass(frozen=True)
class Table:
    """heads, widths [mm] that add up to at most WIDTH, rows of cells; `marks` names rows to set
    off.
    """

    heads: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[tuple[Cell, ...], ...]
    marks: tuple[str, ...] = field(default=())


@dataclass(frozen=True)
class Picture:
    drawing: Drawing
    name: str
    caption: str = ""


Block = Words | Bullets | Table | Picture


@dataclass(frozen=True)
class Sheet:
    """One sheet of the papers. alone: handed to somebody, so it begins on a page of its own."""

    name: str
    title: str
    blocks: tuple[Block, ...]
    alone: bool = False


@dataclass(frozen=True)
class Part:
    """What of one sheet stands on one page."""

    sheet: Sheet
    blocks: tuple[Block, ...]
    continued: bool


@dataclass(frozen=True)
class Page:
    parts: tuple[Part, ...]


def _lines(text: str, room: float, points: float) -> int:
    """How many lines a text takes in a room [mm]; a word that is too long is broken."""
    count, at = 1, 0.0
    size = points * POINT
    space = width_of(" ", size, SPARE)
    for word in text.split(" "):
        wide = width_of(word, size, SPARE)
        if at and at + space + wide > room:
            count, at = count + 1, 0.0
        if wide > room:  # broken anywhere, letters short of the line's end
            whole = max(room - 1.5 * size, size)
            count += int(wide // whole)
            wide %= whole
        at += wide + (space if at else 0.0)
    return count


def _text_height(text: str, room: float, points: float) -> float:
    return _lines(text, room, points) * points * POINT * LINE


def _row_height(row: Sequence[Cell], widths: Sequence[float]) -> float:
    highest = 0.0
    for cell, width in zip(row, widths, strict=True):
        if isinstance(cell, Boxes):
            highest = max(highest, BOX_HEIGHT)
        else:
            highest = max(highest, _text_height(cell, width - 2 * CELL_SIDE - 0.4, SMALL))
    return highest + 2 * CELL_TOP + 0.3


def height_of(block: Block) -> float:
    """Height of a block in print [mm], with the space below it.

    >>> round(height_of(Words("One line.")), 2)
    7.59
    """
    if isinstance(block, Words):
        points = HEADING if block.sort in HEADINGS else SMALL if block.sort == "note" else BODY
        return _text_height(block.text, WIDTH, points) + AFTER
    if isinstance(block, Bullets):
        room = (WIDTH - 6.0) / block.columns - 2.0 - (6.0 if block.columns > 1 else 0.0)
        each = [_text_height(item, room, BODY) + 1.0 for item in block.items]
        lines = range(0, len(each), block.columns)
        return sum(max(each[i : i + block.columns]) for i in lines) + AFTER
    if isinstance(block, Picture):
        caption = _text_height(block.caption, WIDTH, SMALL) if block.caption else 0.0
        return block.drawing.height + caption + AFTER + 1.0
    return _row_height(block.heads, block.widths) + sum(_heights(block)) + AFTER


def _heights(table: Table) -> list[float]:
    """Of each row, with the thick lines round a marked one."""
    marks = table.marks or ("",) * len(table.rows)
    return [
        _row_height(row, table.widths) + (THICK if mark else 0.0)
        for row, mark in zip(table.rows, marks, strict=True)
    ]


def _head_height(sheet: Sheet, continued: bool) -> float:
    title = sheet.title + (" (continued)" if continued else "")
    return _text_height(title, WIDTH, HEADING) + AFTER + 2.0


def _split(table: Table, room: float) -> tuple[Table, Table] | None:
    """The rows that fit into a room, and the rest; None where not even one fits.

    A marked row stands before what it is for, so it is never the last.
    """
    left = room - AFTER - _row_height(table.heads, table.widths)
    count = 0
    for high in _heights(table):
        left -= high
        if left < 0.0:
            break
        count += 1
    if count == len(table.rows):
        return None
    marks = table.marks or ("",) * len(table.rows)
    while count and marks[count - 1]:
        count -= 1
    if count == 0:
        return None
    first = replace(table, rows=table.rows[:count], marks=marks[:count])
    return first, replace(table, rows=table.rows[count:], marks=marks[count:])


def pages_of(sheets: Iterable[Sheet]) -> tuple[Page, ...]:
    """Sheets on pages: one that is handed to somebody alone, the others together where they fit
    whole.
    """
    pages: list[Page] = []
    shared: list[Part] = []
    left = HEIGHT

    def close() -> None:
        nonlocal shared, left
        if shared:
            pages.append(Page(tuple(shared)))
        shared, left = [], HEIGHT

    for sheet in sheets:
        parts = _parts(sheet)
        whole = _head_height(sheet, False) + sum(map(height_of, sheet.blocks)) + AFTER
        if sheet.alone or len(parts) > 1:
            close()
            pages += [Page((part,)) for part in parts]
            continue
        if whole > left:
            close()
        shared.append(parts[0])
        left -= whole
    close()
    return tuple(pages)


def _needed(block: Block, following: Sequence[Block]) -> float:
    """The room that a block needs with what must stay with it."""
    need = height_of(block)
    if not isinstance(block, Words) or block.sort not in HEADINGS or not following:
        return need
    if block.sort == "part":
        group = []
        for other in following:
            if isinstance(other, Words) and other.sort in HEADINGS:
                break
            group.append(height_of(other))
        if need + sum(group) <= HEIGHT - 15.0:
            return need + sum(group)
    first = height_of(following[0])
    return need + (min(first, 40.0) if isinstance(following[0], Table) else first)


def _parts(sheet: Sheet) -> list[Part]:
    """One sheet cut into pages, between blocks and between rows of tables."""
    parts: list[Part] = []
    here: list[Block] = []
    room = HEIGHT - _head_height(sheet, False)

    def close() -> None:
        nonlocal here, room
        parts.append(Part(sheet, tuple(here), bool(parts)))
        here, room = [], HEIGHT - _head_height(sheet, True)

    queue = list(sheet.blocks)
    while queue:
        block = queue.pop(0)
        need = _needed(block, queue)
        if need <= room or (not here and not isinstance(block, Table)):
            here.append(block)
            room -= height_of(block)
            continue
        cut = _split(block, room) if isinstance(block, Table) else None
        if cut is not None and (len(cut[0].rows) > 1 or not here):
            here.append(cut[0])
            close()
            queue.insert(0, cut[1])
            continue
        if not here:  # a single row higher than a page: let it stand
            here.append(block)
            close()
            continue
        close()
        queue.insert(0, block)
    if here or not parts:
        close()
    return parts
