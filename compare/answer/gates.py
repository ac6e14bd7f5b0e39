"""Gates: before what cannot be undone, measure this; go on if it lies between these two; then cut
to that."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.bench import Bench, settled_places
from compare.answer.dimensions import Dimension
from compare.answer.sweep import stretches
from compare.judge.rules import SAME, Rule
from compare.judge.settle import TRY_FIRST
from compare.said import Said

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["gates"]

Array = np.ndarray
Row = dict[str, Any]
QUANTITY = "quantity"
# How far to either side a measured quantity is followed, by its unit; and how finely its slope is
# taken.
SPAN = {"mm": 80.0, "mm diameter": 15.0, "rad": math.radians(10.0), "deg": math.radians(10.0)}
NUDGE = 1e-3
ZERO = 1e-3  # mm or degrees: a line through nothing
STRAIGHT = 0.05  # mm or degrees off a straight line over two units


@dataclass(frozen=True)
class _Gate:
    """One decision before which something is measured. easier: the option to try before, −1 for
    none."""

    at: int
    rule: Rule
    quantity: Dimension
    easier: int = -1


def gates(a: Assessment, builds: Sequence[int] | Array) -> list[Row]:
    """A row per gate, in the order of work.

    low, high: where the build goes in with the earlier figures as planned, the later ones free and
    all
    else nominal, None where it does as far as one looks. then: {decision, quantity, sign,
    constant}, the
    figure being sign × quantity + constant [mm or degrees, as shown]; None where it is no straight
    line.
    For a choice low and high say where the shallower option works.
    """
    rows = np.asarray(builds, dtype=int)
    if not len(rows):
        return []
    bench = Bench.nominal(a, rows)
    found = [g for at in range(len(rows)) for g in _gates(bench, at)]
    if not found:
        return []
    fixed = _earlier(bench, found)
    goes, _ = stretches(
        bench, np.array([g.at for g in found]), [g.quantity for g in found], fixed=fixed
    )
    figures = _figures(bench, found, fixed)
    return [
        _row(bench, gate, goes.low[i], goes.high[i], figures[i])
        for i, gate in enumerate(found)
        if gate.easier < 0 or goes.exists[i]
    ]


def _gates(bench: Bench, at: int) -> list[_Gate]:
    """The decisions of a build's plan that need one."""
    found = []
    for rule in bench.a.engine.book.decisions:
        if not rule.gauge or rule.fitting:
            continue
        figure = bench.planned(rule.name, at)
        if math.isnan(figure):
            continue
        if rule.sort == "choice":
            easier = _easier(bench, rule, at, int(figure))
            if easier >= 0:
                found.append(_Gate(at, rule, _quantity(bench, rule, at), easier))
        elif abs(figure) > SAME and _irreversible_or_fitted(bench, rule, at):
            found.append(_Gate(at, rule, _quantity(bench, rule, at)))
    return [g for g in found if not math.isnan(g.quantity.value)]


def _irreversible_or_fitted(bench: Bench, rule: Rule, at: int) -> bool:
    return not rule.blind or bench.planned_undo(rule.name, at) > 0


def _easier(bench: Bench, rule: Rule, at: int, taken: int) -> int:
    """The best ranked of the options before the one taken that works often enough to be tried; −1
    for none."""
    shares = bench.a.figures.shares.get(rule.name)
    if not rule.blind or shares is None:
        return -1
    count = len(rule.options)
    ask = bench.plan.names[f"ask {rule.name}"]
    rank = np.arange(count) if ask.rank is None else ask.rank
    rank = np.broadcast_to(rank, (*bench.plan.shape, count))[at, 0]
    share = shares[int(bench.builds[at])]
    able = [i for i in range(count) if share[i] >= TRY_FIRST and rank[i] < rank[taken]]
    return min(able, key=lambda i: float(rank[i])) if able else -1


def _quantity(bench: Bench, rule: Rule, at: int) -> Dimension:
    value = bench.planned(rule.gauge, at)
    unit = bench.unit(rule.gauge)
    span = SPAN.get(unit, max(abs(value), 1.0))
    scale = math.pi / 180 if unit in ("rad", "deg") else 1.0
    shown = "deg" if unit == "rad" else unit
    return Dimension(
        rule.gauge, bench.a.builds.candidate_name(int(bench.builds[at])), QUANTITY, shown, value,
        value, 0.0, value - span, value + span, scale,
    )  # fmt: skip


def _earlier(bench: Bench, found: Sequence[_Gate]) -> dict[str, Array]:
    """Per gate the figures of the decisions before it, NaN for itself and those after it."""
    places = settled_places(bench.a)
    fixed = {}
    for name, place in places.items():
        before = np.array([place < places[g.rule.name] for g in found])
        figures = np.array([bench.planned(name, g.at) for g in found])
        if before.any():
            fixed[name] = np.where(before, figures, math.nan)
    for i, gate in enumerate(found):
        if gate.easier >= 0:
            own = fixed.setdefault(gate.rule.name, np.full(len(found), math.nan))
            own[i] = float(gate.easier)
    return fixed


