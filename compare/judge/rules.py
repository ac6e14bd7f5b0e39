"""What a rule is, and the book that holds them.

A decorator only marks a function. `Rulebook.from_topics` collects the marked functions, refuses
unknown
names, duplicates and circles, and puts them in an order in which each finds its inputs. A rule's
parameter
names are its inputs: names of the vocabulary, of limits, or of other rules.

A decision is a number that the fitter chooses. Its rule says what is asked of it (an Ask); how it
is
settled - nothing done, each draw's own, one figure for all draws - is the engine's business, so the
same
checks run over all three. A choice is a decision among few named options.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import numpy as np

from compare.vocabulary import CHECK_KINDS, SEAT_INPUTS, TOOLS, UNDO_STEPS, WORK_STAGES, rule_inputs

__all__ = [
    "CLASH",
    "CLEAR",
    "SAME",
    "TIGHT",
    "UNMEASURED",
    "Ask",
    "AtLeast",
    "AtMost",
    "Limit",
    "Option",
    "Options",
    "Own",
    "Reading",
    "Rule",
    "RuleError",
    "Rulebook",
    "Shape",
    "check",
    "choice",
    "criterion",
    "decision",
    "quantity",
    "seat_bound",
    "unknown_where",
    "verdict",
    "view",
]

Array = np.ndarray
CLEAR, TIGHT, CLASH, UNMEASURED = 0, 1, 2, 3
# Two numbers nearer than this are the same [mm, rad or what the numbers are in].
SAME = 1e-7

# What the engine hands in: the seat once settled, hours and money once counted.
SEAT = ("adapter_thickness", "engine_shift")
COUNTED = ("total_cost", "total_hours")
# What is given to the choice of the seat beside its bounds.
SEAT_HANGS_ON = SEAT_INPUTS
# After the verdicts: mm cut per undo step, shaft apart, and `worth_of_` each group of checks.
WEIGHED = ("cuts_elsewhere",)
# What bounds them, for saying what feeds a check.
SEAT_FED_BY = {
    "adapter_thickness": ("adapter_thickness_low", "car_adapter_thickness_low", "adapter"),
    "engine_shift": ("engine_mounts_shift_bolted", "engine_mounts_shift_slotted"),
}


class RuleError(TypeError):
    """A rule that cannot be: a mistake of a contributor, found at every start."""


@dataclass(frozen=True)
class Limit:
    """A number that decides, overridable under `[limits]` by its name. `why` names the source."""

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
    """The check returns a Reading with its own margins; `words` says the limit, limits in braces."""

    words: str
    why: str = "practice"


@dataclass
class Reading:
    """Value of a check, margin to working (negative: clash), to comfortable (negative: tight).

    `applies` is 1 where the question arises, 0 where it does not (then it is clear), NaN where
    unknown. Shapes broadcast to `(builds, draws)`.
    """

    value: Array
    works: Array
    comfort: Array
    applies: Any = 1.0

    @property
    def works_where_it_applies(self) -> Array:
        """The margin to working, NaN where the question does not arise."""
        if np.isscalar(self.applies) and self.applies == 1.0:
            return np.asarray(self.works)
        return np.where(np.asarray(self.applies) == 1.0, self.works, np.nan)

    def eased(self, miss: Any) -> Reading:
        """The same with its limit moved by as much as today's gearbox misses it; 0 changes nothing."""
        return Reading(self.value, np.asarray(self.works) + miss, self.comfort, self.applies)


@dataclass
class Ask:
    """What is asked of a decision, per draw; shapes broadcast to `(builds, draws)`.

    least, most: the figures that work; 0 is "nothing done", and where it lies between them nothing
    is done. Where least > most the smaller need wins nothing: the decision is left undone.
    comfort: the figure that one would like between them (left out: the one nearest to nothing
    done).
    capacity: the most that it can ever give, either way. hours, cost, undo: instead of the rule's
    own.
    An unknown need stays unknown: NaN.
    """

    least: Any
    most: Any = np.inf
    comfort: Any = None
    capacity: Any = np.inf
    undo: Any = None
    hours: Any = None
    cost: Any = None


@dataclass(frozen=True)
class Option:
    """One of the ways to settle a choice. The first of a choice is "nothing done".

    when: the stage of work before which neither it nor what hangs on it can be done.
    """

    name: str
    operation: str = ""
    undo: str = "bolts back"
    tool: str = "hand tools"
    hours: float = 0.0
    cost: float = 0.0
    words: str = ""
    on: str = ""
    when: str = "bench"


