"""Spline forms, fits and shaft torsion against the standards."""

from __future__ import annotations

import math

import pressfit
import pytest
from published import printed

from compare.standards import ISO_14, identify_spline, limits_of_size, spline_torque_capacity


@pytest.mark.parametrize(("minor", "capacity"), [(0.900, "143"), (0.850, "208"), (0.800, "270")])
def test_torque_of_six_splines_of_one_inch(minor, capacity):
    """SAE J499, 6 splines, D 1 in, fits A, B, C: 143, 208, 270 lbf·in per inch at 1000 psi."""
    assert spline_torque_capacity(6, 1.0, minor, 1.0, 1000.0) == printed(capacity)


def test_metric_spline_capacity_of_bhandari():
    """Bhandari, Design of Machine Elements: 8×52×60, 20 kW at 300 rev/min, 6.5 N/mm²: 636,619.8 N·mm, length 109.31 mm."""
    torque = 20e6 * 60 / (2 * math.pi * 300)
    assert torque == printed("636619.8")
    per_mm = spline_torque_capacity(8, 60.0, 52.0, 1.0, 6.5)
    assert torque / per_mm == printed("109.31")


@pytest.mark.parametrize(("teeth", "minor", "major", "width"), [(6, 23, 28, 6), (6, 26, 32, 6), (8, 32, 38, 6), (8, 36, 42, 7)])
def test_metric_forms_of_iso_14(teeth, minor, major, width):
    """ISO 14 / BS 5686 as tabulated by RoyMech."""
    assert (teeth, minor, major) in ISO_14
    assert any("ISO 14" in form for form in identify_spline(teeth, major))


@pytest.mark.parametrize(("teeth", "pitch", "major_inch"), [(26, 24, 1.1250), (21, 16, 1.3750)])
def test_involute_forms_of_b92(teeth, pitch, major_inch):
    """ANSI B92.1: major diameter (N + 1) / P."""
    assert (teeth + 1) / pitch == pytest.approx(major_inch, abs=1e-3)
    assert any(f"{teeth} teeth {pitch} pitch" in form for form in identify_spline(teeth, (teeth + 1) / pitch * 25.4))


def test_ten_splines_of_an_inch_and_an_eighth_are_named():
    assert identify_spline(10, 28.575) == ["straight-sided, 10 × 1 1/8 in (SAE J499)"]
    assert identify_spline(9, 26.1) == []


def test_equal_numbers_can_belong_to_two_forms():
    """A straight ten-spline and an involute one can share teeth and diameter: both are named."""
    forms = identify_spline(10, 11 / 16 * 25.4 * 2)
    assert any("J499" in f for f in forms) and len(identify_spline(10, 11 / 8 * 25.4)) >= 1


@pytest.mark.parametrize(
    ("nominal", "grade", "low", "high"),
    [
        (18, "H7", 0, 18), (18, "f7", -34, -16), (18, "g6", -17, -6), (18, "r6", 23, 34), (18, "s6", 28, 39),
        (20, "H7", 0, 21), (20, "f7", -41, -20), (20, "g6", -20, -7), (20, "r6", 28, 41), (20, "s6", 35, 48),
    ],
)  # fmt: skip
def test_limits_of_iso_286(nominal, grade, low, high):
    """ISO 286-2 as tabulated; 18 mm itself belongs to the lower range."""
    assert limits_of_size(nominal, grade) == (pytest.approx(nominal + low / 1000), pytest.approx(nominal + high / 1000))


@pytest.mark.parametrize("nominal", [12, 16])
def test_running_clearance_h7_f7(nominal):
    """ISO 286-2: 12 and 16 mm H7/f7, clearance 16 to 52 µm."""
    hole, shaft = limits_of_size(nominal, "H7"), limits_of_size(nominal, "f7")
    assert round(1000 * (hole[0] - shaft[1])) == 16 and round(1000 * (hole[1] - shaft[0])) == 52


def test_press_fit_h7_s6():
    """ISO 286-2: 20 mm H7/s6, interference 14 to 48 µm."""
    hole, shaft = limits_of_size(20, "H7"), limits_of_size(20, "s6")
    assert round(1000 * (shaft[0] - hole[1])) == 14 and round(1000 * (shaft[1] - hole[0])) == 48


def test_grades_agree_with_the_pressfit_package():
    """PyPI `pressfit` carries ISO 286-2 on its own."""
    compared = 0
    for nominal in (5, 8, 12, 16, 18, 20, 25, 30, 40):
        for grade in ("H7", "f7", "g6", "r6", "s6"):
            theirs = _pressfit_limits(nominal, grade)
            if theirs is None:
                continue
            assert limits_of_size(nominal, grade) == (pytest.approx(theirs[0], abs=1e-6), pytest.approx(theirs[1], abs=1e-6)), (nominal, grade)
            compared += 1
    assert compared >= 20


def _pressfit_limits(nominal, grade):
    try:
        found = pressfit.fit(f"{nominal} H7/{'f7' if grade == 'H7' else grade}")
    except NotImplementedError:  # it carries no r
        return None
    return found.hole_limits_mm if grade == "H7" else found.shaft_limits_mm


def test_outside_the_table_is_refused():
    with pytest.raises(ValueError, match="outside the table"):
        limits_of_size(2, "H7")
