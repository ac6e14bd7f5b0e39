"""Bounds in, seat out: adapter thickness and engine shift chosen together for the least harm.

Knows no topic. A Bound is a piecewise linear harm along one axis: the thickness t, the shift f, or
the
gearbox's front face x = depth + t − f. Harm is ordered by level; the solver minimises the levels in
their
order, exactly: the optimum of a piecewise linear sum lies where its breaks meet, and those points
are tried.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

__all__ = [
    "DONOR",
    "FACE_LEVELS",
    "Bound",
    "Harms",
    "Price",
    "Seat",
    "beyond",
    "harm_at",
    "priced",
    "solve",
]

Array = np.ndarray
# The order in which levels are minimised: violation, these, donor cut, cost, the engine shift
# itself, comfort.
FACE_LEVELS = ("frame cut", "body cut", "panel cut")
DONOR = "donor cut"  # hangs on the plate (the shaft) and on the place (lugs) alike
LEVELS = ("violation", *FACE_LEVELS, DONOR, "bolts back", "comfort")
AXES = ("thickness", "shift", "face")
SAME = 1e-7
ROWS_AT_ONCE = 4096


@dataclass(frozen=True)
class Price:
    """What the work list charges for a decision: its undo step, money to begin with and for each
    mm.
    """

    level: str
    toll: float = 0.0
    per_mm: float = 0.0


@dataclass(frozen=True)
class Bound:
    """What the seat makes a decision cost along one axis: its figure in mm, at any place.

    `harm(v, *args)` takes points `(rows, points)` and the args as `(rows, 1)` (or `(rows, 1, S)`
    for
    args with a trailing axis) and gives the figure `(rows, points)`. `breaks(*args)` gives, for
    args of
    shape `(rows,)` or `(rows, S)`, the places where its slope may change. `place` names what is
    harmed.
    `idle`, where given, is True for builds and draws that it cannot harm wherever the gearbox sits.
    `near(low, high, *args)`, where given, says what of the args matters for places in [low, high],
    and
    where it is idle there; None where it harms nothing there at all.
    `decision` is the decision that puts it right, which sets `price`; without one `level` says
    whether
    it is a violation or mere comfort. `undo` is an undo step instead of the decision's own.
    """

    axis: str
    decision: str
    place: str
    breaks: Callable[..., tuple[Array, ...]]
    harm: Callable[..., Array]
    args: tuple[Array, ...]
    idle: Array | None = None
    level: str = ""
    undo: str = ""
    price: Price = Price("")
    near: Callable[..., tuple[tuple[Array, ...], Array] | None] | None = None

    def within(self, low: float, high: float) -> Bound | None:
        """The same bound for places in [low, high] only; None where it harms nothing there."""
        if self.near is None:
            return self
        found = self.near(low, high, *self.args)
        if found is None:
            return None
        args, idle = found
        return replace(self, args=args, idle=idle if self.idle is None else self.idle | idle)

    def of_build(self, build: int) -> Bound:
        """The same bound for one build alone."""
        one = lambda a: a[build : build + 1] if a.ndim >= 2 and len(a) > 1 else a
        args = tuple(one(a) for a in map(np.asarray, self.args))
        return replace(self, args=args, idle=None if self.idle is None else one(self.idle))

    def __post_init__(self) -> None:
        if self.axis not in AXES:
            raise ValueError(f"there is no axis {self.axis}")
        if not self.decision and self.level not in ("violation", "comfort"):
            raise ValueError(f"a bound that no decision answers for has no level {self.level}")


def priced(bounds: Sequence[Bound], prices: Mapping[str, Price]) -> list[Bound]:
    """The same bounds at the level and the price of the decision that answers for each."""
    found = []
    for bound in bounds:
        price = prices[bound.decision] if bound.decision else Price(bound.level)
        level = bound.undo or price.level
        found.append(replace(bound, level=level, price=Price(level, price.toll, price.per_mm)))
    return found


@dataclass
class Seat:
    """The solved seat, each `(builds, draws)` [mm]."""

    thickness: Array
    shift: Array


def _ramp(value: Array, start: Array, side: Array, weight: Array) -> Array:
    return weight * np.maximum(side * (value - start), 0.0)


def _start(start: Array, side: Array, weight: Array) -> tuple[Array, ...]:
    return (start,)


def beyond(
    axis: str, answer: str, place: str, start: Array, side: float, weight: Any = 1.0
) -> Bound:
    """Harm growing by `weight` per mm beyond `start`, upward (side 1) or downward (side −1).

    `answer` is the decision that puts it right, or `violation`, or `comfort`.
    """
    args = (start, np.asarray(side), np.asarray(weight))
    if answer in ("violation", "comfort"):
        return Bound(axis, "", place, _start, _ramp, args, level=answer)
    return Bound(axis, answer, place, _start, _ramp, args)


class Harms:
    """Bounds of one axis, evaluated for any subset of the rows (build × draw) without spreading
    them all out.

    reach: the lowest and the highest place that will be asked for; what harms nothing there is left
    out.
    """

    def __init__(
        self,
        bounds: Sequence[Bound],
        shape: tuple[int, int],
        reach: tuple[float, float] | None = None,
    ) -> None:
        self.bounds = list(bounds)
        if reach is not None:
            self.bounds = [near for b in bounds if (near := b.within(*reach)) is not None]
        self.shape = shape
        self._rows: Array | None = None
        self._picked: dict[int, tuple[Array, tuple[Array, ...]]] = {}
        self._idle: dict[int, Array] = {}

    def _pick(self, bound: Bound, rows: Array) -> tuple[Array, tuple[Array, ...]]:
        """(which of the rows the bound can harm, as positions; its args for those). Kept while the
        same rows are asked for.
        """
        if rows is not self._rows:
            self._rows, self._picked = rows, {}
        if id(bound) not in self._picked:
            self._picked[id(bound)] = self._pick_anew(bound, rows)
        return self._picked[id(bound)]

    def _pick_anew(self, bound: Bound, rows: Array) -> tuple[Array, tuple[Array, ...]]:
        build, draw = np.divmod(rows, self.shape[1])
        alive = ~_at(self._dead(bound), build, draw)
        if alive.all():
            return np.arange(len(rows)), tuple(_at(a, build, draw) for a in bound.args)
        at = np.flatnonzero(alive)
        build, draw = build[at], draw[at]
        return at, tuple(_at(a, build, draw) for a in bound.args)

    def _dead(self, bound: Bound) -> Array:
        """Where a bound harms nothing: an argument is unknown, or it is idle. As small as its
        arguments are.
        """
        if id(bound) not in self._idle:
            dead: Array = np.zeros((1, 1), dtype=bool) if bound.idle is None else bound.idle
            for a in map(np.asarray, bound.args):
                dead = dead | (np.isnan(a).all(axis=-1) if a.ndim == 3 else np.isnan(a))
            self._idle[id(bound)] = dead
        return self._idle[id(bound)]

    def breaks(self, levels: Sequence[str], rows: Array) -> list[Array]:
        found = []
        for bound in self.bounds:
            if _counts(bound, levels):
                at, args = self._pick(bound, rows)
                if len(at):
                    places = bound.breaks(*args)
                    part = np.full((len(rows), len(places)), np.nan)
                    part[at] = np.stack(np.broadcast_arrays(*places), axis=-1)
                    found.append(part)
        return found

    def harm(self, level: str, rows: Array, points: Array) -> Array:
        """Millimetres of all bounds at a level, or money at `cost`: a decision's toll is paid once."""
        return self.harms((level,), rows, points)[level]

    def harms(self, levels: Sequence[str], rows: Array, points: Array) -> dict[str, Array]:
        """The same for several levels, each bound worked out once."""
        totals = {level: np.zeros(points.shape) for level in levels}
        asked: dict[str, Array] = {}
        for bound in self.bounds:
            if not _counts(bound, levels):
                continue
            at, args = self._pick(bound, rows)
            if not len(at):
                continue
            some = len(at) < len(rows)
            found = bound.harm(points[at] if some else points, *(a[:, None] for a in args))
            where: Any = at if some else slice(None)
            if bound.level in totals:
                totals[bound.level][where] += found
            if "cost" not in totals or not _priced(bound):
                continue
            totals["cost"][where] += bound.price.per_mm * found
            if bound.price.toll:
                paid = asked.setdefault(bound.decision, np.zeros(points.shape, dtype=bool))
                due = (found > SAME) & ~paid[where]
                totals["cost"][where] += bound.price.toll * due
                paid[where] |= due
        return totals

    def harm_everywhere(self, levels: Sequence[str], points: Array) -> Array:
        """Harm of some levels together, at one point per build and draw `(builds, draws)`; by whole
        builds, spreading nothing.
        """
        total = np.zeros(self.shape)
        for bound in self.bounds:
            if not _counts(bound, levels):
                continue
            builds: Any = slice(None)
            if bound.idle is not None:
                idle: Array = np.asarray(bound.idle.all(axis=1))
                if idle.all():
                    continue
                if len(idle) == self.shape[0] and idle.any():
                    builds = np.flatnonzero(~idle)
            args = [
                a[builds] if a.ndim >= 2 and a.shape[0] > 1 else a
                for a in map(np.asarray, bound.args)
            ]
            got = bound.harm(
                points[builds][..., None],
                *(
                    a[..., None] if a.ndim == 2 else a[..., None, :] if a.ndim == 3 else a
                    for a in args
                ),
            )
            total[builds] += np.nan_to_num(got[..., 0])
        return total


