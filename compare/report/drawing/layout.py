"""Puts shapes on paper: a round scale, dimensions in levels outside the outline, labels where there
is room.

Arithmetic on boxes only. A text is placed where it touches no other text and no dimension line;
extension lines are broken at texts. Dimension lines lie 10 mm from the outline, the next ones 8 mm
further (ISO 129 teaching texts). What finds no room is written below the drawing, never over
something else.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from compare.figures import figure, unit_of
from compare.judge.rules import Shape
from compare.report.drawing.model import (
    ARROW,
    TEXT_SIZE,
    Box,
    Circle,
    Drawing,
    Group,
    Item,
    Line,
    Point,
    Polygon,
    Section,
    Text,
    angle,
    box_of,
    dimension,
    leader,
    merged,
    width_of,
)
from compare.vocabulary import by_tape

__all__ = ["FIRST_LEVEL", "NEXT_LEVEL", "PAPER_WIDTH", "arrange", "overlaps", "written"]

FIRST_LEVEL, NEXT_LEVEL = 10.0, 8.0
# Printable on A4 and on letter with margins of 10 mm and the frame of a sheet.
PAPER_WIDTH, PAPER_HEIGHT = 184.0, 190.0
MARGIN = 1.5
# Paper mm for one mm of the object: the round ones of ISO 5455 and those between that shops use.
SCALES = (5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.25, 1.0, 1 / 1.25, 1 / 1.5, 1 / 2, 1 / 2.5, 1 / 3,
          1 / 4, 1 / 5, 1 / 6, 1 / 7, 1 / 8, 1 / 10, 1 / 12, 1 / 15, 1 / 20, 1 / 25, 1 / 30,
          1 / 40, 1 / 50, 1 / 75, 1 / 100)  # fmt: skip
HATCHED = ("car", "cut", "made")
TAPED = by_tape()  # what a tape measures
WRITTEN = ("dimension", "angle", "note")


def written(shape: Shape, system: str = "metric") -> str:
    """The text of a dimension, angle or note; `{value}` stands for its number, mm without their
    unit.

    >>> written(Shape("dimension", "metal", ((0, 0), (4.25, 0)), "gap {value}", value=4.25))
    'gap 4.2'
    >>> written(Shape("angle", "metal", ((0, 0), (1, 0), (0, 1)), value=0.0524))
    '3°'
    """
    text = shape.text or "{value}"
    if "{value}" not in text:
        return text
    kind = "mm tape" if any(n.removeprefix("present_") in TAPED for n in shape.of) else "mm"
    kind = "rad" if shape.form == "angle" else "mm diameter" if "Ø{value}" in text else kind
    number = figure(shape.value, kind, system).removesuffix(" " + unit_of(kind, system))
    return text.replace("{value}", number)


@dataclass
class _Page:
    """What has been placed: boxes of texts, stretches of dimension lines, and the outline to keep
    clear of.
    """

    texts: list[Box] = field(default_factory=list)
    strokes: list[tuple[Point, Point]] = field(default_factory=list)
    outline: list[tuple[Point, Point]] = field(default_factory=list)

    def free(self, box: Box, strokes: Sequence[tuple[Point, Point]] = ()) -> bool:
        near = box.grown(0.4)
        if any(near.overlaps(other) for other in self.texts):
            return False
        if any(near.crossed_by(*stroke) for stroke in self.strokes):
            return False
        return not any(other.grown(0.3).crossed_by(*s) for other in self.texts for s in strokes)

    def crossings(self, box: Box) -> int:
        return sum(box.crossed_by(*stroke) for stroke in self.outline)

    def take(self, box: Box, strokes: Sequence[tuple[Point, Point]] = ()) -> None:
        self.texts.append(box)
        self.strokes += strokes


@dataclass(frozen=True)
class _Placed:
    """Where a dimension goes: its line's level or place, and its text."""

    shape: Shape
    first: Point
    second: Point
    along: str
    at: float
    text: Text


def arrange(
    shapes: Sequence[Shape],
    title: str,
    *,
    width: float = PAPER_WIDTH,
    tallest: float = PAPER_HEIGHT,
    largest: float = 2.0,
    stretch: float = 1.0,
    system: str = "metric",
    notes: Sequence[str] = (),
    size: float = TEXT_SIZE,
) -> Drawing:
    """Place the shapes [mm of the object, z up] on paper no wider than `width` and no higher than
    `tallest`.

    stretch: how many times heights are drawn larger than lengths. largest: the largest scale to
    use. Raises ValueError where there is nothing to draw.
    """
    solid = [s for s in shapes if s.form not in WRITTEN]
    if not solid:
        raise ValueError("nothing to draw")
    usable = [s for s in SCALES if s <= largest]
    xs = [p[0] for s in solid for p in s.points]
    drawing = None
    for scale in usable:
        if (max(xs) - min(xs)) * scale > width - 2 * MARGIN:
            continue
        manner = _Manner(title, scale, stretch, system, size, tuple(notes))
        drawing = _at_scale(shapes, solid, manner)
        if drawing.width <= width and drawing.height <= tallest:
            return drawing
    if drawing is None:
        smallest = (width - 2 * MARGIN) / (max(xs) - min(xs)) / 2
        manner = _Manner(title, smallest, stretch, system, size, tuple(notes))
        drawing = _at_scale(shapes, solid, manner)
    return drawing


