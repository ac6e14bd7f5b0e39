"""All that a build costs, counted and shown apart; the rows of a build sum to what the plan costs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from compare.answer.compare import Assessment
from compare.judge.engine import OWN_RATE, Item, Result
from compare.topics.money import KIND_OF, OTHER

__all__ = ["NOT_KNOWN", "money_rows"]

Row = dict[str, Any]
NOT_KNOWN = "not known"
OWN, OUT = "own hours", "work sent out"


def money_rows(a: Assessment, shown: Sequence[int], plan: Result | None = None) -> list[Row]:
    """Rows (kind, what, cost, hours, note) of some builds: gearbox, parts, material by kind, own
    hours, work sent out.

    cost is in `currency` as the profile names it (None: not named), None where it is not known;
    hours None where
    none are meant. plan: the nominal run of the plan over `shown`, made where it is not handed in.
    """
    if not len(shown):
        return []
    result = plan if plan is not None else a.run(shown, "plan")
    return [row for at in range(len(shown)) for row in _of_build(a, result, int(shown[at]), at)]


def _of_build(a: Assessment, plan: Result, build: int, at: int) -> list[Row]:
    head = {
        "candidate": a.builds.candidate_name(build), "build": a.builds.name(build),
        "currency": a.car.texts.get("policy_currency"),
    }  # fmt: skip
    rows = [_bought("gearbox", a.builds.candidate_name(build), float(a.builds.price[build]))]
    rows += _parts(a, build)
    done = [item for item in plan.items.values() if plan.pick(item.left)[at, 0]]
    for item in done:
        rows += _material(plan, item, at)
    for kind, owned in ((OWN, True), (OUT, False)):
        rows += [r for item in done if item.owned is owned for r in _work(a, plan, item, at, kind)]
    return [head | row for row in rows]


def _row(kind: str, what: str, cost: float, hours: float | None = None, note: str = "") -> Row:
    known = math.isfinite(cost)
    return {
        "kind": kind, "what": what, "cost": round(cost, 2) + 0.0 if known else None,
        "hours": None if hours is None else round(hours, 2), "note": note if known else note or NOT_KNOWN,
    }  # fmt: skip


def _bought(kind: str, what: str, price: float) -> Row:
    note = "" if math.isfinite(price) else "price not known: ask; the sum is not known without it"
    return _row(kind, what, price, note=note)


def _parts(a: Assessment, build: int) -> list[Row]:
    builds, rows = a.builds, []
    if builds.parts is None:
        return []
    prices = builds.parts.columns.get("price")
    for kind, chosen in builds.part.items():
        at = int(chosen[build])
        if at >= 0:
            price = math.nan if prices is None else float(prices.nominal[at])
            rows.append(_bought("parts", f"{builds.parts.names[at]} ({kind})", price))
    return rows


def _rate(plan: Result, item: Item, at: int) -> float:
    name = "workshop_rate" if item.owned else "workshop_outside_rate"
    rate = float(np.broadcast_to(plan.names[name], plan.shape)[at, 0])
    return OWN_RATE if item.owned and math.isnan(rate) else rate


def _operation(item: Item) -> str:
    return item.option.operation if item.option else item.rule.meaning


def _labour(plan: Result, item: Item, at: int) -> float:
    hours = float(plan.pick(item.hours)[at, 0])
    return hours * _rate(plan, item, at) if hours else 0.0


def _material(plan: Result, item: Item, at: int) -> list[Row]:
    cost = float(plan.pick(item.cost)[at, 0]) - _labour(plan, item, at)
    if cost == cost and abs(cost) < 0.005:
        return []
    on = (item.option.on if item.option else "") or item.rule.on
    return [_row(KIND_OF.get(on, OTHER), _operation(item), cost)]


def _work(a: Assessment, plan: Result, item: Item, at: int, kind: str) -> list[Row]:
    hours = float(plan.pick(item.hours)[at, 0])
    if not hours:
        return []
    stated = a.car.values.get("workshop_rate" if item.owned else "workshop_outside_rate")
    note = f"{_rate(plan, item, at):g} an hour" + ("" if stated else ", assumed")
    if not item.owned and item.tool != "sent out":
        note += f"; no {item.tool} of your own"
    return [_row(kind, _operation(item), _labour(plan, item, at), hours, note)]
