"""The car profile:

TOML -> values by the rules' names, each problem with its key, each cell with its reading.
"""

from __future__ import annotations

import datetime
import hashlib
import itertools
import json
import math
import re
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from compare.problems import CellError, InputError, Problem, did_you_mean, visible
from compare.read.catalogue import mark_term
from compare.read.cells import (
    TyreSize,
    Value,
    is_unknown,
    parse,
    parse_number,
    parse_tyre,
    read_choice,
)
from compare.read.ledger import ASKED, READ, UNKNOWN, entry
from compare.read.sheet import decode, read_bytes
from compare.vocabulary import (
    CAR_KEYS,
    CRITERIA,
    SECTIONS,
    STATION_SIDES,
    TOOLS,
    Term,
    catalogue_terms,
)

__all__ = ["Car", "load_car", "read_car"]

STATION_TERM = Term("x", "length", "", low=-500, high=6000)
SIDE_TERM = Term("side", "length", "", low=0, high=1500)
RPM_TERM = Term("rpm", "rpm", "", low=100, high=15000)
TORQUE_TERM = Term("torque", "torque", "", low=1, high=3000)
PLAIN_WORDS = re.compile(r"[A-Za-z][A-Za-z _-]*")
DEEPEST = 5  # a list of tables of values is four deep


@dataclass
class Car:
    """A car profile in internal units, by the names that rules use.

    What is missing is simply not there.

    `weights` holds criteria and names of the owner's marks; whether such a mark exists shows with
    the catalogue. `pieces` of the tunnel: start, end [mm], removable (0 or 1). `musts` are names of
    checks, judged later.
    """

    file: str
    name: str
    values: dict[str, Value] = field(default_factory=dict)
    choices: dict[str, float] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    tyre: TyreSize | None = None
    curve: list[tuple[float, float]] = field(default_factory=list)
    pairs: dict[str, tuple[Value, Value]] = field(default_factory=dict)
    stations: list[dict[str, Value]] = field(default_factory=list)
    tools: tuple[str, ...] = ()
    present: dict[str, Value] = field(default_factory=dict)
    present_choices: dict[str, float] = field(default_factory=dict)
    present_texts: dict[str, str] = field(default_factory=dict)
    limits: dict[str, Any] = field(default_factory=dict)
    weights: dict[str, float] = field(default_factory=dict)
    shown: list[tuple[str, str, str]] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    digest: str = ""
    pieces: list[dict[str, Value]] = field(default_factory=list)
    musts: tuple[str, ...] = ()
    readings: list[dict[str, Any]] = field(default_factory=list)


def load_car(path: str | Path) -> Car:
    """Read a car profile. Raises InputError with every problem of the file."""
    file = str(path)
    data = read_bytes(path, "Check the path, or make one with: gearbox-compare start FOLDER.")
    text, _, _, warnings = decode(file, data)
    car = read_car(text, file, hashlib.sha256(data).hexdigest()[:16])
    car.warnings[:0] = warnings
    return car


def read_car(
    text: str, file: str = "car profile", digest: str = "", keys: Sequence[Term] = CAR_KEYS
) -> Car:
    """Read a car profile from its text; `keys` are the keys that it may hold. Raises InputError."""
    try:
        data = tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        raise InputError([_syntax_problem(file, text, error)]) from None
    except RecursionError:
        raise InputError(
            [Problem(file, "nests lists or tables too deeply.", "Write sections with plain keys.")]
        ) from None
    except ValueError as error:
        raise InputError(
            [
                Problem(
                    file,
                    f"holds a number that cannot be one ({visible(error, 60)}).",
                    "Look for a number of very many digits.",
                )
            ]
        ) from None
    return _Reader(file, text, digest, keys).read(data)


def _lines(text: str) -> list[str]:
    return re.split(r"\r\n|\n|\r", text)


