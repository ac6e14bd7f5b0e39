"""Driveline: shaft length, joint angles in space, what they leave, whirl, and the slip yoke.

Directions are seen from the crankshaft axis as found: x rearward, y right, z up. The wedge in the
axle lifts the pinion's nose; a lift of the gearbox tilts its axis and raises its output joint.
Lengths are judged without the wedge, which changes them by less than a millimetre.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
    AtLeast,
    Limit,
    Own,
    Reading,
    check,
    decision,
    quantity,
    unknown_where,
)
from compare.ordering import Cut, order, tell

Array = np.ndarray

YOUNG = 207e9  # Pa, steel
DENSITY = 7850.0  # kg/m³, steel
SLIP_YOKE, FLANGE = 0, 1  # indices of output_type
# How far the front piece of two hangs below the gearbox's axis: its joint has no partner, so it
# wants 0.5° or less. A vehicle maker's workshop manual, 1999, two-piece propeller shafts.
COUPLING_ANGLE = np.deg2rad(0.5)
# Outside diameters that tubes for propeller shafts are sold in [mm]: 2 to 4 inches (practice).
TUBE_SIZES = (50.8, 57.15, 63.5, 76.2, 88.9, 101.6)
SPLINE_SAME = 0.3  # mm, practice: over splines, measured with a vernier
HALVINGS = 20  # of the wedge's range: 16° / 2²⁰ is nothing

# Joint angle permitted at a shaft speed: Dana Spicer, driveline operating angle guide, basic rules.
# 1500 to 2500 rev/min from memory.
SPEED_TABLE = (
    (1500.0, 11.5), (2000.0, 8.7), (2500.0, 7.0), (3000.0, 5.8),
    (3500.0, 5.0), (4000.0, 4.2), (4500.0, 3.7), (5000.0, 3.2),
)  # fmt: skip

NEEDLES = Limit("joint_angle_least", 0.5, "deg", "Dana Spicer: below it the needles do not roll")
FREE_ANGLE = Limit("joint_angle_free", 3.0, "deg", "Dana Spicer guide: vibration-free")
CANCEL_CLEAR = Limit(
    "joint_cancel_clear", 2.24, "deg", "Dana Spicer guide: what 1° of difference leaves at 3°"
)
CANCEL_ACCELERATION = Limit(
    "joint_cancel_acceleration", 400.0, "rad/s²", "SAE AE-7, Driveshaft Design Manual, 3.1.1"
)
WEDGE_CLEAR = Limit("axle_wedge_clear", 4.0, "deg", "NAVEDTRA 14050A: wedges of ½° to about 4°")
WEDGE_MOST = Limit("axle_wedge_most", 8.0, "deg", "practice: wedges are sold up to 8°")
WHIRL_CLEAR = Limit("whirl_share_clear", 0.70, "", "IMS Ltd, drive shaft technical data: 0.7")
WHIRL_TIGHT = Limit("whirl_share_tight", 0.75, "", "practice")
FRONT_PIECE = Limit("front_piece_least", 300.0, "mm", "practice: shortest front piece of two")
LENGTH_SAME = Limit("shaft_length_same", 5.0, "mm", "practice: a sliding joint takes up as much")
RESERVE = Limit("plunge_reserve", 5.0, "mm", "practice: never metal to metal at bump")


# ---- formulas -----------------------------------------------------------------------------------


class Way(NamedTuple):
    """A shaft between two joints: length [mm] and direction (right, up; the rest rearward)."""

    length: Array
    ahead: Array
    right: Array
    up: Array


def way(run: Array, offset: Array, fall: Array) -> Way:
    """The shaft to a joint that lies run behind, offset right of and fall below the first [mm].

    >>> round(float(way(np.array(1142.0), np.array(0.0), np.array(52.0)).length), 2)
    1143.18
    """
    length = np.sqrt(run**2 + offset**2 + fall**2)
    return Way(length, run / length, offset / length, -fall / length)


def bend(shaft: Way, slope: Array) -> Array:
    """Angle between a shaft and an axis in the middle plane, as a complex number [rad].

    Its size is the joint's angle, its phase the plane in which the joint is bent, about the shaft.
    slope [rad]: of the axis, rearward and down positive. Exact for small angles too.

    >>> straight = way(np.array(1000.0), np.array(0.0), np.array(0.0))
    >>> round(float(np.rad2deg(abs(bend(straight, np.deg2rad(3.0))))), 9)
    3.0
    """
    ahead, up = np.cos(slope), -np.sin(slope)
    flat = np.hypot(shaft.ahead, shaft.right)
    along = ahead * shaft.ahead + up * shaft.up
    # Two directions square to the shaft: level to the right, and upward.
    right = -ahead * shaft.right / flat
    high = up * flat - ahead * shaft.ahead * shaft.up / flat
    across = np.hypot(right, high)
    angle = np.arctan2(across, along)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(across > 0, angle / across, unknown_where(1.0, across))
    return share * (right + 1j * high)


class Line(NamedTuple):
    """The pair of joints that must cancel: both angles and what all joints leave [rad]."""

    front: Array
    rear: Array
    residual: Array


def one_piece(
    run: Array, offset: Array, fall: Array, front_slope: Array, rear_slope: Array
) -> Line:
    """Joint angles of one shaft between the gearbox's axis and the pinion's.

    run, offset, fall: pinion joint behind, right of and below the output joint [mm]. Slopes of both
    axes [rad], rearward and down positive. Yokes in phase. What is left is one equivalent angle
    √|β₁² e^(2iφ₁) − β₂² e^(2iφ₂)|, φ being the plane of each joint; in one plane √|β₁² − β₂²|.

    >>> line = one_piece(*(np.array(x) for x in (1142.0, 0.0, 52.0, 0.0, np.deg2rad(-3.0))))
    >>> [round(float(np.rad2deg(angle)), 2) for angle in line]
    [2.61, 5.61, 4.96]
    """
    shaft = way(run, offset, fall)
    front, rear = bend(shaft, front_slope), bend(shaft, rear_slope)
    return Line(np.abs(front), np.abs(rear), np.sqrt(np.abs(front**2 - rear**2)))


def rear_piece(
    run: Array, offset: Array, fall: Array, front_slope: Array, front_length: Array
) -> tuple[Way, Array]:
    """The rear piece of two, and the front piece's slope [rad]: 0.5° towards the pinion.

    >>> sizes = (np.array(x) for x in (1400.0, 0.0, 52.0, 0.0, 500.0))
    >>> round(float(rear_piece(*sizes)[0].length))
    901
    """
    slope = front_slope + np.where(fall < 0, -COUPLING_ANGLE, COUPLING_ANGLE)
    rest = way(run - front_length * np.cos(slope), offset, fall - front_length * np.sin(slope))
    return rest, slope


def front_length_for(
    run: Array, offset: Array, fall: Array, front_slope: Array, rear_length: Array
) -> Array:
    """The front piece [mm] that leaves a rear piece of a length [mm]; the rest as `rear_piece`.

    >>> sizes = (np.array(x) for x in (1400.0, 0.0, 52.0, 0.0, 901.18))
    >>> round(float(front_length_for(*sizes)))
    500
    """
    slope = front_slope + np.where(fall < 0, -COUPLING_ANGLE, COUPLING_ANGLE)
    along = run * np.cos(slope) + fall * np.sin(slope)
    aside = run**2 + offset**2 + fall**2 - along**2
    return along - np.sqrt(np.maximum(rear_length**2 - aside, 0.0))


def two_pieces_line(
    run: Array,
    offset: Array,
    fall: Array,
    front_slope: Array,
    rear_slope: Array,
    front_length: Array,
) -> Line:
    """Angles at the joint behind the centre bearing and at the axle, and what three joints leave.

    Yokes of each shaft in line: √|β₁² e^(2iφ₁) − β₂² e^(2iφ₂) + β₃² e^(2iφ₃)|, β₁ the coupling
    shaft's own 0.5°. Sign rule: ELBE Group, technical annex 3.1 to 3.3.

    >>> line = two_pieces_line(*(np.array(x) for x in (1400.0, 0.0, 52.0, 0.0, 0.0, 500.0)))
    >>> [round(float(np.rad2deg(angle)), 2) for angle in line]
    [2.53, 3.03, 1.74]
    """
    rest, slope = rear_piece(run, offset, fall, front_slope, front_length)
    own = 1j * (slope - front_slope)
    middle, rear = bend(rest, slope), bend(rest, rear_slope)
    left = np.abs(own**2 - middle**2 + rear**2)
    return Line(np.abs(middle), np.abs(rear), np.sqrt(left))


def output_speed(input_speed: Array, angle: Array, turn: Array) -> Array:
    """Output speed of one universal joint: ω cos β / (1 − sin²β cos²θ), Hooke's joint; [rad].

    >>> round(float(output_speed(1.0, np.deg2rad(20.0), 0.0)), 4)
    1.0642
    """
    return input_speed * np.cos(angle) / (1.0 - np.sin(angle) ** 2 * np.cos(turn) ** 2)


def residual_acceleration(angle: Array, speed: Array) -> Array:
    """Peak acceleration left by an angle [rad/s²] = β²ω², small angles; [rad], [rev/min].

    >>> round(float(residual_acceleration(np.deg2rad(20.0), 500.0)), 2)
    334.05
    """
    return angle**2 * (speed * 2.0 * np.pi / 60.0) ** 2


def angle_for_acceleration(acceleration: Array | float, speed: Array) -> Array:
    """The angle [rad] that leaves an acceleration [rad/s²] at a shaft speed [rev/min].

    >>> round(float(np.rad2deg(angle_for_acceleration(400.0, 1500.0))), 1)
    7.3
    """
    return np.sqrt(acceleration) / (speed * 2.0 * np.pi / 60.0)


def permitted_angle(speed: Array) -> Array:
    """The joint angle [deg] that the published table permits at a shaft speed [rev/min].

    Beyond its last row the product of speed and angle is kept (practice).

    >>> float(permitted_angle(4250.0))
    3.95
    """
    speed = np.asarray(speed, dtype=float)
    speeds, angles = zip(*SPEED_TABLE, strict=True)
    found = np.interp(speed, speeds, angles)
    beyond = angles[-1] * speeds[-1] / np.maximum(speed, 1.0)
    return unknown_where(np.where(speed > speeds[-1], beyond, found), speed)


WHIRL_FACTOR = 30.0 * np.pi / 4.0 * np.sqrt(YOUNG / DENSITY) * 1000.0  # mm/min


def whirling_speed(outer: Array, inner: Array, length: Array) -> Array:
    """First whirling speed [rev/min] = (30π/4) √(E/ρ) √(D² + d²) / L², simply supported; mm.

    >>> round(float(whirling_speed(76.2, 72.0, 1300.0)), -1)
    7510.0
    """
    return WHIRL_FACTOR * np.sqrt(outer**2 + inner**2) / length**2


def longest_for(outer: Array, inner: Array, whirl: Array) -> Array:
    """The longest piece [mm] that whirls no earlier than at a speed [rev/min].

    >>> round(float(longest_for(76.2, 72.9, 4500.0 / 0.7)), -1)
    1410.0
    """
    return np.sqrt(WHIRL_FACTOR * np.sqrt(outer**2 + inner**2) / whirl)


def reach_of(works: Callable[[Array], Array], middle: Array, most: float) -> tuple[Array, Array]:
    """How far below and above middle a margin stays at or above zero, up to most each way.

    works: margin as a function of the figure, falling away from the middle.

    >>> [a.round(3).tolist() for a in reach_of(lambda x: 2.0 - abs(x), np.array([0.5]), 9.0)]
    [[-2.0], [2.0]]
    """
    ends = []
    for side in (-1.0, 1.0):
        inner, outer = np.zeros_like(middle), np.full_like(middle, most)
        for _ in range(HALVINGS):
            half = (inner + outer) / 2.0
            good = works(middle + side * half) >= 0
            inner, outer = np.where(good, half, inner), np.where(good, outer, half)
        ends.append(middle + side * inner)
    return ends[0], ends[1]


# ---- speed --------------------------------------------------------------------------------------


@quantity("km/h", "speed for which the propeller shaft is judged")
def judged_speed(
    driveshaft_greatest_speed: Array,
    engine_redline: Array,
    rolling_circumference: Array,
    axle_ratio: Array,
    top_ratio: Array,
) -> Array:
    """What one lets the car do, downhill included; where that is not stated, redline in top."""
    redline_in_top = engine_redline * 60.0 * rolling_circumference / 1e6 / (axle_ratio * top_ratio)
    stated = ~np.isnan(driveshaft_greatest_speed)
    return np.where(stated, driveshaft_greatest_speed, redline_in_top)


@quantity("km/h", "that speed, where it is redline in top for want of a stated one")
def assumed_speed(judged_speed: Array, driveshaft_greatest_speed: Array) -> Array:
    """NaN where the greatest speed is stated: then nothing is assumed, and nothing need be said."""
    return np.where(np.isnan(driveshaft_greatest_speed), judged_speed, np.nan)


@quantity("rev/min", "propeller shaft at that speed")
def shaft_speed(judged_speed: Array, rolling_circumference: Array, axle_ratio: Array) -> Array:
    """An overdrive does not spin the shaft faster at a road speed: the speed it allows does."""
    return judged_speed * 1e6 / 60.0 / rolling_circumference * axle_ratio


# ---- length -------------------------------------------------------------------------------------


@quantity("mm", "x of the output joint")
def output_x(x_face: Array, length: Array) -> Array:
    return x_face + length


@quantity("mm", "output joint to pinion joint, along the crankshaft axis")
def joint_run(output_x: Array, driveshaft_pinion_x: Array) -> Array:
    """The pinion stands still while engine and gearbox move."""
    return driveshaft_pinion_x - output_x


@quantity("mm", "pinion joint below the output joint, without a wedge")
def joint_fall(driveshaft_pinion_drop: Array, output_rise: Array) -> Array:
    return driveshaft_pinion_drop + output_rise


@quantity("mm", "propeller shaft, joint centre to joint centre at ride height")
def joint_to_joint(joint_run: Array, joint_fall: Array, driveshaft_pinion_offset: Array) -> Array:
    return way(joint_run, driveshaft_pinion_offset, joint_fall).length


@quantity("mm", "today's propeller shaft")
def shaft_length_today(
    present_bellhousing_depth: Array,
    car_bellhousing_depth: Array,
    present_backplate: Array,
    engine_backplate: Array,
    present_adapter: Array,
    present_adapter_thickness: Array,
    present_length: Array,
    driveshaft_pinion_x: Array,
    driveshaft_pinion_offset: Array,
    driveshaft_pinion_drop: Array,
) -> Array:
    own = ~np.isnan(present_bellhousing_depth)
    bell = np.where(own, present_bellhousing_depth, car_bellhousing_depth)
    plate = np.where(np.isnan(present_backplate), engine_backplate, present_backplate)
    adapter = np.where(present_adapter > 0, present_adapter_thickness, 0.0)
    run = driveshaft_pinion_x - plate - bell - adapter - present_length
    return way(run, driveshaft_pinion_offset, driveshaft_pinion_drop).length


@quantity("mm", "change of the propeller shaft's length")
def shaft_change(joint_to_joint: Array, shaft_length_today: Array) -> Array:
    return joint_to_joint - shaft_length_today


@quantity("mm", "lift of the tail that the front joint still bears")
def joint_lift_room(
    joint_run: Array,
    driveshaft_pinion_drop: Array,
    driveshaft_pinion_offset: Array,
    joint_angle_most: Array,
    output_x: Array,
    pad_x: Array,
    engine_mounts_pivot_x: Array,
) -> Array:
    """A lift tilts the gearbox and raises its output joint: both steepen the front joint."""
    angle = np.arctan2(np.hypot(driveshaft_pinion_drop, driveshaft_pinion_offset), joint_run)
    spare = np.maximum(np.deg2rad(joint_angle_most) - angle, 0.0)
    steeper = 1.0 + (output_x - engine_mounts_pivot_x) / joint_run
    return spare / steeper * (pad_x - engine_mounts_pivot_x)


# ---- whirl: a larger tube, then two pieces ------------------------------------------------------


@decision("Have the propeller shaft made of a larger tube", "propeller shaft", tool="sent out",
          cost=40.0, gauge="joint_to_joint",
          words="today's tube whirls at {whirl_found}: {figure} outside instead of "
          "{driveshaft_tube_diameter}, the wall as it is; mind the tunnel", when="in")  # fmt: skip
def larger_tube(
    driveshaft_tube_diameter: Array,
    driveshaft_tube_wall: Array,
    joint_to_joint: Array,
    shaft_speed: Array,
    driveshaft_longest_piece: Array,
    whirl_share_clear: float,
    whirl_share_tight: float,
) -> Ask:
    """0: today's tube. A usual size that keeps one piece below its whirling speed.

    It does not help a shaft longer than the longest piece one would run. What is not known is left
    to the check: nothing is ordered for it.
    """
    sizes = np.array(TUBE_SIZES)
    whirl = whirling_speed(
        sizes, sizes - 2.0 * driveshaft_tube_wall[..., None], joint_to_joint[..., None]
    )
    with np.errstate(invalid="ignore"):
        share = shaft_speed[..., None] / whirl
        tight = share <= np.asarray(whirl_share_tight)[..., None] + SAME
        clear = share <= np.asarray(whirl_share_clear)[..., None] + SAME
        today = shaft_speed / whirling_speed(
            driveshaft_tube_diameter,
            driveshaft_tube_diameter - 2.0 * driveshaft_tube_wall,
            joint_to_joint,
        )
        fails = (today > whirl_share_tight + SAME) & ~(joint_to_joint > driveshaft_longest_piece)
    least = np.where(tight, sizes, np.inf).min(axis=-1)
    comfort = np.minimum(np.where(clear, sizes, np.inf).min(axis=-1), sizes[-1])
    # No size will do: least lies above most, and it is left undone.
    return Ask(
        np.where(fails, least, 0.0),
        np.where(fails, sizes[-1], np.inf),
        np.where(fails, comfort, 0.0),
    )


@quantity("mm", "outside of the propeller shaft's tube as it will be")
def tube_outside(larger_tube: Array, driveshaft_tube_diameter: Array) -> Array:
    """A figure between two sizes means the next that is sold."""
    sizes = np.array(TUBE_SIZES)
    with np.errstate(invalid="ignore"):
        index = np.searchsorted(sizes, np.nan_to_num(larger_tube) - SAME)
        made = larger_tube > 0
    return np.where(made, sizes[np.minimum(index, len(sizes) - 1)], driveshaft_tube_diameter)


@quantity("mm", "bore of that tube")
def tube_inside(tube_outside: Array, driveshaft_tube_wall: Array) -> Array:
    return tube_outside - 2.0 * driveshaft_tube_wall


@decision("Have the propeller shaft made in two pieces with a centre bearing", "propeller shaft",
          tool="sent out", hours=6.0, cost=220.0,
          gauge="joint_to_joint",
          words="one piece of {joint_to_joint} whirls at {whirl_found}; front piece {figure}, set "
          "0.5° off the gearbox's axis, yokes of each piece in line; the bearing's bracket bolted "
          "on", when="in")  # fmt: skip
def two_pieces(
    joint_to_joint: Array,
    joint_run: Array,
    driveshaft_pinion_offset: Array,
    joint_fall: Array,
    lift_tilt: Array,
    tube_outside: Array,
    tube_inside: Array,
    shaft_speed: Array,
    driveshaft_longest_piece: Array,
    whirl_share_clear: float,
    whirl_share_tight: float,
    front_piece_least: float,
) -> Ask:
    """0: one piece. Else the front piece's length [mm], the rear one being what is left.

    Asked where one piece is known to whirl, or to be longer than the longest one would run; what is
    not known is left to the check.
    """
    longest = longest_for(tube_outside, tube_inside, shaft_speed / whirl_share_tight)
    easy = longest_for(tube_outside, tube_inside, shaft_speed / whirl_share_clear)
    with np.errstate(invalid="ignore"):
        asked = (joint_to_joint > longest + SAME) | (joint_to_joint > driveshaft_longest_piece)
    piece = np.fmin(longest, driveshaft_longest_piece)
    easy = np.fmin(easy, driveshaft_longest_piece)
    ends = joint_run, driveshaft_pinion_offset, joint_fall, -lift_tilt
    least = np.maximum(front_length_for(*ends, piece), front_piece_least)
    comfort = np.clip(front_length_for(*ends, easy), least, np.maximum(piece, least))
    return Ask(
        np.where(asked, least, 0.0), np.where(asked, piece, np.inf), np.where(asked, comfort, 0.0)
    )


@quantity("mm", "rear piece of two; the whole shaft where it is one")
def rear_length(
    two_pieces: Array,
    joint_run: Array,
    joint_fall: Array,
    driveshaft_pinion_offset: Array,
    lift_tilt: Array,
) -> Array:
    front = np.nan_to_num(two_pieces)
    rest, _ = rear_piece(joint_run, driveshaft_pinion_offset, joint_fall, -lift_tilt, front)
    return rest.length


@quantity("rev/min", "whirling speed of today's tube in one piece")
def whirl_found(
    driveshaft_tube_diameter: Array, driveshaft_tube_wall: Array, joint_to_joint: Array
) -> Array:
    inner = driveshaft_tube_diameter - 2.0 * driveshaft_tube_wall
    return whirling_speed(driveshaft_tube_diameter, inner, joint_to_joint)


@quantity("mm", "longest piece of the propeller shaft")
def longest_part(two_pieces: Array, rear_length: Array) -> Array:
    return unknown_where(np.maximum(two_pieces, rear_length), two_pieces)


@quantity("rev/min", "whirling speed of the longest piece")
def whirl_speed(tube_outside: Array, tube_inside: Array, longest_part: Array) -> Array:
    return whirling_speed(tube_outside, tube_inside, longest_part)


@check(
    "Does the propeller shaft stay below its whirling speed?",
    "",
    Own(
        "share of the whirling speed ≤ {whirl_share_clear} clear, ≤ {whirl_share_tight} tight; "
        "no piece longer than the longest that you would run"
    ),
    "A shaft that whirls breaks, and takes the floor with it. An overdrive does not spin it faster "
    "at a given road speed; length does the harm.",
    kind="road",
    criterion="driveline",
    words={
        "clear": "{shaft_speed} at {judged_speed}, it whirls at {whirl_speed}"
        "[; {assumed_speed} is redline in top, no greatest speed being stated]",
        "tight": "{shaft_speed} at {judged_speed}, it whirls at {whirl_speed}"
        "[; {assumed_speed} is redline in top, no greatest speed being stated]",
        "clash": "{shaft_speed} at {judged_speed}, it whirls at {whirl_speed}; {longest_part} long"
        "[; {assumed_speed} is redline in top, no greatest speed being stated]",
    },
)
def whirl(
    shaft_speed: Array,
    whirl_speed: Array,
    longest_part: Array,
    driveshaft_longest_piece: Array,
    whirl_share_clear: float,
    whirl_share_tight: float,
) -> Reading:
    """The longest piece one would run has no default: where it is not stated nobody can say."""
    share = shaft_speed / whirl_speed
    with np.errstate(invalid="ignore"):
        over = np.where(longest_part > driveshaft_longest_piece + SAME, -1.0, np.inf)
        broken = share > whirl_share_tight + SAME
    over = unknown_where(over, driveshaft_longest_piece, longest_part)
    works = np.where(broken, whirl_share_tight - share, np.minimum(whirl_share_tight - share, over))
    return Reading(share, works, np.minimum(whirl_share_clear - share, over))


# ---- joints -------------------------------------------------------------------------------------


class Joints(NamedTuple):
    """What the joints' angles hang on, beside a wedge in the axle, each `(builds, draws)`.

    run, offset, fall: pinion joint behind, right of and below the output joint; arm: axle's centre
    to pinion joint; front_piece: 0 where the shaft is one piece [mm]. gearbox, pinion: slopes of
    their axes without a wedge [rad].
    """

    run: Array
    offset: Array
    fall: Array
    gearbox: Array
    pinion: Array
    arm: Array
    front_piece: Array

    def where(self, mask: Array) -> Joints:
        """Those of some builds and draws, as one row each `(rows,)`."""
        return Joints(*(np.broadcast_to(value, mask.shape)[mask] for value in self))

    def low(self, wedge: Array) -> Array:
        """Pinion joint below the output joint with a wedge [rad]: without one the arm is not asked
        for [mm].
        """
        return self.fall - np.where(wedge == 0.0, 0.0, self.arm * np.sin(wedge))


def joints_with(wedge: Array, sizes: Joints) -> Line:
    """The joints with a wedge [rad] in the axle: it lifts the nose, and the joint with it.

    >>> sizes = Joints(*map(np.array, (1142.0, 0.0, 52.0, 0.0, np.deg2rad(-3.0), 200.0, 0.0)))
    >>> [round(float(np.rad2deg(angle)), 2) for angle in joints_with(np.deg2rad(3.0), sizes)]
    [2.08, 2.08, 0.0]
    """
    run, offset, _, gearbox, pinion, _, front_piece = sizes
    low = sizes.low(wedge)
    whole = one_piece(run, offset, low, gearbox, pinion + wedge)
    if not np.any(front_piece > 0):
        return Line(*(unknown_where(angle, front_piece) for angle in whole))
    split = two_pieces_line(run, offset, low, gearbox, pinion + wedge, front_piece)
    return Line(
        *(
            unknown_where(np.where(front_piece > 0, two, one), front_piece)
            for one, two in zip(whole, split, strict=True)
        )
    )


def _rear_bend_wanted(wedge: Array, sizes: Joints) -> Array:
    """By how much the nose must still be lifted for the joints to cancel [rad], small angles.

    Of the two bends of the last joint that cancel the others, the one with the pinion parallel to
    what drives the shaft (practice), not the mirrored one.
    """
    run, offset, _, gearbox, pinion, _, front_piece = sizes
    rest, slope = rear_piece(run, offset, sizes.low(wedge), gearbox, front_piece)
    split = front_piece > 0
    slope = np.where(split, slope, gearbox)
    before = bend(rest, slope)
    root = np.sqrt(before**2 + (slope - gearbox) ** 2)
    root = np.where((root * np.conj(before)).real < 0, -root, root)
    return (bend(rest, pinion + wedge) - root).imag


@quantity("rad", "slope of the gearbox's axis against the crankshaft's as found")
def gearbox_slope(lift_tilt: Array) -> Array:
    """A lift of the rear end tilts engine and gearbox: rearward and down is positive."""
    return -lift_tilt


@quantity("rad", "slope of the pinion's axis against it, without a wedge")
def pinion_slope(driveshaft_pinion_tilt: Array, driveshaft_engine_tilt: Array) -> Array:
    """Against the engine as found, since the frame is."""
    return driveshaft_pinion_tilt - driveshaft_engine_tilt


@quantity("deg", "joint angle permitted at the shaft's speed")
def joint_angle_most(shaft_speed: Array, joint_angle_free: float) -> Array:
    return np.maximum(permitted_angle(shaft_speed), joint_angle_free)


@quantity("deg", "equivalent angle that the joints may leave at the shaft's speed")
def joint_cancel_most(shaft_speed: Array, joint_cancel_acceleration: float) -> Array:
    return np.rad2deg(angle_for_acceleration(joint_cancel_acceleration, shaft_speed))


@quantity("mm", "what the angles of the joints hang on")
def joint_sizes(
    joint_run: Array,
    driveshaft_pinion_offset: Array,
    joint_fall: Array,
    gearbox_slope: Array,
    pinion_slope: Array,
    driveshaft_pinion_arm: Array,
    two_pieces: Array,
) -> Joints:
    return Joints(
        joint_run, driveshaft_pinion_offset, joint_fall, gearbox_slope, pinion_slope,
        driveshaft_pinion_arm, two_pieces,
    )  # fmt: skip


@quantity("rad", "wedge in the axle that sets the joints right")
def wedge_wanted(joint_sizes: Joints) -> Array:
    """Pinion parallel to the output shaft; of two pieces, a little off it: three joints cancel."""
    pieces = joint_sizes.front_piece
    wedge = joint_sizes.gearbox - joint_sizes.pinion
    if not np.any(pieces > 0):
        # The pinion parallel to the output shaft cancels exactly, whatever the arm.
        return unknown_where(wedge, pieces)
    known = joint_sizes._replace(front_piece=np.nan_to_num(pieces))
    for _ in range(3):
        wedge = wedge + _rear_bend_wanted(wedge, known)
    return unknown_where(wedge, pieces)


@decision("Fit wedges between axle and springs", "rear axle", unit="rad", hours=3.0, cost=25.0,
          gauge="pinion_slope",
          words="{figure}, nose up where positive: one on each side, never stacked; sold in half "
          "degrees, so take the nearest; new U-bolts if they come short", when="in")  # fmt: skip
def axle_wedge(
    wedge_wanted: Array,
    joint_sizes: Joints,
    joint_angle_most: Array,
    joint_cancel_most: Array,
    axle_wedge_clear: float,
    axle_wedge_most: float,
) -> Ask:
    """0: none. Asked where the joints are too steep or do not cancel, and only where it cures that.

    Least and most: as far as the joints work on either side of the wedge that sets them right.
    """
    *sizes, angle_most, residual_most, wanted, free, furthest = np.broadcast_arrays(
        *joint_sizes, np.deg2rad(joint_angle_most), np.deg2rad(joint_cancel_most), wedge_wanted,
        np.deg2rad(axle_wedge_clear), np.deg2rad(axle_wedge_most),
    )  # fmt: skip
    joints = Joints(*sizes)
    found = _spare_of(joints_with(np.zeros(wanted.shape), joints), angle_most, residual_most)
    with np.errstate(invalid="ignore"):
        asked = found < -SAME
    least, most, comfort = -furthest, furthest.copy(), np.zeros(found.shape)
    for figure in (least, most, comfort):
        figure[np.isnan(found)] = np.nan
    if asked.any():
        ends = _wedges_that_work(
            joints.where(asked), angle_most[asked], residual_most[asked], wanted[asked]
        )
        least[asked], most[asked] = ends
        easy = np.clip(wanted[asked], -free[asked], free[asked])
        comfort[asked] = np.clip(easy, *np.sort(ends, axis=0))
    return Ask(least, most, comfort, capacity=np.deg2rad(axle_wedge_most))


def _spare_of(line: Line, angle_most: Array, residual_most: Array) -> Array:
    """What is spare of the steeper joint and of what they leave [rad]; negative: a clash."""
    steep = np.maximum(line.front, line.rear)
    return np.minimum(angle_most - steep, residual_most - line.residual)


def _wedges_that_work(
    sizes: Joints, angle_most: Array, residual_most: Array, wanted: Array
) -> tuple[Array, Array]:
    """Least and most wedge [rad] around the wanted one; least above most where it cures nothing.

    Permitted angle, permitted residual and the wedge wanted [rad], all of one shape.
    """

    def spare(wedge: Array) -> Array:
        return _spare_of(joints_with(wedge, sizes), angle_most, residual_most)

    at_best = spare(wanted)
    least, most = reach_of(spare, wanted, np.deg2rad(16.0))
    cures_nothing = at_best < 0
    least, most = np.where(cures_nothing, 1.0, least), np.where(cures_nothing, -1.0, most)
    return unknown_where(least, at_best), unknown_where(most, at_best)


@quantity("rad", "joint angles: front, rear, and what they leave")
def joint_pair(axle_wedge: Array, joint_sizes: Joints) -> Array:
    """`(builds, draws, 3)`, with the wedge in and in as many pieces as were decided."""
    line = joints_with(axle_wedge, joint_sizes)
    return np.stack(np.broadcast_arrays(*line), axis=-1)


@quantity("rad", "angle at the front joint; of two pieces, at the joint behind the centre bearing")
def front_angle(joint_pair: Array) -> Array:
    return joint_pair[..., 0]


@quantity("rad", "angle at the rear joint")
def rear_angle(joint_pair: Array) -> Array:
    return joint_pair[..., 1]


@quantity("rad", "what the joints leave, as one equivalent angle")
def joint_residual(joint_pair: Array) -> Array:
    return joint_pair[..., 2]


@quantity("rad/s²", "acceleration that the joints leave at the speed judged")
def joint_acceleration(joint_residual: Array, shaft_speed: Array) -> Array:
    return residual_acceleration(joint_residual, shaft_speed)


@quantity("rad", "by how much the front joint is too steep; not known where it is not")
def front_over(front_angle: Array, joint_angle_most: Array) -> Array:
    over = front_angle - np.deg2rad(joint_angle_most)
    return np.where(over > SAME, over, np.nan)


@quantity("rad", "by how much the rear joint is too steep; not known where it is not")
def rear_over(rear_angle: Array, joint_angle_most: Array) -> Array:
    over = rear_angle - np.deg2rad(joint_angle_most)
    return np.where(over > SAME, over, np.nan)


@quantity("rad", "wedge that would set right what is wrong with the joints")
def wedge_to_cure(
    wedge_wanted: Array,
    joint_sizes: Joints,
    joint_angle_most: Array,
    joint_cancel_most: Array,
    axle_wedge: Array,
    axle_wedge_most: float,
) -> Array:
    """NaN where none is needed beyond what is fitted, or none that is to be had would do."""
    line = joints_with(wedge_wanted, joint_sizes)
    spare = _spare_of(line, np.deg2rad(joint_angle_most), np.deg2rad(joint_cancel_most))
    with np.errstate(invalid="ignore"):
        cures = (spare >= 0) & (np.abs(wedge_wanted) <= np.deg2rad(axle_wedge_most) + SAME)
        cures = cures & (np.abs(axle_wedge - wedge_wanted) > SAME)
    return np.where(cures, wedge_wanted, np.nan)


@quantity("mm", "shaft that would be long enough for the height between its ends")
def length_to_cure(
    joint_to_joint: Array,
    joint_fall: Array,
    driveshaft_pinion_offset: Array,
    gearbox_slope: Array,
    joint_angle_most: Array,
) -> Array:
    """Where even the front joint, which no wedge turns, is too steep: length is the cure."""
    aside = np.hypot(joint_fall, driveshaft_pinion_offset)
    wanted = aside / np.sin(np.maximum(np.deg2rad(joint_angle_most) - np.abs(gearbox_slope), 1e-3))
    return np.where(wanted > joint_to_joint + SAME, wanted, np.nan)


@check(
    "Are the propeller shaft's joint angles small enough for its speed?",
    "deg",
    Own(
        "both ≤ {joint_angle_free}° and ≥ {joint_angle_least}° clear; up to the published table "
        "for the shaft's speed tight"
    ),
    "A joint run too steep shakes, then breaks; one run dead straight brinells its needles.",
    kind="road",
    criterion="driveline",
    words={
        "clear": "front joint {front_angle}, rear joint {rear_angle}",
        "tight": "front joint {front_angle}, rear joint {rear_angle}",
        "clash": "front joint {front_angle}, rear joint {rear_angle}, {joint_angle_most} is the "
        "most at {shaft_speed}[; the front joint is {front_over} too steep]"
        "[; the rear joint is {rear_over} too steep]"
        "[; a wedge of {wedge_to_cure} in the axle cures it]"
        "[; the shaft is too short: {length_to_cure} would do]",
    },
)
def joint_angle(
    joint_pair: Array, joint_angle_most: Array, joint_angle_free: float, joint_angle_least: float
) -> Reading:
    """Of the pair that must cancel: a coupling shaft's own joint is not asked for its 0.5°."""
    pair = np.rad2deg(joint_pair[..., :2])
    steep, flat = pair.max(axis=-1), pair.min(axis=-1)
    comfort = np.minimum(joint_angle_free - steep, flat - joint_angle_least)
    return Reading(steep, joint_angle_most - steep, comfort)


