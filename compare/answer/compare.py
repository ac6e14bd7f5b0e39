"""All that `rank` does before any page is made: every build judged three ways, labelled, valued,
ordered.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from compare.answer.as_made import Entry, Made, apply_measured
from compare.answer.currencies import currency_problems
from compare.judge import outcome as labels
from compare.judge.baseline import Today, car_draws, keep_worth, today
from compare.judge.builds import Builds, enumerate_builds
from compare.judge.draws import Batches, Draw, build_arrays, car_arrays, joined
from compare.judge.engine import Engine, Result
from compare.judge.rules import CLASH, UNMEASURED, Rulebook
from compare.judge.settle import Figures, Fitted, Found, Plan, WithFigures
from compare.judge.value import Worth, chance_first, keep_scores
from compare.problems import InputError
from compare.read.car import Car
from compare.read.catalogue import Table
from compare.topics import all_topics

__all__ = ["Assessment", "compare"]

Array = np.ndarray
ROWS = 16_000  # builds × draws in one slice
BATCH, MOST_BATCHES = 256, 10
CENT = 0.01
POINTS = 0.02  # a percentage stands to two points, in 95 % of all draws
SHOWN = 60  # best builds of which those whose chances are not firm are drawn on


@dataclass
class Drawn:
    """What the draws of some builds gave, one row per build, nominal draw left out.

    goes_plan, goes_fitted: 1, 0, NaN. bolts_in: fitted with nothing but fitting. step: deepest undo
    step used, fitted. hours, cost: the plan's. worth: fitted `(builds, draws, criteria)`.
    """

    goes_plan: Array
    goes_fitted: Array
    bolts_in: Array
    step: Array
    hours: Array
    cost: Array
    worth: Array
    clash_plan: Array
    clash_fitted: Array


@dataclass
class Tally:
    """Draws behind the chances of each build, and the sums of those that go in, all `(builds,)`.

    A build whose chance does not stand yet is drawn more often than the others. NaN: it is open.
    """

    draws: Array
    plan: Array
    fitted: Array
    bolts_in: Array

    @classmethod
    def of(cls, drawn: Drawn) -> Tally:
        """Of the draws that all builds have."""
        total = lambda array: array.sum(axis=1, dtype=float)
        count = np.full(len(drawn.goes_plan), drawn.goes_plan.shape[1])
        return cls(count, total(drawn.goes_plan), total(drawn.goes_fitted), total(drawn.bolts_in))

    def add(self, rows: Array, drawn: Drawn) -> None:
        """Count more draws of some builds."""
        more = Tally.of(drawn)
        for name in ("draws", "plan", "fitted", "bolts_in"):
            getattr(self, name)[rows] += getattr(more, name)


@dataclass
class Assessment:
    """Everything that was worked out. Arrays over all builds; `order` lists the best builds, best
    first.

    outcome, firm, chance, chance_plan, score, value `(builds,)` · unmeasured `(builds, checks)` ·
    drawn: the draws that all builds have, `draws` of them · tally: all draws behind the chances ·
    figures: the plan's · keep_worth: today's gearbox as it is `(draws, criteria)`, None
    without ratios · measured: the log's rows · plan_goes, plan_only: the plan's nominal draw goes
    in; makes nothing but fitting.
    """

    engine: Engine
    builds: Builds
    draws: int
    seed: int
    drawn: Drawn
    tally: Tally
    figures: Figures
    unmeasured: Array
    outcome: Array
    firm: Array
    chance: Array
    chance_plan: Array
    score: Array
    value: Array
    value_low: Array
    value_high: Array
    cost: Array
    hours: Array
    plan_step: Array
    order: Array
    today: Today | None
    keep_value: float
    gauge_kept: float
    waits: Array
    deciding: dict[int, list[tuple[str, str]]]
    warnings: list[str] = field(default_factory=list)
    made: Made = field(default_factory=Made)
    keep_worth: Array | None = None
    plan_goes: Array = field(default_factory=lambda: np.zeros(0))
    plan_only: Array = field(default_factory=lambda: np.zeros(0, dtype=bool))
    measured: Sequence[Entry] = ()

    @property
    def car(self) -> Car:
        return self.engine.car

    @property
    def set_aside(self) -> list[int]:
        """Candidate rows that are listed and not ranked: sold or rejected."""
        return np.unique(self.builds.candidate[self.builds.set_aside]).tolist()

    @property
    def best(self) -> dict[int, int]:
        """Best build of each candidate row."""
        return {int(self.builds.candidate[b]): int(b) for b in self.order}

    def names(self, builds: Sequence[int] | Array, how: Draw | None = None) -> dict[str, Any]:
        """The nominal arrays of some builds, or with the draws of `how`."""
        how = how or Draw(seed=self.seed)
        rows = np.asarray(builds, dtype=int)
        return joined(car_arrays(self.car, how), build_arrays(self.builds, rows, how))

    def run(
        self, builds: Sequence[int] | Array, way: str = "plan", engine: Engine | None = None
    ) -> Result:
        """The nominal run of some builds: `plan`, `fitted` or `found`."""
        rows = np.asarray(builds, dtype=int)
        figures = self.figures.of(rows)
        settle = {"plan": WithFigures, "fitted": Fitted, "found": Found}[way]
        made = self.made.arrays(self.builds, rows)
        chosen = settle(figures, made) if way != "fitted" else Fitted(made=made)
        return (engine or self.engine).run(self.names(rows), (len(rows), 1), chosen)

    @cached_property
    def chance_first(self) -> Array:
        """Chance of first place per entry of `order`, values and weights drawn together; keep last."""
        return chance_first(self)


@dataclass
class _Run:
    """One run of `compare`: what every slice needs."""

    engine: Engine
    builds: Builds
    seed: int
    today: Today | None
    made: Made

    def draw(
        self, rows: Array, how: Draw, of_car: dict[str, Any], figures: Figures | None
    ) -> tuple[Drawn, Figures, Result]:
        """Plan (anew, or with given figures) and fitted over the draws of one batch."""
        shape = (len(rows), 1 + how.count)
        names = joined(of_car, build_arrays(self.builds, rows, how))
        made = self.made.arrays(self.builds, rows)
        if figures is None:
            settle: Found = Plan(made=made, sure_enough=self.engine.sure_enough)
        else:
            settle = WithFigures(figures, made)
        plan = self.engine.run(dict(names), shape, settle)
        fitted = self.engine.run(names, shape, Fitted(made=made))
        cut = slice(1, None) if how.count else slice(None)
        drawn = Drawn(
            plan.goes_in[:, cut].astype(np.float32),
            fitted.goes_in[:, cut].astype(np.float32),
            (fitted.fitting_only & (fitted.goes_in == 1))[:, cut],
            fitted.deepest[:, cut].astype(np.int8),
            plan.hours[:, cut].astype(np.float32),
            plan.total_cost[:, cut].astype(np.float32),
            fitted.utility[:, cut].astype(np.float32),
            (plan.verdicts == CLASH)[:, :, cut].mean(axis=2).T,
            (fitted.verdicts == CLASH)[:, :, cut].mean(axis=2).T,
        )
        return drawn, settle.figures, plan


def compare(
    catalogue: Table,
    car: Car,
    parts: Table | None = None,
    *,
    draws: int | None = None,
    seed: int = 1,
    only: Sequence[str] = (),
    measured: Sequence[Entry] = (),
    made: Made | None = None,
    progress: Callable[[int, int], None] | None = None,
    book: Rulebook | None = None,
) -> Assessment:
    """Judge every build of a catalogue against a car.

    draws: how many random draws; left out, batches of 256 until labels and percentages stand; 1
    judges
    the nominal build alone. only: names of candidates to keep. measured: what was measured or made
    since, in the order of the log. made: decisions that are made besides. progress: called with
    (builds done, builds in all). Raises
    InputError for unusable input.
    """
    made = made or Made()
    tables = [catalogue, *([parts] if parts else [])]
    mixed = currency_problems(tables, car)
    if mixed:
        raise InputError(mixed)
    if measured:
        known = (book or Rulebook.from_topics(all_topics())).decisions
        catalogue, car, parts, since = apply_measured(catalogue, car, parts, measured, known)
        made = made.and_then(since)
    engine = Engine(car, book) if book is not None else Engine(car)
    engine.weigh_marks([c for c in catalogue.columns if c.startswith("mark_")])
    builds = enumerate_builds(catalogue, parts, only)
    gauge = today(engine)
    run = _Run(engine, builds, seed, gauge, made)
    count = 2 * BATCH if draws is None else (0 if draws == 1 else draws)
    how = Draw(count, seed)
    of_car = car_draws(engine, gauge, how)
    drawn, figures, nominal = _all_slices(run, how, of_car.names, progress)
    found = Assessment(
        engine, builds, count, seed, drawn, Tally.of(drawn), figures,
        today=gauge, keep_value=_keep_value(engine, gauge), gauge_kept=of_car.kept,
        waits=np.zeros(len(builds), dtype=bool), deciding={},
        warnings=_warnings(catalogue, parts, car, builds), made=made, keep_worth=of_car.keep,
        measured=tuple(measured),
        **_blank(len(builds), len(engine.checks)),
    )  # fmt: skip
    _nominal(found, nominal)
    _judge(found)
    if draws is None:
        _until_firm(run, found)
    return found


def _warnings(catalogue: Table, parts: Table | None, car: Car, builds: Builds) -> list[str]:
    return [
        *catalogue.warnings,
        *(parts.warnings if parts else ()),
        *car.warnings,
        *builds.warnings,
    ]


def _blank(count: int, checks: int) -> dict[str, Any]:
    """The fields from `unmeasured` to `order`, to be filled in."""
    numbers = (
        "chance",
        "chance_plan",
        "score",
        "value",
        "value_low",
        "value_high",
        "cost",
        "hours",
    )
    return {name: np.full(count, math.nan) for name in numbers} | {
        "unmeasured": np.zeros((count, checks), dtype=bool),
        "outcome": np.zeros(count, dtype=np.int8),
        "firm": np.ones(count, dtype=bool),
        "plan_step": np.zeros(count, dtype=np.int8),
        "order": np.zeros(0, dtype=int),
    }


def _all_slices(
    run: _Run, how: Draw, of_car: dict[str, Any], progress: Callable[[int, int], None] | None
) -> tuple[Drawn, Figures, list[tuple[Array, Result]]]:
    count, step = len(run.builds), max(1, ROWS // (1 + how.count))
    parts: list[Drawn] = []
    figures: list[Figures] = []
    nominal: list[tuple[Array, Result]] = []
    for start in range(0, count, step):
        rows = np.arange(start, min(start + step, count))
        drawn, settled, plan = run.draw(rows, how, of_car, None)
        parts.append(drawn)
        figures.append(settled)
        nominal.append((rows, _first_draw(plan)))
        if progress:
            progress(int(rows[-1]) + 1, count)
    return _stacked(parts), _stacked_figures(figures), nominal


@dataclass
class _Nominal:
    """What is kept of the plan's nominal draw."""

    utility: Array
    cost: Array
    hours: Array
    deepest: Array
    fitting_only: Array
    goes_in: Array


