"""Tunnel: bell, case and tail against its sides, top and bottom, and what must be eased or cut.

The housing is three boxes along x. A cut is what is missing to the tight clearance; each place (a
side
of a box, over what unbolts or over what is fixed) counts once and places add up within an undo
step.
A stretch of the tunnel that no station describes is open, not clear.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
    AtLeast,
    Limit,
    Reading,
    check,
    decision,
    quantity,
    seat_bound,
    unknown_where,
)
from compare.judge.seat import Bound
from compare.ordering import Cut, order, parts_of, tell
from compare.standards import general_tolerance

Array = np.ndarray
SIDES = ("left", "right", "top", "bottom")
OPEN = 1e6  # farther than anything: nothing there

STATION_REACH = Limit(
    "tunnel_station_reach",
    40.0,
    "mm",
    "practice: so far beyond the last station its section goes on",
)


def interpolate(x: Array, stations: Array, values: Array) -> Array:
    """Straight lines between stations; kept flat beyond the first and the last.

    x: `(..., points)` [mm]. stations, values: `(..., S)` [mm], leading axes broadcast against those
    of x.

    >>> interpolate(np.array([[150.0, 900.0]]), np.array([[100.0, 200.0]]), np.array([[50.0, 30.0]])).tolist()
    [[40.0, 30.0]]
    """
    stations, values = _around(_least(x), _most(x), stations, values)
    total = unknown_where(values[..., :1], x)
    for k in range(stations.shape[-1] - 1):
        run = stations[..., k + 1 : k + 2] - stations[..., k : k + 1]
        rise = values[..., k + 1 : k + 2] - values[..., k : k + 1]
        total = total + rise / run * np.clip(x - stations[..., k : k + 1], 0.0, run)
    return total


def _least(x: Array) -> float:
    return float(np.fmin.reduce(x, axis=None, initial=np.inf))


def _most(x: Array) -> float:
    return float(np.fmax.reduce(x, axis=None, initial=-np.inf))


def _around(low: float, high: float, stations: Array, *values: Array) -> tuple[Array, ...]:
    """Stations and their values as far as they matter between two places; stations that differ all stay."""
    if stations.size != stations.shape[-1]:
        return stations, *values
    places = stations.ravel()
    first = max(int(np.searchsorted(places, low, "right")) - 1, 0)
    last = min(int(np.searchsorted(places, high, "left")), len(places) - 1)
    some = slice(min(first, last), max(first, last) + 1)
    return stations[..., some], *(v[..., some] for v in values)


def deepest(front: Array, rear: Array, need: Array, stations: Array, section: Array) -> Array:
    """How far a box side stands beyond the section at its worst place [mm]; −inf for no box at all.

    front, rear: ends of the box `(..., points)`; need: distance asked for `(..., 1)`; stations,
    section
    `(..., S)`; the section goes on flat beyond its ends.

    >>> deepest(np.array([[0.0]]), np.array([[150.0]]), np.array([[55.0]]),
    ...         np.array([[100.0, 200.0]]), np.array([[60.0, 40.0]])).tolist()
    [[5.0]]
    """
    ends = np.minimum(interpolate(front, stations, section), interpolate(rear, stations, section))
    worst = need - ends
    first, last = _least(front), _most(rear)
    for k in range(stations.shape[-1]):
        at = stations[..., k : k + 1]
        if not (_most(at) >= first and _least(at) <= last):
            continue
        inside = (at >= front) & (at <= rear)
        worst = np.maximum(worst, np.where(inside, need - section[..., k : k + 1], -np.inf))
    # A box that only touches a piece is outside it: so the least harm is one that can be had.
    return np.where(rear <= front + 1e-9, np.where(np.isnan(worst), np.nan, -np.inf), worst)


class Boxes(NamedTuple):
    """Bell, case and tail: ends from the front face, and their sides `(builds, draws)` [mm]."""

    front: tuple[Array, ...]
    rear: tuple[Array, ...]
    sides: tuple[tuple[Array, ...], ...]


@quantity("mm", "bell, case and tail, from the front face")
def boxes(
    bellhousing: Array,
    depth_of_face: Array,
    thickness_low: Array,
    thickness_high: Array,
    case_length: Array,
    length: Array,
    bell_left: Array,
    bell_right: Array,
    bell_top: Array,
    bell_bottom: Array,
    case_left: Array,
    case_right: Array,
    case_top: Array,
    case_bottom: Array,
    tail_left: Array,
    tail_right: Array,
    tail_top: Array,
    tail_bottom: Array,
) -> Boxes:
    """The car's own bellhousing fits its tunnel today. The bell wherever a plate may put it."""
    zero = np.zeros((1, 1))
    own = lambda a: np.where(bellhousing == 1, -OPEN, a)
    bell = tuple(map(own, (bell_left, bell_right, bell_top, bell_bottom)))
    case = (case_left, case_right, case_top, case_bottom)
    tail = (tail_left, tail_right, tail_top, tail_bottom)
    return Boxes(
        (-(depth_of_face + thickness_high), zero, case_length),
        (-thickness_low, case_length, length),
        (bell, case, tail),
    )


