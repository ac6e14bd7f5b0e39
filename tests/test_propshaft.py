"""Propeller shaft: joints, cancellation, whirl, against published tables and worked problems."""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import printed, within

from compare.topics import propshaft as p


@pytest.mark.parametrize(("speed", "angle"), [(5000, 3.2), (4500, 3.7), (4000, 4.2), (3500, 5.0), (3000, 5.8)])
def test_angles_of_the_operating_angle_guide(speed, angle):
    """Dana Spicer, driveline operating angle guide, basic rules (print form J3311-1, number from memory); seen."""
    assert p.permitted_angle(speed) == printed(str(angle))


@pytest.mark.parametrize(("speed", "angle"), [(2500, 7.0), (2000, 8.7), (1500, 11.5)])
def test_slow_angles_of_the_same_guide(speed, angle):
    """Same guide, from memory."""
    assert p.permitted_angle(speed) == printed(str(angle))


def test_three_degrees_and_half_a_degree_and_one_degree_of_the_same_guide():
    """Same guide: at least 0.5° (needles roll), both within 1°, at most 3° for vibration-free running."""
    assert (p.FREE_ANGLE.default, p.NEEDLES.default, p.CANCEL_DIFFERENCE.default) == (3.0, 0.5, 1.0)


AE7_1500 = (7.3, 7.4, 7.6, 7.9, 8.3, 8.9, 9.5, 10.1, 10.8, 11.6)
AE7_1700 = (6.5, 6.5, 6.8, 7.1, 7.6, 8.2, 8.8)


@pytest.mark.parametrize(("speed", "table"), [(1500, AE7_1500), (1700, AE7_1700)])
def test_second_joint_of_ae7(speed, table):
    """SAE AE-7, 3.1.1, as tabulated by Engineers Edge, 'Design guidelines for drive shaft installation angle', ± 0.1°.

    At the tabulated second angle the residual acceleration of our own sum is the 400 rad/s² of the limit.
    """
    for first, second in enumerate(table):
        for nudge, over in ((-0.1, False), (0.1, True)):
            residual = math.sqrt(math.radians(second + nudge) ** 2 - math.radians(first) ** 2)
            acceleration = p.residual_acceleration(np.array(residual), np.array(speed))
            assert (acceleration > 400.0) == over, (speed, first, second, float(acceleration))


def test_residual_of_two_joints_in_one_plane_is_the_root_of_the_difference():
    run, drop = 1000.0, 60.0
    beta = math.atan2(drop, run)
    for tilt in (-0.03, 0.0, 0.02, 0.05):
        line = p.shaft_line(*(np.array([x]) for x in (run, 0.0, drop, tilt)))
        second = abs(beta - tilt)
        assert line.front[0] == pytest.approx(beta)
        assert line.rear[0] == pytest.approx(second)
        assert line.residual[0] == pytest.approx(math.sqrt(abs(beta**2 - second**2)), abs=1e-6)


def test_parallel_axes_cancel_in_any_plane():
    line = p.shaft_line(*(np.array([x]) for x in (900.0, 80.0, 60.0, 0.0)))
    assert line.front[0] == pytest.approx(line.rear[0])
    assert line.residual[0] == pytest.approx(0.0, abs=1e-6)


def test_equal_angles_in_crossed_planes_do_not_cancel():
    """Front joint bent in plan only, rear joint bent in side view only: the planes stand square, nothing cancels."""
    line = p.shaft_line(*(np.array([x]) for x in (1000.0, 52.4, 0.0, 0.0)))
    tilted = p.shaft_line(*(np.array([x]) for x in (1000.0, 52.4, 0.0, 0.0525)))
    assert line.residual[0] < 1e-6 < tilted.residual[0]


def test_compound_angle_of_a_driveline_manual():
    """A component maker's driveline installation manual, page 10: 2.15° side and 2.50° plan make 3.3°."""
    run = 1000.0
    line = p.shaft_line(*(np.array([x]) for x in (run, run * math.tan(math.radians(2.50)), run * math.tan(math.radians(2.15)), 0.0)))
    assert math.degrees(line.front[0]) == printed("3.3")


