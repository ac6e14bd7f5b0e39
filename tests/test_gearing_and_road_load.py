"""Gearing, pull and road load against printed figures. NMA380: an open university course on vehicle dynamics, after Gillespie."""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import printed, within

from compare.topics import gearing, road_load


def test_tyre_diameter_of_185_65_r15():
    """ISO 4000-1 construction of the code, from memory: 621.5 mm before rounding."""
    assert gearing.tyre_diameter(185.0, 0.65, 381.0) == printed("621.5")


def test_dynamic_radius_of_185_65_r15():
    """Vehicle-technology coursework lists 302 mm; the ETRTO factor 3.05 gives 301.7."""
    assert gearing.RADIAL_CIRCUMFERENCE * 621.5 / (2 * math.pi) == printed("302")


def test_rolling_circumference_factors_of_etrto():
    """ETRTO Standards Manual (from memory): 3.05 D radial, 2.99 D cross-ply; a measured value goes before."""
    of = lambda measured, radial: gearing.rolling_circumference(*(np.array([[x]]) for x in (measured, 185.0, 0.65, 381.0, radial, 1.0)))[0, 0]
    assert of(math.nan, 1.0) == pytest.approx(3.05 * 621.5)
    assert of(math.nan, 0.0) == pytest.approx(2.99 * 621.5)
    assert of(1900.0, 1.0) == 1900.0


def test_speed_in_third_gear_of_the_course_s_car():
    """NMA380: 185/60R14 (577.6 mm free diameter), 3200 rev/min, gear 1.46, final 3.944: 60.5046 km/h."""
    circumference = math.pi * 577.6
    assert gearing.road_speed(3200.0, circumference, 3.944, 1.46) == printed("60.5046")
    assert road_load.wheel_force(174.0, 1.46 * 3.944, 0.96, circumference) == printed("3330.5")


def test_speed_per_1000_revolutions_of_the_course_s_car():
    """Same course, inputs printed, answers computed there from them (checks arithmetic only)."""
    speeds = [float(gearing.road_speed(1000.0, math.pi * 577.6, 3.944, g)) for g in (3.78, 2.12, 1.46, 1.03, 0.84)]
    assert speeds == [printed(p) for p in ("7.3030", "13.0213", "18.9077", "26.8012", "32.8634")]


def test_the_336_rule():
    """A note on the constant 336: 65 mph, axle 3.08, direct top, tyre of 30 in: 2242 rev/min (constant rounded there)."""
    circumference = math.pi * 30 * 25.4
    assert gearing.engine_speed(65 * 1.609344, circumference, 3.08, 1.0) == within(65 * 336 * 3.08 / 30, 3.5)
    assert printed("2242") == 65 * 336 * 3.08 / 30


def test_geometric_steps():
    """7.0 to 1.0 in six gears: 7, 4.7433, 3.2141, 2.1779, 1.4758, 1 (geometric series)."""
    ratios = np.array([7, 4.7433, 3.2141, 2.1779, 1.4758, 1.0])
    steps = gearing.steps_between(ratios)
    assert steps == pytest.approx(100 * (1 - 7 ** (-1 / 5)), abs=0.01)


def test_a_missing_sixth_gear_is_no_gap():
    ratios = np.array([[[3.5, 2.0, 1.4, 1.0, 0.8, math.nan, math.nan, math.nan]]])
    assert gearing.last_known(ratios)[0, 0] == 0.8
    assert gearing.gear_steps(ratios)[0, 0] == pytest.approx(100 * (1 - 2.0 / 3.5))


def test_road_load_of_mannering_example_2_31():
    """Mannering, Washburn, Kilareski, Principles of Highway Engineering, 4th ed., solution 2.31: 75.44 + 33.97 + 100 = 209.41 lb."""
    lbf, foot, slug = 4.4482216152605, 0.3048, 14.593903
    density = 0.002045 * slug / foot**3
    drag = road_load.drag_force(70 * 1.609344, 20 * foot**2, 0.35, density) / lbf
    assert drag == within(75.44, 0.02)  # printed with 70 mph as 102.7 ft/s
    rolling = 0.01 * (1 + 70 * 5280 / 3600 / 147)
    weight = 2000 * 0.45359237
    assert road_load.rolling_and_grade(weight, rolling, 0.0) / lbf == within(33.97, 0.02)
    grade = road_load.rolling_and_grade(weight, 0.0, 5.0) / lbf
    assert grade == within(100.0, 0.2)  # the book takes the grade itself for its sine
    assert drag + road_load.rolling_and_grade(weight, rolling, 0.0) / lbf + 100 == within(209.41, 0.03)


