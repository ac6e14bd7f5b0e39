"""Criteria: what a gearbox is worth in each respect, 0 to 1; defined once, monotone, shown.

`worth_of_NAME` is the mean worth of the checks that serve NAME. The cuts on the shaft count in
`shaft_work`, all others in `undo`: none counts twice.
"""

from __future__ import annotations

import numpy as np

from compare.judge.rules import SAME, criterion, quantity, unknown_where

Array = np.ndarray

CRUISE_FALL = 25.0  # % outside the window at which nothing is left
PULL_FULL = 4.0  # % of gradient from which more is worth no more
COST_SPAN = 1.25  # budgets at which nothing is left
BUDGET_ASSUMED = 1500.0  # where the owner names none
SHALLOW, HALF = 0.2, 50.0  # each undo step costs 0.2, up to 0.2 more with the millimetres
BUSH, LONG_BUSH, TURNED, THROUGH, LENGTH, LENGTH_HALF = 0.1, 0.05, 0.3, 0.3, 0.3, 30.0


def falling(value: Array, nothing_at: float) -> Array:
    """1 at zero, 0 from `nothing_at` on.

    >>> falling(np.array([0.0, 12.5, 40.0]), 25.0).tolist()
    [1.0, 0.5, 0.0]
    """
    return np.clip(1.0 - value / nothing_at, 0.0, 1.0)


def undo_worth(cuts: Array) -> Array:
    """From millimetres per undo step `(..., 5)`: the deepest step used, and how much of it.

    >>> undo_worth(np.array([[0.0, 0, 0, 0, 0], [0, 0, 0, 50.0, 0]])).round(9).tolist()
    [1.0, 0.3]
    """
    worth = np.ones(cuts.shape[:-1])
    for step in range(1, cuts.shape[-1]):
        mm = cuts[..., step]
        worth = np.where(mm > SAME, 1.0 - SHALLOW * step - SHALLOW * mm / (mm + HALF), worth)
    return worth


@quantity("", "budget, or what is assumed for one")
def budget_counted(policy_budget: Array) -> Array:
    return np.where(np.isfinite(policy_budget), policy_budget, BUDGET_ASSUMED)


@quantity("undo step", "deepest cut, on all but shaft and bush")
def deepest_cut(cuts_elsewhere: Array) -> Array:
    """Index on the undo scale, from millimetres per step `(..., 5)`; 0 where nothing is cut."""
    steps = np.arange(cuts_elsewhere.shape[-1])
    return np.asarray(np.where(cuts_elsewhere > SAME, steps, 0).max(axis=-1), dtype=float)


@quantity("mm", "metal cut, on all but shaft and bush")
def metal_cut(cuts_elsewhere: Array) -> Array:
    """All that cannot be bolted back, from millimetres per step `(..., 5)`."""
    return np.asarray(cuts_elsewhere[..., 1:].sum(axis=-1))


@quantity("count", "jobs on shaft and bush")
def shaft_jobs(
    bush_made: Array, journal_turned: Array, tip_cut: Array, turned_back: Array, spline_cut: Array
) -> Array:
    figures = (bush_made, journal_turned, tip_cut, turned_back, spline_cut)
    return unknown_where(sum(1.0 * (f > SAME) for f in figures), *figures)


@criterion(
    3.0,
    "1 inside the wanted window of engine speed, falling to 0 at 25 % outside it",
    {"top_cruise_rpm": "{first} against {second} at cruise"},
)
def cruise(cruise_outside: Array) -> Array:
    return falling(cruise_outside, CRUISE_FALL)


@criterion(
    2.0,
    "gradient held in top at cruise: 0 at 0 %, 1 from 4 %",
    {"top_gear_pull": "holds {first} against {second} of climb in top"},
)
def pull(top_gear_pull: Array) -> Array:
    return np.clip(top_gear_pull / PULL_FULL, 0.0, 1.0)


@criterion(
    3.0,
    "1 when all bolts back; each step down takes 0.2, up to 0.2 more with the mm cut",
    {
        "deepest_cut": "{first} against {second}",
        "metal_cut": "{first} against {second} of metal cut on car and gearbox",
    },
)
def undo(cuts_elsewhere: Array) -> Array:
    return undo_worth(cuts_elsewhere)


@criterion(
    2.0,
    "1 as it is; a bush takes 0.1, turning the journal 0.3, through its case 0.3 more, "
    "metal off its length up to 0.3",
    {
        "shaft_jobs": "jobs on shaft and bush: {first} against {second}",
        "journal_turned": "{first} against {second} off the journal",
    },
)
def shaft_work(
    bush_made: Array,
    bush_longer: Array,
    journal_turned: Array,
    case_assumed: Array,
    tip_cut: Array,
    turned_back: Array,
    spline_cut: Array,
) -> Array:
    worth = 1.0 - BUSH * (bush_made > SAME) - LONG_BUSH * (bush_longer > SAME)
    worth = worth - TURNED * (journal_turned > SAME)
    worth = worth - THROUGH * (journal_turned > case_assumed + SAME)
    off = tip_cut + turned_back + spline_cut
    worth = np.maximum(worth - LENGTH * off / (off + LENGTH_HALF), 0.0)
    return unknown_where(worth, bush_made, journal_turned, off)


@criterion(
    2.0,
    "mean over the checks of shaft, seat and envelope: clear 1, tight 0.6, clash 0",
    {"worth_of_fit": "{first} against {second} in how well it fits, 1 being all clear"},
)
def fit(worth_of_fit: Array) -> Array:
    return worth_of_fit


@criterion(
    1.0,
    "mean over the propeller shaft's checks, as fit",
    {"worth_of_driveline": "{first} against {second} for the propeller shaft, 1 being all clear"},
)
def driveline(worth_of_driveline: Array) -> Array:
    return worth_of_driveline


@criterion(
    1.0,
    "mean over the clutch's checks, as fit",
    {"worth_of_clutch": "{first} against {second} for the clutch, 1 being all clear"},
)
def clutch(worth_of_clutch: Array) -> Array:
    return worth_of_clutch


@criterion(
    2.0,
    "1 at nothing, 0 at a quarter above the budget (1500 where none is stated)",
    {"total_cost": "{by} dearer|{by} cheaper"},
)
def cost(total_cost: Array, budget_counted: Array) -> Array:
    return falling(total_cost / budget_counted, COST_SPAN)


# What a spreadsheet works out anew, by its part in these sums. Everything else it looks up in
# tables
# that the engine made.
LIVE_INPUTS = {
    "speed": "cruise_speed", "axle": "axle_ratio", "tyre": "rolling_circumference",
    "money": "policy_budget",
}  # fmt: skip
LIVE_NUMBERS = {
    "low": "cruise_rpm_low", "high": "cruise_rpm_high", "most": "engine_redline", "mass": "car_mass",
    "rolling": "car_rolling_resistance", "drag": "car_drag_coefficient", "area": "car_frontal_area",
    "efficiency": "car_driveline_efficiency", "air": "air_density",
}  # fmt: skip
LIVE_CRITERIA = {"window": "cruise", "pull": "pull", "money": "cost"}
LIVE_RESULTS = {"gear": "top_ratio", "rpm": "top_cruise_rpm", "pull": "top_gear_pull"}
LIVE_CURVE = ("engine_curve_rpm", "engine_curve_torque")
