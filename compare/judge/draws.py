"""Builds and car -> named arrays `(builds, draws)`; the only place where random numbers are drawn.

Draw 0 is the nominal value. A column without doubt stays `(builds, 1)`; car values are `(1, draws)`
or `(1, 1)`.
Each stream is seeded by (seed, batch, owner, column): a candidate's draws depend on its own name,
not on its
neighbours, and a part draws the same for every build that uses it. A stream is a Latin hypercube:
of n draws
exactly one lies in each nth of the range. An unknown number with a likely range is drawn over it;
its nominal
draw stands in the middle; with `fill` off it stays NaN.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any
from zlib import crc32

import numpy as np

from compare.judge.builds import Builds
from compare.read.car import Car
from compare.read.catalogue import Column
from compare.read.cells import Value
from compare.vocabulary import (
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    DEFAULT_HALF_WIDTH,
    GEARS,
    LIKELY,
    LIKELY_SHARE,
    SOURCES,
    STATION_SIDES,
    Term,
    car_terms_by_name,
)

__all__ = [
    "Doubt",
    "Draw",
    "Moved",
    "Nested",
    "Typed",
    "build_arrays",
    "car_arrays",
    "car_doubts",
    "derived",
    "joined",
    "latin",
    "present_arrays",
    "typed_arrays",
]

Array = np.ndarray
# Typed from an integral bell's front: stations lose the depth, what stands forward of the face
# gains it.
FOR_CAR = "for car "  # before the name of a car key that a part replaces
FROM_BELL = {"length": -1.0, "case_length": -1.0, "mount_position": -1.0, "shifter_position": -1.0}
FROM_BELL |= {"shaft_stickout": 1.0, "collar_length": 1.0}
DEPTH_KINDS = ("length", "position")


@dataclass(frozen=True)
class Draw:
    """How to draw: `count` random draws beside the nominal one, seed, batch, unknowns filled or
    not.
    """

    count: int = 0
    seed: int = 1
    batch: int = 0
    fill: bool = True

    def points(self, owner: str, column: str) -> Array:
        """`(count,)` numbers in [0, 1) of one stream."""
        return latin(self, owner, column)


NOMINAL = Draw()


@dataclass(frozen=True)
class Batches(Draw):
    """Batches one after the other, each its own hypercube of `each` draws: `batch` and those behind
    it.

    >>> how = Batches(8, batch=2, each=4)
    >>> bool((how.points("car", "a")[4:] == Draw(4, batch=3).points("car", "a")).all())
    True
    """

    each: int = 1

    def points(self, owner: str, column: str) -> Array:
        batches = range(self.batch, self.batch + self.count // self.each)
        return np.concatenate(
            [latin(Draw(self.each, self.seed, n), owner, column) for n in batches]
        )


@dataclass(frozen=True)
class Nested(Draw):
    """Draws in two rings: `known` streams (owner, column) stand still while all others run through theirs.

    count: outer × inner. Every outer draw meets the same inner ones, so that two outer draws differ
    by
    what is known and by nothing else. Draw k is outer draw k // inner, inner draw k % inner.

    >>> how = Nested(6, known=frozenset({("car", "a")}), outer=2)
    >>> known, other = how.points("car", "a"), how.points("car", "b")
    >>> len(set(known[:3])), len(set(known)), bool((other[:3] == other[3:]).all())
    (1, 2, True)
    """

    known: frozenset[tuple[str, str]] = frozenset()
    outer: int = 1

    def points(self, owner: str, column: str) -> Array:
        inner = self.count // self.outer
        if (owner, column) in self.known:
            ring = Draw(self.outer, self.seed, self.batch + 1)
            return np.repeat(latin(ring, owner, column), inner)
        return np.tile(latin(Draw(inner, self.seed, self.batch), owner, column), self.outer)


@dataclass(frozen=True)
class Moved(Draw):
    """The same draws again and again, each time one stream drawn anew: which dimension matters at all.

    moved: the streams (owner, column); count: (1 + streams) × draws. Block 0 is as drawn, in block
    i
    the i-th stream is another one.

    >>> how = Moved(6, moved=(("car", "a"),))
    >>> a, b = how.points("car", "a").reshape(2, 3), how.points("car", "b").reshape(2, 3)
    >>> bool((a[0] == a[1]).any()), bool((b[0] == b[1]).all())
    (False, True)
    """

    moved: tuple[tuple[str, str], ...] = ()

    def points(self, owner: str, column: str) -> Array:
        blocks = 1 + len(self.moved)
        each = self.count // blocks
        points = np.tile(latin(Draw(each, self.seed, self.batch), owner, column), (blocks, 1))
        if (owner, column) in self.moved:
            again = Draw(each, self.seed, self.batch + 1)
            points[1 + self.moved.index((owner, column))] = latin(again, owner, column)
        return points.ravel()


@dataclass(frozen=True)
class Doubt:
    """One uncertain input: its name, owner, nominal and half-width."""

    column: str
    owner: str
    nominal: float
    half: float


def latin(how: Draw, owner: str, column: str) -> Array:
    """`(count,)` numbers in [0, 1), exactly one in each of `count` equal parts, in random order.

    >>> points = latin(Draw(8), "candidate Tarn", "length")
    >>> sorted((points * 8).astype(int).tolist())
    [0, 1, 2, 3, 4, 5, 6, 7]
    """
    key = [how.seed & 0xFFFFFFFF, how.batch, crc32(owner.encode()), crc32(column.encode())]
    random = np.random.Generator(np.random.PCG64(np.random.SeedSequence(key)))
    return (random.permutation(how.count) + random.random(how.count)) / max(how.count, 1)


def over(low: float, high: float, nominal: float, how: Draw, owner: str, column: str) -> Array:
    """`(1 + count,)` values uniform over [low, high], the first one nominal (JCGM 100:2008, 4.3.7)."""
    values = np.empty(1 + how.count)
    values[0] = nominal
    values[1:] = low + (high - low) * how.points(owner, column)
    return values


def scale_of(term: Term) -> float:
    """Internal units per base unit: angles are typed in degrees and kept in radians."""
    return math.pi / 180 if term.kind == "angle" else 1.0


def bounds_of(term: Term) -> tuple[float, float]:
    """The possible range in internal units."""
    return term.low * scale_of(term), term.high * scale_of(term)


def likely_of(term: Term) -> tuple[float, float] | None:
    """The likely range of an unknown number in internal units; None where there is none."""
    found = LIKELY.get(term.name)
    return None if found is None else (found[0] * scale_of(term), found[1] * scale_of(term))


@dataclass
class Typed:
    """Numbers as they are typed, before anything is derived from them.

    names: by column `(rows, 1)` or `(rows, draws)`. shares: of an unknown number its share of
    another
    dimension, NaN where it is known.
    """

    names: dict[str, Array]
    shares: dict[str, Array]


def typed_arrays(builds: Builds, rows: Array, how: Draw = NOMINAL) -> Typed:
    """Every numeric column of some builds, NaN where unknown."""
    names: dict[str, Array] = {}
    for term in CATALOGUE_COLUMNS:
        if term.name in builds.columns:
            names[term.name] = _column(builds, rows, term, how)
    for name in builds.columns:
        if name.startswith("mark_"):
            names[name] = builds.columns[name].nominal[rows][:, None]
    terms = car_terms_by_name()
    for name, column in builds.car_columns.items():
        names[FOR_CAR + name] = _cells(column, builds, rows, terms[name], how)
    for name in ("adapter_thickness", "speedo_driven_teeth"):
        names[f"{name}_most"] = builds.columns[name].high[rows][:, None]
    names["price"] = builds.price[rows][:, None]
    names["part_price"] = builds.part_price[rows][:, None]
    names["parts_inside"] = builds.parts_inside[rows][:, None]
    return Typed(names, _shares(builds, rows, names, how) if how.fill else {})


def build_arrays(builds: Builds, rows: Array, how: Draw = NOMINAL) -> dict[str, Array]:
    """Named arrays for some builds. Every numeric column of the catalogue is there, NaN where
    unknown.
    """
    return derived(typed_arrays(builds, rows, how))


def derived(typed: Typed) -> dict[str, Array]:
    """The names that rules know, from numbers as they are typed."""
    names = dict(typed.names)
    for name, share in typed.shares.items():
        of = LIKELY_SHARE[name][0]
        names[name] = np.where(np.isnan(share), names[name], names[of] * share)
    _collected(names)
    low, most = names["adapter_thickness_low"], names.pop("adapter_thickness_most")
    names["adapter_thickness_high"] = np.where(np.isnan(most), low, most)
    least, most = names["speedo_driven_teeth"], names.pop("speedo_driven_teeth_most")
    names["speedo_driven_least"] = least[:, :1]
    names["speedo_driven_most"] = np.where(np.isnan(most), least[:, :1], most)
    return names


def joined(of_car: dict[str, Any], of_builds: dict[str, Array]) -> dict[str, Any]:
    """The car's arrays and those of the builds as one; a part's value stands for the car's own."""
    names: dict[str, Any] = dict(of_car)
    for name, array in of_builds.items():
        if name.startswith(FOR_CAR):
            key = name.removeprefix(FOR_CAR)
            names[key] = np.where(np.isnan(array), of_car[key], array)
        else:
            names[name] = array
    return names


