"""What the What-if sheet needs to rank anew by formulas: inputs, constants, and tables over the
gearing.

V of a build is P·S + (1 − P)·F: P the share of draws that go in (an open draw counts half), S the
weighted mean worth in the draws that go in, F today's value less the waste. That is exact for other
weights. Worth of engine speed, pull and money follow by formula from the spread of the draws; all
else
depends on axle over tyre only, and is tabulated with the engine itself, with draws, where it
changes.
"""

from __future__ import annotations

import copy
import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from compare.answer.compare import Assessment
from compare.judge import outcome as labels
from compare.judge.baseline import car_draws
from compare.judge.draws import Draw, build_arrays, car_arrays, present_arrays
from compare.judge.engine import UNKNOWN_WORTH, Result
from compare.judge.rules import CLASH, SEAT_HANGS_ON
from compare.judge.seat import Seat
from compare.judge.settle import Fitted, Found, Seated
from compare.judge.value import UNKNOWN_PRICE, keep_scores, lost_points
from compare.topics.criteria import (
    BUDGET_ASSUMED,
    COST_SPAN,
    CRUISE_FALL,
    LIVE_CRITERIA,
    LIVE_CURVE,
    LIVE_INPUTS,
    LIVE_NUMBERS,
    LIVE_RESULTS,
    PULL_FULL,
)
from compare.topics.road_load import GRAVITY
from compare.vocabulary import OUTCOMES, car_terms_by_name

__all__ = ["MOST_ROWS", "Live", "LiveRow", "Node", "Spread", "live", "spread_of"]

Array = np.ndarray
Row = dict[str, Any]
MOST_ROWS, MOST_BUILDS = 60, 3  # candidates that the sheet ranks anew, builds of each
SPAN = (0.5, 2.0)  # of the car's axle over tyre
COARSE, FINE, HALVINGS = 9, 61, 16
BESIDE = 0.006  # how far beside a step draws are taken: the usual doubt of a tyre
MOST_RUNS, LEAST_DRAWS, MOST_DRAWS = 100_000, 32, 256


@dataclass(frozen=True)
class Spread:
    """A drawn number as a few values: values, shares of all draws, shares of the draws that go in.

    unknown: share of the draws that go in where it is not known.
    """

    values: tuple[float, ...]
    all: tuple[float, ...]
    inside: tuple[float, ...]
    unknown: float = 0.0


@dataclass(frozen=True)
class Node:
    """At one axle over tyre, as a multiple of the car's: chance, cost, whether only fitting, worth."""

    scale: float
    chance: float
    cost: float
    only: bool
    worth: tuple[float, ...]


@dataclass(frozen=True)
class LiveRow:
    """One build, or today's gearbox (`keep`); a candidate counts with its best build.

    rank: as sent, 0 for a build that is not its candidate's best. order: which comes first of
    equals.
    mean: the drawn mean worth of the live criteria.
    """

    candidate: str
    build: str
    keep: bool
    rank: int
    order: int
    value: float
    outcome: str
    waits: bool
    open: bool
    gear: float
    rpm: Spread
    pull: Spread
    cost: Spread
    waste: float
    waste_per_budget: float
    nodes: tuple[Node, ...]
    mean: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Live:
    """Inputs (role, label, value, unit, low, high), constants by role, the torque curve, rows.

    formulas: which of the live criteria ("window", "pull", "money") can be worked out; the others
    are
    in the nodes like the rest. stuck: the owner's musts that hang on speed or money: they stay as
    computed.
    """

    inputs: tuple[Row, ...]
    numbers: dict[str, float]
    curve: tuple[tuple[float, float], ...]
    criteria: tuple[str, ...]
    formulas: dict[str, str]
    rows: tuple[LiveRow, ...]
    outcomes: tuple[str, ...]
    left_out: int
    stuck: tuple[str, ...]