@check(
    "Do the joints cancel each other?",
    "deg",
    Own(
        "what is left, as one angle, ≤ {joint_cancel_clear}° clear, ≤ {joint_cancel_acceleration} "
        "rad/s² tight; a wedge up to {axle_wedge_clear}° clear, up to {axle_wedge_most}° tight"
    ),
    "What the joints do not cancel shakes the car twice per turn.",
    kind="road",
    criterion="driveline",
    words={
        "tight": "front joint {front_angle}, rear joint {rear_angle}: {joint_cancel} is left, "
        "{joint_acceleration} at {shaft_speed}[; wedge of {axle_wedge}]",
        "clash": "front joint {front_angle}, rear joint {rear_angle}: {joint_cancel} is left, "
        "{joint_cancel_most} is the most at {shaft_speed}"
        "[; a wedge of {wedge_to_cure} in the axle cures it]",
    },
)
def joint_cancel(
    joint_residual: Array,
    joint_cancel_most: Array,
    axle_wedge: Array,
    joint_cancel_clear: float,
    axle_wedge_clear: float,
    axle_wedge_most: float,
) -> Reading:
    left, wedge = np.rad2deg(joint_residual), np.rad2deg(np.abs(axle_wedge))
    works = np.minimum(joint_cancel_most - left, axle_wedge_most - wedge)
    easy = np.minimum(joint_cancel_most, joint_cancel_clear) - left
    return Reading(left, works, np.minimum(easy, axle_wedge_clear - wedge))