def _column(builds: Builds, rows: Array, term: Term, how: Draw) -> Array:
    return _cells(builds.columns[term.name], builds, rows, term, how)


def _cells(column: Column, builds: Builds, rows: Array, term: Term, how: Draw) -> Array:
    nominal, half = column.nominal[rows][:, None].copy(), column.half[rows]
    low, high = nominal[:, 0] - half, nominal[:, 0] + half
    free = np.isfinite(column.high[rows])
    wide = (half > 0) & np.isfinite(nominal[:, 0]) & ~free
    likely = likely_of(term) if term.section == "" else None
    if how.fill and likely is not None:
        blank = np.isnan(nominal[:, 0])
        low, high = np.where(blank, likely[0], low), np.where(blank, likely[1], high)
        nominal[blank] = (likely[0] + likely[1]) / 2.0
        wide |= blank
    if not how.count or not wide.any():
        return nominal
    values = np.repeat(nominal, 1 + how.count, axis=1)
    cache: dict[int, Array] = {}
    for at in np.flatnonzero(wide):
        row = int(rows[at])
        key = int(builds.owner[term.name][row])
        if key not in cache:
            owner = builds.owner_name(term.name, row)
            cache[key] = over(low[at], high[at], nominal[at, 0], how, owner, term.name)
        values[at] = cache[key]
    if term.kind == "count":
        values = np.round(values)
    return np.clip(values, *bounds_of(term), out=values)


