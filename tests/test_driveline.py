"""Driveline: joints, cancellation, whirl, length, yoke and slip, by hand and against print.

Standing as in the sources' own words: "seen" where the text was read, else said beside it.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from bench import BOOK, CAR, NAN, degrees, nominal, run, said
from published import printed, within

from compare.topics import driveline as d


def array(*values):
    return [np.array([[float(v)]]) for v in values]


# ---- published figures --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("speed", "angle"), [(5000, 3.2), (4500, 3.7), (4000, 4.2), (3500, 5.0), (3000, 5.8)]
)
def test_angles_of_the_operating_angle_guide(speed, angle):
    """Dana Spicer, driveline operating angle guide, basic rules (J3311-1 from memory); seen."""
    assert d.permitted_angle(speed) == printed(str(angle))


@pytest.mark.parametrize(("speed", "angle"), [(2500, 7.0), (2000, 8.7), (1500, 11.5)])
def test_slow_angles_of_the_same_guide(speed, angle):
    """Same guide, from memory."""
    assert d.permitted_angle(speed) == printed(str(angle))


def test_three_degrees_half_a_degree_and_what_one_degree_leaves():
    """Same guide: at most 3°, at least 0.5°, both within 1°: √(3² − 2²) = 2.24°."""
    assert (d.FREE_ANGLE.default, d.NEEDLES.default) == (3.0, 0.5)
    assert d.CANCEL_CLEAR.default == printed(f"{math.sqrt(3**2 - 2**2):.2f}")


AE7_1500 = (7.3, 7.4, 7.6, 7.9, 8.3, 8.9, 9.5, 10.1, 10.8, 11.6)
AE7_1700 = (6.5, 6.5, 6.8, 7.1, 7.6, 8.2, 8.8)


@pytest.mark.parametrize(("speed", "table"), [(1500, AE7_1500), (1700, AE7_1700)])
def test_second_joint_of_ae7(speed, table):
    """SAE AE-7, 3.1.1, as tabulated by Engineers Edge, installation angle of drive shafts, ± 0.1°.

    The tabulated second angle leaves the very angle that we permit at that speed.
    """
    most = np.rad2deg(d.angle_for_acceleration(400.0, float(speed)))
    for first, second in enumerate(table):
        low, high = (math.sqrt((second + off) ** 2 - first**2) for off in (-0.1, 0.1))
        assert low < most < high


def test_compound_angle_of_a_driveline_manual():
    """A component maker's driveline installation manual, page 10: 2.15° side, 2.50° plan: 3.3°."""
    offset, fall = (1000.0 * math.tan(math.radians(a)) for a in (2.50, 2.15))
    line = d.one_piece(*array(1000.0, offset, fall, 0.0, 0.0))
    assert math.degrees(line.front[0, 0]) == printed("3.3")


def test_hooke_s_joint_extremes():
    """Any kinematics text (from memory): ω₂/ω₁ runs between cos β and 1/cos β."""
    beta, turn = math.radians(25), np.linspace(0, 2 * np.pi, 721)
    ratio = d.output_speed(np.array(1.0), beta, turn)
    assert ratio.min() == pytest.approx(math.cos(beta))
    assert ratio.max() == pytest.approx(1 / math.cos(beta))


def test_a_mis_phased_pair():
    """A published worked problem: both 20°, 500 rev/min, mis-phased: 566.25 and 441.5 rev/min."""
    beta = math.radians(20)
    assert d.output_speed(d.output_speed(500.0, beta, 0.0), beta, 0.0) == within(566.25, 0.2)
    slow = d.output_speed(d.output_speed(500.0, beta, math.pi / 2), beta, math.pi / 2)
    assert slow == within(441.5, 0.1)


@pytest.mark.parametrize(("degrees_", "speed", "exact"), [(20, 500, 342.60), (3, 3000, 270.70)])
def test_peak_acceleration_by_brute_force(degrees_, speed, exact):
    """α = −ω² cosβ sin²β sin2θ / (1 − sin²β cos²θ)² over a turn (computed); ours is just below."""
    beta, omega = math.radians(degrees_), speed * 2 * math.pi / 60
    turn = np.linspace(0, np.pi, 200_001)
    below = (1 - np.sin(beta) ** 2 * np.cos(turn) ** 2) ** 2
    peak = np.abs(omega**2 * np.cos(beta) * np.sin(beta) ** 2 * np.sin(2 * turn) / below).max()
    assert peak == within(exact, 0.01)
    ours = d.residual_acceleration(np.array(beta), np.array(speed))
    assert ours == pytest.approx(exact, rel=0.03)