@dataclass(frozen=True)
class _Manner:
    """How a drawing is made: title, scale, units, size of letters, and notes known beforehand."""

    title: str
    scale: float
    stretch: float
    system: str
    size: float
    notes: tuple[str, ...]

    def place(self, point: Point) -> Point:
        return point[0] * self.scale, -point[1] * self.scale * self.stretch


def _at_scale(shapes: Sequence[Shape], solid: Sequence[Shape], manner: _Manner) -> Drawing:
    items = [_solid(shape, manner) for shape in solid]
    page = _Page(outline=[edge for item in items for edge in _edges(item)])
    body = [i for i, shape in zip(items, solid, strict=True) if shape.role != "axis"]
    outline = merged(box_of(item) for item in body or items)
    groups, lost = _labels(shapes, page, outline, manner)
    everything = merged([*(box_of(i) for i in items), *(box_of(g) for g in groups)])
    shift = (MARGIN - everything.left, MARGIN - everything.top)
    moved = tuple(_moved_group(g, shift) for g in groups)
    return Drawing(
        manner.title,
        _description(shapes, manner),
        everything.width + 2 * MARGIN,
        everything.height + 2 * MARGIN,
        (*(_moved(i, shift) for i in items), *moved),
        (manner.scale, manner.scale * manner.stretch),
        shift,
        (*manner.notes, *lost),
        _scale_words(manner.scale, manner.stretch),
        moved,
    )


def _labels(
    shapes: Sequence[Shape], page: _Page, outline: Box, manner: _Manner
) -> tuple[list[Group], list[str]]:
    """Dimensions along x first, then upright ones, angles and notes; and what found no room."""
    sorted_out: dict[str, list[Shape]] = {"x": [], "z": [], "angle": [], "note": []}
    for shape in shapes:
        if shape.form in WRITTEN:
            sort = _along(shape) if shape.form == "dimension" else shape.form
            sorted_out[sort].append(shape)
    placed = _levels(sorted_out["x"], page, outline, manner)
    groups: list[Group] = []
    lost = [
        written(s, manner.system) for s in sorted_out["x"] if s not in [p.shape for p in placed]
    ]
    for shape in sorted_out["z"]:
        put = _upright(shape, page, outline, manner)
        if put is None:
            lost.append(written(shape, manner.system))
        else:
            placed.append(put)
    for shape in (*sorted_out["angle"], *sorted_out["note"]):
        make = _angle if shape.form == "angle" else _note
        group = make(shape, page, outline, manner)
        if group is None:
            lost.append(written(shape, manner.system))
        else:
            groups.append(group)
    return [*(_finished(p, page) for p in placed), *groups], lost


def _scale_words(scale: float, stretch: float) -> str:
    words = f"{scale:.3g} : 1" if scale > 1 else f"1 : {1 / scale:.3g}"
    return words if stretch == 1.0 else f"{words}, heights drawn {stretch:g} times"


def _description(shapes: Sequence[Shape], manner: _Manner) -> str:
    said = [written(s, manner.system) for s in shapes if s.form in WRITTEN]
    shows = [f"Shows: {'; '.join(said)}."] if said else []
    return " ".join([f"{manner.title}.", *shows, *manner.notes])


def _solid(shape: Shape, manner: _Manner) -> Item:
    points = tuple(manner.place(p) for p in shape.points)
    if shape.form == "circle":
        radius = math.dist(shape.points[0], shape.points[1]) * manner.scale
        return Circle(points[0], radius, shape.role)
    if shape.form == "line":
        return Line(points, shape.role)
    return (Section if shape.role in HATCHED else Polygon)(points, shape.role)


def _edges(item: Item) -> list[tuple[Point, Point]]:
    if isinstance(item, Circle):
        (x, y), r = item.centre, item.radius
        corners = [(x - r, y), (x, y - r), (x + r, y), (x, y + r)]
        return list(zip(corners, corners[1:] + corners[:1], strict=True))
    if isinstance(item, Line):
        return list(zip(item.points, item.points[1:], strict=False))
    if isinstance(item, Polygon | Section):
        return list(zip(item.points, item.points[1:] + item.points[:1], strict=True))
    return []