@quantity("mm", "bell, case and tail, plate in place")
def boxes_seated(boxes: Boxes, depth_of_face: Array, adapter_thickness: Array) -> Boxes:
    """The bell stands before the plate: from the block to the face less the plate."""
    front = (-(depth_of_face + adapter_thickness), *boxes.front[1:])
    return Boxes(front, (-adapter_thickness, *boxes.rear[1:]), boxes.sides)


class Sheet(NamedTuple):
    """The tunnel as it was measured: stations `(…, S)` with a section a side, pieces `(…, P)` [mm]."""

    x: Array
    left: Array
    right: Array
    top: Array
    bottom: Array
    start: Array
    end: Array
    removable: Array


@quantity("mm", "the tunnel's sections and pieces")
def tunnel_sheet(
    tunnel_x: Array,
    tunnel_left: Array,
    tunnel_right: Array,
    tunnel_top: Array,
    tunnel_bottom: Array,
    tunnel_piece_start: Array,
    tunnel_piece_end: Array,
    tunnel_piece_removable: Array,
) -> Sheet:
    return Sheet(
        tunnel_x, tunnel_left, tunnel_right, tunnel_top, tunnel_bottom, tunnel_piece_start,
        tunnel_piece_end, tunnel_piece_removable,
    )  # fmt: skip


class Air(NamedTuple):
    """Clearances `(builds, draws, places)` [mm], OPEN where nothing is near: over what unbolts, over
    what is fixed; places are side × box. `unseen`: 1 where a part of the housing is at no station."""

    cover: Array
    fixed: Array
    unseen: Array


def _sections(tunnel_x: Array, *sides: Array) -> tuple[Array, ...]:
    """A bottom given nowhere is open: most tunnels are open below. Another side is not known."""
    left, right, top, bottom = sides
    if np.isnan(bottom).all():
        bottom = np.full(tunnel_x.shape, OPEN)
    return left, right, top, bottom