def _counts(bound: Bound, levels: Sequence[str]) -> bool:
    """Whether a bound counts at one of the levels; at `cost` every bound counts that has a price."""
    return bound.level in levels or ("cost" in levels and _priced(bound))


def _priced(bound: Bound) -> bool:
    return bound.price.toll > 0 or bound.price.per_mm > 0


def _at(array: Any, build: Array, draw: Array) -> Array:
    """Values of an array `(builds or 1, draws or 1[, S])` at some builds and draws, `(rows[, S])`."""
    array = np.asarray(array)
    if array.ndim < 2 or (array.ndim == 2 and array.size == 1):
        return np.broadcast_to(array.reshape(()), (len(build),))
    if array.shape[:2] == (1, 1):
        return array[0]  # shared by all rows, as one row
    return np.asarray(
        array[
            build if array.shape[0] > 1 else np.zeros_like(build),
            draw if array.shape[1] > 1 else np.zeros_like(draw),
        ]
    )


def by_axis(
    bounds: Sequence[Bound],
    depth: Array,
    low: Array,
    high: Array,
    most: Array,
    shape: tuple[int, int],
) -> dict[str, Harms]:
    """The bounds by axis, each within what can be reached: thickness, shift, and the face between
    both.
    """
    ends = {
        "thickness": (low, high),
        "shift": (np.zeros(1), most),
        "face": (depth + low - most, depth + high),
    }
    found = {}
    for axis in AXES:
        reach = tuple(
            float(f(a, axis=None, initial=i))
            for f, a, i in zip(
                (np.fmin.reduce, np.fmax.reduce), ends[axis], (np.inf, -np.inf), strict=True
            )
        )
        found[axis] = Harms(
            [b for b in bounds if b.axis == axis], shape, (reach[0] - SAME, reach[1] + SAME)
        )
    return found


