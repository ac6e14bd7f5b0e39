"""Speedometer: the tooth to order, and how true the dial then reads."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import Amount, Limit, Own, Reading, check, quantity, work

Array = np.ndarray

CABLE = 0
R39_SHARE = Limit("speedometer_share", 0.1, "", "UN Regulation 39, 5.3")
R39_OFFSET = Limit("speedometer_offset", 4.0, "km/h", "UN Regulation 39, 5.3")
TEST_SPEEDS = (40.0, 80.0, 120.0)


def driven_teeth_wanted(driver_teeth: Array, axle: Array, circumference: Array, turns_per_km: Array) -> Array:
    """Driven teeth for a true dial [-] = driver × axle × 1000 / (C × turns per km); circumference [mm].

    >>> round(float(driven_teeth_wanted(6.0, 4.0, 1800.0, 700.0)), 3)
    19.048
    """
    return driver_teeth * axle * 1e6 / (circumference * turns_per_km)


def shown_over_true(wanted: Array, driven: Array) -> Array:
    """What the dial shows over what is true, from wanted and fitted teeth [-].

    >>> shown_over_true(19.0, 19.0)
    1.0
    """
    return wanted / driven


def r39_spare(true_speed: Array | float, ratio: Array, share: float = 0.1, offset: float = 4.0) -> Array:
    """Spare [km/h] within UN R39, 0 ≤ shown − true ≤ 0.1 true + 4: negative outside.

    >>> float(r39_spare(50.0, 1.0)), round(float(r39_spare(50.0, 60 / 50)), 6)
    (0.0, -1.0)
    """
    over = true_speed * (ratio - 1.0)
    return np.minimum(over, share * true_speed + offset - over)


@quantity("", "driven teeth for a true dial")
def driven_wanted(speedo_driver_teeth: Array, axle_ratio: Array, rolling_circumference: Array, speedometer_turns_per_km: Array) -> Array:
    return driven_teeth_wanted(speedo_driver_teeth, axle_ratio, rolling_circumference, speedometer_turns_per_km)


@quantity("", "driven teeth to order")
def driven_to_order(driven_wanted: Array, speedo_driven_least: Array, speedo_driven_most: Array) -> Array:
    """The nearest tooth made that does not under-read, chosen on the nominal draw; else the nearest made."""
    wanted = driven_wanted[:, :1]
    tooth = np.clip(np.floor(wanted + 1e-9), speedo_driven_least, speedo_driven_most)
    return np.where(np.isnan(wanted + speedo_driven_least), np.nan, tooth)


@quantity("", "shown over true speed")
def dial_ratio(driven_wanted: Array, driven_to_order: Array) -> Array:
    return shown_over_true(driven_wanted[:, :1], driven_to_order)


@check(
    "Will the speedometer read true?",
    "%",
    Own("within UN R39: 0 ≤ shown − true ≤ {speedometer_share} × true + {speedometer_offset} km/h"),
    "A dial that shows too little is unlawful nearly everywhere.",
    decides=False,
    resolved_by=("speedometer_converter",),
    criterion="",
    words={
        "clear": "{driven_to_order} teeth: the dial shows {speedometer_error} more",
        "clash": "no tooth makes it true (best is {driven_to_order}), or no cable drive",
    },
)
def speedometer_error(dial_ratio: Array, speedo_drive: Array, speedometer_share: float, speedometer_offset: float) -> Reading:
    spare = np.minimum.reduce([r39_spare(v, dial_ratio, speedometer_share, speedometer_offset) for v in TEST_SPEEDS])
    works = np.where(np.isnan(speedo_drive), np.nan, np.where(speedo_drive == CABLE, spare, -1.0))
    return Reading(100.0 * (dial_ratio - 1.0) + 0.0 * works, works, works)


@work("Fit a speedometer converter", "speedometer", "bolts back", hours=2.0, cost=85.0,
      words="between the gearbox's drive and the dial")  # fmt: skip
def speedometer_converter(speedometer_error: Reading) -> Amount:
    return Amount(np.where(np.isnan(speedometer_error.works), np.nan, speedometer_error.works < -1e-7))
