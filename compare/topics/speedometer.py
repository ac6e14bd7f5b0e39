"""Speedometer: the tooth to order, and how true the dial then reads."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
    Limit,
    Own,
    Reading,
    check,
    decision,
    quantity,
    unknown_where,
)

Array = np.ndarray

CABLE = 0  # index of the choice
R39_SHARE = Limit("speedometer_share", 0.1, "", "UN Regulation 39, 5.3")
R39_OFFSET = Limit("speedometer_offset", 4.0, "km/h", "UN Regulation 39, 5.3")
TEST_SPEEDS = (40.0, 80.0, 120.0)  # km/h, as UN Regulation 39, 5.3


def driven_teeth_wanted(
    driver_teeth: Array, axle: Array, circumference: Array, turns_per_km: Array
) -> Array:
    """Driven teeth for a true dial [-] = driver × axle × 1000 / (C × turns per km), C in m.

    driver_teeth, axle [-]; circumference [mm]; turns_per_km of the cable, as printed on the dial.

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


def r39_spare(
    true_speed: Array | float,
    ratio: Array,
    share: Array | float = R39_SHARE.default,
    offset: Array | float = R39_OFFSET.default,
) -> Array:
    """Spare [km/h] within UN R39, 0 ≤ shown − true ≤ 0.1 true + 4: negative outside.

    true_speed [km/h]; ratio: shown over true [-].

    >>> float(r39_spare(50.0, 1.0)), round(float(r39_spare(50.0, 60 / 50)), 6)
    (0.0, -1.0)
    """
    over = true_speed * (ratio - 1.0)
    return np.minimum(over, share * true_speed + offset - over)


def dial_spare(ratio: Array, share: Array | float, offset: Array | float) -> Array:
    """Spare [km/h] within UN R39 at the worst of its test speeds; ratio: shown over true [-].

    >>> round(float(dial_spare(1.05, 0.1, 4.0)), 6)
    2.0
    """
    return np.minimum.reduce([r39_spare(speed, ratio, share, offset) for speed in TEST_SPEEDS])


def tooth_for_most(
    wanted: Array,
    least: Array,
    most: Array,
    share: Array | float = R39_SHARE.default,
    offset: Array | float = R39_OFFSET.default,
) -> Array:
    """One tooth for all draws `(builds, 1)`: the one that reads lawfully in most of them.

    wanted `(builds, draws)`: teeth for a true dial; least, most: teeth that are made. Tried are the
    nominal draw's tooth, one less and one more; being one tooth nearer to true is worth five
    points of share, so that a rare draw does not make the dial read a whole tooth too much.

    >>> wanted = np.array([[16.05, 15.97, 16.0, 16.1], [30.0, 30.1, 29.9, 30.0]])
    >>> tooth_for_most(wanted, np.array([[14.0]]), np.array([[20.0]])).tolist()
    [[15.0], [20.0]]
    """
    nominal = np.floor(wanted[:, :1] + SAME)
    tried = nominal[..., None] + np.array([0.0, -1.0, 1.0])
    made = np.clip(tried, least[:, :1, None], most[:, :1, None])
    ratio = shown_over_true(wanted[..., None], made)
    spare = dial_spare(ratio, np.asarray(share)[..., None], np.asarray(offset)[..., None])
    good = (spare >= -SAME).mean(axis=1)
    near = np.abs(made[:, 0] - wanted[:, :1])
    best = (good - 0.05 * near).argmax(axis=-1)[:, None]
    tooth = np.take_along_axis(made[:, 0], best, axis=-1)
    return unknown_where(tooth, wanted[:, :1], least[:, :1], most[:, :1])


@quantity("", "driven teeth for a true dial")
def driven_wanted(
    speedo_driver_teeth: Array,
    axle_ratio: Array,
    rolling_circumference: Array,
    speedometer_turns_per_km: Array,
) -> Array:
    return driven_teeth_wanted(
        speedo_driver_teeth, axle_ratio, rolling_circumference, speedometer_turns_per_km
    )


