"""Where along a dimension a build goes in: brackets from the value and doubling, then straight
lines to the end.

Margins are linear in pieces, so the root of the check that ends a stretch is most often hit at
once; where it is
not, the bracket is halved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from compare.answer.bench import Bench, Judged
from compare.answer.dimensions import Dimension
from compare.answer.probing import (
    Probed,
    Run,
    between_failures,
    first_points,
    looked_closer,
    scan_of,
)

__all__ = ["Stretches", "stretches"]

Array = np.ndarray
ROUNDS = 40
EVEN = (8, 40)  # points between, at first and where straight lines have not led to the end
MANY = 6_000  # rows × points; fewer go together, whatever is judged anew for them
CHUNK = 4_000  # rows that are looked at together
SLICE = 24_000  # rows × points in one run
AHEAD = 0.7  # of the resolution: how far beyond a root it is looked for the other side


@dataclass
class Stretches:
    """Per row the stretch that holds the value, else the nearest one [internal units].

    low, high: NaN where the range ends first. low_by, high_by: place of the check (among those that
    decide) that ends it, −1 for none. exists: whether there is one. holds: whether it holds the
    value.
    """

    low: Array
    high: Array
    low_by: Array
    high_by: Array
    exists: Array
    holds: Array


def stretches(
    bench: Bench,
    at: Array,
    dims: Sequence[Dimension],
    way: str = "fitted",
    shallow: Array | None = None,
    fixed: Mapping[str, Array] | None = None,
    rounds: int = ROUNDS,
    closely: bool = True,
) -> tuple[Stretches, Stretches]:
    """(where each row goes in, where it does no deeper than planned): bench row `at[i]` along
    `dims[i]`.

    The second is worked out for the rows marked in `shallow` only. fixed: decisions held, name ->
    `(rows,)`, NaN where free. rounds: how often an end is looked for more closely.
    closely: whether narrow clashes are looked for.
    """
    run = _Runner(bench, at, dims, way, shallow, fixed or {})
    bench.watch_today(dims)
    found = (_blank(len(dims)), _blank(len(dims)))
    brackets = []
    for rows, points in _chunks(dims, run.reach):
        probed = Probed.of(points, run(rows, points))
        if closely and not dims[rows[0]].whole:
            probed = looked_closer(run, rows, probed)
        for deep, out in enumerate(found):
            mine = np.flatnonzero(run.deep[rows]) if deep else np.arange(len(rows))
            if len(mine):
                brackets += _settle(run, rows[mine], dims, probed.some(mine, deep), deep, out)
    if brackets:
        whole = _Bracket.joined(brackets)
        whole.refine(run, dims, rounds)
        whole.write(found)
    return found


class _Runner:
    """Runs rows with points of their dimensions; what makes as much be judged anew goes together."""

    def __init__(
        self, bench: Bench, at: Array, dims: Sequence[Dimension], way: str,
        shallow: Array | None, held: Mapping[str, Array],
    ) -> None:  # fmt: skip
        self.bench, self.at, self.dims, self.way, self.held = bench, at, dims, way, held
        reach = {n: bench.reach(n) for n in dict.fromkeys(d.name for d in dims)}
        self.reach = np.array([reach[d.name] for d in dims], dtype=int)
        self.deep = np.zeros(len(dims), dtype=bool) if shallow is None else shallow

    def __call__(self, rows: Array, points: Array) -> Judged:
        sort = self.deep[rows] + (2 * self.reach[rows] if points.size >= MANY else 0)
        step = max(1, SLICE // points.shape[1])
        places = [np.flatnonzero(sort == kind) for kind in np.unique(sort)]
        parts = [some[i : i + step] for some in places for i in range(0, len(some), step)]
        judged = [self._once(rows[part], points[part]) for part in parts]
        return judged[0] if len(parts) == 1 else Judged.joined(judged, np.concatenate(parts))

    def _once(self, rows: Array, points: Array) -> Judged:
        moved = [{self.dims[r].name: points[i]} for i, r in enumerate(rows)]
        mine = {name: figures[rows][:, None] for name, figures in self.held.items()}
        deep, count = bool(self.deep[rows].any()), points.shape[1]
        return self.bench.swept(self.at[rows], moved, count, self.way, mine, deep=deep)


def _blank(count: int) -> Stretches:
    number, place = np.full(count, np.nan), np.full(count, -1)
    no = np.zeros(count, dtype=bool)
    return Stretches(number, number.copy(), place, place.copy(), no, no.copy())


def _chunks(dims: Sequence[Dimension], reach: Array) -> list[tuple[Array, Array]]:
    """Rows and their first points, in chunks of bounded size; whole numbers apart."""
    names = {n: i for i, n in enumerate(dict.fromkeys(d.name for d in dims))}
    order = sorted(range(len(dims)), key=lambda i: (reach[i], names[dims[i].name]))
    found = []
    for whole in (False, True):
        rows = np.array([i for i in order if dims[i].whole == whole], dtype=int)
        if not len(rows):
            continue
        points = scan_of(dims, rows) if whole else np.stack([first_points(dims[r]) for r in rows])
        found += [(rows[i : i + CHUNK], points[i : i + CHUNK]) for i in range(0, len(rows), CHUNK)]
    return found


def _settle(
    run: Run, rows: Array, dims: Sequence[Dimension], probed: Probed, deep: int, out: Stretches
) -> list[_Bracket]:
    """Where the stretches of some rows end, still wide; says which exist."""
    value = np.array([dims[r].stands for r in rows])
    whole = np.array([dims[r].whole for r in rows])
    nearest = lambda p: np.abs(p.points - value[:, None]).argmin(axis=1)
    here = nearest(probed)
    holds = probed.good[np.arange(len(rows)), here]
    away = np.flatnonzero(~holds & ~whole)
    if len(away) and not deep:
        probed = between_failures(run, rows, probed, away)
        here = nearest(probed)
    off = np.where(probed.good, np.abs(probed.points - value[:, None]), np.inf)
    start = np.where(holds, here, off.argmin(axis=1))
    exists = probed.good.any(axis=1)
    out.exists[rows], out.holds[rows] = exists, holds
    found = []
    for sign in (-1, 1):
        edge = _edge(probed.good, start, sign)
        has = np.flatnonzero(exists & (edge >= 0))
        if len(has):
            found.append(_Bracket.between(probed, has, edge[has], sign, rows[has], deep))
    return found


def _edge(good: Array, start: Array, sign: int) -> Array:
    """Place of the first bad point beyond `start` on one side `(rows,)`, −1 for none."""
    count = good.shape[1]
    place = np.arange(count)[None, :]
    beyond = (place > start[:, None]) if sign > 0 else (place < start[:, None])
    bad = beyond & ~good
    if sign > 0:
        found = bad.argmax(axis=1)
    else:
        found = count - 1 - bad[:, ::-1].argmax(axis=1)
    return np.where(bad.any(axis=1), found, -1)


@dataclass
class _Bracket:
    """Per end of a stretch a good point and a bad one beyond it, and one farther out; margins
    `(checks, ends)`.

    row, sign, deep: which row it belongs to, which side, whether it is the end of what is no
    deeper.
    """

    row: Array
    sign: Array
    deep: Array
    good: Array
    bad: Array
    far: Array
    margin_good: Array
    margin_bad: Array
    margin_far: Array
    failing: Array

    @classmethod
    def between(
        cls, probed: Probed, some: Array, edge: Array, sign: int, rows: Array, deep: int
    ) -> _Bracket:
        far = np.clip(edge + sign, 0, probed.points.shape[1] - 1)
        point, margin = probed.points, probed.margin
        return cls(
            rows, np.full(len(rows), sign), np.full(len(rows), deep), point[some, edge - sign],
            point[some, edge], point[some, far], margin[:, some, edge - sign],
            margin[:, some, edge], margin[:, some, far], probed.failing[:, some, edge],
        )  # fmt: skip

    @classmethod
    def joined(cls, parts: Sequence[_Bracket]) -> _Bracket:
        join = lambda name: np.concatenate([getattr(p, name) for p in parts], axis=-1)
        return cls(*(join(name) for name in cls.__dataclass_fields__))

    def refine(self, run: Run, dims: Sequence[Dimension], rounds: int) -> None:
        """Narrow every bracket to its resolution."""
        fine = np.array([dims[r].fine for r in self.row])
        whole = np.array([dims[r].whole for r in self.row])
        for number in range(rounds):
            todo = np.flatnonzero(np.abs(self.bad - self.good) > fine * (1.0 + 1e-9))
            if not len(todo):
                return
            points = self._points(todo, fine[todo], EVEN[min(number, len(EVEN) - 1)])
            points = np.where(whole[todo][:, None], np.round(points), points)
            self._narrow(todo, points, run(self.row[todo], points))

    def _points(self, ends: Array, fine: Array, even: int) -> Array:
        """The roots on both sides and a little beyond each, and a few between `(ends, POINTS)`,
        outward."""
        good, bad, far = self.good[ends], self.bad[ends], self.far[ends]
        failing = self.failing[:, ends]
        span = bad - good
        with np.errstate(invalid="ignore", divide="ignore"):
            ahead = AHEAD * fine / np.abs(span)
            start, end = self.margin_good[:, ends], self.margin_bad[:, ends]
            inner = start / (start - end)
            slope = (self.margin_far[:, ends] - end) / (far - bad)
            outer = 1.0 - end / slope / span
        roots = []
        for part in (inner, outer):
            fits = failing & np.isfinite(part) & (part > 0) & (part < 1)
            roots.append(np.where(fits, part, np.inf).min(axis=0))
        spread = np.broadcast_to(np.arange(1, even + 1) / (even + 1.0), (len(ends), even))
        parts = np.column_stack([*(p for r in roots for p in (r, r + ahead)), spread])
        parts = np.where((parts > 0) & (parts < 1), parts, 1.0 / (even + 1.0))
        return good[:, None] + span[:, None] * np.sort(parts, axis=1)

    def _narrow(self, ends: Array, points: Array, judged: Judged) -> None:
        good = np.where(self.deep[ends][:, None] == 1, judged.shallow, judged.good)
        count = points.shape[1]
        first = np.where(good.all(axis=1), count, (~good).argmax(axis=1))
        mine = np.flatnonzero(first < count)
        at, place = ends[mine], first[mine]
        last = np.minimum(place + 1, count - 1)
        farther = place + 1 < count
        self.far[at] = np.where(farther, points[mine, last], self.bad[at])
        self.margin_far[:, at] = np.where(
            farther, judged.margin[:, mine, last], self.margin_bad[:, at]
        )
        self.bad[at] = points[mine, place]
        self.margin_bad[:, at] = judged.margin[:, mine, place]
        self.failing[:, at] = judged.failing[:, mine, place]
        mine = np.flatnonzero(first > 0)
        at, place = ends[mine], first[mine] - 1
        self.good[at] = points[mine, place]
        self.margin_good[:, at] = judged.margin[:, mine, place]

    def write(self, found: Sequence[Stretches]) -> None:
        """The good end of each bracket is where the stretch ends."""
        by = np.where(self.failing.any(axis=0), self.failing.argmax(axis=0), -1)
        for deep, out in enumerate(found):
            for sign, ends, ended in ((-1, out.low, out.low_by), (1, out.high, out.high_by)):
                mine = (self.deep == deep) & (self.sign == sign)
                ends[self.row[mine]] = self.good[mine]
                ended[self.row[mine]] = by[mine]