def _shares(builds: Builds, rows: Array, names: dict[str, Array], how: Draw) -> dict[str, Array]:
    """Unknown numbers whose likely range is a share of another dimension of the same build."""
    found = {}
    for name, (_, low, high) in LIKELY_SHARE.items():
        blank = np.flatnonzero(np.isnan(names[name][:, 0]))
        if not len(blank):
            continue
        share = np.full((len(rows), 1 + how.count), math.nan)
        for at in blank:
            owner = builds.owner_name(name, int(rows[at]))
            share[at] = over(low, high, (low + high) / 2.0, how, owner, name)
        found[name] = share
    return found


def _collected(names: dict[str, Array]) -> None:
    """What rules know under other names: the gears on an axis, the ends of the thickness; all from
    the face.
    """
    names["ratios"] = _stacked([names[g] for g in GEARS])
    from_bell = names["measured_from"] == 1
    if from_bell.any():
        depth = names["bellhousing_depth"]
        for name, sign in FROM_BELL.items():
            names[name] = np.where(from_bell, names[name] * 1.0 + sign * depth, names[name])
    names["adapter_thickness_low"] = names.pop("adapter_thickness")


def _stacked(gears: list[Array]) -> Array:
    return np.stack(np.broadcast_arrays(*gears), axis=-1)


# ---- the car -------------------------------------------------------------------------------------


def car_doubt(term: Term, value: Value, source: str) -> float:
    """The half-width of a car value: as stated, else by the car's source."""
    if not math.isnan(value.half):
        return value.half
    kind = "length" if term.kind in ("pair", "stations", "pieces") else term.kind
    defaults = DEFAULT_HALF_WIDTH.get(kind)
    if defaults is None or term.exact:
        return 0.0
    return defaults[source] * scale_of(term)


def car_source(car: Car) -> str:
    code = car.choices.get("car_source", math.nan)
    return "measured" if math.isnan(code) else SOURCES[int(code)]


