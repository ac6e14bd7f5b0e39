"""Ways out: the smallest change of one thing, else of two, that lets in a build that is not let
in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.bench import Bench
from compare.answer.dimensions import POLICY, STEP, Dimension, dimensions
from compare.answer.gates import span_of
from compare.answer.sweep import Stretches, stretches
from compare.answer.windows import hangs_on, matters
from compare.judge.outcome import MEASURE, RULED_OUT
from compare.read.cells import Value
from compare.vocabulary import CHANGED_BY, UNDO_STEPS

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["ways_out"]

Array = np.ndarray
Row = dict[str, Any]
SHOWN, PAIRS_TRIED = 3, 6
SEARCHED, SHOWN_DRAWS = 256, 512  # draws while searching, draws behind what is printed
LADDER = np.array([0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0])  # half-widths beyond the edge
FINER = 6
NUDGES = (0.0, 0.1, 0.2, 0.3, 0.5, 0.8)  # half-widths moved on where more draws ask for it
VERBS = {
    "hunt for another part": "find one with {what} {span}",
    "machine": "make {what} {span}",
    "buy": "change {what} for {span}",
    "move": "move {what} to {span}",
    "permit": "permit {what} {span}",
}


@dataclass(frozen=True)
class _Move:
    """One dimension moved from where it stands to `to`, in the direction `sign`; chance once it
    is."""

    dim: Dimension
    sign: int
    to: float
    chance: float = math.nan

    @property
    def step(self) -> float:
        """A half-width of its doubt, or what stands for one where it has none."""
        return step_of(self.dim)

    @property
    def distance(self) -> float:
        return abs(self.to - self.dim.stands) / self.step


def step_of(dim: Dimension) -> float:
    if dim.half > 0:
        return dim.half
    return 1.0 if dim.whole else 10.0 * dim.fine


def ways_out(a: Assessment, builds: Sequence[int] | Array, most: int = SHOWN) -> list[Row]:
    """Rows of the nearest ways out of the builds that are ruled out or to measure first; none for
    others.

    Two rows with one `change` belong together: nothing alone lets the build in. `chance_then` is
    fitted,
    from draws; None where nothing was drawn. `from`, `to` in shown units; of the undo step by name.
    """
    found: list[Row] = []
    for build in np.asarray(builds, dtype=int).tolist():
        waits = a.outcome[build] in (RULED_OUT, MEASURE)
        if waits and not math.isnan(a.chance[build]) and a.chance[build] < a.engine.sure_enough:
            found += _Search(a, build).rows(most)
    return found


class _Search:
    """The search for one build."""

    def __init__(self, a: Assessment, build: int) -> None:
        self.a, self.build = a, build
        self.bench = Bench.nominal(a, [build])
        able = matters(a)
        self.dims = [
            d for d in dimensions(a, build, self.bench)
            if d.name in CHANGED_BY and not math.isnan(d.value) and hangs_on(d.name, able)
        ]  # fmt: skip
        self.drawn = Bench.drawn(a, build, SEARCHED) if a.draws else self.bench
        self.base = {d.name: self._as_drawn(self.drawn, d) for d in self.dims}
        self.range = {d.name: (d.low, d.high) for d in self.dims}

    def _as_drawn(self, bench: Bench, dim: Dimension) -> Array:
        """By how much each row of a bench differs from the nominal number `(rows,)`."""
        if dim.whole:
            return np.zeros(len(bench.builds))
        names = bench.typed.names if dim.name in bench.typed.names else bench.car
        return np.broadcast_to(names[dim.name][:, 0], (len(bench.builds),)) - dim.stands

    def rows(self, most: int) -> list[Row]:
        at = np.zeros(len(self.dims), dtype=int)
        goes, _ = stretches(self.bench, at, self.dims)
        singles = self._surer(self._starts(goes))
        changes: list[list[_Move]] = [[m] for m in self._sorted(singles)[:most]]
        if not changes:
            changes = self._pairs()[:1]
        return [row for number, moves in enumerate(changes, 1) for row in self._rows(number, moves)]

    # ---- one thing -------------------------------------------------------------------------------

    def _starts(self, goes: Stretches) -> list[tuple[_Move, float]]:
        """Where each dimension begins to let the build in, each way, and how far it may go."""
        found = []
        for i, dim in enumerate(self.dims):
            if not goes.exists[i]:
                continue
            low = dim.low if math.isnan(goes.low[i]) else float(goes.low[i])
            high = dim.high if math.isnan(goes.high[i]) else float(goes.high[i])
            for sign, start, most in ((1, low, high), (-1, high, low)):
                edge = dim.stands if goes.holds[i] else start
                if (edge - dim.stands) * sign >= 0 and (most - edge) * sign >= 0:
                    found.append((_Move(dim, sign, edge), most))
        return found

    def _surer(self, starts: list[tuple[_Move, float]]) -> list[_Move]:
        """Each start moved on until the chance reaches sure enough; those that never do are left
        out."""
        if not self.a.draws:
            return [m for m, _ in starts if m.to != m.dim.stands]
        points = [self._ladder(m, most) for m, most in starts]
        for _ in range(3):
            chances = self.chances([[m] for m, _ in starts], [[p] for p in points])
            kept, narrower = [], []
            for (move, most), ladder, chance in zip(starts, points, chances, strict=True):
                first = int((chance >= self.a.engine.sure_enough).argmax())
                if chance[first] < self.a.engine.sure_enough:
                    continue
                kept.append(
                    (replace(move, to=float(ladder[first]), chance=float(chance[first])), most)
                )
                before = ladder[max(first - 1, 0)]
                finer = np.linspace(before, ladder[first], FINER + 1)
                narrower.append(np.round(finer) if move.dim.whole else finer)
            starts, points = kept, narrower
            if not starts:
                break
        return [m for m, _ in starts if m.to != m.dim.stands]

    def _ladder(self, move: _Move, most: float) -> Array:
        steps = move.to + move.sign * LADDER * move.step
        steps = np.append(steps, most)
        inside = np.minimum(steps, most) if move.sign > 0 else np.maximum(steps, most)
        inside = np.sort(inside * move.sign) * move.sign
        return np.round(inside) if move.dim.whole else inside

    def chances(
        self, moves: Sequence[Sequence[_Move]], points: Sequence[Sequence[Array]]
    ) -> list[Array]:
        """Chance fitted at points of each change `(points,)`; the moves of one change go together.

        What today's gearbox fails is judged once for all draws, as it stands then.
        """
        bench, count = self.drawn, len(self.drawn.builds)
        if not moves:
            return []
        width = len(points[0][0])
        at = np.tile(np.arange(count), len(moves))
        plain = [
            {m.dim.name: p for m, p in zip(*one, strict=True)}
            for one in zip(moves, points, strict=True)
        ]
        today = self.bench.today(plain, width)
        if today is not None:
            wide = {n: np.broadcast_to(miss, (len(moves), width)) for n, miss in today.items()}
            today = {n: np.repeat(miss, count, axis=0) for n, miss in wide.items()}
        every = [
            {n: np.clip(p + self.base[n][row], *self.range[n]) for n, p in one.items()}
            for one in plain for row in range(count)
        ]  # fmt: skip
        goes = bench.judge(at, every, width, today=today or self.a.engine.today).result.goes_in == 1
        return list(goes.reshape(len(moves), count, width).mean(axis=1))

    # ---- two things ------------------------------------------------------------------------------

    def _pairs(self) -> list[list[_Move]]:
        """The nearest pairs that let the build in together."""
        candidates = self._cures()
        options = [
            (m, n) for m, n in combinations(candidates, 2) if m[0].dim.name != n[0].dim.name
            and self._all_cured(m[1] | n[1])
        ]  # fmt: skip
        if not options:
            return []
        lines = [
            {m[0].dim.name: np.array([m[0].to]), n[0].dim.name: np.array([n[0].to])}
            for m, n in options
        ]
        good = self.bench.judge(np.zeros(len(lines), dtype=int), lines, 1).good[:, 0]
        fits = [[m[0], n[0]] for (m, n), ok in zip(options, good, strict=True) if ok]
        fits.sort(key=lambda pair: sum(m.distance for m in pair))
        if not self.a.draws:
            return fits[:1]
        found: list[list[_Move]] = []
        for pair in _one_of_each(fits)[:PAIRS_TRIED]:
            found += self._surer_pair(pair)
        return sorted(found, key=lambda pair: sum(m.distance for m in pair))

    def _all_cured(self, cured: frozenset[int]) -> bool:
        return self._failing <= cured

    def _cures(self) -> list[tuple[_Move, frozenset[int]]]:
        """Places where one dimension puts some of what fails right, and which."""
        width = 64
        points = [
            np.round(p) if d.whole else p
            for d, p in ((d, np.linspace(d.low, d.high, width)) for d in self.dims)
        ]
        near = [d.stands + step_of(d) * np.r_[-LADDER[::-1], LADDER] for d in self.dims]
        points = [
            np.sort(np.r_[p, np.clip(n, d.low, d.high)])
            for d, p, n in zip(self.dims, points, near, strict=True)
        ]
        moved = [{d.name: p} for d, p in zip(self.dims, points, strict=True)]
        judged = self.bench.judge(np.zeros(len(self.dims), dtype=int), moved, len(points[0]))
        self._failing = frozenset(
            np.flatnonzero(
                self.bench.judge(np.zeros(1, dtype=int), [{}], 1).failing[:, 0, 0]
            ).tolist()
        )
        found = []
        for i, dim in enumerate(self.dims):
            for sign in (-1, 1):
                seen: set[frozenset[int]] = set()
                side = np.flatnonzero((points[i] - dim.stands) * sign > 1e-9)[::sign]
                for k in side:
                    cured = frozenset(c for c in self._failing if not judged.failing[c, i, k])
                    if cured and cured not in seen:
                        seen.add(cured)
                        further = [k, k + sign, k + 3 * sign]
                        found += [
                            (_Move(dim, sign, float(points[i][j])), cured)
                            for j in further if 0 <= j < len(points[i])
                        ]  # fmt: skip
        return found

    def _surer_pair(self, pair: list[_Move]) -> list[list[_Move]]:
        """A pair moved on, both by the same number of half-widths, until it is sure enough."""
        ladders = [
            self._ladder(m, m.dim.high if m.sign > 0 else m.dim.low)[: len(LADDER)] for m in pair
        ]
        grid = [np.repeat(ladders[0], len(LADDER)), np.tile(ladders[1], len(LADDER))]
        chance = self.chances([pair], [grid])[0]
        far = sum(np.abs(g - m.dim.stands) / m.step for m, g in zip(pair, grid, strict=True))
        good = chance >= self.a.engine.sure_enough
        if not good.any():
            return []
        best = int(np.where(good, far, np.inf).argmin())
        return [
            [
                replace(m, to=float(g[best]), chance=float(chance[best]))
                for m, g in zip(pair, grid, strict=True)
            ]
        ]

    # ---- what is printed -------------------------------------------------------------------------

    def _sorted(self, moves: list[_Move]) -> list[_Move]:
        """By undo step, money, change in half-widths; of one dimension the nearer way only."""
        nearest: dict[str, _Move] = {}
        for move in sorted(moves, key=lambda m: m.distance):
            nearest.setdefault(move.dim.name, move)
        facts = {n: self._facts([m]) for n, m in nearest.items()}
        cost = lambda n: math.inf if facts[n][1] is None else facts[n][1]
        return sorted(
            nearest.values(), key=lambda m: (facts[m.dim.name][0], cost(m.dim.name), m.distance)
        )

    def _facts(self, moves: Sequence[_Move]) -> tuple[int, float | None, Array]:
        """(deepest undo step then, money where it is known, mm cut per undo step) in the nominal
        build."""
        line = {m.dim.name: np.array([m.to]) for m in moves}
        then = self.bench.judge(np.zeros(1, dtype=int), [line], 1).result
        cost = None
        if all(m.dim.name == STEP for m in moves):
            before = self.bench.judge(np.zeros(1, dtype=int), [{}], 1).result
            cost = max(float(then.total_cost[0, 0] - before.total_cost[0, 0]), 0.0)
        return int(then.deepest[0, 0]), cost, then.cuts[0, 0]

    def _rows(self, number: int, moves: Sequence[_Move]) -> list[Row]:
        moves, chance = self._firm(self._rounded(moves))
        undo, cost, cuts = self._facts(moves)
        return [
            {
                "candidate": self.a.builds.candidate_name(self.build),
                "build": self.a.builds.name(self.build),
                "change": number, "of": m.dim.of, "of_kind": m.dim.kind, "dimension": m.dim.name,
                "from": _told(m.dim, m.dim.value), "to": _told(m.dim, m.to),
                "unit": "" if m.dim.name == STEP else m.dim.unit, "undo": UNDO_STEPS[undo],
                "cost": None if cost is None or math.isnan(cost) else round(cost, 2),
                "chance_then": chance,
                "together": len(moves) > 1,
                "text": _text(m, cuts),
            }
            for m in moves
        ]  # fmt: skip

    def _rounded(self, moves: Sequence[_Move]) -> list[_Move]:
        """Moved on to the next tenth (a hundredth of what is fine itself), so that it can be
        typed."""
        found = []
        for m in moves:
            grain = (
                1.0
                if m.dim.whole
                else 10.0 ** math.floor(math.log10(max(m.dim.fine / m.dim.scale, 1e-9)) + 1)
            )
            shown = m.to / m.dim.scale / grain
            shown = math.ceil(shown - 1e-6) if m.sign > 0 else math.floor(shown + 1e-6)
            found.append(
                replace(m, to=min(max(shown * grain * m.dim.scale, m.dim.low), m.dim.high))
            )
        return found

    def _firm(self, moves: Sequence[_Move]) -> tuple[Sequence[_Move], float | None]:
        """(moves, chance fitted) with the change in the inputs; moved on a little where that asks
        for it."""
        if not self.a.draws:
            return moves, None
        best, most = moves, -1.0
        for nudge in NUDGES:
            tried = self._rounded([replace(m, to=m.to + m.sign * nudge * m.step) for m in moves])
            chance = _chance_with(self.a, self.build, tried)
            if chance > most:
                best, most = tried, chance
            if most >= self.a.engine.sure_enough:
                break
        return best, round(most, 4)


def _chance_with(a: Assessment, build: int, moves: Sequence[_Move]) -> float:
    """The chance fitted of a build, judged anew with a change in the inputs."""
    from compare.answer.compare import compare

    car = replace(a.car, values=dict(a.car.values), choices=dict(a.car.choices))
    log = []
    for move in moves:
        if move.dim.name == STEP:
            car.choices[STEP] = move.to
        elif move.dim.kind == POLICY:
            car.values[move.dim.name] = Value(move.to, 0.0)
        else:
            log.append(_Entry(move.dim.of, move.dim.name, move.to, move.dim.half))
    inputs = a.builds.catalogue, car, a.builds.parts
    name = a.builds.candidate_name(build)
    b = compare(*inputs, draws=SHOWN_DRAWS, seed=a.seed, only=[name], measured=log, made=a.made)
    at = [b.builds.name(i) for i in range(len(b.builds))].index(a.builds.name(build))
    return float(np.nan_to_num(b.chance[at]))


@dataclass(frozen=True)
class _Entry:
    """A change as the log of measurements would write it."""

    of: str
    dimension: str
    value: float
    half: float
    on: str = ""
    by: str = ""
    line: int = 0


def _one_of_each(pairs: list[list[_Move]]) -> list[list[_Move]]:
    """The nearest of each two dimensions and directions."""
    found: dict[tuple[Any, ...], list[_Move]] = {}
    for pair in pairs:
        found.setdefault(tuple((m.dim.name, m.sign) for m in pair), pair)
    return list(found.values())


def _told(dim: Dimension, value: float) -> float | str | None:
    return UNDO_STEPS[round(value)] if dim.name == STEP else dim.shown(value)


def _text(move: _Move, cuts: Array) -> str:
    dim = move.dim
    if dim.name == STEP:
        step = round(move.to)
        deeper = [s for s in range(round(dim.value) + 1, step + 1) if cuts[s] > 0]
        amount = ", ".join(f"a {UNDO_STEPS[s]} of {cuts[s]:.3g} mm" for s in deeper)
        text = f"permit {amount or 'a ' + UNDO_STEPS[step]}"
    else:
        what, to = dim.name.replace("_", " "), dim.shown(move.to)
        unit = dim.unit.replace(" diameter", "")
        span = span_of(to, None, unit) if move.sign > 0 else span_of(None, to, unit)
        text = VERBS[CHANGED_BY[dim.name]].format(what=what, span=span)
        text += f" (now {dim.shown(dim.value):g})"
    return text