def _rows(array: Any, shape: tuple[int, int]) -> Array:
    return np.broadcast_to(np.asarray(array, dtype=float), shape).reshape(-1)


def _least(mask: Array, harm: Array) -> Array:
    """Narrow a mask `(rows, points)` to the points of least harm."""
    least = np.where(mask, harm, np.inf).min(axis=1, keepdims=True)
    return mask & (harm <= least + SAME)


def _within(parts: Sequence[Array], low: Array, high: Array) -> Array:
    """Candidate points `(rows, points)`: the ends of [low, high] and what lies between them, in no
    order, some repeated.
    """
    ends = np.stack([low, high], axis=1)
    if not parts:
        return ends
    inner = np.concatenate(parts, axis=1)
    outside = ~((inner > low[:, None]) & (inner < high[:, None]))  # NaN counts as outside
    most = inner.shape[1] - int(outside.sum(axis=1).min(initial=inner.shape[1]))
    if not most:
        return ends
    inner[outside] = np.inf
    if most < inner.shape[1]:  # most breaks lie outside: as few columns as hold those that do not
        inner = np.partition(inner, most - 1, axis=1)[:, :most]
    return np.concatenate([ends, np.where(np.isinf(inner), low[:, None], inner)], axis=1)


def solve(
    bounds: Sequence[Bound],
    depth: Array,
    low: Array,
    high: Array,
    most_shift: Array,
    shape: tuple[int, int],
) -> Seat:
    """The seat of least harm for every build and draw.

    depth: x of the front face at no thickness and no shift [mm]. low, high: permitted thickness
    [mm].
    most_shift: how far forward the engine can go [mm]. All broadcast to `shape` = (builds, draws).
    Levels in order: violation, frame, body, panel, donor cut, cost, then shift, then comfort; where
    a whole
    interval of thickness is equally good its middle is taken. A thickness that is not known stays
    NaN.
    """
    depth, low, high = (_rows(a, shape) for a in (depth, low, high))
    most = np.maximum(np.nan_to_num(_rows(most_shift, shape), nan=0.0), 0.0)
    axes = by_axis(bounds, depth, low, high, most, shape)
    thickness, shift = low.copy(), np.zeros(len(low))
    best_low, best_high = low.copy(), high.copy()
    free = np.flatnonzero(high > low + SAME)
    if len(free):
        best_low[free], best_high[free], thickness[free] = _settle_thickness(
            axes["thickness"], free, low[free], high[free]
        )
    # Where the plain seat, engine as it stands, harms nothing, it is the best there is; the rest is
    # solved in full.
    plain = (
        axes["face"]
        .harm_everywhere((*FACE_LEVELS, DONOR, "cost"), (depth + thickness).reshape(shape))
        .reshape(-1)
    )
    choice = (best_high - best_low > SAME) | (most > SAME)
    hard = np.flatnonzero((plain > SAME) & choice & ~np.isnan(depth + thickness + best_high))
    open_ = best_high[hard] - best_low[hard] > SAME
    for rows in (
        rest[i : i + ROWS_AT_ONCE]
        for rest in (hard[~open_], hard[open_])
        for i in range(0, len(rest), ROWS_AT_ONCE)
    ):
        thickness[rows], shift[rows] = _settle_both(
            axes, rows, depth[rows], best_low[rows], best_high[rows], most[rows]
        )
    return Seat(thickness.reshape(shape), shift.reshape(shape))


