"""A drawing as a picture for the workbook: an enhanced metafile (EMF), written here.

A metafile keeps lines and letters sharp in print and needs no package: XlsxWriter takes it,
spreadsheet programs show it. Records and constants are those of [MS-EMF]; a unit of the picture is
0.01 mm, as in its frame.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from itertools import pairwise

from compare.figures import safe
from compare.report.drawing.model import (
    LOOKS,
    Arc,
    Circle,
    Drawing,
    Line,
    Point,
    Polygon,
    Primitive,
    Section,
    Text,
    advance,
    box_of,
    flat,
    hatch,
)

__all__ = ["emf_of"]

UNIT = 100.0  # units for one mm
HEADER, POLYGON, POLYLINE, END_OF_FILE = 1, 3, 4, 14
WINDOW_SIZE, WINDOW_ORIGIN, VIEW_SIZE, VIEW_ORIGIN = 9, 10, 11, 12
MAP_MODE, BACK_MODE, TEXT_ALIGN, TEXT_COLOUR = 17, 18, 22, 24
SELECT, PEN, BRUSH, DELETE, ELLIPSE, FONT, TEXT_OUT = 37, 38, 39, 40, 42, 82, 84
ANISOTROPIC, TRANSPARENT, BASELINE = 8, 1, 24
HOLLOW_BRUSH, NO_PEN = 0x80000005, 0x80000008
# Pixels of the reference device and its size in mm: 96 to the inch.
DEVICE_MM = (508, 508)
DEVICE_PIXELS = (1920, 1920)


def emf_of(drawing: Drawing) -> bytes:
    """The drawing as an EMF file, as large as its paper size."""
    book = _Book()
    width, height = round(drawing.width * UNIT), round(drawing.height * UNIT)
    book.add(MAP_MODE, struct.pack("<I", ANISOTROPIC))
    book.add(WINDOW_ORIGIN, struct.pack("<ii", 0, 0))
    book.add(WINDOW_SIZE, struct.pack("<ii", width, height))
    book.add(VIEW_ORIGIN, struct.pack("<ii", 0, 0))
    pixels = [round(mm * DEVICE_PIXELS[0] / DEVICE_MM[0]) for mm in (drawing.width, drawing.height)]
    book.add(VIEW_SIZE, struct.pack("<ii", *pixels))
    book.add(BACK_MODE, struct.pack("<I", TRANSPARENT))
    book.add(TEXT_ALIGN, struct.pack("<I", BASELINE))
    book.add(TEXT_COLOUR, struct.pack("<I", 0))
    book.area(
        [(0, 0), (drawing.width, 0), (drawing.width, drawing.height), (0, drawing.height)],
        "#ffffff",
    )
    for item in flat(drawing.items):
        _draw(book, item)
    book.add(END_OF_FILE, struct.pack("<III", 0, 16, 20))
    return _header(book, drawing, pixels) + b"".join(book.records)


def _header(book: _Book, drawing: Drawing, pixels: Sequence[int]) -> bytes:
    size = 108
    whole = size + sum(len(r) for r in book.records)
    frame = (0, 0, round(drawing.width * UNIT), round(drawing.height * UNIT))
    return struct.pack(
        "<II4i4i4sIIIHHIIIiiiiIIIii",
        HEADER,
        size,
        *(0, 0, pixels[0], pixels[1]),
        *frame,
        b" EMF",
        0x10000,
        whole,
        len(book.records) + 1,
        book.most_handles + 1,
        0,
        *(0, 0, 0),
        *DEVICE_PIXELS,
        *DEVICE_MM,
        *(0, 0, 0),
        DEVICE_MM[0] * 1000,
        DEVICE_MM[1] * 1000,
    )


class _Book:
    """The records so far. One drawing object is alive at a time, under handle 1."""

    def __init__(self) -> None:
        self.records: list[bytes] = []
        self.most_handles = 1

    def add(self, kind: int, data: bytes = b"") -> None:
        data += b"\0" * (-len(data) % 4)
        self.records.append(struct.pack("<II", kind, len(data) + 8) + data)

    def with_object(self, kind: int, data: bytes) -> None:
        self.add(kind, struct.pack("<I", 1) + data)
        self.add(SELECT, struct.pack("<I", 1))

    def drop_object(self) -> None:
        self.add(DELETE, struct.pack("<I", 1))

    def area(self, points: Sequence[Point], fill: str) -> None:
        self.add(SELECT, struct.pack("<I", NO_PEN))
        self.with_object(BRUSH, struct.pack("<III", 0, _colour(fill), 0))
        self.add(POLYGON, _points(points))
        self.add(SELECT, struct.pack("<I", HOLLOW_BRUSH))
        self.drop_object()

    def strokes(self, lines: Sequence[Sequence[Point]], colour: str, width: float) -> None:
        self.with_object(PEN, struct.pack("<IiiI", 0, round(width * UNIT), 0, _colour(colour)))
        for line in lines:
            self.add(POLYLINE, _points(line))
        self.add(SELECT, struct.pack("<I", NO_PEN))
        self.drop_object()


def _colour(text: str) -> int:
    red, green, blue = (int(text[i : i + 2], 16) for i in (1, 3, 5))
    return red | green << 8 | blue << 16


def _points(points: Sequence[Point]) -> bytes:
    whole = [(round(x * UNIT), round(y * UNIT)) for x, y in points]
    xs, ys = [p[0] for p in whole], [p[1] for p in whole]
    bounds = struct.pack("<4i", min(xs), min(ys), max(xs), max(ys))
    flat_points = [n for p in whole for n in p]
    return bounds + struct.pack(f"<I{len(flat_points)}i", len(whole), *flat_points)


def _draw(book: _Book, item: Primitive) -> None:
    if isinstance(item, Text):
        _write(book, item)
        return
    if not isinstance(item, Line | Polygon | Section | Circle | Arc):
        return
    look = LOOKS[item.role]
    points = _outline(item)
    closed = not isinstance(item, Line | Arc)
    if closed and look.fill:
        book.area(points, look.fill)
    if isinstance(item, Section):
        lines = [pair for spacing, turn in look.hatches for pair in hatch(points, spacing, turn)]
        if lines:
            book.strokes(lines, look.stroke, 0.18)
    edge = [*points, points[0]] if closed else list(points)
    book.strokes(_dashed(edge, look.dashes), look.stroke, look.width)


def _outline(item: Line | Polygon | Section | Circle | Arc) -> list[Point]:
    if isinstance(item, Circle | Arc):
        start, end = (0.0, 360.0) if isinstance(item, Circle) else (item.start, item.end)
        count = max(2, math.ceil((end - start) / 6.0))
        turns = [math.radians(start + (end - start) * i / count) for i in range(count + 1)]
        (x, y), r = item.centre, item.radius
        return [(x + r * math.cos(t), y - r * math.sin(t)) for t in turns]
    return list(item.points)


def _dashed(points: Sequence[Point], dashes: Sequence[float]) -> list[list[Point]]:
    """A line cut into the dashes of its pattern [mm]; a metafile's own would not be to scale."""
    if not dashes:
        return [list(points)]
    lines: list[list[Point]] = []
    place, left = 0, dashes[0]
    line = [points[0]]
    for start, end in pairwise(points):
        length = math.dist(start, end)
        done = 0.0
        while length - done > left:
            done += left
            at = (
                start[0] + (end[0] - start[0]) * done / length,
                start[1] + (end[1] - start[1]) * done / length,
            )
            if place % 2 == 0:
                lines.append([*line, at])
            line = [at]
            place = (place + 1) % len(dashes)
            left = dashes[place]
        left -= length - done
        if place % 2 == 0:
            line.append(end)
        else:
            line = [end]
    if place % 2 == 0 and len(line) > 1:
        lines.append(line)
    return lines