def test_whirl_constant_of_the_maker_and_from_first_principles():
    """IMS Ltd, technical data: n = 1.21 × 10⁸ √(D² + d²)/L²; E 207 GPa, ρ 7850 kg/m³."""
    assert within(1.21e8, 0.005e8) == d.WHIRL_FACTOR
    assert d.whirling_speed(76.2, 72.0, 1300.0) == within(7506, 8)
    assert printed("5254") == 0.7 * 7506
    assert d.WHIRL_CLEAR.default == 0.7


def test_whirl_constant_in_inches():
    """IMS Ltd: 4.8 × 10⁶ in inches (two digits printed)."""
    ours = d.whirling_speed(3 * 25.4, 2.83 * 25.4, 51 * 25.4)
    assert ours == pytest.approx(4.8e6 * math.sqrt(3**2 + 2.83**2) / 51**2, rel=0.01)


def test_whirl_of_a_published_worked_example():
    """A worked example in steps: steel tube 3.5 × 0.083 in, 45 in: 11,390 as printed, ± 0.2 %."""
    ours = d.whirling_speed(3.5 * 25.4, (3.5 - 0.166) * 25.4, 45 * 25.4)
    assert ours == pytest.approx(11390, rel=0.002)


@pytest.mark.parametrize(("wall", "length", "whirl"), [(0.065, 51, 7604), (0.083, 57, 6051)])
def test_whirl_of_three_inch_tubes(wall, length, whirl):
    """Steel 3 in tube, the 1.21 × 10⁸ form (computed): 7604; 6051 rev/min."""
    ours = d.whirling_speed(3 * 25.4, (3 - 2 * wall) * 25.4, length * 25.4)
    assert ours == pytest.approx(whirl, rel=0.001)


@pytest.mark.parametrize(("outer", "inner", "length"), [(76.2, 72.9, 1409), (50.8, 47.5, 1144)])
def test_longest_piece_at_4500_rev_min(outer, inner, length):
    """L = √(1.21 × 10⁸ √(D² + d²) × 0.7 / n) at 4500 rev/min (computed): 1409; 1144 mm."""
    assert d.longest_for(outer, inner, 4500 / 0.7) == within(length, 1.0)


def test_three_degrees_of_the_trade_are_the_limit_of_the_elbe_annex():
    """ELBE Group, technical annex 3.1 to 3.3: U = tan β sin β ≤ 0.0027: 2.977° (limit seen)."""
    beta = math.radians(2.9765)
    assert math.tan(beta) * math.sin(beta) == pytest.approx(0.0027, abs=1e-6)
    turn = np.linspace(0, np.pi, 20_001)
    ratio = d.output_speed(np.array(1.0), beta, turn)
    assert ratio.max() - ratio.min() == pytest.approx(0.0027, abs=1e-6)


def three_joints(first, second, third, kinked=0.0):
    """What three joints in one plane leave, by turning them round one after the other [deg].

    kinked: angle between the front shaft's own two forks.
    """
    turn = np.linspace(0.0, 2.0 * np.pi, 7201)
    angle = turn
    for degrees_, offset in ((first, 0.0), (second, math.pi / 2 + kinked), (third, math.pi / 2)):
        fork = angle + offset
        angle = np.unwrap(np.arctan2(np.sin(fork), np.cos(fork) * math.cos(math.radians(degrees_))))
    speed = np.gradient(angle, turn)[1:-1]
    swing = (speed.max() - speed.min()) / 2.0
    return math.degrees(math.sqrt(2.0 * swing))


@pytest.mark.parametrize(
    ("angles", "left"), [((0, 2.5, 2.5), 0.0), ((0.5, 2.5, 2.5), 0.5), ((1, 3, 2.5), 1.32)]
)
def test_resulting_angle_of_three_joints(angles, left):
    """β_res = √|β₁² − β₂² + β₃²|, cardan-shaft catalogues (memory), turned round joint by joint."""
    first, second, third = angles
    assert math.sqrt(abs(first**2 - second**2 + third**2)) == within(left, 0.005)
    assert three_joints(*angles) == within(left, 0.02)