@quantity("mm", "air between housing and tunnel, as it is")
def tunnel_air_found(
    boxes_seated: Boxes,
    x_face: Array,
    tunnel_x: Array,
    tunnel_left: Array,
    tunnel_right: Array,
    tunnel_top: Array,
    tunnel_bottom: Array,
    tunnel_piece_start: Array,
    tunnel_piece_end: Array,
    tunnel_piece_removable: Array,
    tunnel_none: Array,
    tunnel_clear: float,
    tunnel_station_reach: float,
) -> Air:
    boxes = boxes_seated
    sections = _sections(tunnel_x, tunnel_left, tunnel_right, tunnel_top, tunnel_bottom)
    pieces = _pieces(tunnel_piece_start, tunnel_piece_end, tunnel_piece_removable)
    found: dict[bool, list[Array]] = {True: [], False: []}
    if (tunnel_none == 1).all():
        none = np.full((*x_face.shape, 1), OPEN)
        return Air(none, none, np.zeros(x_face.shape))
    for side, section in enumerate(sections):
        for box in range(3):
            ends = x_face + boxes.front[box], x_face + boxes.rear[box]
            need = boxes.sides[box][side]
            for unbolts in (True, False):
                # A lift takes air from above: there the clearance is wanted exactly, near or not.
                near = np.inf if SIDES[side] == "top" else tunnel_clear
                air = _clearance(*ends, need, tunnel_x, section, pieces[unbolts], near)
                found[unbolts].append(air)
    whole = lambda parts: np.stack(np.broadcast_arrays(*parts), axis=-1)
    unseen = _unseen(boxes, x_face, tunnel_x, pieces, tunnel_station_reach)
    return Air(whole(found[True]), whole(found[False]), unseen)


def _pieces(start: Array, end: Array, removable: Array) -> dict[bool, list[tuple[float, float]]]:
    """The stretches that unbolt and those that do not."""
    found: dict[bool, list[tuple[float, float]]] = {True: [], False: []}
    for a, b, flag in zip(start.ravel(), end.ravel(), removable.ravel(), strict=True):
        found[bool(flag == 1)].append((float(a), float(b)))
    return found


def _clearance(
    front: Array,
    rear: Array,
    side: Array,
    stations: Array,
    section: Array,
    pieces: list[tuple[float, float]],
    comfortable: Any,
) -> Array:
    """Clearance of one side of one box over some pieces of the tunnel, `(builds, draws)`.

    Exact for every draw of a build that anywhere comes nearer than `comfortable` to the narrowest
    station; else the clearance to that station stands, no more than the true one; nominal is exact.
    """
    along = stations.shape[:2], section.shape[:2]
    sizes = front.shape, rear.shape, side.shape, *along, np.shape(comfortable)
    shape = np.broadcast_shapes(*sizes)
    if not pieces:
        return np.full((1, 1), OPEN)
    found = np.broadcast_to(section.min(axis=-1) - side, shape).copy()
    with np.errstate(invalid="ignore"):
        near = (found < comfortable).any(axis=1) | np.isnan(found).any(axis=1)
    for rows, columns in ((near, slice(None)), (~near, slice(0, 1))):
        if rows.any():
            pick = lambda a, r=rows, c=columns: np.broadcast_to(a, shape)[r][:, c, None]
            part = section[:, columns] if section.shape[1] > 1 else section
            if part.shape[0] > 1:
                part = part[rows]
            at = stations[rows] if stations.shape[0] > 1 else stations
            at = at[:, columns] if at.shape[1] > 1 else at
            ends = pick(front), pick(rear)
            worst = [
                deepest(np.maximum(ends[0], a), np.minimum(ends[1], b), pick(side), at, part)[
                    ..., 0
                ]
                for a, b in pieces
            ]
            found[rows, columns] = np.minimum(-np.maximum.reduce(worst), OPEN)
    return found


def _unseen(
    boxes: Boxes,
    x_face: Array,
    stations: Array,
    pieces: dict[bool, list[tuple[float, float]]],
    reach: float,
) -> Array:
    """1 where a part of the housing is under a piece of tunnel that no station describes."""
    first, last = stations[..., 0] - reach, stations[..., -1] + reach
    no_bell = boxes.sides[0][0] <= -OPEN / 2
    front = x_face + np.where(no_bell, boxes.front[1], boxes.front[0])
    rear = x_face + boxes.rear[2]
    open_: Array = np.zeros(np.broadcast_shapes(front.shape, rear.shape))
    for a, b in (*pieces[True], *pieces[False]):
        start, end = np.maximum(front, a), np.minimum(rear, b)
        out = (end > start + SAME) & ((start < first - SAME) | (end > last + SAME))
        open_ = np.where(out | np.isnan(first), 1.0, open_)
    return unknown_where(open_, front, rear)


