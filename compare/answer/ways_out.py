"""Ways out: the smallest change of one thing, else of two, that lets in a build that is not let
in.

All builds are searched together: a nominal sweep finds where each dimension begins to let a build
in, a few
draws say which of them get sure enough and about where, and more draws of the nearest say exactly
where.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.bench import Bench
from compare.answer.chances import Chances
from compare.answer.dimensions import STEP, Dimension, dimensions
from compare.answer.gates import span_said
from compare.answer.sweep import Stretches, stretches
from compare.answer.typed import units_by_name
from compare.answer.windows import hangs_on, matters
from compare.judge.outcome import MEASURE, RULED_OUT, standard_error
from compare.said import Said
from compare.vocabulary import CHANGED_BY, UNDO_STEPS

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["ways_out"]

Array = np.ndarray
Row = dict[str, Any]
SHOWN, PAIRS_TRIED = 3, 4
FEW_DRAWS, SHOWN_DRAWS = 64, 256  # draws while searching, draws behind what is printed
LADDER = (0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 32.0)  # half-widths beyond the edge
PAIR_LADDER = (0.0, 1.0, 4.0, 16.0)
FINER = (4, 3)  # points between two rungs, and again between two of these
SCANNED = 32  # points over a range, for pairs
VERBS = {
    "hunt for another part": "find one with {what} {span}",
    "machine": "make {what} {span}",
    "buy": "change {what} for {span}",
    "move": "move {what} to {span}",
    "permit": "permit {what} {span}",
}


@dataclass(frozen=True)
class _Move:
    """One dimension moved from where it stands to `edge`, on in the direction `sign` to `most`."""

    dim: Dimension
    sign: int
    edge: float
    most: float

    @property
    def step(self) -> float:
        """A half-width of its doubt, or what stands for one where it has none."""
        if self.dim.half > 0:
            return self.dim.half
        return 1.0 if self.dim.whole else 10.0 * self.dim.fine

    def at(self, far: float) -> float:
        """So many half-widths beyond the edge, moved on to the next tenth (a hundredth of what is
        fine itself), so that it can be typed."""
        dim, to = self.dim, self.edge + self.sign * far * self.step
        to = min(to, self.most) if self.sign > 0 else max(to, self.most)
        fine = max(dim.fine / dim.scale, 1e-9)
        grain = 1.0 if dim.whole else 10.0 ** math.floor(math.log10(fine) + 1)
        shown = to / dim.scale / grain
        shown = math.ceil(shown - 1e-6) if self.sign > 0 else math.floor(shown + 1e-6)
        return min(max(shown * grain * dim.scale, dim.low), dim.high)


@dataclass(frozen=True)
class _Change:
    """One or two moves that let a build in together, `far` half-widths beyond their edges; of two,
    a
    whole number stays.

    at: row on the bench; chance: fitted then; undo: index of the deepest step used at the edge.
    """

    at: int
    moves: tuple[_Move, ...]
    far: float = 0.0
    chance: float = math.nan
    undo: float = 0.0

    def to(self, far: float | None = None) -> dict[Dimension, float]:
        """Where each dimension stands then."""
        beyond, alone = self.far if far is None else far, len(self.moves) == 1
        return {m.dim: m.at(beyond if alone or not m.dim.whole else 0.0) for m in self.moves}

    @property
    def distance(self) -> float:
        """How far all is moved from where it stands, in half-widths."""
        to = self.to()
        return sum(abs(to[m.dim] - m.dim.stands) / m.step for m in self.moves)

    @property
    def priced(self) -> bool:
        """Whether it is known what it costs: a permission costs the work that it lets be done."""
        return self.names == (STEP,)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(m.dim.name for m in self.moves)


def ways_out(a: Assessment, builds: Sequence[int] | Array, most: int = SHOWN) -> list[Row]:
    """Rows of the nearest ways out of the builds that are ruled out or to measure first; none for
    others.

    Two rows with one `change` belong together: nothing alone lets the build in. `chance_then` is
    fitted,
    from draws; None where nothing was drawn. `from`, `to` in shown units; of the undo step by name.
    """
    unsure = [
        b for b in np.asarray(builds, dtype=int).tolist()
        if a.outcome[b] in (RULED_OUT, MEASURE) and a.chance[b] < a.engine.sure_enough
    ]  # fmt: skip
    return _Search(a, unsure).rows(most) if unsure else []


class _Search:
    """The search for some builds together."""

    def __init__(self, a: Assessment, builds: Sequence[int]) -> None:
        self.a, self.builds = a, list(builds)
        self.need, self.units = a.engine.sure_enough, units_by_name(a.engine.book)
        self.bench = Bench.nominal(a, self.builds)
        able = matters(a)
        self.lines = [
            (at, d) for at, b in enumerate(self.builds)
            for d in dimensions(a, b, self.bench, CHANGED_BY)
            if not math.isnan(d.value) and hangs_on(d.name, able)
        ]  # fmt: skip
        self.bench.watch_today([d for _, d in self.lines])

    def rows(self, most: int) -> list[Row]:
        singles = self._rough(self._starts(), LADDER)
        left = [at for at in range(len(self.builds)) if not any(c.at == at for c in singles)]
        pairs = self._rough(self._pairs(left), PAIR_LADDER) if left else []
        return self._rows(self._firm([*self._nearest(singles, most), *self._nearest(pairs, 1)]))

    # ---- one thing -------------------------------------------------------------------------------

    def _starts(self) -> list[_Change]:
        """Where each dimension begins to let a build in, each way, and how far it may go."""
        at = np.array([i for i, _ in self.lines], dtype=int)
        goes, _ = stretches(self.bench, at, [d for _, d in self.lines], rounds=1, closely=False)
        return [c for i in np.flatnonzero(goes.exists) for c in self._start(goes, int(i))]

    def _start(self, goes: Stretches, i: int) -> list[_Change]:
        at, dim = self.lines[i]
        low = dim.low if math.isnan(goes.low[i]) else float(goes.low[i])
        high = dim.high if math.isnan(goes.high[i]) else float(goes.high[i])
        found = []
        for sign, start, most in ((1, low, high), (-1, high, low)):
            edge = dim.stands if goes.holds[i] else start
            if (edge - dim.stands) * sign >= 0 and (most - edge) * sign >= 0:
                found.append(_Change(at, (_Move(dim, sign, edge, most),)))
        return found

    def _with_undo(self, changes: list[_Change]) -> tuple[list[_Change], Array]:
        """(the same with the undo step that each takes nominally, whether it lets the build in)."""
        at, lines = self._lines(changes)
        judged = self.bench.swept(at, lines, 1, deep=True)
        undo = judged.deepest[:, 0].tolist()
        return [replace(c, undo=u) for c, u in zip(changes, undo, strict=True)], judged.good[:, 0]

    # ---- two things ------------------------------------------------------------------------------

    def _pairs(self, rows: Sequence[int]) -> list[_Change]:
        """The nearest pairs that let builds in together in the nominal draw."""
        options = [c for at in rows for c in self._options(at)]
        if not options:
            return []
        options, good = self._with_undo(options)
        fits = _sorted(c for c, ok in zip(options, good, strict=True) if ok)
        return [c for at in rows for c in _one_of_each(f for f in fits if f.at == at)]

    def _options(self, at: int) -> list[_Change]:
        """Pairs of moves that between them put right whatever fails nominally."""
        failing = frozenset(np.flatnonzero(self.bench.failing[:, at]).tolist())
        cures = self._cures(at, failing)
        return [
            _Change(at, (m, n))
            for (m, some), (n, others) in combinations(cures, 2)
            if m.dim.name != n.dim.name and failing <= some | others
        ]

    def _cures(self, at: int, failing: frozenset[int]) -> list[tuple[_Move, frozenset[int]]]:
        """Places where one dimension puts some of what fails right, and which: the nearest of each
        kind, and two beyond."""
        dims = [d for i, d in self.lines if i == at and self.bench.touches(d.name, failing)]
        if not dims:
            return []
        points = [_scan(d) for d in dims]
        moved = [{d.name: p} for d, p in zip(dims, points, strict=True)]
        judged = self.bench.swept(np.full(len(dims), at), moved, len(points[0]))
        still = judged.failing
        found = []
        for i, dim in enumerate(dims):
            for sign in (-1, 1):
                most = dim.high if sign > 0 else dim.low
                seen: set[frozenset[int]] = set()
                side = np.flatnonzero((points[i] - dim.stands) * sign > 1e-9)[::sign]
                for k in side:
                    cured = frozenset(c for c in failing if not still[c, i, k])
                    if cured and cured not in seen:
                        seen.add(cured)
                        further = [
                            j for j in (k, k + sign, k + 3 * sign) if 0 <= j < len(points[i])
                        ]
                        places = [float(points[i][j]) for j in further]
                        if not dim.whole:
                            margin = judged.margin[list(cured), i]
                            places.insert(0, _root(points[i], margin, int(k), sign))
                        found += [(_Move(dim, sign, to, most), cured) for to in places]
        return found

    # ---- sure enough -----------------------------------------------------------------------------

    def _rough(self, starts: list[_Change], ladder: Sequence[float]) -> list[_Change]:
        """Each change about where it gets sure enough; those that never do are left out."""
        if not self.a.draws or not starts:
            return [c for c in starts if c.distance > 0]
        few = self._few
        tried = [(i, far) for i, c in enumerate(starts) for far in _rungs(c, ladder)]
        chances = few.of([starts[i].at for i, _ in tried], [starts[i].to(f) for i, f in tried])
        slack = 2.0 * float(standard_error(np.array(self.need), FEW_DRAWS))
        found = []
        for i, change in enumerate(starts):
            mine = [(far, p) for (k, far), p in zip(tried, chances, strict=True) if k == i]
            sure = [far for far, p in mine if p >= self.need]
            near = [far for far, p in mine if p >= self.need - slack]
            if near:
                found.append(replace(change, far=sure[0] if sure else near[-1]))
        return [c for c in found if c.distance > 0]

    @property
    def _few(self) -> Chances:
        if not hasattr(self, "_few_drawn"):
            self._few_drawn = Chances(self.bench, FEW_DRAWS)
        return self._few_drawn

    def _firm(self, changes: list[_Change]) -> list[_Change]:
        """Each change exactly where its chance gets sure enough, with more draws."""
        if not self.a.draws or not changes:
            return changes
        many = Chances(self.bench, SHOWN_DRAWS)
        spans = [self._span(c) for c in changes]
        known: list[dict[float, float]] = [{} for _ in changes]
        for count in FINER:
            tried = [
                (i, far) for i, (low, high) in enumerate(spans)
                for far in _unlike(changes[i], np.linspace(low, high, count + 1), known[i])
            ]  # fmt: skip
            at = [changes[i].at for i, _ in tried]
            for (i, far), chance in zip(
                tried, many.of(at, [changes[i].to(far) for i, far in tried]), strict=True
            ):
                known[i][far] = float(chance)
            spans = [self._narrower(k, span) for k, span in zip(known, spans, strict=True)]
        found = []
        for change, chances in zip(changes, known, strict=True):
            sure = [far for far in sorted(chances) if chances[far] >= self.need]
            far = sure[0] if sure else max(chances, key=lambda f: chances[f])
            found.append(replace(change, far=far, chance=chances[far]))
        return found

    def _span(self, change: _Change) -> tuple[float, float]:
        """The rungs between which it gets sure enough, with room for what few draws do not say."""
        ladder = LADDER if len(change.moves) == 1 else PAIR_LADDER
        place = ladder.index(change.far)
        return ladder[max(place - 1, 0)], ladder[min(place + 1, len(ladder) - 1)]

    def _narrower(
        self, chances: dict[float, float], span: tuple[float, float]
    ) -> tuple[float, float]:
        """Between the last that is not sure enough and the first that is."""
        order = sorted(chances)
        sure = [far for far in order if chances[far] >= self.need]
        if not sure:
            return span
        before = [far for far in order if far < sure[0]]
        return (before[-1] if before else sure[0]), sure[0]

    # ---- what is printed -------------------------------------------------------------------------

    def _nearest(self, changes: list[_Change], most: int) -> list[_Change]:
        """The nearest of each build; of one dimension the nearer way only."""
        ats = [c.at for c in changes]
        if any(ats.count(at) > most for at in set(ats)) and len(changes[0].moves) == 1:
            changes, _ = self._with_undo(changes)
        found: list[_Change] = []
        seen: set[tuple[int, tuple[str, ...]]] = set()
        for change in _sorted(changes):
            key = change.at, change.names
            if key not in seen and sum(c.at == change.at for c in found) < most:
                seen.add(key)
                found.append(change)
        return found

    def _lines(self, changes: Sequence[_Change]) -> tuple[Array, list[dict[str, Array]]]:
        at = np.array([c.at for c in changes], dtype=int)
        return at, [{d.name: np.array([to]) for d, to in c.to().items()} for c in changes]

    def _facts(self, changes: Sequence[_Change]) -> list[tuple[int, float | None, Array]]:
        """(deepest undo step then, money where it is known, mm cut per undo step) in the nominal
        builds."""
        at, lines = self._lines(changes)
        then = self.bench.judge(at, lines, 1).result
        more = np.maximum(then.total_cost[:, 0] - self.bench.base.total_cost[at, 0], 0.0)
        return [
            (int(then.deepest[i, 0]), float(more[i]) if c.priced else None, then.cuts[i, 0])
            for i, c in enumerate(changes)
        ]

    def _rows(self, changes: list[_Change]) -> list[Row]:
        if not changes:
            return []
        facts = self._facts(changes)
        undo = [replace(c, undo=f[0]) for c, f in zip(changes, facts, strict=True)]
        known = dict(zip(map(id, undo), facts, strict=True))
        found, numbers = [], [0] * len(self.builds)
        for change in _sorted(undo):
            numbers[change.at] += 1
            found += self._row(change, numbers[change.at], *known[id(change)])
        return found

    def _row(
        self, change: _Change, number: int, undo: int, cost: float | None, cuts: Array
    ) -> list[Row]:
        build = self.builds[change.at]
        return [
            {
                "candidate": self.a.builds.candidate_name(build), "build": self.a.builds.name(build),
                "change": number, "of": m.dim.of, "of_kind": m.dim.kind, "dimension": m.dim.name,
                "from": _told(m.dim, m.dim.value), "to": _told(m.dim, to),
                "unit": "" if m.dim.name == STEP else m.dim.unit, "undo": UNDO_STEPS[undo],
                "cost": None if cost is None or math.isnan(cost) else round(cost, 2),
                "chance_then": None if math.isnan(change.chance) else round(change.chance, 4),
                "together": len(change.moves) > 1,
                "text": self._said(m, to, cuts),
            }
            for m, to in zip(change.moves, change.to().values(), strict=True)
        ]  # fmt: skip

    def _said(self, move: _Move, to: float, cuts: Array) -> Said:
        dim = move.dim
        if dim.name == STEP:
            deeper = [s for s in range(round(dim.value) + 1, round(to) + 1) if cuts[s] > 0]
            amount = ", ".join(f"a {UNDO_STEPS[s]} of {{cut{s}}}" for s in deeper)
            values: dict[str, Any] = {f"cut{s}": (float(cuts[s]), "mm tape") for s in deeper}
            return Said(f"permit {amount or 'a ' + UNDO_STEPS[round(to)]}", values)
        unit = self.units[dim.name]
        low, high = (to, None) if move.sign > 0 else (None, to)
        span, spanned = span_said(low, high, unit)
        text = VERBS[CHANGED_BY[dim.name]].format(what=dim.name.replace("_", " "), span=span)
        return Said(text + " (now {now})", spanned | {"now": (dim.value, unit)})


def _sorted(changes: Iterable[_Change]) -> list[_Change]:
    """By build, undo step, money where it is known, change in half-widths."""
    return sorted(changes, key=lambda c: (c.at, c.undo, not c.priced, c.distance))


def _scan(dim: Dimension) -> Array:
    """Points over the range, closer about the value, sorted `(points,)`."""
    move = _Move(dim, 1, dim.stands, dim.high)
    near = dim.stands + move.step * np.r_[-np.array(LADDER)[::-1], LADDER]
    points = np.r_[np.linspace(dim.low, dim.high, SCANNED), np.clip(near, dim.low, dim.high)]
    return np.sort(np.round(points) if dim.whole else points)


def _root(points: Array, margin: Array, at: int, sign: int) -> float:
    """Where the last of some margins `(checks, points)` passes zero just before a point, as
    straight
    lines go."""
    last = at - sign
    if not 0 <= last < len(points):
        return float(points[at])
    with np.errstate(invalid="ignore", divide="ignore"):
        part = margin[:, last] / (margin[:, last] - margin[:, at])
    part = part[(part >= 0.0) & (part <= 1.0)]
    span = points[at] - points[last]
    return float(points[last] + span * part.max()) if len(part) else float(points[at])


def _rungs(change: _Change, ladder: Sequence[float]) -> list[float]:
    """The rungs at which a change stands differently: all that goes on may be at its end."""
    found, seen = [], []
    for far in ladder:
        to = change.to(far)
        if to not in seen:
            found.append(far)
            seen.append(to)
    return found


def _unlike(change: _Change, fars: Array, known: dict[float, float]) -> list[float]:
    """Those of some places at which a change stands otherwise than at any known one."""
    seen = [change.to(far) for far in known]
    found = []
    for far in fars.tolist():
        to = change.to(far)
        if to not in seen:
            seen.append(to)
            found.append(far)
    return found


def _one_of_each(pairs: Iterable[_Change]) -> list[_Change]:
    """The nearest few of each two dimensions and directions."""
    found: dict[tuple[Any, ...], _Change] = {}
    for pair in pairs:
        found.setdefault(tuple((m.dim.name, m.sign) for m in pair.moves), pair)
    return list(found.values())[:PAIRS_TRIED]


def _told(dim: Dimension, value: float) -> float | str | None:
    return UNDO_STEPS[round(value)] if dim.name == STEP else dim.shown(value)
