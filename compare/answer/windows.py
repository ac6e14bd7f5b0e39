"""Windows: for every dimension of a build the stretch in which it goes in, and what ends it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.bench import Bench
from compare.answer.dimensions import DECISION, STEP, Dimension, dimensions
from compare.answer.sweep import Stretches, stretches
from compare.answer.typed import units_by_name
from compare.judge.rules import SEAT, SEAT_HANGS_ON, Rulebook
from compare.vocabulary import rule_inputs

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["matters", "windows"]

Array = np.ndarray
Row = dict[str, Any]


def matters(a: Assessment) -> set[str]:
    """Names of the dimensions on which a check that decides can hang, through the seat and the
    policy."""
    book = a.engine.book
    todo = [r.name for r, decides in zip(a.engine.checks, a.engine.decides, strict=True) if decides]
    found = {f"{book.rules[n].title}_{end}" for n in todo for end in ("clear", "tight")}
    found.add(STEP)
    base, seen = rule_inputs(), set()
    while todo:
        name = todo.pop()
        if name in seen:
            continue
        seen.add(name)
        if name in SEAT:
            todo += [*SEAT_HANGS_ON, *(r.name for r in book.of("seat_bound"))]
        elif name in book.rules:
            todo += book.rules[name].inputs
        else:
            found |= {name, *base.get(name, ())}
    return found | _settled(book, seen)


def _settled(book: Rulebook, seen: set[str]) -> set[str]:
    return {n for n in seen if n in SEAT or (n in book.rules and book.rules[n].settled)}


def hangs_on(name: str, found: set[str]) -> bool:
    """Whether a dimension is among the names found; stations and pairs go by their key."""
    if name.startswith("tunnel_") and name.rpartition("_")[2].isdigit():
        return "tunnel_stations" in found
    return name in found


def windows(a: Assessment, builds: Sequence[int] | Array) -> list[Row]:
    """The windows of every dimension of some builds, builds as listed, dimensions in the
    vocabulary's order.

    `low`, `high` are None where the range ends first. Where nothing within the range lets the build
    in,
    both are None and both `ended_…_by` name the check that is against it as it stands; `left_out`
    lists
    the checks that are open and were left out. Lengths in mm, angles in degrees.
    """
    rows = np.asarray(builds, dtype=int)
    if not len(rows):
        return []
    bench = Bench.nominal(a, rows)
    lines = [(at, d) for at, b in enumerate(rows.tolist()) for d in dimensions(a, b, bench)]
    able = matters(a)
    live = [i for i, (_, d) in enumerate(lines) if hangs_on(d.name, able)]
    goes, plan = _both(bench, [lines[i] for i in live])
    place = {i: k for k, i in enumerate(live)}
    units = units_by_name(a.engine.book)
    return [
        _row(bench, at, d, place.get(i, -1), goes, plan) | {"shown_unit": d.page_unit(units)}
        for i, (at, d) in enumerate(lines)
    ]


def _both(bench: Bench, lines: Sequence[tuple[int, Dimension]]) -> tuple[Stretches, Stretches]:
    """(where it goes in, where it does with the plan unchanged or a decision no deeper than
    planned)."""
    at = np.array([i for i, _ in lines], dtype=int)
    dims = [d for _, d in lines]
    decided = np.array([d.kind == DECISION for d in dims], dtype=bool)
    goes, plan = stretches(bench, at, dims, shallow=decided)
    given = np.flatnonzero(~decided)
    with_plan, _ = stretches(bench, at[given], [dims[i] for i in given], "plan")
    for name in Stretches.__dataclass_fields__:
        getattr(plan, name)[given] = getattr(with_plan, name)
    return goes, plan


def _row(bench: Bench, at: int, d: Dimension, place: int, goes: Stretches, plan: Stretches) -> Row:
    a, build = bench.a, int(bench.builds[at])
    low = high = plan_low = plan_high = math.nan
    low_by = high_by = None
    exists = True
    if place >= 0:
        low, high = float(goes.low[place]), float(goes.high[place])
        plan_low, plan_high = float(plan.low[place]), float(plan.high[place])
        low_by, high_by = (_title(bench, by[place]) for by in (goes.low_by, goes.high_by))
        exists = bool(goes.exists[place])
    if not exists or (place < 0 and not bench.goes_in[at]):
        low_by = high_by = bench.against(at)
    return {
        "candidate": a.builds.candidate_name(build), "build": a.builds.name(build), "of": d.of,
        "of_kind": d.kind, "dimension": d.name, "value": d.shown(d.value), "unit": d.unit,
        "low": d.shown(low), "high": d.shown(high),
        "ended_low_by": low_by, "ended_high_by": high_by,
        "plan_low": d.shown(plan_low), "plan_high": d.shown(plan_high),
        "doubts_to_edge": doubts_to_edge(d.value, d.half, low, high),
        "left_out": bench.open_checks(at),
    }  # fmt: skip


def _title(bench: Bench, place: float) -> str | None:
    return bench.deciding[int(place)].title if place >= 0 else None


def doubts_to_edge(value: float, half: float, low: float, high: float) -> float | None:
    """Distance to the nearest end in half-widths, negative outside; an end that is NaN is left out.

    >>> doubts_to_edge(84.0, 0.5, 77.0, 86.0), doubts_to_edge(75.0, 0.5, 77.0, float("nan"))
    (4.0, -4.0)
    """
    ends = [d for d in (value - low, high - value) if not math.isnan(d)]
    if not ends or math.isnan(half) or half <= 0:
        return None
    return round(min(ends) / half, 3)