def _first_draw(plan: Result) -> Any:
    return _Nominal(
        plan.utility[:, 0], plan.total_cost[:, 0], plan.hours[:, 0], plan.deepest[:, 0],
        plan.fitting_only[:, 0], plan.goes_in[:, 0],
    )  # fmt: skip


def _stacked(parts: Sequence[Drawn]) -> Drawn:
    join = lambda name: np.concatenate([getattr(p, name) for p in parts], axis=0)
    return Drawn(**{name: join(name) for name in Drawn.__dataclass_fields__})


def _stacked_figures(parts: Sequence[Figures]) -> Figures:
    from compare.judge.planned_seat import Planned

    seats = [p.seat for p in parts if p.seat is not None]
    seat = Planned(
        *(np.concatenate([getattr(s, n) for s in seats]) for n in Planned.__dataclass_fields__)
    )
    by_name = {n: np.concatenate([p.by_name[n] for p in parts]) for n in parts[0].by_name}
    shares = {n: np.concatenate([p.shares[n] for p in parts]) for n in parts[0].shares}
    return Figures(seat, by_name, shares)


def _nominal(a: Assessment, parts: list[tuple[Array, Any]]) -> None:
    """Score, cost, hours, undo step of the plan's nominal draw; which checks lack a number."""
    only = np.zeros(len(a.builds), dtype=bool)
    goes = np.zeros(len(a.builds))
    for rows, one in parts:
        a.score[rows] = a.engine.score(one.utility)
        a.cost[rows], a.hours[rows] = one.cost, one.hours
        a.plan_step[rows] = one.deepest
        only[rows], goes[rows] = one.fitting_only, one.goes_in
        a.unmeasured[rows] = _unmeasured(a, rows)
    a.plan_only, a.plan_goes = only, goes