# Places of Air that are the tail's sides: side × box.
TAIL_SIDES = tuple(3 * SIDES.index(side) + 2 for side in ("left", "right"))


def _lugs_short(air: Air, lug: Array, tight: Any) -> list[Array]:
    """Per side of the tail what may usefully come off its lugs [mm]; nothing where not known."""
    if air.cover.shape[-1] < 12:
        return [np.zeros((1, 1))] * 2
    near = [np.minimum(air.cover[..., i], air.fixed[..., i]) for i in TAIL_SIDES]
    return [np.minimum(np.maximum(tight - a, 0.0), np.nan_to_num(lug)) for a in near]


def _off_lugs(air: Air, lugs_cut: Array, lug: Array, tight: Any) -> list[Array]:
    """Of what is cut off in all: each side by what it asks for, alike where neither does [mm]."""
    left, right = _lugs_short(air, lug, tight)
    whole = left + right
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = [
            np.where(whole > SAME, lugs_cut * side / whole, lugs_cut / 2.0)
            for side in (left, right)
        ]
    return [np.minimum(share, np.nan_to_num(lug)) for share in shares]


@decision(
    "Cut the lugs off the tail's sides",
    "gearbox tail",
    "donor cut",
    tool="grinder",
    hours=1.0,
    words="{figure} in all, up to {lug_cut} a side; stop short of bores and webs",
    when="opened",
)
def lugs_cut(tunnel_air_found: Air, lug_cut: Array, tunnel_tight: float) -> Ask:
    """Shallower than easing the tunnel, which then asks only for what the lugs cannot give."""
    left, right = _lugs_short(tunnel_air_found, lug_cut, tunnel_tight)
    return Ask(left + right)


@quantity("mm", "air between housing and tunnel")
def tunnel_air(tunnel_air_found: Air, lugs_cut: Array, lug_cut: Array, tunnel_tight: float) -> Air:
    """With the lugs off, on each side of the tail."""
    if not np.any(lugs_cut > SAME):
        return tunnel_air_found
    lugs = _off_lugs(tunnel_air_found, lugs_cut, lug_cut, tunnel_tight)
    parts = []
    for air in tunnel_air_found[:2]:
        wide = np.broadcast_to(
            air, (*np.broadcast_shapes(air.shape[:-1], *(a.shape for a in lugs)), air.shape[-1])
        ).copy()
        for i, off in zip(TAIL_SIDES, lugs, strict=True):
            wide[..., i] += off
        parts.append(wide)
    return Air(parts[0], parts[1], tunnel_air_found.unseen)


@quantity("mm", "off the lugs on the tail's left side")
def lug_off_left(
    tunnel_air_found: Air, lugs_cut: Array, lug_cut: Array, tunnel_tight: float
) -> Array:
    return _off_lugs(tunnel_air_found, lugs_cut, lug_cut, tunnel_tight)[0]


@quantity("mm", "off the lugs on the tail's right side")
def lug_off_right(
    tunnel_air_found: Air, lugs_cut: Array, lug_cut: Array, tunnel_tight: float
) -> Array:
    return _off_lugs(tunnel_air_found, lugs_cut, lug_cut, tunnel_tight)[1]


@quantity("mm", "air that easing the tunnel leaves")
def eased_to(tunnel_tight: float, x_face: Array) -> Array:
    return np.full(x_face.shape, tunnel_tight)


@quantity("mm", "room above the housing for a lift, at its worst place, to the tight clearance")
def tunnel_lift_room(tunnel_air: Air, tunnel_tight: float) -> Array:
    """Of the top's three places, whichever is over; a place rises at most about as the mount does."""
    count = tunnel_air.cover.shape[-1]
    if count < 12:
        return np.full((1, 1), OPEN)
    top = slice(6, 9)
    air = np.minimum(tunnel_air.cover[..., top], tunnel_air.fixed[..., top]).min(axis=-1)
    return np.maximum(air - tunnel_tight, 0.0)