def test_coast_down_coefficients_of_the_epa_test_car_list():
    """US EPA test car list 2022: A 17.11, B 0.2972, C 0.01646 (coefficients seen, force computed): 73.12 lbf, 9.749 hp at 50 mph.

    The coefficient C is an air drag: the area that it stands for must give the same force here.
    """
    force = 17.11 + 0.2972 * 50 + 0.01646 * 50**2
    assert force == printed("73.12")
    assert force * 50 * 5280 / 3600 / 550 == printed("9.749")
    area = 0.01646 * 4.4482216152605 / (0.5 * 1.225 * (1.609344 / 3.6) ** 2)
    assert road_load.drag_force(50 * 1.609344, area, 1.0, 1.225) / 4.4482216152605 == pytest.approx(0.01646 * 2500)


@pytest.mark.parametrize(
    ("torque", "rpm", "kilowatts"),
    [(49.4, 1000, "5.2"), (136.9, 2000, "28.7"), (174.0, 3200, "58.3"), (157.7, 5000, "82.6"), (144.9, 5600, "85.0"), (119.8, 6100, "76.5")],
)
def test_power_of_the_published_engine_curve(torque, rpm, kilowatts):
    """NMA380, published engine curve, power to 0.1 kW."""
    assert road_load.engine_power(torque, rpm) == printed(kilowatts)


def test_air_at_sea_level_is_that_of_iso_2533():
    """ISO 2533: 1.225 kg/m³ at sea level; 0.7364284 at 5000 m by its own barometric formula (printed)."""
    assert road_load.AIR_DENSITY.default == 1.225
    temperature = 288.15 - 0.0065 * 5000
    geopotential = 5000 * 6356766 / (6356766 + 5000)
    temperature = 288.15 - 0.0065 * geopotential
    density = 1.225 * (temperature / 288.15) ** (9.80665 / (287.05287 * 0.0065) - 1)
    assert density == printed("0.73643")


def test_slowest_pull_of_the_demo_is_above_the_floor_of_un_gtr_15(demo_files):
    """UN GTR 15 Annex 2, 2(k): n_idle + 0.125 (n_rated − n_idle) = 812.5 for 500 and 3000, used as 813: a floor."""
    from compare.read.car import load_car

    assert load_car(demo_files[1]).values["engine_slowest_pull"].nominal > 813


def test_gradient_held_undoes_the_road_load():
    for gradient in (-3.0, 0.0, 2.0, 12.0, 30.0):
        force = road_load.rolling_and_grade(1250.0, 0.015, gradient)
        assert road_load.gradient_held(force, 1250.0, 0.015) == pytest.approx(gradient, abs=1e-9)


def test_vector_equals_scalar_and_car_meets_builds():
    speed = np.array([[80.0, 95.0, 110.0]])
    area = np.array([[2.0], [2.9]])
    grid = road_load.drag_force(speed, area, 0.5, 1.225)
    assert grid.shape == (2, 3)
    assert grid[1, 2] == road_load.drag_force(110.0, 2.9, 0.5, 1.225)


@pytest.mark.parametrize(("builds", "draws", "gears"), [(3, 5, 8), (8, 8, 8), (1, 8, 8)])
def test_gears_never_mix_with_draws(builds, draws, gears):
    """(B, D) × (G,) runs silently when D = G; the gears stand on an axis of their own."""
    rng = np.random.default_rng(2)
    ratios = np.sort(rng.uniform(0.7, 4.0, (builds, draws, gears)), axis=-1)[..., ::-1]
    circumference = rng.uniform(1900, 2000, (1, draws))
    rpm = gearing.gear_cruise_rpm(np.full((1, 1), 95.0), circumference, np.full((1, 1), 4.875), ratios)
    assert rpm.shape == (builds, draws, gears)
    assert rpm[0, draws - 1, 2] == pytest.approx(float(gearing.engine_speed(95.0, circumference[0, draws - 1], 4.875, ratios[0, draws - 1, 2])))


def test_top_speed_lies_where_pull_meets_load(demo_tables):
    names = demo_tables.result.names
    speed = float(names["top_speed"][0, 0])
    gear = int(names["top_speed_gear"][0, 0])
    ratio = float(names["ratios"][0, 0, gear - 1])
    rpm = gearing.engine_speed(speed, 1947.0, 4.875, ratio)
    torque = road_load.torque_at(np.array(rpm), names["engine_curve_rpm"], names["engine_curve_torque"])
    pull = road_load.wheel_force(torque, ratio * 4.875, 0.92, 1947.0)
    load = road_load.rolling_and_grade(1250.0, 0.015, 0.0) + road_load.drag_force(speed, 2.9, 0.52, 1.225)
    assert pull == pytest.approx(float(load), rel=0.01)
