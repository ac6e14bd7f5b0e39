"""Drawings in characters, to scale: the side and the plan view of the seat, and the shaft in the crankshaft.

What is drawn comes as a Layout of plain numbers [mm]; each drawing maps them to cells with `Scale`, so that
a test can ask where a number must have landed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from compare.answer.report import Tables

__all__ = ["Drawing", "Layout", "Scale", "layout_of", "plan_view", "shaft_view", "side_view"]

CELL_ASPECT = 2.0  # a character is about twice as tall as wide


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
class Layout:
    """One build in the car, all in mm: x rearward from the block; NaN where not known."""

    x_face: float
    case_end: float
    tail_end: float
    case: dict[str, float]
    tail: dict[str, float]
    crossmember: tuple[float, float, float]
    lip: float
    opening: tuple[float, float]
    lever: tuple[float, float]
    lever_offset: float
    pad: tuple[float, float, float]
    tunnel_x: list[float]
    tunnel: dict[str, list[float]]
    near: float = 0.0

    def room(self, side: str, x: float) -> float:
        """Distance from the axis to the tunnel's wall at x; NaN where it is not known."""
        return float(np.interp(x, self.tunnel_x, self.tunnel[side]))

    def too_near(self, side: str, x: float) -> bool:
        """Whether case or tail at x touches the tunnel's side or comes nearer than the tight clearance."""
        permitted = self.room(side, x) - self.near + 1e-6
        if self.x_face <= x <= self.case_end:
            return self.case[side] > permitted
        return self.case_end < x <= self.tail_end and self.tail[side] > permitted


def layout_of(tables: Tables, at: int) -> Layout:
    """The layout of one shown build at its solved seat."""
    result = tables.result
    v = lambda name: tables.value(name, at)
    face = v("x_face")
    sides = ("left", "right", "top", "bottom")
    room = v("shifter_room")
    lever = face + v("shifter_position")
    pad = v("mount_pad_length")
    return Layout(
        face,
        face + v("case_length"),
        face + v("length"),
        {s: v(f"case_{s}") for s in sides},
        {s: v(f"tail_{s}") for s in sides},
        (v("crossmember_start"), v("crossmember_end"), v("crossmember_top")),
        v("crossmember_lip_depth"),
        (v("opening_start"), v("opening_end")),
        (lever - room / 2.0, lever + room / 2.0),
        0.0 if math.isnan(v("shifter_offset")) else v("shifter_offset"),
        (face + v("mount_position"), v("mount_drop"), 40.0 if math.isnan(pad) else pad),
        [float(x) for x in np.asarray(result.names["tunnel_x"])[0, 0]],
        {s: [float(x) for x in np.asarray(result.names[f"tunnel_{s}"])[0, 0]] for s in sides},
        v("tunnel_tight"),
    )


@dataclass(frozen=True)
class Drawing:
    """Lines of characters, the legend under them, and the scales that placed them (z: None for bars)."""

    lines: list[str]
    legend: str
    x: Scale
    z: Scale | None = None


class _Canvas:
    def __init__(self, x: Scale, z: Scale) -> None:
        self.x, self.z = x, z
        self.cells = [[" "] * x.count for _ in range(z.count)]

    def put(self, x: float, z: float, mark: str) -> None:
        if math.isnan(x) or math.isnan(z):
            return
        column, row = self.x.cell(x), self.z.count - 1 - self.z.cell(z)
        if 0 <= column < self.x.count and 0 <= row < self.z.count:
            self.cells[row][column] = mark

    def box(self, x0: float, x1: float, z0: float, z1: float, mark: str) -> None:
        if any(math.isnan(n) for n in (x0, x1, z0, z1)):
            return
        left, right = self.x.cell(x0), self.x.cell(x1)
        low, high = self.z.cell(z0), self.z.cell(z1)
        for column in range(left, right + 1):
            for row in range(low, high + 1):
                edge = column in (left, right) or row in (low, high)
                if edge and 0 <= column < self.x.count and 0 <= row < self.z.count:
                    self.cells[self.z.count - 1 - row][column] = mark

    def fill(self, x0: float, x1: float, z0: float, z1: float, mark: str, over: str = "") -> None:
        if any(math.isnan(n) for n in (x0, x1, z0, z1)):
            return
        for column in range(max(self.x.cell(x0), 0), min(self.x.cell(x1), self.x.count - 1) + 1):
            for row in range(max(self.z.cell(z0), 0), min(self.z.cell(z1), self.z.count - 1) + 1):
                here = self.cells[self.z.count - 1 - row][column]
                self.cells[self.z.count - 1 - row][column] = "!" if here in over else mark

    def lines(self) -> list[str]:
        return ["".join(row).rstrip() for row in self.cells]