def _write(book: _Book, text: Text) -> None:
    box = box_of(text)
    corners = [
        (box.left, box.top),
        (box.right, box.top),
        (box.right, box.bottom),
        (box.left, box.bottom),
    ]
    book.area(corners, "#ffffff")
    name = "Arial".encode("utf-16-le").ljust(64, b"\0")
    height = -round(text.size * UNIT)
    font = struct.pack("<5i8B", height, 0, 0, 0, 400, *(0,) * 8) + name
    # The extended part of a font record: full name, style and the rest, none of them needed.
    book.with_object(FONT, font + b"\0" * (128 + 64 + 4 * 6 + 10 + 2))
    align = {"start": 0, "middle": 6, "end": 2}[text.anchor]
    book.add(TEXT_ALIGN, struct.pack("<I", BASELINE | align))
    words = safe(text.text)
    letters = words.encode("utf-16-le")
    count = len(letters) // 2
    start = 76
    spaced = start + len(letters) + (-len(letters) % 4)
    head = struct.pack(
        "<4iIffiiIIIiiiiI",
        *(0, 0, -1, -1),
        1,
        *(1.0, 1.0),
        round(text.at[0] * UNIT),
        round(text.at[1] * UNIT),
        count,
        start,
        0,
        *(0, 0, -1, -1),
        spaced,
    )
    # A letter of two code units takes its room with the first of them.
    room = [
        unit
        for char in words
        for unit in [round(advance(char) * text.size * UNIT), 0][
            : len(char.encode("utf-16-le")) // 2
        ]
    ]
    letters += b"\0" * (-len(letters) % 4)
    book.add(TEXT_OUT, head + letters + struct.pack(f"<{count}I", *room))
    book.drop_object()