@quantity("", "driven teeth that read true")
def driven_planned(
    driven_wanted: Array,
    speedo_driven_least: Array,
    speedo_driven_most: Array,
    speedometer_share: float,
    speedometer_offset: float,
) -> Array:
    """`(builds, 1)`: one tooth, chosen once over all draws; its error is then judged in each."""
    return tooth_for_most(
        driven_wanted,
        speedo_driven_least,
        speedo_driven_most,
        speedometer_share,
        speedometer_offset,
    )


@decision("Order the driven gear of the speedometer", "speedometer drive", unit="", blind=True, fitting=True, hours=0.5, cost=15.0,
          words="{figure} teeth: the dial shows {dial_error} more than is true",
          when="ordered")  # fmt: skip
def driven_to_order(
    driven_planned: Array,
    speedo_driven_least: Array,
    speedo_driven_most: Array,
    speedo_drive: Array,
) -> Ask:
    """Where only one tooth is made it is in the gearbox already; without a cable none is asked for.

    Where the drive is not known, one is reckoned with.

    The check judges the planned tooth whether it is ordered yet or not: it is always planned.
    """
    no_cable = (speedo_drive != CABLE) & ~np.isnan(speedo_drive)
    fitted = speedo_driven_least == speedo_driven_most
    tooth = unknown_where(driven_planned, speedo_driven_least, speedo_driven_most)
    tooth = np.where(no_cable | fitted, 0.0, tooth)
    return Ask(tooth, tooth, tooth)


@quantity("", "shown over true speed, by the tooth alone")
def dial_ratio(driven_wanted: Array, driven_planned: Array, driven_to_order: Array) -> Array:
    with np.errstate(invalid="ignore"):
        ordered = driven_to_order > 0
    return shown_over_true(driven_wanted, np.where(ordered, driven_to_order, driven_planned))


@quantity("%", "what the dial shows more than is true, by the tooth alone")
def dial_error(dial_ratio: Array) -> Array:
    return 100.0 * (dial_ratio - 1.0)


@decision("Fit a speedometer converter", "speedometer", unit="", hours=2.0, cost=85.0,
          words="between the gearbox's drive and the dial, set to read true",
          when="in")  # fmt: skip
def speedometer_converter(
    dial_ratio: Array, speedo_drive: Array, speedometer_share: float, speedometer_offset: float
) -> Ask:
    """1 where there is no cable drive, or no tooth that is made reads lawfully."""
    spare = dial_spare(dial_ratio, speedometer_share, speedometer_offset)
    wrong = unknown_where(spare < -SAME, spare)
    need = np.where(speedo_drive == CABLE, wrong, unknown_where(1.0, speedo_drive))
    return Ask(need, 1.0)


@check(
    "Will the speedometer read true?",
    "%",
    Own("within UN R39: 0 ≤ shown − true ≤ {speedometer_share} × true + {speedometer_offset} km/h"),
    "A dial that shows too little is unlawful nearly everywhere.",
    kind="wish",
    words={
        "clear": "the dial shows {speedometer_error} more than is true",
        "clash": "no tooth makes it true[ (the best, {driven_planned}, shows {dial_error} more)]"
        " or there is no cable drive: a converter is wanted",
    },
)
def speedometer_error(
    dial_ratio: Array,
    speedometer_converter: Array,
    speedo_drive: Array,
    speedometer_share: float,
    speedometer_offset: float,
) -> Reading:
    """The error in every draw. A dial that nothing drives stands still: it shows 100 % less."""
    with np.errstate(invalid="ignore"):
        converted = speedometer_converter > 0
    driven = np.where(speedo_drive == CABLE, dial_ratio, unknown_where(0.0, speedo_drive))
    ratio = np.where(converted, 1.0, driven)
    spare = dial_spare(ratio, speedometer_share, speedometer_offset)
    return Reading(100.0 * (ratio - 1.0), spare, spare)