def _along(shape: Shape) -> str:
    """Along which axis a dimension is measured: the one whose difference is its value, else the
    longer.
    """
    (x1, z1), (x2, z2) = shape.points[:2]
    dx, dz = abs(x2 - x1), abs(z2 - z1)
    if not math.isnan(shape.value) and abs(dx - dz) > 1e-6:
        if abs(dz - abs(shape.value)) < 1e-6:
            return "z"
        if abs(dx - abs(shape.value)) < 1e-6:
            return "x"
    return "x" if dx >= dz else "z"


def _levels(
    shapes: Sequence[Shape],
    page: _Page,
    outline: Box,
    manner: _Manner,
) -> list[_Placed]:
    """Lengths: above the outline where their points lie high, else below; short ones nearest."""
    placed = []
    middle = (outline.top + outline.bottom) / 2.0
    for shape in sorted(shapes, key=lambda s: abs(s.points[1][0] - s.points[0][0])):
        first, second = sorted(manner.place(p) for p in shape.points[:2])
        above = (first[1] + second[1]) / 2.0 < middle + 1e-9
        side = -1.0 if above else 1.0
        edge = outline.top if above else outline.bottom
        text = written(shape, manner.system)
        for level in range(60):
            at = edge + side * (FIRST_LEVEL + NEXT_LEVEL * level)
            found = _on_level(first, second, at, text, page, manner.size)
            if found is not None:
                placed.append(_Placed(shape, first, second, "x", at, found))
                break
    return placed


def _on_level(
    first: Point, second: Point, at: float, words: str, page: _Page, size: float
) -> Text | None:
    room = width_of(words, size)
    span = second[0] - first[0]
    inside = span >= 2.5 * ARROW
    out = 0.0 if inside else 1.6 * ARROW
    line = ((first[0] - out, at), (second[0] + out, at))
    base = at - 0.24 * size - 0.6
    candidates = []
    if span >= room + 1.0:
        candidates.append(Text(((first[0] + second[0]) / 2.0, base), words, size, "middle"))
    candidates += [
        Text((second[0] + max(out, 1.0) + 0.8, at + 0.27 * size), words, size, "start"),
        Text((first[0] - max(out, 1.0) - 0.8, at + 0.27 * size), words, size, "end"),
    ]
    for text in candidates:
        box = box_of(text)
        # Two dimension lines on one level do not run into each other either.
        clear = not any(
            abs(s[0][1] - at) < 1e-6 and s[0][0] < line[1][0] - 1e-6 and line[0][0] < s[1][0] - 1e-6
            for s in page.strokes
            if s[0][1] == s[1][1]
        )
        if clear and page.free(box, [line]):
            page.take(box, [line])
            return text
    return None


def _upright(shape: Shape, page: _Page, outline: Box, manner: _Manner) -> _Placed | None:
    """Heights and diameters: near where they are measured, where line and text find room."""
    first, second = sorted((manner.place(p) for p in shape.points[:2]), key=lambda p: p[1])
    words, size = written(shape, manner.system), manner.size
    room = width_of(words, size)
    span = second[1] - first[1]
    out = 0.0 if span >= 2.5 * ARROW else 1.6 * ARROW
    best: tuple[float, float, Text, list[tuple[Point, Point]]] | None = None
    for step in _sideways(first, second, outline):
        if best is not None and best[0] <= abs(step):
            break  # farther aside nothing is cheaper
        at = (first[0] + second[0]) / 2.0 + step
        line = ((at, first[1] - out), (at, second[1] + out))
        middle = (first[1] + second[1]) / 2.0 + 0.27 * size
        for text in (
            Text((at + 1.0, middle), words, size, "start"),
            Text((at - 1.0, middle), words, size, "end"),
            Text((at + 1.0, first[1] - out - 0.6), words, size, "start"),
            Text((at + 1.0, second[1] + out + 0.9 * size), words, size, "start"),
            Text((at - room / 2.0, first[1] - out - 0.3 * size - 0.6), words, size, "start"),
            Text((at - room / 2.0, second[1] + out + 0.8 * size + 0.6), words, size, "start"),
        ):
            box = box_of(text)
            if not page.free(box, [line]) or any(
                _parallel_overlap(line, other) for other in page.strokes
            ):
                continue
            cost = abs(step) + 9.0 * page.crossings(box)
            if abs(step) < FIRST_LEVEL or outline.left < at < outline.right:
                cost += max(outline.left - box.left, box.right - outline.right, 0.0)
            elif box.overlaps(outline):
                cost += 20.0  # beside the outline there is room on the other side of the line
            if best is None or cost < best[0]:
                best = (cost, at, text, [line])
    if best is None:
        return None
    _, at, text, strokes = best
    page.take(box_of(text), strokes)
    return _Placed(shape, first, second, "z", at, text)


