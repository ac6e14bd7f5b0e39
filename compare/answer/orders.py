"""What is ordered of a machinist, from the plan's items: facts, one row a line of the order.

Which decisions are ordered, and how, is said in the topics (`ordering.order`); nothing here knows
one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from compare.answer.compare import Assessment
from compare.judge.draws import Draw
from compare.judge.engine import Result
from compare.judge.rules import Ask, Options, Reading
from compare.judge.settle import WithFigures
from compare.ordering import Cut, Order, orders_of
from compare.topics import all_topics
from compare.vocabulary import UNDO_STEPS

__all__ = ["order_rows", "part_name"]

Row = dict[str, Any]
# Parts of the gearbox by the words under which a parts file may sell them; parts that the car
# keeps.
SOLD_AS = {
    "input shaft": ("input shaft",), "gearbox tail": ("tail", "tail housing"), "release-bearing guide": ("front cover", "guide"),
    "adapter plate": ("adapter plate", "plate"), "clutch disc": ("disc", "clutch disc"),
}  # fmt: skip
OF_THE_CAR = (
    "crankshaft", "bellhousing", "engine brackets", "propeller shaft", "axle wedges", "crossmember",
    "tunnel", "tunnel cover",
)  # fmt: skip
MADE = ("pilot bush", "register ring", "slave bracket")


def part_name(a: Assessment, build: int, sort: str) -> str:
    """The part's own name: "Hawes short input shaft", else "Hawes 5: input shaft"; of the car, the
    car's.
    """
    builds = a.builds
    for kind, rows in builds.part.items():
        if builds.parts is not None and rows[build] >= 0 and kind in SOLD_AS.get(sort, ()):
            return builds.parts.names[rows[build]]
    if sort in OF_THE_CAR:
        return f"{a.car.name}: {sort}"
    return (
        f"{sort} for {builds.candidate_name(build)}"
        if sort in MADE
        else f"{builds.candidate_name(build)}: {sort}"
    )


def order_rows(a: Assessment, shown: Sequence[int], plan: Result | None = None) -> list[Row]:
    """Rows of the orders of some builds, in the sequence in which they are carried out.

    plan: the nominal run of the plan over `shown`, made where it is not handed in. `from`,
    `to_low`,
    `to_high` in `unit`, lengths and run-outs in mm, None where nothing is said; `step` is the undo
    step,
    `sequence` counts from 1, `measure_before` and `note` are sentences as data, `of` and
    `length_of` name the quantities that size and length make true.
    """
    if not len(shown):
        return []
    result = plan if plan is not None else a.run(shown, "plan")
    sure = _measured(a, shown)
    return [
        row for at in range(len(shown)) for row in _of_build(a, result, sure, int(shown[at]), at)
    ]


def _measured(a: Assessment, shown: Sequence[int]) -> Result:
    """The plan once more, what nobody measured left open: no order names the middle of a likely
    range.
    """
    rows = np.asarray(shown, dtype=int)
    names = a.names(rows, Draw(seed=a.seed, fill=False))
    return a.engine.run(names, (len(rows), 1), WithFigures(a.figures.of(rows)))


def _of_build(a: Assessment, plan: Result, sure: Result, build: int, at: int) -> list[Row]:
    done = {
        name: int(plan.pick(item.undo)[at, 0])
        for name, item in plan.items.items()
        if plan.pick(item.left)[at, 0]
    }
    rows: list[Row] = []
    for mine in orders_of(all_topics()):
        steps = [done[name] for name in mine.decisions if name in done]
        if not steps:
            continue
        for cut in mine.function(**{name: _number(a, sure, name, at) for name in mine.inputs}):
            rows.append(_row(a, build, mine, cut, UNDO_STEPS[max(steps)], len(rows) + 1))
    return rows


def _number(a: Assessment, plan: Result, name: str, at: int) -> Any:
    if name in a.engine.limits:
        return float(a.engine.limits[name])
    found = plan.names.get(name)
    if found is None or isinstance(found, Reading | Ask | Options | list):
        return plan.value(name, at)
    return _of_one(found, plan, at)


def _of_one(found: Any, plan: Result, at: int) -> Any:
    """What one build has: a float, an array along the trailing axis, or a tuple of them."""
    if isinstance(found, tuple):
        parts = [_of_one(part, plan, at) for part in found]
        return type(found)(*parts) if hasattr(found, "_fields") else tuple(parts)
    array = np.asarray(found, dtype=float)
    if array.ndim <= 2:
        return float(np.broadcast_to(array, plan.shape)[at, 0])
    return array[at if array.shape[0] > 1 else 0, 0]


def _known(number: float, digits: int = 4) -> float | None:
    return None if math.isnan(number) else round(number, digits) + 0.0


def _tolerance(tolerance: float | str | None) -> float | str | None:
    """As it is written; None where nothing is, or where the length is not known."""
    return _known(tolerance) if isinstance(tolerance, float) else tolerance or None


def _row(a: Assessment, build: int, mine: Order, cut: Cut, step: str, sequence: int) -> Row:
    return {
        "candidate": a.builds.candidate_name(build),
        "build": a.builds.name(build),
        "sequence": sequence,
        "operation": cut.operation,
        "on": part_name(a, build, cut.on),
        "datum": cut.datum or None,
        "from": _known(cut.was),
        "to_low": _known(cut.low),
        "to_high": _known(cut.high),
        "unit": cut.unit,
        "length": _known(cut.length),
        "length_tolerance": _tolerance(cut.length_tolerance),
        "runout": cut.runout,
        "finish": cut.finish or None,
        "undercut": cut.undercut or None,
        "material": cut.material or None,
        "measure_before": cut.measure_before or None,
        "note": cut.note or None,
        "step": step,
        "of": cut.of or None,
        "length_of": cut.length_of or None,
        "order": mine.name,
    }