@quantity("mm", "what the lift takes from the air above the tail")
def tunnel_lift_taken(output_rise: Array) -> Array:
    return np.maximum(output_rise, 0.0)


def _short(air: Array, tight: float) -> Array:
    return np.maximum(np.asarray(tight)[..., None] - air, 0.0)


@decision("Ease or cut the tunnel's cover", "tunnel cover", "panel cut", hours=3.0, hours_per_mm=0.05,
          cost=10.0, gauge="x_face",
          words="{figure} in all", when="car")  # fmt: skip
def cover_eased(tunnel_air: Air, tunnel_tight: float) -> Ask:
    return Ask(_short(tunnel_air.cover, tunnel_tight).sum(axis=-1))


@decision("Ease or cut the tunnel", "tunnel", "body cut", hours=3.0, hours_per_mm=0.05, cost=10.0,
          gauge="x_face",
          words="{figure} in all", when="car")  # fmt: skip
def tunnel_eased(tunnel_air: Air, tunnel_tight: float) -> Ask:
    return Ask(_short(tunnel_air.fixed, tunnel_tight).sum(axis=-1))


def _after(air: Array, eased: Array, tight: float) -> Array:
    """Air after easing each place by its share of what was eased in all."""
    short = _short(air, tight)
    whole = short.sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(whole > SAME, np.minimum(eased / whole, 1.0), 0.0)
    return (air + short * share[..., None]).min(axis=-1)


@check(
    "Does the housing clear the tunnel?",
    "mm",
    AtLeast(clear=10.0, tight=6.0),
    "A housing against the tunnel drums, and cooks the floor.",
    criterion="fit",
    words={
        "tight": "{tunnel} to the tunnel at the closest",
        "clash": "{tunnel} to the tunnel at the closest",
    },
)
def tunnel(
    tunnel_air: Air,
    cover_eased: Array,
    tunnel_eased: Array,
    tunnel_lift_taken: Array,
    tunnel_none: Array,
    tunnel_tight: float,
) -> Reading:
    """Open where a part is at no station, unless a part that is known clashes already."""
    cover = _after(tunnel_air.cover, cover_eased, tunnel_tight)
    fixed = _after(tunnel_air.fixed, tunnel_eased, tunnel_tight)
    air = np.minimum(cover, fixed)
    lifted = tunnel_lift_room_after(tunnel_air, tunnel_lift_taken)
    air = np.minimum(air, lifted)
    known_clash = air < tunnel_tight - SAME
    air = np.where((tunnel_air.unseen > 0) & ~known_clash, np.nan, air)
    applies = np.where(tunnel_none == 1, 0.0, np.where(air >= OPEN / 2, 0.0, 1.0))
    return Reading(air, air, air, np.where(np.isnan(air) & (applies != 0), np.nan, applies))


def tunnel_lift_room_after(air: Air, taken: Array) -> Array:
    """Air above the housing with the lift taken from it [mm]; OPEN where nothing is lifted.

    >>> one = np.full((1, 1, 12), 20.0)
    >>> tunnel_lift_room_after(Air(one, one, np.zeros((1, 1))), np.array([[5.0]])).tolist()
    [[15.0]]
    """
    if air.cover.shape[-1] < 12:
        return np.full((1, 1), OPEN)
    above = np.minimum(air.cover[..., 6:9], air.fixed[..., 6:9]).min(axis=-1)
    return np.where(taken > SAME, above - taken, OPEN)


# ---- what the seat has to mind -------------------------------------------------------------------


def _lug_harm(x: Array, lug: Array, *args: Array) -> Array:
    return np.minimum(_harm(x, *args), lug)