def test_front_shaft_with_forks_at_right_angles_is_worse():
    """1 / 3 / 2.5° with the front shaft's forks at 90° (+ + −): 1.94°, by brute force 1.937°."""
    assert math.sqrt(abs(1**2 + 3**2 - 2.5**2)) == within(1.94, 0.005)
    assert three_joints(1, 3, 2.5, kinked=math.pi / 2) == within(1.937, 0.005)


def test_wedge_is_a_triangle_over_the_spring_s_pad():
    """Plane triangle: 2° over 100 mm are 3.49 mm; the joint 300 mm ahead rises 10.47 mm."""
    assert 100 * math.tan(math.radians(2)) == printed("3.49")
    assert 300 * math.sin(math.radians(2)) == printed("10.47")


def test_wedge_turns_the_shaft_too():
    """Plane triangle: 2°, arm 300, shaft 1200: the shaft turns 0.50°, so 1.5° or 2.5°, not 2°."""
    sizes = d.Joints(*array(1200.0, 0.0, 60.0, 0.0, 0.0, 300.0, 0.0))
    before, after = (d.joints_with(np.array([[w]]), sizes) for w in (0.0, math.radians(2)))
    turned = math.degrees(before.front[0, 0] - after.front[0, 0])
    assert turned == within(0.50, 0.01)
    pinion = math.degrees(abs(math.radians(2) - after.front[0, 0]))
    assert math.degrees(after.rear[0, 0]) == pytest.approx(pinion, abs=1e-9)


def test_wedges_of_the_naval_manual():
    """NAVEDTRA 14050A, caster shims: half-degree steps, to about 4°, never stacked (seen)."""
    assert d.WEDGE_CLEAR.default == 4.0
    assert "never stacked" in BOOK.rules["axle_wedge"].words["why"]


def test_slip_of_plain_geometry():
    """1200 apart, 63 in height, bump 75, droop 100: 1201.65; −1.59 and +9.37 mm (computed)."""
    ride, bump, droop = (
        float(d.way(*array(1200.0, 0.0, fall)).length[0, 0]) for fall in (63.0, 63.0 - 75.0, 163.0)
    )
    assert ride == printed("1201.65")
    assert (bump - ride, droop - ride) == (printed("-1.59"), printed("9.37"))


# ---- by hand ------------------------------------------------------------------------------------


def test_pinion_three_degrees_off_is_cured_by_the_wedge():
    """Engine 3°, pinion 0°, run 1142, drop 52: θ = atan(52 / 1142) = 2.61°.

    Front 2.61°; rear |2.61 − (0 − 3)| = 5.61°; left √(5.61² − 2.61²) = 4.96°. Wedge 3 − 0 = 3°:
    pinion joint up 200 sin 3° = 10.47, θ = atan(41.53 / 1142) = 2.08°, both.
    """
    off = {"driveshaft_pinion_tilt": 0.0}
    found = run("found", **off)
    assert degrees(found, "front_angle") == printed("2.61")
    assert degrees(found, "rear_angle") == printed("5.61")
    assert degrees(found, "joint_residual") == within(4.96, 0.01)
    assert (said(found, "joint_angle"), said(found, "joint_cancel")) == ("clash", "clash")
    assert degrees(found, "wedge_to_cure") == printed("3.00")
    assert math.isnan(nominal(found, "length_to_cure")), "length is not the cure"
    cured = run("fitted", **off)
    assert degrees(cured, "axle_wedge") == printed("3.00")
    assert degrees(cured, "front_angle") == printed("2.08")
    assert degrees(cured, "rear_angle") == printed("2.08")
    assert (said(cured, "joint_angle"), said(cured, "joint_cancel")) == ("clear", "clear")
    assert math.isnan(nominal(cured, "wedge_to_cure")), "nothing is left to cure"


def test_wedge_with_no_arm_leaves_the_joint_where_it_is():
    """As above, the axle's centre in the joint: both 2.61°."""
    wedged = run("fitted", driveshaft_pinion_tilt=0.0, driveshaft_pinion_arm=0.0)
    assert degrees(wedged, "front_angle") == printed("2.61")
    assert degrees(wedged, "rear_angle") == printed("2.61")