@dataclass
class Options:
    """What is asked of a choice: margin to working of each option `(builds, draws, options)`.

    rank `(builds, draws, options)`: the less the better; left out, the options' own order.
    hours, cost `(builds, draws, options)`: instead of the options' own.
    """

    works: Array
    rank: Any = None
    hours: Any = None
    cost: Any = None


@dataclass(frozen=True)
class Shape:
    """Something to draw in one view, in mm: x rearward (or along the shaft), z up.

    form: `polygon`, `line`, `circle`, `dimension` (points[0] to points[1], measured along x or z),
    `angle`, `note`. role: what it is to the eye (`metal`, `car`, `sheet`, `cut`, `made`, `axis`,
    `clearance`, `zone`). of: the names (columns, keys, decisions) that it shows.
    """

    form: str
    role: str
    points: tuple[tuple[float, float], ...]
    text: str = ""
    of: tuple[str, ...] = ()
    value: float = float("nan")


@dataclass(frozen=True)
class Rule:
    """A marked function and what was said of it; which fields count depends on its sort."""

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
    kind: str = ""
    criterion: str = ""
    words: Mapping[str, str] = field(default_factory=dict)
    known_as: str = ""
    on: str = ""
    undo: str = "bolts back"
    tool: str = "hand tools"
    hours: float = 0.0
    hours_per_mm: float = 0.0
    cost: float = 0.0
    blind: bool = False
    fitting: bool = False
    gauge: str = ""
    when: str = "bench"
    halves: Mapping[str, str] = field(default_factory=dict)
    options: tuple[Option, ...] = ()
    weight: float = 0.0
    shows: Mapping[str, str] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """The name in reports and limits; a check may be known by the column that it judges."""
        return self.known_as or self.name

    @property
    def settled(self) -> bool:
        """Whether it is settled by the fitter: a decision or a choice."""
        return self.sort in ("decision", "choice")


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
    kind: str = "fit",
    criterion: str = "",
    words: Mapping[str, str] | None = None,
    known_as: str = "",
) -> Callable[..., Any]:
    """Mark a function as a check. It returns a value (limit AtLeast or AtMost) or a Reading.

    kind: `fit` (does it go together), `road` (is it safe to drive) or `wish` (comfort, taste,
    money).
    `words` has a sentence per verdict, with names of quantities in braces; `{short}` is by how much
    it misses working.
    """
    return lambda function: _mark(
        function,
        "check",
        question=question,
        unit=unit,
        limit=limit,
        reason=reason,
        kind=kind,
        criterion=criterion,
        words=words or {},
        known_as=known_as,
    )


def decision(
    operation: str,
    on: str,
    undo: str = "bolts back",
    *,
    unit: str = "mm",
    blind: bool = False,
    fitting: bool = False,
    tool: str = "hand tools",
    hours: float = 0.0,
    hours_per_mm: float = 0.0,
    cost: float = 0.0,
    words: str = "",
    gauge: str = "",
    when: str = "bench",
    halves: Mapping[str, str] | None = None,
) -> Callable[..., Any]:
    """Mark a function as a decision; it returns an Ask. Its name holds the settled figure
    afterwards.

    blind: made before the parts meet. fitting: belongs to fitting any gearbox. Hours and money are
    common practice, no source. `words` explains the figure, `{figure}` being it. gauge: the
    quantity or
    column that one measures before, to know whether to go on and to what figure. when: its stage of
    work (WORK_STAGES). halves: what is done at which stage, where it is done at several.
    """
    return lambda function: _mark(
        function,
        "decision",
        meaning=operation,
        on=on,
        undo=undo,
        unit=unit,
        blind=blind,
        fitting=fitting,
        tool=tool,
        hours=hours,
        hours_per_mm=hours_per_mm,
        cost=cost,
        words={"why": words},
        gauge=gauge,
        when=when,
        halves=halves or {},
    )


def choice(
    meaning: str, on: str, options: tuple[Option, ...], *, blind: bool = False, gauge: str = ""
) -> Callable[..., Any]:
    """Mark a function as a choice among options; it returns Options, its name holds the index
    taken.
    """
    return lambda function: _mark(
        function, "choice", meaning=meaning, on=on, options=options, blind=blind, gauge=gauge
    )


def seat_bound(function: Callable[..., Any]) -> Callable[..., Any]:
    """Mark a function that returns the Bounds which one topic puts on the seat."""
    return _mark(function, "seat_bound")


