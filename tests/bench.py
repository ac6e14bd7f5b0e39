"""A car and a gearbox on the bench of the tests: topics run by hand, one decision after the other.

Not the demo's car. Rules are called in the rulebook's order; a decision takes nothing (`found`), or
each draw's own figure of its Ask (`fitted`), or what the test says.
"""

from __future__ import annotations

import inspect
import types

import numpy as np

from compare.judge.rules import Ask, Options, Rulebook, criterion, quantity, reading_of, verdict
from compare.topics import driveline, gearing, release, road_load, speedometer

NAN = float("nan")
VERDICTS = ("clear", "tight", "clash", "unmeasured")

# A saloon of 1961, invented: engine and axle level, the pinion straight behind the gearbox.
CAR = {
    "car_mass": 1100.0, "car_frontal_area": 2.0, "car_drag_coefficient": 0.45,
    "car_rolling_resistance": 0.015, "car_driveline_efficiency": 0.92,
    "engine_redline": 5000.0, "engine_slowest_pull": 1200.0,
    "tyre_rolling_circumference": 1900.0, "axle_ratio": 4.1,
    "cruise_speed": 100.0, "cruise_rpm_low": 2500.0, "cruise_rpm_high": 3200.0,
    "driveshaft_pinion_x": 2000.0, "driveshaft_pinion_offset": 0.0, "driveshaft_pinion_drop": 52.0,
    "driveshaft_pinion_tilt": np.deg2rad(3.0), "driveshaft_engine_tilt": np.deg2rad(3.0),
    "driveshaft_pinion_arm": 200.0, "driveshaft_tube_diameter": 76.2, "driveshaft_tube_wall": 1.8,
    "driveshaft_plunge": 35.0, "driveshaft_longest_piece": 1400.0,
    "driveshaft_yoke_spline_teeth": 16.0, "driveshaft_yoke_spline_diameter": 25.4,
    "clutch_pedal_travel": 140.0, "clutch_pedal_ratio": 5.0, "clutch_master_bore": 19.05,
    "clutch_slave_bore": 22.225, "clutch_fork_ratio": 2.0, "clutch_free_play": 1.0,
    "clutch_release_travel": 8.0, "clutch_release_travel_max": 11.0, "clutch_blocked_side": 1.0,
    "clutch_friction_face": 22.0, "clutch_finger_height": 40.0, "crank_flange_position": 25.0,
    "clutch_bearing_bore": 35.2, "speedometer_turns_per_km": 800.0,
    "engine_backplate": 0.0, "car_bellhousing_depth": 160.0, "engine_mounts_pivot_x": -330.0,
    "present_length": 698.0, "present_adapter": 0.0, "present_output_type": 0.0,
}  # fmt: skip
# A five-speed, its face at 160, its output joint at 858.
GEARBOX = {
    "torque_rating": 170.0, "length": 698.0, "output_type": 0.0, "slip_travel": 72.0,
    "output_spline_teeth": 16.0, "output_spline_diameter": 25.4,
    "release_type": 0.0, "release_side": 0.0, "collar_length": 80.0, "collar_diameter": 35.0,
    "speedo_drive": 0.0, "speedo_driver_teeth": 6.0, "speedo_driven_least": 14.0,
    "speedo_driven_most": 20.0,
    # What other topics give.
    "depth_of_face": 160.0, "adapter_thickness": 0.0, "x_face": 160.0, "lift_tilt": 0.0,
    "output_rise": 0.0, "collar_cut": 0.0, "pad_x": 800.0,
}  # fmt: skip
RATIOS = (3.42, 2.08, 1.39, 1.0, 0.8, NAN, NAN, NAN)
CURVE = ((1000, 82), (2000, 101), (2600, 105), (3500, 98), (4500, 80), (5000, 68))
OTHERS = ("depth_of_face", "x_face", "lift_tilt", "output_rise", "collar_cut", "pad_x")


