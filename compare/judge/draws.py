"""Builds and car -> named arrays `(builds, draws)`; the only place where random numbers are drawn.

Draw 0 is the nominal value. A column without doubt stays `(builds, 1)`; car values are `(1, draws)` or `(1, 1)`.
Each stream is seeded by (seed, owner, column): a candidate's draws depend on its own name, not on its
neighbours, and a part draws the same for every build that uses it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from zlib import crc32

import numpy as np

from compare.judge.builds import Builds
from compare.read.car import Car
from compare.read.cells import Value
from compare.vocabulary import (
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    DEFAULT_HALF_WIDTH,
    GEARS,
    SOURCES,
    STATION_SIDES,
    Term,
)

__all__ = ["Doubt", "build_arrays", "car_arrays", "rectangular", "stream"]

Array = np.ndarray


@dataclass(frozen=True)
class Doubt:
    """One uncertain input: its name, owner, nominal and half-width, as `measure next` speaks of it."""

    column: str
    owner: str
    nominal: float
    half: float


def stream(seed: int, owner: str, column: str) -> np.random.Generator:
    """The random stream of one column of one owner."""
    key = [seed & 0xFFFFFFFF, crc32(owner.encode()), crc32(column.encode())]
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(key)))


def rectangular(nominal: float, half: float, draws: int, seed: int, owner: str, column: str) -> Array:
    """`(draws,)` values, uniform over nominal ± half, the first one nominal (JCGM 100:2008, 4.3.7)."""
    values = np.full(draws, nominal)
    if half > 0 and draws > 1:
        values[1:] += half * stream(seed, owner, column).uniform(-1.0, 1.0, draws - 1)
    return values


def bounds_of(term: Term) -> tuple[float, float]:
    scale = math.pi / 180 if term.kind == "angle" else 1.0
    return term.low * scale, term.high * scale


def build_arrays(builds: Builds, rows: Array, draws: int, seed: int) -> dict[str, Array]:
    """Named arrays for some builds. Every numeric column of the catalogue is there, NaN where unknown."""
    names: dict[str, Array] = {}
    for term in CATALOGUE_COLUMNS:
        column = builds.columns.get(term.name)
        if column is None:
            continue
        nominal, half = column.nominal[rows][:, None], column.half[rows]
        uncertain = np.flatnonzero((half > 0) & np.isfinite(nominal[:, 0])) if draws > 1 else ()
        if len(uncertain):
            values = np.repeat(nominal, draws, axis=1)
            cache: dict[int, Array] = {}
            for at in uncertain:
                row = int(rows[at])
                key = int(builds.owner[term.name][row])
                if key not in cache:
                    owner = builds.owner_name(term.name, row)
                    cache[key] = rectangular(nominal[at, 0], half[at], draws, seed, owner, term.name)
                values[at] = cache[key]
            np.clip(values, *bounds_of(term), out=values)
        else:
            values = nominal
        names[term.name] = values
    ratios = np.stack([names[g] for g in GEARS], axis=-1) if draws == 1 else _stacked([names[g] for g in GEARS])
    names["ratios"] = ratios
    thickness = builds.columns["adapter_thickness"]
    low = names.pop("adapter_thickness")
    high = thickness.high[rows][:, None]
    names["adapter_thickness_low"] = low
    names["adapter_thickness_high"] = np.where(np.isnan(high), low, high)
    driven = builds.columns["speedo_driven_teeth"]
    names["speedo_driven_least"] = driven.nominal[rows][:, None]
    names["speedo_driven_most"] = np.where(np.isnan(driven.high[rows]), driven.nominal[rows], driven.high[rows])[:, None]
    names["price"] = builds.price[rows][:, None]
    names["part_price"] = builds.part_price[rows][:, None]
    names["parts_inside"] = builds.parts_inside[rows][:, None]
    return names


def _stacked(gears: list[Array]) -> Array:
    width = max(g.shape[1] for g in gears)
    return np.stack([np.broadcast_to(g, (len(g), width)) for g in gears], axis=-1)


def car_doubt(term: Term, value: Value, source: str) -> float:
    """The half-width of a car value: as stated, else by the car's source."""
    if not math.isnan(value.half):
        return value.half
    defaults = DEFAULT_HALF_WIDTH.get("length" if term.kind in ("pair", "stations") else term.kind)
    if defaults is None or term.exact:
        return 0.0
    return defaults[source] * (math.pi / 180 if term.kind == "angle" else 1.0)


def car_source(car: Car) -> str:
    code = car.choices.get("car_source", math.nan)
    return "measured" if math.isnan(code) else SOURCES[int(code)]


