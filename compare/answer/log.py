"""The measured log as entries that the comparison takes in: names as codes, numbers in internal
units.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from compare.answer.as_made import apply_measured
from compare.judge.rules import Rulebook
from compare.problems import InputError, Problem, visible
from compare.read.car import Car, load_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.read.cells import Value
from compare.read.measured import CAR, Log, append, load_measured, one_row
from compare.read.sheet import has_rows
from compare.topics import all_topics
from compare.vocabulary import CAR_KEYS, Term, catalogue_terms

__all__ = ["Taken", "decision_units", "note", "read_log", "taken"]


@dataclass(frozen=True)
class Taken:
    """One row of the log; half is NaN where neither the cell nor its tool says it; typed: its value
    as it stands.
    """

    on: str
    by: str
    of: str
    dimension: str
    value: float
    half: float
    line: int
    typed: str = ""
    file: str = "measured.csv"


def decision_units() -> dict[str, str]:
    """Decisions that a log may name as carried out, with their units: those with a figure."""
    book = Rulebook.from_topics(all_topics())
    found = {r.name: r.unit.removesuffix(" diameter") for r in book.of("decision") if r.unit}
    return found | {"adapter_thickness": "mm", "engine_shift": "mm"}


def read_log(path: str) -> list[Taken]:
    """The log's rows in their order. Raises InputError with every problem."""
    log = load_measured(path, decision_units())
    return taken(log)


def taken(log: Log) -> list[Taken]:
    """A log's entries as the comparison takes them. Raises InputError for what it cannot take."""
    keys = {f"{t.section}.{t.key}": t for t in CAR_KEYS}
    terms: dict[str, Term] = {**catalogue_terms(), **keys}
    found, problems = [], []
    typed = {reading["line"]: reading["typed"] for reading in log.readings}
    for entry in log.entries:
        of_car = entry.of.casefold() == CAR
        term = terms.get(entry.dimension.removeprefix("gearbox.") if of_car else entry.dimension)
        value, half = math.nan, math.nan
        if isinstance(entry.value, Value):
            value, half = entry.value.nominal, entry.value.half
        elif isinstance(entry.value, str) and term is not None and term.choices:
            codes = {c: float(i) for i, c in enumerate(term.choices)}
            value = codes.get(entry.value, float(len(term.choices)))
        elif entry.value is not None or of_car:
            what = f'"{visible(entry.dimension)}" is not taken from the log.'
            problems.append(
                Problem(
                    log.file, what, "Type it into the file itself.", entry.line, visible(entry.of)
                )
            )
            continue
        shown = typed.get(entry.line, "")
        found.append(
            Taken(
                entry.on,
                entry.by,
                entry.of,
                entry.dimension,
                value,
                half,
                entry.line,
                shown,
                log.file,
            )
        )
    if problems:
        raise InputError(problems)
    return found


def note(
    path: str | Path,
    row: Mapping[str, str],
    today: date,
    catalogue: str | Path | None = None,
    parts: str | Path | None = None,
    car: str | Path | None = None,
) -> None:
    """Append one row to a log, once it is sure that a comparison can take it.

    The gearbox or part is looked for in `catalogue` and `parts`; without a catalogue only dimension
    and value are looked at. Raises InputError, and then nothing is written.
    """
    problems = _date_problems(str(path), row.get("on", ""), today)
    try:
        entries = taken(one_row(path, row, decision_units()))
        if catalogue is not None:
            apply_measured(
                load_catalogue(catalogue),
                load_car(car) if car is not None else Car("", ""),
                load_parts(parts) if parts is not None and has_rows(Path(parts)) else None,
                entries,
                Rulebook.from_topics(all_topics()).decisions,
            )
    except InputError as error:
        problems += [replace(p, line=None) if p.file == str(path) else p for p in error.problems]
    if problems:
        raise InputError(problems)
    append(path, [row], decision_units())


def _date_problems(file: str, on: str, today: date) -> list[Problem]:
    """What is wrong with the day of a row."""
    fix = f"Type the day as {today.isoformat()}."
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", on, re.ASCII):
            raise ValueError(on)
        late = date.fromisoformat(on) > today
    except ValueError:
        return [Problem(file, f'"{visible(on, 40)}" is no date.', fix, column="on")]
    return [Problem(file, f'"{on}" is still to come.', fix, column="on")] if late else []