# ---- the shaft that is ordered, its yoke and its travel -----------------------------------------


@decision("Have the propeller shaft made to length and balanced", "propeller shaft",
          tool="sent out", hours=2.0, cost=60.0,
          gauge="joint_to_joint",
          words="{figure} joint centre to joint centre at ride height[, {shaft_change} against "
          "today's][, the yoke {yoke_stand_out} out from bottomed]; balanced by a "
          "specialist", when="in")  # fmt: skip
def shaft_to_order(
    joint_to_joint: Array,
    shaft_change: Array,
    larger_tube: Array,
    two_pieces: Array,
    shaft_length_same: float,
) -> Ask:
    """0: today's goes on, or it is made in two pieces. Else the length [mm]."""
    other_tube = np.nan_to_num(larger_tube) > 0
    with np.errstate(invalid="ignore"):
        asked = (np.abs(shaft_change) > shaft_length_same + SAME) | other_tube
        asked = asked & ~(two_pieces > 0)
    unsure = np.isnan(shaft_change) & ~asked & ~(np.nan_to_num(two_pieces) > 0)
    least = np.where(asked, joint_to_joint - shaft_length_same, 0.0)
    most = np.where(asked, joint_to_joint + shaft_length_same, np.inf)
    comfort = np.where(asked, joint_to_joint, 0.0)
    return Ask(*(np.where(unsure, np.nan, figure) for figure in (least, most, comfort)))