def rulebook():
    """The five topics, and what they take from the others as plain quantities."""
    others = types.ModuleType("others")
    for name in OTHERS:

        def given(length):
            return length

        given.__name__, given.__module__ = name, "others"
        setattr(others, name, quantity("mm")(given))
    for group in ("driveline", "clutch"):

        def worth(**inputs):
            return inputs

        worth.__name__, worth.__module__ = f"worth_{group}", "others"
        worth.__signature__ = inspect.Signature(
            [inspect.Parameter(f"worth_of_{group}", inspect.Parameter.KEYWORD_ONLY)]
        )
        setattr(others, worth.__name__, criterion(1.0, group)(worth))
    return Rulebook.from_topics([gearing, road_load, driveline, release, speedometer, others])


BOOK = rulebook()
LIMITS = {name: limit.default for name, limit in BOOK.limits.items()}


def own_figure(ask: Ask, shape):
    """Each draw's own figure: nothing where nothing will do, else as near comfort as it may be."""
    least, most, capacity = (np.broadcast_to(x, shape) for x in (ask.least, ask.most, ask.capacity))
    comfort = 0.0 if ask.comfort is None else ask.comfort
    comfort = np.broadcast_to(np.asarray(comfort, dtype=float), shape)
    figure = np.clip(np.minimum(np.maximum(comfort, least), most), -capacity, capacity)
    nothing = ((least <= 0) & (most >= 0)) | (least > most)
    return np.where(nothing, 0.0, np.where(np.isnan(least) | np.isnan(most), NAN, figure))


def run(settle="fitted", decided=None, ratios=RATIOS, curve=CURVE, **changed):
    """All results by name; `changed` replaces numbers (scalars or arrays), `decided` figures."""
    numbers = {**CAR, **GEARBOX, **changed}
    values = {k: np.atleast_2d(np.asarray(v, dtype=float)) for k, v in numbers.items()}
    values["ratios"] = np.asarray(ratios, dtype=float).reshape(-1, 1, 8)
    points = np.asarray(curve, dtype=float)
    values["engine_curve_rpm"] = points[None, None, :, 0]
    values["engine_curve_torque"] = points[None, None, :, 1]
    shape = np.broadcast_shapes(*(v.shape for k, v in values.items() if k in numbers))
    shape = np.broadcast_shapes(shape, (len(values["ratios"]), 1))
    for rule in (r for r in BOOK.order if r.sort != "criterion"):
        if rule.name in OTHERS:
            continue
        given = [LIMITS.get(i, values.get(i, np.full((1, 1), NAN))) for i in rule.inputs]
        found = rule.function(*given)
        if isinstance(found, Ask):
            values[f"ask_{rule.name}"] = found
            found = np.zeros(shape) if settle == "found" else own_figure(found, shape)
        elif isinstance(found, Options):
            values[f"ask_{rule.name}"] = found
            works = np.broadcast_to(found.works, (*shape, found.works.shape[-1]))
            good = np.where(np.isnan(works), -1.0, works) >= 0
            taken = np.where(good.any(axis=-1), good.argmax(axis=-1), 0).astype(float)
            found = np.zeros(shape) if settle == "found" else taken
        elif rule.sort == "check":
            reading = reading_of(rule, found, LIMITS)
            values[f"reading_{rule.name}"] = reading
            values[f"verdict_{rule.name}"] = verdict(reading, shape)
            found = reading.value
        found = (decided or {}).get(rule.name, found)
        # Several numbers under names stay so: they are what the next rule takes.
        values[rule.name] = found if isinstance(found, tuple) else np.asarray(found, dtype=float)
    return values


def said(values, check):
    """The nominal verdict of the first build, in words."""
    return VERDICTS[int(values[f"verdict_{check}"][0, 0])]


def nominal(values, name):
    return float(np.ravel(values[name])[0])


def degrees(values, name):
    return float(np.rad2deg(nominal(values, name)))