def _figures(
    bench: Bench, found: Sequence[_Gate], fixed: dict[str, Array]
) -> list[tuple[float, float] | None]:
    """(sign, constant) of each decision's figure as a line of its quantity, in shown units; None
    for none.

    Straight is what stays so where the figure grows: the other way it ends at nothing done.
    """
    scale = np.array([g.quantity.scale for g in found])
    at = np.array([g.quantity.value for g in found]) / scale
    points = at[:, None] + np.array([-2.0, -1.0, -NUDGE, 0.0, NUDGE, 1.0, 2.0])
    moved = [{g.quantity.name: points[i] * scale[i]} for i, g in enumerate(found)]
    held = {name: figures[:, None] for name, figures in fixed.items()}
    result = bench.judge(np.array([g.at for g in found]), moved, points.shape[1], fixed=held).result
    lines: list[tuple[float, float] | None] = []
    for i, gate in enumerate(found):
        figure = result.pick(result.names[gate.rule.name])[i]
        figure = figure / (math.pi / 180 if gate.rule.unit == "rad" else 1.0)
        slope = (figure[4] - figure[2]) / (2.0 * NUDGE)
        grown = figure[[3, 5, 6]] if slope >= 0 else figure[[3, 1, 0]]
        bent = np.abs(grown - grown[0] - abs(slope) * np.arange(3)).max()
        straight = math.isfinite(slope) and bent <= STRAIGHT
        if gate.rule.sort == "choice" or not straight:
            lines.append(None)
        else:
            lines.append((round(float(slope), 4) + 0.0, float(figure[3] - slope * at[i])))
    return lines


def _row(
    bench: Bench, gate: _Gate, low: float, high: float, line: tuple[float, float] | None
) -> Row:
    build, shown = int(bench.builds[gate.at]), gate.quantity.shown
    then = None
    if line is not None:
        then = {"decision": gate.rule.name, "quantity": gate.quantity.name, "sign": line[0],
                "constant": round(line[1], 4)}  # fmt: skip
    row = {
        "candidate": bench.a.builds.candidate_name(build), "build": bench.a.builds.name(build),
        "before": gate.rule.name, "measure": gate.quantity.name, "low": shown(low),
        "high": shown(high), "unit": gate.quantity.unit, "then": then,
        "when": gate.rule.when,
    }  # fmt: skip
    return row | {"text": _said(gate, row)}


def _said(gate: _Gate, row: Row) -> Said:
    """One sentence: what to measure, where to go on, and what is then done.

    A figure is a line of what was measured; it is told by where the line is nothing.
    """
    name = gate.quantity.name.replace("_", " ")
    between, values = span_said(row["low"], row["high"], gate.quantity.unit)
    if gate.easier >= 0:
        values["option"] = gate.rule.options[gate.easier].name
        where = f"where it is {between}" if between else "whatever it is"
        return Said(f"measure {name}; {where}, try this first: {{option}}", values)
    told = f"measure {name}; " + (f"only if it is {between}, " if between else "then ")
    told += f"{gate.rule.meaning[0].lower()}{gate.rule.meaning[1:]}"
    if row["then"] is None:
        return Said(told, values)
    sign, constant = row["then"]["sign"], row["then"]["constant"]
    figure, at = figure_said(sign, constant)
    if at is not None:
        values["zero"] = at, gate.quantity.unit if sign else _unit(gate.rule)
    return Said(f"{told}: {figure}", values)


def _unit(rule: Rule) -> str:
    return "deg" if rule.unit == "rad" else rule.unit


def figure_said(sign: float, constant: float) -> tuple[str, float | None]:
    """A figure of sign × what was measured + constant in words, and the number that they name.

    >>> figure_said(1.0, 0.0), figure_said(0.5, -8.5)
    (('as much as was measured', None), ('half of what it is over {zero}', 17.0))
    >>> figure_said(-1.0, 6.0), figure_said(0.0, 3.0)
    (('what it is short of {zero}', 6.0), ('{zero}, whatever was measured', 3.0))
    """
    if not sign:
        return "{zero}, whatever was measured", constant
    share = {1.0: "", 0.5: "half of "}.get(round(abs(sign), 3), f"{abs(sign):.3g} × ")
    zero = round(-constant / sign, 4) + 0.0
    if sign > 0 and abs(zero) < ZERO:
        return f"{share}{'what' if share else 'as much as'} was measured", None
    return f"{share}what it is {'over' if sign > 0 else 'short of'} {{zero}}", zero


def span_said(low: float | None, high: float | None, unit: str) -> tuple[str, dict[str, Any]]:
    """A template for two ends, "" where there is neither, and its values.

    >>> span_said(None, 158.0, "mm")
    ('at most {high}', {'high': (158.0, 'mm')})
    """
    values: dict[str, Any] = {
        k: (v, unit) for k, v in (("low", low), ("high", high)) if v is not None
    }
    if len(values) == 2:
        return "between {low} and {high}", values
    return "at least {low}" if low is not None else "at most {high}" if values else "", values
