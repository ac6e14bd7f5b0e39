"""One run over named arrays: decisions settled one way, the same checks over all of them.

`Engine.run` takes named arrays of any `(builds, draws)` and a way to settle decisions (see
`settle`),
and gives every verdict, work item and sum. Nothing here knows a single check.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.judge.picked import Before, picked
from compare.judge.rules import (
    CLASH,
    CLEAR,
    SAME,
    SEAT,
    SEAT_HANGS_ON,
    TIGHT,
    UNMEASURED,
    Ask,
    Option,
    Options,
    Reading,
    Rule,
    Rulebook,
    reading_of,
    verdict,
)
from compare.judge.seat import Bound, Price, Seat, priced
from compare.problems import CellError, InputError, Problem, did_you_mean, visible
from compare.read.car import Car
from compare.read.cells import parse
from compare.topics import all_topics
from compare.topics.criteria import BUDGET_ASSUMED, COST_SPAN
from compare.vocabulary import (
    NEEDED_OF_TODAY,
    NOT_NEEDED,
    SEAT_INPUTS,
    UNDO_STEPS,
    Term,
    car_terms_by_name,
)

if TYPE_CHECKING:
    from compare.judge.settle import Found

__all__ = ["Again", "Engine", "Item", "Result", "read_limits"]

Array = np.ndarray
SHAFT = "input shaft"
MARK = "mark_"
MEASURED = "measured "
UNKNOWN_WORTH, TIGHT_WORTH = 0.5, 0.6
OWN_RATE = 10.0  # an hour of one's own, where the profile does not state it


@dataclass
class Item:
    """One decision or option as work, over builds and draws. Shapes broadcast to `(builds, draws)`.

    figure: as settled, NaN unknown · done: whether it is anything · left: done, and not made yet ·
    undo: index on the scale · hours · cost: money for labour and material that are left · owned:
    whether it is done with own tools.
    """

    rule: Rule
    option: Option | None
    figure: Array
    done: Array
    left: Array
    undo: Array
    hours: Array
    cost: Array
    owned: bool

    @property
    def tool(self) -> str:
        return self.option.tool if self.option else self.rule.tool

    @property
    def extent(self) -> Array:
        """Millimetres cut or made; 0 where the figure is no length."""
        if self.option is not None or self.rule.unit not in ("mm", "mm diameter"):
            return np.zeros((1, 1))
        return np.where(self.done, np.abs(np.nan_to_num(self.figure)), 0.0)


@dataclass
class Result:
    """What one run gives for `(builds, draws)`.

    verdicts `(checks, builds, draws)` · cuts: mm per undo step `(builds, draws, 5)` · deepest:
    index
    of the deepest step used · goes_in: 1, 0, NaN not known · fitting_only: nothing but fitting done
    ·
    utility: worth per criterion `(builds, draws, criteria)`, NaN not known.
    """

    names: dict[str, Any]
    shape: tuple[int, int]
    bounds: list[Bound]
    readings: dict[str, Reading]
    verdicts: Array
    items: dict[str, Item]
    total_cost: Array
    hours: Array
    cuts: Array
    deepest: Array
    goes_in: Array
    fitting_only: Array
    utility: Array

    def pick(self, array: Any) -> Array:
        """Any broadcastable array as `(builds, draws)`."""
        return np.broadcast_to(np.asarray(array, dtype=float), self.shape)

    def value(self, name: str, at: int) -> float:
        """The nominal value of any named quantity for one build; NaN when it has none."""
        found = self.names.get(name)
        if isinstance(found, Reading):
            found = found.value
        if found is None or isinstance(found, Ask | Options | list | tuple):
            return math.nan
        array = np.asarray(found, dtype=float)
        return float(np.broadcast_to(array, self.shape)[at, 0]) if array.ndim == 2 else math.nan


@dataclass
class Again:
    """What a run of only what hangs on something changed gives, for the checks that decide.

    verdicts, margin to working (NaN where the question does not arise) `(checks, builds, draws)`;
    deepest: index of the deepest undo step used `(builds, draws)`, 0 where it was not asked for.
    """

    verdicts: Array
    margin: Array
    deepest: Array


@dataclass
class Engine:
    """The rulebook closed over one car and its limits.

    today: by how much a road check of today's gearbox fails, check -> miss: a candidate is judged
    against that. waits: road checks that the car's open numbers leave unjudged.
    """

    car: Car
    book: Rulebook = field(default_factory=lambda: Rulebook.from_topics(all_topics()))
    today: dict[str, float] = field(default_factory=dict)
    limits: dict[str, Any] = field(init=False)
    checks: list[Rule] = field(init=False)
    prices: dict[str, Price] = field(init=False)
    _hanging: dict[tuple[frozenset[str], bool], frozenset[str]] = field(
        init=False, repr=False, default_factory=dict
    )
    _asking: dict[tuple[frozenset[str], bool], frozenset[str]] = field(
        init=False, repr=False, default_factory=dict
    )

    def __post_init__(self) -> None:
        self.limits = read_limits(self.car, self.book)
        self.checks = self.book.checks
        self.musts = _musts(self.car, self.checks)
        self.decides = np.array([r.kind != "wish" or r.title in self.musts for r in self.checks])
        self.waits = self._waiting()
        self.prices = {r.name: self._price(r) for r in self.book.of("decision")}
        self.criteria = [r.name for r in self.book.criteria]
        self.weights = self._weights(())

    def weigh_marks(self, marks: Sequence[str]) -> None:
        """Take the owner's marks among the criteria. Raises InputError for a weight of nothing
        known.
        """
        self.criteria = [*(r.name for r in self.book.criteria), *marks]
        self.weights = self._weights(marks)
        given = self.car.weights
        known = {*self.criteria, *(m.removeprefix(MARK) for m in marks)}
        problems = []
        for name in given:
            if name not in known:
                near = did_you_mean(name, known)
                fix = (
                    f"Did you mean {near}?"
                    if near
                    else f"Criteria are: {', '.join(sorted(known))}."
                )
                found = f'"{visible(name)}" is neither a criterion nor a mark of the catalogue.'
                problems.append(Problem(self.car.file, found, fix, key=f"weights.{name}"))
        if not problems and np.isnan(self.weights).any():
            fix = "Give at least one criterion a weight."
            problems.append(Problem(self.car.file, "every weight is zero.", fix, key="weights"))
        if problems:
            raise InputError(problems)

    def _weights(self, marks: Sequence[str]) -> Array:
        """Of criteria and marks, summing to 1; NaN where every one is zero."""
        usual = {r.name: r.weight for r in self.book.criteria} | dict.fromkeys(marks, 1.0)
        given = self.car.weights
        weights = np.array([given.get(c, given.get(c.removeprefix(MARK), usual[c])) for c in usual])
        return weights / weights.sum() if weights.sum() > 0 else np.full(len(weights), np.nan)

    def score(self, utility: Array) -> Array:
        """0 to 100: the weighted mean; an unknown worth counts one half, and the band shows it."""
        return 100.0 * np.where(np.isnan(utility), UNKNOWN_WORTH, utility) @ self.weights

    @property
    def budget(self) -> float:
        """The owner's budget, or what is assumed for one."""
        value = self.car.values.get("policy_budget")
        stated = value is not None and math.isfinite(value.nominal)
        return value.nominal if value is not None and stated else BUDGET_ASSUMED

    @property
    def money_per_point(self) -> float:
        """What one point of value is worth in money; NaN where cost has no weight."""
        weight = self.weights[self.criteria.index("cost")]
        return COST_SPAN * self.budget / (100.0 * weight) if weight > 0 else math.nan

    @property
    def sure_enough(self) -> float:
        value = self.car.values.get("policy_sure_enough")
        return value.nominal if value else 0.8

    @property
    def deepest(self) -> int:
        """Index of the deepest undo step that the owner permits."""
        code = self.car.choices.get("policy_deepest_cut", math.nan)
        return len(UNDO_STEPS) - 1 if math.isnan(code) else int(code)

    def _rates(self) -> tuple[float, float]:
        """(own, outside) money per hour, nominal."""
        from compare.vocabulary import LIKELY

        own = self.car.values.get("workshop_rate")
        outside = self.car.values.get("workshop_outside_rate")
        likely = sum(LIKELY["workshop_outside_rate"]) / 2.0
        return own.nominal if own else OWN_RATE, outside.nominal if outside else likely

    def owned(self, tool: str) -> bool:
        return tool == "hand tools" or tool in self.car.tools

    def _price(self, rule: Rule) -> Price:
        own, outside = self._rates()
        rate = own if self.owned(rule.tool) else outside
        return Price(rule.undo, rule.cost + rule.hours * rate, rule.hours_per_mm * rate)

    def _waiting(self) -> Array:
        """Per check: a road check to which the car, or today's gearbox, owes a number: not judged
        yet.
        """
        return np.array([bool(self.owed(rule)) for rule in self.checks])

    def owed(self, rule: Rule) -> list[str]:
        """The car's numbers that a road check needs and the profile does not give."""
        from compare.judge.draws import open_keys

        if rule.kind != "road":
            return []
        feeds = self.book.feeds(rule.name)
        terms = car_terms_by_name()
        keys = sorted(
            k for k in feeds if k in terms and k not in NOT_NEEDED and terms[k].kind != "flag"
        )
        given = {**self.car.present, **self.car.present_choices}
        today = [n for n in NEEDED_OF_TODAY if f"present_{n}" in feeds and n not in given]
        return [*open_keys(self.car, keys, fill=False), *(f"present_{n}" for n in today)]

    # ---- one run ---------------------------------------------------------------------------------

    def run(
        self,
        names: dict[str, Any],
        shape: tuple[int, int],
        settle: Found,
        today: Mapping[str, Any] | None = None,
    ) -> Result:
        """Everything for one slice of builds. `names` is used up: results are added to it.

        A limit that stands in `names` is taken as it stands there; under MEASURED + its name a
        quantity has been measured and is not what the sum says, NaN where it has not. today: by how
        much today's gearbox fails each check, instead of the engine's own; broadcastable.
        """
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            bounds = self._settled(names, shape, settle, None)
            items = self._items(names, settle.made)
            labour: Any = sum((i.cost for i in items.values()), np.zeros((1, 1)))
            hours: Any = sum((i.hours for i in items.values()), np.zeros((1, 1)))
            total = names["price"] + names["part_price"] + labour
            names["total_cost"], names["total_hours"] = total, hours
            self._run_stage(2, names, shape, settle)
            readings = self._readings(self.checks, names, today)
            verdicts = np.stack([verdict(readings[r.name], shape) for r in self.checks])
            cuts, deepest, only = _cuts(items, shape)
            shaft = {k: i for k, i in items.items() if i.rule.on == SHAFT}
            names["cuts_elsewhere"] = cuts - _cuts(shaft, shape)[0] if shaft else cuts
            self._weigh(names, verdicts)
            self._run_stage(3, names, shape, settle)
            utility = self._utility(names, shape)
        return Result(
            names, shape, bounds, readings, verdicts, items, np.broadcast_to(total, shape),
            np.broadcast_to(hours, shape), cuts, deepest, self.goes_in(verdicts), only, utility,
        )  # fmt: skip

    def verdicts(
        self,
        names: dict[str, Any],
        shape: tuple[int, int],
        settle: Found,
        today: Mapping[str, Any] | None = None,
    ) -> tuple[list[Reading], Array]:
        """(readings, verdicts `(checks, builds, draws)`) of the checks that decide, and nothing
        else worked out.

        Names as in `run`; far cheaper where only these are asked, as in sweeps.
        """
        checks = self._deciding
        if any(self.book.stage[r.name] > 1 for r in checks):
            result = self.run(names, shape, settle, today)
            return [result.readings[r.name] for r in checks], result.verdicts[self.decides]
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            self._settled(names, shape, settle, self._needed)
            readings = self._readings(checks, names, today)
            found = np.stack([verdict(readings[r.name], shape) for r in checks])
        return [readings[r.name] for r in checks], found

    def again(
        self,
        names: dict[str, Any],
        before: Before,
        shape: tuple[int, int],
        settle: Found,
        changed: frozenset[str],
        today: Mapping[str, Any] | None = None,
        deep: bool = False,
    ) -> Again:
        """The checks that decide, with only that worked out anew which hangs on what is changed.

        names: as in `run`; before: what a run of the same rows gave with nothing changed. changed:
        names of inputs, limits and decisions. deep: the deepest undo step is wanted too.
        """
        if any(self.book.stage[r.name] > 1 for r in self._deciding):
            whole = self.run(names, shape, settle, today)
            found = _blank_again(len(self._deciding), shape)
            found.verdicts[:] = whole.verdicts[self.decides]
            for i, rule in enumerate(self._deciding):
                found.margin[i] = whole.readings[rule.name].works_where_it_applies
            found.deepest[:] = whole.deepest
            return found
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            deepest = names["policy_deepest_cut"]
            names["deepest_permitted"] = np.where(np.isnan(deepest), len(UNDO_STEPS) - 1.0, deepest)
            self._stage_again(0, names, before, shape, settle, self.downstream(changed, deep))
            seat, same = self._seat_again(names, before, shape, settle)
            found = _blank_again(len(self._deciding), shape)
            for rows, moved in ((np.flatnonzero(same), False), (np.flatnonzero(~same), True)):
                if not len(rows):
                    continue
                every = changed | set(SEAT) if moved else changed
                only = self.downstream(frozenset(every), deep)
                pick = lambda thing, at=rows: picked(thing, at, shape[0])
                mine = {n: pick(v) for n, v in names.items() if self._asked(n, only, deep)}
                known, part = before.of(rows), (len(rows), shape[1])
                for name, figure in zip(SEAT, seat, strict=True):
                    mine[name] = pick(figure) if moved else known[name]
                self._stage_again(1, mine, known, part, pick(settle), only)
                self._write_again(found, rows, mine, known, pick(today), deep)
        return found

    def _asked(self, name: str, only: frozenset[str], deep: bool) -> bool:
        """Whether a name is needed once the seat is settled, where only some rules run."""
        if (only, deep) not in self._asking:
            asked = {i for r in only for i in self.book.rules[r].inputs} | set(self.limits)
            asked |= {r.name for r in self._deciding} | {"deepest_permitted"}
            if deep:
                asked |= {n for r in self.book.decisions for n in (r.name, f"ask {r.name}")}
                asked |= {"workshop_rate", "workshop_outside_rate"}
            self._asking[only, deep] = frozenset(asked)
        return name in self._asking[only, deep] or name.startswith(MEASURED)

    def _seat_again(
        self, names: dict[str, Any], before: Before, shape: tuple[int, int], settle: Found
    ) -> tuple[tuple[Array, Array], Array]:
        """(the seat, rows in which it is everywhere what it was before)."""
        bounds: list[Bound] = []
        self._fill(names, before, SEAT_INPUTS)
        if settle.wants_bounds:
            rules = [r.name for r in self.book.of("seat_bound")]
            self._fill(names, before, rules)
            bounds = priced([b for n in rules for b in names[n]], self.prices)
        solved = settle.seat(bounds, names, shape)
        seat = solved.thickness, solved.shift
        same = np.ones(shape[0], dtype=bool)
        for name, figure in zip(SEAT, seat, strict=True):
            was = before[name]
            same &= ((figure == was) | (np.isnan(figure) & np.isnan(was))).all(axis=1)
        return seat, same

    def _fill(self, names: dict[str, Any], before: Before, wanted: Iterable[str]) -> None:
        for name in wanted:
            if name not in names and name not in self.limits:
                names[name] = before[name]

    def _stage_again(
        self, stage: int, names: dict[str, Any], before: Before, shape: tuple[int, int],
        settle: Found, only: frozenset[str],
    ) -> None:  # fmt: skip
        for rule in self.book.order:
            if rule.name in only and self.book.stage[rule.name] == stage:
                inside = [i for i in rule.inputs if i not in only]
                self._fill(names, before, inside)
        self._run_stage(stage, names, shape, settle, only)

    def _write_again(
        self, found: Again, rows: Array, names: dict[str, Any], before: Before,
        today: Mapping[str, Any] | None, deep: bool,
    ) -> None:  # fmt: skip
        shape = len(rows), found.deepest.shape[1]
        self._fill(names, before, [r.name for r in self._deciding])
        readings = self._readings(self._deciding, names, today)
        for i, rule in enumerate(self._deciding):
            reading = readings[rule.name]
            parts = reading.works, reading.comfort, reading.applies
            wide = any(np.ndim(p) > 1 and np.shape(p)[1] > 1 for p in parts)
            found.verdicts[i, rows] = verdict(reading, shape if wide else (shape[0], 1))
            found.margin[i, rows] = reading.works_where_it_applies
        if deep:
            wanted = [n for r in self.book.decisions for n in (r.name, f"ask {r.name}")]
            self._fill(names, before, wanted)
            found.deepest[rows] = _cuts(self._items(names, {}), shape)[1]

    def downstream(self, changed: frozenset[str], deep: bool = False) -> frozenset[str]:
        """The rules that hang on names changed, of those on which checks that decide hang.

        deep: or of those on which any decision hangs. Through the seat is not counted.
        """
        if (changed, deep) not in self._hanging:
            names, needed = set(changed), self._needed_deep if deep else self._needed
            every = "policy_deepest_cut" in changed  # every decision asks what is permitted
            for rule in self.book.order:
                hangs = rule.name in changed or any(i in names for i in rule.inputs)
                if hangs or (every and rule.settled):
                    names.add(rule.name)
            self._hanging[changed, deep] = frozenset(names & needed)
        return self._hanging[changed, deep]

    @cached_property
    def _deciding(self) -> list[Rule]:
        return [r for r, decides in zip(self.checks, self.decides, strict=True) if decides]

    @cached_property
    def _needed(self) -> set[str]:
        """The rules on which the checks that decide hang, through the seat."""
        checks = [r.name for r in self._deciding]
        return self._fed([*checks, *SEAT_HANGS_ON, *(r.name for r in self.book.of("seat_bound"))])

    @cached_property
    def _needed_deep(self) -> set[str]:
        """The same and the rules on which any decision hangs."""
        return self._needed | self._fed([r.name for r in self.book.decisions])

    def _fed(self, todo: list[str]) -> set[str]:
        found: set[str] = set()
        while todo:
            name = todo.pop()
            if name in self.book.rules and name not in found:
                found.add(name)
                todo += self.book.rules[name].inputs
        return found

    def _settled(
        self, names: dict[str, Any], shape: tuple[int, int], settle: Found, only: set[str] | None
    ) -> list[Bound]:
        """Run what needs no seat, choose the seat, run what needs it; gives the bounds on the seat."""
        bounds, seat = self._seated(names, shape, settle, only)
        names["adapter_thickness"], names["engine_shift"] = seat.thickness, seat.shift
        self._run_stage(1, names, shape, settle, only)
        return bounds

    def seat(self, names: dict[str, Any], shape: tuple[int, int], settle: Found) -> Seat:
        """The seat alone, names as in `run`."""
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            return self._seated(names, shape, settle, None)[1]

    def _seated(
        self, names: dict[str, Any], shape: tuple[int, int], settle: Found, only: set[str] | None
    ) -> tuple[list[Bound], Seat]:
        """(bounds on the seat, the seat), after what needs no seat has run."""
        deepest = names["policy_deepest_cut"]
        names["deepest_permitted"] = np.where(np.isnan(deepest), len(UNDO_STEPS) - 1.0, deepest)
        self._run_stage(0, names, shape, settle, only)
        bounds: list[Bound] = []
        if settle.wants_bounds:
            found = [b for rule in self.book.of("seat_bound") for b in names[rule.name]]
            bounds = priced(found, self.prices)
        return bounds, settle.seat(bounds, names, shape)

    def _readings(
        self, checks: Sequence[Rule], names: Mapping[str, Any], today: Mapping[str, Any] | None
    ) -> dict[str, Reading]:
        """Readings by name, against limits as they stand in `names`, eased by what today's gearbox
        misses.
        """
        today = self.today if today is None else today
        limits = {name: names.get(name, limit) for name, limit in self.limits.items()}
        readings = {r.name: reading_of(r, names[r.name], limits) for r in checks}
        return {n: r.eased(today[n]) if n in today else r for n, r in readings.items()}

    def _weigh(self, names: dict[str, Any], verdicts: Array) -> None:
        """Mean worth of each group of checks, unmeasured left out."""
        for group in dict.fromkeys(r.criterion for r in self.checks if r.criterion):
            mine = [i for i, rule in enumerate(self.checks) if rule.criterion == group]
            names[f"worth_of_{group}"] = mean_worth(verdicts[mine])

    def _utility(self, names: dict[str, Any], shape: tuple[int, int]) -> Array:
        found = np.empty((*shape, len(self.criteria)))
        for at, name in enumerate(self.criteria):
            worth = names.get(name, np.nan)  # a mark that nobody gave, as of today's gearbox
            found[..., at] = np.clip(worth / 10.0, 0.0, 1.0) if name.startswith(MARK) else worth
        return found

    def _run_stage(
        self,
        stage: int,
        names: dict[str, Any],
        shape: tuple[int, int],
        settle: Found,
        only: Collection[str] | None = None,
    ) -> None:
        """Run the rules of a stage, all or only some, in the book's order."""
        limits = self.limits
        for rule in self.book.order:
            if self.book.stage[rule.name] != stage or rule.sort == "view":
                continue
            if only is not None and rule.name not in only:
                continue
            if rule.sort == "seat_bound" and not settle.wants_bounds:
                continue
            inputs = {i: names[i] if i in names else limits[i] for i in rule.inputs}
            result = rule.function(**inputs)
            if rule.sort == "decision":
                names[f"ask {rule.name}"] = result
                result = settle.decision(rule, result, names, shape)
            elif rule.sort == "choice":
                names[f"ask {rule.name}"] = result
                result = settle.choice(rule, result, names, shape)
            if f"{MEASURED}{rule.name}" in names:
                measured = names[f"{MEASURED}{rule.name}"]
                result = np.where(np.isnan(measured), result, measured)
            names[rule.name] = result

    def goes_in(self, verdicts: Array) -> Array:
        """1 goes in, 0 does not, NaN not known `(builds, draws)`, from verdicts `(checks, ...)`."""
        judged = (self.decides & ~self.waits)[:, None, None]
        clash = ((verdicts == CLASH) & judged).any(axis=0)
        open_ = ((verdicts == UNMEASURED) & judged).any(axis=0)
        return np.where(clash, 0.0, np.where(open_, np.nan, 1.0))

    def _items(self, names: dict[str, Any], made: Mapping[str, Array]) -> dict[str, Item]:
        own = np.where(np.isnan(names["workshop_rate"]), OWN_RATE, names["workshop_rate"])
        outside = names["workshop_outside_rate"]
        items: dict[str, Item] = {}
        for rule in self.book.decisions:
            figure, ask = names[rule.name], names[f"ask {rule.name}"]
            open_ = np.isnan(made[rule.name]) if rule.name in made else True
            if rule.sort == "decision":
                done = np.abs(np.nan_to_num(figure)) > SAME
                if done.any():
                    rate = own if self.owned(rule.tool) else outside
                    items[rule.name] = self._item(rule, ask, figure, done, done & open_, rate)
                continue
            for index, option in enumerate(rule.options):
                done = figure == index
                if option.operation and done.any():
                    rate = own if self.owned(option.tool) else outside
                    name = f"{rule.name}:{index}"
                    items[name] = self._option(rule, index, ask, done, done & open_, rate)
        return items

    def _item(
        self, rule: Rule, ask: Ask, figure: Array, done: Array, left: Array, rate: Array
    ) -> Item:
        hours = rule.hours if ask.hours is None else ask.hours
        hours = hours + rule.hours_per_mm * np.abs(np.nan_to_num(figure))
        material = rule.cost if ask.cost is None else ask.cost
        undo = UNDO_STEPS.index(rule.undo) if ask.undo is None else ask.undo
        return Item(
            rule, None, figure, done, left, np.asarray(undo, dtype=float),
            np.where(left, hours, 0.0), np.where(left, material + hours * rate, 0.0),
            self.owned(rule.tool),
        )  # fmt: skip

    def _option(
        self, rule: Rule, index: int, ask: Options, done: Array, left: Array, rate: Array
    ) -> Item:
        option = rule.options[index]
        hours = option.hours if ask.hours is None else ask.hours[..., index]
        cost = option.cost if ask.cost is None else ask.cost[..., index]
        undo = np.asarray(float(UNDO_STEPS.index(option.undo)))
        return Item(
            rule, option, np.where(done, float(index), 0.0), done, left, undo,
            np.where(left, hours, 0.0), np.where(left, cost + hours * rate, 0.0),
            self.owned(option.tool),
        )  # fmt: skip


