"""What a drawing is made of: primitives on paper in mm, each with a bounding box.

x runs to the right, y down the page. A dimension, an angle or a leader is a Group made by one
function; it carries the number that it shows, so a test can ask for it. Nothing here knows a
renderer.

Conventions (ISO 128 and 129 as far as a sketch needs them): outlines 0.5 mm, all else 0.25;
hatching at 45° with at least 0.7 mm between lines; arrowheads 15° and at least three times as long
as wide; extension lines leave a gap at the outline and end 2 mm (8 line widths) beyond the
dimension line.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

__all__ = [
    "ARROW",
    "LOOKS",
    "TEXT_SIZE",
    "Arc",
    "Box",
    "Circle",
    "Drawing",
    "Group",
    "Item",
    "Line",
    "Look",
    "Point",
    "Polygon",
    "Primitive",
    "Section",
    "Text",
    "advance",
    "angle",
    "box_of",
    "dimension",
    "flat",
    "hatch",
    "leader",
    "merged",
    "width_of",
]

Point = tuple[float, float]

# 10 point, the least size of letters as printed [mm].
TEXT_SIZE = 10 * 25.4 / 72
ARROW = 3.0
# Half of the head's width: an included angle of 15°, so it is 3.8 times as long as wide.
ARROW_HALF = ARROW * math.tan(math.radians(7.5))
BEYOND = 2.0
GAP = 0.8


@dataclass(frozen=True)
class Look:
    """How a role is drawn: strokes in mm, colours #rrggbb, `hatches` as (spacing [mm], degrees)."""

    stroke: str = "#000000"
    width: float = 0.25
    dashes: tuple[float, ...] = ()
    fill: str = ""
    hatches: tuple[tuple[float, float], ...] = ()


# Colour is never alone: every role differs in hatching, dashes or width too, for black and white.
LOOKS: dict[str, Look] = {
    "metal": Look(width=0.5, fill="#f2f2f2"),
    "car": Look(width=0.5, fill="#ffffff", hatches=((2.4, 45.0),)),
    "sheet": Look(width=0.7),
    "cut": Look("#a00000", 0.35, (3.0, 0.75), "#ffe3e0", ((1.5, 45.0), (1.5, 135.0))),
    "made": Look("#003c8c", 0.5, (), "#e4eeff", ((1.8, 135.0),)),
    "clash": Look("#000000", 0.5, (), "#c00000"),
    "axis": Look(width=0.25, dashes=(6.0, 0.75, 0.125, 0.75)),
    "clearance": Look(width=0.25, dashes=(3.0, 0.75)),
    "zone": Look(width=0.25, dashes=(1.0, 1.0), fill="#fafafa"),
    "thin": Look(width=0.25),
    "head": Look(width=0.1, fill="#000000"),
    "text": Look(),
}


@dataclass(frozen=True)
class Box:
    """A rectangle on paper [mm], y down."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top

    def grown(self, by: float) -> Box:
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def overlaps(self, other: Box) -> bool:
        """Whether they share an area; touching is not overlapping.

        >>> Box(0, 0, 2, 2).overlaps(Box(1, 1, 3, 3)), Box(0, 0, 2, 2).overlaps(Box(2, 0, 3, 1))
        (True, False)
        """
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def crossed_by(self, first: Point, second: Point) -> bool:
        """Whether the stretch between two points passes through the inside.

        >>> Box(0, 0, 2, 2).crossed_by((-1, 1), (3, 1)), Box(0, 0, 2, 2).crossed_by((0, 3), (3, 3))
        (True, False)
        """
        return self.inside(first, second) is not None

    def inside(self, first: Point, second: Point) -> tuple[float, float] | None:
        """The shares of the way from first to second between which it is inside, or None."""
        (x1, y1), (x2, y2) = first, second
        if (
            (x1 <= self.left and x2 <= self.left)
            or (x1 >= self.right and x2 >= self.right)
            or (y1 <= self.top and y2 <= self.top)
            or (y1 >= self.bottom and y2 >= self.bottom)
        ):
            return None  # the usual case, told without a division
        low, high = 0.0, 1.0
        for start, end, least, most in (
            (first[0], second[0], self.left, self.right),
            (first[1], second[1], self.top, self.bottom),
        ):
            step = end - start
            if step == 0.0:
                if not least < start < most:
                    return None
                continue
            one, other = sorted(((least - start) / step, (most - start) / step))
            low, high = max(low, one), min(high, other)
        return (low, high) if low < high else None


@dataclass(frozen=True)
class Line:
    """A line through two or more points."""

    points: tuple[Point, ...]
    role: str = "thin"


@dataclass(frozen=True)
class Polygon:
    """A closed outline, filled as its role's look says."""

    points: tuple[Point, ...]
    role: str = "metal"