def _known(*values: float) -> list[float]:
    return [v for v in values if not math.isnan(v)]


def _ruler(x: Scale, step: float) -> str:
    line = [" "] * (x.count + 8)
    mark = math.ceil(x.low / step) * step
    while mark <= x.high:
        at = x.cell(mark)
        text = f"{mark:.0f}"
        for i, char in enumerate(text):
            line[at + i] = char
        mark += step
    return "".join(line).rstrip()


def _step(span: float, cells: int) -> float:
    for step in (10.0, 20.0, 50.0, 100.0, 200.0, 500.0):
        if span / step * 7 <= cells:
            return step
    return 1000.0


def _window(layout: Layout, width: int, low: float, high: float) -> tuple[Scale, Scale]:
    xs = _known(layout.tail_end, layout.crossmember[1], layout.opening[1], layout.lever[1], *layout.tunnel_x)
    end = max([*xs, 300.0]) * 1.02
    x = Scale(0.0, end, width)
    per_cell = end / (width - 1) * CELL_ASPECT
    rows = max(6, round((high - low) / per_cell) + 1)
    return x, Scale(low, low + per_cell * (rows - 1), rows)


def side_view(layout: Layout, width: int = 78) -> Drawing:
    """Side elevation: # case, = tail, ^ tunnel, X crossmember, x its lip, M mount pad, | lever, ! where they meet."""
    tops = _known(layout.case["top"], layout.tail["top"], *layout.tunnel["top"])
    bottoms = _known(layout.case["bottom"], layout.tail["bottom"], layout.crossmember[2] + 40.0, layout.pad[1])
    x, z = _window(layout, width, -max([*bottoms, 60.0]) - 10.0, max([*tops, 60.0]) + 30.0)
    canvas = _Canvas(x, z)
    for column in range(x.count):
        if column % 2 == 0:
            canvas.put(x.value(column), 0.0, "-")
    canvas.box(layout.x_face, layout.case_end, -layout.case["bottom"], layout.case["top"], "#")
    canvas.box(layout.case_end, layout.tail_end, -layout.tail["bottom"], layout.tail["top"], "=")
    for column in range(x.count):
        at = x.value(column)
        covered = layout.tunnel_x and layout.tunnel_x[0] <= at <= layout.tunnel_x[-1] and not math.isnan(layout.tunnel["top"][0])
        if covered and not layout.opening[0] <= at <= layout.opening[1]:
            canvas.put(at, layout.room("top", at), "!" if layout.too_near("top", at) else "^")
    start, end, top = layout.crossmember
    if not math.isnan(start + end + top):
        canvas.fill(start, end, -top - 40.0, -top, "X", "#=!")
        if layout.lip > 0:
            canvas.fill(start, start + layout.lip, -top - 40.0, -top, "x", "#=!")
    pad_x, drop, length = layout.pad
    if not math.isnan(pad_x + drop):
        canvas.fill(pad_x - length / 2.0, pad_x + length / 2.0, -drop, -drop, "M")
    if not math.isnan(layout.lever[0]):
        middle = (layout.lever[0] + layout.lever[1]) / 2.0
        foot = layout.tail["top"] if middle > layout.case_end else layout.case["top"]
        for row in range(z.count):
            if z.value(row) >= (0.0 if math.isnan(foot) else foot):
                canvas.put(middle, z.value(row), "|")
    legend = "Side, x in mm from the block: # case, = tail, ^ tunnel, X crossmember, x its lip, M mount pad, | lever, ! touching or too near, - axis."
    return Drawing([*canvas.lines(), _ruler(x, _step(x.high - x.low, x.count))], legend, x, z)