def test_wedge_with_an_unknown_arm_is_unmeasured_and_not_passed():
    """Where no wedge is fitted the arm is not asked for."""
    assert said(run(driveshaft_pinion_arm=NAN), "joint_cancel") == "clear"
    wedged = run(driveshaft_pinion_tilt=0.0, driveshaft_pinion_arm=NAN)
    assert said(wedged, "joint_cancel") == "unmeasured"


def test_wedge_of_six_degrees_is_tight_and_of_nine_is_not_to_be_had():
    """Engine 3°, pinion −3°: w = 6°, over the 4° that are clear. Pinion −9°: 12°, over 8°.

    With the 8° that can be had 4° are missing: rear 1.2 + 4 = 5.2°, left √(5.2² − 1.2²) = 5.1°,
    where 20 / ω = 20 / 654 rad = 1.75° are permitted.
    """
    six = run(driveshaft_pinion_tilt=np.deg2rad(-3.0))
    assert degrees(six, "axle_wedge") > 4.0
    assert said(six, "joint_cancel") == "tight"
    twelve = run(driveshaft_pinion_tilt=np.deg2rad(-9.0))
    assert abs(degrees(twelve, "axle_wedge")) <= 8.0 + 1e-9
    assert said(twelve, "joint_cancel") == "clash"
    assert math.isnan(degrees(twelve, "wedge_to_cure"))


def test_least_and_most_wedge_are_where_the_joints_stop_working():
    """At both ends of the Ask the nearer limit is met within a thousandth of a degree."""
    found = run("found", driveshaft_pinion_tilt=0.0)
    ask = found["ask_axle_wedge"]
    for end in (ask.least, ask.most):
        at = run("found", {"axle_wedge": end}, driveshaft_pinion_tilt=0.0)
        margins = [at["reading_joint_angle"].works[0, 0], at["reading_joint_cancel"].works[0, 0]]
        assert min(margins) == within(0.0, 2e-3)


def test_equal_angles_in_crossed_planes_do_not_cancel():
    """Front bent 3° in plan, rear 3° in side view: √|β² e^(0) − β² e^(iπ)| = 3 √2 = 4.24°.

    At 4000 rev/min (ω 419 rad/s) that leaves (0.0740 × 419)² = 962 rad/s², over 400: a clash.
    """
    offset = 1142 * math.tan(math.radians(3.0))
    crossed = run("found", driveshaft_pinion_drop=0.0, driveshaft_pinion_offset=offset,
                  driveshaft_pinion_tilt=np.deg2rad(6.0))  # fmt: skip
    assert degrees(crossed, "front_angle") == printed("3.00")
    # Rear: both bends at once, 3° in plan and 3° in side view.
    assert degrees(crossed, "rear_angle") == within(3 * math.sqrt(2), 0.01)
    bends = 3.0**2 - (3.0 * math.sqrt(2) * cmath.exp(1j * math.pi / 4)) ** 2
    assert degrees(crossed, "joint_residual") == within(math.sqrt(abs(bends)), 0.01)
    assert said(crossed, "joint_cancel") == "clash"


def test_residual_against_brute_force_out_of_plane():
    """Two joints bent in different planes, turned round numerically: the same equivalent angle."""
    line = d.one_piece(*array(1000.0, 60.0, 45.0, 0.02, -0.03))
    shaft = d.way(*array(1000.0, 60.0, 45.0))
    front, rear = (complex(d.bend(shaft, np.array([[s]]))[0, 0]) for s in (0.02, -0.03))
    turn = np.linspace(0, 2 * np.pi, 7201)
    # Second-order fluctuation of a joint bent in the plane φ: ± β²/2 cos 2(θ − φ).
    left = [abs(b) ** 2 / 2 * np.cos(2 * (turn - cmath.phase(b))) for b in (front, rear)]
    swing = np.abs(left[0] - left[1]).max()
    assert math.sqrt(2 * swing) == pytest.approx(float(line.residual[0, 0]), rel=1e-6)


