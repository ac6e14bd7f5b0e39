"""The planned seat: one thickness and one engine shift for all draws of a build.

Knows no topic. In t and y = t − f the harms separate: what hangs on the plate is a function of t, what
hangs on the place of the front face one of y. Candidates are the breaks of the draws' own problems; the
seat with the largest share of draws without a clash wins, then the one of least expected harm, level by
level. Where a stretch of seats is as good in 95 % of the draws, its middle is taken; that stretch is
the setting tolerance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from compare.judge.seat import DONOR, FACE_LEVELS, SAME, Bound, Harms, by_axis, solve
from compare.vocabulary import UNDO_STEPS

__all__ = ["Planned", "plan_seat"]

Array = np.ndarray
SAME_SHARE, SAME_CUT, SAME_MONEY = 0.02, 0.05, 1.0
AS_GOOD = 0.95
POINTS, FINER, STEP = 96, 40, 0.1


@dataclass
class Planned:
    """The planned seat, each `(builds, 1)` [mm]; tolerances are absolute, NaN where there is no choice.

    thickness is NaN where the plate is no choice: it is then as thick as it is.
    """

    thickness: Array
    shift: Array
    thickness_low: Array
    thickness_high: Array
    shift_low: Array
    shift_high: Array

    def of(self, rows: Array) -> Planned:
        """The seats of some of the builds."""
        return Planned(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


@dataclass
class _One:
    """One build's problem: its draws as rows, and what may be chosen."""

    axes: dict[str, Harms]
    rows: Array
    depth: Array
    t_low: float
    t_high: float
    most: float
    forbidden: tuple[str, ...]

    def face(self, level: str, y: Array) -> Array:
        """Harm at places y of the plan `(draws, points)`."""
        return self.axes["face"].harm(level, self.rows, self.depth[:, None] + y[None, :])

    def plate(self, level: str, t: Array) -> Array:
        points = np.broadcast_to(t[None, :], (len(self.rows), len(t)))
        return self.axes["thickness"].harm(level, self.rows, points)

    def engine(self, f: Array) -> Array:
        """Expected money of the engine's shift `(points,)`."""
        points = np.broadcast_to(f[None, :], (len(self.rows), len(f)))
        return np.asarray(self.axes["shift"].harm("cost", self.rows, points).mean(axis=0))

    def sound_places(self, y: Array) -> Array:
        """Where no cut is needed that the policy forbids `(draws, points)`."""
        sound = np.ones((len(self.rows), len(y)), dtype=bool)
        for level in self.forbidden:
            sound &= self.face(level, y) <= SAME
        return sound

    def sound_plates(self, t: Array) -> Array:
        sound = self.plate("violation", t) <= SAME
        if DONOR in self.forbidden:
            sound &= self.plate(DONOR, t) <= SAME
        return sound


def plan_seat(
    bounds: Sequence[Bound],
    depth: Array,
    low: Array,
    high: Array,
    most_shift: Array,
    deepest: Array,
    shape: tuple[int, int],
) -> Planned:
    """One seat for all draws of each build, from the same bounds as `seat.solve`.

    depth, low, high, most_shift: as there [mm]. deepest: index of the deepest permitted undo step.
    """
    wide = lambda a: np.broadcast_to(np.asarray(a, dtype=float), shape)
    depth, low, high, deepest = wide(depth), wide(low), wide(high), wide(deepest)
    most = np.maximum(np.nan_to_num(wide(most_shift)), 0.0)
    blank = np.full((shape[0], 1), np.nan)
    found = Planned(blank.copy(), np.zeros((shape[0], 1)), *(blank.copy() for _ in range(4)))
    free = np.asarray(high[:, 0] > low[:, 0] + SAME)
    if shape[1] == 1:
        plain_seat = solve(bounds, depth, low, high, most, shape)
        found.thickness[free], found.shift[:] = plain_seat.thickness[free], plain_seat.shift
        return found
    axes = by_axis(bounds, depth, low, high, most, shape)
    plain = axes["face"].harm_everywhere((*FACE_LEVELS, DONOR, "cost"), depth + low)
    harmed = (np.nan_to_num(plain[:, 1:]) > SAME).any(axis=1) & (most[:, 0] > SAME)
    known = ~np.isnan(depth + low + high).any(axis=1)
    for build in np.flatnonzero((free | harmed) & known):
        rows = build * shape[1] + np.arange(1, shape[1])
        permitted = int(deepest[build, 0])
        forbidden = tuple(s for s in UNDO_STEPS[permitted + 1 :] if s in (*FACE_LEVELS, DONOR))
        one = _One(
            axes, rows, depth[build, 1:], float(low[build, 0]), float(high[build, 0]),
            float(np.quantile(most[build, 1:], 0.02)), forbidden,
        )  # fmt: skip
        seat = _best(one)
        found.shift[build], found.shift_low[build], found.shift_high[build] = seat[3:]
        if free[build]:
            found.thickness[build], found.thickness_low[build], found.thickness_high[build] = seat[:3]
    return found