@check(
    "Is the propeller shaft as long as it must be?",
    "mm",
    Own("within {shaft_length_same} mm of joint to joint at ride height"),
    "A shaft too long pushes the gearbox off its mount at bump; one too short leaves its splines.",
    kind="road",
    criterion="driveline",
    words={"clash": "today's shaft is {shaft_length} out: {joint_to_joint} is wanted"},
)
def shaft_length(
    shaft_change: Array,
    joint_to_joint: Array,
    shaft_to_order: Array,
    two_pieces: Array,
    shaft_length_same: float,
) -> Reading:
    """What is wanted less what is there [mm]: today's shaft, or the one that is made."""
    with np.errstate(invalid="ignore"):
        made, split = shaft_to_order > 0, two_pieces > 0
    change = np.where(made, joint_to_joint - shaft_to_order, shaft_change)
    change = np.where(split, unknown_where(0.0, joint_to_joint), change)
    spare = shaft_length_same - np.abs(change)
    return Reading(change, spare, spare)


@quantity("", "splines of today's yoke")
def yoke_teeth(driveshaft_yoke_spline_teeth: Array, present_output_spline_teeth: Array) -> Array:
    """As counted; else those of today's gearbox, on which it runs."""
    counted = ~np.isnan(driveshaft_yoke_spline_teeth)
    return np.where(counted, driveshaft_yoke_spline_teeth, present_output_spline_teeth)


