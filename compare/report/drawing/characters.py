"""A view in characters for the terminal, 60 to 120 columns, from the same shapes as the other
renderings.

A mark says what a shape is, not what else falls into its cell: `!` stands only where the numbers
themselves clash, that is, where a view gave a shape with the role `clash`; such a shape gets a cell
however small it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from compare.figures import factor_of, safe, unit_of
from compare.judge.rules import Shape
from compare.report.drawing.layout import written
from compare.report.drawing.model import Point

__all__ = ["MARKS", "CharacterDrawing", "Scale", "in_characters"]

CELL_ASPECT = 2.0  # a character is about twice as tall as wide
MARKS = {
    "axis": "-",
    "zone": ":",
    "clearance": ".",
    "sheet": "^",
    "thin": "'",
    "car": "X",
    "metal": "#",
    "made": "m",
    "cut": "x",
    "clash": "!",
}
WORDS = {
    "axis": "axis",
    "zone": "zone or room that is needed",
    "clearance": "opening or room",
    "sheet": "sheet metal or shaft",
    "thin": "edge",
    "car": "part of the car",
    "metal": "gearbox",
    "made": "to make",
    "cut": "to cut",
    "clash": "in each other's way",
}
FILLED = ("cut", "made", "car", "clash")


@dataclass(frozen=True)
class Scale:
    """Linear map from [low, high] in mm to cells 0 … count − 1."""

    low: float
    high: float
    count: int

    def cell(self, value: float) -> int:
        """The cell of a value, within half a cell.

        >>> Scale(0.0, 100.0, 11).cell(52.0)
        5
        """
        return round((value - self.low) / (self.high - self.low) * (self.count - 1))

    def value(self, cell: int) -> float:
        return self.low + cell * (self.high - self.low) / (self.count - 1)


@dataclass(frozen=True)
class CharacterDrawing:
    """Lines of characters with a ruler under them, what the marks mean, sizes and scales."""

    lines: tuple[str, ...]
    legend: str
    sizes: tuple[str, ...]
    x: Scale
    z: Scale


def in_characters(
    shapes: Sequence[Shape],
    width: int = 78,
    *,
    stretch: float = 1.0,
    system: str = "metric",
    tallest: int = 0,
) -> CharacterDrawing:
    """The shapes of one view [mm], to scale, within `width` columns; heights drawn `stretch` times.

    tallest: the most rows, 0 for any; a view that is higher than wide is drawn smaller for it.
    Raises ValueError where there is nothing to draw.
    """
    solid = [s for s in shapes if s.form not in ("dimension", "angle", "note")]
    if not solid:
        raise ValueError("nothing to draw")
    points = [p for s in solid for p in _points(s)]
    x = _scale([p[0] for p in points], width)
    low, high = min(p[1] for p in points), max(p[1] for p in points)
    per_row = (x.high - x.low) / (x.count - 1) * CELL_ASPECT / stretch
    if tallest and (high - low) / per_row > tallest - 1:
        per_row = (high - low) / (tallest - 1)
        columns = (x.high - x.low) / (per_row / CELL_ASPECT * stretch) + 1
        x = Scale(x.low, x.high, max(math.ceil(columns), 2))
    rows = max(3, math.ceil((high - low) / per_row) + 1)
    z = Scale(low, low + per_row * (rows - 1), rows)
    canvas = _Canvas(x, z)
    # What matters more is drawn later and stands over the rest.
    for role in MARKS:
        for shape in solid:
            if shape.role == role:
                canvas.draw(shape, MARKS[role])
    for shape in shapes:
        if shape.form == "note":
            canvas.name(safe(written(shape, system)), shape.points[0])
    used = [role for role in MARKS if any(s.role == role for s in solid)]
    legend = f"x in {'inches' if system == 'inch' else unit_of('mm')}; " + ", ".join(
        f"{MARKS[role]} {WORDS[role]}" for role in used
    )
    sizes = tuple(safe(written(s, system)) for s in shapes if s.form in ("dimension", "angle"))
    return CharacterDrawing(
        (*canvas.lines(), _ruler(x, factor_of("mm", system))), legend, sizes, x, z
    )


def _points(shape: Shape) -> Iterable[Point]:
    if shape.form != "circle":
        return shape.points
    (x, z), edge = shape.points[:2]
    r = math.dist((x, z), edge)
    return [(x - r, z - r), (x + r, z + r)]


def _scale(values: Sequence[float], width: int) -> Scale:
    low, high = min(values), max(values)
    return Scale(low, max(high, low + 1.0), max(width - 1, 20))


class _Canvas:
    def __init__(self, x: Scale, z: Scale) -> None:
        self.x, self.z = x, z
        self.cells = [[" "] * x.count for _ in range(z.count)]

    def put(self, column: int, row: int, mark: str) -> None:
        if 0 <= column < self.x.count and 0 <= row < self.z.count:
            self.cells[self.z.count - 1 - row][column] = mark

    def draw(self, shape: Shape, mark: str) -> None:
        points = [(self.x.cell(px), self.z.cell(pz)) for px, pz in shape.points]
        if shape.form == "circle":
            (x, z), edge = shape.points[:2]
            r = math.dist((x, z), edge)
            turns = [math.radians(t) for t in range(0, 360, 10)]
            for t in turns:
                self.put(self.x.cell(x + r * math.cos(t)), self.z.cell(z + r * math.sin(t)), mark)
            return
        if shape.form == "polygon":
            if shape.role in FILLED:
                self.fill(shape.points, mark)
            points.append(points[0])
        for (a, b), (c, d) in pairwise(points):
            steps = max(abs(c - a), abs(d - b), 1)
            for i in range(steps + 1):
                if shape.role == "axis" and i % 2:
                    continue
                self.put(round(a + (c - a) * i / steps), round(b + (d - b) * i / steps), mark)

    def fill(self, points: Sequence[Point], mark: str) -> None:
        """Cells whose middle lies inside."""
        xs, zs = [p[0] for p in points], [p[1] for p in points]
        for row in range(self.z.cell(min(zs)), self.z.cell(max(zs)) + 1):
            for column in range(self.x.cell(min(xs)), self.x.cell(max(xs)) + 1):
                if _inside(self.x.value(column), self.z.value(row), points):
                    self.put(column, row, mark)

    def name(self, text: str, at: Point) -> None:
        """Write a name where the cells are empty, near its place; else leave it out."""
        middle, height = self.x.cell(at[0]), self.z.count - 1 - self.z.cell(at[1])
        for down in (0, 1, -1, 2, -2):
            row = height + down
            if not 0 <= row < self.z.count:
                continue
            for aside in (0, 2, -2, 5, -5, 9, -9):
                start = middle - len(text) // 2 + aside
                if start < 1 or start + len(text) + 1 > self.x.count:
                    continue
                room = self.cells[row][start - 1 : start + len(text) + 1]
                if all(c == " " for c in room):
                    self.cells[row][start : start + len(text)] = list(text)
                    return

    def lines(self) -> list[str]:
        return ["".join(row).rstrip() for row in self.cells]


def _inside(x: float, z: float, points: Sequence[Point]) -> bool:
    odd = False
    for (x1, z1), (x2, z2) in zip(points, [*points[1:], points[0]], strict=True):
        if (z1 <= z) != (z2 <= z) and x < x1 + (z - z1) * (x2 - x1) / (z2 - z1):
            odd = not odd
    return odd


STEPS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)


def _ruler(x: Scale, factor: float) -> str:
    """Marks along x at round numbers; factor: shown units per mm."""
    span = (x.high - x.low) * factor
    step = next((s for s in STEPS if span / s * 7 <= x.count), 1000.0)
    line = [" "] * x.count
    for number in range(math.ceil(x.low * factor / step), math.floor(x.high * factor / step) + 1):
        text = f"{number * step:g}"
        start = min(x.cell(number * step / factor), x.count - len(text))
        line[start : start + len(text)] = list(text)
    return "".join(line).rstrip()