def _points(parts: Sequence[Array], low: float, high: float, extra: Sequence[float]) -> Array:
    """Candidate points in [low, high]: the ends, `extra`, and up to POINTS of the breaks, spread evenly."""
    inner = np.concatenate([p.ravel() for p in parts]) if parts else np.zeros(0)
    inner = np.sort(inner[(inner > low) & (inner < high)])
    if len(inner) > POINTS:
        inner = inner[np.linspace(0, len(inner) - 1, POINTS).astype(int)]
    ends = [e for e in (low, high, *extra) if low - SAME <= e <= high + SAME]
    return np.unique(np.round(np.concatenate([inner, ends]), 6))


def _best(one: _One) -> tuple[float, ...]:
    """(thickness, its tolerance, shift, its tolerance) of one build."""
    plate, face = one.axes["thickness"], one.axes["face"]
    free = one.t_high > one.t_low + SAME
    levels = ("violation", DONOR, "cost", "comfort")
    ts = _points(plate.breaks(levels, one.rows), one.t_low, one.t_high, ()) if free else np.array([one.t_low])
    lowest = one.t_low - one.most
    breaks = [b - one.depth[:, None] for b in face.breaks((*FACE_LEVELS, DONOR, "cost"), one.rows)]
    slots = [one.t_low - b for b in one.axes["shift"].breaks(("cost",), one.rows)]
    ys = _points([*breaks, *slots], lowest, one.t_high, (one.t_low, *ts))
    t, y = _choose(one, ts, ys)
    ts, ys = _around(ts, t) if free else ts, _around(ys, y)
    ys = np.union1d(ys, ts)
    t, y = _choose(one, ts, ys)
    ts, ys = _around(ts, t) if free else ts, _around(ys, y)
    t, y = _choose(one, ts, np.union1d(ys, ts))
    f = min(max(t - y, 0.0), one.most)
    f, f_low, f_high = _shift_stretch(one, t, f)
    if not free:
        return t, np.nan, np.nan, f, f_low, f_high
    t, t_low, t_high = _thickness_stretch(one, t, f)
    return t, t_low, t_high, f, f_low, f_high


def _around(points: Array, at: float) -> Array:
    """Finer points between the neighbours of the best one, the coarse ones kept."""
    here = int(np.abs(points - at).argmin())
    low, high = points[max(here - 1, 0)], points[min(here + 1, len(points) - 1)]
    return np.unique(np.round(np.concatenate([points, np.linspace(low, high, FINER)]), 6))


def _choose(one: _One, ts: Array, ys: Array) -> tuple[float, float]:
    """The pair of the largest share without a clash, then of least expected harm."""
    shift = ts[:, None] - ys[None, :]
    feasible = (shift >= -SAME) & (shift <= one.most + SAME)
    sound = one.sound_plates(ts).astype(np.float32).T @ one.sound_places(ys).astype(np.float32)
    share = sound / len(one.rows)
    mask = feasible & (share >= np.where(feasible, share, -1.0).max() - SAME_SHARE)
    money = one.plate("cost", ts).mean(axis=0)[:, None] + one.face("cost", ys).mean(axis=0)[None, :]
    money = money + np.interp(np.maximum(shift, 0.0), *_slots(one))
    orders: list[tuple[Any, float]] = [
        *((one.face(level, ys).mean(axis=0)[None, :], SAME_CUT) for level in FACE_LEVELS),
        (one.plate(DONOR, ts).mean(axis=0)[:, None] + one.face(DONOR, ys).mean(axis=0)[None, :], SAME_CUT),
        (money, SAME_MONEY),
        (np.maximum(shift, 0.0), STEP),
        (one.plate("comfort", ts).mean(axis=0)[:, None], SAME),
        (-share, 0.0),
    ]
    for order, same in orders:
        value = np.where(mask, np.broadcast_to(order, mask.shape), np.inf)
        mask &= value <= value.min() + same
    t, y = np.unravel_index(int(mask.argmax()), mask.shape)
    return float(ts[t]), float(ys[y])


