"""Propeller shaft: its length, both joint angles in space, what they leave unbalanced, and when it whirls."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from compare.judge.rules import Amount, AtLeast, Limit, Own, Reading, check, quantity, work

Array = np.ndarray

YOUNG = 207e9  # Pa, steel
DENSITY = 7850.0  # kg/m³, steel

# Joint angle permitted at a shaft speed: Dana Spicer, driveline operating angle guide, basic rules.
# 1500 to 2500 rev/min from memory.
SPEED_TABLE = (
    (1500.0, 11.5), (2000.0, 8.7), (2500.0, 7.0), (3000.0, 5.8), (3500.0, 5.0), (4000.0, 4.2), (4500.0, 3.7), (5000.0, 3.2),
)  # fmt: skip


def angle_between(a: Array, b: Array) -> Array:
    """Angle between directions `(..., 3)` [rad], exact for small angles.

    >>> round(float(np.rad2deg(angle_between(np.array([1.0, 0, 0]), np.array([1.0, 1.0, 0])))), 9)
    45.0
    """
    cross = np.linalg.norm(np.cross(a, b), axis=-1)
    return np.arctan2(cross, (a * b).sum(axis=-1))


class Line(NamedTuple):
    """The shaft in space: length [mm], angles at both joints [rad], and what is left unbalanced [rad]."""

    length: Array
    front: Array
    rear: Array
    residual: Array


def shaft_line(run: Array, offset: Array, drop: Array, tilt: Array) -> Line:
    """Joint angles of a shaft between the gearbox's axis and the pinion's.

    run, offset, drop: pinion joint behind, right of and below the output joint [mm]. tilt: slope of the pinion's
    axis against the gearbox's, rearward and down positive [rad]. Yokes in phase.
    Residual: √|β₁² e^(2iφ₁) − β₂² e^(2iφ₂)| with φ the direction of each joint's plane about the shaft; in one plane
    that is √|β₁² − β₂²|.

    >>> line = shaft_line(*(np.array([x]) for x in (1000.0, 0.0, 52.40778, 0.0)))
    >>> [round(float(np.rad2deg(a)[0]), 3) for a in (line.front, line.rear, line.residual)]
    [3.0, 3.0, 0.0]
    """
    run, offset, drop, tilt = np.broadcast_arrays(run, offset, drop, tilt)
    length = np.sqrt(run**2 + offset**2 + drop**2)
    # Unit vector of the shaft, and two directions square to it: near right and near down.
    ux, uy, uz = run / length, offset / length, -drop / length
    front_y, front_z = -uy, -uz  # deviation of the gearbox's axis (1, 0, 0) from the shaft, square to x to first order
    cos_t, sin_t = np.cos(tilt), np.sin(tilt)
    shaft = np.stack([ux, uy, uz], axis=-1)
    gearbox = np.stack([np.ones_like(ux), np.zeros_like(ux), np.zeros_like(ux)], axis=-1)
    pinion = np.stack([cos_t, np.zeros_like(ux), -sin_t], axis=-1)
    front, rear = angle_between(shaft, gearbox), angle_between(shaft, pinion)
    phase_front = np.arctan2(front_z, front_y)
    phase_rear = np.arctan2(-sin_t - uz * cos_t, -uy * cos_t)
    vector = front**2 * np.exp(2j * phase_front) - rear**2 * np.exp(2j * phase_rear)
    return Line(length, front, rear, np.sqrt(np.abs(vector)))


def output_speed(input_speed: Array, angle: Array, turn: Array) -> Array:
    """Output speed of one universal joint: ω cos β / (1 − sin²β cos²θ); Hooke's joint. Angles in rad.

    >>> round(float(output_speed(1.0, np.deg2rad(20.0), 0.0)), 4)
    1.0642
    """
    return input_speed * np.cos(angle) / (1.0 - np.sin(angle) ** 2 * np.cos(turn) ** 2)


def residual_acceleration(angle: Array, speed: Array) -> Array:
    """Peak acceleration left by an unbalanced joint angle [rad/s²] = β²ω², small angles; β [rad], speed [rev/min].

    >>> round(float(residual_acceleration(np.deg2rad(20.0), 500.0)), 2)
    334.05
    """
    return angle**2 * (speed * 2.0 * np.pi / 60.0) ** 2


def permitted_angle(speed: Array) -> Array:
    """The joint angle [deg] that the published table permits at a shaft speed [rev/min].

    >>> float(permitted_angle(4250.0))
    3.95
    """
    speed = np.asarray(speed, dtype=float)
    found = np.interp(speed, [s for s, _ in SPEED_TABLE], [a for _, a in SPEED_TABLE])
    last_speed, last_angle = SPEED_TABLE[-1]
    return np.where(speed > last_speed, last_angle * last_speed / np.maximum(speed, 1.0), found) + 0.0 * speed


def whirling_speed(outer: Array, inner: Array, length: Array) -> Array:
    """First whirling speed of a tube [rev/min] = (30π/4) √(E/ρ) √(D² + d²) / L², simply supported; all in mm.

    >>> round(float(whirling_speed(76.2, 72.0, 1300.0)), -1)
    7510.0
    """
    factor = 30.0 * np.pi / 4.0 * np.sqrt(YOUNG / DENSITY) * 1000.0
    return factor * np.sqrt(outer**2 + inner**2) / length**2


@quantity("mm", "x of the output joint")
def output_x(depth_of_face: Array, adapter_thickness: Array, engine_shift: Array, length: Array) -> Array:
    return depth_of_face + adapter_thickness - engine_shift + length


@quantity("mm", "propeller shaft in space")
def driveline(
    output_x: Array, driveshaft_pinion_x: Array, driveshaft_pinion_offset: Array, driveshaft_pinion_drop: Array,
    driveshaft_pinion_tilt: Array, driveshaft_engine_tilt: Array, engine_shift: Array,
) -> Line:  # fmt: skip
    """The pinion stands still while engine and gearbox move."""
    run = driveshaft_pinion_x - output_x
    return shaft_line(run, driveshaft_pinion_offset, driveshaft_pinion_drop, driveshaft_pinion_tilt - driveshaft_engine_tilt)


@quantity("mm", "propeller shaft, joint centre to joint centre")
def shaft_length(driveline: Line) -> Array:
    return driveline.length


@quantity("mm", "today's propeller shaft")
def shaft_length_today(
    present_bellhousing_depth: Array, car_bellhousing_depth: Array, present_length: Array,
    driveshaft_pinion_x: Array, driveshaft_pinion_offset: Array, driveshaft_pinion_drop: Array,
) -> Array:  # fmt: skip
    depth = np.where(np.isnan(present_bellhousing_depth), car_bellhousing_depth, present_bellhousing_depth)
    run = driveshaft_pinion_x - depth - present_length
    return np.sqrt(run**2 + driveshaft_pinion_offset**2 + driveshaft_pinion_drop**2)


@quantity("mm", "change of the propeller shaft's length")
def shaft_change(shaft_length: Array, shaft_length_today: Array) -> Array:
    return shaft_length - shaft_length_today


@quantity("rad", "angle at the front joint")
def front_angle(driveline: Line) -> Array:
    return driveline.front


@quantity("rad", "angle at the rear joint")
def rear_angle(driveline: Line) -> Array:
    return driveline.rear


@quantity("rev/min", "propeller shaft at top speed")
def shaft_speed(top_speed: Array, cruise_speed: Array, rolling_circumference: Array, axle_ratio: Array) -> Array:
    """At top speed where engine data allow it, else at cruise."""
    speed = np.where(np.isnan(top_speed), cruise_speed, top_speed)
    return speed * 1e6 / 60.0 / rolling_circumference * axle_ratio


NEEDLES = Limit("joint_angle_least", 0.5, "deg", "Dana Spicer, driveline operating angle guide: needles must roll")


@check(
    "Are the propeller shaft's joint angles small enough for its speed?",
    "deg",
    Own("both ≤ {joint_angle_free}° and ≥ {joint_angle_least}° clear; up to the published table for the shaft's speed tight"),
    "A joint run too steep shakes, then breaks; one run dead straight brinells its needles.",
    decides=False,
    criterion="driveline",
    words={
        "clear": "joints at {front_angle} and {rear_angle}",
        "tight": "joints at {front_angle} and {rear_angle}",
        "clash": "joints at {front_angle} and {rear_angle}, {joint_angle_most} is the most at {shaft_speed}: the shaft is too short",
    },
)
def joint_angle(driveline: Line, shaft_speed: Array, joint_angle_free: float, joint_angle_least: float) -> Reading:
    steep = np.rad2deg(np.maximum(driveline.front, driveline.rear))
    flat = np.rad2deg(np.minimum(driveline.front, driveline.rear))
    return Reading(
        steep,
        np.maximum(permitted_angle(shaft_speed), joint_angle_free) - steep,
        np.minimum(joint_angle_free - steep, flat - joint_angle_least),
    )


FREE_ANGLE = Limit("joint_angle_free", 3.0, "deg", "Dana Spicer, driveline operating angle guide: vibration-free")


@quantity("deg", "joint angle permitted at the shaft's speed")
def joint_angle_most(shaft_speed: Array) -> Array:
    return permitted_angle(shaft_speed)


CANCEL_DIFFERENCE = Limit("joint_cancel_clear", 1.0, "deg", "Dana Spicer, driveline operating angle guide")
CANCEL_ACCELERATION = Limit("joint_cancel_acceleration", 400.0, "rad/s²", "SAE AE-7, Universal Joint and Driveshaft Design Manual, 3.1.1")


@quantity("rad/s²", "acceleration that the joints leave at top speed")
def joint_acceleration(driveline: Line, shaft_speed: Array) -> Array:
    return residual_acceleration(driveline.residual, shaft_speed)


@check(
    "Do the two joints cancel each other?",
    "deg",
    Own("angles within {joint_cancel_clear}° clear; what is left ≤ {joint_cancel_acceleration} rad/s² tight"),
    "What the joints do not cancel shakes the car twice per turn.",
    decides=False,
    resolved_by=("pinion_wedge",),
    criterion="driveline",
    words={
        "tight": "the joints differ by {joint_cancel}, {joint_acceleration} is left",
        "clash": "the joints differ by {joint_cancel}, {joint_acceleration} is left at {shaft_speed}",
    },
)
def joint_cancel(driveline: Line, joint_acceleration: Array, joint_cancel_clear: float, joint_cancel_acceleration: float) -> Reading:
    differ = np.rad2deg(np.abs(driveline.front - driveline.rear))
    comfort = joint_cancel_clear - differ
    return Reading(differ, np.maximum(joint_cancel_acceleration - joint_acceleration, comfort), comfort)


@quantity("rad", "pinion tilt that sets the joints equal")
def pinion_tilt_equal(driveshaft_engine_tilt: Array, driveshaft_pinion_tilt: Array) -> Array:
    """Pinion parallel to the output shaft: equal angles in every plane (practice)."""
    return driveshaft_engine_tilt + 0.0 * driveshaft_pinion_tilt


@quantity("rad", "wedge between axle and spring")
def axle_wedge(pinion_tilt_equal: Array, driveshaft_pinion_tilt: Array) -> Array:
    return pinion_tilt_equal - driveshaft_pinion_tilt


@work("Fit wedges between axle and springs", "rear axle", "bolts back", hours=3.0, cost=25.0,
      words="{axle_wedge} to set the pinion to {pinion_tilt_equal}")  # fmt: skip
def pinion_wedge(joint_cancel: Reading) -> Amount:
    return Amount(np.where(np.isnan(joint_cancel.works), np.nan, joint_cancel.works < -1e-7))


WHIRL_SHARE = Limit("whirl_share_clear", 0.70, "", "IMS Ltd, drive shaft technical data: 0.7 of the critical speed for automotive use")
WHIRL_TIGHT = Limit("whirl_share_tight", 0.75, "", "practice")


@quantity("rev/min", "whirling speed of the shaft in one piece")
def whirl_speed(driveshaft_tube_diameter: Array, driveshaft_tube_wall: Array, shaft_length: Array) -> Array:
    return whirling_speed(driveshaft_tube_diameter, driveshaft_tube_diameter - 2.0 * driveshaft_tube_wall, shaft_length)


@check(
    "Does the propeller shaft stay below its whirling speed?",
    "",
    Own("share of the whirling speed ≤ {whirl_share_clear} clear, ≤ {whirl_share_tight} tight; no longer than the longest piece"),
    "A shaft that whirls breaks, and takes the floor with it. An overdrive does not spin it faster at a given road speed; length does the harm.",
    decides=False,
    resolved_by=("two_piece_shaft",),
    criterion="driveline",
    words={
        "tight": "{shaft_speed} at top speed, it whirls at {whirl_speed}",
        "clash": "{shaft_speed} at top speed, it whirls at {whirl_speed}; {shaft_length} long",
    },
)
def whirl(
    shaft_speed: Array, whirl_speed: Array, shaft_length: Array, driveshaft_longest_piece: Array, whirl_share_clear: float, whirl_share_tight: float
) -> Reading:
    share = shaft_speed / whirl_speed
    over = np.where(shaft_length > driveshaft_longest_piece, -1.0, np.inf)
    return Reading(share, np.minimum(whirl_share_tight - share, over), np.minimum(whirl_share_clear - share, over))


@work("Have the propeller shaft made in two pieces with a centre bearing", "propeller shaft", "bolts back", tool="sent out", hours=6.0, cost=220.0,
      words="one piece of {shaft_length} whirls at {whirl_speed}; bracket for the bearing bolted")  # fmt: skip
def two_piece_shaft(whirl: Reading) -> Amount:
    return Amount(np.where(np.isnan(whirl.works), np.nan, whirl.works < -1e-7))


LENGTH_SAME = Limit("shaft_length_same", 5.0, "mm", "practice: a sliding joint takes up as much")


@work("Have the propeller shaft made to length and balanced", "propeller shaft", "bolts back", tool="sent out", hours=2.0, cost=60.0,
      words="{shaft_length} joint centre to joint centre at ride height, {shaft_change} against today's; balanced by a specialist")  # fmt: skip
def shaft_to_length(
    shaft_change: Array, shaft_length_same: float, whirl: Reading, output_type: Array, present_output_type: Array
) -> Amount:
    other_end = (output_type != present_output_type) & ~np.isnan(output_type + present_output_type)
    needed = np.where(np.isnan(shaft_change), np.nan, (np.abs(shaft_change) > shaft_length_same + 1e-7) | other_end)
    return Amount(np.where((needed > 0) & (whirl.works < -1e-7), 0.0, needed))


@check(
    "Does the slip yoke give the axle its travel?",
    "mm",
    AtLeast(clear=10.0, tight=0.0),
    "A shaft that bottoms on bump pushes the gearbox off its mount.",
    decides=False,
    criterion="driveline",
    words={"tight": "{plunge} to spare beyond the axle's travel", "clash": "{short} short of the axle's travel"},
)
def plunge(slip_travel: Array, driveshaft_plunge: Array, output_type: Array) -> Reading:
    """Spare travel. A flange leaves the travel to the shaft's own sliding joint."""
    spare = slip_travel - driveshaft_plunge
    return Reading(spare, spare, spare, np.where(output_type == 1, 0.0, np.where(np.isnan(output_type), np.nan, 1.0)))