def test_parallel_axes_cancel_in_any_plane():
    line = d.one_piece(*array(900.0, 80.0, 60.0, 0.05, 0.05))
    assert line.front[0, 0] == pytest.approx(line.rear[0, 0])
    assert line.residual[0, 0] == pytest.approx(0.0, abs=1e-6)


def test_a_straight_shaft_is_tight_since_its_needles_do_not_roll():
    """Drop 5 over 1142: atan = 0.25°, below 0.5°."""
    straight = run(driveshaft_pinion_drop=5.0)
    assert degrees(straight, "front_angle") == printed("0.25")
    assert said(straight, "joint_angle") == "tight"


def test_too_short_is_said_only_where_length_is_the_cure():
    """Run 2000 − 160 − 1240 = 600, drop 52: θ 4.95°, both axes level.

    Judged at 160 km/h: 160e6 / 60 / 1900 × 4.1 = 5754 rev/min, where 3.0° are permitted; long
    enough would be 52 / sin 3° = 993.6.
    """
    short = run("found", length=1240.0, driveshaft_greatest_speed=160.0)
    assert nominal(short, "shaft_speed") == within(5754, 1)
    assert degrees(short, "front_angle") == printed("4.95")
    assert said(short, "joint_angle") == "clash"
    assert nominal(short, "length_to_cure") == within(993.6, 0.1)
    assert degrees(short, "front_over") == printed("1.95")


def test_lift_tilts_gearbox_and_raises_its_joint():
    """h 10, pad 800, pivot −350: δ = 10 / 1150 = 0.498°; output at 858 rises 1208 δ = 10.50.

    θ = atan(62.5 / 1142) = 3.13°; front 3.13 + 0.50 = 3.63°; rear 3.13°, the frame being as found.
    """
    delta = 10 / 1150
    lifted = run("found", lift_tilt=delta, output_rise=1208 * delta)
    assert math.degrees(delta) == printed("0.498")
    assert 1208 * delta == printed("10.50")
    assert degrees(lifted, "front_angle") == printed("3.63")
    assert degrees(lifted, "rear_angle") == printed("3.13")


def test_speed_is_that_which_one_lets_the_car_do_else_redline_in_top():
    """Redline 5000 in 0.8: shaft 5000 / 0.8 = 6250; 120 km/h: 120e6 / 60 / 1900 × 4.1 = 4316."""
    assumed = run()
    assert nominal(assumed, "shaft_speed") == printed("6250")
    assert nominal(assumed, "assumed_speed") == within(6250 * 60 * 1900 / 1e6 / 4.1, 0.1)
    stated = run(driveshaft_greatest_speed=120.0)
    assert nominal(stated, "shaft_speed") == within(4315.8, 0.1)
    assert math.isnan(nominal(stated, "assumed_speed"))


def test_an_overdrive_does_not_spin_the_shaft_faster_at_a_road_speed():
    ratios = [[3.42, 2.08, 1.39, 1.0, top, NAN, NAN, NAN] for top in (0.9, 0.8)]
    speeds = run(ratios=ratios, driveshaft_greatest_speed=[[120.0], [120.0]])["shaft_speed"]
    assert np.unique(speeds).size == 1


def test_two_pieces_of_the_worked_sum():
    """Run 1400, front piece 500 at 0.5°, drop 52, axes parallel.

    drop₂ = 52 − 500 sin 0.5° = 47.64, run₂ = 1400 − 500 cos 0.5° = 900.02: θ₂ = 3.03°;
    β₂ = 2.53°, β₃ = 3.03°, left √|0.5² − 2.53² + 3.03²| = 1.74°; L₂ = 901.
    """
    split = run("found", {"two_pieces": np.array([[500.0]])}, length=440.0)
    assert nominal(split, "joint_run") == 1400.0
    assert degrees(split, "front_angle") == printed("2.53")
    assert degrees(split, "rear_angle") == printed("3.03")
    assert degrees(split, "joint_residual") == printed("1.74")
    assert nominal(split, "rear_length") == printed("901")


def test_whirl_of_one_piece_and_of_the_rear_one():
    """57.15 × 1.8 over 1401: 4,828 rev/min whole; over 901 11,666 (as the design has it)."""
    tube = 57.15, 57.15 - 3.6
    assert d.whirling_speed(*tube, math.hypot(1400, 52)) == within(4828, 6)
    assert d.whirling_speed(*tube, 901.2) == within(11666, 16)


