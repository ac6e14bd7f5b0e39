"""What to buy and why: the first against the second in figures, what is cut and made, what to
measure first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.visits import Measures, Visit, words_of
from compare.figures import figure, safe, unit_of
from compare.judge.engine import MARK, UNKNOWN_WORTH, Engine, Result
from compare.judge.outcome import MEASURE, RULED_OUT, percent, standard_error
from compare.said import Said, fill
from compare.vocabulary import KEEP, UNDO_STEPS

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["KEEP", "Decision", "Job", "Reason", "decide", "why"]

Array = np.ndarray
LIKELIER = "goes_in"  # the reason that is no criterion: the chance that it goes in at all
FEWEST, MOST = 2, 3  # criteria that are told
WORTH_TELLING = (
    0.2  # of the largest difference: what is smaller is not told unless there are too few
)
CLOSE = 0.1  # chance of first place from which another is close behind
MOST_CLOSE = 3

MOST_LACKING = 4  # names told of each owner


@dataclass(frozen=True)
class Figure:
    """One quantity of two builds, in the quantity's own unit, and the phrase that tells it."""

    quantity: str
    unit: str
    first: float
    second: float
    phrase: str

    @property
    def said(self) -> Said:
        """The phrase with its figures; the unit stands once, behind the second."""
        by = abs(self.first - self.second)
        phrase = self.phrase
        if "|" in phrase:
            phrase = phrase.split("|")[0 if self.first > self.second else 1]
        if self.unit == "undo step":
            steps = [UNDO_STEPS[int(f)] for f in (self.first, self.second)]
            return Said(phrase, {"first": steps[0], "second": steps[1]})
        if self.unit == "chance":
            return Said(phrase, {"first": percent(self.first), "second": percent(self.second)})
        values = {"first": (self.first, self.unit), "second": (self.second, self.unit)}
        return Said(phrase, values | {"by": (by, self.unit)})

    def text(self, units: str = "metric") -> str:
        """As prose.

        >>> Figure("top_cruise_rpm", "rev/min", 2907.0, 3270.4, "{first} against {second}").text()
        '2907 against 3270 rev/min'
        >>> Figure("total_cost", "money", 853.0, 800.0, "{by} dearer|{by} cheaper").text()
        '53 dearer'
        """
        text, unit = fill(self.said, units), unit_of(self.unit, units)
        once = unit and self.unit not in ("chance", "undo step")
        return text.replace(f" {unit} against", " against", 1) if once else text

    @property
    def differs(self) -> bool:
        """Whether the two can be told apart as they are printed."""
        if math.isnan(self.first) or math.isnan(self.second):
            return False
        if self.unit == "chance":
            return percent(self.first) != percent(self.second)
        return figure(self.first, self.unit) != figure(self.second, self.unit)


@dataclass(frozen=True)
class Reason:
    """One respect in which the first differs from the second: points of value, and the figures."""

    criterion: str
    points: float
    figures: tuple[Figure, ...]

    def text(self, units: str = "metric") -> str:
        """As prose; in points where no figure tells the two apart."""
        told = [f.text(units) for f in self.figures if f.differs]
        if told:
            return ", ".join(told)
        sign = "better" if self.points > 0 else "worse"
        name = self.criterion.removeprefix(MARK).replace("_", " ")
        if self.criterion == LIKELIER:
            name = "whether it goes in"
        return f"{abs(self.points):.1f} points {sign} in {name}"

    def row(self) -> dict[str, Any]:
        shown = [
            {
                "quantity": f.quantity,
                "first": _number(f.first),
                "second": _number(f.second),
                "unit": f.unit,
            }
            for f in self.figures
        ]
        return {
            "criterion": self.criterion, "points": round(self.points, 2), "figures": shown,
            "text": self.text(),
        }  # fmt: skip


