"""Clutch hydraulics and the speedometer's tooth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import printed

from compare.topics import clutch, speedometer


def test_pascal_s_principle_of_openstax():
    """OpenStax College Physics: 500 N on a 0.500 cm master, 2.50 cm slave: 12,500 N."""
    assert 500 * clutch.pedal_leverage(1.0, 5.00, 25.0, 1.0) == printed("12500")


def test_what_force_gains_travel_loses():
    leverage = clutch.pedal_leverage(5.0, 19.05, 22.225, 2.0)
    travel = clutch.bearing_travel(clutch.slave_travel(140.0, 5.0, 19.05, 22.225), 2.0, 0.0)
    assert leverage * travel == pytest.approx(140.0)


def test_centring_bore_centres():
    for travel in (6.0, 9.5, 14.0):
        bore = clutch.centring_bore(travel, 140.0, 5.0, 19.05, 2.0, 1.0)
        assert clutch.bearing_travel(clutch.slave_travel(140.0, 5.0, 19.05, bore), 2.0, 1.0) == pytest.approx(travel)


def test_hub_moves_by_about_half_of_the_lining_s_wear(demo_files):
    """A workshop manual: disc 9.2 mm compressed when new, 8.0 to 7.8 at the limit: 1.2 to 1.4 mm, about half of it at the hub."""
    from compare.read.car import load_car

    assert load_car(demo_files[1]).values["clutch_wear_travel"].nominal <= 2 * 1.4


@pytest.mark.parametrize(("true", "most"), [(50, 59), (90, 103), (110, 125), (130, 147)])
def test_un_regulation_39(true, most):
    """UN Regulation 39, 5.3: 0 ≤ V₁ − V₂ ≤ 0.1 V₂ + 4 km/h: 50–59, 90–103, 110–125, 130–147."""
    assert speedometer.r39_spare(float(true), 1.0) == 0.0
    assert speedometer.r39_spare(float(true), most / true) == pytest.approx(0.0, abs=1e-9)
    assert speedometer.r39_spare(float(true), (most + 0.1) / true) < 0
    assert speedometer.r39_spare(float(true), (true - 0.1) / true) < 0


def test_the_tooth_does_not_under_read():
    wanted = np.array([[16.69], [19.0], [30.0], [9.0]])
    tooth = speedometer.driven_to_order(wanted, np.full((4, 1), 14.0), np.full((4, 1), 20.0))
    assert tooth.ravel().tolist() == [16, 19, 20, 14]
    ratio = speedometer.dial_ratio(wanted, tooth).ravel()
    assert ratio[0] > 1 and ratio[1] == 1 and ratio[2] == 1.5 and ratio[3] < 1


def test_a_sensor_needs_a_converter_and_a_cable_out_of_reach_too():
    reading = speedometer.speedometer_error(np.array([[1.02], [1.5], [1.02]]), np.array([[0.0], [0.0], [1.0]]), 0.1, 4.0)
    assert (reading.works.ravel() >= 0).tolist() == [True, False, False]
    needed = speedometer.speedometer_converter(reading).needed.ravel()
    assert needed.tolist() == [0.0, 1.0, 1.0]


def test_an_arm_on_the_blocked_side_takes_a_bracket_and_a_concentric_slave_has_no_side():
    nan = math.nan
    side = np.array([[0.0], [1.0], [2.0], [nan]])
    reading = clutch.release_side_free(side, np.array([[0.0], [0.0], [0.0], [1.0]]), np.array([[1.0]]))
    assert clutch.slave_bracket(reading).needed.ravel().tolist() == [0.0, 1.0, 0.0, 0.0]
