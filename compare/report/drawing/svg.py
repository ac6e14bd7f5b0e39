"""A drawing as SVG: one element that stands by itself, style inside, nothing fetched."""

from __future__ import annotations

import math
from collections.abc import Iterator
from html import escape

from compare.figures import safe
from compare.report.drawing.model import (
    LOOKS,
    Arc,
    Circle,
    Drawing,
    Line,
    Look,
    Point,
    Polygon,
    Primitive,
    Section,
    Text,
    box_of,
    flat,
    hatch,
)

__all__ = ["svg_of"]

FONT = "'Liberation Sans', Arial, Helvetica, sans-serif"


def svg_of(drawing: Drawing, name: str) -> str:
    """The drawing as an `<svg>` element, in mm as printed; `name` [a-z0-9-] keeps its ids apart."""
    used = dict.fromkeys(i.role for i in flat(drawing.items) if not isinstance(i, Text))
    rules = [_rule(name, role, LOOKS[role]) for role in used]
    size = f'width="{drawing.width:.2f}mm" height="{drawing.height:.2f}mm"'
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} '
        f'viewBox="0 0 {drawing.width:.2f} {drawing.height:.2f}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc">'
    )
    style = f".{name}-text{{font-family:{FONT};fill:#000}} .{name}-back{{fill:#fff;stroke:none}}"
    lines = [
        head,
        f'<title id="{name}-title">{_words(drawing.title)}</title>',
        f'<desc id="{name}-desc">{_words(drawing.description)}</desc>',
        f"<style>{' '.join([*rules, style])}</style>",
    ]
    for item in flat(drawing.items):
        lines += _elements(item, name)
    return "\n".join([*lines, "</svg>"])


def _words(text: str) -> str:
    return escape(safe(text), quote=True)


def _rule(name: str, role: str, look: Look) -> str:
    dashes = f";stroke-dasharray:{' '.join(f'{d:g}' for d in look.dashes)}" if look.dashes else ""
    fill = look.fill or "none"
    own = f".{name}-{role}{{fill:{fill};stroke:{look.stroke};stroke-width:{look.width:g}{dashes}}}"
    thin = f".{name}-{role}-hatch{{fill:none;stroke:{look.stroke};stroke-width:0.18}}"
    return own + (" " + thin if look.hatches else "")


def _elements(item: Primitive, name: str) -> Iterator[str]:
    if isinstance(item, Text):
        box = box_of(item)
        anchor = {"start": "start", "middle": "middle", "end": "end"}[item.anchor]
        yield (
            f'<rect class="{name}-back" x="{box.left:.2f}" y="{box.top:.2f}" '
            f'width="{box.width:.2f}" height="{box.height:.2f}"/>'
        )
        yield (
            f'<text class="{name}-text" x="{item.at[0]:.2f}" y="{item.at[1]:.2f}" '
            f'font-size="{item.size:.3f}" text-anchor="{anchor}">{_words(item.text)}</text>'
        )
    elif isinstance(item, Circle):
        yield (
            f'<circle class="{name}-{item.role}" cx="{item.centre[0]:.2f}" '
            f'cy="{item.centre[1]:.2f}" r="{item.radius:.2f}"/>'
        )
    elif isinstance(item, Arc):
        yield f'<path class="{name}-{item.role}" style="fill:none" d="{_arc_path(item)}"/>'
    elif isinstance(item, Line):
        look = f'class="{name}-{item.role}" style="fill:none"'
        yield f'<polyline {look} points="{_points(item.points)}"/>'
    elif isinstance(item, Polygon | Section):
        yield f'<polygon class="{name}-{item.role}" points="{_points(item.points)}"/>'
        if isinstance(item, Section):
            path = " ".join(
                f"M{a[0]:.2f} {a[1]:.2f}L{b[0]:.2f} {b[1]:.2f}"
                for spacing, degrees in LOOKS[item.role].hatches
                for a, b in hatch(item.points, spacing, degrees)
            )
            if path:
                yield f'<path class="{name}-{item.role}-hatch" d="{path}"/>'


def _points(points: tuple[Point, ...]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)


def _arc_path(arc: Arc) -> str:
    ends = [
        (
            arc.centre[0] + arc.radius * math.cos(math.radians(turn)),
            arc.centre[1] - arc.radius * math.sin(math.radians(turn)),
        )
        for turn in (arc.start, arc.end)
    ]
    large = int(arc.end - arc.start > 180.0)
    (x1, y1), (x2, y2) = ends
    return f"M{x1:.2f} {y1:.2f}A{arc.radius:.2f} {arc.radius:.2f} 0 {large} 0 {x2:.2f} {y2:.2f}"