def mean_worth(verdicts: Array) -> Array:
    """Mean worth of verdicts `(checks, ...)`: clear 1, tight 0.6, clash 0; NaN where none is known.

    >>> mean_worth(np.array([[0], [1], [2], [3]], dtype=np.int8)).round(4).tolist()
    [0.5333]
    """
    count = (verdicts != UNMEASURED).sum(axis=0)
    total = (verdicts == CLEAR).sum(axis=0) + TIGHT_WORTH * (verdicts == TIGHT).sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(count > 0, total / count, np.nan)


def _cuts(items: Mapping[str, Item], shape: tuple[int, int]) -> tuple[Array, Array, Array]:
    """(mm per undo step `(..., 5)`, deepest step used, whether nothing but fitting is done)."""
    cuts = np.zeros((*shape, len(UNDO_STEPS)))
    deepest = np.zeros(shape)
    only = np.ones(shape, dtype=bool)
    for item in items.values():
        if not item.rule.fitting:
            only &= ~np.broadcast_to(item.left, shape)
        if not item.undo.any():
            continue
        extent, steps = item.extent, np.broadcast_to(item.undo, shape)
        np.maximum(deepest, np.where(item.done, steps, 0.0), out=deepest)
        for step in np.unique(steps[~np.isnan(steps)]).astype(int):
            cuts[..., step] += np.where(steps == step, extent, 0.0)
    return cuts, deepest, only