def _lug_breaks(lug: Array, *args: Array) -> tuple[Array, ...]:
    front, rear, start, end, need, stations, section = args
    eased = _breaks(front, rear, start, end, need - lug, stations, section)
    return (*_breaks(*args), *eased)


def _harm(
    x: Array,
    front: Array,
    rear: Array,
    start: Array,
    end: Array,
    need: Array,
    stations: Array,
    section: Array,
) -> Array:
    a, b = np.maximum(x + front, start), np.minimum(x + rear, end)
    return np.maximum(deepest(a, b, need, stations[..., 0, :], section[..., 0, :]), 0.0)


def _near(
    low: float,
    high: float,
    front: Array,
    rear: Array,
    start: Array,
    end: Array,
    need: Array,
    stations: Array,
    section: Array,
) -> tuple[tuple[Array, ...], Array] | None:
    """Only the stretch of the tunnel that an end of the box can reach, and where it is too wide for harm."""
    first, last = max(_least(front) + low, float(start)), min(_most(rear) + high, float(end))
    if not first < last:
        return None
    stations, section = _around(first, last, stations, section)
    with np.errstate(invalid="ignore"):
        idle: Array = need <= section.min(axis=-1)
    return None if idle.all() else ((front, rear, start, end, need, stations, section), idle)


def _lug_near(
    low: float, high: float, lug: Array, *args: Array
) -> tuple[tuple[Array, ...], Array] | None:
    found = _near(low, high, *args)
    return None if found is None else ((lug, *found[0]), found[1])


def _breaks(
    front: Array,
    rear: Array,
    start: Array,
    end: Array,
    need: Array,
    stations: Array,
    section: Array,
) -> tuple[Array, ...]:
    """Where the slope of the tunnel's harm may change, as positions of the front face.

    Ends of the box at stations or at the ends of the piece; where the section at either end passes
    the
    need (harm begins), the section of another station, or the section at the other end.
    """
    found = [p - e for p in (start, end) for e in (front, rear)]
    count = stations.shape[-1]
    lines = []
    for k in range(count):
        found += [stations[..., k] - front, stations[..., k] - rear]
    for k in range(count - 1):
        run = stations[..., k + 1] - stations[..., k]
        slope = (section[..., k + 1] - section[..., k]) / run
        lines.append((slope, section[..., k] - slope * stations[..., k]))
        with np.errstate(divide="ignore", invalid="ignore"):
            for level in (need, *(section[..., m] for m in range(count))):
                at = stations[..., k] + (level - section[..., k]) / slope
                at = np.where(np.isfinite(at), at, stations[..., k])
                found += [at - front, at - rear]
    for i, (slope, base) in enumerate(lines):
        for other, base_other in lines[i:]:
            with np.errstate(divide="ignore", invalid="ignore"):
                at = (base_other + other * rear - base - slope * front) / (slope - other)
                found.append(np.where(np.isfinite(at), at, stations[..., 0]))
    finite = [np.where(np.isfinite(f), f, stations[..., 0]) for f in np.broadcast_arrays(*found)]
    return tuple(finite)