def _syntax_problem(file: str, text: str, error: tomllib.TOMLDecodeError) -> Problem:
    lines = _lines(text)
    found = re.search(r"line (\d+)", str(error))
    line = int(found[1]) if found else None
    row = lines[line - 1].strip() if line and line <= len(lines) else ""
    fix = 'Write key = number, or key = "text with a unit".'
    first = next((t for t in lines if t.strip() and not t.strip().startswith("#")), "")
    if re.match(r"\W*(name|part)\W*[,;\t]", first, re.IGNORECASE):
        return Problem(
            file,
            "is a table, not a car profile.",
            "Name the catalogue first and the car profile (TOML) after --car.",
        )
    value = row.partition("=")[2].strip()
    if re.search(r"overwrite|twice|duplicate|declare", str(error)):
        return Problem(
            file,
            f'"{visible(row, 40)}": this key or section stands twice.',
            "Keep one of the two.",
            line,
        )
    key = visible(row.partition("=")[0].strip(), 30)
    if value.startswith("?"):
        fix = f'Put it in quotes, {key} = "?", or leave the key out.'
    elif re.fullmatch(r"\d+,\d+.*", value):
        pointed = visible(value.replace(",", ".", 1), 20)
        fix = f"Write a decimal point, {pointed}, or put the value in quotes."
    elif value and not value.startswith(('"', "[", "{")) and re.search(r"[A-Za-z\"½±]", value):
        quoted = value.replace('"', " in")
        fix = f'Put a value with a unit in quotes: {key} = "{visible(quoted, 30)}".'
    return Problem(file, f'"{visible(row, 50)}" cannot be read ({visible(error, 60)}).', fix, line)


def _absurd(
    value: Any, path: tuple[str, ...], depth: int = 0
) -> Iterator[tuple[tuple[str, ...], str, str]]:
    """(where, what, what to do) of values that TOML allows and no car has."""
    if depth > DEEPEST:
        yield path, "nests lists or tables too deeply.", "Write a number, a text or a list of them."
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _absurd(inner, (*path, str(key)) if len(path) < 2 else path, depth + 1)
    elif isinstance(value, list):
        for inner in value:
            yield from _absurd(inner, path, depth + 1)
    elif isinstance(value, datetime.date | datetime.time):
        yield path, f"{visible(value, 30)} is a date.", "Write a number, or a text in quotes."
    elif isinstance(value, int | float) and not isinstance(value, bool) and not (abs(value) < 1e12):
        shown = visible(value, 30) if isinstance(value, float) else "a number of very many digits"
        yield (
            path,
            f"{shown} is not a possible number.",
            "Write a number; leave the key out if you do not know it.",
        )


