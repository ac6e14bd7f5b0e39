"""Every dimension of a build: what a sweep can move.

A dimension is a column of the gearbox or of a part, a key of the car, a limit or a number of the
owner's
policy, or a decision. Where each lives in the arrays, the bench knows.
"""

from __future__ import annotations

import math
from collections.abc import Container, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from compare.judge.draws import STATION, bounds_of, car_doubt, car_source, scale_of
from compare.judge.rules import SEAT, AtLeast, AtMost
from compare.vocabulary import (
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    DECISION_RANGE,
    SEAT_RANGE,
    STATION_SIDES,
    UNDO_STEPS,
    Term,
    car_terms_by_name,
)

if TYPE_CHECKING:
    from compare.answer.bench import Bench
    from compare.answer.compare import Assessment

__all__ = ["Dimension", "dimensions"]

Array = np.ndarray
GEARBOX, PART, CAR, POLICY, DECISION = "gearbox", "part", "car", "policy", "decision"
NOT_SWEPT = (
    "text",
    "choice",
    "flag",
    "words",
    "names",
    "tyre",
    "curve",
    "stations",
    "pieces",
    "pair",
    "counts",
)
# Prices of work go into the seat's choice as numbers of the engine, not as arrays: not swept.
PRICES = ("workshop_rate", "workshop_outside_rate")
PAIR_ENDS = ("start", "end")
STEP = "policy_deepest_cut"
PLATE, SHIFT = SEAT
LENGTHS = ("mm", "mm diameter")
APART, BEYOND = 1.0, 500.0  # mm between stations at least, and beyond the last of them at most
FINE, PARTS = 0.05, 2000.0  # mm; parts of the range where it is no length
LIMIT_SPAN = 4.0  # a limit is swept up to so many times its default


@dataclass(frozen=True)
class Dimension:
    """One number of one build, in internal units.

    value: as it stands, NaN where not known; stands: where it stands in sums (the middle of its
    likely
    range where not known). low, high: what is possible. scale: internal units per shown one.
    """

    name: str
    of: str
    kind: str
    unit: str
    value: float
    stands: float
    half: float
    low: float
    high: float
    scale: float = 1.0
    whole: bool = False

    @property
    def fine(self) -> float:
        """How finely its windows are resolved [internal units]."""
        if self.whole:
            return 1.0
        return FINE if self.unit in LENGTHS else (self.high - self.low) / PARTS

    def page_unit(self, units: Mapping[str, str]) -> str:
        """Its unit on pages; units: what `units_by_name` gives. A station is measured by a tape."""
        return units.get(self.name, "mm tape") if self.unit in LENGTHS else self.unit

    def shown(self, value: float) -> float | None:
        """A value as pages and JSON show it; None where there is none."""
        if not math.isfinite(value):
            return None
        return round(value / self.scale) if self.whole else round(value / self.scale, 6)


def _of_term(
    term: Term, name: str, of: str, kind: str, value: float, stands: float, half: float
) -> Dimension:
    low, high = bounds_of(term)
    low, high = min(max(low, -1e6), stands), max(min(high, 1e6), stands)
    return Dimension(
        name,
        of,
        kind,
        term.unit,
        value,
        stands,
        half,
        low,
        high,
        scale_of(term),
        term.kind == "count",
    )


def dimensions(
    a: Assessment, build: int, bench: Bench, only: Container[str] | None = None
) -> list[Dimension]:
    """All dimensions of a build that can be swept, or those of `only`, decisions left out then."""
    given = [*_columns(a, build, bench), *(_of_part(a, build, d) or d for d in bench.shared)]
    if only is not None:
        return [d for d in given if d.name in only]
    return [*given, *_decisions(a, build, bench)]


def shared_dimensions(bench: Bench) -> list[Dimension]:
    """The dimensions of the car and of the owner's policy: for all builds the same, but for parts."""
    a = bench.a
    return [*_keys(a, bench), *_stations(a), *_limits(a)]


def _of_part(a: Assessment, build: int, dim: Dimension) -> Dimension | None:
    """A key of the car as the part of a build has it that replaces it; None where none does."""
    column = a.builds.car_columns.get(dim.name)
    if column is None or math.isnan(column.nominal[build]):
        return None
    value, half = float(column.nominal[build]), float(column.half[build])
    of = a.builds.owner_label(dim.name, build)
    term = car_terms_by_name()[dim.name]
    return _of_term(term, dim.name, of, PART, value, value, half)


def _columns(a: Assessment, build: int, bench: Bench) -> list[Dimension]:
    found = []
    names = bench.nominal_names(build)
    for term in CATALOGUE_COLUMNS:
        if term.kind in NOT_SWEPT or term.name in ("source", "mass"):
            continue
        if term.name == "price":
            of, value, half = a.builds.candidate_name(build), float(a.builds.price[build]), 0.0
            kind = GEARBOX
        else:
            column = a.builds.columns[term.name]
            if term.name == PLATE and bench.free_plate[bench.builds == build].any():
                continue  # free to choose: the decision is swept
            value, half = float(column.nominal[build]), float(column.half[build])
            of = a.builds.owner_label(term.name, build)
            kind = PART if a.builds.owner[term.name][build] < 0 else GEARBOX
        stands = names[term.name]
        if not math.isnan(stands):
            found.append(_of_term(term, term.name, of, kind, value, stands, half))
    return found