def spread_of(values: Array, goes: Array, breaks: list[float], count: int = 6) -> Spread:
    """A few values for many draws; a value never mixes draws from both sides of a break.

    >>> spread_of(np.array([1.0, 1.0, 3.0, np.nan]), np.array([1.0, 1.0, 0.0, 1.0]), [2.0])
    Spread(values=(1.0, 3.0), all=(0.5, 0.25), inside=(0.6666666666666666, 0.0), unknown=0.3333333333333333)
    """
    values = np.broadcast_to(np.asarray(values, dtype=float), goes.shape)
    weight = goes / goes.sum() if goes.sum() > 0 else np.full(len(goes), 1.0 / len(goes))
    there = ~np.isnan(values)
    found: list[tuple[float, float, float]] = []
    edges = [-math.inf, *sorted(b for b in breaks if math.isfinite(b)), math.inf]
    for low, high in itertools.pairwise(edges):
        mine = np.flatnonzero(there & (values > low) & (values <= high))
        mine = mine[np.argsort(values[mine], kind="stable")]
        parts = 1 if not len(mine) or np.ptp(values[mine]) < 1e-9 else count
        for part in np.array_split(mine, min(parts, max(len(mine), 1))):
            if len(part):
                inside = float(weight[part].sum())
                shares = weight[part] / inside if inside else np.full(len(part), 1.0 / len(part))
                found.append((float(values[part] @ shares), len(part) / len(goes), inside))
    values_, all_, inside_ = (tuple(one[at] for one in found) for at in range(3))
    return Spread(values_, all_, inside_, float(weight[~there].sum()))