def _unmeasured(a: Assessment, rows: Array) -> Array:
    """`(builds, checks)`: the checks that hang on a number that nobody gave, whatever is drawn for
    it.
    """
    how = Draw(seed=a.seed, fill=False)
    names = joined(car_arrays(a.car, how), build_arrays(a.builds, rows, how))
    settle = WithFigures(a.figures.of(rows), a.made.arrays(a.builds, rows))
    result = a.engine.run(names, (len(rows), 1), settle)
    return (result.verdicts[:, :, 0] == UNMEASURED).T


def _judge(a: Assessment) -> None:
    """Chances, labels, values and the order, from the draws."""
    from compare.answer.unknowns import deciding_unknowns

    goes = a.drawn.goes_fitted if a.draws else a.plan_goes[:, None]
    _chances(a)
    a.deciding = deciding_unknowns(a, goes)
    a.waits = np.array([bool(a.deciding.get(b)) for b in range(len(a.builds))], dtype=bool)
    _labels(a)
    if a.draws:
        a.cost = _within_band(a.cost, a.drawn.cost)
        a.hours = _within_band(a.hours, a.drawn.hours)
    a.keep_value = float(keep_scores(a).mean())
    worth = Worth.of(a)
    a.value, a.value_low, a.value_high = worth.mean, worth.low, worth.high
    a.order = _best_first(a)