@dataclass(frozen=True)
class Section:
    """A closed outline through which the drawing cuts: hatched as its role's look says."""

    points: tuple[Point, ...]
    role: str = "car"


@dataclass(frozen=True)
class Circle:
    centre: Point
    radius: float
    role: str = "metal"


@dataclass(frozen=True)
class Arc:
    """Part of a circle, from `start` to `end` [degrees from the right, counter-clockwise]."""

    centre: Point
    radius: float
    start: float
    end: float
    role: str = "thin"


@dataclass(frozen=True)
class Text:
    """One line of text; `at` is the left, middle or right of its base line. It hides what is
    behind.
    """

    at: Point
    text: str
    size: float = TEXT_SIZE
    anchor: str = "start"


@dataclass(frozen=True)
class Group:
    """Parts that belong together: a dimension, an angle, a leader; `value` is its number."""

    parts: tuple[Item, ...]
    shows: str
    value: float = math.nan
    of: tuple[str, ...] = ()
    sort: str = "dimension"
    ends: tuple[Point, ...] = ()


Primitive = Line | Polygon | Section | Circle | Arc | Text
Item = Primitive | Group


@dataclass(frozen=True)
class Drawing:
    """A finished drawing: size on paper [mm], its items, what was left out, and how it was placed.

    scale: paper mm for one mm along x and along z; origin: where x = 0, z = 0 came to lie on paper.
    """

    title: str
    description: str
    width: float
    height: float
    items: tuple[Item, ...]
    scale: tuple[float, float]
    origin: Point
    notes: tuple[str, ...] = ()
    scale_words: str = ""
    groups: tuple[Group, ...] = field(default=())

    def place(self, x: float, z: float) -> Point:
        """Where a point of the object [mm, z up] lies on paper [mm, y down]."""
        return self.origin[0] + x * self.scale[0], self.origin[1] - z * self.scale[1]


# Advance widths of the usual sans fonts (Arial, Helvetica, Liberation Sans), thousandths of the
# size.
_ADVANCE = dict.fromkeys("0123456789abdeghnopqu$#?_", 556)
_ADVANCE |= dict.fromkeys("cksvxyzJ", 500) | dict.fromkeys("ABEKPSVXY&", 667)
_ADVANCE |= dict.fromkeys("CDHNRUw", 722) | dict.fromkeys("FTZ", 611) | dict.fromkeys("GOQØ", 778)
_ADVANCE |= (
    dict.fromkeys(" !ft,./:;I[]\\", 278) | dict.fromkeys("ijl'", 222) | dict.fromkeys("r()-`", 333)
)
_ADVANCE |= {"L": 556, "M": 833, "m": 833, "W": 944, "%": 889, "@": 1015, "°": 400, "|": 260}
_ADVANCE |= dict.fromkeys("+<=>~±×−≤≥", 584)
# Other fonts are up to an eighth wider; a box must hold their letters too.
_SPARE = 1.13


def advance(char: str) -> float:
    """Width of one letter as a share of its size; what is not in the table counts as the widest.

    >>> advance("0"), advance("i")
    (0.556, 0.222)
    """
    return _ADVANCE.get(char, 1015) / 1000.0