@quantity("mm", "over the splines of today's yoke")
def yoke_diameter(
    driveshaft_yoke_spline_diameter: Array, present_output_spline_diameter: Array
) -> Array:
    measured = ~np.isnan(driveshaft_yoke_spline_diameter)
    return np.where(measured, driveshaft_yoke_spline_diameter, present_output_spline_diameter)


@quantity("", "1 where today's yoke goes on the output shaft, −1 where it does not")
def yoke_found(
    output_type: Array,
    present_output_type: Array,
    output_spline_teeth: Array,
    yoke_teeth: Array,
    output_spline_diameter: Array,
    yoke_diameter: Array,
) -> Array:
    """NaN where not known, unless something known already differs. Of flanges the kind only."""
    with np.errstate(invalid="ignore"):
        other = (output_type != present_output_type) & ~np.isnan(output_type + present_output_type)
        teeth = np.abs(output_spline_teeth - yoke_teeth) > SAME
        size = np.abs(output_spline_diameter - yoke_diameter) > SPLINE_SAME + SAME
        flange = output_type == FLANGE
        differs = other | ((teeth | size) & ~flange)
    same = unknown_where(
        1.0, output_spline_teeth, yoke_teeth, output_spline_diameter, yoke_diameter
    )
    same = unknown_where(np.where(flange, 1.0, same), output_type, present_output_type)
    return np.where(differs, -1.0, same)