@dataclass(frozen=True)
class Job:
    """One operation of the plan, nominal: how much, on what, how it can be undone, what it
    costs.
    """

    decision: str
    operation: str
    on: str
    figure: float
    unit: str
    undo: str
    hours: float
    cost: float

    @property
    def said(self) -> Said:
        known = self.unit.startswith("mm") and self.figure == self.figure
        return Said(
            "{operation}, {figure}" if known else "{operation}",
            {"operation": _lower(self.operation), "figure": (abs(self.figure), self.unit)},
        )

    def row(self) -> dict[str, Any]:
        return {
            "decision": self.decision, "operation": self.operation, "on": self.on,
            "figure": _number(self.figure), "unit": self.unit, "undo": self.undo,
            "hours": round(self.hours, 2), "cost": round(self.cost, 2), "text": fill(self.said),
        }  # fmt: skip


@dataclass
class Decision:
    """What to buy. build: a row, None for keeping today's gearbox or where nothing can be bought.

    cost: the plan's, nominal; over: above the stated budget, 0 within it. first: chance of first
    place, NaN where nothing was drawn. settled: whether it may be called good without measuring
    first.
    """

    buy: str
    build: int | None
    build_name: str
    because: list[Reason]
    against: str
    close_behind: list[tuple[str, float]]
    cut: list[Job]
    make: list[Job]
    measure: list[Visit]
    lacking: list[tuple[str, str]]
    everything: float
    cost: float = math.nan
    over: float = 0.0
    budget: float = math.inf
    first: float = math.nan
    likeliest: bool = True
    chance: float = math.nan
    chance_error: float = math.nan
    settled: bool = True
    bought: bool = False
    priced: bool = True
    currency: str = ""
    texts: list[str] = field(default_factory=list)

    def text(self, units: str = "metric") -> str:
        """The decision as a few sentences."""
        parts = [_head(self)]
        if self.because:
            parts[0] += ", because, " if self.settled else "; it comes first because, "
            parts[0] += f"against {self.against}: " + _for_and_against(self.because, units)
        parts[0] += "."
        if self.build is not None:
            parts.append(f"You will cut: {_told(self.cut, units)}.")
            parts.append(f"You will make or order: {_told(self.make, units, 'order ')}.")
        if self.lacking:
            parts.append(f"Not known: {_lacking_words(self.lacking)}.")
        if self.measure:
            parts.append(
                "Before paying, measure: "
                + "; ".join(_lower(fill(v.said, units)) for v in self.measure)
                + "."
            )
        if self.close_behind:
            close = ", ".join(f"{n} ({percent(c)})" for n, c in self.close_behind)
            parts.append(f"Close behind: {close}.")
        return " ".join(parts)

    def row(self) -> dict[str, Any]:
        """As the JSON has it."""
        return {
            "buy": self.buy, "build": self.build_name or None,
            "because": [r.row() for r in self.because],
            "close_behind": [
                {"candidate": n, "chance_first": _number(c)} for n, c in self.close_behind
            ],
            "cut": [j.row() for j in self.cut], "make": [j.row() for j in self.make],
            "measure_before_paying": [v.row() for v in self.measure],
            "worth_of_knowing_everything": _number(self.everything), "text": self.text(),
        }  # fmt: skip


def _number(value: float) -> float | None:
    return None if math.isnan(value) or math.isinf(value) else round(float(value), 4)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _for_and_against(reasons: Sequence[Reason], units: str) -> str:
    """What speaks for the first, then what speaks against it."""
    good = "; ".join(r.text(units) for r in reasons if r.points > 0)
    bad = "; ".join(r.text(units) for r in reasons if r.points <= 0)
    if good and bad:
        return f"{good}; but {bad}"
    return good or bad


def _told(jobs: Sequence[Job], units: str, said_before: str = "") -> str:
    return ", ".join(fill(j.said, units).removeprefix(said_before) for j in jobs) or "nothing"


def _lacking_words(lacking: Sequence[tuple[str, str]]) -> str:
    """The first few of the open numbers, by whose they are, and how many more.

    >>> _lacking_words([("car", "crank_pilot"), ("Keld 5", "length"), ("Keld 5", "mass")])
    'length, mass of Keld 5; crank pilot of the car'
    """
    owners = sorted({o for o, _ in lacking}, key=lambda o: o == "car")
    told = []
    for owner in owners:
        names = [words_of(n) for o, n in lacking if o == owner]
        more = f" and {len(names) - MOST_LACKING} more" if len(names) > MOST_LACKING else ""
        told.append(
            f"{', '.join(names[:MOST_LACKING])}{more} of {'the car' if owner == 'car' else owner}"
        )
    return "; ".join(told)