def _drawn(
    term: Term, value: Value | None, column: str, source: str, how: Draw, owner: str = "car"
) -> Array:
    """One value `(1, 1 + count)` or `(1, 1)`; over its likely range where it is unknown."""
    if value is None:
        likely = likely_of(term) if how.fill else None
        if likely is None:
            return np.full((1, 1), math.nan)
        low, high = likely
        value = Value((low + high) / 2.0, (high - low) / 2.0)
    half = car_doubt(term, value, source)
    if half <= 0 or not how.count:
        return np.full((1, 1), value.nominal)
    nominal = value.nominal
    values = over(nominal - half, nominal + half, nominal, how, owner, column)
    if term.kind == "count":
        values = np.round(values)
    return np.clip(values, *bounds_of(term))[None, :]


def car_arrays(car: Car, how: Draw = NOMINAL) -> dict[str, Array]:
    """Named arrays of the car, shared by all builds; NaN where the profile says nothing."""
    source = car_source(car)
    unknown = np.full((1, 1), math.nan)
    names: dict[str, Array] = {}
    for term in CAR_KEYS:
        if term.kind in ("text", "words", "names", "tyre", "curve", "stations", "pieces"):
            continue
        if term.kind == "pair":
            pair = car.pairs.get(term.name)
            for end, suffix in enumerate(("start", "end")):
                column = f"{term.name}_{suffix}"
                given = pair[end] if pair else None
                names[column] = _drawn(term, given, column, source, how)
        elif term.kind == "choice":
            names[term.name] = np.full((1, 1), car.choices.get(term.name, math.nan))
        elif term.kind == "flag":
            value = car.values.get(term.name)
            names[term.name] = np.full((1, 1), value.nominal if value else math.nan)
        else:
            value = car.values.get(term.name)
            names[term.name] = _drawn(term, value, term.name, source, how)
    thickness = car.values.get("car_adapter_thickness")
    low = names.pop("car_adapter_thickness")
    names["car_adapter_thickness_low"] = low[:, :1]
    free = thickness is not None and not math.isnan(thickness.high)
    names["car_adapter_thickness_high"] = (
        np.full((1, 1), thickness.high) if thickness is not None and free else low[:, :1]
    )
    names |= _tyre(car, how)
    curve = np.array(car.curve) if car.curve else np.full((1, 2), math.nan)
    names["engine_curve_rpm"], names["engine_curve_torque"] = (
        curve[:, 0][None, None],
        curve[:, 1][None, None],
    )
    names |= _stations(car, how, source) | _pieces(car)
    for term in CATALOGUE_COLUMNS:
        if term.kind != "text":
            name = f"present_{term.name}"
            code = car.present_choices.get(term.name, math.nan)
            value = car.present.get(term.name)
            nominal = code if term.kind == "choice" else value.nominal if value else math.nan
            names[name] = np.full((1, 1), nominal) if nominal == nominal else unknown
    return names


def _tyre(car: Car, how: Draw) -> dict[str, Array]:
    parts = ("tyre_width", "tyre_aspect", "tyre_rim", "tyre_radial", "tyre_scale")
    if car.tyre is None:
        return dict.fromkeys(parts, np.full((1, 1), math.nan))
    tyre, one = car.tyre, np.ones((1, 1))

    def drawn(name: str, nominal: float, half: float) -> Array:
        if not (half and how.count):
            return nominal * one
        return over(nominal - half, nominal + half, nominal, how, "car", name)[None, :]

    return {
        "tyre_width": tyre.width * one,
        "tyre_rim": tyre.rim * one,
        "tyre_radial": float(tyre.radial) * one,
        "tyre_aspect": drawn("tyre_aspect", tyre.aspect, tyre.aspect_half),
        "tyre_scale": drawn("tyre_scale", 1.0, tyre.scale_half),
    }


STATION = Term("tunnel", "length", "", low=0.0, high=2000.0)


def _stations(car: Car, how: Draw, source: str) -> dict[str, Array]:
    blank = np.full((1, 1, 1), math.nan)
    names = {"tunnel_x": blank} | {f"tunnel_{s}": blank for s in STATION_SIDES}
    if not car.stations:
        return names
    names["tunnel_x"] = np.array([[[s["x"].nominal for s in car.stations]]])
    for side in STATION_SIDES:
        columns = []
        for number, station in enumerate(car.stations):
            value = station.get(side) or _between(car.stations, number, side)
            drawn = _drawn(STATION, value, f"tunnel_{side}_{number}", source, how)
            columns.append(np.broadcast_to(drawn, (1, 1 + how.count)))
        names[f"tunnel_{side}"] = np.stack(columns, axis=-1)
    return names


