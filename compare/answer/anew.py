"""The ranking worked out anew for other weights, speed, axle, tyre and budget: the What-if sheet's
sums.

The sheet does the same by formulas; what stands beside its formulas as computed comes from here.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from compare.answer.live import Live, LiveRow, Node

__all__ = [
    "LAST",
    "Anew",
    "at_scale",
    "beyond_redline",
    "factors",
    "inputs_of",
    "standing_of",
    "torque",
    "work_out",
    "worth_by_formula",
]


LAST = 1000.0  # points: more than any two values lie apart


@dataclass(frozen=True)
class Anew:
    """One row: engine speed, the share that goes in, cost, worth by criterion, and what follows."""

    candidate: str
    rpm: float
    torque: float
    pull: float
    chance: float
    cost: float
    worth: dict[str, float]
    score: float
    failing: float
    value: float
    outcome: str
    best: bool = True
    rank: int = 0


def inputs_of(live: Live) -> dict[str, float]:
    """The inputs as sent, by role; NaN where not known."""
    return {r["role"]: math.nan if r["value"] is None else r["value"] for r in live.inputs}


def at_scale(nodes: Sequence[Node], scale: float) -> Node:
    """The node at a scale: straight lines between those that are tabulated.

    >>> ends = Node(1.0, 0.0, 10.0, True, (0.5,)), Node(2.0, 1.0, 20.0, False, (1.0,))
    >>> at_scale(ends, 1.5)
    Node(scale=1.5, chance=0.5, cost=15.0, only=True, worth=(0.75,))
    """
    scale = min(max(scale, nodes[0].scale), nodes[-1].scale)
    low = max(i for i, n in enumerate(nodes) if n.scale <= scale)
    a, b = nodes[low], nodes[min(low + 1, len(nodes) - 1)]
    part = (scale - a.scale) / (b.scale - a.scale) if b.scale > a.scale else 0.0
    mix = lambda x, y: x + (y - x) * part
    worth = tuple(mix(x, y) for x, y in zip(a.worth, b.worth, strict=True))
    return Node(scale, mix(a.chance, b.chance), mix(a.cost, b.cost), a.only, worth)


def torque(curve: Sequence[tuple[float, float]], rpm: float) -> float:
    """Torque [N·m] at rpm [rev/min], the curve's end beyond it: how much lies beyond is counted apart.

    >>> torque(((1000.0, 80.0), (2000.0, 90.0)), 1500.0)
    85.0
    """
    if not curve or math.isnan(rpm):
        return math.nan
    rpm = min(max(rpm, curve[0][0]), curve[-1][0])
    for (x, y), (x2, y2) in itertools.pairwise(curve):
        if x <= rpm <= x2:
            return y + (y2 - y) * (rpm - x) / (x2 - x)
    return math.nan


def _clip(x: float) -> float:
    return min(max(x, 0.0), 1.0)


def _pull(live: Live, row: LiveRow, now: Mapping[str, float], torque_: float) -> float:
    """Gradient [%] that top gear holds, nominal (the sums of road load)."""
    n = live.numbers
    speed = now["speed"] / 3.6
    force = torque_ * row.gear * now["axle"] * n["efficiency"] * 2 * math.pi / (now["tyre"] / 1000)
    force -= 0.5 * n["air"] * n["drag"] * n["area"] * speed**2
    share = force / (n["mass"] * n["gravity"] * math.sqrt(1 + n["rolling"] ** 2))
    if math.isnan(share):
        return math.nan
    return 100 * math.tan(math.asin(min(max(share, -0.999), 0.999)) - math.atan(n["rolling"]))


def worth_by_formula(
    live: Live, row: LiveRow, now: Mapping[str, float], cost: float, factor: float
) -> dict[str, float]:
    """Worth by formula of engine speed, pull and money, before `rest` is added."""
    n, half = live.numbers, live.numbers["half"]
    found = {}
    if "window" in live.formulas:
        total = half * row.rpm.unknown
        for value, share in zip(row.rpm.values, row.rpm.inside, strict=True):
            rpm = value * factor
            outside = 100 * max(n["low"] / rpm - 1, rpm / n["high"] - 1, 0.0)
            total += share * _clip(1 - outside / n["fall"])
        found[live.formulas["window"]] = total
    if "pull" in live.formulas:
        middle = _pull(
            live,
            row,
            now,
            torque(live.curve, now["speed"] * 1e6 / 60 / now["tyre"] * now["axle"] * row.gear),
        )
        beyond = sum(
            share
            for value, share in zip(row.rpm.values, row.rpm.inside, strict=True)
            if not live.curve[0][0] <= value * factor <= live.curve[-1][0]
        )
        inside = sum(
            share * _clip((middle + value) / n["full"])
            for value, share in zip(row.pull.values, row.pull.inside, strict=True)
        )
        known = 1 - row.pull.unknown
        total = (
            half
            if math.isnan(middle) or not known
            else half * (1 - known * (1 - beyond)) + (1 - beyond) * inside
        )
        found[live.formulas["pull"]] = total
    most = n["span"] * _budget(live, now)
    total = half * row.cost.unknown
    for value, share in zip(row.cost.values, row.cost.inside, strict=True):
        total += share * max(0.0, 1 - cost * value / most)
    found[live.formulas["money"]] = 1.0 if row.keep else (half if math.isnan(cost) else total)
    return found


def _budget(live: Live, now: Mapping[str, float]) -> float:
    return now["money"] if math.isfinite(now["money"]) else live.numbers["assumed"]


def work_out(live: Live, given: Mapping[str, float], weights: Mapping[str, float]) -> list[Anew]:
    """Every row anew, in the order of `live.rows`; given: inputs by role, the others as sent."""
    sent = inputs_of(live)
    now = sent | dict(given)
    total = sum(weights[c] for c in live.criteria)
    share = {c: weights[c] / total for c in live.criteria}
    today: Anew | None = None
    found: list[Anew] = []
    for row in sorted(
        live.rows, key=lambda r: not r.keep
    ):  # today's first: it says what failing costs
        one = _one(live, row, sent, now, share, today)
        today = one if row.keep else today
        found.append(one)
    by_row = {
        id(row): one
        for row, one in zip(sorted(live.rows, key=lambda r: not r.keep), found, strict=True)
    }
    return _ranked(live, [by_row[id(row)] for row in live.rows])


def standing_of(value: float, ruled_out: bool) -> float:
    """By which the best build of a candidate is chosen: its value, builds that are ruled out last.

    >>> standing_of(80.0, False), standing_of(80.0, True)
    (80.0, -920.0)
    """
    return round(value, 6) - (LAST if ruled_out else 0.0)


def _ranked(live: Live, found: list[Anew]) -> list[Anew]:
    """Each candidate by its best build, one that is ruled out last; ranks by value, equals as they were sent."""
    place = lambda i: (-round(found[i].value, 6), live.rows[i].order)
    before = lambda i, j: place(i) < place(j)
    stands = lambda i: (
        -standing_of(found[i].value, found[i].outcome == live.outcomes[3]), live.rows[i].order
    )  # fmt: skip
    every = range(len(found))
    best = [
        not any(found[j].candidate == found[i].candidate and stands(j) < stands(i) for j in every)
        for i in every
    ]
    rank = lambda i: 1 + sum(best[j] and before(j, i) for j in every) if best[i] else 0
    return [replace(found[i], best=best[i], rank=rank(i)) for i in every]


def factors(sent: Mapping[str, float], now: Mapping[str, float]) -> tuple[float, float]:
    """(axle over tyre, engine speed) as multiples of those sent; 1 where not known."""
    gearing = now["axle"] / now["tyre"] / (sent["axle"] / sent["tyre"])
    gearing = gearing if math.isfinite(gearing) else 1.0
    rpm = gearing * now["speed"] / sent["speed"]
    return gearing, rpm if math.isfinite(rpm) else 1.0


def _one(
    live: Live,
    row: LiveRow,
    sent: Mapping[str, float],
    now: Mapping[str, float],
    share: Mapping[str, float],
    today: Anew | None,
) -> Anew:
    gearing, factor = factors(sent, now)
    node = at_scale(row.nodes, gearing)
    base = at_scale(row.nodes, 1.0)
    stepped = [c for c in live.criteria if c not in live.formulas.values()]
    worth = dict(zip(stepped, node.worth, strict=True))
    first = worth_by_formula(live, row, sent, base.cost, 1.0)
    for name, value in worth_by_formula(live, row, now, node.cost, factor).items():
        worth[name] = _clip(value + row.mean[name] - first[name])
    score = 100 * sum(share[c] * worth[c] for c in live.criteria)
    rpm = now["speed"] * 1e6 / 60 / now["tyre"] * now["axle"] * row.gear
    if row.keep:
        turns = torque(live.curve, rpm)
        return Anew(
            row.candidate,
            rpm,
            turns,
            _safe_pull(live, row, now, turns),
            1.0,
            0.0,
            worth,
            score,
            score,
            score,
            row.outcome,
        )
    over = beyond_redline(live, row, rpm, factor, today)
    keep = today.value if today else 0.0
    chance = node.chance * (1.0 - over)
    money = share[live.formulas["money"]]
    budget = _budget(live, now)
    point = live.numbers["span"] * budget / (100 * money) if money else math.inf
    failing = keep - (row.waste + row.waste_per_budget * budget) / point
    value = chance * score + (1 - chance) * failing
    turns = torque(live.curve, rpm)
    return Anew(
        row.candidate,
        rpm,
        turns,
        _safe_pull(live, row, now, turns),
        chance,
        node.cost,
        worth,
        score,
        failing,
        value,
        _outcome(live, row, node, chance),
    )


def beyond_redline(
    live: Live, row: LiveRow, rpm: float, factor: float, today: Anew | None
) -> float:
    """Share of the draws beyond the redline at cruise; none where today's gearbox turns as fast."""
    most = live.numbers["most"]
    if today is not None and today.rpm > most and rpm <= today.rpm:
        return 0.0
    return sum(s for v, s in zip(row.rpm.values, row.rpm.all, strict=True) if v * factor > most)


def _safe_pull(live: Live, row: LiveRow, now: Mapping[str, float], turns: float) -> float:
    return _pull(live, row, now, turns) if "pull" in live.formulas else math.nan


def _outcome(live: Live, row: LiveRow, node: Node, chance: float) -> str:
    """The label, by the one rule of `judge.outcome`, from the chance."""
    bolts, goes, measure, out = live.outcomes
    if row.open:
        return measure
    if chance < live.numbers["hopeless"]:
        return out
    if chance < live.numbers["sure"] - 1e-12 or row.waits:
        return measure
    return bolts if node.only else goes