@seat_bound
def tunnel_bounds(
    boxes: Boxes,
    tunnel_x: Array,
    tunnel_left: Array,
    tunnel_right: Array,
    tunnel_top: Array,
    tunnel_bottom: Array,
    tunnel_piece_start: Array,
    tunnel_piece_end: Array,
    tunnel_piece_removable: Array,
    tunnel_none: Array,
    lug_cut: Array,
    tunnel_tight: float,
) -> list[Bound]:
    """One bound for each side of each box and each piece of the tunnel that it may come near."""
    if (tunnel_none == 1).all():
        return []
    sections = _sections(tunnel_x, tunnel_left, tunnel_right, tunnel_top, tunnel_bottom)
    pieces = _pieces(tunnel_piece_start, tunnel_piece_end, tunnel_piece_removable)
    bounds = []
    for side, section in zip(SIDES, sections, strict=True):
        for box, name in enumerate(("bell", "case", "tail")):
            need = boxes.sides[box][SIDES.index(side)] + tunnel_tight
            with np.errstate(invalid="ignore"):
                idle = need <= section.min(axis=-1)
            if np.all(idle | np.isnan(need) | np.isnan(section).all(axis=-1)):
                continue
            for unbolts, decision_ in ((True, "cover_eased"), (False, "tunnel_eased")):
                for start, end in pieces[unbolts]:
                    place = f"tunnel, {side} of the {name}"
                    ends = boxes.front[box], boxes.rear[box], np.asarray(start), np.asarray(end)
                    lug = np.nan_to_num(lug_cut)
                    if name == "tail" and side in ("left", "right") and np.any(lug > SAME):
                        mine = (lug, *ends, need, tunnel_x, section)
                        bounds.append(
                            Bound(
                                "face",
                                "lugs_cut",
                                place,
                                _lug_breaks,
                                _lug_harm,
                                mine,
                                idle,
                                near=_lug_near,
                            )
                        )
                        left = (*ends, need - lug, tunnel_x, section)
                        bounds.append(
                            Bound("face", decision_, place, _breaks, _harm, left, idle, near=_near)
                        )
                        continue
                    args = (*ends, need, tunnel_x, section)
                    bounds.append(
                        Bound("face", decision_, place, _breaks, _harm, args, idle, near=_near)
                    )
    return bounds


# ---- orders --------------------------------------------------------------------------------------

AXIS = "the shaft's line; fore and aft the gearbox's front face"


class Stretch(NamedTuple):
    """Where a side of a box is short of room: from, to, its worst place, the room there [mm]."""

    first: float
    last: float
    worst: float
    room: float


def short_stretch(
    ends: tuple[float, float], need: float, stations: Array, section: Array
) -> Stretch | None:
    """The stretch of [ends] over which the section is less than the need [mm], outermost to
    outermost.

    >>> short_stretch((0.0, 300.0), 55.0, np.array([100.0, 200.0]), np.array([60.0, 40.0]))
    Stretch(first=125.0, last=300.0, worst=200.0, room=40.0)
    """
    front, rear = ends
    if not rear > front + SAME:
        return None
    inner = stations[(stations > front) & (stations < rear)]
    at = np.array([front, *inner, rear])
    room = np.interp(at, stations, section)
    short = need - room
    points = [(x, r) for x, r, s in zip(at, room, short, strict=True) if s > SAME]
    if not points:
        return None
    for i in range(len(at) - 1):
        if (short[i] > SAME) != (short[i + 1] > SAME):
            share = short[i] / (short[i] - short[i + 1])
            points.append((at[i] + share * (at[i + 1] - at[i]), need))
    worst, least = min(points, key=lambda p: p[1])
    places = [x for x, _ in points]
    return Stretch(*map(float, (min(places), max(places), worst, least)))


class Eased(NamedTuple):
    """One place that is eased: side and box by number, how far the box stands out, the stretch."""

    side: int
    box: int
    extent: float
    stretch: Stretch


def _places_short(
    boxes: Boxes,
    off_the_lugs: tuple[float, float],
    x_face: float,
    sheet: Sheet,
    unbolts: bool,
    tight: float,
) -> list[Eased]:
    """Every side of every box that is short of room under pieces that unbolt, or do not; of one build."""
    found = []
    pieces = _pieces(sheet.start, sheet.end, sheet.removable)[unbolts]
    for side, section in enumerate(_sections(*sheet[:5])):
        for box in range(3):
            extent = boxes.sides[box][side]
            if box == 2 and side < 2:
                extent = extent - off_the_lugs[side]
            for start, end in pieces:
                ends = max(x_face + boxes.front[box], start), min(x_face + boxes.rear[box], end)
                stretch = short_stretch(ends, float(extent) + tight, sheet.x, section)  # type: ignore[arg-type]
                if stretch is not None:
                    found.append(Eased(side, box, float(extent), stretch))
    return found