@decision("Fit a yoke that matches the output shaft", "propeller shaft", unit="", blind=True,
          hours=1.0, cost=60.0, words="for the splines or the flange of the gearbox, with the "
          "cross of the shaft's joint; equal numbers are no proof: try it on",
          when="ordered")  # fmt: skip
def yoke_to_match(yoke_found: Array) -> Ask:
    return Ask(unknown_where(yoke_found < 0, yoke_found), 1.0)


@check(
    "Does the propeller shaft's yoke match the output shaft?",
    "",
    Own(
        "same kind; same splines, alike over them to what a measurement can tell; of two flanges compare the bolts"
    ),
    "A yoke that does not go on is found out with the car on stands.",
    kind="road",
    criterion="driveline",
    words={
        "tight": "both have a flange: compare bolts and spigot",
        "clash": "today's yoke does not go on this output shaft",
    },
)
def yoke_match(yoke_found: Array, yoke_to_match: Array, output_type: Array) -> Reading:
    """1 matches, 0 does not. The bolts of a flange are not among the numbers: tight at best."""
    with np.errstate(invalid="ignore"):
        matched = yoke_to_match > 0
    works = np.where(matched, 1.0, yoke_found)
    comfort = np.where((output_type == FLANGE) & ~matched & (works > 0), -1.0, works)
    return Reading(np.maximum(works, 0.0), works, comfort)


