"""What `check` says:

problems, how complete each row is, what its gaps leave open, and values that look wrong.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from compare.figures import safe
from compare.judge.rules import Rulebook
from compare.problems import InputError, Problem, visible
from compare.read.car import Car, load_car
from compare.read.catalogue import Table, catalogue_table, parts_table
from compare.read.cells import find_unit
from compare.read.ledger import UNKNOWN
from compare.read.measured import Log, measured_log
from compare.read.sheet import read_sheet, split_head
from compare.topics import all_topics
from compare.vocabulary import CAR_KEYS, CATALOGUE_COLUMNS, GEARS, catalogue_terms

__all__ = ["Inspection", "inspect_files", "inspection", "suspicions"]

MOST_LINES = 200


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


def inspect_files(files: Sequence[str]) -> tuple[str, bool]:
    """(what to say, whether every file can be used)."""
    found = inspection(files)
    return found.text(), found.sound


def inspection(files: Sequence[str], keep_readings: bool = True) -> Inspection:
    """Read files and say what is wrong, missing or suspicious in them, and how each cell was read.

    """
    found = Inspection()
    for file in files:
        source: Table | Iterable[dict[str, Any]]
        try:
            text, source = _inspect(file)
        except InputError as error:
            text, source = error.text(""), error.each_reading()
            found.problems += error.problems
        if keep_readings:
            source = source.readings if isinstance(source, Table) else list(source)
            found.readings += source
        lines = _table_ledger(source) if isinstance(source, Table) else _ledger(source)
        found.texts.append("\n".join([text, *lines]))
    return found


def _inspect(file: str) -> tuple[str, Table | Iterable[dict[str, Any]]]:
    """(what to say of a sound file, its ledger or the table that has it). Raises InputError."""
    if Path(file).suffix.lower() == ".toml":
        car = load_car(file)
        return _car_text(car), car.readings
    sheet = read_sheet(file)
    heads = [split_head(h)[0] for h in sheet.head]
    if {"of", "dimension", "value"} <= set(heads):
        log = measured_log(sheet)
        return _log_text(log), log.readings
    if "part" in heads and "fits" in heads and "name" not in heads:
        parts = parts_table(sheet)
        lines = [
            f"{safe(file, 200)}: {len(parts)} parts, can be used.",
            *(f"  note: {safe(w, 300)}" for w in parts.warnings),
        ]
        return "\n".join(lines), parts
    table = catalogue_table(sheet)
    return _catalogue_text(table), table


def _log_text(log: Log) -> str:
    count = "1 entry" if len(log.entries) == 1 else f"{len(log.entries)} entries"
    return "\n".join(
        [
            f"{safe(log.file, 200)}: {count}, can be used.",
            *(f"  note: {safe(w, 300)}" for w in log.warnings),
        ]
    )


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


def _feeding(book: Rulebook) -> dict[str, set[str]]:
    return {rule.title: book.feeds(rule.name) for rule in book.checks}


def _car_text(car: Car) -> str:
    book = Rulebook.from_topics(all_topics())
    known = {f"{section}.{key}" for section, key, _ in car.shown}
    missing = [
        t
        for t in CAR_KEYS
        if t.default is None
        and f"{t.section}.{t.key}" not in known
        and t.kind not in ("text", "words")
    ]
    # Either of two ways to give the tyre is enough; a bellhousing or adapter of the car's own is a
    # choice.
    either = {"tyre_size", "tyre_rolling_circumference"}
    if car.tyre is not None or "tyre_rolling_circumference" in car.values:
        missing = [t for t in missing if t.name not in either]
    optional = {
        "car_adapter_thickness",
        "opening_left",
        "opening_right",
        "clutch_disc_diameter",
        "engine_mounts_fan_gap",
    }
    missing = [t for t in missing if t.name not in optional]
    lines = [f"{safe(car.file, 200)}: {safe(car.name, 60)}, {len(car.shown)} keys, can be used."]
    lines += [f"  note: {safe(w, 300)}" for w in car.warnings]
    from compare.judge.engine import read_limits

    read_limits(car, book)
    feeding = _feeding(book)
    for term in missing:
        open_ = sorted(check for check, feeds in feeding.items() if term.name in feeds)
        effect = (
            f"leaves open: {', '.join(c.replace('_', ' ') for c in open_)}"
            if open_
            else "not needed by any check"
        )
        lines.append(f"  missing: {term.section}.{term.key} ({effect})")
    return "\n".join(lines)


def _catalogue_text(table: Table) -> str:
    book = Rulebook.from_topics(all_topics())
    feeding = _feeding(book)
    asked = [
        t
        for t in CATALOGUE_COLUMNS
        if t.kind not in ("text", "money")
        and t.name not in (*GEARS, "source", "ratio_reverse", "mass", "collar_diameter")
    ]
    lines = [f"{safe(table.file, 200)}: {len(table)} candidates, can be used."]
    lines += [f"  note: {safe(w, 300)}" for w in table.warnings]
    blank = np.stack([np.isnan(_get(table, t.name)) for t in asked], axis=1)
    said: dict[bytes, str] = {}
    for row, name in enumerate(table.names):
        pattern = blank[row].tobytes()
        if pattern not in said:
            said[pattern] = _filled_in([t.name for t, b in zip(asked, blank[row], strict=True) if b], len(asked), feeding)
        lines.append(f"  line {table.lines[row]}, {safe(name, 40)}: {said[pattern]}")
    for row, reason, suggestion in suspicions(table):
        lines.append(
            f"  line {table.lines[row]}, {safe(table.names[row], 40)}: {reason} {suggestion}"
        )
    return "\n".join(lines)


def _filled_in(gaps: Sequence[str], asked: int, feeding: dict[str, set[str]]) -> str:
    """How much of a row is filled in, and what its gaps leave open."""
    text = f"{round(100 * (asked - len(gaps)) / asked)} % of the columns filled in"
    missing = set(gaps)
    open_ = sorted({check for check, feeds in feeding.items() if feeds & missing}) if gaps else []
    return text + (f"; gaps may leave open: {', '.join(c.replace('_', ' ') for c in open_)}" if open_ else "")


def _get(table: Table, name: str) -> np.ndarray:
    return table.columns[name].nominal if name in table.columns else np.full(len(table), np.nan)


# What eighths and sixteenths of an inch become when a spreadsheet program keeps two decimals.
ROUNDED = {
    "06": "1/16",
    "13": "1/8",
    "19": "3/16",
    "31": "5/16",
    "38": "3/8",
    "44": "7/16",
    "56": "9/16",
    "63": "5/8",
    "69": "11/16",
    "81": "13/16",
    "88": "7/8",
    "94": "15/16",
}


TWO_DECIMALS = re.compile(r'(\d*)[.,](\d\d) ?(in\.?|inch|inches|")?', re.IGNORECASE)


def _rounded(table: Table) -> list[tuple[int, str, str]]:
    """Inches with two decimals that a fraction seems to have been rounded to:

    up to 0.13 mm are lost.
    """
    found = []
    for at, head in enumerate(table.head):
        name, unit_text = split_head(head)
        unit = find_unit("length", unit_text or "") == "inch"
        term = catalogue_terms().get(name)
        if term is None or term.kind not in ("length", "diameter", "position"):
            continue
        texts = [cells[at] for cells in table.rows]
        matches = {t: TWO_DECIMALS.fullmatch(t.strip()) for t in set(texts)}
        matches = {t: m for t, m in matches.items() if m and (unit or m[3]) and m[2] in ROUNDED}
        for row, text in enumerate(texts if matches else ()):
            match = matches.get(text)
            if match:
                whole = f"{match[1]} " if match[1].strip("0") else ""
                found.append(
                    (
                        row,
                        f"{head} is {text.strip()}: a fraction rounded by a spreadsheet "
                        f"program?",
                        f"If {whole}{ROUNDED[match[2]]} in was meant, type that, in a column "
                        f"formatted as text.",
                    )
                )
    return found


def suspicions(table: Table) -> list[tuple[int, str, str]]:
    """(row, what looks wrong and why, what to try), for values that are possible but hardly meant.

    """
    get: Callable[[str], np.ndarray] = lambda name: _get(table, name)
    found: list[tuple[int, str, str]] = []

    def say(mask: np.ndarray, reason: str, suggestion: str) -> None:
        found.extend((int(row), reason, suggestion) for row in np.flatnonzero(mask))

    with np.errstate(invalid="ignore"):
        say(
            get("pilot_diameter") >= get("spline_diameter"),
            "the pilot is as wide as the splines or wider.",
            "Are the two columns swapped?",
        )
        say(
            get("pilot_length") > get("spline_start"),
            "the journal ends behind the first full spline.",
            "Both count from the tip; measure again.",
        )
        say(
            get("spline_end") <= get("spline_start"),
            "the splines end before they start.",
            "Are spline_start and spline_end swapped?",
        )
        say(
            get("spline_end") > get("shaft_stickout"),
            "the splines run on behind the gearbox's front face.",
            "Measure shaft_stickout and spline_end from the same tip.",
        )
        say(
            get("case_length") > get("length"),
            "the case is longer than the whole gearbox.",
            "Are the two columns swapped?",
        )
        say(
            get("mount_position") > get("length"),
            "the mount stands behind the output joint.",
            "Measure both from the front face.",
        )
        say(
            get("mount_position") < 60,
            "the mount stands almost at the front face.",
            "It counts from the front face rearward; or is it in inches?",
        )
        say(
            get("shifter_position") > get("length") + 100,
            "the lever stands far behind the output joint.",
            "Measure from the front face.",
        )
        say(
            get("collar_length") >= get("shaft_stickout"),
            "the release-bearing guide reaches the shaft's tip.",
            "Measure both from the front face.",
        )
        say(
            get("mount_drop") > get("case_bottom") + 120,
            "the mount pad hangs far below the case.",
            "It counts from the axis.",
        )
        say(
            get("register_diameter") < get("collar_diameter"),
            "the register is narrower than the guide inside it.",
            "Are the two swapped?",
        )
        say(
            get("speedo_driver_teeth") > get("speedo_driven_teeth"),
            "the speedometer's drive has more teeth than its pinion.",
            "Are driver and driven swapped?",
        )
    found += _rounded(table)
    found += [*_odd_gears(table), *_twice(table), *_too_doubtful(table)]
    return sorted(found, key=lambda s: s[0])


def _odd_gears(table: Table) -> list[tuple[int, str, str]]:
    """Gears that do not fall, or that are missing between others."""
    found = []
    ratios = np.stack([_get(table, g) for g in GEARS], axis=1)
    known = np.isfinite(ratios)
    with np.errstate(invalid="ignore"):
        plain = (np.diff(ratios, axis=1) < 0) | ~known[:, 1:]
    odd = ~plain.all(axis=1) | (known[:, 1:] & ~known[:, :-1]).any(axis=1)
    for row in np.flatnonzero(odd).tolist():
        mine = ratios[row][known[row]]
        if len(mine) > 1 and (np.diff(mine) >= 0).any():
            found.append(
                (
                    row,
                    "the ratios do not fall from gear to gear.",
                    "First gear has the largest ratio; check the order.",
                )
            )
        gaps = np.isnan(ratios[row])
        last = int(np.flatnonzero(~gaps).max()) if (~gaps).any() else 0
        if gaps[:last].any() and last > 0:
            gear = int(np.flatnonzero(gaps[:last])[0]) + 1
            found.append(
                (
                    row,
                    f"gear {gear} is missing between others.",
                    f"Fill in ratio_{gear}, or move the higher gears down.",
                )
            )
    return found


def _twice(table: Table) -> list[tuple[int, str, str]]:
    """Rows whose every number is that of another one."""
    kinds = ("length", "diameter", "ratio", "angle", "count")
    compared = [t.name for t in CATALOGUE_COLUMNS if t.name in table.columns and t.kind in kinds]
    if not compared:
        return []
    numbers = np.stack([table.columns[c].nominal for c in compared], axis=1)
    numbers = np.where(np.isnan(numbers), -1.0, numbers) + 0.0  # no second zero
    found = []
    seen: dict[bytes, int] = {}
    for row in np.flatnonzero((numbers >= 0).sum(axis=1) >= 4).tolist():
        first = seen.setdefault(numbers[row].tobytes(), row)
        if first != row:
            found.append(
                (
                    row,
                    f"every number is that of {visible(table.names[first], 40)}.",
                    "One gearbox under two names? Keep one, or measure what differs.",
                )
            )
    return found


def _too_doubtful(table: Table) -> list[tuple[int, str, str]]:
    """Lengths with a doubt of more than half of themselves."""
    terms = catalogue_terms()
    lengths = [n for n in table.columns if n in terms and terms[n].kind == "length"]
    found = []
    for name in lengths:
        half, nominal = table.columns[name].half, table.columns[name].nominal
        with np.errstate(invalid="ignore"):
            wide = np.isfinite(half) & (nominal != 0) & (half > np.abs(nominal) * 0.5)
        for row in np.flatnonzero(wide).tolist():
            found.append(
                (
                    row,
                    f"{name} of {visible(table.names[row], 40)} is doubtful by more than half of "
                    f"itself.",
                    "Is the ± in another unit than the value?",
                )
            )
    return found