@order("lugs_cut", step=84)
def cut_the_lugs(lug_off_left: float, lug_off_right: float, lug_cut: float) -> list[Cut]:
    """On the bench, before the tunnel is touched."""
    cuts = []
    for side, off in (("left", lug_off_left), ("right", lug_off_right)):
        if off > SAME:
            cuts.append(
                Cut(
                    f"Cut the lugs off the tail's {side} side", "gearbox tail", "the lugs' outer face, as found", 0.0, off,
                    max(off, min(off + general_tolerance(off), lug_cut)), of="lugs_cut",
                    measure_before="metal over bores and webs behind the lugs",
                    note=tell("{most} may come off at most; stop short of bores and webs; stuff the openings first", most=lug_cut),
                )
            )  # fmt: skip
    return cuts


@order("cover_eased", step=104)
def ease_the_cover(
    cover_eased: float,
    boxes_seated: Boxes,
    x_face: float,
    tunnel_sheet: Sheet,
    lug_off_left: float,
    lug_off_right: float,
    tunnel_tight: float,
    tunnel_clear: float,
) -> list[Cut]:
    off = lug_off_left, lug_off_right
    limits = tunnel_tight, tunnel_clear
    return _eased(cover_eased, True, boxes_seated, off, x_face, tunnel_sheet, limits)


@order("tunnel_eased", step=105)
def ease_the_tunnel(
    tunnel_eased: float,
    boxes_seated: Boxes,
    x_face: float,
    tunnel_sheet: Sheet,
    lug_off_left: float,
    lug_off_right: float,
    tunnel_tight: float,
    tunnel_clear: float,
) -> list[Cut]:
    off = lug_off_left, lug_off_right
    limits = tunnel_tight, tunnel_clear
    return _eased(tunnel_eased, False, boxes_seated, off, x_face, tunnel_sheet, limits)


def _eased(
    figure: float,
    unbolts: bool,
    boxes: Boxes,
    off: tuple[float, float],
    x_face: float,
    sheet: Sheet,
    limits: tuple[float, float],
) -> list[Cut]:
    """The sheet's distance from the shaft's line once eased: tight at least, comfortable at most."""
    tight, clear = limits
    short = _places_short(boxes, off, x_face, sheet, unbolts, tight)
    on, of = ("tunnel cover", "cover_eased") if unbolts else ("tunnel", "tunnel_eased")
    cuts = []
    for at, amount in parts_of(figure, [p.extent + tight - p.stretch.room for p in short]):
        if at < 0:
            cuts.append(Cut(f"Ease or cut the {on}", on, "the sheet as found", 0.0, amount,
                            amount + clear - tight, of=of, measure_before=SEEN))  # fmt: skip
            continue
        side, box, extent, stretch = short[at]
        sides = boxes.sides[box]
        upright = side < 2
        words = (
            "from {low} below to {high} above" if upright else "from {low} left to {high} right of"
        )
        ends = (sides[3], sides[2]) if upright else (sides[0], sides[1])
        cuts.append(
            Cut(
                f"Ease or cut the {on}, {SIDES[side]} of the {('bell', 'case', 'tail')[box]}", on, AXIS, stretch.room,
                stretch.room + amount, max(stretch.room + amount, extent + clear), length=stretch.last - stretch.first,
                of=of, measure_before=SEEN,
                note=tell(
                    "from {first} to {last} behind the gearbox's front face, deepest at {worst}, running out to nothing; "
                    + words + " the shaft's line",
                    first=stretch.first - x_face, last=stretch.last - x_face, worst=stretch.worst - x_face,
                    low=float(ends[0]), high=float(ends[1]),
                ),
            )
        )  # fmt: skip
    return cuts


SEEN = "the air there with the gearbox in its place; wires, pipes and carpet behind the sheet"