def _blank_again(checks: int, shape: tuple[int, int]) -> Again:
    whole = (checks, *shape)
    return Again(np.empty(whole, dtype=np.int8), np.empty(whole), np.zeros(shape))


def _musts(car: Car, checks: list[Rule]) -> set[str]:
    known = {rule.title for rule in checks}
    problems = []
    for name in car.musts:
        if name not in known:
            near = did_you_mean(name, known)
            fix = (
                f"Did you mean {near}?" if near else "Run gearbox-compare reference for the checks."
            )
            found = f'"{visible(name)}" is no check.'
            problems.append(Problem(car.file, found, fix, key="policy.musts"))
    if problems:
        raise InputError(problems)
    return set(car.musts)


LIMIT_KINDS = {"mm": "position", "deg": "angle"}


def read_limits(car: Car, book: Rulebook) -> dict[str, Any]:
    """The limits in force: defaults, overridden by the profile. Raises InputError for bad ones."""
    limits: dict[str, Any] = {name: limit.default for name, limit in book.limits.items()}
    problems = []
    for name, raw in car.limits.items():
        limit = book.limits.get(name)
        if limit is None:
            near = did_you_mean(name, book.limits)
            fix = (
                f"Did you mean {near}?" if near else "Run gearbox-compare reference for the limits."
            )
            found = f'"{visible(name)}" is no limit.'
            problems.append(Problem(car.file, found, fix, key=f"limits.{name}"))
            continue
        try:
            limits[name] = _limit(raw, name, limit.unit, limit.default)
        except CellError as error:
            problems.append(Problem(car.file, error.found, error.fix, key=f"limits.{name}"))
    problems += _stricter(car, book, limits)
    if problems:
        raise InputError(problems)
    return limits


