"""What is drawn of one build in its car: shapes in mm from plain numbers, NaN unknown.

x runs rearward, z up. In `shaft`, x = 0 is the crankshaft's flange and z is a radius; in `turning`,
x = 0 is the shaft's tip as found; in `plan`, z is to the left. Bush, ring, plate and wedge are
drawn as parts, from their own datum. A shape with an unknown coordinate is left out by whoever
draws, and the name is listed, unless the parameter has a default: what stands where there is none.
Amounts of work that are not known are drawn as none. Several
functions may add to one view; their names begin with `draw_`, as all rules share one list of names.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from compare.judge.rules import SAME, Shape, view
from compare.topics.driveline import rear_piece

__all__ = [
    "draw_bush_part",
    "draw_crankshaft",
    "draw_crossmember_from_the_side",
    "draw_driveline",
    "draw_fan_from_above",
    "draw_fan_from_the_side",
    "draw_gearbox_from_above",
    "draw_gearbox_from_the_side",
    "draw_hole_from_above",
    "draw_input_shaft",
    "draw_mount_from_the_side",
    "draw_pilot_bush",
    "draw_plate_part",
    "draw_ring_part",
    "draw_shaft_clearances",
    "draw_tunnel_from_above",
    "draw_tunnel_from_the_side",
    "draw_turning",
    "draw_wedge_part",
]

# Lengths that nobody asks for and that only make a drawing readable [mm].
BLOCK, CRANK_WALL, HUB_WALL, CHASSIS_DEPTH, PAD_THICK = 90.0, 12.0, 8.0, 45.0, 10.0
FAN_BEFORE, FAN_THICK, RADIATOR_THICK = 8.0, 6.0, 12.0
# What is smaller is not drawn as a cut or a gap: less than a scribed line [mm].
LEAST = 0.02
# A tunnel that is one piece has no ends.
FAR = 1e6
OWN = 1.0  # index of the bellhousing that is the car's

# Along a part, where its name may stand.
SHARES = (0.5, 0.3, 0.7, 0.15, 0.85)

Point = tuple[float, float]


def _or(value: float, other: float) -> float:
    return other if math.isnan(value) else value


def _area(role: str, points: Sequence[Point], *of: str) -> Shape:
    return Shape("polygon", role, tuple(points), of=of)


def _line(role: str, points: Sequence[Point], *of: str) -> Shape:
    return Shape("line", role, tuple(points), of=of)


def _box(role: str, x0: float, x1: float, z0: float, z1: float, *of: str) -> list[Shape]:
    """A rectangle, where it has an extent."""
    if abs(x1 - x0) < LEAST or abs(z1 - z0) < LEAST:
        return []
    return [_area(role, ((x0, z0), (x1, z0), (x1, z1), (x0, z1)), *of)]


def _both(role: str, x0: float, x1: float, r0: float, r1: float, *of: str) -> list[Shape]:
    """Above and below the axis."""
    return _box(role, x0, x1, r0, r1, *of) + _box(role, x0, x1, -r0, -r1, *of)


def _length(text: str, x0: float, x1: float, z: float, *of: str) -> list[Shape]:
    if abs(x1 - x0) < LEAST:
        return []
    return [Shape("dimension", "thin", ((x0, z), (x1, z)), text, of, abs(x1 - x0))]


def _height(text: str, x: float, z0: float, z1: float, *of: str) -> list[Shape]:
    if abs(z1 - z0) < LEAST:
        return []
    return [Shape("dimension", "thin", ((x, z0), (x, z1)), text, of, abs(z1 - z0))]


def _across(x: float, diameter: float, *of: str) -> list[Shape]:
    """A diameter about the axis."""
    return _height("Ø{value}", x, -diameter / 2.0, diameter / 2.0, *of)


def _note(text: str, x: float, z: float, *of: str, value: float = math.nan) -> Shape:
    return Shape("note", "thin", ((x, z),), text, of, value)


def _anywhere(text: str, places: Sequence[Point]) -> Shape:
    """A name that may stand at any of some places, the first best."""
    return Shape("note", "thin", tuple(places), text)


# ---- the shaft in crankshaft and clutch -------------------------------------------------------


@view("shaft")
def draw_crankshaft(
    crank_bore_diameter: float,
    crank_bore_depth: float,
    crank_mouth_diameter: float,
    crank_mouth_depth: float,
    clutch_friction_face: float,
    hub_front: float,
    hub_rear: float,
    spline_diameter: float,
) -> list[Shape]:
    bore = crank_bore_diameter / 2.0
    mouth = max(_or(crank_mouth_diameter, 0.0) / 2.0, bore)
    step = _or(crank_mouth_depth, 0.0)
    outside, end = mouth + CRANK_WALL, -crank_bore_depth - CRANK_WALL
    upper = [(end, outside), (0.0, outside), (0.0, mouth), (-step, mouth), (-step, bore)]
    upper.append((-crank_bore_depth, bore))
    lower = [(x, -z) for x, z in reversed(upper)]
    front = clutch_friction_face + hub_front
    rear = clutch_friction_face + hub_rear
    inner = spline_diameter / 2.0
    face = outside + 20.0
    return [
        _area("car", upper + lower, "crank_bore_diameter", "crank_bore_depth"),
        *_both("car", front, rear, inner, inner + HUB_WALL, "hub_front", "hub_rear"),
        *_both("car", clutch_friction_face - 14.0, clutch_friction_face, outside + 2.0, face),
        _note("flywheel", clutch_friction_face, face - 2.0, "clutch_friction_face"),
        _note("crankshaft", end + CRANK_WALL / 2.0, outside - 3.0),
        _note("hub", (front + rear) / 2.0, -inner - HUB_WALL / 2.0),
        *_length("bore {value}", -crank_bore_depth, 0.0, outside, "crank_bore_depth"),
    ]


@view("shaft")
def draw_pilot_bush(
    bush_near: float, bush_far: float, bush_outside: float, bush_inside: float, bush_made: float
) -> list[Shape]:
    role = "made" if bush_made >= 0.5 else "car"
    inside, outside = bush_inside / 2.0, bush_outside / 2.0
    where = "bush proud {value}" if bush_near < 0.0 else "bush to flange {value}"
    return [
        *_both(role, -bush_far, -bush_near, inside, outside, "bush_near", "bush_far"),
        *_length("bush {value}", -bush_far, -bush_near, outside, "bush_near", "bush_far"),
        *_length(where, -bush_near, 0.0, outside, "bush_near"),
    ]


@view("shaft")
def draw_input_shaft(
    reach: float,
    shaft_stickout: float,
    pilot_diameter: float,
    journal_after: float,
    pilot_length: float,
    turned_back: float,
    tip_cut: float,
    spline_diameter: float,
    spline_start_after: float,
    spline_end: float,
    collar_length: float,
    collar_diameter: float,
    collar_cut: float,
    shoulder_diameter: float = math.nan,
) -> list[Shape]:
    shapes = _shaft_body(
        -reach, shaft_stickout, pilot_diameter, journal_after, pilot_length, turned_back, tip_cut,
        shoulder_diameter, spline_diameter, spline_start_after, spline_end,
    )  # fmt: skip
    at = lambda s: s - reach
    outer, wall = collar_diameter / 2.0, 3.0
    guide, cut = shaft_stickout - collar_length, _or(collar_cut, 0.0)
    tip, radius = at(_or(tip_cut, 0.0)), _or(journal_after, pilot_diameter) / 2.0
    below = -_or(shoulder_diameter, spline_diameter) / 2.0
    shapes += [
        *_both("metal", at(guide + cut), at(shaft_stickout), outer - wall, outer, "collar_length"),
        *_both("cut", at(guide), at(guide + cut), outer - wall, outer, "collar_cut"),
        _line("sheet", ((at(shaft_stickout), outer), (at(shaft_stickout), outer + 14.0))),
        _line("sheet", ((at(shaft_stickout), -outer), (at(shaft_stickout), -outer - 14.0))),
        _line("axis", ((-reach - 8.0, 0.0), (at(shaft_stickout) + 12.0, 0.0))),
        _note("gearbox's front face", at(shaft_stickout), outer + 12.0, "shaft_stickout"),
        *_length("tip behind flange {value}", tip, 0.0, -radius, "reach", "tip_cut"),
        *_length("take off {value}", -reach, tip, -radius, "tip_cut"),
        *_length("stick-out {value}", tip, at(shaft_stickout), below, "shaft_stickout", "tip_cut"),
        *_length("take off guide {value}", at(guide), at(guide + cut), outer, "collar_cut"),
    ]
    return shapes


def _shaft_body(
    origin: float,
    stickout: float,
    found_diameter: float,
    diameter: float,
    found_length: float,
    turned_back: float,
    tip_cut: float,
    shoulder: float,
    splines: float,
    spline_start: float,
    spline_end: float,
) -> list[Shape]:
    """The finished shaft, and in `cut` what comes off it; origin: x of the tip as found."""
    tip, back = _or(tip_cut, 0.0), found_length + _or(turned_back, 0.0)
    journal, found = _or(diameter, found_diameter) / 2.0, found_diameter / 2.0
    spline = splines / 2.0
    behind = _or(shoulder, splines) / 2.0
    start = max(_or(spline_start, back), back)
    s = lambda value: origin + value
    upper = [
        (s(tip), journal),
        (s(back), journal),
        (s(back), behind),
        (s(start), behind),
        (s(start), spline),
        (s(stickout), spline),
    ]
    root = 0.86 * spline
    shapes = [_area("metal", upper + [(x, -z) for x, z in reversed(upper)], "journal_after")]
    for sign in (1.0, -1.0):
        run_out = [
            (s(start), sign * root),
            (s(spline_end), sign * root),
            (s(spline_end) + 8.0, sign * spline),
        ]
        shapes.append(_line("thin", run_out, "spline_start_after", "spline_end"))
    shapes += _box("cut", s(0.0), s(tip), -found, found, "tip_cut")
    shapes += _both("cut", s(tip), s(found_length), journal, found, "journal_after")
    shapes += _both("cut", s(found_length), s(back), journal, behind, "turned_back")
    return shapes


@view("shaft")
def draw_shaft_clearances(
    reach: float,
    tip_cut: float,
    crank_bore_depth: float,
    crank_bore_diameter: float,
    crank_mouth_diameter: float,
    crank_mouth_depth: float,
    bush_near: float,
    bush_far: float,
    bush_outside: float,
    pilot_length: float,
    turned_back: float,
    pilot_diameter: float,
    spline_diameter: float,
    spline_start_after: float,
    spline_end: float,
    clutch_friction_face: float,
    hub_front: float,
    hub_rear: float,
    clutch_wear_travel: float,
    clutch_release_float: float,
    shaft_stickout: float,
    collar_length: float,
    collar_cut: float,
    collar_diameter: float,
    shoulder_diameter: float = math.nan,
) -> list[Shape]:
    tip = _or(tip_cut, 0.0) - reach
    shoulder = pilot_length + _or(turned_back, 0.0) - reach
    worn = clutch_friction_face + hub_front - clutch_wear_travel
    released = clutch_friction_face + hub_rear + clutch_release_float
    first, last = spline_start_after - reach, spline_end - reach
    guide = shaft_stickout - collar_length + _or(collar_cut, 0.0) - reach
    hub, high = spline_diameter / 2.0 + HUB_WALL, bush_outside / 2.0
    wide = _or(shoulder_diameter, spline_diameter)
    behind = wide / 2.0
    stop = _stop(bush_near, wide, crank_bore_diameter, crank_mouth_diameter, crank_mouth_depth)
    pairs = (
        (
            "end gap {value}",
            -crank_bore_depth,
            tip,
            pilot_diameter / 2.0,
            ("crank_bore_depth", "reach"),
        ),
        (
            "hold {value}",
            max(tip, -bush_far),
            min(shoulder, -bush_near),
            -high,
            ("bush_near", "reach"),
        ),
        ("shoulder gap {value}", -stop, shoulder, behind, ("bush_near", "turned_back")),
        ("splines before hub {value}", first, worn, -hub, ("spline_start_after",)),
        ("splines behind hub {value}", released, last, -hub, ("spline_end",)),
        ("hub to guide {value}", released, guide, collar_diameter / 2.0, ("collar_length",)),
    )
    return [shape for pair in pairs for shape in _clearance(*pair)]


def _stop(bush: float, shoulder: float, bore: float, mouth: float, depth: float) -> float:
    """How deep the first thing lies that is narrower than the shoulder: bush, mouth or bore [mm].

    >>> _stop(2.0, 25.4, 21.0, 30.0, 6.0), _stop(8.0, 25.4, 21.0, 30.0, 6.0)
    (2.0, 6.0)
    """
    widest = max(_or(mouth, 0.0), bore)
    if widest <= shoulder:
        return min(bush, 0.0)
    return min(bush, _or(depth, 0.0)) if bore <= shoulder else bush


def _clearance(text: str, low: float, high: float, z: float, of: tuple[str, ...]) -> list[Shape]:
    """From low to high; where it is negative, the two are in each other's way by so much."""
    if high > low:
        return _length(text, low, high, z, *of)
    if text.startswith("hold"):
        return []
    short = _length(text.replace("{value}", "short by {value}"), high, low, z, *of)
    return short + _box("clash", high, low, z - math.copysign(3.0, z), z, *of)


