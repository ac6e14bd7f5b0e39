"""The conductor: builds in slices through two passes and the money, and the finished Assessment.

`Engine.run` takes named arrays of any `(builds, draws)` and gives every verdict, operation and utility;
`compare` runs it over all builds and keeps what the reports need. Nothing here knows a single check.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from compare.judge import seat as seat_
from compare.judge import value as ranking
from compare.judge.builds import Builds, enumerate_builds
from compare.judge.draws import build_arrays, car_arrays
from compare.judge.rules import CLASH, UNMEASURED, Reading, Rulebook, reading_of, verdict
from compare.judge.work import Tally, tally
from compare.problems import CellError, InputError, Problem, did_you_mean, visible
from compare.read.car import Car
from compare.read.catalogue import Column, Table
from compare.read.cells import parse
from compare.topics import all_topics
from compare.vocabulary import CRITERIA, OUTCOMES, Term

__all__ = ["Assessment", "Engine", "Result", "compare", "read_limits"]

Array = np.ndarray
SLICE = 65_536


@dataclass
class Result:
    """What the engine gives for `(builds, draws)`: names, readings, verdicts, operations, outcome, utilities."""

    names: dict[str, Any]
    shape: tuple[int, int]
    seat: seat_.Seat
    bounds: list[seat_.Bound]
    readings: dict[str, Reading]
    verdicts: Array
    resolved: Array
    tallies: dict[str, Tally]
    total_cost: Array
    hours: Array
    cuts: Array
    outcome: Array
    barred: Array
    utility: Array


class Engine:
    """The rulebook closed over one car and its limits."""

    def __init__(self, car: Car, book: Rulebook | None = None) -> None:
        self.car = car
        self.book = book or Rulebook.from_topics(all_topics())
        self.limits = read_limits(car, self.book)
        self.checks = self.book.checks
        self.works = self.book.works
        self.weights = ranking.weight_vector(car.weights)
        self.rates = {"rate": car.values["workshop_rate"].nominal, "outside_rate": car.values["workshop_outside_rate"].nominal}
        deepest = car.choices.get("policy_deepest_cut", math.nan)
        self.deepest = 4 if math.isnan(deepest) else int(deepest)
        self.decides = np.array([rule.decides for rule in self.checks])

    def run(self, names: dict[str, Any], shape: tuple[int, int]) -> Result:
        """Everything for one slice of builds. `names` is used up: results are added to it."""
        book, limits = self.book, self.limits
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            book.run(0, names, limits)
            bounds = [bound for rule in book.of("seat_bound") for bound in names[rule.name]]
            solved = seat_.solve(bounds, names["depth_of_face"], names["thickness_low"], names["thickness_high"], names["most_shift"], shape)
            names["adapter_thickness"], names["engine_shift"] = solved.thickness, solved.shift
            book.run(1, names, limits)
            tallies = {rule.name: tally(rule, names[rule.name], self.car.tools, self.rates, self.deepest) for rule in self.works}
            labour = sum((t.cost for t in tallies.values()), np.zeros((1, 1)))
            hours = sum((t.hours for t in tallies.values()), np.zeros((1, 1)))
            total = names["price"] + names["part_price"] + labour
            names["total_cost"] = total
            book.run(2, names, limits)
            readings = {rule.name: reading_of(rule, names[rule.name], limits) for rule in self.checks}
            verdicts = np.empty((len(self.checks), *shape), dtype=np.int8)
            resolved = np.zeros((len(self.checks), *shape), dtype=bool)
            barred = np.zeros(shape, dtype=bool)
            for at, rule in enumerate(self.checks):
                verdicts[at] = verdict(readings[rule.name], shape)
                if rule.resolved_by:
                    helps = np.zeros(shape, dtype=bool)
                    forbids = np.zeros(shape, dtype=bool)
                    unsure = np.zeros(shape, dtype=bool)
                    for work in rule.resolved_by:
                        helps |= tallies[work].helps
                        forbids |= tallies[work].barred
                        unsure |= tallies[work].unsure
                    resolved[at] = helps & ~forbids
                    barred |= forbids
                    verdicts[at][(verdicts[at] == CLASH) & unsure & ~resolved[at]] = UNMEASURED
            outcome = self._outcome(verdicts, resolved, tallies, shape)
            cuts = _cuts(tallies, shape)
            utility = self._utility(names, verdicts, resolved, cuts, total, shape)
        return Result(names, shape, solved, bounds, readings, verdicts, resolved, tallies, np.broadcast_to(total, shape),
                      np.broadcast_to(hours, shape), cuts, outcome, barred, utility)  # fmt: skip

    def _outcome(self, verdicts: Array, resolved: Array, tallies: dict[str, Tally], shape: tuple[int, int]) -> Array:
        """Index into OUTCOMES per build and draw."""
        clash = ((verdicts == CLASH) & ~resolved).any(axis=0)
        open_ = ((verdicts == UNMEASURED) & self.decides[:, None, None]).any(axis=0)
        worked = np.zeros(shape, dtype=bool)
        for one in tallies.values():
            worked |= one.helps | one.barred
        return np.where(clash, 3, np.where(open_, 2, np.where(worked, 1, 0))).astype(np.int8)

    def _utility(self, names: dict[str, Any], verdicts: Array, resolved: Array, cuts: Array, total: Array, shape: tuple[int, int]) -> Array:
        by = {c: [i for i, rule in enumerate(self.checks) if rule.criterion == c] for c in CRITERIA}
        group = lambda c: ranking.mean_worth(np.moveaxis(verdicts[by[c]], 0, -1), np.moveaxis(resolved[by[c]], 0, -1))
        pilot = next(i for i, rule in enumerate(self.checks) if rule.name == "pilot_size")
        through = names["pilot_cut"] > names["case_assumed"] + 1e-9
        parts = {
            "cruise": ranking.cruise_utility(names["cruise_outside"]),
            "pull": ranking.pull_utility(names["top_gear_pull"]),
            "undo": ranking.undo_utility(cuts),
            "shaft_work": ranking.shaft_utility(
                np.broadcast_to(names["route_taken"], shape), through, names["turned_back"], verdicts[pilot] != CLASH
            ),
            "fit": group("fit"),
            "driveline": group("driveline"),
            "clutch": group("clutch"),
            "cost": ranking.cost_utility(total, names["policy_budget"]),
        }
        parts = {c: np.broadcast_to(a, shape) for c, a in parts.items()}
        return ranking.utilities(parts)


def _cuts(tallies: dict[str, Tally], shape: tuple[int, int]) -> Array:
    """Millimetres per undo step `(builds, draws, 5)`; unknown extents count nothing here."""
    cuts = np.zeros((*shape, 5))
    for one in tallies.values():
        if one.rule.undo == "bolts back":
            continue
        extent = np.broadcast_to(np.nan_to_num(one.extent), shape)
        steps = np.broadcast_to(one.undo, shape)
        for step in np.unique(steps[~np.isnan(steps)]).astype(int):
            cuts[..., step] += np.where(steps == step, extent, 0.0)
    return cuts


def read_limits(car: Car, book: Rulebook) -> dict[str, float]:
    """The limits in force: defaults, overridden by the profile. Raises InputError for names that do not exist."""
    limits = {name: limit.default for name, limit in book.limits.items()}
    problems = []
    kinds = {"mm": "length", "deg": "angle", "%": "number", "kg/m³": "number"}
    for name, raw in car.limits.items():
        limit = book.limits.get(name)
        if limit is None:
            near = did_you_mean(name, book.limits)
            fix = f"Did you mean {near}?" if near else "Run gearbox-compare reference for the list of limits."
            problems.append(Problem(car.file, f'"{visible(name)}" is no limit.', fix, key=f"limits.{name}"))
            continue
        if isinstance(raw, bool) or not isinstance(raw, int | float | str):
            problems.append(Problem(car.file, f"{visible(raw)} is not a number.", f"Write {name} = {limit.default:g}.", key=f"limits.{name}"))
            continue
        kind = kinds.get(limit.unit, "number")
        try:
            if isinstance(raw, str):
                value = parse(raw, Term(name, "position" if kind == "length" else kind, ""))
                number = math.nan if value is None else value.nominal
                if kind == "angle":
                    number = math.degrees(number)
            else:
                number = float(raw)
            if not math.isfinite(number):
                raise CellError(f'"{visible(raw)}" is not a number.', f"Write {name} = {limit.default:g}, or leave it out.")
            limits[name] = number
        except CellError as error:
            problems.append(Problem(car.file, error.found, error.fix, key=f"limits.{name}"))
    if problems:
        raise InputError(problems)
    return limits


@dataclass
class Assessment:
    """Everything that was worked out. Arrays over all builds; `order` lists the best builds, best first.

    verdict `(builds, checks)` · chance_check `(builds, checks)` of not clashing · outcome, score `(builds,)` ·
    outcome_share `(builds, 4)` · band `(builds, 2)` · utility `(builds, criteria)` · key `(builds, draws)`.
    """

    engine: Engine
    builds: Builds
    draws: int
    seed: int
    verdict: Array
    chance_check: Array
    outcome: Array
    outcome_share: Array
    score: Array
    band: Array
    utility: Array
    key: Array
    total_cost: Array
    hours: Array
    order: Array
    warnings: list[str] = field(default_factory=list)
    lacking: dict[int, dict[str, list[str]]] = field(default_factory=dict)

    @property
    def car(self) -> Car:
        return self.engine.car

    @property
    def best(self) -> dict[int, int]:
        """Best build of each candidate row."""
        return {int(self.builds.candidate[b]): int(b) for b in self.order}

    @cached_property
    def chance_first(self) -> Array:
        """Per entry of `order`."""
        return ranking.chance_of_first(self.key[self.order])

    @cached_property
    def chance_first_any_weights(self) -> Array:
        """Per entry of `order`, among the builds of the best outcome there is."""
        found = np.zeros(len(self.order))
        if len(self.order):
            leading = self.outcome[self.order] == self.outcome[self.order].min()
            found[leading] = ranking.chance_first_any_weights(self.utility[self.order][leading], self.seed)
        return found

    @cached_property
    def dominated(self) -> list[int]:
        """Per entry of `order`, the entry that dominates it, −1 for none."""
        return ranking.dominated_by(self.utility[self.order], self.outcome[self.order])

    def nominal(self, builds: Sequence[int], engine: Engine | None = None) -> Result:
        """The whole result, nominal draw, for a few builds, as reports show them; under another car with its `engine`."""
        engine = engine or self.engine
        rows = np.asarray(builds, dtype=int)
        names = car_arrays(engine.car, 1, self.seed) | build_arrays(self.builds, rows, 1, self.seed)
        return engine.run(names, (len(rows), 1))

    @cached_property
    def baseline(self) -> Result | None:
        """The car's own gearbox through the same sums, nominal; None where the profile gives none of its ratios."""
        car = self.car
        if not any(name.startswith("ratio_") for name in car.present):
            return None
        names = car_arrays(car, 1, self.seed)
        blank = {name: np.full((1, 1), math.nan) for name in build_arrays(self.builds, np.array([0]), 1, self.seed)}
        blank["ratios"] = np.array([[[car.present[f"ratio_{n}"].nominal if f"ratio_{n}" in car.present else math.nan for n in range(1, 9)]]])
        for name in blank:
            if f"present_{name}" in names:
                blank[name] = names[f"present_{name}"]
        depth = names["car_bellhousing_depth"]
        if np.isnan(blank["bellhousing_depth"]).all():
            blank["bellhousing_depth"] = depth
        thickness = car.present.get("adapter_thickness")
        blank["adapter_thickness_low"] = blank["adapter_thickness_high"] = np.full((1, 1), thickness.nominal if thickness else 0.0)
        blank["price"] = blank["part_price"] = blank["parts_inside"] = np.zeros((1, 1))
        teeth = car.present.get("speedo_driven_teeth")
        if teeth is not None:
            blank["speedo_driven_least"] = np.full((1, 1), teeth.nominal)
            blank["speedo_driven_most"] = np.full((1, 1), teeth.nominal if math.isnan(teeth.high) else teeth.high)
        return self.engine.run(names | blank, (1, 1))