def car_arrays(car: Car, draws: int, seed: int) -> dict[str, Array]:
    """Named arrays of the car, shared by all builds; NaN where the profile says nothing."""
    source = car_source(car)
    owner = "car"

    def drawn(term: Term, value: Value, column: str) -> Array:
        half = car_doubt(term, value, source)
        if half <= 0 or draws == 1:
            return np.full((1, 1), value.nominal)
        values = rectangular(value.nominal, half, draws, seed, owner, column)
        return np.clip(values, *bounds_of(term))[None, :]

    unknown = np.full((1, 1), math.nan)
    names: dict[str, Array] = {}
    for term in CAR_KEYS:
        if term.kind in ("text", "words", "tyre", "curve", "stations"):
            continue
        if term.kind == "pair":
            pair = car.pairs.get(term.name)
            for end, suffix in enumerate(("start", "end")):
                column = f"{term.name}_{suffix}"
                names[column] = drawn(term, pair[end], column) if pair else unknown
        elif term.kind == "choice":
            names[term.name] = np.full((1, 1), car.choices.get(term.name, math.nan))
        else:
            value = car.values.get(term.name)
            names[term.name] = drawn(term, value, term.name) if value else unknown
    thickness = car.values.get("car_adapter_thickness")
    low = names.pop("car_adapter_thickness")
    names["car_adapter_thickness_low"] = low
    names["car_adapter_thickness_high"] = low if thickness is None or math.isnan(thickness.high) else np.full((1, 1), thickness.high)
    names |= _tyre(car, draws, seed)
    names["engine_curve_rpm"] = np.array([[[p[0] for p in car.curve]]]) if car.curve else np.full((1, 1, 1), math.nan)
    names["engine_curve_torque"] = np.array([[[p[1] for p in car.curve]]]) if car.curve else np.full((1, 1, 1), math.nan)
    names |= _stations(car, draws, seed, source)
    for term in CATALOGUE_COLUMNS:
        if term.kind == "text":
            continue
        name = f"present_{term.name}"
        if term.kind == "choice":
            names[name] = np.full((1, 1), car.present_choices.get(term.name, math.nan))
        elif term.name in car.present:
            names[name] = np.full((1, 1), car.present[term.name].nominal)
        else:
            names[name] = unknown
    return names


def _tyre(car: Car, draws: int, seed: int) -> dict[str, Array]:
    if car.tyre is None:
        return dict.fromkeys(("tyre_width", "tyre_aspect", "tyre_rim", "tyre_radial", "tyre_scale"), np.full((1, 1), math.nan))
    tyre = car.tyre
    one = np.ones((1, 1))
    return {
        "tyre_width": tyre.width * one,
        "tyre_rim": tyre.rim * one,
        "tyre_radial": float(tyre.radial) * one,
        "tyre_aspect": rectangular(tyre.aspect, tyre.aspect_half, draws, seed, "car", "tyre_aspect")[None, :]
        if tyre.aspect_half
        else tyre.aspect * one,
        "tyre_scale": rectangular(1.0, tyre.scale_half, draws, seed, "car", "tyre_scale")[None, :]
        if tyre.scale_half
        else one,
    }


def _stations(car: Car, draws: int, seed: int, source: str) -> dict[str, Array]:
    names = {"tunnel_x": np.full((1, 1, 1), math.nan)} | {f"tunnel_{s}": np.full((1, 1, 1), math.nan) for s in STATION_SIDES}
    if not car.stations:
        return names
    names["tunnel_x"] = np.array([[[s["x"].nominal for s in car.stations]]])
    term = Term("tunnel", "length", "")
    for side in STATION_SIDES:
        columns = []
        for number, station in enumerate(car.stations):
            value = station.get(side) or _between(car.stations, number, side)
            if value is None:
                columns.append(np.full(draws, math.nan))
            else:
                half = car_doubt(term, value, source)
                columns.append(rectangular(value.nominal, half, draws, seed, "car", f"tunnel_{side}_{number}"))
        names[f"tunnel_{side}"] = np.stack(columns, axis=-1)[None, :, :]
    return names


def _between(stations: list[dict[str, Value]], number: int, side: str) -> Value | None:
    """A side left out at one station lies on the straight line between its neighbours."""
    known = [(s["x"].nominal, s[side].nominal) for s in stations if side in s]
    if not known:
        return None
    xs, widths = zip(*known, strict=True)
    return Value(float(np.interp(stations[number]["x"].nominal, xs, widths)), 0.0)


def car_doubts(car: Car) -> list[Doubt]:
    """Every uncertain value of the car by the name under which it is drawn."""
    source = car_source(car)
    found = []
    for term in CAR_KEYS:
        if term.kind == "pair" and term.name in car.pairs:
            for end, suffix in enumerate(("start", "end")):
                value = car.pairs[term.name][end]
                found.append(Doubt(f"{term.name}_{suffix}", "car", value.nominal, car_doubt(term, value, source)))
        elif term.name in car.values and not term.free_choice:
            value = car.values[term.name]
            found.append(Doubt(term.name, "car", value.nominal, car_doubt(term, value, source)))
    if car.tyre is not None:
        found.append(Doubt("tyre_scale", "car", 1.0, car.tyre.scale_half))
        found.append(Doubt("tyre_aspect", "car", car.tyre.aspect, car.tyre.aspect_half))
    term = Term("tunnel", "length", "")
    for number, station in enumerate(car.stations):
        for side in STATION_SIDES:
            if side in station:
                half = car_doubt(term, station[side], source)
                found.append(Doubt(f"tunnel_{side}_{number}", "car", station[side].nominal, half))
    return [d for d in found if d.half > 0]