def width_of(text: str, size: float = TEXT_SIZE, spare: float = _SPARE) -> float:
    """Room that a line of text takes [mm], `spare` times what the usual sans fonts need.

    >>> round(width_of("12.68", 10.0), 2)
    28.27
    """
    return sum(advance(char) for char in text) * size * spare


def box_of(item: Item) -> Box:
    """The bounding box of a primitive or a group [mm on paper].

    >>> box_of(Circle((5.0, 5.0), 2.0))
    Box(left=3.0, top=3.0, right=7.0, bottom=7.0)
    """
    if isinstance(item, Group):
        return merged(box_of(part) for part in item.parts)
    if isinstance(item, Arc):
        (x, y), r = item.centre, item.radius
        quarters = range(math.ceil(item.start / 90.0), math.floor(item.end / 90.0) + 1)
        turns = [math.radians(t) for t in (item.start, item.end, *(90.0 * q for q in quarters))]
        xs, ys = [x + r * math.cos(t) for t in turns], [y - r * math.sin(t) for t in turns]
        return Box(min(xs), min(ys), max(xs), max(ys))
    if isinstance(item, Circle):
        (x, y), r = item.centre, item.radius
        return Box(x - r, y - r, x + r, y + r)
    if isinstance(item, Text):
        width = width_of(item.text, item.size)
        left = item.at[0] - {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor] * width
        # Capitals and ascenders rise 0.78 above the base line, descenders fall 0.24 below it.
        top, bottom = item.at[1] - 0.78 * item.size, item.at[1] + 0.24 * item.size
        return Box(left, top, left + width, bottom)
    xs, ys = [p[0] for p in item.points], [p[1] for p in item.points]
    return Box(min(xs), min(ys), max(xs), max(ys))


def merged(boxes: Iterable[Box]) -> Box:
    """The smallest box around all. Raises ValueError for none."""
    known = list(boxes)
    return Box(
        min(b.left for b in known),
        min(b.top for b in known),
        max(b.right for b in known),
        max(b.bottom for b in known),
    )


def flat(items: Iterable[Item]) -> Iterator[Primitive]:
    """Primitives in the order of drawing: lines and areas first, then the texts, none hidden."""
    texts: list[Text] = []

    def walk(some: Iterable[Item]) -> Iterator[Primitive]:
        for item in some:
            if isinstance(item, Group):
                yield from walk(item.parts)
            elif isinstance(item, Text):
                texts.append(item)
            else:
                yield item

    yield from walk(items)
    yield from texts


def hatch(points: Sequence[Point], spacing: float, degrees: float) -> list[tuple[Point, Point]]:
    """The hatch lines inside an outline, `spacing` [mm] apart at an angle [degrees].

    >>> hatch([(0, 0), (2, 0), (2, 2), (0, 2)], 1.0, 0.0)
    [((0.0, 0.5), (2.0, 0.5)), ((0.0, 1.5), (2.0, 1.5))]
    """
    turn = math.radians(degrees)
    cos, sin = math.cos(turn), math.sin(turn)
    turned = [(x * cos + y * sin, y * cos - x * sin) for x, y in points]
    low, high = min(y for _, y in turned), max(y for _, y in turned)
    lines: list[tuple[Point, Point]] = []
    level = (math.floor(low / spacing) + 0.5) * spacing
    while level < high:
        if level > low:
            cuts = []
            for (x1, y1), (x2, y2) in zip(turned, turned[1:] + turned[:1], strict=True):
                if (y1 <= level) != (y2 <= level):
                    cuts.append(x1 + (level - y1) * (x2 - x1) / (y2 - y1))
            cuts.sort()
            for a, b in zip(cuts[::2], cuts[1::2], strict=True):
                ends = [
                    (round(x * cos - level * sin, 4), round(x * sin + level * cos, 4))
                    for x in (a, b)
                ]
                lines.append((ends[0], ends[1]))
        level += spacing
    return lines