def criterion(
    weight: float, meaning: str, shows: Mapping[str, str] | None = None
) -> Callable[..., Any]:
    """Mark a function as a criterion: a worth from 0 to 1, its usual weight, and what it means.

    shows: the quantities that say it in figures, each with its phrase: `{first} against {second}
    ...`, or
    two phrases apart by `|` with `{by}`, for the first being more and being less.
    """
    return lambda function: _mark(
        function, "criterion", weight=weight, meaning=meaning, shows=shows or {}
    )


def view(name: str) -> Callable[..., Any]:
    """Mark a function that returns the Shapes (plain floats in, one build) of one drawing."""
    return lambda function: _mark(function, "view", meaning=name)


def unknown_where(value: Any, *others: Any) -> Array:
    """The value, NaN where any of the others is NaN; broadcasts.

    >>> unknown_where(np.array([1.0, 2.0]), np.array([np.nan, 0.0])).tolist()
    [nan, 2.0]
    """
    unknown: Any = False
    for other in others:
        unknown = unknown | np.isnan(other)
    return np.where(unknown, np.nan, value)


def reading_of(rule: Rule, result: Any, limits: Mapping[str, Any]) -> Reading:
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
    works = np.broadcast_to(reading.works, shape)
    comfort = np.broadcast_to(reading.comfort, shape)
    with np.errstate(invalid="ignore"):
        codes = (works < -SAME).astype(np.int8)
        codes += ((comfort < -SAME) | (codes > 0)).astype(np.int8)
    codes[np.isnan(works) | (np.isnan(comfort) & ~(works < -SAME))] = UNMEASURED
    applies = reading.applies
    if not (np.isscalar(applies) and applies == 1.0):
        applies = np.broadcast_to(np.asarray(applies, dtype=float), shape)
        codes[np.isnan(applies)] = UNMEASURED
        codes[applies == 0.0] = CLEAR
    return codes


