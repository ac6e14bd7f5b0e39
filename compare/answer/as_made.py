"""What was measured or made since: the log's last value of a dimension wins over the files.

Measured numbers replace those of catalogue, parts and profile. What is already made - a decision's
figure -
is kept apart, so that the job is judged as made so far.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

import numpy as np

from compare.judge.builds import Builds
from compare.judge.rules import SEAT, Rule
from compare.problems import InputError, Problem, did_you_mean, visible
from compare.read.car import Car
from compare.read.catalogue import Column, Table, mark_term
from compare.read.cells import Value
from compare.read.measured import like_dimension
from compare.vocabulary import (
    CAR_KEYS,
    DEFAULT_HALF_WIDTH,
    STATION_SIDES,
    Term,
    catalogue_terms,
)

__all__ = ["CAR", "Entry", "Made", "apply_measured"]

Array = np.ndarray
CAR = "car"
PRESENT = "gearbox."
# How a number comes into the log: with a tool in the hand.
SOURCE = "measured"


class Entry(Protocol):
    """One row of the log, in internal units; half is NaN where neither cell nor tool says it."""

    @property
    def on(self) -> str: ...
    @property
    def by(self) -> str: ...
    @property
    def of(self) -> str: ...
    @property
    def dimension(self) -> str: ...
    @property
    def value(self) -> float: ...
    @property
    def half(self) -> float: ...
    @property
    def line(self) -> int: ...
    @property
    def file(self) -> str: ...


@dataclass
class Made:
    """Decisions that are made already: name of the gearbox, or `car` for all -> decision ->
    figure."""

    figures: dict[str, dict[str, float]] = field(default_factory=dict)

    def and_then(self, since: Made) -> Made:
        """With what was made since; the later figure of a decision wins."""
        names = {*self.figures, *since.figures}
        return Made({n: self.figures.get(n, {}) | since.figures.get(n, {}) for n in names})

    def arrays(self, builds: Builds, rows: Array) -> dict[str, Array]:
        """For some builds decision -> figure `(rows, 1)`, NaN where it is not made yet."""
        names = sorted({n for one in self.figures.values() for n in one})
        found = {}
        for name in names:
            for_all = self.figures.get(CAR, {}).get(name, math.nan)
            mine = [
                self.figures.get(builds.candidate_name(int(b)), {}).get(name, for_all) for b in rows
            ]
            found[name] = np.array(mine, dtype=float).reshape(-1, 1)
        return found


def half_width(term: Term, half: float) -> float:
    """The doubt of a measured number [internal units]: as the log says, else that of a measured
    one."""
    if not math.isnan(half):
        return half
    kind = "length" if term.kind in ("pair", "stations") else term.kind
    defaults = DEFAULT_HALF_WIDTH.get(kind)
    if defaults is None or term.exact:
        return 0.0
    return math.radians(defaults[SOURCE]) if kind == "angle" else defaults[SOURCE]


def apply_measured(
    catalogue: Table,
    car: Car,
    parts: Table | None,
    entries: Sequence[Entry],
    decisions: Sequence[Rule],
) -> tuple[Table, Car, Table | None, Made]:
    """(catalogue, car, parts, what is made) with the log's last values; the given ones stay as they
    are.

    Raises InputError for a gearbox, part or dimension that does not exist.
    """
    log = _Log(_copied(catalogue), _car_copied(car), parts and _copied(parts), decisions)
    for entry in entries:
        log.take(entry)
    if log.problems:
        raise InputError(log.problems)
    return log.catalogue, log.car, log.parts, log.made


def _copied(table: Table) -> Table:
    copied = lambda columns: {
        name: Column(c.nominal.copy(), c.half.copy(), c.high.copy()) for name, c in columns.items()
    }
    return replace(table, columns=copied(table.columns), car_columns=copied(table.car_columns))


def _car_copied(car: Car) -> Car:
    return replace(
        car, values=dict(car.values), choices=dict(car.choices), pairs=dict(car.pairs),
        stations=[dict(s) for s in car.stations], present=dict(car.present),
        present_choices=dict(car.present_choices),
    )  # fmt: skip


class _Log:
    """The log being applied."""

    def __init__(
        self, catalogue: Table, car: Car, parts: Table | None, decisions: Sequence[Rule]
    ) -> None:
        self.catalogue, self.car, self.parts = catalogue, car, parts
        self.decisions = {*(r.name for r in decisions), *SEAT}
        self.keys: Mapping[str, Term] = {t.name: t for t in CAR_KEYS}
        self.keys = {**self.keys, **{f"{t.section}.{t.key}": t for t in CAR_KEYS}}
        self.made = Made()
        self.problems: list[Problem] = []

    def take(self, entry: Entry) -> None:
        of = entry.of.strip()
        if of.casefold() == CAR:
            self._of_car(entry)
            return
        for table in (self.catalogue, self.parts):
            at = _row(table, of) if table is not None else None
            if table is not None and at is not None:
                self._of_table(entry, table, at)
                return
        known = [*self.catalogue.names, *(self.parts.names if self.parts else ()), CAR]
        near = did_you_mean(of, known)
        fix = f"Did you mean {near}?" if near else "Type the name as in catalogue or parts, or car."
        self._problem(entry, f'there is nothing called "{visible(of)}".', fix)

    def _problem(self, entry: Entry, found: str, fix: str) -> None:
        self.problems.append(Problem(entry.file, found, fix, entry.line, visible(entry.of)))

    def _unknown(self, entry: Entry, known: Any) -> None:
        near = like_dimension(entry.dimension, known)
        fix = f"Did you mean {near}?" if near else "Type a column, a key of the car or a decision."
        self._problem(entry, f'"{visible(entry.dimension)}" is no dimension of it.', fix)

    def _of_table(self, entry: Entry, table: Table, at: int) -> None:
        """Where a plate may be chosen, its thickness is a column and, once made, a decision: the
        column."""
        name = entry.dimension
        term = catalogue_terms().get(name) or mark_term(name)
        if term is not None and term.kind != "text":
            blank = np.full(len(table), math.nan)
            column = table.columns.setdefault(name, Column(blank, blank.copy(), blank.copy()))
            column.nominal[at], column.high[at] = entry.value, math.nan
            column.half[at] = half_width(term, entry.half)
        elif name in self.keys and self.keys[name].name in table.car_columns:
            key = self.keys[name]
            column = table.car_columns[key.name]
            column.nominal[at], column.half[at] = entry.value, half_width(key, entry.half)
        elif name in self.decisions and table is self.catalogue:
            self.made.figures.setdefault(table.names[at], {})[name] = entry.value
        else:
            self._unknown(entry, [*catalogue_terms(), *sorted(self.decisions)])

    def _of_car(self, entry: Entry) -> None:
        name, car = entry.dimension, self.car
        present = name.removeprefix(PRESENT).removeprefix("present_")
        if name in self.decisions:
            self.made.figures.setdefault(CAR, {})[name] = entry.value
        elif present != name and present in catalogue_terms():
            term = catalogue_terms()[present]
            if term.kind == "choice":
                car.present_choices[present] = entry.value
            else:
                car.present[present] = Value(entry.value, half_width(term, entry.half))
        elif not (self._key(entry) or self._pair(entry) or self._station(entry)):
            self._unknown(entry, [*(n for n in self.keys if "." in n), *sorted(self.decisions)])

    def _key(self, entry: Entry) -> bool:
        term = self.keys.get(entry.dimension)
        if term is None or term.kind in (
            "text",
            "words",
            "names",
            "pair",
            "stations",
            "curve",
            "pieces",
            "tyre",
        ):
            return False
        if term.kind == "choice":
            self.car.choices[term.name] = entry.value
        else:
            self.car.values[term.name] = Value(entry.value, half_width(term, entry.half))
        return True

    def _pair(self, entry: Entry) -> bool:
        stem, _, suffix = entry.dimension.rpartition("_")
        term = self.keys.get(stem)
        if term is None or term.kind != "pair" or suffix not in ("start", "end"):
            return False
        value = Value(entry.value, half_width(term, entry.half))
        old = self.car.pairs.get(term.name, (value, value))
        self.car.pairs[term.name] = (value, old[1]) if suffix == "start" else (old[0], value)
        return True

    def _station(self, entry: Entry) -> bool:
        """`tunnel_top_3`: the top at the fourth station, counted from 0."""
        parts = entry.dimension.split("_")
        if len(parts) != 3 or parts[0] != "tunnel" or not parts[2].isdigit():
            return False
        side, number = parts[1], int(parts[2])
        if side not in (*STATION_SIDES, "x") or number >= len(self.car.stations):
            return False
        half = 0.0 if side == "x" else half_width(self.keys["tunnel_stations"], entry.half)
        self.car.stations[number][side] = Value(entry.value, half)
        return True


def _row(table: Table, name: str) -> int | None:
    folded = [n.casefold() for n in table.names]
    return folded.index(name.casefold()) if name.casefold() in folded else None