@view("turning")
def draw_turning(
    shaft_stickout: float,
    pilot_diameter: float,
    journal_after: float,
    pilot_length: float,
    turned_back: float,
    tip_cut: float,
    spline_diameter: float,
    spline_start_after: float,
    spline_end: float,
    spline_cut: float,
    shoulder_diameter: float = math.nan,
) -> list[Shape]:
    """The shaft as the machinist gets it; all lengths from its one datum, the tip once it is faced."""
    cut = _or(tip_cut, 0.0), _or(turned_back, 0.0), _or(spline_cut, 0.0)
    journal = _or(journal_after, pilot_diameter)
    if max(*cut, pilot_diameter - journal) < LEAST:
        return []
    shapes = _shaft_body(
        0.0, shaft_stickout, pilot_diameter, journal_after, pilot_length, turned_back, tip_cut,
        shoulder_diameter, spline_diameter, spline_start_after, spline_end,
    )  # fmt: skip
    tip, back = cut[0], pilot_length + cut[1]
    behind = _or(shoulder_diameter, spline_diameter)
    outer = spline_diameter / 2.0
    datum = "datum: tip after facing" if tip > LEAST else "datum: tip"
    return [
        *shapes,
        _line("axis", ((-8.0, 0.0), (shaft_stickout + 8.0, 0.0))),
        _note(datum, tip, journal / 2.0),
        *_across(tip + (back - tip) / 2.0, journal, "journal_after"),
        *_length("{value}", tip, back, behind / 2.0, "journal_needed"),
        *_length("{value}", 0.0, tip, -pilot_diameter / 2.0, "tip_cut"),
        *_length("({value})", tip, spline_end, -outer, "spline_end"),
        *_height(
            "(Ø{value})", (spline_start_after + spline_end) / 2.0, -outer, outer, "spline_diameter"
        ),
    ]


