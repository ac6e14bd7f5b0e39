"""The car profile: TOML -> values by the rules' names, each problem with its key."""

from __future__ import annotations

import hashlib
import itertools
import math
import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from compare.problems import CellError, InputError, Problem, did_you_mean, visible
from compare.read.catalogue import read_choice
from compare.read.cells import TyreSize, Value, is_unknown, parse, parse_tyre
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


@dataclass
class Car:
    """A car profile in internal units, by the names that rules use. What is missing is simply not there."""

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
    pieces: list[dict[str, Value]] = field(default_factory=list)
    musts: tuple[str, ...] = ()
    shown: list[tuple[str, str, str]] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    digest: str = ""


def load_car(path: str | Path) -> Car:
    """Read a car profile. Raises InputError with every problem of the file."""
    path = Path(path)
    file = str(path)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        near = did_you_mean(path.name, [p.name for p in path.parent.iterdir()] if path.parent.is_dir() else [])
        fix = f"Did you mean {path.with_name(near)}?" if near else "Check the path, or make one with: gearbox-compare start FOLDER."
        raise InputError([Problem(file, "there is no such file.", fix)]) from None
    except OSError as error:
        raise InputError([Problem(file, f"cannot be read: {error.strerror}.", "Name a car profile (TOML).")]) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    return read_car(text, file, hashlib.sha256(data).hexdigest()[:16])


def read_car(text: str, file: str = "car profile", digest: str = "") -> Car:
    """Read a car profile from its text. Raises InputError."""
    try:
        data = tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        raise InputError([_syntax_problem(file, text, error)]) from None
    return _Reader(file, text, digest).read(data)


def _syntax_problem(file: str, text: str, error: tomllib.TOMLDecodeError) -> Problem:
    found = re.search(r"line (\d+)", str(error))
    line = int(found[1]) if found else None
    row = text.splitlines()[line - 1].strip() if line and line <= len(text.splitlines()) else ""
    fix = "Write key = number, or key = \"text with a unit\"."
    first = next((t for t in text.splitlines() if t.strip() and not t.strip().startswith("#")), "")
    if re.match(r"\W*(name|part)\W*[,;\t]", first, re.IGNORECASE):
        return Problem(file, "is a table, not a car profile.", "Name the catalogue first and the car profile (TOML) after --car.")
    value = row.partition("=")[2].strip()
    if re.search(r"overwrite|twice|duplicate|declare", str(error)):
        return Problem(file, f'"{visible(row, 40)}": this key or section stands twice.', "Keep one of the two.", line)
    if re.fullmatch(r"\d+,\d+.*", value):
        fix = f"Write a decimal point, {visible(value.replace(',', '.', 1), 20)}, or put the value in quotes."
    elif value and not value.startswith(('"', "[", "{")) and re.search(r"[A-Za-z\"½±]", value):
        quoted = value.replace('"', " in")
        fix = f'Put a value with a unit in quotes: {visible(row.partition("=")[0].strip(), 30)} = "{visible(quoted, 30)}".'
    return Problem(file, f'"{visible(row, 50)}" cannot be read ({visible(error, 60)}).', fix, line)