def _between(stations: list[dict[str, Value]], number: int, side: str) -> Value | None:
    """A side left out at one station lies on the straight line between its neighbours."""
    known = [(s["x"].nominal, s[side].nominal) for s in stations if side in s]
    if not known:
        return None
    xs, widths = zip(*known, strict=True)
    return Value(float(np.interp(stations[number]["x"].nominal, xs, widths)), 0.0)


def _pieces(car: Car) -> dict[str, Array]:
    """Where there is a tunnel, `(1, 1, pieces)`; one piece without ends where the profile names
    none.
    """
    removable = car.values.get("tunnel_removable")
    flag = removable.nominal if removable else 0.0
    pieces = [
        (p["start"].nominal, p["end"].nominal, p["removable"].nominal if "removable" in p else flag)
        for p in car.pieces
    ] or [(-math.inf, math.inf, flag)]
    array = np.array(pieces)
    keys = ("tunnel_piece_start", "tunnel_piece_end", "tunnel_piece_removable")
    return {key: array[:, i][None, None, :] for i, key in enumerate(keys)}


def present_arrays(car: Car, how: Draw = NOMINAL) -> dict[str, Array]:
    """Today's gearbox under the names that a build has, with its own doubts `(1, draws)`; price
    nothing.
    """
    source = car_source(car)
    names: dict[str, Array] = {}
    for term in CATALOGUE_COLUMNS:
        if term.kind == "text":
            continue
        if term.kind == "choice":
            code = car.present_choices.get(term.name, math.nan)
            names[term.name] = np.full((1, 1), code)
        else:
            given = car.present.get(term.name)
            value = given and Value(given.nominal, given.half)
            unfilled = replace(how, fill=False)
            names[term.name] = _drawn(term, value, term.name, source, unfilled, "present")
    if math.isnan(car.present_choices.get("bellhousing", math.nan)):
        names["bellhousing"] = np.ones((1, 1))
    if math.isnan(car.present_choices.get("adapter", math.nan)):
        names["adapter"] = np.zeros((1, 1))
    _collected(names)
    names["adapter_thickness_high"] = names["adapter_thickness_low"]
    teeth = car.present.get("speedo_driven_teeth")
    least = teeth.nominal if teeth else math.nan
    most = teeth.high if teeth and not math.isnan(teeth.high) else least
    names["speedo_driven_least"], names["speedo_driven_most"] = (
        np.full((1, 1), least),
        np.full((1, 1), most),
    )
    names["price"] = names["part_price"] = names["parts_inside"] = np.zeros((1, 1))
    return names


def car_doubts(car: Car) -> list[Doubt]:
    """Every uncertain value of the car by the name under which it is drawn."""
    source = car_source(car)
    found = []
    for term in CAR_KEYS:
        if term.kind == "pair" and term.name in car.pairs:
            for end, suffix in enumerate(("start", "end")):
                value = car.pairs[term.name][end]
                half = car_doubt(term, value, source)
                found.append(Doubt(f"{term.name}_{suffix}", "car", value.nominal, half))
        elif term.name in car.values and not term.free_choice and term.kind != "flag":
            value = car.values[term.name]
            half = car_doubt(term, value, source)
            found.append(Doubt(term.name, "car", value.nominal, half))
    if car.tyre is not None:
        found.append(Doubt("tyre_scale", "car", 1.0, car.tyre.scale_half))
        found.append(Doubt("tyre_aspect", "car", car.tyre.aspect, car.tyre.aspect_half))
    for number, station in enumerate(car.stations):
        for side in STATION_SIDES:
            if side in station:
                half = car_doubt(STATION, station[side], source)
                found.append(Doubt(f"tunnel_{side}_{number}", "car", station[side].nominal, half))
    return [d for d in found if d.half > 0]


def open_keys(car: Car, names: Any, fill: bool = True) -> list[str]:
    """Those of some car keys that the profile does not give and that have no likely range.

    Without `fill` also those that have one.
    """
    given = car_arrays(car, Draw(fill=fill))
    parts = {
        "engine_torque_curve": "engine_curve_rpm",
        "tunnel_stations": "tunnel_x",
        "tyre_size": "tyre_width",
        "car_mount_zone": "car_mount_zone_start",
    }
    found = []
    for name in names:
        array = given.get(parts.get(name, name))
        if array is not None and bool(np.isnan(array).all()):
            found.append(name)
    return found