class _Reader:
    def __init__(self, file: str, text: str, digest: str, keys: Sequence[Term]) -> None:
        self.car = Car(file, "the car", digest=digest)
        self.file = file
        self.lines = _lines(text)
        self.keys = keys
        self.problems: list[Problem] = []
        self.readers: dict[str, Callable[[str, Any, Term], None]] = {
            "text": self._text_key, "choice": self._choice_key, "flag": self._flag_key,
            "tyre": self._tyre_key,
            "words": self._words_key, "names": self._names_key, "pair": self._pair_key,
            "curve": self._curve_key,
            "stations": self._stations_key, "pieces": self._pieces_key,
        }  # fmt: skip

    def line_of(self, section: str, key: str = "") -> int | None:
        """The first line on which a section begins, or one of its keys is given."""
        if not key:
            return self.places.get((section, ""))
        places = (self.places.get((section, key)), self.places.get(("", f"{section}.{key}")))
        return min((p for p in places if p is not None), default=None)

    @cached_property
    def places(self) -> dict[tuple[str, str], int]:
        """(section, key) -> line; a section itself has no key, a dotted key stands under no
        section.
        """
        found: dict[tuple[str, str], int] = {}
        section = ""
        for number, line in enumerate(self.lines, start=1):
            bare = line.strip()
            if re.match(r"\[+[^\[\]]+\]+", bare):
                section = bare.strip("[] \t").split("#")[0].strip("[] ")
                found.setdefault((section, ""), number)
            elif "=" in bare:
                name = bare.split("=", 1)[0].strip()
                found.setdefault(("", name), number)
                found.setdefault((section, name.strip('"')), number)
        return found

    def problem(
        self, section: str, key: str, found: str, fix: str, options: Sequence[str] = ()
    ) -> None:
        name = f"{section}.{key}" if key else section
        self.problems.append(
            Problem(
                self.file, found, fix, self.line_of(section, key), key=name, options=tuple(options)
            )
        )

    def log(
        self, column: str, raw: Any, kind: str, value: Value | str | float | None, state: str
    ) -> None:
        section, _, key = re.sub(r"\[.*", "", column).partition(".")
        self.car.readings.append(
            entry(
                self.file,
                self.line_of(section, key),
                "car",
                column,
                _as_typed(raw),
                kind,
                value,
                state,
            )
        )

    def read(self, data: dict[str, Any]) -> Car:
        for path, found, fix in _absurd(data, ()):
            self.problem(path[0] if path else "", path[1] if len(path) > 1 else "", found, fix)
        if self.problems:
            raise InputError(self.problems)
        sections = tuple(dict.fromkeys((*SECTIONS, *(t.section for t in self.keys))))
        for section, content in data.items():
            if section not in sections:
                near = did_you_mean(section, sections)
                fix = f"Did you mean [{near}]?" if near else f"Sections are: {', '.join(sections)}."
                self.problem(
                    section, "", f'"{visible(section)}" is no section of a car profile.', fix
                )
            elif not isinstance(content, dict):
                self.problem(
                    section,
                    "",
                    f'"{visible(section)}" must be a section.',
                    f"Write [{section}] on a line of its own.",
                )
            else:
                self._section(section, content)
        self._together()
        self._defaults()
        if self.problems:
            raise InputError(self.problems, lambda: self.car.readings)
        return self.car

    def _section(self, section: str, content: dict[str, Any]) -> None:
        if section == "gearbox":
            self._present(content)
        elif section == "limits":
            self.car.limits = content
            for key, raw in content.items():
                self.log(
                    f"limits.{key}",
                    raw,
                    "text",
                    raw if isinstance(raw, int | float | str) else _as_typed(raw),
                    READ,
                )
                self.car.shown.append((section, key, _as_typed(raw)))
        elif section == "weights":
            self._weights(content)
        else:
            known = {t.key: t for t in self.keys if t.section == section}
            for key, raw in content.items():
                if key in known:
                    self._key(section, key, raw, known[key])
                else:
                    near = did_you_mean(key, known)
                    fix = f"Did you mean {near}?" if near else f"Known here: {', '.join(known)}."
                    self.problem(
                        section, key, f'"{visible(key)}" is not known in [{section}].', fix
                    )

    def _key(self, section: str, key: str, raw: Any, term: Term) -> None:
        try:
            self.readers.get(term.kind, self._number_key)(f"{section}.{key}", raw, term)
            self.car.shown.append((section, key, _as_typed(raw)))
        except CellError as error:
            self.problem(section, key, error.found, error.fix, error.options)

    # ---- one method a kind of key ----

    def _number_key(self, column: str, raw: Any, term: Term) -> None:
        value = self._value(raw, term, column)
        if value is not None:
            self.car.values[term.name] = value

    def _text_key(self, column: str, raw: Any, term: Term) -> None:
        if not isinstance(raw, str):
            raise CellError(f"{visible(raw)} is not a text.", f'Write {term.key} = "a name".')
        self.car.texts[term.name] = raw
        if term.name == "car_name":
            self.car.name = raw.strip() or self.car.name
        self.log(column, raw, "text", raw, READ)

    def _choice_key(self, column: str, raw: Any, term: Term) -> None:
        self.car.choices[term.name] = self._choice(column, raw, term)

    def _choice(self, column: str, raw: Any, term: Term) -> float:
        try:
            found = read_choice(self._text(raw, term), term)
        except CellError:
            self.log(column, raw, term.kind, None, ASKED)
            raise
        if math.isnan(found):
            self.log(column, raw, term.kind, None, UNKNOWN)
        else:
            self.log(
                column,
                raw,
                term.kind,
                term.choices[int(found)] if found < len(term.choices) else raw,
                READ,
            )
        return found

    def _flag_key(self, column: str, raw: Any, term: Term) -> None:
        if not isinstance(raw, bool):
            self.log(column, raw, term.kind, None, ASKED)
            raise CellError(
                f"{visible(raw)} is neither true nor false.",
                f"Write {term.key} = true or {term.key} = false.",
            )
        self.car.values[term.name] = Value(float(raw), 0.0)
        self.log(column, raw, term.kind, float(raw), READ)

    def _tyre_key(self, column: str, raw: Any, term: Term) -> None:
        text = self._text(raw, term)
        if is_unknown(text):
            self.log(column, raw, term.kind, None, UNKNOWN)
            return
        try:
            self.car.tyre = parse_tyre(text)
        except CellError:
            self.log(column, raw, term.kind, None, ASKED)
            raise
        self.log(column, raw, term.kind, text, READ)
        if self.car.tyre.advice:
            self.car.warnings.append(f"{column} {visible(raw, 20)}: {self.car.tyre.advice}.")

    def _words_key(self, column: str, raw: Any, term: Term) -> None:
        self.car.tools = self._tools(raw)
        for number, word in enumerate(self.car.tools, start=1):
            self.log(f"{column}[{number}]", word, "text", word, READ)

    def _names_key(self, column: str, raw: Any, term: Term) -> None:
        if not (isinstance(raw, list) and all(isinstance(r, str) and r.strip() for r in raw)):
            raise CellError(
                f"{visible(raw)} is not a list of names.", f'Write {term.key} = ["cruise_rpm"].'
            )
        self.car.musts = tuple(dict.fromkeys(r.strip() for r in raw))
        for number, word in enumerate(self.car.musts, start=1):
            self.log(f"{column}[{number}]", word, "text", word, READ)

    def _pair_key(self, column: str, raw: Any, term: Term) -> None:
        if not (isinstance(raw, list) and len(raw) == 2):
            raise CellError(f"{visible(raw)} is not a pair.", f"Write {term.key} = [820, 900].")
        each = replace(term, kind="length")
        low, high = (self._value(r, each, f"{column}[{n}]") for n, r in enumerate(raw, start=1))
        if low is not None and high is not None:
            if high.nominal < low.nominal:
                raise CellError(f"{visible(raw)} runs backwards.", "Write the front x first.")
            self.car.pairs[term.name] = (low, high)

    def _curve_key(self, column: str, raw: Any, term: Term) -> None:
        self.car.curve = self._curve(column, raw)

    def _stations_key(self, column: str, raw: Any, term: Term) -> None:
        self.car.stations = self._stations(column, raw)

    def _pieces_key(self, column: str, raw: Any, term: Term) -> None:
        self.car.pieces = self._pieces(column, raw)

    # ---- what the keys are made of ----

    def _text(self, raw: Any, term: Term) -> str:
        if not isinstance(raw, str):
            raise CellError(
                f"{visible(raw)} is not a text.", f'Put it in quotes: "{visible(raw, 20)}".'
            )
        return raw

    def _value(self, raw: Any, term: Term, column: str) -> Value | None:
        try:
            if isinstance(raw, bool) or not isinstance(raw, int | float | str):
                raise CellError(
                    f"{visible(raw)} is not a number.",
                    f"Write a number ({term.unit or 'no unit'}) or a text with a unit.",
                )
            # A TOML number has one decimal point by its own rules; three decimals are no thousand.
            value = parse(raw, term) if isinstance(raw, str) else parse_number(float(raw), term)
        except CellError:
            self.log(column, raw, term.kind, None, ASKED)
            raise
        self.log(column, raw, term.kind, value, READ if value is not None else UNKNOWN)
        return value

    def _tools(self, raw: Any) -> tuple[str, ...]:
        if not (isinstance(raw, list) and all(isinstance(r, str) for r in raw)):
            raise CellError(
                f"{visible(raw)} is not a list of tools.", 'Write tools = ["lathe", "welder"].'
            )
        for word in raw:
            if word not in TOOLS:
                near = did_you_mean(word, TOOLS)
                fix = f"Did you mean {near}?" if near else f"Known tools: {', '.join(TOOLS)}."
                raise CellError(f'"{visible(word)}" is not a tool known here.', fix)
        return tuple(raw)

    def _curve(self, column: str, raw: Any) -> list[tuple[float, float]]:
        fix = "Write torque_curve = [[1000, 80], [2000, 95], [4000, 90]]."
        if not (
            isinstance(raw, list)
            and len(raw) >= 2
            and all(isinstance(p, list) and len(p) == 2 for p in raw)
        ):
            raise CellError("the torque curve is not a list of [rpm, torque] pairs.", fix)
        points = []
        for number, pair in enumerate(raw, start=1):
            at = self._value(pair[0], RPM_TERM, f"{column}[{number}].rpm")
            value = self._value(pair[1], TORQUE_TERM, f"{column}[{number}].torque")
            if at is None or value is None:
                raise CellError("the torque curve has an unknown point.", "Leave that point out.")
            points.append((at.nominal, value.nominal))
        if any(b[0] <= a[0] for a, b in itertools.pairwise(points)):
            raise CellError(
                "the torque curve's speeds do not rise.",
                "Write the points in order of rpm, each rpm once.",
            )
        return points

    def _tables(
        self, raw: Any, what: str, known: Sequence[str], needed: Sequence[str], fix: str
    ) -> list[dict[str, Any]]:
        if not (isinstance(raw, list) and raw and all(isinstance(s, dict) for s in raw)):
            raise CellError(f"the {what}s are not a list.", fix)
        for number, item in enumerate(raw, start=1):
            for key in item:
                if key not in known:
                    near = did_you_mean(key, known)
                    raise CellError(
                        f'{what} {number}: "{visible(key)}" is not known.',
                        f"Did you mean {near}?" if near else fix,
                    )
            for key in needed:
                if key not in item:
                    raise CellError(f"{what} {number} has no {key}.", fix)
        return list(raw)

    def _stations(self, column: str, raw: Any) -> list[dict[str, Value]]:
        fix = "Write stations = [{x = 200, left = 150, right = 150, top = 180, bottom = 140}, ...]."
        stations = []
        for number, item in enumerate(
            self._tables(raw, "station", ("x", *STATION_SIDES), ("x",), fix), start=1
        ):
            station: dict[str, Value] = {}
            for key, cell in item.items():
                value = self._value(
                    cell, STATION_TERM if key == "x" else SIDE_TERM, f"{column}[{number}].{key}"
                )
                if value is not None:
                    station[key] = value
            if "x" not in station:
                raise CellError(f"station {number} has no x.", fix)
            stations.append(station)
        xs = [s["x"].nominal for s in stations]
        if any(b <= a for a, b in itertools.pairwise(xs)):
            raise CellError(
                "the stations' x do not rise.", "Write them front to rear, each x once."
            )
        return stations

    def _pieces(self, column: str, raw: Any) -> list[dict[str, Value]]:
        fix = "Write pieces = [{start = 200, end = 700, removable = true}, ...]."
        pieces = []
        for number, item in enumerate(
            self._tables(raw, "piece", ("start", "end", "removable"), ("start", "end"), fix),
            start=1,
        ):
            piece: dict[str, Value] = {}
            for key, cell in item.items():
                if key == "removable":
                    if not isinstance(cell, bool):
                        raise CellError(
                            f"piece {number}: removable is neither true nor false.", fix
                        )
                    piece[key] = Value(float(cell), 0.0)
                    self.log(f"{column}[{number}].{key}", cell, "flag", float(cell), READ)
                    continue
                value = self._value(cell, STATION_TERM, f"{column}[{number}].{key}")
                if value is None:
                    raise CellError(f"piece {number} has an unknown {key}.", fix)
                piece[key] = value
            if piece["end"].nominal <= piece["start"].nominal:
                raise CellError(
                    f"piece {number} ends before it starts.", "Write the front x as start."
                )
            pieces.append(piece)
        if any(b["start"].nominal < a["end"].nominal - 1e-9 for a, b in itertools.pairwise(pieces)):
            raise CellError(
                "the pieces overlap or do not run rearward.",
                "Write them front to rear, each stretch once.",
            )
        return pieces

    def _present(self, content: dict[str, Any]) -> None:
        terms = catalogue_terms()
        for key, raw in content.items():
            term = terms.get(key) or mark_term(key)
            if term is None:
                near = did_you_mean(key, terms)
                fix = (
                    f"Did you mean {near}?"
                    if near
                    else "It takes the same names as the catalogue's columns."
                )
                self.problem("gearbox", key, f'"{visible(key)}" is not known in [gearbox].', fix)
                continue
            column = f"gearbox.{key}"
            try:
                if term.kind == "text":
                    self.car.present_texts[key] = str(raw)
                    self.log(column, raw, "text", str(raw), READ)
                elif term.kind == "choice":
                    self.car.present_choices[key] = self._choice(column, raw, term)
                    self.car.present_texts[key] = str(raw)
                else:
                    value = self._value(raw, term, column)
                    if value is not None:
                        self.car.present[key] = value
                self.car.shown.append(("gearbox", key, _as_typed(raw)))
            except CellError as error:
                self.problem("gearbox", key, error.found, error.fix, error.options)

    def _weights(self, content: dict[str, Any]) -> None:
        for key, raw in content.items():
            name = re.sub(r"[\s-]+", "_", key.strip().casefold())
            if isinstance(raw, bool) or not isinstance(raw, int | float) or not 0 <= raw <= 1e6:
                self.log(f"weights.{key}", raw, "number", None, ASKED)
                self.problem(
                    "weights",
                    key,
                    f"{visible(raw)} is not a weight.",
                    "Write a number of zero or more.",
                )
                continue
            if name not in CRITERIA:
                near = did_you_mean(name, CRITERIA)
                hint = f" Did you mean {near}?" if near else ""
                self.car.warnings.append(
                    f"weights.{visible(key, 30)} is no criterion of the program; it counts only "
                    f"where the catalogue has a column mark_{visible(name, 30)}.{hint}"
                )
            self.car.weights[name] = float(raw)
            self.car.shown.append(("weights", key, _as_typed(raw)))
            self.log(f"weights.{key}", raw, "number", float(raw), READ)
        others = any(weight for name, weight in self.car.weights.items() if name not in CRITERIA)
        if (
            self.car.weights
            and not others
            and not any(self.car.weights.get(c, 1.0) for c in CRITERIA)
        ):
            self.problem(
                "weights", "", "every weight is zero.", "Give at least one criterion a weight."
            )

    # ---- keys that contradict each other ----

    def _together(self) -> None:
        values = self.car.values
        for low, high, section, key in (
            ("cruise_rpm_low", "cruise_rpm_high", "cruise", "rpm_high"),
            ("car_mount_drop_least", "car_mount_drop_most", "mount", "drop_most"),
            ("crossmember_start", "crossmember_end", "crossmember", "end"),
            ("opening_start", "opening_end", "opening", "end"),
            ("engine_slowest_pull", "engine_redline", "engine", "redline"),
            ("clutch_hub_front", "clutch_hub_rear", "clutch", "hub_rear"),
            ("clutch_release_travel", "clutch_release_travel_max", "clutch", "release_travel_max"),
            ("crank_bush_bore", "crank_bore_diameter", "crank", "bore_diameter"),
            (
                "engine_mounts_shift_bolted",
                "engine_mounts_shift_slotted",
                "engine_mounts",
                "shift_slotted",
            ),
        ):
            if low in values and high in values and values[high].nominal < values[low].nominal:
                self.problem(
                    section,
                    key,
                    f"it is below {low.split('_', 1)[1] if section in low else low}.",
                    "Check both numbers and their units.",
                )
        self._impossible_shapes()
        self._nothing_and_something()

    def _impossible_shapes(self) -> None:
        get = lambda name: self.car.values[name].nominal if name in self.car.values else math.nan
        if 0 < get("crank_mouth_diameter") < get("crank_bore_diameter"):
            self.problem(
                "crank",
                "mouth_diameter",
                "the mouth is narrower than the bore behind it.",
                "Check both numbers; leave the mouth out where there is none.",
            )
        if get("driveshaft_tube_wall") >= get("driveshaft_tube_diameter") / 2:
            self.problem(
                "driveshaft",
                "tube_wall",
                "the tube's wall is thicker than its radius.",
                "Check both numbers and their units.",
            )
        depth = get("car_bellhousing_depth")
        length = self.car.present["length"].nominal if "length" in self.car.present else math.nan
        if math.isnan(depth):
            depth = (
                self.car.present["bellhousing_depth"].nominal
                if "bellhousing_depth" in self.car.present
                else 0.0
            )
        if get("driveshaft_pinion_x") <= depth + length:
            self.problem(
                "driveshaft",
                "pinion_x",
                "the pinion lies before the output joint of today's gearbox.",
                "x counts from the block's rear face; check it, the gearbox's length and their "
                "units.",
            )

    def _nothing_and_something(self) -> None:
        """`none = true` says that nothing is in the way; then nothing there can have a size."""
        for section in dict.fromkeys(t.section for t in self.keys if t.key == "none"):
            stated = [key for where, key, _ in self.car.shown if where == section and key != "none"]
            name = next(t.name for t in self.keys if t.section == section and t.key == "none")
            if stated and name in self.car.values and self.car.values[name].nominal:
                self.problem(
                    section,
                    "none",
                    f"none = true, and yet {', '.join(stated[:3])} is given.",
                    "Take away one of the two.",
                )

    def _defaults(self) -> None:
        car = self.car
        for term in self.keys:
            if term.default is None:
                continue
            if term.kind == "choice":
                car.choices.setdefault(term.name, float(term.choices.index(str(term.default))))
            elif term.kind == "text":
                car.texts.setdefault(term.name, str(term.default))
            elif term.name not in car.values:
                scale = math.pi / 180 if term.kind == "angle" else 1.0
                car.values[term.name] = Value(float(term.default) * scale, 0.0)


def _as_typed(raw: Any) -> str:
    """What a key holds as a person would type it; lists within lists as TOML, so that they can be
    read back.

    >>> _as_typed("24 1/8 in"), _as_typed(["lathe", "mill"]), _as_typed([{"x": 0, "left": "9 in"}])
    ('24 1/8 in', '[lathe, mill]', '[{x = 0, left = "9 in"}]')
    """
    if isinstance(raw, list) and all(isinstance(r, str) and PLAIN_WORDS.fullmatch(r) for r in raw):
        return "[" + ", ".join(raw) + "]"
    return raw if isinstance(raw, str) else _nested(raw)


def _nested(raw: Any) -> str:
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, dict):
        return "{" + ", ".join(f"{k} = {_nested(v)}" for k, v in raw.items()) + "}"
    if isinstance(raw, list):
        return "[" + ", ".join(_nested(r) for r in raw) + "]"
    return json.dumps(raw, ensure_ascii=False) if isinstance(raw, str) else str(raw)