def _head(tip: Point, towards: Point) -> Polygon:
    """An arrowhead at `tip` that points along the direction `towards`."""
    length = math.hypot(*towards)
    ux, uy = towards[0] / length, towards[1] / length
    back = (tip[0] - ux * ARROW, tip[1] - uy * ARROW)
    half = (-uy * ARROW_HALF, ux * ARROW_HALF)
    return Polygon(
        (tip, (back[0] + half[0], back[1] + half[1]), (back[0] - half[0], back[1] - half[1])),
        "head",
    )


def dimension(
    first: Point,
    second: Point,
    along: str,
    at: float,
    text: Text,
    *,
    value: float,
    of: tuple[str, ...] = (),
    hidden: Sequence[Box] = (),
) -> Group:
    """A dimension between two points on paper, measured along `x` or `z`, its line at y or x =
    `at`.

    Arrowheads turn outside where there is no room between. Extension lines are broken at the boxes
    of other texts (`hidden`), as ISO 129 permits, so that no text is crossed.
    """
    if along == "x":
        a, b = (first[0], at), (second[0], at)
    else:
        a, b = (at, first[1]), (at, second[1])
    size = math.dist(a, b)
    unit = (
        ((b[0] - a[0]) / size, (b[1] - a[1]) / size)
        if size
        else ((1.0, 0.0) if along == "x" else (0.0, 1.0))
    )
    inside = size >= 2.5 * ARROW
    parts: list[Item] = []
    for start, end in ((first, a), (second, b)):
        parts += _extension(start, end, hidden)
    if inside:
        parts += [Line((a, b)), _head(a, (-unit[0], -unit[1])), _head(b, unit)]
    else:
        out = ARROW * 1.6
        before = (a[0] - unit[0] * out, a[1] - unit[1] * out)
        behind = (b[0] + unit[0] * out, b[1] + unit[1] * out)
        parts += [Line((before, behind)), _head(a, unit), _head(b, (-unit[0], -unit[1]))]
    parts.append(text)
    return Group(tuple(parts), text.text, value, of, "dimension", (first, second))


def _extension(start: Point, end: Point, hidden: Sequence[Box]) -> list[Item]:
    reach = math.dist(start, end)
    if reach <= GAP:
        return []
    ux, uy = (end[0] - start[0]) / reach, (end[1] - start[1]) / reach
    first = (start[0] + ux * GAP, start[1] + uy * GAP)
    last = (end[0] + ux * BEYOND, end[1] + uy * BEYOND)
    breaks = sorted(
        cut for box in hidden if (cut := box.grown(0.3).inside(first, last)) is not None
    )
    parts: list[Item] = []
    at = 0.0
    point = lambda share: (
        first[0] + share * (last[0] - first[0]),
        first[1] + share * (last[1] - first[1]),
    )
    for low, high in breaks:
        if low > at:
            parts.append(Line((point(at), point(low))))
        at = max(at, high)
    if at < 1.0:
        parts.append(Line((point(at), last)))
    return parts


def angle(
    vertex: Point,
    first: Point,
    second: Point,
    radius: float,
    text: Text,
    *,
    value: float,
    of: tuple[str, ...] = (),
) -> Group:
    """The angle at `vertex` between the directions to two points on paper; `value` in rad."""
    turn = [math.degrees(math.atan2(vertex[1] - p[1], p[0] - vertex[0])) for p in (first, second)]
    start, end = sorted(turn)
    if end - start > 180.0:
        start, end = end, start + 360.0
    return Group(
        (Arc(vertex, radius, start, end), text),
        text.text,
        value,
        of,
        "angle",
        (vertex, first, second),
    )


def leader(tip: Point, to: Point, text: Text, *, of: tuple[str, ...] = ()) -> Group:
    """A text with a line to what it names; the line ends in a dot."""
    parts: list[Item] = []
    if math.dist(tip, to) > 1.0:
        parts = [Line((to, tip)), Circle(tip, 0.5, "head")]
    return Group((*parts, text), text.text, math.nan, of, "leader", (tip,))