def compare(
    catalogue: Table,
    car: Car,
    parts: Table | None = None,
    *,
    draws: int = 400,
    seed: int = 1,
    only: Sequence[str] = (),
    progress: Callable[[int, int], None] | None = None,
    book: Rulebook | None = None,
) -> Assessment:
    """Judge every build of a catalogue against a car.

    draws: how many draws, the nominal one included. only: names of candidates to keep. progress: called with
    (builds done, builds in all). Raises InputError for unusable input.
    """
    engine = Engine(car, book)
    builds = enumerate_builds(catalogue, parts)
    chosen = _only(catalogue, builds, only)
    count, checks = len(chosen), len(engine.checks)
    verdicts = np.empty((count, checks), dtype=np.int8)
    chance_check = np.empty((count, checks), dtype=np.float32)
    outcome = np.empty(count, dtype=np.int8)
    share = np.empty((count, len(OUTCOMES)), dtype=np.float32)
    score, total, hours = np.empty(count), np.empty(count), np.empty(count)
    band = np.empty((count, 2))
    utility = np.empty((count, len(CRITERIA)))
    keys = np.empty((count, draws), dtype=np.float32)
    of_car = car_arrays(car, draws, seed)
    step = max(1, SLICE // draws)
    unknown_seed = np.random.default_rng(seed).uniform(0.0, 1.0, (1, draws, len(CRITERIA)))
    for start in range(0, count, step):
        some = chosen[start : start + step]
        part = slice(start, start + len(some))
        names = of_car | build_arrays(builds, some, draws, seed)
        result = engine.run(names, (len(some), draws))
        verdicts[part] = result.verdicts[:, :, 0].T
        fails = ((result.verdicts == CLASH) & ~result.resolved).mean(axis=2)
        chance_check[part] = np.where((result.verdicts == UNMEASURED).all(axis=2), np.nan, 1.0 - fails).T
        outcome[part] = result.outcome[:, 0]
        for code in range(len(OUTCOMES)):
            share[part, code] = (result.outcome == code).mean(axis=1)
        scores = ranking.score(result.utility, engine.weights)
        score[part] = scores[:, 0]
        if draws > 1:
            filled = np.where(np.isnan(result.utility), unknown_seed, result.utility)
            drawn = ranking.score(filled, engine.weights)
            band[part] = np.quantile(drawn[:, 1:], (0.05, 0.95), axis=1).T
            keys[part] = ranking.key_of(result.outcome, drawn)
            keys[part, 0] = ranking.key_of(result.outcome[:, 0], scores[:, 0])
        else:
            band[part] = score[part][:, None]
            keys[part] = ranking.key_of(result.outcome, scores)
        utility[part] = result.utility[:, 0]
        total[part], hours[part] = result.total_cost[:, 0], result.hours[:, 0]
        if progress:
            progress(part.stop, count)
    kept = _subset(builds, chosen)
    order = _best_first(kept, outcome, score, total)
    warnings = [*catalogue.warnings, *(parts.warnings if parts else ()), *car.warnings, *builds.warnings]
    return Assessment(engine, kept, draws, seed, verdicts, chance_check, outcome, share, score, band, utility, keys,
                      total, hours, order, warnings)  # fmt: skip


def _only(catalogue: Table, builds: Builds, only: Sequence[str]) -> Array:
    if not only:
        return np.arange(len(builds))
    folded = {name.casefold(): row for row, name in enumerate(catalogue.names)}
    problems = []
    rows = set()
    for name in only:
        row = folded.get(name.strip().casefold())
        if row is None:
            near = did_you_mean(name, folded)
            fix = f"Did you mean {catalogue.names[folded[near]]}?" if near else "Type a name as it stands in the catalogue."
            problems.append(Problem(catalogue.file, f'there is no candidate "{visible(name)}".', fix))
        else:
            rows.add(row)
    if problems:
        raise InputError(problems)
    return np.flatnonzero(np.isin(builds.candidate, sorted(rows)))


def _subset(builds: Builds, rows: Array) -> Builds:
    if len(rows) == len(builds):
        return builds
    return Builds(
        builds.catalogue,
        builds.parts,
        builds.candidate[rows],
        {k: v[rows] for k, v in builds.part.items()},
        {k: Column(c.nominal[rows], c.half[rows], c.high[rows]) for k, c in builds.columns.items()},
        {k: v[rows] for k, v in builds.owner.items()},
        builds.price[rows],
        builds.part_price[rows],
        builds.parts_inside[rows],
        builds.warnings,
    )


def _best_first(builds: Builds, outcome: Array, score: Array, cost: Array) -> Array:
    """The best build of each candidate, best first: outcome, score, then what costs less, then file order."""
    parts = np.zeros(len(builds))
    for rows in builds.part.values():
        parts += rows >= 0
    sort = np.lexsort((builds.candidate, parts, np.nan_to_num(cost, nan=np.inf), -np.round(score, 9), outcome))
    _, first = np.unique(builds.candidate[sort], return_index=True)
    return sort[np.sort(first)]
