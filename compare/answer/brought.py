"""A workbook that came back as what a comparison reads: tables, profile and log, as sent or as
changed.

A `Step` is one change that can be made by itself. `inputs_of` makes the inputs with some of them
made, so that what each of them does can be told.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from compare.answer.edited import KINDS_OF_KEYS, toml_value
from compare.answer.log import Taken, decision_units, taken
from compare.answer.take_in import CAR, LIST, TABLES, Change, Changes, Measured
from compare.figures import safe
from compare.problems import InputError, Problem
from compare.read.book import Cell
from compare.read.car import Car, read_car
from compare.read.catalogue import Table, catalogue_table, parts_table
from compare.read.measured import COLUMNS, measured_log
from compare.read.sheet import Sheet

__all__ = ["Inputs", "Step", "inputs_of", "steps_of"]

CATALOGUE, PARTS = TABLES


@dataclass(frozen=True)
class Inputs:
    """What a comparison reads."""

    catalogue: Table
    car: Car
    parts: Table | None
    measured: tuple[Taken, ...]


@dataclass(frozen=True)
class Step:
    """One change. of: the candidate whose row it touches, "" where it may touch all of them;
    now_called: its name then, "" where it is gone."""

    text: str
    of: str = ""
    now_called: str = ""
    cell: Change | None = None
    added: tuple[str, int] | None = None
    removed: tuple[str, int] | None = None
    measured: Measured | None = None


def steps_of(back: Changes) -> list[Step]:
    """Every change, in the order of the sheets."""
    steps = [_cell(back, c) for c in back.cells if c.line or c.sheet == CAR]
    for sheet, rows in back.added.items():
        for at, row in enumerate(rows):
            cells = ", ".join(f"{safe(h, 40)} {safe(c.now, 40)}" for h, c in row.items())
            of = next((c.of for c in row.values()), "") if sheet == CATALOGUE else ""
            steps.append(Step(f"{sheet}: new row: {cells}", of, of, added=(sheet, at)))
    for sheet, lines in back.removed.items():
        for line in lines:
            name = back.sent[sheet, line][_name_head(back, sheet)]
            of = name if sheet == CATALOGUE else ""
            text = f"{sheet}: the row of {safe(name, 60)} is gone"
            steps.append(Step(text, of, removed=(sheet, line)))
    return steps + [_measured(m) for m in back.measured]


def _cell(back: Changes, c: Change) -> Step:
    shown = lambda text: safe(text, 60) if text else "empty"
    of = f"{c.of}.{c.what}" if c.sheet == CAR else f"{safe(c.of, 60)}, {safe(c.what, 60)}"
    text = f"{c.sheet} {c.cell}: {safe(of, 130)}: was {shown(c.was)}, is {shown(c.now)}"
    if c.sheet != CATALOGUE:
        return Step(text, cell=c)
    head = _name_head(back, c.sheet)
    name = back.sent[c.sheet, c.line][head]
    return Step(text, name, c.now if c.what == head else name, cell=c)


def _measured(m: Measured) -> Step:
    with_ = f" with {safe(m.tool, 40)}" if m.tool else ""
    by = f", by {safe(m.by, 40)}" if m.by else ""
    text = f"{safe(m.of, 60)}, {safe(m.dimension.replace('_', ' '), 60)}: {safe(m.value, 60)}"
    of = "" if m.of == "car" else m.of
    return Step(f"{LIST} {m.cell}: {text}{with_}{by}", of, of, measured=m)


def _name_head(back: Changes, sheet: str) -> str:
    key, heads = TABLES[sheet], back.heads[sheet]
    return next((h for h in heads if h.split("[")[0].strip().casefold() == key), heads[0])


def inputs_of(back: Changes, steps: Collection[Step]) -> Inputs:
    """The inputs as sent with these changes made. Raises InputError with every problem."""
    problems: list[Problem] = []
    found: list[object] = []
    for make in (_catalogue, _car, _parts, _log):
        try:
            found.append(make(back, steps))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return Inputs(*found)  # type: ignore[arg-type]


def _catalogue(back: Changes, steps: Collection[Step]) -> Table:
    return catalogue_table(_sheet(back, CATALOGUE, steps))


def _parts(back: Changes, steps: Collection[Step]) -> Table | None:
    if PARTS not in back.heads:
        return None
    sheet = _sheet(back, PARTS, steps)
    return parts_table(sheet) if sheet.rows else None


def _sheet(back: Changes, name: str, steps: Collection[Step]) -> Sheet:
    """A table, its lines counted as the workbook counts its rows."""
    edits = {(s.cell.line, s.cell.what): s.cell for s in steps if s.cell and s.cell.sheet == name}
    gone = {s.removed for s in steps}
    new = [back.added[name][s.added[1]] for s in steps if s.added and s.added[0] == name]
    used = {what for _, what in edits} | {what for row in new for what in row}
    old = next((set(row) for (sheet, _), row in back.sent.items() if sheet == name), set())
    heads = [h for h in back.heads[name] if h in old or h in used]
    sheet = Sheet(f"{back.file}, sheet {name}", heads, [], [], [], back.digest, [], "", "workbook")
    for (of, line), row in back.sent.items():
        if of == name and (name, line) not in gone:
            place = back.places.get((name, str(line)), line)
            _put(sheet, [edits.get((line, h), row.get(h, "")) for h in heads], place)
    for added in new:
        _put(sheet, [added.get(h, "") for h in heads], _row(next(iter(added.values())).cell))
    return sheet


def _row(place: str) -> int:
    return int(re.sub(r"\D", "", place))


def _put(sheet: Sheet, cells: Sequence[Change | str], line: int) -> None:
    typed: list[Cell] = []
    for cell in cells:
        number = cell.number if isinstance(cell, Change) else None
        typed.append(number if number is not None else _text(cell))
    sheet.rows.append([_text(c) for c in cells])
    sheet.cells.append(typed)
    sheet.lines.append(line)


def _text(cell: Change | str) -> str:
    return cell.now if isinstance(cell, Change) else cell


def _car(back: Changes, steps: Collection[Step]) -> Car:
    """The profile, each key on the line of its row in the workbook."""
    typed = dict(back.car)
    for step in steps:
        if step.cell is not None and step.cell.sheet == CAR:
            typed[f"{step.cell.of}.{step.cell.what}"] = step.cell.now
    at_line: dict[int, str] = {}
    last = max(back.places.values(), default=0)
    for place, text in typed.items():
        if text:
            section, _, key = place.partition(".")
            value = toml_value(text, KINDS_OF_KEYS.get((section, key), ""))
            line = back.places.get((CAR, place), last := last + 1)
            at_line[line] = f"{_key(section)}.{_key(key)} = {value}"
    lines = [at_line.get(n, "") for n in range(1, max(at_line, default=0) + 1)]
    return read_car("\n".join(lines), f"{back.file}, sheet {CAR}", back.digest)


def _key(text: str) -> str:
    """A key of TOML.

    >>> _key("ratio_1"), _key("a b")
    ('ratio_1', '"a b"')
    """
    return text if re.fullmatch(r"[A-Za-z0-9_-]+", text) else toml_value(text, "text")


def _log(back: Changes, steps: Collection[Step]) -> tuple[Taken, ...]:
    """What was measured when it was sent, and the boxes that were filled in since."""
    old = tuple(_sent_entry(*row) for row in back.log)
    boxes = [s.measured for s in steps if s.measured]
    sheet = Sheet(
        f"{back.file}, sheet {LIST}", list(COLUMNS), [], [], [], back.digest, [], "", "workbook"
    )
    for m in boxes:
        _put(sheet, [m.on, m.by, m.of, m.dimension, m.value, m.tool, ""], _row(m.cell))
    return (*old, *taken(measured_log(sheet, decision_units()))) if boxes else old


def _sent_entry(line: str, of: str, dimension: str, told: str) -> Taken:
    on, by, value, half, typed = told.split("\t")
    return Taken(on, by, of, dimension, float(value), float(half), int(line), typed)