@quantity("mm", "fore-aft travel that the axle asks for, bump to droop")
def axle_plunge(
    driveshaft_plunge: Array, driveshaft_plunge_bump: Array, driveshaft_plunge_droop: Array
) -> Array:
    both = driveshaft_plunge_bump + driveshaft_plunge_droop
    return np.where(np.isnan(both), driveshaft_plunge, both)


@quantity("mm", "how far the yoke stands out from bottomed at ride height")
def yoke_stand_out(driveshaft_plunge_bump: Array, plunge_reserve: float) -> Array:
    """Bump and a reserve: what is left of the slip beyond it is for droop and engagement."""
    return driveshaft_plunge_bump + plunge_reserve


@check(
    "Does the slip yoke give the axle its travel and keep its splines engaged?",
    "mm",
    AtLeast(clear=5.0, tight=0.0),
    "A shaft that bottoms on bump pushes the gearbox off its mount; one that leaves its splines "
    "digs into the road.",
    kind="road",
    criterion="driveline",
    words={
        "tight": "{plunge} to spare beyond travel, reserve and one spline diameter of engagement",
        "clash": "{short} short: {axle_plunge} of travel, {plunge_reserve} of reserve and one "
        "spline diameter of engagement are more than the yoke's {slip_travel}",
    },
)
def plunge(
    slip_travel: Array,
    axle_plunge: Array,
    output_spline_diameter: Array,
    output_type: Array,
    two_pieces: Array,
    plunge_reserve: float,
) -> Reading:
    """Spare [mm] = slip travel − plunge − reserve − one spline diameter (practice).

    A flange and the rear piece of two have a sliding joint of their own.
    """
    bare = slip_travel - axle_plunge - plunge_reserve
    with np.errstate(invalid="ignore"):
        short = np.isnan(output_spline_diameter) & (bare < -SAME)
        spare = np.where(short, bare, bare - output_spline_diameter)
        split = two_pieces > 0
    applies = np.where(split, 0.0, unknown_where(output_type == SLIP_YOKE, output_type))
    return Reading(spare, spare, spare, applies)


