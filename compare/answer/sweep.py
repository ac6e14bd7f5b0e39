"""Where along a dimension a build goes in: brackets from the value and doubling, then straight
lines to the end.

Margins are linear in pieces, so the root of the check that ends a stretch is most often hit at
once; where it is
not, the bracket is halved.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from compare.answer.bench import Bench, Judged
from compare.answer.dimensions import DECISION, Dimension

__all__ = ["Stretches", "stretches"]

Array = np.ndarray
DOUBLINGS = 6
ROUNDS = 40
EVEN = (8, 40)  # points between, at first and where straight lines have not led to the end
FEW = 300  # rows; fewer go together, whatever is judged anew for them
SLICE = 24_000  # rows × points in one run
WHOLE_SCAN = 64
INSERTED, INSERTIONS = 6, 4
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


Run = Callable[[Array, Array], Judged]


@dataclass
class _Probed:
    """Points along each row, sorted `(rows, points)`, what fails there and by which margin."""

    points: Array
    good: Array
    failing: Array
    margin: Array


def stretches(
    bench: Bench,
    at: Array,
    dims: Sequence[Dimension],
    way: str = "fitted",
    shallow: Array | None = None,
    fixed: Mapping[str, Array] | None = None,
    rounds: int = ROUNDS,
) -> tuple[Stretches, Stretches]:
    """(where each row goes in, where it does no deeper than planned): bench row `at[i]` along
    `dims[i]`.

    The second is worked out for the rows marked in `shallow` only. fixed: decisions held, name ->
    `(rows,)`, NaN where free. rounds: how often an end is looked for more closely.
    """
    held = fixed or {}

    def run(rows: Array, points: Array) -> Judged:
        moved = [{dims[r].name: points[i]} for i, r in enumerate(rows)]
        mine = {name: figures[rows][:, None] for name, figures in held.items()}
        deep = shallow is not None and bool(shallow[rows].any())
        return bench.swept(at[rows], moved, points.shape[1], way, mine, deep=deep)

    bench.watch_today(dims)
    found = (_blank(len(dims)), _blank(len(dims)))
    brackets = []
    for rows, points in _slices(dims, bench):
        judged = run(rows, points)
        for deep, out in enumerate(found):
            mine = np.arange(len(rows)) if not deep else np.flatnonzero(_marked(shallow, rows))
            if len(mine):
                probed = _probed(points[mine], judged, mine, deep)
                brackets += _settle(run, rows[mine], dims, probed, deep, out)
    if brackets:
        whole = _Bracket.joined(brackets)
        whole.refine(run, dims, np.array([bench.reach(d.name) for d in dims]), rounds)
        whole.write(found)
    return found


def _marked(shallow: Array | None, rows: Array) -> Array:
    return np.zeros(len(rows), dtype=bool) if shallow is None else shallow[rows]


def _blank(count: int) -> Stretches:
    number, place = np.full(count, np.nan), np.full(count, -1)
    no = np.zeros(count, dtype=bool)
    return Stretches(number, number.copy(), place, place.copy(), no, no.copy())


def _probed(points: Array, judged: Judged, some: Array, deep: int) -> _Probed:
    good = (judged.good, judged.shallow)[deep]
    return _Probed(points, good[some], judged.failing[:, some], judged.margin[:, some])


def _slices(dims: Sequence[Dimension], bench: Bench) -> list[tuple[Array, Array]]:
    """Rows and their first points, in runs of bounded size; what makes as much be judged anew goes
    together, whole numbers apart."""
    names = list(dict.fromkeys(d.name for d in dims))
    reach = {n: bench.reach(n) for n in names}
    place = {n: i for i, n in enumerate(names)}
    few = len(dims) < FEW
    sort = [(d.whole, 0 if few else reach[d.name], d.kind == DECISION) for d in dims]
    found = []
    for kind in sorted(set(sort)):
        mine = [i for i, s in enumerate(sort) if s == kind]
        rows = np.array(sorted(mine, key=lambda i: place[dims[i].name]), dtype=int)
        scan = kind[0]
        points = (
            _scan(dims, rows) if scan else np.stack([_first_points(dims[r]) for r in rows.tolist()])
        )
        step = max(1, SLICE // points.shape[1])
        found += [(rows[i : i + step], points[i : i + step]) for i in range(0, len(rows), step)]
    return found


def _first_points(dim: Dimension) -> Array:
    """The value and, doubling, what lies toward both ends of the range; the ends themselves."""
    steps = 2.0 ** np.arange(-DOUBLINGS, 1)
    down, up = dim.stands - dim.low, dim.high - dim.stands
    return np.concatenate([dim.stands - down * steps[::-1], [dim.stands], dim.stands + up * steps])


def _scan(dims: Sequence[Dimension], rows: Array) -> Array:
    lists = [np.unique(np.r_[_whole_points(dims[r])]) for r in rows]
    longest = max(map(len, lists))
    return np.stack([np.r_[x, np.full(longest - len(x), x[-1])] for x in lists])


def _whole_points(dim: Dimension) -> Array:
    if dim.high - dim.low <= WHOLE_SCAN:
        return np.unique(np.r_[np.arange(np.ceil(dim.low), dim.high + 0.5), dim.stands])
    return np.unique(np.r_[np.linspace(dim.low, dim.high, WHOLE_SCAN).round(), dim.stands])


def _settle(
    run: Run, rows: Array, dims: Sequence[Dimension], probed: _Probed, deep: int, out: Stretches
) -> list[_Bracket]:
    """Where the stretches of some rows end, still wide; says which exist."""
    value = np.array([dims[r].stands for r in rows])
    whole = np.array([dims[r].whole for r in rows])
    nearest = lambda p: np.abs(p.points - value[:, None]).argmin(axis=1)
    here = nearest(probed)
    holds = probed.good[np.arange(len(rows)), here]
    away = np.flatnonzero(~holds & ~whole)
    if len(away) and not deep:
        probed = _inserted(run, rows, probed, away)
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


def _roots(a: Array, b: Array, margin_a: Array, margin_b: Array) -> Array:
    """Where straight lines between two points pass zero `(checks, rows)`; NaN where they do not."""
    with np.errstate(invalid="ignore", divide="ignore"):
        part = margin_a / (margin_a - margin_b)
        part = np.where(np.isfinite(part) & (part >= 0) & (part <= 1), part, np.nan)
    return a + (b - a) * part


def _inserted(run: Run, rows: Array, probed: _Probed, away: Array) -> _Probed:
    """Points put between neighbours that fail by different checks: a narrow stretch may lie
    there."""
    for _ in range(INSERTIONS):
        extra = np.stack([_between(probed, int(r)) for r in away])
        if np.isnan(extra).all():
            break
        keep = ~np.isnan(extra).all(axis=1)
        away, extra = away[keep], extra[keep]
        extra = np.where(np.isnan(extra), probed.points[away, :1], extra)
        judged = run(rows[away], extra)
        probed = _merged(probed, away, extra, judged)
    return probed


def _between(probed: _Probed, row: int) -> Array:
    """Up to INSERTED points of one row, NaN for none."""
    points, failing, margin = probed.points[row], probed.failing[:, row], probed.margin[:, row]
    found = np.full(INSERTED, np.nan)
    bad = ~probed.good[row]
    pairs = bad[:-1] & bad[1:] & ~(failing[:, :-1] & failing[:, 1:]).any(axis=0)
    pairs &= points[1:] - points[:-1] > 1e-6
    for slot, k in enumerate(np.flatnonzero(pairs)[:INSERTED]):
        roots = _roots(points[k], points[k + 1], margin[:, k], margin[:, k + 1])
        enter, leave = roots[failing[:, k]], roots[failing[:, k + 1]]
        middle = (points[k] + points[k + 1]) / 2.0
        if not np.isnan(enter).all() and not np.isnan(leave).all():
            middle = (np.nanmax(enter) + np.nanmin(leave)) / 2.0
        found[slot] = middle
    return found


def _merged(probed: _Probed, some: Array, extra: Array, judged: Judged) -> _Probed:
    """The points with the extra ones of some rows; other rows repeat their last point."""
    count = extra.shape[1]
    last = slice(-1, None)
    wide = lambda a: np.concatenate([a, np.repeat(a[..., last], count, axis=-1)], axis=-1)
    points, good = wide(probed.points), wide(probed.good)
    failing, margin = wide(probed.failing), wide(probed.margin)
    points[some, -count:], good[some, -count:] = extra, judged.good
    failing[:, some, -count:], margin[:, some, -count:] = judged.failing, judged.margin
    order = np.argsort(points, axis=1, kind="stable")
    take = lambda a: np.take_along_axis(a, order if a.ndim == 2 else order[None], axis=-1)
    return _Probed(take(points), take(good), take(failing), take(margin))


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
        cls, probed: _Probed, some: Array, edge: Array, sign: int, rows: Array, deep: int
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

    def refine(self, run: Run, dims: Sequence[Dimension], reach: Array, rounds: int) -> None:
        """Narrow every bracket to its resolution; what makes as much be judged anew goes together."""
        fine = np.array([dims[r].fine for r in self.row])
        whole = np.array([dims[r].whole for r in self.row])
        for number in range(rounds):
            todo = np.flatnonzero(np.abs(self.bad - self.good) > fine * (1.0 + 1e-9))
            if not len(todo):
                return
            points = self._points(todo, fine[todo], EVEN[min(number, len(EVEN) - 1)])
            points = np.where(whole[todo][:, None], np.round(points), points)
            many = len(todo) >= FEW
            sort = (2 * (reach[self.row] > 0) + self.deep if many else self.deep)[todo]
            for kind in np.unique(sort):
                same = np.flatnonzero(sort == kind)
                step = max(1, SLICE // points.shape[1])
                for some in (same[i : i + step] for i in range(0, len(same), step)):
                    self._narrow(todo[some], points[some], run(self.row[todo[some]], points[some]))

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