# ---- parts to make ----------------------------------------------------------------------------


def _sleeve(
    length: float, inside: float, outside: float, beyond: float, of: str, bore_of: str
) -> list[Shape]:
    """A turned part in section, with both its diameters; its ends from the datum 0."""
    hole = inside / 2.0
    return [
        *_both("made", 0.0, length, hole, outside / 2.0, of, bore_of),
        _line("metal", ((0.0, -hole), (0.0, hole))),
        _line("metal", ((length, -hole), (length, hole))),
        _line("axis", ((-beyond, 0.0), (length + beyond, 0.0))),
        *_across(length, outside, of),
        *_across(0.0, inside, bore_of),
    ]


@view("bush")
def draw_bush_part(
    bush_made: float, bush_near: float, bush_far: float, bush_outside: float, bush_inside: float
) -> list[Shape]:
    if not bush_made >= 0.5:
        return []
    length = bush_far - bush_near
    return [
        *_sleeve(length, bush_inside, bush_outside, 4.0, "crank_bore_after", "bush_bore_before"),
        _note("datum: near end, towards the clutch", 0.0, bush_outside / 2.0),
        *_length("{value}", 0.0, length, bush_outside / 2.0, "bush_length_after"),
    ]


@view("ring")
def draw_ring_part(
    ring_made: float, register_diameter: float, bellhousing_bore_after: float
) -> list[Shape]:
    if not ring_made >= 0.5:
        return []
    outside, wide = bellhousing_bore_after, 6.0
    return [
        *_sleeve(
            wide, register_diameter, outside, 8.0, "bellhousing_bore_after", "register_diameter"
        ),
        _note("as wide as the gearbox's register is long", wide, outside / 2.0),
    ]


@view("plate")
def draw_plate_part(
    adapter_thickness: float, car_bellhousing_register_diameter: float, register_diameter: float
) -> list[Shape]:
    if not adapter_thickness > LEAST:
        return []
    bore = _or(register_diameter, car_bellhousing_register_diameter) / 2.0
    edge = bore + 45.0
    return [
        *_both("made", 0.0, adapter_thickness, bore, edge, "adapter_thickness"),
        _line("metal", ((0.0, -bore), (0.0, bore))),
        _line("metal", ((adapter_thickness, -bore), (adapter_thickness, bore))),
        _line("axis", ((-10.0, 0.0), (adapter_thickness + 10.0, 0.0))),
        *_length("{value}", 0.0, adapter_thickness, edge, "adapter_thickness"),
        *_across(adapter_thickness, 2.0 * bore, "register_diameter"),
        _note("datum: engine side", 0.0, -edge + 8.0),
        _note("outline, bolts and dowels from the parts in hand", adapter_thickness, edge - 20.0),
    ]


@view("wedge")
def draw_wedge_part(wedge_angle: float, mount_pad_length: float) -> list[Shape]:
    if not abs(wedge_angle) > SAME:
        return []
    thin = 3.0
    rise = mount_pad_length * math.tan(abs(wedge_angle))
    foot = ((0.0, 0.0), (mount_pad_length, 0.0))
    top = (mount_pad_length, thin + rise), (0.0, thin)
    slope = ((0.0, thin), (mount_pad_length, thin), (mount_pad_length, thin + rise))
    return [
        _area("made", (*foot, *top), "wedge_angle"),
        _line("axis", ((0.0, thin), (mount_pad_length, thin))),
        *_length("({value})", 0.0, mount_pad_length, 0.0, "mount_pad_length"),
        *_height("rises {value}", mount_pad_length, thin, thin + rise, "wedge_angle"),
        Shape("angle", "thin", slope, "{value}", ("wedge_angle",), abs(wedge_angle)),
    ]