def _head(d: Decision) -> str:
    """The first sentence, up to the reasons."""
    if d.build is None:
        return "Keep today's gearbox" if d.buy == KEEP else "Buy none of these"
    name = d.buy if d.build_name in ("", "as sold") else f"{d.buy} with {d.build_name}"
    money = f"{figure(d.cost, 'money')} {safe(d.currency, 12)}".strip()
    money = "its price not known" if math.isnan(d.cost) else money
    if d.over > 0:
        money += f", {figure(d.over, 'money')} above your {figure(d.budget, 'money')}"
    if d.bought:
        money += " more"
    if not d.settled:
        known = d.first == d.first and d.chance == d.chance
        goes = f" ({percent(d.chance, d.chance_error)})" if known else ""
        return (
            f"{name}, {money}, comes first, but measure before you {'cut' if d.bought else 'buy'}: "
            f"it is not settled that it goes in{goes}"
        )
    buy = f"Go on with {name}, which is bought" if d.bought else f"Buy {name}"
    if math.isnan(d.first):
        return f"{buy}, {money}: worth most by the nominal numbers"
    how = "likeliest to come first" if d.likeliest else "worth most on the whole, first in"
    share = f"({percent(d.first)})" if d.likeliest else percent(d.first)
    return f"{buy}, {money}: {how} {share}"


# ---- why 1 beats 2 -------------------------------------------------------------------------------


def _worth_of(a: Assessment, build: int) -> Array:
    """Mean worth per criterion over the draws `(criteria,)`; −1 is keeping today's gearbox."""
    if build < 0:
        assert a.today is not None
        worth = a.keep_worth if a.keep_worth is not None else a.today.result.utility[0].copy()
        found = np.where(np.isnan(worth), UNKNOWN_WORTH, worth).mean(axis=0)
        found[a.engine.criteria.index("cost")] = 1.0
        return np.asarray(found)
    worth = a.drawn.worth[build]
    return np.asarray(np.where(np.isnan(worth), UNKNOWN_WORTH, worth).mean(axis=0))


def _quantity(result: Result, name: str, keep: bool) -> float:
    """The nominal figure of one build; keeping today's gearbox costs nothing."""
    return 0.0 if keep and name == "total_cost" else result.value(name, 0)


def _figures(engine: Engine, criterion: str, pair: list[tuple[Result, bool]]) -> tuple[Figure, ...]:
    rules = engine.book.rules
    if criterion in rules:
        shows = rules[criterion].shows
    else:
        shows = {
            criterion: "{first} against {second} in "
            + criterion.removeprefix(MARK).replace("_", " ")
        }
    found = []
    for name, phrase in shows.items():
        unit = "money" if name == "total_cost" else rules[name].unit if name in rules else ""
        first, second = (_quantity(result, name, keep) for result, keep in pair)
        found.append(Figure(name, unit, first, second, phrase))
    return tuple(found)


def why(a: Assessment, first: int, second: int) -> list[Reason]:
    """The two or three respects in which two builds differ most, largest first; −1 is today's
    gearbox.

    Points are 100 × weight × difference of worth, means over the draws; what is left of the
    difference of their values is due to the chance of going in.
    """
    engine = a.engine
    points = 100.0 * engine.weights * (_worth_of(a, first) - _worth_of(a, second))
    value = lambda b: a.keep_value if b < 0 else float(a.value[b])
    pair = [_nominal(a, first), _nominal(a, second)]
    found = [
        Reason(name, float(p), _figures(engine, name, pair))
        for name, p in zip(engine.criteria, points, strict=True)
    ]
    left = value(first) - value(second) - float(points.sum())
    goes = [1.0 if b < 0 else float(a.chance[b]) for b in (first, second)]
    phrase = "{first} against {second} likely to go in"
    if first < 0 or second < 0:
        phrase = "the other is {second} likely to go in" if first < 0 else "{first} likely to go in"
    found.append(
        Reason(LIKELIER, left, (Figure("chance_fitted", "chance", goes[0], goes[1], phrase),))
    )
    found = sorted((r for r in found if abs(r.points) > 0.05), key=lambda r: -abs(r.points))
    least = WORTH_TELLING * abs(found[0].points) if found else 0.0
    told = [r for at, r in enumerate(found[:MOST]) if at < FEWEST or abs(r.points) >= least]
    return told


