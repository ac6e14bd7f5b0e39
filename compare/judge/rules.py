"""What a rule is, and the book that holds them.

A decorator only marks a function. `Rulebook.from_topics` collects the marked functions, refuses unknown
names, duplicates and circles, and puts them in an order in which each finds its inputs. A rule's parameter
names are its inputs: names of the vocabulary, of limits, or of other rules.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import numpy as np

from compare.vocabulary import CRITERIA, TOOLS, UNDO_STEPS, rule_inputs

__all__ = [
    "CLASH",
    "CLEAR",
    "TIGHT",
    "UNMEASURED",
    "Amount",
    "AtLeast",
    "AtMost",
    "Limit",
    "Own",
    "Reading",
    "Rule",
    "RuleError",
    "Rulebook",
    "check",
    "quantity",
    "seat_bound",
    "verdict",
    "work",
]

Array = np.ndarray
CLEAR, TIGHT, CLASH, UNMEASURED = 0, 1, 2, 3
EXACT = 1e-7

# What the conductor hands in: the seat once solved, the money once counted.
GIVEN = ("adapter_thickness", "engine_shift", "total_cost")
# What bounds them, for saying what feeds a check.
SEAT_FED_BY = {
    "adapter_thickness": ("adapter_thickness_low", "car_adapter_thickness_low", "adapter"),
    "engine_shift": ("engine_mounts_shift_bolted", "engine_mounts_shift_slotted"),
}


class RuleError(TypeError):
    """A rule that cannot be: a mistake of a contributor, found at every start."""


@dataclass(frozen=True)
class Limit:
    """A number that decides, overridable under `[limits]` by its name. `why` names the source or says practice."""

    name: str
    default: float
    unit: str
    why: str


@dataclass(frozen=True)
class AtLeast:
    """Clear from `clear` up, tight from `tight` up, else a clash."""

    clear: float
    tight: float
    why: str = "practice"


@dataclass(frozen=True)
class AtMost:
    """Clear up to `clear`, tight up to `tight`, else a clash."""

    clear: float
    tight: float
    why: str = "practice"


@dataclass(frozen=True)
class Own:
    """The check returns a Reading with its own margins; `words` says the limit, with limit names in braces."""

    words: str
    why: str = "practice"


@dataclass
class Reading:
    """Value of a check, margin to working (negative: clash), margin to comfortable (negative: tight).

    `applies` is 1 where the question arises, 0 where it does not (then it is clear), NaN where unknown.
    Shapes broadcast to `(builds, draws)`.
    """

    value: Array
    works: Array
    comfort: Array
    applies: Any = 1.0


@dataclass
class Amount:
    """How much of one operation a build needs. `needed` is 1, 0 or NaN; `extent` in mm; `undo` a step's index.

    `possible` is 1 where the operation can help, 0 where it cannot (then it resolves nothing and costs nothing),
    NaN where nobody knows; a check that hangs on it is then unmeasured.
    """

    needed: Any
    extent: Any = 0.0
    possible: Any = True
    hours: Any = None
    cost: Any = None
    undo: Any = None


@dataclass(frozen=True)
class Rule:
    name: str
    sort: str
    function: Callable[..., Any]
    inputs: tuple[str, ...]
    topic: str
    unit: str = ""
    meaning: str = ""
    question: str = ""
    limit: AtLeast | AtMost | Own | None = None
    reason: str = ""
    decides: bool = False
    resolved_by: tuple[str, ...] = ()
    criterion: str = ""
    words: Mapping[str, str] = field(default_factory=dict)
    on: str = ""
    undo: str = ""
    tool: str = ""
    hours: float = 0.0
    hours_per_mm: float = 0.0
    cost: float = 0.0
    known_as: str = ""

    @property
    def title(self) -> str:
        """The name in reports and limits; a check may be known by the column that it judges."""
        return self.known_as or self.name


def _mark(function: Callable[..., Any], sort: str, **what: Any) -> Callable[..., Any]:
    rule = Rule(
        function.__name__,
        sort,
        function,
        tuple(inspect.signature(function).parameters),
        function.__module__.rsplit(".", 1)[-1],
        **what,
    )
    function.__rule__ = rule  # type: ignore[attr-defined]
    return function


def quantity(unit: str, meaning: str = "") -> Callable[..., Any]:
    """Mark a function as a named intermediate result, in `unit`."""
    return lambda function: _mark(function, "quantity", unit=unit, meaning=meaning)


def check(
    question: str,
    unit: str,
    limit: AtLeast | AtMost | Own | None,
    reason: str,
    *,
    decides: bool = True,
    resolved_by: tuple[str, ...] = (),
    criterion: str = "",
    words: Mapping[str, str] | None = None,
    known_as: str = "",
) -> Callable[..., Any]:
    """Mark a function as a check. It returns a value (limit AtLeast or AtMost) or a Reading (limit Own).

    `decides`: without it nobody can say whether the gearbox goes in, so unmeasured means measure first.
    `resolved_by` names the work rules that can put a clash right. `words` has a sentence per verdict, with
    names of quantities in braces; `{short}` is by how much it misses working.
    """
    return lambda function: _mark(
        function,
        "check",
        question=question,
        unit=unit,
        limit=limit,
        reason=reason,
        decides=decides,
        resolved_by=resolved_by,
        criterion=criterion,
        words=words or {},
        known_as=known_as,
    )


def work(
    operation: str,
    on: str,
    undo: str,
    *,
    tool: str = "hand tools",
    hours: float = 0.0,
    hours_per_mm: float = 0.0,
    cost: float = 0.0,
    words: str = "",
) -> Callable[..., Any]:
    """Mark a function as an operation; it returns an Amount. Hours and money are common practice, no source."""
    return lambda function: _mark(
        function,
        "work",
        meaning=operation,
        on=on,
        undo=undo,
        tool=tool,
        hours=hours,
        hours_per_mm=hours_per_mm,
        cost=cost,
        unit="mm",
        words={"why": words},
    )


def seat_bound(function: Callable[..., Any]) -> Callable[..., Any]:
    """Mark a function that returns the Bounds which one part of the car puts on the seat."""
    return _mark(function, "seat_bound")


def reading_of(rule: Rule, result: Any, limits: Mapping[str, float]) -> Reading:
    """Value and margins of a check, from what its function returned and its limit shape."""
    if isinstance(rule.limit, Own):
        if not isinstance(result, Reading):
            raise RuleError(f"{rule.name} has its own limits and must return a Reading")
        return result
    applies: Any = 1.0
    value = result
    if isinstance(result, Reading):
        value, applies = result.value, result.applies
    clear, tight = limits[f"{rule.title}_clear"], limits[f"{rule.title}_tight"]
    if isinstance(rule.limit, AtLeast):
        return Reading(value, value - tight, value - clear, applies)
    return Reading(value, tight - value, clear - value, applies)


def verdict(reading: Reading, shape: tuple[int, int]) -> Array:
    """The one place where margins become verdicts: int8 `(builds, draws)`.

    Unmeasured is asked first, since nothing compares with NaN.

    >>> verdict(Reading(np.array([[5.0, 2.0, 0.0, np.nan]]), np.array([[4.0, 1.0, -1.0, np.nan]]),
    ...                 np.array([[2.0, -1.0, -3.0, np.nan]])), (1, 4)).tolist()
    [[0, 1, 2, 3]]
    """
    works, comfort = np.broadcast_to(reading.works, shape), np.broadcast_to(reading.comfort, shape)
    with np.errstate(invalid="ignore"):
        codes = (works < -EXACT).astype(np.int8)
        codes += ((comfort < -EXACT) | (codes > 0)).astype(np.int8)
    codes[np.isnan(works) | np.isnan(comfort)] = UNMEASURED
    applies = reading.applies
    if not (np.isscalar(applies) and applies == 1.0):
        applies = np.broadcast_to(np.asarray(applies, dtype=float), shape)
        codes[np.isnan(applies)] = UNMEASURED
        codes[applies == 0.0] = CLEAR
    return codes


@dataclass(frozen=True)
class Rulebook:
    """All rules of all topics, in an order in which they can be run, in three passes (see `stage`)."""

    rules: dict[str, Rule]
    limits: dict[str, Limit]
    order: tuple[Rule, ...]
    stage: dict[str, int]

    @classmethod
    def from_topics(cls, topics: Iterable[ModuleType]) -> Rulebook:
        """Collect and close. Raises RuleError for anything that could only go wrong later."""
        rules: dict[str, Rule] = {}
        limits: dict[str, Limit] = {}

        def take_limit(limit: Limit) -> None:
            if limit.name in limits and limits[limit.name] != limit:
                raise RuleError(f"limit {limit.name} is declared twice")
            limits[limit.name] = limit

        for topic in topics:
            for thing in vars(topic).values():
                if isinstance(thing, Limit):
                    take_limit(thing)
                rule = getattr(thing, "__rule__", None)
                if not isinstance(rule, Rule) or thing.__module__ != topic.__name__:
                    continue
                if rule.name in rules:
                    raise RuleError(f"{rule.name} is declared in {rules[rule.name].topic} and in {rule.topic}")
                rules[rule.name] = rule
                if isinstance(rule.limit, AtLeast | AtMost):
                    take_limit(Limit(f"{rule.title}_clear", rule.limit.clear, rule.unit, rule.limit.why))
                    take_limit(Limit(f"{rule.title}_tight", rule.limit.tight, rule.unit, rule.limit.why))
        known = set(rule_inputs()) | set(GIVEN) | set(limits) | set(rules)
        for rule in rules.values():
            _complete(rule, rules, known, limits)
        order = _ordered(rules)
        stage: dict[str, int] = {}
        for rule in order:
            before = [stage[i] for i in rule.inputs if i in stage]
            own = max(before, default=0)
            if any(i in ("adapter_thickness", "engine_shift") for i in rule.inputs):
                own = max(own, 1)
            if "total_cost" in rule.inputs:
                own = 2
            if rule.sort == "seat_bound" and own:
                raise RuleError(f"{rule.name} bounds the seat but asks for it")
            if rule.sort == "work" and own == 2:
                raise RuleError(f"{rule.name} costs money but asks for the total")
            stage[rule.name] = own
        return cls(rules, limits, order, stage)

    def of(self, sort: str) -> list[Rule]:
        return [rule for rule in self.rules.values() if rule.sort == sort]

    @property
    def checks(self) -> list[Rule]:
        return self.of("check")

    @property
    def works(self) -> list[Rule]:
        return self.of("work")

    def feeds(self, name: str) -> set[str]:
        """The vocabulary names that feed a rule, however deep."""
        base = rule_inputs()
        seen: set[str] = set()
        found: set[str] = set()
        todo = [name]
        while todo:
            at = todo.pop()
            if at in seen:
                continue
            seen.add(at)
            if at in self.rules:
                todo += self.rules[at].inputs
            elif at in SEAT_FED_BY:
                todo += SEAT_FED_BY[at]
            elif at in base:
                found.update(base[at])
        return found

    def run(self, stage: int, names: dict[str, Any], limits: Mapping[str, float]) -> None:
        """Run every rule of one stage; results go into `names` beside the inputs."""
        for rule in self.order:
            if self.stage[rule.name] == stage:
                names[rule.name] = rule.function(**{i: names[i] if i in names else limits[i] for i in rule.inputs})


def _complete(rule: Rule, rules: Mapping[str, Rule], known: set[str], limits: Mapping[str, Limit]) -> None:
    for name in rule.inputs:
        if name not in known:
            raise RuleError(f"{rule.name} asks for {name}, which nothing provides")
    if rule.name in rule_inputs() or rule.name in GIVEN or rule.name in limits:
        raise RuleError(f"{rule.name} takes a name that is in use")
    if rule.sort == "check":
        if not rule.question.endswith("?"):
            raise RuleError(f"check {rule.name} asks no question")
        if rule.limit is None:
            raise RuleError(f"check {rule.name} has no limit")
        if not rule.reason:
            raise RuleError(f"check {rule.name} gives no reason")
        if rule.criterion not in ("", *CRITERIA):
            raise RuleError(f"check {rule.name} serves no criterion {rule.criterion}")
        for name in rule.resolved_by:
            if name not in rules or rules[name].sort != "work":
                raise RuleError(f"check {rule.name} is resolved by {name}, which is no work")
    if rule.sort == "work":
        if rule.undo not in UNDO_STEPS:
            raise RuleError(f"work {rule.name}: no undo step {rule.undo}")
        if rule.tool not in (*TOOLS, "sent out"):
            raise RuleError(f"work {rule.name}: no tool {rule.tool}")


def _ordered(rules: Mapping[str, Rule]) -> tuple[Rule, ...]:
    order: list[Rule] = []
    state: dict[str, int] = {}

    def visit(name: str, path: tuple[str, ...]) -> None:
        if state.get(name) == 2:
            return
        if state.get(name) == 1:
            raise RuleError("rules go in a circle: " + " > ".join([*path, name]))
        state[name] = 1
        for needed in rules[name].inputs:
            if needed in rules:
                visit(needed, (*path, name))
        state[name] = 2
        order.append(rules[name])

    for name in rules:
        visit(name, ())
    return tuple(order)