def test_a_larger_tube_comes_before_two_pieces():
    """57.15 × 1.8, 1143 long, 6250 rev/min: n = 1.21e8 √(57.15² + 53.55²) / 1143² = 7251: 0.86.

    63.5: √(63.5² + 59.9²) = 87.3, n 8083, 0.77; 76.2: 105.2, n 9747, 0.64: so 76.2.
    """
    thin = {"driveshaft_tube_diameter": 57.15}
    assert said(run("found", **thin), "whirl") == "clash"
    thick = run("fitted", **thin)
    assert nominal(thick, "larger_tube") == 76.2
    assert nominal(thick, "two_pieces") == 0.0
    assert nominal(thick, "whirl") == within(0.641, 0.002)
    assert nominal(thick, "shaft_to_order") == within(1143.2, 0.1), "another tube is another shaft"


@pytest.mark.parametrize(
    ("speed", "share", "words"),
    [(6700, 0.688, "clear"), (7000, 0.718, "tight"), (7400, 0.759, "clash")],
)
def test_share_of_the_whirling_speed(speed, share, words):
    """76.2 × 1.8 over 1143.2 whirls at 1.21e8 √(76.2² + 72.6²) / 1143.2² = 9747 rev/min."""
    car = run("found", driveshaft_greatest_speed=speed * 60 * 1900 / 1e6 / 4.1)
    assert nominal(car, "whirl") == within(share, 0.001)
    assert said(car, "whirl") == words


@pytest.mark.parametrize(("degrees_", "arm"), [(0.16, 358), (0.25, 229), (0.33, 174)])
def test_a_millimetre_of_spacer_as_geometry(degrees_, arm):
    """Two makers' workshop manuals: 1 mm turns 0.16, 0.25, 0.33°; lever arms 1 / tan (computed)."""
    assert 1 / math.tan(math.radians(degrees_)) == printed(str(arm))


def test_a_shaft_that_no_tube_saves_is_made_in_two_pieces():
    """1560 long (run 1559), 6250 rev/min: 101.6 × 1.8: n = 1.21e8 × 141.1 / 1560² = 7017: 0.89.

    With 76.2 the longest clear piece is √(1.21e8 × 105.2 × 0.7 / 6250) = 1194: front 367.
    """
    long = {"length": 440.0, "driveshaft_pinion_x": 2159.0, "driveshaft_longest_piece": 1600.0}
    assert said(run("found", **long), "whirl") == "clash"
    split = run("fitted", **long)
    assert nominal(split, "larger_tube") == 0.0
    assert nominal(split, "two_pieces") == within(367, 2)
    assert nominal(split, "rear_length") == within(1194, 2)
    assert said(split, "whirl") == "clear"
    assert nominal(split, "shaft_to_order") == 0.0, "one shaft is paid for"
    assert said(split, "shaft_length") == "clear"
    assert said(split, "plunge") == "clear", "the rear piece has a sliding joint of its own"


def test_longer_than_the_longest_piece_takes_two_whatever_the_tube():
    """1143 against 1000: front piece at least 1143 − 1000 = 143, so the 300 of practice."""
    long = run(driveshaft_longest_piece=1000.0)
    assert said(run("found", driveshaft_longest_piece=1000.0), "whirl") == "clash"
    assert nominal(long, "larger_tube") == 0.0
    assert nominal(long, "two_pieces") == 300.0
    assert said(long, "whirl") == "clear"


def test_two_pieces_want_a_wedge_of_their_own():
    """Three joints cancel where β₃² = β₂² − 0.5²: the wedge turns the pinion a little off parallel.

    Front 500, run 1400, engine 3°, pinion 0°: rear 3.03 + 3 = 6.03°, left √|0.25 − 6.4 + 36.4| =
    5.50°.
    """
    tilted = {"length": 440.0, "driveshaft_pinion_tilt": 0.0, "driveshaft_longest_piece": 1000.0}
    found = run("found", {"two_pieces": np.array([[500.0]])}, **tilted)
    assert degrees(found, "rear_angle") == printed("6.03")
    assert degrees(found, "joint_residual") == within(5.50, 0.01)
    cured = run("fitted", {"two_pieces": np.array([[500.0]])}, **tilted)
    middle, rear = degrees(cured, "front_angle"), degrees(cured, "rear_angle")
    assert rear == within(math.sqrt(middle**2 - 0.5**2), 0.01)
    assert degrees(cured, "joint_residual") == within(0.0, 0.06)
    assert said(cured, "joint_cancel") == "clear"