def plan_view(layout: Layout, width: int = 78) -> Drawing:
    """Plan view, left side up: # case, = tail, ^ tunnel, o opening, | lever, ! where they meet."""
    reach = max([*_known(*layout.case.values(), *layout.tail.values(), *layout.tunnel["left"], *layout.tunnel["right"]), 80.0]) + 10.0
    x, z = _window(layout, width, -reach, reach)
    canvas = _Canvas(x, z)
    canvas.box(layout.x_face, layout.case_end, -layout.case["right"], layout.case["left"], "#")
    canvas.box(layout.case_end, layout.tail_end, -layout.tail["right"], layout.tail["left"], "=")
    for column in range(x.count):
        at = x.value(column)
        if not layout.tunnel_x or not layout.tunnel_x[0] <= at <= layout.tunnel_x[-1]:
            continue
        for side, sign in (("left", 1.0), ("right", -1.0)):
            if math.isnan(layout.tunnel[side][0]):
                continue
            canvas.put(at, sign * layout.room(side, at), "!" if layout.too_near(side, at) else "^")
    if not math.isnan(layout.opening[0] + layout.opening[1]):
        for end in layout.opening:
            canvas.put(end, 0.0, "o")
    if not math.isnan(layout.lever[0]):
        canvas.put((layout.lever[0] + layout.lever[1]) / 2.0, -layout.lever_offset, "|")
    legend = "Plan, left side up: # case, = tail, ^ tunnel, o ends of the opening, | lever, ! touching or too near."
    return Drawing([*canvas.lines(), _ruler(x, _step(x.high - x.low, x.count))], legend, x, z)


def shaft_view(tables: Tables, at: int, width: int = 78) -> Drawing:
    """The shaft in the crankshaft and clutch: bars to scale, front at the left, mm behind the flange."""
    v = lambda name: tables.value(name, at)
    reach = v("reach")
    if math.isnan(reach):
        return Drawing([], "No drawing: the tip's place is not known.", Scale(0.0, 1.0, 2))
    from_tip = lambda s: s - reach
    length = v("hub_length")
    bars: list[tuple[str, float, float, str]] = [
        ("bore", -v("crank_bore_depth"), 0.0, "."),
        ("bush", -(v("crank_bush_recess") + v("crank_bush_length")), -v("crank_bush_recess"), "b"),
        ("journal", from_tip(0.0), from_tip(v("pilot_length")), "="),
        ("turned back", from_tip(v("pilot_length")), from_tip(v("journal_needed")), "t"),
        ("full splines", from_tip(v("spline_start_after")), from_tip(v("spline_end")), "S"),
        ("hub, worn", v("hub_front_worn"), v("hub_front_worn") + length, "H"),
        ("hub, released", v("hub_rear_released") - length, v("hub_rear_released"), "H"),
        ("guide", from_tip(v("shaft_stickout") - v("collar_length")), from_tip(v("shaft_stickout")), "g"),
    ]
    bars = [b for b in bars if not (math.isnan(b[1]) or math.isnan(b[2])) and b[2] - b[1] > 0.05]
    low = min([b[1] for b in bars] + [from_tip(0.0)]) - 2.0
    high = max([b[2] for b in bars if b[0] != "guide"] + [20.0]) + 12.0
    x = Scale(low, high, max(width - 14, 30))
    lines = []
    for name, start, end, mark in bars:
        row = [" "] * x.count
        for column in range(max(x.cell(start), 0), min(x.cell(end), x.count - 1) + 1):
            row[column] = mark
        if name == "full splines" and x.cell(end) + 1 < x.count:
            row[x.cell(end) + 1] = ">"
        if name.startswith("hub") and not math.isnan(v("spline_end")):
            for column in range(x.count):
                beyond = x.value(column) > from_tip(v("spline_end")) or x.value(column) < from_tip(v("spline_start_after"))
                if row[column] == "H" and beyond and (column > x.cell(from_tip(v("spline_end"))) or column < x.cell(from_tip(v("spline_start_after")))):
                    row[column] = "!"
        lines.append(f"{name:<13} {''.join(row).rstrip()}")
    lines.append(f"{'':<13} {_ruler(x, _step(x.high - x.low, x.count))}")
    return Drawing(lines, "In mm behind the crankshaft's flange, front at the left; > where the run-out begins, ! hub off full splines.", x)