def _nominal(a: Assessment, build: int) -> tuple[Result, bool]:
    if build < 0:
        assert a.today is not None
        return a.today.result, True
    return a.run([build]), False


# ---- the decision --------------------------------------------------------------------------------


def jobs(a: Assessment, build: int) -> tuple[list[Job], list[Job]]:
    """(what is cut, what is made or ordered) by the plan of one build, nominal; fitting itself
    apart.
    """
    result = a.run([build])
    cut: list[Job] = []
    make: list[Job] = []
    for name, item in result.items.items():
        number = lambda array: float(np.broadcast_to(array, result.shape)[0, 0])
        # Fitting itself is no news; what is ordered for it has to be told.
        if (item.rule.fitting and not item.rule.blind) or not number(item.left):
            continue
        what, on = item.rule.meaning, item.rule.on
        if item.option is not None:
            what, on = item.option.operation, item.option.on or on
        undo = int(number(item.undo))
        unit = "" if item.option is not None else item.rule.unit
        job = Job(
            name,
            what,
            on,
            number(item.figure),
            unit,
            UNDO_STEPS[undo],
            number(item.hours),
            number(item.cost),
        )
        (cut if undo else make).append(job)
    return cut, make


def decide(a: Assessment, measures: Measures) -> Decision:
    """What to buy, from the order of the builds, today's gearbox among them."""
    has_keep = a.today is not None
    order = [int(b) for b in a.order]
    ranked = sorted([*order, *([-1] if has_keep else [])], key=lambda b: _place(a, b))
    firsts = dict(zip([*order, -1], a.chance_first.tolist(), strict=True))
    best = ranked[0] if ranked else -1
    hopeless = best >= 0 and a.outcome[best] == RULED_OUT
    name = lambda b: KEEP if b < 0 else a.builds.candidate_name(b)
    if best < 0 or hopeless:
        buy = KEEP if has_keep else ""
        found = Decision(buy, None, "", [], "", [], [], [], [], [], measures.everything.worth)
    else:
        cut, make = jobs(a, best)
        found = Decision(
            name(best), best, a.builds.name(best), [], "", [], cut, make, [],
            a.deciding.get(best, []), measures.everything.worth,
        )  # fmt: skip
        _of_build(a, found, best, firsts)
    if not measures.drawn:
        found.everything = math.nan
    found.measure, found.priced = measures.worthwhile, measures.priced
    rest = [b for b in ranked if b != best] if not hopeless else []
    if rest:
        found.because = why(a, best, rest[0])
        found.against = name(rest[0]).removeprefix("keep ")
        close = sorted(
            (b for b in rest if a.draws and firsts[b] >= CLOSE), key=lambda b: -firsts[b]
        )
        found.close_behind = [(name(b), firsts[b]) for b in close[:MOST_CLOSE]]
    return found


def _place(a: Assessment, build: int) -> tuple[float, int]:
    """Higher value first; at equal value as in the order, today's gearbox last."""
    if build < 0:
        return -a.keep_value, len(a.order)
    return -float(a.value[build]), int(np.flatnonzero(a.order == build)[0])


def _of_build(a: Assessment, found: Decision, best: int, firsts: dict[int, float]) -> None:
    found.cost = float(a.cost[best])
    stated = a.car.values.get("policy_budget")
    if stated is not None and math.isfinite(stated.nominal):
        found.budget = stated.nominal
        found.over = max(found.cost - stated.nominal, 0.0) if found.cost == found.cost else 0.0
    found.currency = a.car.texts.get("policy_currency", "")
    found.settled = a.outcome[best] != MEASURE
    found.bought = bool(a.builds.bought[best])
    found.chance = float(a.chance[best])
    if a.draws:
        found.first = firsts[best]
        found.likeliest = found.first >= max(firsts.values()) - 1e-9
        found.chance_error = float(
            standard_error(np.nan_to_num(a.chance[best]), a.tally.draws[best])
        )