# ---- the gearbox in the car -------------------------------------------------------------------


def _rise(x: float, pad: float, lift: float, tilt: float) -> float:
    """How much a station rises when the pad is lifted and the gearbox tilts by it [mm].

    >>> round(_rise(858.0, 800.0, 10.0, 0.0087), 1)
    10.5
    """
    return _or(lift, 0.0) + _or(tilt, 0.0) * (x - _or(pad, x))


def _judged(extent: float, bellhousing: float) -> float:
    """A side of the bell [mm]; not known where the car keeps its own, which fits today."""
    return math.nan if bellhousing == OWN else extent


def _known_stations(x: np.ndarray, room: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    place, wide = np.atleast_1d(x).astype(float), np.atleast_1d(room).astype(float)
    known = ~(np.isnan(place) | np.isnan(wide)) if place.shape == wide.shape else np.zeros(0, bool)
    return (place[known], wide[known]) if known.any() else (np.zeros(0), np.zeros(0))


def _least_gaps(
    boxes: Sequence[tuple[float, float, float]], x: np.ndarray, room: np.ndarray
) -> list[tuple[float, float, float]]:
    """Where the sheet comes nearest to each box: (station, extent of the box, room).

    Boxes are (start, end, extent); what is unknown, or has no sheet beside it, is passed over.
    """
    places, rooms = _known_stations(x, room)
    found = []
    for start, end, extent in boxes:
        if math.isnan(start + end + extent) or not places.size:
            continue
        low, high = max(start, places[0]), min(end, places[-1])
        if low > high:
            continue
        at = np.array([low, high, *places[(places > low) & (places < high)]])
        wide = np.interp(at, places, rooms)
        least = int(wide.argmin())
        found.append((float(at[least]), extent, float(wide[least])))
    return found


@view("side")
def draw_gearbox_from_the_side(
    x_face: float,
    adapter_thickness: float,
    engine_shift: float,
    bell_top: float,
    bell_bottom: float,
    case_length: float,
    case_top: float,
    case_bottom: float,
    length: float,
    tail_top: float,
    tail_bottom: float,
    mount_position: float,
    lift: float,
    lift_tilt: float,
    backplate: float = 0.0,
) -> list[Shape]:
    pad = x_face + mount_position
    plate, shift = _or(adapter_thickness, 0.0), _or(engine_shift, 0.0)
    front = backplate - shift
    rise = lambda x: _rise(x, pad, lift, lift_tilt)
    top, low = _or(bell_top, case_top), _or(bell_bottom, case_bottom)

    def raised(role: str, x0: float, x1: float, z0: float, z1: float, *of: str) -> list[Shape]:
        if abs(x1 - x0) < LEAST:
            return []
        corners = ((x0, z0), (x1, z0), (x1, z1), (x0, z1))
        return [_area(role, [(x, z + rise(x)) for x, z in corners], *of)]

    end = x_face + length
    return [
        *raised("car", -BLOCK - shift, -shift, -low, top),
        *raised("metal", front, x_face - plate, -low, top, "bell_top", "bell_bottom"),
        *raised("made", x_face - plate, x_face, -low, top, "adapter_thickness"),
        *raised("metal", x_face, x_face + case_length, -case_bottom, case_top, "case_top"),
        *raised("metal", x_face + case_length, end, -tail_bottom, tail_top, "tail_top"),
        _line("axis", ((-BLOCK - shift - 20.0, rise(-BLOCK)), (end + 40.0, rise(end + 40.0)))),
        _anywhere(
            "engine",
            [(-BLOCK / 2.0 - shift, z) for z in (top / 2.0, -low / 2.0, 0.3 * top, 0.8 * top)],
        ),
        _note("bell", (front + x_face) / 2.0, low / -2.0),
        _note("case", x_face + case_length * 0.4, case_top / -3.0),
        _anywhere(
            "tail",
            [
                (x_face + case_length + share * (length - case_length), tail_bottom / -3.0)
                for share in SHARES
            ],
        ),
        *_length("gearbox face {value}", 0.0, x_face, top, "x_face"),
        *_length("engine forward {value}", -shift, 0.0, top, "engine_shift"),
        *_length("plate {value}", x_face - plate, x_face, top, "adapter_thickness"),
        *_length("output joint {value}", 0.0, end, -tail_bottom, "length"),
    ]


@view("side")
def draw_mount_from_the_side(
    x_face: float,
    mount_position: float,
    mount_drop: float,
    mount_pad_length: float,
    mount_tilt: float,
    car_mount_zone_start: float,
    car_mount_zone_end: float,
    car_mount_drop_least: float,
    car_mount_drop_most: float,
    wedge_angle: float,
    pad_milled: float,
    lift: float,
    lift_tilt: float,
) -> list[Shape]:
    pad, half = x_face + mount_position, _or(mount_pad_length, 60.0) / 2.0
    face = -mount_drop + _rise(pad, pad, lift, lift_tilt)
    shapes = [
        *_box("metal", pad - half, pad + half, face, face + PAD_THICK, "mount_position"),
        *_box(
            "zone",
            car_mount_zone_start,
            car_mount_zone_end,
            -car_mount_drop_most,
            -car_mount_drop_least,
        ),
        _note("mount's zone", car_mount_zone_end, -car_mount_drop_most, "car_mount_zone"),
        *_length("pad {value}", 0.0, pad, face, "mount_position"),
        *_height("drop {value}", pad, 0.0, face, "mount_drop", "lift"),
    ]
    if abs(_or(wedge_angle, 0.0)) > SAME:
        rise = 2.0 * half * math.tan(wedge_angle)
        low, high = min(rise, 0.0), max(rise, 0.0)
        shapes.append(
            _area("made", ((pad - half, face), (pad + half, face), (pad + half, face - high - 2.0),
                           (pad - half, face + low - 2.0)), "wedge_angle")
        )  # fmt: skip
    if _or(pad_milled, 0.0) > LEAST:
        thick = pad + math.copysign(half, _or(mount_tilt, 0.0) or 1.0)
        corners = ((pad - half, face), (pad + half, face), (thick, face - pad_milled))
        shapes.append(_area("cut", corners, "pad_milled"))
        shapes.append(_note("mill off {value}", pad + half, face, "pad_milled", value=pad_milled))
    return shapes


@view("side")
def draw_crossmember_from_the_side(
    crossmember_start: float,
    crossmember_end: float,
    crossmember_top: float,
    lip_cut: float,
    box_cut: float,
    relief: float,
    x_face: float,
    adapter_thickness: float,
    engine_shift: float,
    bell_bottom: float,
    case_length: float,
    case_bottom: float,
    length: float,
    tail_bottom: float,
    mount_position: float,
    lift: float,
    lift_tilt: float,
    backplate: float = 0.0,
    bellhousing: float = 0.0,
) -> list[Shape]:
    lip, deep, down = _or(lip_cut, 0.0), _or(box_cut, 0.0), _or(relief, 0.0)
    start, end, top = crossmember_start, crossmember_end, -crossmember_top
    if math.isnan(start + end + top):
        return []
    bottom = top - CHASSIS_DEPTH
    shapes = [
        *_box("car", start + lip + deep, end, bottom, top - down, "crossmember_start"),
        *_box("cut", start, start + lip, bottom, top, "lip_cut"),
        *_box("cut", start + lip, start + lip + deep, bottom, top, "box_cut"),
        *_box("cut", start + lip + deep, end, top - down, top, "relief"),
        _note("crossmember", end, bottom + CHASSIS_DEPTH / 3.0, "crossmember_start"),
        *_length("crossmember {value}", 0.0, start, bottom, "crossmember_start"),
        *_length("cut lip {value}", start, start + lip, bottom, "lip_cut"),
        *_length("cut box {value}", start + lip, start + lip + deep, bottom, "box_cut"),
        *_height("relieve {value}", end, top - down, top, "relief"),
    ]
    pad = x_face + mount_position
    front = backplate - _or(engine_shift, 0.0)
    boxes = (
        (
            front,
            x_face - _or(adapter_thickness, 0.0),
            _judged(bell_bottom, bellhousing),
            "bell_bottom",
        ),
        (x_face, x_face + case_length, case_bottom, "case_bottom"),
        (x_face + case_length, x_face + length, tail_bottom, "tail_bottom"),
    )
    lowest: tuple[float, float, str] | None = None
    for first, last, extent, name in boxes:
        low, high = max(first, start + lip + deep), min(last, end)
        if math.isnan(first + last + extent) or low >= high:
            continue
        under = -extent + min(_rise(x, pad, lift, lift_tilt) for x in (low, high))
        if lowest is None or under < lowest[1]:
            lowest = ((low + high) / 2.0, under, name)
        if under < top - down - LEAST:
            shapes += _box("clash", low, high, under, top - down, name, "crossmember_top")
    if lowest is not None:
        at, under, name = lowest
        text = "air {value}" if under > top - down else "in the way by {value}"
        shapes += _height(text, at, top - down, under, name, "crossmember_top")
    return shapes


@view("side")
def draw_tunnel_from_the_side(
    tunnel_x: np.ndarray,
    tunnel_top: np.ndarray,
    opening_start: float,
    opening_end: float,
    opening_front: float,
    opening_rear: float,
    shifter_position: float,
    shifter_room: float,
    x_face: float,
    adapter_thickness: float,
    engine_shift: float,
    bell_top: float,
    case_length: float,
    case_top: float,
    length: float,
    tail_top: float,
    mount_position: float,
    lift: float,
    lift_tilt: float,
    cover_eased: float,
    tunnel_eased: float,
    eased_to: float,
    backplate: float = 0.0,
    tunnel_piece_start: np.ndarray | float = -FAR,
    tunnel_piece_end: np.ndarray | float = FAR,
    tunnel_piece_removable: np.ndarray | float = 0.0,
    bellhousing: float = 0.0,
) -> list[Shape]:
    x, top = _known_stations(tunnel_x, tunnel_top)
    front = backplate - _or(engine_shift, 0.0)
    boxes = (
        (front, x_face - _or(adapter_thickness, 0.0), _judged(bell_top, bellhousing)),
        (x_face, x_face + case_length, case_top),
        (x_face + case_length, x_face + length, tail_top),
    )
    pieces = _eased_pieces(
        tunnel_piece_start, tunnel_piece_end, tunnel_piece_removable, cover_eased, tunnel_eased
    )
    x, top, taken = _easing(boxes, x, top, eased_to, pieces)
    shapes = _sheet(x, top, opening_start, opening_end, "tunnel_top")
    shapes += _taken(taken, 1.0, ("tunnel_top", "cover_eased", "tunnel_eased"))
    pad, lever = x_face + mount_position, x_face + shifter_position
    rise = lambda at: _rise(at, pad, lift, lift_tilt)
    foot = (tail_top if shifter_position > case_length else case_top) + rise(lever)
    floor = float(np.interp(lever, x, top)) if x.size else foot + 60.0
    shapes += [
        _line("metal", ((lever, foot), (lever, max(floor, foot) + 70.0)), "shifter_position"),
        Shape("note", "thin", _up_the(lever, foot, max(floor, foot) + 70.0), "lever"),
        *_length("lever {value}", 0.0, lever, max(floor, foot) + 70.0, "shifter_position"),
    ]
    if x.size:
        shapes.append(_note("tunnel", float(x[0]), float(top[0]), "tunnel_stations"))
    shapes += _opening_cut(
        lever, shifter_room, opening_start, opening_end, opening_front, opening_rear, floor
    )
    lifted = [(a, b, extent + max(rise(a), rise(b))) for a, b, extent in boxes]
    return shapes + _gaps("air above {value}", _least_gaps(lifted, x, top), 1.0, "tunnel_top")


def _up_the(lever: float, foot: float, top: float) -> tuple[Point, ...]:
    """Places at which the lever may be named, from above."""
    return tuple((lever, top + share * (foot - top)) for share in (0.1, 0.3, 0.5, 0.9))


def _opening_cut(
    lever: float, room: float, start: float, end: float, front: float, rear: float, floor: float
) -> list[Shape]:
    """What comes off before and behind the hole, and where the turret still meets the sheet."""
    before, behind = start - _or(front, 0.0), end + _or(rear, 0.0)
    thick = 4.0
    first, last = lever - room / 2.0, lever + room / 2.0
    shapes = [
        *_box("cut", before, start, floor, floor + thick, "opening_front"),
        *_box("cut", end, behind, floor, floor + thick, "opening_rear"),
        *_length("cut {value}", before, start, floor + thick, "opening_front"),
        *_length("cut {value}", end, behind, floor + thick, "opening_rear"),
        *_box("clearance", first, last, floor - 12.0, floor + 16.0, "shifter_room"),
    ]
    if first < before - LEAST:
        shapes += _box(
            "clash", first, before, floor, floor + thick, "shifter_room", "opening_start"
        )
    if last > behind + LEAST:
        shapes += _box("clash", behind, last, floor, floor + thick, "shifter_room", "opening_end")
    return shapes


def _easing(
    boxes: Sequence[tuple[float, float, float]],
    x: np.ndarray,
    room: np.ndarray,
    air: float,
    pieces: Sequence[tuple[float, float]],
) -> tuple[np.ndarray, np.ndarray, list[tuple[np.ndarray, np.ndarray, np.ndarray]]]:
    """The sheet once it is eased over some pieces of the tunnel, and what is taken: (x, from, to).

    Boxes are (start, end, extent); the sheet keeps `air` from them. An end of the easing is a step.

    >>> x, room, taken = _easing([(0.0, 50.0, 60.0)], np.array([0.0, 100.0]), np.array([70.0, 50.0]), 6.0, [(0.0, 99.0)])
    >>> x.tolist(), room.tolist(), len(taken)
    ([0.0, 19.999, 20.0, 50.0, 50.001, 100.0], [70.0, 66.0002, 66.0, 66.0, 59.9998, 50.0], 1)
    """
    step = 0.001
    if x.size < 2 or math.isnan(air):
        return x, room, []
    found: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    places = list(map(float, x))
    for start, end, extent in boxes:
        for low, high in pieces:
            a, b = max(start, low, x[0]), min(end, high, x[-1])
            if not b > a + LEAST or math.isnan(extent):
                continue
            at = np.array([a, *x[(x > a) & (x < b)], b])
            short = extent + air - np.interp(at, x, room)
            ends = (short[:-1] > 0) != (short[1:] > 0)
            share = short[:-1][ends] / (short[:-1] - short[1:])[ends]
            at = np.sort(np.concatenate([at, at[:-1][ends] + share * np.diff(at)[ends]]))
            was = np.interp(at, x, room)
            if (extent + air - was > LEAST).any():
                at, was = at[extent + air - was >= -SAME], was[extent + air - was >= -SAME]
                found.append((at, was, np.full(at.shape, extent + air)))
                places += [*at, *(p for p in (at[0] - step, at[-1] + step) if x[0] < p < x[-1])]
    if not found:
        return x, room, []
    whole = np.unique(places)
    after = np.interp(whole, x, room)
    for at, _, to in found:
        inside = (whole >= at[0] - SAME) & (whole <= at[-1] + SAME)
        after = np.where(inside, np.maximum(after, to[0]), after)
    return whole, after, found


def _taken(
    taken: Sequence[tuple[np.ndarray, np.ndarray, np.ndarray]], sign: float, of: Sequence[str]
) -> list[Shape]:
    """What easing takes from the sheet, as a cut with its depth at the deepest place."""
    shapes: list[Shape] = []
    for at, was, to in taken:
        inner = [(float(x), sign * float(z)) for x, z in zip(at, was, strict=True)]
        outer = [(float(x), sign * float(z)) for x, z in zip(at, to, strict=True)]
        deep = int((to - was).argmax())
        shapes.append(_area("cut", inner + outer[::-1], *of))
        shapes += _height("ease {value}", float(at[deep]), sign * was[deep], sign * to[deep], *of)
    return shapes


def _eased_pieces(
    start: np.ndarray | float,
    end: np.ndarray | float,
    removable: np.ndarray | float,
    cover: float,
    fixed: float,
) -> list[tuple[float, float]]:
    """The pieces of the tunnel in which something is eased."""
    done = {True: _or(cover, 0.0) > LEAST, False: _or(fixed, 0.0) > LEAST}
    rows = zip(np.atleast_1d(start), np.atleast_1d(end), np.atleast_1d(removable), strict=True)
    return [(float(a), float(b)) for a, b, flag in rows if done[bool(flag == 1)]]


def _sheet(x: np.ndarray, room: np.ndarray, start: float, end: float, name: str) -> list[Shape]:
    """The sheet as lines, interrupted by the opening."""
    if x.size < 2:
        return []
    shapes = []
    pieces = [(x[0], x[-1])] if math.isnan(start + end) else [(x[0], start), (end, x[-1])]
    for low, high in pieces:
        first, last = max(low, x[0]), min(high, x[-1])
        if first >= last:
            continue
        between = x[(x > first) & (x < last)]
        points = [(float(at), float(np.interp(at, x, room))) for at in (first, *between, last)]
        shapes.append(_line("sheet", points, name))
    return shapes


def _gaps(
    text: str, found: Sequence[tuple[float, float, float]], sign: float, name: str
) -> list[Shape]:
    """Clearances as dimensions, or a clash where there is none; sign: to which side."""
    shapes: list[Shape] = []
    for at, extent, room in found:
        if room - extent >= 0.0:
            shapes += _height(text, at, sign * extent, sign * room, name)
            continue
        words = text.split(" {")[0].replace("air", "in the way") + " {value}"
        shapes += _height(words, at, sign * extent, sign * room, name)
        shapes += _box("clash", at - 8.0, at + 8.0, sign * room, sign * extent, name)
    return shapes


def _fan(gap: float, shift: float, least: float, low: float, high: float) -> list[Shape]:
    """The fan, forward with the engine, and the radiator, which stays; the block's length is free."""
    if math.isnan(gap):
        return []
    forward = _or(shift, 0.0)
    face = -BLOCK - FAN_BEFORE - FAN_THICK  # of the fan as found
    radiator = face - gap
    left = gap - forward
    text = "fan to radiator {value}" if left > least - SAME else "fan too near: {value}"
    return [
        *_box("car", face - forward, face + FAN_THICK - forward, 0.8 * low, 0.8 * high),
        _line("axis", ((face - forward - 4.0, 0.0), (-BLOCK - forward, 0.0))),
        *_box("car", radiator - RADIATOR_THICK, radiator, low, high, "engine_mounts_fan_gap"),
        _note("radiator", radiator - RADIATOR_THICK, 0.5 * high, "engine_mounts_fan_gap"),
        *_length(
            text, radiator, face - forward, 0.8 * high, "engine_mounts_fan_gap", "engine_shift"
        ),
        *(
            _box("clash", radiator, radiator + least - left, -6.0, 6.0, "engine_mounts_fan_gap")
            if left < least - SAME and forward > SAME
            else []
        ),
    ]


@view("side")
def draw_fan_from_the_side(
    engine_mounts_fan_gap: float,
    engine_shift: float,
    engine_mounts_fan_gap_least: float,
    bell_top: float,
    case_top: float,
    bell_bottom: float,
    case_bottom: float,
) -> list[Shape]:
    top, low = _or(bell_top, case_top), _or(bell_bottom, case_bottom)
    return _fan(
        engine_mounts_fan_gap, engine_shift, _or(engine_mounts_fan_gap_least, 0.0), -low, top
    )


@view("plan")
def draw_fan_from_above(
    engine_mounts_fan_gap: float,
    engine_shift: float,
    engine_mounts_fan_gap_least: float,
    bell_left: float,
    case_left: float,
    bell_right: float,
    case_right: float,
) -> list[Shape]:
    left, right = _or(bell_left, case_left), _or(bell_right, case_right)
    least = _or(engine_mounts_fan_gap_least, 0.0)
    return _fan(engine_mounts_fan_gap, engine_shift, least, -right, left)


@view("plan")
def draw_gearbox_from_above(
    x_face: float,
    adapter_thickness: float,
    engine_shift: float,
    bell_left: float,
    bell_right: float,
    case_length: float,
    case_left: float,
    case_right: float,
    length: float,
    tail_left: float,
    tail_right: float,
    lug_off_left: float,
    lug_off_right: float,
    backplate: float = 0.0,
) -> list[Shape]:
    plate, shift = _or(adapter_thickness, 0.0), _or(engine_shift, 0.0)
    front = backplate - shift
    left, right = _or(bell_left, case_left), _or(bell_right, case_right)
    joint = x_face + case_length
    high, low = tail_left - _or(lug_off_left, 0.0), _or(lug_off_right, 0.0) - tail_right
    return [
        *_box("car", -BLOCK - shift, -shift, -right, left),
        *_box("metal", front, x_face - plate, -right, left, "bell_left", "bell_right"),
        *_box("made", x_face - plate, x_face, -right, left, "adapter_thickness"),
        *_box("metal", x_face, joint, -case_right, case_left, "case_left", "case_right"),
        *_box("metal", joint, x_face + length, low, high, "tail_left", "tail_right"),
        *_box("cut", joint, x_face + length, high, tail_left, "lug_off_left"),
        *_box("cut", joint, x_face + length, low, -tail_right, "lug_off_right"),
        *_height(
            "off lugs {value}",
            joint + 0.6 * (length - case_length),
            high,
            tail_left,
            "lug_off_left",
        ),
        *_height(
            "off lugs {value}",
            joint + 0.6 * (length - case_length),
            low,
            -tail_right,
            "lug_off_right",
        ),
        _line("axis", ((-BLOCK - shift - 20.0, 0.0), (x_face + length + 40.0, 0.0))),
        _anywhere(
            "engine",
            [(-BLOCK / 2.0 - shift, z) for z in (left / 2.0, -right / 2.0, 0.3 * left, 0.8 * left)],
        ),
        _note("case", x_face + case_length * 0.3, case_left / 2.0),
        _note("left side", -BLOCK - shift, left, "case_left"),
        *_length("gearbox face {value}", 0.0, x_face, left, "x_face"),
        *_length("output joint {value}", 0.0, x_face + length, -tail_right, "length"),
    ]


@view("plan")
def draw_tunnel_from_above(
    tunnel_x: np.ndarray,
    tunnel_left: np.ndarray,
    tunnel_right: np.ndarray,
    x_face: float,
    adapter_thickness: float,
    engine_shift: float,
    bell_left: float,
    bell_right: float,
    case_length: float,
    case_left: float,
    case_right: float,
    length: float,
    tail_left: float,
    tail_right: float,
    lug_off_left: float,
    lug_off_right: float,
    cover_eased: float,
    tunnel_eased: float,
    eased_to: float,
    backplate: float = 0.0,
    tunnel_piece_start: np.ndarray | float = -FAR,
    tunnel_piece_end: np.ndarray | float = FAR,
    tunnel_piece_removable: np.ndarray | float = 0.0,
    bellhousing: float = 0.0,
) -> list[Shape]:
    joint, end = x_face + case_length, x_face + length
    front = backplate - _or(engine_shift, 0.0)
    rear = x_face - _or(adapter_thickness, 0.0)
    pieces = _eased_pieces(
        tunnel_piece_start, tunnel_piece_end, tunnel_piece_removable, cover_eased, tunnel_eased
    )
    left, right = tail_left - _or(lug_off_left, 0.0), tail_right - _or(lug_off_right, 0.0)
    shapes: list[Shape] = []
    for sign, room, extents, name in (
        (1.0, tunnel_left, (_judged(bell_left, bellhousing), case_left, left), "tunnel_left"),
        (-1.0, tunnel_right, (_judged(bell_right, bellhousing), case_right, right), "tunnel_right"),
    ):
        ends = ((front, rear), (x_face, joint), (joint, end))
        boxes = [(*ends[i], extents[i]) for i in range(3)]
        x, wide, taken = _easing(boxes, *_known_stations(tunnel_x, room), eased_to, pieces)
        shapes += _taken(taken, sign, (name, "cover_eased", "tunnel_eased"))
        shapes += _sheet(x, sign * wide, math.nan, math.nan, name)
        shapes += _gaps("air {value}", _least_gaps(boxes, x, wide), sign, name)
    return shapes


@view("plan")
def draw_hole_from_above(
    opening_start: float,
    opening_end: float,
    opening_left: float,
    opening_right: float,
    opening_front: float,
    opening_rear: float,
    x_face: float,
    shifter_position: float,
    shifter_offset: float,
    shifter_room: float,
    turret_width: float,
) -> list[Shape]:
    left, right = _or(opening_left, 40.0), _or(opening_right, 40.0)
    start, end = opening_start, opening_end
    before, behind = start - _or(opening_front, 0.0), end + _or(opening_rear, 0.0)
    lever, aside = x_face + shifter_position, -_or(shifter_offset, 0.0)
    room, half = shifter_room / 2.0, _or(turret_width, 60.0) / 2.0
    return [
        *_box("clearance", start, end, -right, left, "opening_start", "opening_end"),
        *_box("cut", before, start, -right, left, "opening_front"),
        *_box("cut", end, behind, -right, left, "opening_rear"),
        *_length("cut {value}", before, start, -right, "opening_front"),
        *_length("cut {value}", end, behind, -right, "opening_rear"),
        *_box("zone", lever - room, lever + room, aside - half, aside + half, "turret_width"),
        _note("turret", lever, aside, "turret_width", "shifter_room"),
        _note("hole in the floor", end, left, "opening_start"),
    ]


# ---- the propeller shaft ----------------------------------------------------------------------


@view("driveline")
def draw_driveline(
    x_face: float,
    length: float,
    mount_position: float,
    lift: float,
    lift_tilt: float,
    driveshaft_pinion_x: float,
    driveshaft_pinion_drop: float,
    driveshaft_pinion_arm: float,
    driveshaft_pinion_tilt: float,
    driveshaft_engine_tilt: float,
    axle_wedge: float,
    front_angle: float,
    rear_angle: float,
    two_pieces: float,
) -> list[Shape]:
    """Of two pieces the front angle is that of the joint behind the centre bearing."""
    out = x_face + length
    rise = lambda x: _rise(x, x_face + mount_position, lift, lift_tilt)
    arm, wedge = _or(driveshaft_pinion_arm, 180.0), _or(axle_wedge, 0.0)
    pinion = (driveshaft_pinion_x, -driveshaft_pinion_drop + arm * math.sin(wedge))
    joint = (out, rise(out))
    tilt = driveshaft_pinion_tilt + wedge - driveshaft_engine_tilt
    axle = (pinion[0] + arm * math.cos(tilt), pinion[1] - arm * math.sin(tilt))
    run, slope = pinion[0] - out, -_or(lift_tilt, 0.0)
    front, shapes = _or(two_pieces, 0.0), []
    bend, fall = joint, driveshaft_pinion_drop + joint[1]
    if front > LEAST:
        sizes = (np.array(size) for size in (run, 0.0, fall, slope, front))
        slope = float(rear_piece(*sizes)[1])
        bend = (out + front * math.cos(slope), joint[1] - front * math.sin(slope))
        shapes = _front_piece(joint, bend)
    ahead = pinion[0] - bend[0]
    produced = (bend[0] + 0.4 * ahead, bend[1] - 0.4 * ahead * math.tan(slope))
    before = (pinion[0] - 0.4 * ahead, pinion[1] + 0.4 * ahead * math.tan(tilt))
    middle = ((bend[0] + pinion[0]) / 2.0, (bend[1] + pinion[1]) / 2.0)
    said = "rear piece {value}" if front > LEAST else "shaft {value} between joints"
    shapes += [
        _line("metal", ((x_face, rise(x_face)), joint), "length"),
        _line("axis", (bend, produced)),
        _line("sheet", (bend, pinion), "driveshaft_pinion_x"),
        _line("metal", (pinion, axle), "driveshaft_pinion_tilt"),
        _line("axis", (pinion, before)),
        Shape("circle", "metal", (joint, (joint[0] + 14.0, joint[1]))),
        Shape("circle", "metal", (pinion, (pinion[0] + 14.0, pinion[1]))),
        Shape("circle", "car", (axle, (axle[0] + 55.0, axle[1])), of=("driveshaft_pinion_arm",)),
        _note("axle", axle[0], axle[1]),
        _note("gearbox", (x_face + out) / 2.0, rise(x_face)),
        _note(said, *middle, "driveshaft_pinion_x", "length", value=math.dist(bend, pinion)),
        Shape("dimension", "thin", (joint, pinion), "{value}", ("driveshaft_pinion_x",), run),
        *_height("{value}", (out + pinion[0]) / 2.0, joint[1], pinion[1], "driveshaft_pinion_drop"),
        Shape("angle", "thin", (bend, produced, pinion), "{value}", ("front_angle",), front_angle),
        Shape("angle", "thin", (pinion, before, bend), "{value}", ("rear_angle",), rear_angle),
    ]
    if wedge:
        said = f"wedge {math.degrees(wedge):.1f}° under the spring"
        shapes.append(_note(said, axle[0], axle[1] - 18.0, "axle_wedge"))
    return shapes


def _front_piece(joint: Point, bend: Point) -> list[Shape]:
    """The coupling shaft with its centre bearing, which hangs from the floor."""
    bearing = (bend[0] - 40.0, bend[1] + (joint[1] - bend[1]) * 40.0 / (bend[0] - joint[0]))
    return [
        _line("sheet", (joint, bend), "two_pieces"),
        *_box("made", bearing[0] - 15.0, bearing[0] + 15.0, bearing[1] - 9.0, bearing[1] + 9.0),
        Shape("circle", "metal", (bend, (bend[0] + 14.0, bend[1]))),
        _note("centre bearing", *bearing, "two_pieces"),
        _note(
            "front piece {value}", (joint[0] + bend[0]) / 2.0, (joint[1] + bend[1]) / 2.0,
            "two_pieces", value=math.dist(joint, bend),
        ),
    ]  # fmt: skip