@dataclass
class _Tables:
    """Runs the engine over other gearings."""

    a: Assessment
    shown: list[int]
    how: Draw = field(init=False)
    of_car: dict[str, Any] = field(init=False)
    seats: dict[Draw, Seat] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.place = {build: at for at, build in enumerate(self.shown)}
        book = self.a.engine.book
        bounds = (r.name for r in book.of("seat_bound"))
        moved = {LIVE_INPUTS["axle"], LIVE_INPUTS["speed"]}
        self.stands = not any(moved & book.feeds(name) for name in (*SEAT_HANGS_ON, *bounds))
        self._draw(MOST_DRAWS)

    def _draw(self, most: int) -> None:
        count = min(self.a.draws, most)
        self.how = Draw(count, self.a.seed)
        self.of_car = car_draws(self.a.engine, self.a.today, self.how).names

    def today_misses(self, scale: Array, slow: bool) -> dict[str, Array]:
        """By how much today's gearbox fails each road check at each scale `(rows, 1)`."""
        engine = self.a.engine
        if self.a.today is None:
            return {}
        shape = (len(scale), 1)
        readings, verdicts = engine.verdicts(self._todays(scale, slow), shape, Found(), today={})
        checks = [r for r, decides in zip(engine.checks, engine.decides, strict=True) if decides]
        misses = {}
        for rule, reading, verdict in zip(checks, readings, verdicts, strict=True):
            if rule.kind == "road":
                miss = np.where(verdict == CLASH, -np.broadcast_to(reading.works, shape), 0.0)
                if miss.any():
                    misses[rule.name] = miss
        return misses

    def today_worth(self, scale: Array) -> Array:
        """Worth of today's gearbox per criterion, so slow that no engine speed matters `(rows, criteria)`."""
        plain = copy.copy(self.a.engine)
        plain.today = {}
        return plain.run(self._todays(scale, True), (len(scale), 1), Found()).utility[:, 0]

    def _todays(self, scale: Array, slow: bool) -> dict[str, Any]:
        return _geared(car_arrays(self.a.car), scale, slow) | present_arrays(self.a.car, Draw())

    def run(self, builds: Array, scale: Array, *, draws: bool, slow: bool = True) -> Result:
        """Fitted, one row per build and scale; slow: so slow that no engine speed matters."""
        how = self.how if draws else Draw()
        of_car = self.of_car if draws else car_arrays(self.a.car)
        engine = copy.copy(self.a.engine)
        engine.today = self.today_misses(scale, slow)  # type: ignore[assignment]
        names = _geared(of_car, scale, slow) | build_arrays(self.a.builds, builds, how)
        return engine.run(names, (len(builds), 1 + how.count), self._settled(builds, how, of_car))

    def _settled(self, builds: Array, how: Draw, of_car: dict[str, Any]) -> Fitted:
        """The seat hangs on no gearing: it is solved once for each build and draw, at the car's own."""
        if not self.stands:
            return Fitted()
        if how not in self.seats:
            names = of_car | build_arrays(self.a.builds, np.array(self.shown), how)
            self.seats[how] = self.a.engine.seat(names, (len(self.shown), 1 + how.count), Fitted())
        rows = np.array([self.place[b] for b in builds.tolist()], dtype=int)
        seat = self.seats[how]
        return Seated(solved=Seat(seat.thickness[rows], seat.shift[rows]))

    def nodes(self, names: list[str]) -> list[list[Node]]:
        """Per build its nodes, by rising scale."""
        scales = self._places()
        rows = np.repeat(self.shown, [len(s) for s in scales])
        scale = np.concatenate(scales)
        self._draw(int(np.clip(MOST_RUNS // max(len(rows), 1), LEAST_DRAWS, MOST_DRAWS)))
        found: list[Node] = []
        step = max(1, 40_000 // (1 + self.how.count))
        for start in range(0, len(rows), step):
            part = slice(start, start + step)
            found += self._read(self.run(rows[part], scale[part], draws=True), scale[part], names)
        ends = np.cumsum([0, *(len(s) for s in scales)])
        return [found[i:j] for i, j in itertools.pairwise(ends)]

    def _places(self) -> list[Array]:
        """Per build the scales to judge with draws: a coarse grid, and both sides of each step."""
        grid = np.unique(np.r_[np.geomspace(*SPAN, FINE), 1.0])
        builds = np.array(self.shown)
        flat = self._nominal(np.repeat(builds, len(grid)), np.tile(grid, len(builds)))
        rows = flat.reshape(len(builds), len(grid), -1)
        build, at = np.nonzero((rows[:, 1:] != rows[:, :-1]).any(axis=2))
        low, high, before = grid[at], grid[at + 1], rows[build, at]
        for _ in range(HALVINGS if len(at) else 0):
            middle = (low + high) / 2.0
            same = (self._nominal(builds[build], middle) == before).all(axis=1)
            low, high = np.where(same, middle, low), np.where(same, high, middle)
        found = []
        for number in range(len(builds)):
            mine = build == number
            beside = [high[mine] * f for f in (1 - BESIDE, 1 + BESIDE)]
            every = np.r_[np.geomspace(*SPAN, COARSE), 1.0, low[mine], high[mine], *beside]
            found.append(np.unique(np.clip(every, *SPAN)))
        return found

    def _nominal(self, builds: Array, scale: Array) -> Array:
        """What steps, `(rows, many)`, nominal."""
        result = self.run(builds, scale, draws=False)
        steps = [result.goes_in, result.fitting_only, np.round(result.total_cost, 2)]
        flat = np.concatenate([*steps, np.round(result.utility[:, 0], 6)], axis=1)
        return np.nan_to_num(flat, nan=-1.0)

    def _read(self, result: Result, scale: Array, names: list[str]) -> list[Node]:
        cut = slice(1, None) if self.how.count else slice(None)
        goes = np.nan_to_num(result.goes_in[:, cut], nan=0.5)
        weight = np.where(goes.sum(axis=1, keepdims=True) > 0, goes, 1.0)
        weight = weight / weight.sum(axis=1, keepdims=True)
        cost = (weight * result.total_cost[:, cut]).sum(axis=1)
        utility = np.where(np.isnan(result.utility), UNKNOWN_WORTH, result.utility)[:, cut]
        worth = np.einsum("rd,rdc->rc", weight, utility)
        keep = [self.a.engine.criteria.index(n) for n in names]
        return [
            Node(
                float(scale[r]),
                float(goes[r].mean()),
                float(cost[r]),
                bool(result.fitting_only[r, 0]),
                tuple(map(float, worth[r, keep])),
            )
            for r in range(len(scale))
        ]


def _geared(names: dict[str, Any], scale: Array, slow: bool) -> dict[str, Any]:
    """The car's arrays at other axle ratios, one row per scale."""
    axle, speed = LIVE_INPUTS["axle"], LIVE_INPUTS["speed"]
    names = dict(names)
    names[axle] = names[axle] * scale[:, None]
    if slow:
        names[speed] = np.where(np.isnan(names[speed]), np.nan, 1e-3)
    return names


def live(a: Assessment, ranks: Mapping[str, Row], keep: str) -> Live | None:
    """All that What-if needs for the best candidates; ranks: the ranking's row of each, and of `keep`.

    None where there is nothing to rank.
    """
    ranked = [int(b) for b in a.order if a.builds.candidate_name(int(b)) in ranks]
    best = ranked[:MOST_ROWS]
    shown = _builds_of(a, best)
    if not shown:
        return None
    tables = _Tables(a, shown)
    how = tables.how
    base = tables.run(np.array(shown), np.ones(len(shown)), draws=True, slow=False)
    numbers, curve = _numbers(a, base), _curve(base)
    formulas = _formulas(numbers, curve, base)
    stepped = [c for c in a.engine.criteria if c not in formulas.values()]
    nodes = tables.nodes(stepped)
    rows = [
        _row(
            a,
            how,
            base,
            at,
            b,
            numbers,
            formulas,
            stepped,
            nodes[at],
            ranks[a.builds.candidate_name(b)],
            b in best,
        )
        for at, b in enumerate(shown)
    ]
    if a.today is not None and keep in ranks:
        rows.append(_keep_row(a, tables, formulas, stepped, ranks[keep]))
    return Live(
        _inputs(a, base),
        numbers,
        curve,
        tuple(a.engine.criteria),
        formulas,
        tuple(rows),
        OUTCOMES,
        len(a.order) - len(best),
        _stuck(a),
    )


def _builds_of(a: Assessment, best: list[int]) -> list[int]:
    """The best few builds of each candidate, in the order of the ranking of builds."""
    cost = np.nan_to_num(a.cost, nan=np.inf)
    sort = np.lexsort((a.builds.candidate, cost, -np.round(a.value, 6)))
    left = {int(a.builds.candidate[b]): MOST_BUILDS for b in best}
    found = []
    for build in sort.tolist():
        candidate = int(a.builds.candidate[build])
        if left.get(candidate, 0) or build in best:
            left[candidate] -= 1
            found.append(build)
    return found


def _stuck(a: Assessment) -> tuple[str, ...]:
    """The owner's musts that hang on speed or money."""
    moving = {LIVE_INPUTS["speed"], LIVE_INPUTS["money"]}
    return tuple(
        rule.title
        for rule in a.engine.checks
        if rule.kind == "wish"
        and rule.title in a.engine.musts
        and moving & a.engine.book.feeds(rule.name)
    )


def _of_car(a: Assessment, result: Result, name: str) -> float:
    if name in a.engine.limits:
        return float(a.engine.limits[name])
    return result.value(name, 0)


def _numbers(a: Assessment, base: Result) -> dict[str, float]:
    """Constants by role; the utilities' own among them."""
    found = {role: _of_car(a, base, name) for role, name in LIVE_NUMBERS.items()}
    return found | {
        "fall": CRUISE_FALL,
        "full": PULL_FULL,
        "span": COST_SPAN,
        "assumed": BUDGET_ASSUMED,
        "gravity": GRAVITY,
        "half": UNKNOWN_WORTH,
        "sure": a.engine.sure_enough,
        "hopeless": labels.HOPELESS,
    }


def _curve(base: Result) -> tuple[tuple[float, float], ...]:
    rpm, torque = (np.asarray(base.names[n], dtype=float).ravel() for n in LIVE_CURVE)
    if np.isnan(rpm).any() or np.isnan(torque).any():
        return ()
    return tuple(zip(map(float, rpm), map(float, torque), strict=True))


def _formulas(numbers: dict[str, float], curve: tuple[Any, ...], base: Result) -> dict[str, str]:
    """The criteria that can be worked out: all their numbers are known."""
    there = lambda *roles: all(math.isfinite(numbers[r]) for r in roles)
    gearing = all(math.isfinite(base.value(LIVE_INPUTS[r], 0)) for r in ("speed", "axle", "tyre"))
    found = {"money": LIVE_CRITERIA["money"]}
    if gearing and there("low", "high"):
        found["window"] = LIVE_CRITERIA["window"]
    if gearing and curve and there("mass", "rolling", "drag", "area", "efficiency", "air"):
        found["pull"] = LIVE_CRITERIA["pull"]
    return found


def _inputs(a: Assessment, base: Result) -> tuple[Row, ...]:
    """The cells that may be changed, in internal units, with what is possible."""
    terms = car_terms_by_name()
    labels_ = {
        "speed": ("cruising speed", "km/h"),
        "axle": ("axle ratio", "ratio"),
        "tyre": ("tyre, rolling circumference", "mm tape"),
        "money": ("budget", "money"),
    }
    rows = []
    for role, (label, unit) in labels_.items():
        name = LIVE_INPUTS[role]
        term = terms.get(name) or terms[f"tyre_{name}"]
        value = _of_car(a, base, name)
        rows.append(
            {
                "role": role,
                "label": label,
                "value": value if math.isfinite(value) else None,
                "unit": unit,
                "low": term.low,
                "high": term.high,
            }
        )
    return tuple(rows)


def _row(
    a: Assessment,
    how: Draw,
    base: Result,
    at: int,
    build: int,
    numbers: dict[str, float],
    formulas: dict[str, str],
    stepped: list[str],
    nodes: list[Node],
    head: Row,
    best: bool,
) -> LiveRow:
    goes = np.nan_to_num(a.drawn.goes_fitted[build], nan=0.5) if a.draws else base.goes_in[at]
    goes = np.nan_to_num(np.asarray(goes, dtype=float), nan=0.5)
    weight = goes / goes.sum() if goes.sum() else np.full(len(goes), 1.0 / len(goes))
    drawn = a.drawn.worth[build].astype(float)
    worth = weight @ np.where(np.isnan(drawn), UNKNOWN_WORTH, drawn)
    by_name = dict(zip(a.engine.criteria, worth.tolist(), strict=True))
    cut = slice(1, None) if how.count else slice(None)
    pick = lambda name: base.pick(_value_of(base.names[name]))[at, cut]
    inside = np.nan_to_num(base.goes_in[at, cut], nan=0.5)
    rpm = pick(LIVE_RESULTS["rpm"])
    low, high, fall = numbers["low"], numbers["high"], numbers["fall"] / 100.0
    rpm_breaks = [low, high, low / (1 + fall), high * (1 + fall), numbers["most"]]
    nominal_pull = base.pick(_value_of(base.names[LIVE_RESULTS["pull"]]))[at, 0]
    pull_breaks = [-nominal_pull, numbers["full"] - nominal_pull]
    cost = base.total_cost[at, cut]
    mean = float(cost.mean()) or 1.0
    price = a.builds.price[build] + a.builds.part_price[build]
    unknown_price = bool(np.isnan(price))
    fails = 1.0 - goes
    kept = keep_scores(a)
    in_those = (
        float(fails @ kept / fails.sum())
        if fails.sum() and len(kept) == len(fails)
        else a.keep_value
    )
    lost = float(lost_points(a)[build] + a.keep_value - in_those) * _point(a)
    row = LiveRow(
        a.builds.candidate_name(build),
        a.builds.name(build),
        False,
        head["rank"] if best else 0,
        at,
        float(a.value[build]),
        OUTCOMES[a.outcome[build]],
        bool(a.waits[build]),
        bool(np.isnan(a.chance[build])),
        base.value(LIVE_RESULTS["gear"], at),
        spread_of(rpm, inside, rpm_breaks),
        spread_of(pick(LIVE_RESULTS["pull"]) - nominal_pull, inside, pull_breaks),
        spread_of(cost / mean, inside, [numbers["span"] * a.engine.budget / mean], 4),
        lost,
        0.0,
        (),
    )
    if unknown_price:
        share = UNKNOWN_PRICE * (1.0 - _resale(a))
        row = replace(row, waste=lost - share * a.engine.budget, waste_per_budget=share)
    nodes = _joined_to(
        nodes, a, build, goes, [by_name[c] for c in stepped], row.rpm, numbers["most"]
    )
    return replace(row, nodes=tuple(nodes), mean={c: by_name[c] for c in formulas.values()})


def _value_of(found: Any) -> Any:
    return found.value if hasattr(found, "works") else found


def _point(a: Assessment) -> float:
    point = a.engine.money_per_point
    return point if math.isfinite(point) else 0.0


def _resale(a: Assessment) -> float:
    found = a.car.values.get("policy_resale")
    return found.nominal if found else 0.5


def _joined_to(
    nodes: list[Node],
    a: Assessment,
    build: int,
    goes: Array,
    worth: list[float],
    rpm: Spread,
    most: float,
) -> list[Node]:
    """The nodes, with all draws of the assessment where nothing differs from the car's own gearing."""
    at = next(i for i, n in enumerate(nodes) if abs(n.scale - 1.0) < 1e-12)
    base = nodes[at]
    beyond = sum(s for v, s in zip(rpm.values, rpm.all, strict=True) if v > most)
    chance = float(goes.mean()) / (1.0 - beyond) if beyond < 1.0 else base.chance
    only = bool(a.plan_only[build])
    found = []
    for node in nodes:
        same = node.chance == base.chance
        mine = tuple(
            w if n == b else n for n, b, w in zip(node.worth, base.worth, worth, strict=True)
        )
        found.append(
            replace(
                node,
                chance=min(chance, 1.0) if same else node.chance,
                worth=mine,
                only=only if node.only == base.only else node.only,
            )
        )
    return found


def _keep_row(
    a: Assessment, tables: _Tables, formulas: dict[str, str], stepped: list[str], head: Row
) -> LiveRow:
    """Today's gearbox, as found, nominal, at no cost."""
    assert a.today is not None
    grid = np.unique(np.r_[np.geomspace(*SPAN, FINE), 1.0])
    keep = [a.engine.criteria.index(n) for n in stepped]

    def worth(scale: Array) -> Array:
        utility = tables.today_worth(scale)
        return np.where(np.isnan(utility), UNKNOWN_WORTH, utility)[:, keep]

    rows = worth(grid)
    at = np.flatnonzero((np.abs(rows[1:] - rows[:-1]) > 1e-9).any(axis=1))
    low, high, before = grid[at], grid[at + 1], rows[at]
    for _ in range(HALVINGS if len(at) else 0):
        middle = (low + high) / 2.0
        same = (np.abs(worth(middle) - before) < 1e-9).all(axis=1)
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    scale = np.unique(np.r_[grid[[0, -1]], 1.0, low, high])
    result = a.today.result
    utility = result.utility[0, 0][None] if a.keep_worth is None else a.keep_worth
    utility = np.where(np.isnan(utility), UNKNOWN_WORTH, utility).mean(axis=0)
    base = worth(np.ones(1))[0]
    nodes = [
        Node(float(s), 1.0, 0.0, True, tuple(np.where(w == base, utility[keep], w).tolist()))
        for s, w in zip(scale, worth(scale), strict=True)
    ]
    sure = np.ones(1)
    single = lambda name: spread_of(np.array([result.value(LIVE_RESULTS[name], 0)]), sure, [])
    by_name = dict(zip(a.engine.criteria, utility.tolist(), strict=True)) | {
        LIVE_CRITERIA["money"]: 1.0
    }
    none = Spread((0.0,), (1.0,), (1.0,))
    return LiveRow(
        head["candidate"],
        "",
        True,
        head["rank"],
        10_000,
        a.keep_value,
        head["outcome"],
        False,
        False,
        result.value(LIVE_RESULTS["gear"], 0),
        single("rpm"),
        none,
        none,
        0.0,
        0.0,
        tuple(nodes),
        {c: by_name[c] for c in formulas.values()},
    )
