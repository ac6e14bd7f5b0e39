"""The planned seat: one thickness and one engine shift for all draws of a build.

Knows no topic. In t and y = t − f the harms separate: what hangs on the plate is a function of t,
what
hangs on the place of the front face one of y. Candidates are the breaks of the draws' own problems;
the
seat with the largest share of draws without a clash wins, then the one of least expected harm,
level by
level. Where a stretch of seats is as good in 95 % of the draws, its middle is taken; that stretch
is
the setting tolerance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from compare.judge.seat import DONOR, FACE_LEVELS, SAME, Bound, Harms, by_axis, solve
from compare.vocabulary import UNDO_STEPS

__all__ = ["Planned", "plan_seat"]

Array = np.ndarray
SAME_SHARE, SAME_CUT, SAME_MONEY = 0.02, 0.05, 1.0
AS_GOOD = 0.95
POINTS, FINER, FINER_ROUNDS, STEP = 96, 40, 2, 0.1


@dataclass
class Planned:
    """The planned seat, each `(builds, 1)` [mm]; tolerances are absolute, NaN where there is no
    choice.

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


PLATE_LEVELS = ("violation", DONOR, "cost", "comfort")
PLACE_LEVELS = (*FACE_LEVELS, DONOR, "cost")


@dataclass
class _Tried:
    """Points of one axis, rising, and what was worked out for them: whether no cut is needed that
    the
    policy forbids `(draws, points)`, and the expected harm by level `(points,)`."""

    points: Array
    sound: Array
    expected: dict[str, Array]

    def joined(self, other: _Tried) -> _Tried:
        """Both together; no point may stand in both."""
        points = np.concatenate([self.points, other.points])
        order = points.argsort()
        expected = {
            n: np.concatenate([e, other.expected[n]])[order] for n, e in self.expected.items()
        }
        return _Tried(
            points[order], np.concatenate([self.sound, other.sound], axis=1)[:, order], expected
        )


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

    def face(self, y: Array) -> dict[str, Array]:
        """Harm by level at places y of the plan `(draws, points)`."""
        return self.axes["face"].harms(PLACE_LEVELS, self.rows, self.depth[:, None] + y[None, :])

    def plate(self, t: Array) -> dict[str, Array]:
        points = np.broadcast_to(t[None, :], (len(self.rows), len(t)))
        return self.axes["thickness"].harms(PLATE_LEVELS, self.rows, points)

    def engine(self, f: Array) -> Array:
        """Expected money of the engine's shift `(points,)`."""
        points = np.broadcast_to(f[None, :], (len(self.rows), len(f)))
        return np.asarray(self.axes["shift"].harm("cost", self.rows, points).mean(axis=0))

    @cached_property
    def slots(self) -> tuple[Array, Array]:
        """The engine's shift on a grid, and its expected money."""
        f = np.linspace(0.0, self.most, 49) if self.most > SAME else np.zeros(1)
        return f, self.engine(f)

    def sound_place(self, face: dict[str, Array]) -> Array:
        """Where no cut is needed that the policy forbids."""
        sound = np.ones(face["cost"].shape, dtype=bool)
        for level in self.forbidden:
            sound &= face[level] <= SAME
        return sound

    def sound_plate(self, plate: dict[str, Array]) -> Array:
        sound = plate["violation"] <= SAME
        if DONOR in self.forbidden:
            sound &= plate[DONOR] <= SAME
        return np.asarray(sound)

    def places(self, y: Array, before: _Tried | None = None) -> _Tried:
        """Places of the front face in the plan, those that were tried before taken from there."""
        return self._tried(y, before, self.face, self.sound_place)

    def plates(self, t: Array, before: _Tried | None = None) -> _Tried:
        return self._tried(t, before, self.plate, self.sound_plate)

    def _tried(self, points: Array, before: _Tried | None, work_out: Any, sound: Any) -> _Tried:
        new = points if before is None else np.setdiff1d(points, before.points)
        harms = work_out(new)
        found = _Tried(new, sound(harms), {n: h.mean(axis=0) for n, h in harms.items()})
        return found if before is None else before.joined(found)


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
    face = by_axis(bounds, depth, low, high, most, shape)["face"]
    plain = face.harm_everywhere((*FACE_LEVELS, DONOR, "cost"), depth + low)
    harmed = (np.nan_to_num(plain[:, 1:]) > SAME).any(axis=1) & (most[:, 0] > SAME)
    known = ~np.isnan(depth + low + high).any(axis=1)
    for build in np.flatnonzero((free | harmed) & known).tolist():
        # By itself, so that its seat does not hang on what its neighbours can reach.
        own, mine = slice(build, build + 1), [b.of_build(build) for b in bounds]
        axes = by_axis(mine, depth[own], low[own], high[own], most[own], (1, shape[1]))
        rows = np.arange(1, shape[1])
        permitted = int(deepest[build, 0])
        forbidden = tuple(s for s in UNDO_STEPS[permitted + 1 :] if s in (*FACE_LEVELS, DONOR))
        one = _One(
            axes, rows, depth[build, 1:], float(low[build, 0]), float(high[build, 0]),
            float(np.quantile(most[build, 1:], 0.02)), forbidden,
        )  # fmt: skip
        seat = _best(one)
        found.shift[build], found.shift_low[build], found.shift_high[build] = seat[3:]
        if free[build]:
            found.thickness[build], found.thickness_low[build], found.thickness_high[build] = seat[
                :3
            ]
    return found


