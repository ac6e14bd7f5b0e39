"""What `check` says: problems, values that look wrong, what is missing and decides, and how each
cell was read.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from compare.answer.currencies import currency_problems
from compare.answer.log import decision_units
from compare.answer.missing import MOST_JUDGED, ByStage, judged, of_car, of_rows, stage_lines
from compare.answer.stages import CAR
from compare.answer.suspicious import suspicions
from compare.figures import safe
from compare.judge.baseline import today
from compare.judge.engine import Engine
from compare.judge.rules import Rulebook
from compare.problems import InputError, Problem
from compare.read.car import Car, load_car
from compare.read.catalogue import Table, catalogue_table, parts_table
from compare.read.ledger import UNKNOWN
from compare.read.measured import Log, measured_log
from compare.read.sheet import read_sheet, split_head
from compare.topics import all_topics

__all__ = ["Inspection", "inspection"]

MOST_LINES = 200
MOST_FED = 5


@dataclass
class Inspection:
    """What `check` found in some files:

    its text, every problem, and the reading ledger of all of them.
    """

    texts: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    readings: list[dict[str, Any]] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        return not self.problems

    def text(self) -> str:
        return "\n".join(self.texts) + "\n"

    def document(self) -> dict[str, Any]:
        """The same for scripts."""
        return {"problems": [asdict(p) for p in self.problems], "readings": self.readings}


def inspection(files: Sequence[str], keep_readings: bool = True) -> Inspection:
    """Read files and say what is suspicious, wrong or missing in them, and how each cell was read."""
    found = Inspection()
    read: dict[str, Car | Log | Table | InputError] = {}
    for file in files:
        try:
            read[file] = _read(file)
        except InputError as error:
            found.problems += error.problems
            read[file] = error
    _mixed_money(found, read)
    texts = _texts([r for r in read.values() if not isinstance(r, InputError)])
    for one in read.values():
        readings: list[dict[str, Any]] = []
        if isinstance(one, InputError):
            readings = list(one.each_reading())
        elif keep_readings or not isinstance(one, Table):
            readings = list(one.readings)
        if keep_readings:
            found.readings += readings
        text = one.text("") if isinstance(one, InputError) else texts[one.file]
        lines = _table_ledger(one) if isinstance(one, Table) else _ledger(readings)
        found.texts.append("\n".join([text, *lines]))
    return found


def _mixed_money(found: Inspection, read: dict[str, Car | Log | Table | InputError]) -> None:
    """Put what several currencies are asked about in the place of the files that hold them."""
    tables = [one for one in read.values() if isinstance(one, Table)]
    car = next((one for one in read.values() if isinstance(one, Car)), None)
    problems = currency_problems(tables, car) if car is not None else []
    for problem in problems:
        found.problems.append(problem)
        file = next(f for f, one in read.items() if getattr(one, "file", "") == problem.file)
        kept = read[file]
        readings = [] if isinstance(kept, InputError) else list(kept.readings)
        read[file] = InputError([problem], readings.copy)


def _read(file: str) -> Car | Log | Table:
    """One file as what it is. Raises InputError."""
    if Path(file).suffix.lower() == ".toml":
        car = load_car(file)
        Engine(car)  # its limits and weights too
        return car
    sheet = read_sheet(file)
    heads = [split_head(h)[0] for h in sheet.head]
    if {"of", "dimension", "value"} <= set(heads):
        return measured_log(sheet, decision_units())
    if "part" in heads and "fits" in heads and "name" not in heads:
        return parts_table(sheet)
    return catalogue_table(sheet)


def _texts(sound: Sequence[Car | Log | Table]) -> dict[str, str]:
    """What to say of each sound file; where a catalogue and a car stand together, of both together."""
    book = Rulebook.from_topics(all_topics())
    cars = [one for one in sound if isinstance(one, Car)]
    tables = [one for one in sound if isinstance(one, Table)]
    catalogues = [t for t in tables if not _is_parts(t)]
    car = cars[0] if cars else None
    together = None
    if car is not None and len(catalogues) == 1:
        together = judged(catalogues[0], car, next((t for t in tables if _is_parts(t)), None), book)
    texts = {}
    for one in sound:
        if isinstance(one, Car):
            lines = _car_lines(one, book, together)
        elif isinstance(one, Log):
            count = "1 entry" if len(one.entries) == 1 else f"{len(one.entries)} entries"
            lines = [f"{safe(one.file, 200)}: {count}, can be used.", *_notes(one.warnings)]
        elif _is_parts(one):
            lines = [
                f"{safe(one.file, 200)}: {len(one)} parts, can be used.",
                *_notes(one.warnings),
            ]
        else:
            lines = _catalogue_lines(one, car, book, together)
        texts[one.file] = "\n".join(lines)
    return texts


def _is_parts(table: Table) -> bool:
    heads = [split_head(h)[0] for h in table.head]
    return "part" in heads and "fits" in heads and "name" not in heads


def _notes(warnings: Iterable[str]) -> list[str]:
    return [f"  note: {safe(w, 300)}" for w in warnings]


def _car_lines(car: Car, book: Rulebook, together: Mapping[str, ByStage] | None) -> list[str]:
    engine = Engine(car, book)
    gauge = today(engine)
    lines = [
        f"{safe(car.file, 200)}: {safe(car.name, 60)}, {len(car.shown)} keys, can be used.",
        *_notes(car.warnings),
    ]
    for rule in engine.checks:
        if gauge is not None and rule.name in gauge.failing:
            fed = sorted(n for n in book.feeds(rule.name) if not n.startswith("present_"))
            names = ", ".join(n.replace("_", " ") for n in fed[:MOST_FED])
            lines.append(
                f"  your own gearbox does not fit your numbers: {rule.title.replace('_', ' ')}. Check {names}."
            )
    missing = together if together is not None else {CAR: of_car(car, book)}
    return lines + stage_lines({"the car": missing[CAR]}, ["the car"])


def _catalogue_lines(
    table: Table, car: Car | None, book: Rulebook, together: Mapping[str, ByStage] | None
) -> list[str]:
    lines = [
        f"{safe(table.file, 200)}: {len(table)} candidates, can be used.",
        *_notes(table.warnings),
    ]
    for one in suspicions(table, car):
        lines.append(
            f"  line {table.lines[one.row]}, {safe(table.names[one.row], 40)}: {one.reason} {one.suggestion}"
        )
    missing = of_rows(table, book) if together is None else together
    owners = [n for n in missing if n != CAR]
    places = {name: at for at, name in enumerate(table.names)}
    lines += stage_lines(missing, sorted(owners, key=lambda n: places.get(n, -1)))
    if together is not None and len(owners) >= MOST_JUDGED < len(table):
        lines.append(f"  only {MOST_JUDGED} candidates were looked at for what is missing.")
    return lines


# ---- you typed -> I read -------------------------------------------------------------------------


def _table_ledger(table: Table) -> list[str]:
    """The same lines; of cells that look alike in one column one is read, and the rest are counted."""
    plain = unknown = 0
    odd: list[tuple[int, int]] = []
    columns = list(zip(*table.rows, strict=True)) if table.rows else [()] * len(table.head)
    for number, head in enumerate(table.heads):
        texts = columns[head.at]
        blank = {t for t in set(texts) if not t.strip()}
        if head.kind not in ("number", "car"):
            plain += sum(t not in blank for t in texts)
            continue
        cells = list(zip(texts, *table.held(head), strict=True))
        count, somewhere = Counter(cells), dict(zip(cells, range(len(cells)), strict=True))
        strange = set()
        for cell, times in count.items():
            if cell[0] in blank:
                continue
            reading = table.reading(somewhere[cell], head)
            if reading["state"] == UNKNOWN:
                unknown += times
            elif as_it_stands(reading):
                plain += times
            else:
                strange.add(cell)
        if strange:
            odd += [(row, number) for row, cell in enumerate(cells) if cell in strange]
    odd.sort()
    shown = [table.reading(row, table.heads[number]) for row, number in odd[:MOST_LINES]]
    return _ledger(shown, plain, unknown, len(odd) - len(shown))


def _ledger(
    readings: Iterable[dict[str, Any]], plain: int = 0, unknown: int = 0, more: int = 0
) -> list[str]:
    """One line for each cell that was read as anything but the plain number or text that stands
    there; plain, unknown, more: cells besides, of which no line is made.
    """
    lines: list[str] = []
    seen = plain + unknown + more
    for reading in readings:
        seen += 1
        if reading["state"] == "unknown":
            unknown += 1
        elif reading["state"] == "read":
            if as_it_stands(reading):
                plain += 1
            elif len(lines) == MOST_LINES:
                more += 1
            else:
                whose = (
                    reading["column"]
                    if reading["owner"] == "car"
                    else f"{safe(reading['owner'], 40)}, {safe(reading['column'], 40)}"
                )
                at = f"line {reading['line']}, " if reading["line"] else ""
                lines.append(f"  {at}{whose}: {safe(reading['typed'], 40)} → {read_as(reading)}")
    if not seen:
        return []
    shown = lines + ([f"  and {more} more; check FILE --json - lists all of them."] if more else [])
    head = f"  you typed → I read ({plain} cells are read as they stand, {unknown} are not known):"
    return [head, *("  " + line for line in shown)]


def as_it_stands(reading: dict[str, Any]) -> bool:
    value = reading["value"]
    if not isinstance(value, int | float):
        return True
    if reading["half_width"] or reading["high"] not in (None, value):
        return False
    try:
        typed = float(reading["typed"])
    except ValueError:
        return reading["typed"] in ("true", "false")
    scale = math.pi / 180 if reading["unit"] == "rad" else 1.0
    return math.isclose(typed * scale, value, rel_tol=1e-9, abs_tol=1e-12)


def read_as(reading: dict[str, Any]) -> str:
    """A reading in words:

    the number in the unit in which it is kept (angles in degrees), with its doubt.

    >>> read_as({"value": 612.775, "unit": "mm", "half_width": 1.5875, "high": None})
    '612.775 mm ±1.5875'
    >>> read_as({"value": 16.0, "unit": "", "half_width": 0.0, "high": 23.0})
    '16 to 23'
    """
    if not isinstance(reading["value"], int | float):
        return safe(reading["value"], 60)
    scale, unit = (
        (180 / math.pi, "°")
        if reading["unit"] == "rad"
        else (1.0, reading["unit"].replace("money", ""))
    )
    number = lambda x: f"{round(x * scale, 6):.10g}"
    text = number(reading["value"])
    if reading["high"] is not None and reading["high"] != reading["value"]:
        text += f" to {number(reading['high'])}"
    text += unit if unit == "°" else f" {unit}".rstrip()
    return text + (f" ±{number(reading['half_width'])}" if reading["half_width"] else "")