def _slots(one: _One) -> tuple[Array, Array]:
    f = np.linspace(0.0, one.most, 49) if one.most > SAME else np.zeros(1)
    return f, one.engine(f)


def _as_good(one: _One, t: Array, f: Array, like: tuple[float, float]) -> Array:
    """Share of draws in which seats (t, f) `(points,)` are as good as the seat `like`."""
    y, at = t - f, np.array([like[0] - like[1]])
    good = np.ones((len(one.rows), len(y)), dtype=bool)
    best_t = np.array([like[0]])
    good &= one.sound_places(y) | ~one.sound_places(at)
    good &= one.sound_plates(t) | ~one.sound_plates(best_t)
    for level in FACE_LEVELS:
        good &= one.face(level, y) <= one.face(level, at) + SAME
    donor = one.plate(DONOR, best_t) + one.face(DONOR, at)
    good &= one.plate(DONOR, t) + one.face(DONOR, y) <= donor + SAME
    return np.asarray(good.mean(axis=0))


def _stretch(points: Array, good: Array, at: float) -> tuple[float, float]:
    """The ends of the run of good points around one of them."""
    here = int(np.abs(points - at).argmin())
    low = high = here
    while low > 0 and good[low - 1]:
        low -= 1
    while high < len(points) - 1 and good[high + 1]:
        high += 1
    return float(points[low]), float(points[high])


def _no_worse(one: _One, seat: tuple[float, float], like: tuple[float, float]) -> bool:
    """Whether a seat (t, f) is as good as another over all draws: ties of share and of expected cuts."""
    t, f = (np.array([seat[i], like[i]]) for i in (0, 1))
    share = (one.sound_plates(t) & one.sound_places(t - f)).mean(axis=0)
    if share[0] < share[1] - SAME_SHARE:
        return False
    cuts = [one.face(level, t - f).mean(axis=0) for level in FACE_LEVELS]
    for mine, theirs in [*cuts, (one.plate(DONOR, t) + one.face(DONOR, t - f)).mean(axis=0)]:
        if abs(mine - theirs) > SAME_CUT:
            return bool(mine < theirs)
    return True


def _shift_stretch(one: _One, t: float, f: float) -> tuple[float, float, float]:
    """(shift, lowest, highest that is as good): the middle of the stretch, unless nothing done is as good."""
    if one.most <= SAME:
        return f, np.nan, np.nan
    points = _grid(0.0, one.most, f)
    good = _as_good(one, np.full(len(points), t), points, (t, f)) >= AS_GOOD
    money = one.engine(points)
    good &= money <= money[int(np.abs(points - f).argmin())] + SAME_MONEY
    low, high = _stretch(points, good, f)
    wanted = 0.0 if low <= SAME else (low + high) / 2.0
    taken = good[int(np.abs(points - wanted).argmin())] and _no_worse(one, (t, wanted), (t, f))
    return (wanted if taken else f), low, high


def _thickness_stretch(one: _One, t: float, f: float) -> tuple[float, float, float]:
    points = _grid(one.t_low, one.t_high, t)
    good = _as_good(one, points, np.full(len(points), f), (t, f)) >= AS_GOOD
    low, high = _stretch(points, good, t)
    middle = (low + high) / 2.0
    taken = good[int(np.abs(points - middle).argmin())] and _no_worse(one, (middle, f), (t, f))
    return (middle if taken else t), low, high


def _grid(low: float, high: float, at: float) -> Array:
    count = int(min(max((high - low) / STEP, 1), 400)) + 1
    return np.unique(np.append(np.linspace(low, high, count), at))