def test_hooke_s_joint_extremes():
    """Any kinematics text (from memory): ω₂/ω₁ runs between cos β and 1/cos β."""
    beta, turn = math.radians(25), np.linspace(0, 2 * np.pi, 721)
    ratio = p.output_speed(np.array(1.0), beta, turn)
    assert ratio.min() == pytest.approx(math.cos(beta)) and ratio.max() == pytest.approx(1 / math.cos(beta))


def test_a_mis_phased_pair():
    """A published worked problem: both joints 20°, 500 rev/min, wrongly phased: 566.25 and 441.5 rev/min."""
    beta = math.radians(20)
    assert p.output_speed(p.output_speed(500.0, beta, 0.0), beta, 0.0) == within(566.25, 0.2)
    assert p.output_speed(p.output_speed(500.0, beta, math.pi / 2), beta, math.pi / 2) == within(441.5, 0.1)


@pytest.mark.parametrize(("degrees", "speed", "exact"), [(20, 500, 342.60), (3, 3000, 270.70)])
def test_peak_acceleration_by_brute_force(degrees, speed, exact):
    """α = −ω² cosβ sin²β sin2θ / (1 − sin²β cos²θ)², by brute force over θ; our small-angle form lies close below."""
    beta, omega = math.radians(degrees), speed * 2 * math.pi / 60
    turn = np.linspace(0, np.pi, 200_001)
    peak = np.abs(-(omega**2) * np.cos(beta) * np.sin(beta) ** 2 * np.sin(2 * turn) / (1 - np.sin(beta) ** 2 * np.cos(turn) ** 2) ** 2).max()
    assert peak == within(exact, 0.01)
    assert p.residual_acceleration(np.array(beta), np.array(speed)) == pytest.approx(exact, rel=0.03)


def test_small_angle_form_at_twenty_degrees():
    """check: 334.05 rad/s² (computed)."""
    assert p.residual_acceleration(np.deg2rad(20.0), np.array(500.0)) == printed("334.05")


def test_whirl_constant_of_the_maker_and_from_first_principles():
    """IMS Ltd, drive shaft technical data: n = 1.21 × 10⁸ √(D² + d²)/L²; (30π/4) √(E/ρ) with E 207 GPa, ρ 7850 kg/m³."""
    assert 30 * math.pi / 4 * math.sqrt(207e9 / 7850) * 1000 == within(1.21e8, 0.005e8)
    assert p.whirling_speed(76.2, 72.0, 1300.0) == pytest.approx(1.21e8 * math.sqrt(76.2**2 + 72.0**2) / 1300**2, rel=0.001)
    assert p.whirling_speed(76.2, 72.0, 1300.0) == within(7506, 8)
    assert printed("5254") == 0.7 * 7506
    assert p.WHIRL_SHARE.default == 0.7


def test_whirl_constant_in_inches():
    """IMS Ltd: 4.8 × 10⁶ in inches (two digits printed)."""
    assert p.whirling_speed(3 * 25.4, 2.83 * 25.4, 51 * 25.4) == pytest.approx(4.8e6 * math.sqrt(3**2 + 2.83**2) / 51**2, rel=0.01)


def test_an_overdrive_does_not_spin_the_shaft_faster_at_a_road_speed(demo_tables):
    names = demo_tables.result.names
    speed = p.shaft_speed(np.array([[100.0]]), np.array([[95.0]]), np.array([[1947.0]]), np.array([[4.875]]))
    assert speed[0, 0] == pytest.approx(100e6 / 60 / 1947 * 4.875)
    assert "top_ratio" not in p.shaft_speed.__rule__.inputs
    assert names["shaft_speed"].shape[0] == len(demo_tables.shown)


def test_vector_equals_scalar():
    runs = np.array([[800.0], [1200.0]])
    drops = np.array([[40.0, 60.0, 80.0]])
    line = p.shaft_line(runs, np.zeros((1, 1)), drops, np.zeros((1, 1)))
    assert line.front.shape == (2, 3)
    one = p.shaft_line(*(np.array([[x]]) for x in (1200.0, 0.0, 60.0, 0.0)))
    assert line.front[1, 1] == one.front[0, 0]