class _Reader:
    def __init__(self, file: str, text: str, digest: str) -> None:
        self.car = Car(file, "the car", digest=digest)
        self.file = file
        self.lines = text.splitlines()
        self.problems: list[Problem] = []

    def line_of(self, section: str, key: str = "") -> int | None:
        inside = False
        for number, line in enumerate(self.lines, start=1):
            bare = line.strip()
            if re.match(r"\[+[^\[\]]+\]+", bare):
                inside = bare.strip("[] \t").split("#")[0].strip("[] ") == section
                if inside and not key:
                    return number
            elif (inside and re.match(rf'"?{re.escape(key)}"?\s*=', bare)) or re.match(rf"{re.escape(section)}\.{re.escape(key)}\s*=", bare):
                return number
        return None

    def problem(self, section: str, key: str, found: str, fix: str) -> None:
        name = f"{section}.{key}" if key else section
        self.problems.append(Problem(self.file, found, fix, self.line_of(section, key), key=name))

    def read(self, data: dict[str, Any]) -> Car:
        known: dict[str, dict[str, Term]] = {}
        for term in CAR_KEYS:
            known.setdefault(term.section, {})[term.key] = term
        for section, content in data.items():
            if section not in SECTIONS:
                near = did_you_mean(section, SECTIONS)
                self.problem(section, "", f'"{visible(section)}" is no section of a car profile.',
                             f"Did you mean [{near}]?" if near else f"Sections are: {', '.join(SECTIONS)}.")  # fmt: skip
            elif not isinstance(content, dict):
                self.problem(section, "", f'"{visible(section)}" must be a section.', f"Write [{section}] on a line of its own.")
            elif section == "gearbox":
                self._present(content)
            elif section == "limits":
                self.car.limits = content
            elif section == "weights":
                self._weights(content)
            else:
                for key, raw in content.items():
                    if key not in known[section]:
                        near = did_you_mean(key, known[section])
                        self.problem(section, key, f'"{visible(key)}" is not known in [{section}].',
                                     f"Did you mean {near}?" if near else f"Known here: {', '.join(known[section])}.")  # fmt: skip
                    else:
                        self._key(section, key, raw, known[section][key])
        self._together()
        self._defaults()
        if self.problems:
            raise InputError(self.problems)
        return self.car

    def _key(self, section: str, key: str, raw: Any, term: Term) -> None:
        car = self.car
        try:
            if term.kind == "text":
                if not isinstance(raw, str):
                    raise CellError(f"{visible(raw)} is not a text.", f'Write {key} = "a name".')
                car.texts[term.name] = raw
                if term.name == "car_name":
                    car.name = raw.strip() or car.name
            elif term.kind == "choice":
                car.choices[term.name] = read_choice(self._text(raw, term), term)
            elif term.kind == "flag":
                if not isinstance(raw, bool):
                    raise CellError(f"{visible(raw)} is neither true nor false.", f"Write {key} = true or {key} = false.")
                car.values[term.name] = Value(float(raw), 0.0)
            elif term.kind == "tyre":
                if not is_unknown(self._text(raw, term)):
                    car.tyre = parse_tyre(self._text(raw, term))
                    if car.tyre.advice:
                        car.warnings.append(f"tyre.size {visible(raw, 20)}: {car.tyre.advice}.")
            elif term.kind == "words":
                car.tools = self._tools(raw)
            elif term.kind == "pair":
                if not (isinstance(raw, list) and len(raw) == 2):
                    raise CellError(f"{visible(raw)} is not a pair.", f"Write {key} = [820, 900].")
                low, high = (self._value(r, term) for r in raw)
                if low is not None and high is not None:
                    if high.nominal < low.nominal:
                        raise CellError(f"{visible(raw)} runs backwards.", "Write the front x first.")
                    car.pairs[term.name] = (low, high)
            elif term.kind == "curve":
                car.curve = self._curve(raw)
            elif term.kind == "stations":
                car.stations = self._stations(raw)
            else:
                value = self._value(raw, term)
                if value is not None:
                    car.values[term.name] = value
            car.shown.append((section, key, _as_typed(raw)))
        except CellError as error:
            self.problem(section, key, error.found, error.fix)

    def _text(self, raw: Any, term: Term) -> str:
        if not isinstance(raw, str):
            raise CellError(f"{visible(raw)} is not a text.", f'Put it in quotes: "{visible(raw, 20)}".')
        return raw

    def _value(self, raw: Any, term: Term) -> Value | None:
        if isinstance(raw, bool) or not isinstance(raw, int | float | str):
            raise CellError(f"{visible(raw)} is not a number.", f"Write a number ({term.unit or 'no unit'}) or a text with a unit.")
        if isinstance(raw, int | float):
            if not math.isfinite(raw) or abs(raw) >= 1e12:
                raise CellError(f"{visible(raw)} is not a possible number.", "Write a number; leave the key out if you do not know it.")
            # A TOML number has one decimal point by its own rules; three decimals are no thousand.
            raw = str(raw) if isinstance(raw, int) else f"{raw:.9f}"
        kind = "length" if term.kind == "pair" else term.kind
        return parse(raw, term if kind == term.kind else Term(**{**term.__dict__, "kind": kind}))

    def _tools(self, raw: Any) -> tuple[str, ...]:
        if not (isinstance(raw, list) and all(isinstance(r, str) for r in raw)):
            raise CellError(f"{visible(raw)} is not a list of tools.", 'Write tools = ["lathe", "welder"].')
        for word in raw:
            if word not in TOOLS:
                near = did_you_mean(word, TOOLS)
                raise CellError(f'"{visible(word)}" is not a tool known here.',
                                f"Did you mean {near}?" if near else f"Known tools: {', '.join(TOOLS)}.")  # fmt: skip
        return tuple(raw)

    def _curve(self, raw: Any) -> list[tuple[float, float]]:
        rpm = Term("rpm", "rpm", "", low=100, high=15000)
        torque = Term("torque", "torque", "", low=1, high=3000)
        fix = "Write torque_curve = [[1000, 80], [2000, 95], [4000, 90]]."
        if not (isinstance(raw, list) and len(raw) >= 2 and all(isinstance(p, list) and len(p) == 2 for p in raw)):
            raise CellError("the torque curve is not a list of [rpm, torque] pairs.", fix)
        points = []
        for pair in raw:
            at, value = self._value(pair[0], rpm), self._value(pair[1], torque)
            if at is None or value is None:
                raise CellError("the torque curve has an unknown point.", "Leave that point out.")
            points.append((at.nominal, value.nominal))
        if any(b[0] <= a[0] for a, b in itertools.pairwise(points)):
            raise CellError("the torque curve's speeds do not rise.", "Write the points in order of rpm, each rpm once.")
        return points

    def _stations(self, raw: Any) -> list[dict[str, Value]]:
        fix = "Write stations = [{x = 200, left = 150, right = 150, top = 180, bottom = 140}, ...]."
        if not (isinstance(raw, list) and raw and all(isinstance(s, dict) for s in raw)):
            raise CellError("the stations are not a list.", fix)
        stations = []
        for number, item in enumerate(raw, start=1):
            for key in item:
                if key not in ("x", *STATION_SIDES):
                    near = did_you_mean(key, ("x", *STATION_SIDES))
                    raise CellError(f'station {number}: "{visible(key)}" is not known.', f"Did you mean {near}?" if near else fix)
            if "x" not in item:
                raise CellError(f"station {number} has no x.", fix)
            station: dict[str, Value] = {}
            for key, cell in item.items():
                value = self._value(cell, STATION_TERM if key == "x" else SIDE_TERM)
                if value is not None:
                    station[key] = value
            if "x" not in station:
                raise CellError(f"station {number} has no x.", fix)
            stations.append(station)
        xs = [s["x"].nominal for s in stations]
        if any(b <= a for a, b in itertools.pairwise(xs)):
            raise CellError("the stations' x do not rise.", "Write them front to rear, each x once.")
        return stations

    def _present(self, content: dict[str, Any]) -> None:
        terms = catalogue_terms()
        for key, raw in content.items():
            term = terms.get(key)
            if term is None:
                near = did_you_mean(key, terms)
                self.problem("gearbox", key, f'"{visible(key)}" is not known in [gearbox].',
                             f"Did you mean {near}?" if near else "It takes the same names as the catalogue's columns.")  # fmt: skip
                continue
            try:
                if term.kind == "text":
                    self.car.present_texts[key] = str(raw)
                elif term.kind == "choice":
                    self.car.present_choices[key] = read_choice(self._text(raw, term), term)
                    self.car.present_texts[key] = str(raw)
                else:
                    value = self._value(raw, term)
                    if value is not None:
                        self.car.present[key] = value
                self.car.shown.append(("gearbox", key, _as_typed(raw)))
            except CellError as error:
                self.problem("gearbox", key, error.found, error.fix)

    def _weights(self, content: dict[str, Any]) -> None:
        for key, raw in content.items():
            if key not in CRITERIA:
                near = did_you_mean(key, CRITERIA)
                self.problem("weights", key, f'"{visible(key)}" is not a criterion.',
                             f"Did you mean {near}?" if near else f"Criteria are: {', '.join(CRITERIA)}.")  # fmt: skip
            elif isinstance(raw, bool) or not isinstance(raw, int | float) or not 0 <= raw <= 1e6:
                self.problem("weights", key, f"{visible(raw)} is not a weight.", "Write a number of zero or more.")
            else:
                self.car.weights[key] = float(raw)
        if content and self.car.weights and not any(self.car.weights.get(c, 1.0) for c in CRITERIA):
            self.problem("weights", "", "every weight is zero.", "Give at least one criterion a weight.")

    def _together(self) -> None:
        """Pairs of keys that contradict each other."""
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
            ("engine_mounts_shift_bolted", "engine_mounts_shift_slotted", "engine_mounts", "shift_slotted"),
        ):
            if low in values and high in values and values[high].nominal < values[low].nominal:
                self.problem(section, key, f"it is below {low.split('_', 1)[1] if section in low else low}.",
                             "Check both numbers and their units.")  # fmt: skip

    def _defaults(self) -> None:
        car = self.car
        for term in CAR_KEYS:
            if term.default is None:
                continue
            if term.kind == "choice":
                car.choices.setdefault(term.name, float(term.choices.index(str(term.default))))
            elif term.name not in car.values:
                scale = math.pi / 180 if term.kind == "angle" else 1.0
                car.values[term.name] = Value(float(term.default) * scale, 0.0)


def _as_typed(raw: Any) -> str:
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, dict):
        return "{" + ", ".join(f"{k} = {_as_typed(v)}" for k, v in raw.items()) + "}"
    if isinstance(raw, list):
        return "[" + ", ".join(_as_typed(r) for r in raw) + "]"
    return str(raw)
