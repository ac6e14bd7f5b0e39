"""Gearing, pull and road load: printed figures, and gears by hand.

NMA380: an open university course on vehicle dynamics, after Gillespie (repository dinvei).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from bench import BOOK, CAR, CURVE, NAN, RATIOS, nominal, run, said
from published import printed, within

from compare.topics import gearing, road_load

# ---- published figures --------------------------------------------------------------------------


def test_tyre_diameter_of_185_65_r15():
    """ISO 4000-1 construction of the code, from memory: 621.5 mm before rounding."""
    assert gearing.tyre_diameter(185.0, 0.65, 381.0) == printed("621.5")


def test_dynamic_radius_of_185_65_r15():
    """Vehicle-technology coursework lists 302 mm; the ETRTO factor 3.05 gives 301.7."""
    assert gearing.RADIAL_CIRCUMFERENCE * 621.5 / (2 * math.pi) == printed("302")


def test_rolling_circumference_factors_of_etrto():
    """ETRTO Standards Manual (from memory): 3.05 D radial, 2.99 D cross-ply; else as measured."""

    def of(measured, radial):
        sizes = (np.array([[x]]) for x in (measured, 185.0, 0.65, 381.0, radial, 1.0))
        return gearing.rolling_circumference(*sizes)[0, 0]

    assert of(math.nan, 1.0) == pytest.approx(3.05 * 621.5)
    assert of(math.nan, 0.0) == pytest.approx(2.99 * 621.5)
    assert of(1900.0, 1.0) == 1900.0


def test_speed_in_third_gear_of_the_course_s_car():
    """NMA380: 185/60R14 (577.6 mm), 3200 rev/min, 1.46, final 3.944: 60.5046 km/h, 3330.5 N."""
    circumference = math.pi * 577.6
    assert gearing.road_speed(3200.0, circumference, 3.944, 1.46) == printed("60.5046")
    assert road_load.wheel_force(174.0, 1.46 * 3.944, 0.96, circumference) == printed("3330.5")


def test_speed_per_1000_revolutions_of_the_course_s_car():
    """Same course, inputs printed, answers computed there from them (checks arithmetic only)."""
    gears = (3.78, 2.12, 1.46, 1.03, 0.84)
    speeds = [float(gearing.road_speed(1000.0, math.pi * 577.6, 3.944, g)) for g in gears]
    assert speeds == [printed(p) for p in ("7.3030", "13.0213", "18.9077", "26.8012", "32.8634")]


def test_the_336_rule():
    """A note on the constant 336 (rounded): 65 mph, axle 3.08, direct, tyre of 30 in: 2242."""
    circumference = math.pi * 30 * 25.4
    ours = gearing.engine_speed(65 * 1.609344, circumference, 3.08, 1.0)
    assert ours == within(65 * 336 * 3.08 / 30, 3.5)
    assert printed("2242") == 65 * 336 * 3.08 / 30


def test_geometric_steps():
    """7.0 to 1.0 in six gears: 7, 4.7433, 3.2141, 2.1779, 1.4758, 1 (geometric series)."""
    ratios = np.array([7, 4.7433, 3.2141, 2.1779, 1.4758, 1.0])
    steps = gearing.steps_between(ratios)
    assert steps == pytest.approx(100 * (1 - 7 ** (-1 / 5)), abs=0.01)


def test_road_load_of_mannering_example_2_31():
    """Mannering, Washburn, Kilareski, Principles of Highway Engineering, 4th ed., solution 2.31:

    75.44 + 33.97 + 100 = 209.41 lb (printed).
    """
    lbf, foot, slug = 4.4482216152605, 0.3048, 14.593903
    density = 0.002045 * slug / foot**3
    drag = road_load.drag_force(70 * 1.609344, 20 * foot**2, 0.35, density) / lbf
    assert drag == within(75.44, 0.02)  # printed with 70 mph as 102.7 ft/s
    rolling = 0.01 * (1 + 70 * 5280 / 3600 / 147)
    weight = 2000 * 0.45359237
    assert road_load.rolling_and_grade(weight, rolling, 0.0) / lbf == within(33.97, 0.02)
    grade = road_load.rolling_and_grade(weight, 0.0, 5.0) / lbf
    assert grade == within(100.0, 0.2)  # the book takes the grade itself for its sine
    whole = drag + road_load.rolling_and_grade(weight, rolling, 0.0) / lbf + 100
    assert whole == within(209.41, 0.03)


def test_coast_down_coefficients_of_the_epa_test_car_list():
    """US EPA test car list 2022: A 17.11, B 0.2972, C 0.01646 (seen; force computed).

    At 50 mph 73.12 lbf and 9.749 hp; at 70 mph 118.568 lbf and 22.133 hp.

    The coefficient C is an air drag: the area that it stands for must give the same force here.
    """
    force = 17.11 + 0.2972 * 50 + 0.01646 * 50**2
    assert force == printed("73.12")
    assert force * 50 * 5280 / 3600 / 550 == printed("9.749")
    fast = 17.11 + 0.2972 * 70 + 0.01646 * 70**2
    assert fast == printed("118.568")
    assert fast * 70 * 5280 / 3600 / 550 == printed("22.133")
    area = 0.01646 * 4.4482216152605 / (0.5 * 1.225 * (1.609344 / 3.6) ** 2)
    force = road_load.drag_force(50 * 1.609344, area, 1.0, 1.225)
    assert force / 4.4482216152605 == pytest.approx(0.01646 * 2500)


@pytest.mark.parametrize(
    ("torque", "rpm", "kilowatts"),
    [
        (49.4, 1000, "5.2"),
        (136.9, 2000, "28.7"),
        (174.0, 3200, "58.3"),
        (157.7, 5000, "82.6"),
        (144.9, 5600, "85.0"),
        (119.8, 6100, "76.5"),
    ],
)
def test_power_of_the_published_engine_curve(torque, rpm, kilowatts):
    """NMA380, published engine curve, power to 0.1 kW."""
    assert road_load.engine_power(torque, rpm) == printed(kilowatts)


def test_air_at_sea_level_is_that_of_iso_2533():
    """ISO 2533: 1.225 kg/m³ at sea level; 0.7364284 at 5000 m by its own formula (printed)."""
    assert road_load.AIR_DENSITY.default == 1.225
    temperature = 288.15 - 0.0065 * 5000
    geopotential = 5000 * 6356766 / (6356766 + 5000)
    temperature = 288.15 - 0.0065 * geopotential
    density = 1.225 * (temperature / 288.15) ** (9.80665 / (287.05287 * 0.0065) - 1)
    assert density == printed("0.73643")


def test_slowest_pull_is_above_the_floor_of_un_gtr_15():
    """UN GTR 15 Annex 2, 2(k): n_idle + 0.125 (n_rated − n_idle): 812.5 for 500, 3000 (printed)."""
    assert printed("812.5") == 500 + 0.125 * (3000 - 500)
    assert CAR["engine_slowest_pull"] > 813


# ---- by hand: C 1900 mm, axle 4.1, 100 km/h -----------------------------------------------------


def test_engine_speed_at_cruise_in_each_gear():
    """100e6 / 60 / 1900 × 4.1 = 3596.5 in direct; 0.8 makes 2877.2, 1.39 4999.1."""
    car = run()
    assert car["gear_cruise_rpm"][0, 0, :5] == pytest.approx(
        [3596.49 * g for g in RATIOS[:5]], rel=1e-5
    )
    assert nominal(car, "top_cruise_rpm") == printed("2877.2")
    assert said(car, "cruise_rpm") == "clear"


def test_outside_the_window_is_tight_and_never_a_clash():
    """Direct top: 3596 against 2500 to 3200: a wish, 12.4 % outside."""
    direct = run(ratios=(3.42, 2.08, 1.39, 1.0, NAN, NAN, NAN, NAN))
    assert said(direct, "cruise_rpm") == "tight"
    assert nominal(direct, "cruise_outside") == printed("12.4")
    assert said(run(cruise_speed=60.0), "cruise_rpm") == "tight"
    assert BOOK.rules["cruise_rpm"].kind == "wish"


def test_above_the_redline_is_a_clash_of_the_road():
    """Top 1.45: 3596.5 × 1.45 = 5214.9, 214.9 above 5000."""
    short = run(ratios=(3.42, 2.08, 1.45, NAN, NAN, NAN, NAN, NAN))
    assert said(short, "cruise_redline") == "clash"
    assert float(short["reading_cruise_redline"].works[0, 0]) == printed("-214.9")
    assert said(short, "cruise_rpm") == "tight"
    assert BOOK.rules["cruise_redline"].kind == "road"
    assert said(run(), "cruise_redline") == "clear"


def test_an_unknown_redline_is_unmeasured():
    assert said(run(engine_redline=NAN), "cruise_redline") == "unmeasured"
    assert said(run(engine_redline=NAN), "cruise_rpm") == "clear"


def test_a_missing_sixth_gear_is_no_gap():
    """Steps 39.2, 33.2, 28.1, 20 %: widest 1 − 2.08 / 3.42 = 39.2 %."""
    assert nominal(run(), "gear_steps") == printed("39.2")
    assert nominal(run(), "top_ratio") == 0.8


def test_an_unknown_gear_between_two_is_unknown():
    """Third not known: no step is said to be fine; top gear is still 0.8."""
    unknown = run(ratios=(3.42, 2.08, NAN, 1.0, 0.8, NAN, NAN, NAN))
    assert said(unknown, "gear_steps") == "unmeasured"
    assert nominal(unknown, "top_ratio") == 0.8
    assert said(unknown, "cruise_rpm") == "clear"


@pytest.mark.parametrize(("second", "words"), [(2.2, "clear"), (2.0, "tight"), (1.7, "clash")])
def test_steps_between_first_and_second(second, words):
    """3.42 to 2.2: 35.7 %; to 2.0: 41.5 %; to 1.7: 50.3 %."""
    gears = run(ratios=(3.42, second, 1.39, 1.0, 0.8, NAN, NAN, NAN))
    assert said(gears, "gear_steps") == words
    assert BOOK.rules["gear_steps"].kind == "wish"


@pytest.mark.parametrize(
    ("rating", "margin", "words"),
    [
        (115.5, 1.0, "clear"),
        (110.0, 0.952, "tight"),
        (100.0, 0.866, "clash"),
        (NAN, NAN, "unmeasured"),
    ],
)
def test_torque_rating_against_the_peak(rating, margin, words):
    """Peak 105 × 1.1 = 115.5; an erased rating is never passed."""
    car = run(torque_rating=rating)
    assert nominal(car, "torque_margin") == pytest.approx(margin, abs=5e-4, nan_ok=True)
    assert said(car, "torque_margin") == words
    assert BOOK.rules["torque_margin"].kind == "road"


def test_gradient_in_top_by_hand():
    """At 2877.2: T = 105 − 7 × 277.2 / 900 = 102.84; F = 102.84 × 3.28 × 0.92 × 2π / 1.9 = 1026.3.

    Drag ½ 1.225 × 0.9 × 27.78² = 425.3; 1100 × 9.80665 = 10787.3: (601 / 10787.3) = 0.0557,
    less 0.015: about 4.08 %.
    """
    car = run()
    assert nominal(car, "cruise_torque") == printed("102.84")
    assert nominal(car, "cruise_drag") == printed("425.3")
    assert nominal(car, "top_gear_pull") == within(4.08, 0.01)
    assert said(car, "top_gear_pull") == "clear"


def test_sixth_is_for_downhill_where_fifth_holds_the_road():
    """Sixth 0.45: 1618 rev/min, 93.8 N·m, 526 N less 425: 0.94 % − 1.5 %: below zero.

    Fifth, 0.8, holds 4.08 %: the road gear, at 2877.
    """
    tall = run(ratios=(3.42, 2.08, 1.39, 1.0, 0.8, 0.45, NAN, NAN))
    assert nominal(tall, "top_gear_pull") == within(-0.56, 0.03)
    assert said(tall, "top_gear_pull") == "clash"
    assert nominal(tall, "top_for_downhill") == 1.0
    assert nominal(tall, "road_gear") == 5.0
    assert nominal(tall, "road_gear_rpm") == printed("2877.2")
    assert nominal(tall, "axle_to_suit") > 4.1
    assert BOOK.rules["top_gear_pull"].kind == "wish"
    assert nominal(run(), "top_for_downhill") == 0.0


def test_a_gear_below_the_slowest_pull_holds_no_road():
    """Slowest pull 2900 in a car that turns 2877 in fifth: fourth is the road gear."""
    assert nominal(run(engine_slowest_pull=2900.0), "road_gear") == 4.0


def test_axle_that_suits_holds_the_comfortable_gradient():
    """Put in, top gear holds 2 % with it and less with one a step taller."""
    tall = {"ratios": (3.42, 2.08, 1.39, 1.0, 0.8, 0.45, NAN, NAN)}
    axle = nominal(run(**tall), "axle_to_suit")
    assert nominal(run(**tall, axle_ratio=axle), "top_gear_pull") >= 2.0
    assert nominal(run(**tall, axle_ratio=axle - 0.041), "top_gear_pull") < 2.0


SHORT_CURVE = ((1000, 82), (2000, 101), (2600, 105), (3000, 104))


def test_a_curve_that_ends_early_is_not_known_beyond_and_never_minus():
    """Curve to 3000, cruise in direct at 3596: not known. With 0.8, 2877, it is."""
    direct = run(ratios=(3.42, 2.08, 1.39, 1.0, NAN, NAN, NAN, NAN), curve=SHORT_CURVE)
    assert said(direct, "top_gear_pull") == "unmeasured"
    assert np.isnan(direct["gear_gradient"][0, 0, 3])
    assert said(run(curve=SHORT_CURVE), "top_gear_pull") == "clear"
    for gradient in np.ravel(direct["gear_gradient"]):
        assert np.isnan(gradient) or gradient > 0


def test_a_curve_that_ends_early_leaves_the_top_speed_open():
    """At 3000 in direct (83.4 km/h) it still pulls: who knows how fast it goes."""
    direct = run(ratios=(3.42, 2.08, 1.39, 1.0, NAN, NAN, NAN, NAN), curve=SHORT_CURVE)
    assert np.isnan(nominal(direct, "top_speed"))
    assert not np.isnan(nominal(run(), "top_speed"))


def test_a_curve_that_ends_early_may_still_be_long_enough():
    """With 0.5, load meets pull before 3000 (167 km/h): known. Fourth could reach 139 at redline.

    So the top speed is that of fifth if it is above 139, else it stays open.
    """
    tall = run(ratios=(3.42, 2.08, 1.39, 1.0, 0.5, NAN, NAN, NAN), curve=SHORT_CURVE)
    fourth, fifth = tall["gear_top_speed"][0, 0, 3:5]
    assert np.isnan(fourth) and 60 < fifth < 139
    assert np.isnan(nominal(tall, "top_speed"))
    light = {"car_frontal_area": 1.3, "car_drag_coefficient": 0.35, "car_mass": 900.0}
    fast = run(ratios=(3.42, 2.08, 1.39, 1.0, 0.5, NAN, NAN, NAN), curve=SHORT_CURVE, **light)
    assert np.isnan(fast["gear_top_speed"][0, 0, 3]) and fast["gear_top_speed"][0, 0, 4] > 139
    assert nominal(fast, "top_speed") == fast["gear_top_speed"][0, 0, 4]
    assert nominal(fast, "top_speed_gear") == 5.0


def test_below_the_curve_nobody_knows_either():
    """Curve from 1500; 100 km/h in a gear of 0.4 turns 1439."""
    low = run(ratios=(3.42, 1.0, 0.4, NAN, NAN, NAN, NAN, NAN), curve=((1500, 90), (5000, 70)))
    assert said(low, "top_gear_pull") == "unmeasured"


def test_top_speed_lies_where_pull_meets_load():
    car = run()
    speed, gear = nominal(car, "top_speed"), int(nominal(car, "top_speed_gear"))
    ratio = RATIOS[gear - 1]
    rpm = gearing.engine_speed(speed, 1900.0, 4.1, ratio)
    points = np.asarray(CURVE, dtype=float)
    torque = road_load.torque_at(np.array(rpm), points[:, 0], points[:, 1])
    pull = road_load.wheel_force(torque, ratio * 4.1, 0.92, 1900.0)
    load = road_load.rolling_and_grade(1100.0, 0.015, 0.0)
    load = load + road_load.drag_force(speed, 2.0, 0.45, 1.225)
    at_redline = rpm == pytest.approx(5000.0)
    assert at_redline or pull == pytest.approx(float(load), rel=0.01)


def test_a_gear_that_never_holds_the_level_reaches_nothing():
    """Overdrive 0.2 on 20 N·m: no speed at all, not an unknown one."""
    weak = run(ratios=(3.42, 1.0, 0.2, NAN, NAN, NAN, NAN, NAN), curve=((1000, 20), (5000, 20)))
    assert weak["gear_top_speed"][0, 0, 2] == 0.0
    assert np.isnan(weak["gear_top_speed"][0, 0, 3]), "there is no fourth gear"
    assert nominal(weak, "top_speed") > 0


def test_first_gear_at_peak_torque():
    """105 × 3.42 × 4.1 × 0.92 × 2π / 1.9 = 4479.3 N; / 10787 = 0.4152: 43.8 %."""
    assert nominal(run(), "start_gradient") == within(43.8, 0.1)
    tall = run(ratios=(1.9, 1.3, 1.0, NAN, NAN, NAN, NAN, NAN))
    assert said(tall, "start_gradient") == "tight"
    assert BOOK.rules["start_gradient"].kind == "wish"


def test_gradient_held_undoes_the_road_load():
    for gradient in (-3.0, 0.0, 2.0, 12.0, 30.0):
        force = road_load.rolling_and_grade(1250.0, 0.015, gradient)
        held = road_load.gradient_held(force, 1250.0, 0.015)
        assert held == pytest.approx(gradient, abs=1e-9)


# ---- properties ---------------------------------------------------------------------------------


def test_vector_equals_scalar_and_car_meets_builds():
    speed = np.array([[80.0, 95.0, 110.0]])
    area = np.array([[2.0], [2.9]])
    grid = road_load.drag_force(speed, area, 0.5, 1.225)
    assert grid.shape == (2, 3)
    assert grid[1, 2] == road_load.drag_force(110.0, 2.9, 0.5, 1.225)


def test_checks_of_many_builds_and_draws_equal_each_alone():
    """Gears on an axis of their own: builds, draws and gears are all eight here."""
    rng = np.random.default_rng(2)
    ratios = np.sort(rng.uniform(0.7, 4.0, (8, 8)), axis=-1)[:, ::-1]
    circumference = rng.uniform(1850, 1950, (1, 8))
    grid = run(ratios=ratios, tyre_rolling_circumference=circumference)
    checks = [r.name for r in BOOK.checks if r.topic in ("gearing", "road_load")]
    for build in range(8):
        for draw in range(8):
            one = run(ratios=ratios[build], tyre_rolling_circumference=circumference[0, draw])
            for name in checks:
                many = np.broadcast_to(grid[name], (8, 8))[build, draw]
                assert many == pytest.approx(nominal(one, name), abs=1e-9, nan_ok=True), name


def test_tables_of_gears_are_those_of_the_nominal_draw():
    circumference = np.array([[1900.0, 1850.0, 1950.0]])
    table = run(tyre_rolling_circumference=circumference)
    for name in ("gear_cruise_rpm", "gear_redline_speed", "gear_gradient", "gear_top_speed"):
        assert table[name].shape == (1, 1, 8)
        assert table[name] == pytest.approx(run()[name], nan_ok=True)


def test_only_wishes_and_the_road_speak_here():
    kinds = {r.name: r.kind for r in BOOK.checks if r.topic in ("gearing", "road_load")}
    assert kinds == {
        "cruise_rpm": "wish",
        "cruise_redline": "road",
        "gear_steps": "wish",
        "torque_margin": "road",
        "top_gear_pull": "wish",
        "start_gradient": "wish",
    }