def _keys(a: Assessment, bench: Bench) -> list[Dimension]:
    found, source = [], car_source(a.car)
    for term in CAR_KEYS:
        if term.kind == "pair" and term.name in a.car.pairs:
            for end, suffix in zip(a.car.pairs[term.name], PAIR_ENDS, strict=True):
                half = car_doubt(term, end, source)
                name = f"{term.name}_{suffix}"
                found.append(_of_term(term, name, "car", CAR, end.nominal, end.nominal, half))
            continue
        if term.name == STEP:
            found.append(_step(a))
        if term.kind in NOT_SWEPT or term.name in PRICES or term.free_choice:
            continue
        stands = float(np.ravel(bench.car.get(term.name, np.array(math.nan)))[0])
        if not math.isfinite(stands):
            continue
        given = a.car.values.get(term.name)
        value = given.nominal if given else math.nan
        half = car_doubt(term, given, source) if given else math.nan
        kind = POLICY if term.section == "policy" else CAR
        found.append(_of_term(term, term.name, "car", kind, value, stands, half))
    return found


def _step(a: Assessment) -> Dimension:
    deepest = float(a.engine.deepest)
    most = float(len(UNDO_STEPS) - 1)
    return Dimension(STEP, "car", POLICY, "undo step", deepest, deepest, 0.0, 0.0, most, whole=True)


def _stations(a: Assessment) -> list[Dimension]:
    """Each side that was measured, and where: a station stays between its neighbours."""
    found, source = [], car_source(a.car)
    xs = [s["x"].nominal for s in a.car.stations]
    for number, station in enumerate(a.car.stations):
        low = xs[number - 1] + APART if number else xs[0] - BEYOND
        high = xs[number + 1] - APART if number + 1 < len(xs) else xs[-1] + BEYOND
        x, name = xs[number], f"tunnel_x_{number}"
        found.append(Dimension(name, "car", CAR, "mm", x, x, 0.0, min(low, x), max(high, x)))
        for side in STATION_SIDES:
            if side in station:
                value = station[side]
                half = car_doubt(STATION, value, source)
                name = f"tunnel_{side}_{number}"
                found.append(
                    _of_term(STATION, name, "car", CAR, value.nominal, value.nominal, half)
                )
    return found


def _limits(a: Assessment) -> list[Dimension]:
    """Limits of the owner's; tight stays no stricter than clear."""
    found = []
    ends = {name: _limit_range(a, name) for name in a.engine.limits}
    for rule in a.engine.checks:
        if isinstance(rule.limit, AtLeast | AtMost):
            names = f"{rule.title}_tight", f"{rule.title}_clear"
            lesser, greater = names if isinstance(rule.limit, AtLeast) else names[::-1]
            ends[lesser] = (ends[lesser][0], a.engine.limits[greater])
            ends[greater] = (a.engine.limits[lesser], ends[greater][1])
    for name, (low, high) in ends.items():
        value, unit = float(a.engine.limits[name]), a.engine.book.limits[name].unit
        found.append(Dimension(name, "car", POLICY, unit, value, value, 0.0, low, high))
    return found


def _limit_range(a: Assessment, name: str) -> tuple[float, float]:
    value, usual = float(a.engine.limits[name]), a.engine.book.limits[name].default
    span = LIMIT_SPAN * max(abs(usual), 1.0)
    return min(0.0 if usual >= 0 else -span, value), max(span, value)


def _decisions(a: Assessment, build: int, bench: Bench) -> list[Dimension]:
    found, name = [], a.builds.candidate_name(build)
    at = int(np.flatnonzero(bench.builds == build)[0])
    seat = [n for n in SEAT_RANGE if n != PLATE or bench.free_plate[at]]
    for decision in seat:
        low, high = SEAT_RANGE[decision]
        found.append(_figure(decision, name, "mm", bench.planned(decision, at), low, high, 1.0))
    for rule in a.engine.book.decisions:
        if rule.sort == "decision" and rule.unit in DECISION_RANGE and not rule.fitting:
            scale = math.pi / 180 if rule.unit == "rad" else 1.0
            low, high = (end * scale for end in DECISION_RANGE[rule.unit])
            unit = "deg" if rule.unit == "rad" else rule.unit
            found.append(
                _figure(rule.name, name, unit, bench.planned(rule.name, at), low, high, scale)
            )
    return [d for d in found if not math.isnan(d.value)]


def _figure(
    name: str, of: str, unit: str, value: float, low: float, high: float, scale: float
) -> Dimension:
    low, high = min(low, value), max(high, value)
    return Dimension(name, of, DECISION, unit, value, value, 0.0, low, high, scale)