def test_two_pieces_that_are_known_to_be_needed_are_not_lost_by_an_unknown_longest_piece():
    """Nobody stated the longest piece: the check is open, the decision rests on whirl alone."""
    unknown = run(driveshaft_longest_piece=NAN)
    assert said(unknown, "whirl") == "unmeasured"
    assert nominal(unknown, "two_pieces") == 0.0
    thin = run("found", driveshaft_longest_piece=NAN, driveshaft_tube_diameter=38.0)
    assert said(thin, "whirl") == "clash", "what is known to whirl whirls"


def test_today_s_shaft_goes_on_within_five_millimetres():
    """Length 702 against 698: 4 shorter, it goes on. 704: 6, another is made: 1137.2."""
    near = run(length=702.0)
    assert nominal(near, "shaft_change") == within(-4.0, 0.01)
    assert nominal(near, "shaft_to_order") == 0.0
    assert said(near, "shaft_length") == "clear"
    found = run("found", length=704.0)
    assert said(found, "shaft_length") == "clash"
    made = run("fitted", length=704.0)
    assert nominal(made, "shaft_to_order") == within(math.hypot(1136, 52), 0.01)
    assert said(made, "shaft_length") == "clear"


def test_engine_forward_lengthens_the_shaft():
    """9 mm forward: x_face 151, run 1151: √(1151² + 52²) = 1152.2, 9.0 more."""
    forward = run(x_face=151.0)
    assert nominal(forward, "shaft_to_order") == within(1152.2, 0.05)


@pytest.mark.parametrize(
    ("travel", "spare", "words"),
    [(72.0, 6.6, "clear"), (68.0, 2.6, "tight"), (60.0, -5.4, "clash")],
)
def test_slip_yoke_keeps_a_diameter_engaged(travel, spare, words):
    """Needs 35 + 5 + 25.4 = 65.4 (practice): 72 leaves 6.6, 68 2.6, 60 is 5.4 short."""
    slip = run(slip_travel=travel)
    assert nominal(slip, "plunge") == within(spare, 1e-9)
    assert said(slip, "plunge") == words


def test_thirty_five_of_forty_five_is_no_longer_clear():
    """35 of travel in a yoke of 45: 10 to spare, but 5 + 25.4 are asked for: 20.4 short."""
    assert nominal(run(slip_travel=45.0), "plunge") == within(-20.4, 1e-9)


def test_bump_and_droop_set_the_stand_out():
    """Bump 12, droop 30: 42 of travel; 12 + 5 = 17 out from bottomed; 42 + 5 + 25.4 = 72.4 > 72."""
    axle = run(driveshaft_plunge_bump=12.0, driveshaft_plunge_droop=30.0)
    assert nominal(axle, "axle_plunge") == 42.0
    assert nominal(axle, "yoke_stand_out") == 17.0
    assert nominal(axle, "plunge") == within(-0.4, 1e-9)
    assert said(axle, "plunge") == "clash"


def test_slip_too_short_for_travel_alone_needs_no_spline_to_say_so():
    assert said(run(slip_travel=38.0, output_spline_diameter=NAN), "plunge") == "clash"
    assert said(run(slip_travel=72.0, output_spline_diameter=NAN), "plunge") == "unmeasured"


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "clear"),
        ({"output_spline_teeth": 23.0}, "clash"),
        ({"output_spline_diameter": 28.0}, "clash"),
        ({"output_spline_diameter": 25.6}, "clear"),
        ({"output_spline_teeth": NAN}, "unmeasured"),
        ({"output_spline_teeth": NAN, "output_spline_diameter": 28.0}, "clash"),
        ({"output_type": 1.0}, "clash"),
        ({"output_type": 1.0, "present_output_type": 1.0}, "tight"),
        ({"driveshaft_yoke_spline_teeth": NAN}, "unmeasured"),
        ({"driveshaft_yoke_spline_teeth": NAN, "present_output_spline_teeth": 16.0}, "clear"),
    ],
)
def test_yoke_matches_or_another_is_fitted(changed, words):
    """16 splines of 25.4 on today's yoke; 0.2 mm over them is the same, 2.6 is not."""
    assert said(run("found", **changed), "yoke_match") == words
    if words == "clash":
        fitted = run("fitted", **changed)
        assert nominal(fitted, "yoke_to_match") == 1.0
        assert said(fitted, "yoke_match") == "clear"