@dataclass(frozen=True)
class Rulebook:
    """All rules of all topics, in an order in which they can be run, in stages (see `stage`).

    Stage 0 needs no seat, stage 1 needs it, stage 2 needs hours and money, stage 3 the verdicts.
    """

    rules: dict[str, Rule]
    limits: dict[str, Limit]
    order: tuple[Rule, ...]
    stage: dict[str, int]
    fed: dict[str, tuple[set[str], set[str]]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    @classmethod
    def from_topics(cls, topics: Iterable[ModuleType]) -> Rulebook:
        """Collect and close. Raises RuleError for anything that could only go wrong later."""
        rules: dict[str, Rule] = {}
        limits: dict[str, Limit] = {}
        for topic in topics:
            _collect(topic, rules, limits)
        known = set(rule_inputs()) | set(SEAT) | set(COUNTED) | set(limits) | set(rules)
        known |= set(WEIGHED) | {f"worth_of_{r.criterion}" for r in rules.values() if r.criterion}
        for rule in rules.values():
            _complete(rule, rules, known, limits)
        order = _ordered(rules)
        return cls(rules, limits, order, _stages(order))

    def of(self, *sorts: str) -> list[Rule]:
        return [rule for rule in self.rules.values() if rule.sort in sorts]

    @property
    def checks(self) -> list[Rule]:
        return self.of("check")

    @property
    def criteria(self) -> list[Rule]:
        return self.of("criterion")

    @property
    def decisions(self) -> list[Rule]:
        """Decisions and choices, in the order in which they are settled."""
        return [rule for rule in self.order if rule.settled]

    def feeds(self, name: str) -> set[str]:
        """The vocabulary names that feed a rule, however deep."""
        return set(self._known(name)[0])

    def judging(self, decision: str) -> list[Rule]:
        """The checks that hang on a decision with no other one between, those nearest to it first."""
        return _judging(decision, self.rules)

    def through(self, name: str) -> set[str]:
        """The rules, limits and the seat that a rule's result hangs on, itself included."""
        return set(self._known(name)[1])

    def _known(self, name: str) -> tuple[set[str], set[str]]:
        if name not in self.fed:
            self.fed[name] = _fed(name, self.rules)
        return self.fed[name]


def _judging(decision: str, rules: Mapping[str, Rule]) -> list[Rule]:
    found = []
    for rule in rules.values():
        if rule.sort != "check":
            continue
        steps, level, seen = 0, set(rule.inputs), {rule.name}
        while level and decision not in level:
            seen |= level
            open_ = [rules[n] for n in level if n in rules and not rules[n].settled]
            steps, level = steps + 1, {n for r in open_ for n in r.inputs} - seen
        if level:
            found.append((steps, rule))
    return [rule for _, rule in sorted(found, key=lambda pair: pair[0])]


def _fed(name: str, rules: Mapping[str, Rule]) -> tuple[set[str], set[str]]:
    base = rule_inputs()
    seen: set[str] = set()
    found: set[str] = set()
    todo = [name]
    while todo:
        at = todo.pop()
        if at in seen:
            continue
        seen.add(at)
        if at in rules:
            todo += rules[at].inputs
        elif at in SEAT_FED_BY:
            todo += SEAT_FED_BY[at]
        elif at in base:
            found.update(base[at])
    return found, seen


def _collect(topic: ModuleType, rules: dict[str, Rule], limits: dict[str, Limit]) -> None:
    def take_limit(limit: Limit) -> None:
        if limit.name in limits and limits[limit.name] != limit:
            raise RuleError(f"limit {limit.name} is declared twice")
        limits[limit.name] = limit

    for thing in vars(topic).values():
        if isinstance(thing, Limit):
            take_limit(thing)
        rule = getattr(thing, "__rule__", None)
        if not isinstance(rule, Rule) or thing.__module__ != topic.__name__:
            continue
        if rule.name in rules:
            first = rules[rule.name].topic
            raise RuleError(f"{rule.name} is declared in {first} and in {rule.topic}")
        rules[rule.name] = rule
        if isinstance(rule.limit, AtLeast | AtMost):
            why = rule.limit.why
            take_limit(Limit(f"{rule.title}_clear", rule.limit.clear, rule.unit, why))
            take_limit(Limit(f"{rule.title}_tight", rule.limit.tight, rule.unit, why))


def _stages(order: Iterable[Rule]) -> dict[str, int]:
    stage: dict[str, int] = {}
    for rule in order:
        own = max((stage[i] for i in rule.inputs if i in stage), default=0)
        if any(i in SEAT for i in rule.inputs):
            own = max(own, 1)
        if any(i in COUNTED for i in rule.inputs):
            own = 2
        if rule.sort == "criterion" or any(i in WEIGHED for i in rule.inputs):
            own = 3
        if rule.sort == "seat_bound" and own:
            raise RuleError(f"{rule.name} bounds the seat but asks for it")
        if rule.settled and own == 2:
            raise RuleError(f"{rule.name} costs money but asks for the total")
        stage[rule.name] = own
    return stage


def _complete(
    rule: Rule, rules: Mapping[str, Rule], known: set[str], limits: Mapping[str, Limit]
) -> None:
    for name in rule.inputs:
        if name not in known:
            raise RuleError(f"{rule.name} asks for {name}, which nothing provides")
    if rule.name in rule_inputs() or rule.name in (*SEAT, *COUNTED) or rule.name in limits:
        raise RuleError(f"{rule.name} takes a name that is in use")
    for name in rule.shows:
        if name not in known:
            raise RuleError(f"criterion {rule.name} shows {name}, which nothing provides")
    if rule.sort == "check":
        if not rule.question.endswith("?"):
            raise RuleError(f"check {rule.name} asks no question")
        if rule.limit is None:
            raise RuleError(f"check {rule.name} has no limit")
        if not rule.reason:
            raise RuleError(f"check {rule.name} gives no reason")
        if rule.kind not in CHECK_KINDS:
            raise RuleError(f"check {rule.name} is of no kind {rule.kind}")
        served = {i for r in rules.values() if r.sort == "criterion" for i in r.inputs}
        if rule.criterion and f"worth_of_{rule.criterion}" not in served:
            raise RuleError(f"check {rule.name} serves no criterion {rule.criterion}")
    for step, tool in (
        [(o.undo, o.tool) for o in rule.options] if rule.options else [(rule.undo, rule.tool)]
    ):
        if step not in UNDO_STEPS:
            raise RuleError(f"decision {rule.name}: no undo step {step}")
        if rule.gauge and rule.gauge not in rule_inputs() and rule.gauge not in rules:
            raise RuleError(f"decision {rule.name}: nothing is called {rule.gauge}")
        if tool not in (*TOOLS, "sent out"):
            raise RuleError(f"decision {rule.name}: no tool {tool}")
    for stage in (rule.when, *rule.halves, *(o.when for o in rule.options)):
        if stage not in WORK_STAGES:
            raise RuleError(f"decision {rule.name}: no stage of work {stage}")


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