def _sideways(first: Point, second: Point, outline: Box) -> list[float]:
    """How far aside its line may lie: in levels where it is measured at an end of the outline."""
    for edge, sign in ((outline.right, 1.0), (outline.left, -1.0)):
        if abs(first[0] - edge) < 0.1 and abs(second[0] - edge) < 0.1:
            return [sign * (FIRST_LEVEL + NEXT_LEVEL * level) for level in range(12)]
    return [0.0] + [sign * step for step in range(3, 61, 3) for sign in (1.0, -1.0)]


def _parallel_overlap(line: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    if other[0][0] != other[1][0]:
        return False
    return abs(other[0][0] - line[0][0]) < 1.5 and (
        other[0][1] < line[1][1] and line[0][1] < other[1][1]
    )


def _angle(shape: Shape, page: _Page, outline: Box, manner: _Manner) -> Group | None:
    vertex, first, second = (manner.place(p) for p in shape.points[:3])
    radius = max(min(math.dist(vertex, first), math.dist(vertex, second)) * 0.6, 6.0)
    middle = (
        (first[0] + second[0]) / 2.0 - vertex[0],
        (first[1] + second[1]) / 2.0 - vertex[1],
    )
    length = math.hypot(*middle) or 1.0
    tip = (vertex[0] + middle[0] / length * radius, vertex[1] + middle[1] / length * radius)
    text = _near(tip, written(shape, manner.system), page, outline, manner.size)
    if text is None:
        return None
    group = angle(vertex, first, second, radius, text, value=shape.value, of=shape.of)
    return group


def _note(shape: Shape, page: _Page, outline: Box, manner: _Manner) -> Group | None:
    """A name with a leader to the first of its points to which one can be drawn."""
    for tip in (manner.place(p) for p in shape.points):
        text = _near(tip, written(shape, manner.system), page, outline, manner.size)
        if text is not None:
            box = box_of(text)
            to = (
                min(max(tip[0], box.left), box.right),
                min(max(tip[1], box.top), box.bottom),
            )
            return leader(tip, to, text, of=shape.of)
    return None


def _near(tip: Point, words: str, page: _Page, outline: Box, size: float) -> Text | None:
    """The free place nearest to a point, of those that hide least of the outline."""
    room = width_of(words, size)
    best: tuple[float, Text, list[tuple[Point, Point]]] | None = None
    for distance in (0.0, 4.0, 7.0, 10.0, 14.0, 18.0, 23.0, 28.0, 34.0, 40.0, 50.0, 60.0, 75.0):
        if best is not None and best[0] < distance:
            break
        for turn in range(16):
            across = math.cos(turn * math.pi / 8.0) * distance
            down = math.sin(turn * math.pi / 8.0) * distance
            left = tip[0] + across - room * (0.5 - 0.5 * math.cos(turn * math.pi / 8.0))
            text = Text((left, tip[1] + down + 0.27 * size), words, size, "start")
            box = box_of(text)
            to = (min(max(tip[0], box.left), box.right), min(max(tip[1], box.top), box.bottom))
            strokes = [(to, tip)] if math.dist(to, tip) > 1.0 else []
            if not page.free(box, strokes):
                continue
            cost = distance + 9.0 * page.crossings(box)
            cost += max(outline.left - box.left, box.right - outline.right, 0.0)
            if best is None or cost < best[0]:
                best = (cost, text, strokes)
            if distance == 0.0:
                break
    if best is None:
        return None
    page.take(box_of(best[1]), best[2])
    return best[1]


def _finished(put: _Placed, page: _Page) -> Group:
    others = [box for box in page.texts if box != box_of(put.text)]
    return dimension(
        put.first,
        put.second,
        put.along,
        put.at,
        put.text,
        value=put.shape.value,
        of=put.shape.of,
        hidden=others,
    )


def _moved(item: Item, by: Point) -> Item:
    if isinstance(item, Group):
        return _moved_group(item, by)
    if isinstance(item, Text):
        return replace(item, at=_sum(item.at, by))
    if isinstance(item, Line | Polygon | Section):
        return replace(item, points=tuple(_sum(p, by) for p in item.points))
    return replace(item, centre=_sum(item.centre, by))


def _moved_group(group: Group, by: Point) -> Group:
    return replace(
        group,
        parts=tuple(_moved(p, by) for p in group.parts),
        ends=tuple(_sum(p, by) for p in group.ends),
    )


def _sum(point: Point, by: Point) -> Point:
    return point[0] + by[0], point[1] + by[1]


def overlaps(texts: Iterable[Text]) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes overlap; a finished drawing has none."""
    known = [(t, box_of(t)) for t in texts]
    return [
        (a.text, b.text)
        for i, (a, first) in enumerate(known)
        for b, second in known[i + 1 :]
        if first.overlaps(second)
    ]