def test_a_plate_of_today_s_gearbox_counts_in_today_s_shaft():
    """Plate 12 behind an engine plate of 3: run 2000 − 3 − 160 − 12 − 698 = 1127."""
    today = run(engine_backplate=3.0, present_adapter=1.0, present_adapter_thickness=12.0)
    assert nominal(today, "shaft_length_today") == within(math.hypot(1127, 52), 1e-9)


# ---- properties ---------------------------------------------------------------------------------

CHECKED = [rule.name for rule in BOOK.rules.values() if rule.topic == "driveline"]


def parts_of(result):
    """One array, or each of several under names."""
    return [np.asarray(a, dtype=float) for a in (result if isinstance(result, tuple) else (result,))]


def test_vector_equals_scalar_and_one_car_meets_many_builds():
    """Builds down, draws across: every result of the topic equals the same alone."""
    rng = np.random.default_rng(3)
    across = {
        "driveshaft_pinion_tilt": np.deg2rad(rng.uniform(-4, 4, (1, 5))),
        "driveshaft_tube_diameter": rng.choice([44.0, 57.15, 76.2], (1, 5)),
        "driveshaft_pinion_offset": rng.uniform(-40, 40, (1, 5)),
    }
    down = {"length": rng.uniform(400, 900, (4, 1)), "x_face": rng.uniform(140, 190, (4, 1))}
    grid = run("fitted", **across, **down)
    for build in range(4):
        for draw in range(5):
            one = run(
                "fitted",
                **{k: v[0, draw] for k, v in across.items()},
                **{k: v[build, 0] for k, v in down.items()},
            )
            for name in CHECKED:
                for whole, single in zip(parts_of(grid[name]), parts_of(one[name]), strict=True):
                    many = np.broadcast_to(whole, (4, 5, *whole.shape[2:]))[build, draw]
                    alone = single.reshape(many.shape)
                    assert many == pytest.approx(alone, abs=1e-9, nan_ok=True), name


def test_a_wedge_never_makes_the_joints_worse():
    """300 random cars: where a wedge is fitted both joint checks work with it, if 8° suffice."""
    rng = np.random.default_rng(4)
    cars = {
        "driveshaft_pinion_tilt": np.deg2rad(rng.uniform(-6, 9, (300, 1))),
        "driveshaft_engine_tilt": np.deg2rad(rng.uniform(0, 5, (300, 1))),
        "driveshaft_pinion_drop": rng.uniform(-20, 110, (300, 1)),
        "driveshaft_pinion_offset": rng.uniform(-30, 30, (300, 1)),
        "driveshaft_greatest_speed": rng.uniform(90, 150, (300, 1)),
    }
    found, fitted = run("found", **cars), run("fitted", **cars)
    wedged = np.abs(fitted["axle_wedge"]) > 0
    within_reach = wedged & (np.abs(fitted["axle_wedge"]) < np.deg2rad(8.0) - 1e-9)
    assert within_reach.sum() > 50
    for check in ("joint_angle", "joint_cancel"):
        assert (fitted[f"reading_{check}"].works[within_reach] >= -1e-6).all()
    for check in ("joint_angle", "joint_cancel"):
        now, before = (values[f"verdict_{check}"][~wedged] for values in (fitted, found))
        assert np.array_equal(now, before)


def test_every_unknown_leaves_something_unmeasured_and_nothing_better():
    """Erasing one number of the car or the gearbox never turns a verdict clearer."""
    names = [n for n in CAR if n.startswith("driveshaft") and not n.endswith(("arm",))]
    before = run()
    for name in names:
        after = run(**{name: NAN})
        for check in (r.name for r in BOOK.checks if r.topic == "driveline"):
            now = said(after, check)
            assert now == "unmeasured" or now == said(before, check), (name, check)