def _points(parts: Sequence[Array], low: float, high: float, extra: Sequence[float]) -> Array:
    """Candidate points in [low, high]: the ends, `extra`, and up to POINTS of the breaks, spread
    evenly.
    """
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
    ts = (
        _points(plate.breaks(PLATE_LEVELS, one.rows), one.t_low, one.t_high, ())
        if free
        else np.array([one.t_low])
    )
    lowest = one.t_low - one.most
    breaks = [b - one.depth[:, None] for b in face.breaks(PLACE_LEVELS, one.rows)]
    slots = [one.t_low - b for b in one.axes["shift"].breaks(("cost",), one.rows)]
    ys = _points([*breaks, *slots], lowest, one.t_high, (one.t_low, *ts))
    plates, places = one.plates(ts), one.places(ys)
    t, y = _choose(one, plates, places)
    for _ in range(FINER_ROUNDS):
        ts, ys = _around(ts, t) if free else ts, _around(ys, y)
        ys = np.union1d(ys, ts)
        plates, places = one.plates(ts, plates), one.places(ys, places)
        t, y = _choose(one, plates, places)
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


def _choose(one: _One, plates: _Tried, places: _Tried) -> tuple[float, float]:
    """The pair of the largest share without a clash, then of least expected harm."""
    shift = plates.points[:, None] - places.points[None, :]
    feasible = (shift >= -SAME) & (shift <= one.most + SAME)
    share = plates.sound.astype(np.float32).T @ places.sound.astype(np.float32) / len(one.rows)
    t, y = np.nonzero(feasible & (share >= share[feasible].max(initial=-1.0) - SAME_SHARE))
    if not len(t):  # the plate as it is, rounded, is no seat by a hair
        return float(plates.points[0]), float(places.points[0])
    share, shift = share[t, y], np.maximum(shift[t, y], 0.0)
    plate, face = plates.expected, places.expected
    money = plate["cost"][t] + face["cost"][y] + np.interp(shift, *one.slots)
    orders: list[tuple[Array, float]] = [
        *((face[level][y], SAME_CUT) for level in FACE_LEVELS),
        (plate[DONOR][t] + face[DONOR][y], SAME_CUT),
        (money, SAME_MONEY),
        (shift, STEP),
        (plate["comfort"][t], SAME),
        (-share, 0.0),
    ]
    left = np.arange(len(t))
    for order, same in orders:
        left = left[order[left] <= order[left].min() + same]
    return float(plates.points[t[left[0]]]), float(places.points[y[left[0]]])


def _as_good(one: _One, t: Array, f: Array, like: tuple[float, float]) -> Array:
    """Share of draws in which seats (t, f) `(points,)` are as good as the seat `like`."""
    face = one.face(np.append(t - f, like[0] - like[1]))
    # Where one of both stands still there is but one point of it, and the seat's own.
    plate = one.plate(np.append(t[:1] if np.ptp(t) == 0.0 else t, like[0]))
    place_sound, plate_sound = one.sound_place(face), one.sound_plate(plate)
    good = place_sound[:, :-1] | ~place_sound[:, -1:]
    good = good & (plate_sound[:, :-1] | ~plate_sound[:, -1:])
    for level in FACE_LEVELS:
        good = good & (face[level][:, :-1] <= face[level][:, -1:] + SAME)
    donor = [plate[DONOR][:, part] + face[DONOR][:, part] for part in (slice(-1), slice(-1, None))]
    good = good & (donor[0] <= donor[1] + SAME)
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
    """Whether a seat (t, f) is as good as another over all draws: ties of share and of expected
    cuts.
    """
    t, f = (np.array([seat[i], like[i]]) for i in (0, 1))
    plate, face = one.plate(t), one.face(t - f)
    share = (one.sound_plate(plate) & one.sound_place(face)).mean(axis=0)
    if share[0] < share[1] - SAME_SHARE:
        return False
    cuts = [face[level].mean(axis=0) for level in FACE_LEVELS]
    for mine, theirs in [*cuts, (plate[DONOR] + face[DONOR]).mean(axis=0)]:
        if abs(mine - theirs) > SAME_CUT:
            return bool(mine < theirs)
    return True


def _shift_stretch(one: _One, t: float, f: float) -> tuple[float, float, float]:
    """(shift, lowest, highest that is as good): the middle of the stretch, unless nothing done is
    as good.
    """
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