def _settle_thickness(
    flat: Harms, rows: Array, low: Array, high: Array
) -> tuple[Array, Array, Array]:
    """(lowest, highest thickness of least violation, best thickness as far as the shaft cares), for
    rows with a free choice.
    """
    points = _within(flat.breaks(("violation",), rows), low, high)
    mask = _least(np.ones(points.shape, dtype=bool), flat.harm("violation", rows, points))
    best_low = np.where(mask, points, np.inf).min(axis=1)
    best_high = np.where(mask, points, -np.inf).max(axis=1)
    points = _within(flat.breaks((DONOR, "cost", "comfort"), rows), best_low, best_high)
    mask = np.ones(points.shape, dtype=bool)
    for level in (DONOR, "cost", "comfort"):
        mask = _least(mask, flat.harm(level, rows, points))
    least, most = (
        np.where(mask, points, np.inf).min(axis=1),
        np.where(mask, points, -np.inf).max(axis=1),
    )
    return best_low, best_high, (least + most) / 2


def _settle_both(
    axes: dict[str, Harms], rows: Array, depth: Array, low: Array, high: Array, most: Array
) -> tuple[Array, Array]:
    """The full problem for rows where the plain seat does harm."""
    face, plate, engine = axes["face"], axes["thickness"], axes["shift"]
    free = bool(np.any(high - low > SAME))
    ts = _within(plate.breaks((DONOR, "cost", "comfort"), rows) if free else [], low, high)
    fs = _within(engine.breaks(("cost",), rows), np.zeros(len(rows)), most)
    crossings = (depth[:, None, None] + ts[:, :, None] - fs[:, None, :]).reshape(len(rows), -1)
    # Harm is linear between these points and nowhere above its neighbours at them, so the least of
    # it is at one.
    xs = _within(
        [*face.breaks((*FACE_LEVELS, DONOR, "cost"), rows), crossings],
        depth + low - most,
        depth + high,
    )
    mask = np.ones(xs.shape, dtype=bool)
    for level in FACE_LEVELS:
        mask = _least(mask, face.harm(level, rows, xs))
    row, column = np.nonzero(mask)
    x = xs[row, column]
    at = x - depth[row]
    t_low, t_high = np.maximum(low[row], at), np.minimum(high[row], at + most[row])
    t_high = np.maximum(t_low, t_high)
    t = _within([ts[row], at[:, None] + fs[row]], t_low, t_high) if free else t_low[:, None]
    f = np.maximum(t - at[:, None], 0.0)
    who = rows[row]
    starts = np.flatnonzero(np.r_[True, row[1:] != row[:-1]])
    orders = [
        face.harm(DONOR, who, x[:, None]),
        engine.harm("cost", who, f) + face.harm("cost", who, x[:, None]),
        f,
    ]
    if free:
        orders[0] = orders[0] + plate.harm(DONOR, who, t)
        orders[1] = orders[1] + plate.harm("cost", who, t)
        orders.append(plate.harm("comfort", who, t))
    keep = np.ones(t.shape, dtype=bool)
    for order in orders:
        order = np.broadcast_to(order, t.shape)
        best = np.minimum.reduceat(np.where(keep, order, np.inf).min(axis=1), starts)
        keep &= order <= best[row][:, None] + SAME
    first = np.minimum.reduceat(np.where(keep, t, np.inf).min(axis=1), starts)
    last = np.maximum.reduceat(np.where(keep, t, -np.inf).max(axis=1), starts)
    shift = np.minimum.reduceat(np.where(keep, f, np.inf).min(axis=1), starts)
    middle = (first + last) / 2
    # The middle is as good as the ends only where the good places hang together.
    as_good = np.ones(len(rows), dtype=bool)
    for level in (*FACE_LEVELS, DONOR, "cost"):
        ends = face.harm(level, rows, (depth + first - shift)[:, None])[:, 0]
        as_good &= face.harm(level, rows, (depth + middle - shift)[:, None])[:, 0] <= ends + SAME
    return np.where(as_good, middle, first), shift


def harm_at(
    bounds: Sequence[Bound],
    level: str,
    depth: Array,
    thickness: Array,
    shift: Array,
    shape: tuple[int, int],
) -> Array:
    """Harm of one level at a given seat, `(builds, draws)`: what the solver minimises, for reports
    and tests.
    """
    rows = np.arange(shape[0] * shape[1])
    t, f, d = (_rows(a, shape)[:, None] for a in (thickness, shift, depth))
    total = np.zeros(len(rows))
    for axis, points in (("thickness", t), ("shift", f), ("face", d + t - f)):
        total += Harms([b for b in bounds if b.axis == axis], shape).harm(level, rows, points)[:, 0]
    return total.reshape(shape)
