"""Gearing: engine speed at cruise, steps between gears, torque against rating."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import (
    AtLeast,
    AtMost,
    Limit,
    Own,
    Reading,
    check,
    quantity,
    unknown_where,
)

Array = np.ndarray

RADIAL_CIRCUMFERENCE = 3.05  # rolling circumference over diameter, ETRTO Standards Manual
CROSS_PLY_CIRCUMFERENCE = 2.99  # as above


def tyre_diameter(tyre_width: Array, tyre_aspect: Array, tyre_rim: Array) -> Array:
    """Free diameter of a tyre [mm] = rim + 2 × aspect × width.

    tyre_width: section width [mm]. tyre_aspect: height over width [-]. tyre_rim: rim [mm].
    Any shapes that broadcast. Source: ISO 4000-1, construction of the size code (from memory).

    >>> float(tyre_diameter(185.0, 0.65, 15 * 25.4))
    621.5
    """
    return tyre_rim + 2.0 * tyre_aspect * tyre_width


def engine_speed(speed: Array, circumference: Array, axle: Array, gear: Array) -> Array:
    """Engine speed [rev/min] = v / C × axle × gear.

    speed: road speed [km/h]. circumference: rolling circumference [mm]. axle, gear: ratios [-].

    >>> round(float(engine_speed(100.0, 1800.0, 4.0, 1.0)), 2)
    3703.7
    """
    return speed * 1e6 / 60.0 / circumference * axle * gear


def road_speed(engine_speed: Array, circumference: Array, axle: Array, gear: Array) -> Array:
    """Road speed [km/h] at an engine speed [rev/min]; circumference [mm], ratios [-].

    >>> round(float(road_speed(3703.7037037, 1800.0, 4.0, 1.0)), 6)
    100.0
    """
    return engine_speed * 60.0 * circumference / 1e6 / (axle * gear)


def steps_between(ratios: Array) -> Array:
    """Drop of engine speed at each upshift [%], `(..., gears − 1)`; NaN where a gear is missing.

    >>> steps_between(np.array([4.0, 2.0, 1.0, np.nan])).tolist()
    [50.0, 50.0, nan]
    """
    return 100.0 * (1.0 - ratios[..., 1:] / ratios[..., :-1])


def gears_there(ratios: Array) -> Array:
    """Which gears a gearbox has, `(..., gears)`: those up to its last known ratio.

    A gear beyond the last is not there; one that is missing between two is there, but unknown.

    >>> gears_there(np.array([4.0, np.nan, 1.0, np.nan])).tolist()
    [True, True, True, False]
    """
    known = ~np.isnan(ratios)
    return np.logical_or.accumulate(known[..., ::-1], axis=-1)[..., ::-1]


def last_known(ratios: Array) -> Array:
    """The ratio of the highest gear that a gearbox has, `(...)` from `(..., gears)`.

    >>> last_known(np.array([[4.0, 2.0, np.nan], [3.0, 1.5, 0.8]])).tolist()
    [2.0, 0.8]
    """
    known = ~np.isnan(ratios)
    last = ratios.shape[-1] - 1 - np.argmax(known[..., ::-1], axis=-1)
    return np.take_along_axis(ratios, last[..., None], axis=-1)[..., 0]


def widest_step(ratios: Array) -> Array:
    """The largest drop at an upshift [%], `(...)`; NaN where a gear between two is unknown.

    >>> float(widest_step(np.array([4.0, 2.0, 1.2, np.nan])))
    50.0
    >>> float(widest_step(np.array([4.0, np.nan, 1.2])))
    nan
    """
    asked = gears_there(ratios)[..., 1:]
    steps = np.where(asked, steps_between(ratios), -np.inf)
    widest = steps.max(axis=-1)
    return np.where(asked.any(axis=-1), widest, np.nan)


@quantity("mm", "rolling circumference of the driven wheel")
def rolling_circumference(
    tyre_rolling_circumference: Array,
    tyre_width: Array,
    tyre_aspect: Array,
    tyre_rim: Array,
    tyre_radial: Array,
    tyre_scale: Array,
) -> Array:
    """As measured; else 3.05 × diameter (radial) or 2.99 × (cross-ply), ETRTO [mm]."""
    per_diameter = np.where(tyre_radial > 0, RADIAL_CIRCUMFERENCE, CROSS_PLY_CIRCUMFERENCE)
    estimate = per_diameter * tyre_scale * tyre_diameter(tyre_width, tyre_aspect, tyre_rim)
    return np.where(np.isnan(tyre_rolling_circumference), estimate, tyre_rolling_circumference)


@quantity("", "ratio of the top gear")
def top_ratio(ratios: Array) -> Array:
    """`(builds, draws)` from `(builds, draws, gears)`."""
    return last_known(ratios)


@quantity("rev/min", "engine speed at cruise in each gear")
def gear_cruise_rpm(
    cruise_speed: Array, rolling_circumference: Array, axle_ratio: Array, ratios: Array
) -> Array:
    """`(builds, 1, gears)`, nominal: a table to read, no check hangs on it."""
    return engine_speed(
        cruise_speed[:, :1, None],
        rolling_circumference[:, :1, None],
        axle_ratio[:, :1, None],
        ratios[:, :1],
    )


@quantity("km/h", "road speed at redline in each gear")
def gear_redline_speed(
    engine_redline: Array, rolling_circumference: Array, axle_ratio: Array, ratios: Array
) -> Array:
    """`(builds, 1, gears)`, nominal."""
    return road_speed(
        engine_redline[:, :1, None],
        rolling_circumference[:, :1, None],
        axle_ratio[:, :1, None],
        ratios[:, :1],
    )


@quantity("rev/min", "engine speed at cruise in top gear")
def top_cruise_rpm(
    cruise_speed: Array, rolling_circumference: Array, axle_ratio: Array, top_ratio: Array
) -> Array:
    return engine_speed(cruise_speed, rolling_circumference, axle_ratio, top_ratio)


@check(
    "Is the engine as calm at your cruising speed as you want it?",
    "rev/min",
    Own("clear inside your window, else tight"),
    "Calm cruising is what the swap is for.",
    kind="wish",
    words={
        "clear": "{top_cruise_rpm} at cruise, inside the window",
        "tight": "{top_cruise_rpm} at cruise, outside the window of "
        "{cruise_rpm_low} to {cruise_rpm_high}",
    },
)
def cruise_rpm(top_cruise_rpm: Array, cruise_rpm_low: Array, cruise_rpm_high: Array) -> Reading:
    """A wish that is not met is tight: nothing here keeps a gearbox out."""
    inside = np.minimum(top_cruise_rpm - cruise_rpm_low, cruise_rpm_high - top_cruise_rpm)
    return Reading(top_cruise_rpm, unknown_where(np.inf, top_cruise_rpm), inside)


@check(
    "Can the engine hold your cruising speed below its redline?",
    "rev/min",
    Own("top gear at cruise stays at or below the redline"),
    "An engine held above its redline does not last the journey.",
    kind="road",
    words={"clash": "{top_cruise_rpm} at cruise in top gear, {short} above the redline"},
)
def cruise_redline(top_cruise_rpm: Array, engine_redline: Array) -> Reading:
    left = engine_redline - top_cruise_rpm
    return Reading(top_cruise_rpm, left, left)


@quantity("%", "how far the cruising speed lies outside the wanted window")
def cruise_outside(top_cruise_rpm: Array, cruise_rpm_low: Array, cruise_rpm_high: Array) -> Array:
    below = cruise_rpm_low / top_cruise_rpm - 1.0
    above = top_cruise_rpm / cruise_rpm_high - 1.0
    return 100.0 * np.maximum(np.maximum(below, above), 0.0)


@check(
    "Do the gears follow each other closely enough?",
    "%",
    AtMost(clear=40.0, tight=48.0),
    "A wide gap drops the engine out of its torque at every upshift.",
    kind="wish",
    words={
        "tight": "widest step {gear_steps}",
        "clash": "widest step {gear_steps}, too wide to drive happily",
    },
)
def gear_steps(ratios: Array) -> Array:
    """A gear beyond the last is no step; one unknown between two leaves the question open."""
    return widest_step(ratios)


@quantity("N·m", "peak torque of the engine")
def peak_torque(engine_curve_torque: Array) -> Array:
    """`(builds|1, draws|1)` from `(…, points)`: the largest that is known of the curve."""
    return engine_curve_torque.max(axis=-1)


TORQUE_RESERVE = Limit("torque_reserve", 1.1, "", "practice: shock above the engine's peak torque")


@check(
    "Is the gearbox strong enough for the engine?",
    "",
    AtLeast(clear=1.0, tight=0.9),
    "A gearbox under its rating lasts; one above it strips teeth, usually third gear's.",
    kind="road",
    words={
        "tight": "rated {torque_rating}, about what the engine gives with its shocks",
        "clash": "rated {torque_rating} for an engine of {peak_torque}: too weak",
    },
)
def torque_margin(torque_rating: Array, peak_torque: Array, torque_reserve: float) -> Array:
    return torque_rating / (peak_torque * torque_reserve)