def _limit(raw: Any, name: str, unit: str, default: float) -> float:
    fix = f"Write {name} = {default:g}."
    if isinstance(raw, bool) or not isinstance(raw, int | float | str):
        raise CellError(f"{visible(raw)} is not a number.", fix)
    kind = LIMIT_KINDS.get(unit, "number")
    if isinstance(raw, str):
        value = parse(raw, Term(name, kind, ""))
        number = math.nan if value is None else value.nominal
        number = math.degrees(number) if kind == "angle" else number
    else:
        number = float(raw)
    if not math.isfinite(number) or abs(number) > 1e9:
        raise CellError(f'"{visible(raw)}" is not a number.', fix + " Or leave it out.")
    return number


def _stricter(car: Car, book: Rulebook, limits: Mapping[str, Any]) -> list[Problem]:
    """Tight may not be stricter than clear."""
    from compare.judge.rules import AtLeast, AtMost

    problems = []
    for rule in book.checks:
        if not isinstance(rule.limit, AtLeast | AtMost):
            continue
        clear, tight = limits[f"{rule.title}_clear"], limits[f"{rule.title}_tight"]
        sign = 1.0 if isinstance(rule.limit, AtLeast) else -1.0
        if sign * (tight - clear) > 1e-12:
            found = (
                f"{rule.title}_tight = {tight:g} is stricter than {rule.title}_clear = {clear:g}."
            )
            fix = f"Write {rule.title}_tight = {clear:g}, or change {rule.title}_clear."
            problems.append(Problem(car.file, found, fix, key=f"limits.{rule.title}_tight"))
    return problems