# ---- orders -------------------------------------------------------------------------------------

SHAFT_TRUE = 0.4  # mm: a vehicle maker's workshop manual, 2008, propeller shaft at each position


@order("shaft_to_order", "two_pieces", "larger_tube", step=120)
def order_the_shaft(
    joint_to_joint: float,
    two_pieces: float,
    rear_length: float,
    tube_outside: float,
    driveshaft_tube_wall: float,
    yoke_stand_out: float,
    shaft_speed: float,
) -> list[Cut]:
    """Joint centre to joint centre at ride height: the one length that the specialist works to."""
    note = tell(
        "balanced[ for {speed}]; forks of each piece in line[; the yoke {out} out from bottomed at ride height]",
        speed=(shaft_speed, "rev/min"), out=yoke_stand_out,
    )  # fmt: skip
    wanted = [("Make the propeller shaft", joint_to_joint, "joint_to_joint")]
    if two_pieces > SAME:
        wanted = [
            ("Make the front piece", two_pieces, "two_pieces"),
            ("Make the rear piece", rear_length, "rear_length"),
        ]
    return [
        Cut(
            operation, "propeller shaft", "joint centre", math.nan, length - 1.0, length + 1.0,
            runout=SHAFT_TRUE, material="" if math.isnan(tube_outside + driveshaft_tube_wall) else
            tell("tube {outside} × {wall}", outside=(tube_outside, "mm diameter"), wall=(driveshaft_tube_wall, "mm diameter")),
            of=of,
            measure_before="joint to joint with the gearbox bolted in and the car on its wheels",
            note=note,
        )
        for operation, length, of in wanted
    ]  # fmt: skip


@order("axle_wedge", step=119)
def order_the_axle_wedges(axle_wedge: float) -> list[Cut]:
    angle = np.rad2deg(axle_wedge)
    nearest = float(np.round(angle * 2.0) / 2.0)
    return [
        Cut(
            "Fit wedges under the axle", "axle wedges", "spring seat", 0.0, nearest, nearest, "deg",
            material="steel, as wide as the spring", of="axle_wedge",
            measure_before="pinion and crankshaft with a level, car on its wheels",
            note="one on each side, never stacked; at most 1° between the sides; nose up where positive",
        )
    ]  # fmt: skip