def _within_band(nominal: Array, drawn: Array) -> Array:
    """The plan's figure; where it lies outside 5 to 95 % of the draws (a number that nobody gave) their median.

    >>> _within_band(np.array([5.0, 1.0]), np.array([[4.0, 5.0, 6.0], [7.0, 8.0, 9.0]])).tolist()
    [5.0, 8.0]
    """
    low, middle, high = np.quantile(drawn, (0.05, 0.5, 0.95), axis=1)
    outside = (nominal < low - CENT) | (nominal > high + CENT)
    return np.where(outside & ~np.isnan(middle), middle, nominal)


def _chances(a: Assessment) -> None:
    """Shares of all draws that were made of each build; of the nominal one where none was."""
    if a.draws:
        a.chance, a.chance_plan = a.tally.fitted / a.tally.draws, a.tally.plan / a.tally.draws
    else:
        a.chance, a.chance_plan = a.plan_goes.copy(), a.plan_goes.copy()


def _labels(a: Assessment) -> None:
    count = np.maximum(a.tally.draws, 1)
    # Where a number is only likely the plan's nominal jobs are those of its middle: the draws must agree.
    likely = a.unmeasured[:, a.engine.decides].any(axis=1) & (a.draws > 0)
    alone = np.nan_to_num(a.tally.bolts_in / count) >= a.engine.sure_enough
    bolts = a.plan_only & (alone | ~likely)
    named = labels.label(a.chance, bolts, a.waits, a.engine.sure_enough, count)
    a.outcome, a.firm = named.outcome, named.firm | (a.draws == 0)


def _until_firm(run: _Run, a: Assessment) -> None:
    """Draw on, for those of the best builds whose label or percentages do not stand, at most ten
    batches.
    """
    some, batch = a.order[:SHOWN], 2
    while batch < MOST_BATCHES:
        wanted = _batches_wanted(a, some)
        if not wanted.any():
            break
        count = min(int(wanted.max()), MOST_BATCHES - batch)
        how = Batches(count * BATCH, a.seed, batch, each=BATCH)
        of_car = car_draws(a.engine, a.today, how).names
        rows = np.sort(some[wanted > 0])
        step = max(1, ROWS // (1 + how.count))
        for start in range(0, len(rows), step):
            part = rows[start : start + step]
            _more(a, part, run.draw(part, how, of_car, a.figures.of(part))[0], how.count)
        _chances(a)
        _labels(a)
        batch += count
    if batch > 2:
        _judge(a)


def _batches_wanted(a: Assessment, rows: Array) -> Array:
    """How many more batches each build needs, as its chances stand now; 0 where label and
    percentages stand.
    """
    have, wanted = a.tally.draws[rows].astype(float), np.zeros(len(rows))
    for chance in (a.chance[rows], a.chance_plan[rows]):
        p = np.nan_to_num(chance)
        rough = (1.96 * labels.standard_error(p, have) > POINTS) & ~np.isnan(chance)
        wanted = np.maximum(
            wanted, np.where(rough, p * (1.0 - p) * (1.96 / POINTS) ** 2 - have, 0.0)
        )
    found = np.ceil(wanted / BATCH)
    return np.where(a.firm[rows], found, np.maximum(found, 1.0)).astype(int)


def _more(a: Assessment, rows: Array, drawn: Drawn, count: int) -> None:
    """Count more draws of some builds; the shares of draws in which each check fails too."""
    before = a.tally.draws[rows][:, None]
    for name in ("clash_plan", "clash_fitted"):
        share = getattr(a.drawn, name)
        share[rows] = (share[rows] * before + getattr(drawn, name) * count) / (before + count)
    a.tally.add(rows, drawn)


def _keep_value(engine: Engine, gauge: Today | None) -> float:
    """What keeping today's gearbox is worth nominally: its score as found; 0 where not known."""
    if gauge is None:
        return 0.0
    return float(engine.score(keep_worth(engine, gauge.result.utility[0]))[0])


def _best_first(a: Assessment) -> Array:
    """The best build of each candidate, best first: expected value, then what costs less, then file
    order.

    A build that is ruled out stands for its candidate only where all its builds are.
    """
    parts = np.zeros(len(a.builds))
    for rows in a.builds.part.values():
        parts += rows >= 0
    cost = np.nan_to_num(a.cost, nan=np.inf)
    sort = np.lexsort((a.builds.candidate, parts, cost, -np.round(a.value, 6)))
    sort = sort[~a.builds.set_aside[sort]]
    out = a.outcome[sort] == labels.RULED_OUT
    hopeful = np.concatenate([sort[~out], sort[out]])
    _, first = np.unique(a.builds.candidate[hopeful], return_index=True)
    return sort[np.isin(sort, hopeful[first])]
