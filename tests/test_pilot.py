"""Pilot: formulas against published figures, the window of thickness, worked by hand. Lengths in
mm.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import printed
from scipy.optimize import linprog

from compare.judge.rules import Rulebook
from compare.topics import all_topics, pilot, thickness


def col(*values):
    return np.array([[v] for v in values], dtype=float)


LIMITS = Rulebook.from_topics(all_topics()).limits


# ---- published figures and limits ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("journal", "length"), [(10.5, "2"), (12.7, "2"), (18.0, "2"), (18.2, "2.5"), (60.0, "2.5")]
)
def test_undercut_length_of_din_509(journal, length):
    """DIN 509 E and F: 2 mm over 10 to 18, 2.5 over 18 to 80 (a control's manual, p. 686; E1
    workbook); seen.
    """
    assert pilot.undercut_length(col(journal), 2.0, 2.5)[0, 0] == printed(length)


def test_a_journal_of_12_7_wants_more_than_1_5_before_its_shoulder():
    """From the first row of DIN 509 (computed): the undercut of 2.0 is more than a gap of 1.5."""
    assert LIMITS["undercut_small"].default > 1.5


def test_limits_are_those_of_their_sources():
    """Case 0.5 to 1.0 mm: Ovako. Thinnest bush wall sold 2.0: ISO 2795 (from memory). Pilot bore
    0.13: TM 5-3895.
    """
    assert LIMITS["case_depth_assumed"].default == printed("0.5")
    assert LIMITS["bush_wall_clear"].default == printed("2.0")
    assert LIMITS["pilot_bore_runout"].default == printed("0.13")
    assert LIMITS["housing_bore_runout"].default == printed("0.20")  # Cummins N14, p. 0-71
    assert LIMITS["housing_face_runout"].default == printed("0.30")  # TM 5-3895-383-24


def test_running_clearance_lies_within_h7_f7():
    """ISO 286-2: 12 and 16 mm H7/f7, clearance 16 to 52 µm; seen."""
    assert 0.016 <= LIMITS["pilot_running_clearance"].default <= 0.052


def test_needles_want_no_more_than_a_drawn_cup_gives():
    """NTN p. 95: drawn cup F8 on h6 at 12 to 16 mm (computed): 16 to 54 µm."""
    assert 0.054 <= LIMITS["pilot_needle_clear"].default < 0.07


def test_every_limit_of_these_topics_names_a_source_or_says_practice():
    for limit in LIMITS.values():
        assert limit.why, limit.name


# ---- diameters ----------------------------------------------------------------------------------


def ways(journal, bush=12.7, bore=21.0, case=0.8, needle=0.0):
    return pilot.pilot_ways(col(journal), col(bush), col(bore), col(needle), col(case), 2.0, 1.5, 0.3, -0.02, 0.03,
                            0.10, 0.5, 10.0)  # fmt: skip


# Crank bore 21, bush bore 12.7. Three journals by hand:
# 15.0: wall (21 − 15)/2 = 3.0; to the present bush less 0.03: (15 − 12.67)/2 = 1.165 a side.
# 18.2: wall 1.4, too thin; to 21 − 4 = 17: 0.6 a side; to 12.67: 2.765; open the bore to 22.2:
# 0.6 a side.
# 19.8: wall 0.6; to 17: 1.4 a side; to 12.67: 3.565; open to 23.8: 1.4 a side.
@pytest.mark.parametrize(
    ("journal", "to_present", "to_largest", "opened"),
    [(15.0, 1.165, None, None), (18.2, 2.765, 0.6, 0.6), (19.8, 3.565, 1.4, 1.4)],
)
def test_ways_by_the_diameters(journal, to_present, to_largest, opened):
    found = ways(journal)
    assert found.cut[0, 0, pilot.TO_PRESENT] == pytest.approx(to_present)
    for value, field, option in (
        (to_largest, found.cut, pilot.TO_LARGEST),
        (opened, found.opened, pilot.OPEN_BORE),
    ):
        works = found.works[0, 0, option] >= 0
        assert works == (value is not None)
        if value is not None:
            assert field[0, 0, option] == pytest.approx(value)
    assert (found.works[0, 0, pilot.NEW_BUSH] >= 0) == (journal <= 18.0)


def test_the_shallowest_way_ranks_first_then_the_least_metal():
    order = ways(19.8).rank[0, 0]
    assert (
        order[pilot.NEW_BUSH]
        < order[pilot.TO_LARGEST]
        < order[pilot.TO_PRESENT]
        < order[pilot.OPEN_BORE]
    )


def test_a_journal_below_ten_is_not_turned():
    """Practice: bore 13.5 leaves 9.5 for a journal of 14."""
    found = ways(14.0, bush=9.9, bore=13.5)
    assert found.works[0, 0, pilot.TO_LARGEST] < 0 and found.works[0, 0, pilot.TO_PRESENT] < 0


def test_unknown_diameters_leave_every_way_open():
    assert np.isnan(ways(math.nan).works).all()


# ---- lengths ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mouth", "depth", "bore", "shoulder", "stop"),
    [
        (0.0, 0.0, 21.0, 25.4, 0.0), (30.0, 6.0, 21.0, 25.4, 6.0), (30.0, 6.0, 26.0, 25.4, math.inf),
        (0.0, 0.0, 26.0, 25.4, math.inf), (24.0, 6.0, 21.0, 25.4, 0.0),
    ],
)  # fmt: skip
def test_shoulder_finds_the_first_thing_narrower_than_itself(mouth, depth, bore, shoulder, stop):
    assert pilot.other_stop(mouth, depth, bore, shoulder) == stop


def test_an_unknown_mouth_is_no_stop_and_no_pass():
    assert math.isnan(pilot.other_stop(30.0, math.nan, 21.0, 25.4))


def test_backplate_and_integral_bell():
    """Design: 3.2 + 160 = 163.2, stick-out 163, flange 25: 24.8."""
    assert pilot.tip_reach(25.0, 163.2, 0.0, 163.0) == printed("24.8")


def test_vector_equals_scalar_and_car_meets_builds():
    found = pilot.tip_reach(
        np.array([[25.0, 26.0, 27.0]]), col(160, 150), col(0, 20), col(163, 172)
    )
    assert found.shape == (2, 3) and found[1, 2] == pilot.tip_reach(27.0, 150.0, 20.0, 172.0)


# ---- the window of thickness --------------------------------------------------------------------

WINDOW = {
    "crank_bore_depth": 34.0, "stop": 6.0, "pilot_length": 27.0, "recess": 2.0, "bush_length": 20.0,
    "spline_start": 36.0, "spline_end": 88.0, "hub_rear": 48.5, "hub_front": 17.5, "stickout": 172.0, "collar": 88.0,
    "journal": 14.0,
}  # fmt: skip


def window(**changes):
    v = {k: col(x) for k, x in (WINDOW | changes).items()}
    lengths = pilot.Lengths(
        v["crank_bore_depth"], col(1.0), v["pilot_length"], col(2.0), v["stop"], v["recess"],
        v["recess"] + v["bush_length"], 0.5 * v["journal"], col(-15.5),
    )  # fmt: skip
    terms = thickness.Terms(
        lengths, v["journal"], v["spline_start"], v["spline_end"], v["hub_front"], v["hub_rear"],
        v["hub_front"] + 1e6, v["hub_rear"] + 1e6, col(28.0), v["stickout"], v["collar"], col(0.0),
    )  # fmt: skip
    return thickness.thickness_window(col(57.0), terms, 1.0, 0.5, 0.85, 1.0)


def test_window_by_hand():
    # Reach at most: end gap 34 − 1 = 33; shoulder min(6, 2) + 27 − 2 = 27; hub 88 − 48.5 = 39.5;
    # guide 172 − 88 − 48.5 − 1 = 34.5. At least: bush 2 + 7 = 9; hub 36 − 17.5 − 4.2 = 14.3.
    # Thickness 57 − reach: 30 to 42.7.
    found = window()
    assert (found.low[0, 0], found.high[0, 0]) == (pytest.approx(30.0), pytest.approx(42.7))
    assert thickness.WINDOW_CHECKS[found.low_by[0, 0]] == "shoulder_gap"
    assert thickness.WINDOW_CHECKS[found.high_by[0, 0]] == "hub_seat"


def test_checks_that_exclude_each_other_are_named_with_the_millimetres():
    # Splines 45 to 68: reach at least 45 − 17.5 − 4.2 = 23.3, at most 68 − 48.5 = 19.5: 3.8 apart.
    found = window(spline_start=45.0, spline_end=68.0)
    assert found.low[0, 0] - found.high[0, 0] == pytest.approx(3.8)


def test_unknown_ends_leave_the_window_open_there():
    assert window(spline_start=math.nan, collar=math.nan).low[0, 0] == pytest.approx(30.0)
    assert math.isnan(window(spline_start=math.nan, journal=math.nan).high[0, 0])


def constraints(v, t):
    """Every position check as ≥ 0, from the plain definitions."""
    reach = 57.0 - t
    hold = min(reach, v["recess"] + v["bush_length"]) - max(
        v["recess"], reach - v["pilot_length"] + 2.0
    )
    return (
        v["crank_bore_depth"] - reach - 1.0,
        min(v["stop"], v["recess"]) - (reach - v["pilot_length"]) - 2.0,
        hold - 0.5 * v["journal"],
        v["spline_end"] - (reach + v["hub_rear"]),
        reach + v["hub_front"] - v["spline_start"] + 0.15 * 28.0,
        v["stickout"] - v["collar"] - (reach + v["hub_rear"]) - 1.0,
    )


@pytest.mark.parametrize("seed", range(40))
def test_window_against_linear_programming_and_a_scan(seed):
    """The same window from scipy.optimize.linprog on the inequalities, and from a scan by 0.05 mm."""
    random = np.random.default_rng(seed)
    v = {k: x + random.uniform(-4, 4) for k, x in WINDOW.items()}
    found = window(**v)
    low, high = float(found.low[0, 0]), float(found.high[0, 0])
    upper = [v["crank_bore_depth"] - 1, min(v["stop"], v["recess"]) + v["pilot_length"] - 2,
             v["spline_end"] - v["hub_rear"], v["stickout"] - v["collar"] - v["hub_rear"] - 1]  # fmt: skip
    lower = [v["recess"] + 0.5 * v["journal"], v["spline_start"] - v["hub_front"] - 4.2]
    a = [[-1.0]] * len(upper) + [[1.0]] * len(lower)
    b = [u - 57.0 for u in upper] + [57.0 - x for x in lower]
    least, most = (linprog([c], A_ub=a, b_ub=b, bounds=[(None, None)]) for c in (1.0, -1.0))
    scan = [t for t in np.arange(-40, 120, 0.05) if min(constraints(v, t)) >= -1e-9]
    if low > high:
        assert least.status == 2 and not scan
        return
    assert least.x[0] == pytest.approx(low, abs=1e-6) and most.x[0] == pytest.approx(high, abs=1e-6)
    if high - low > 0.1:
        assert scan[0] == pytest.approx(low, abs=0.06) and scan[-1] == pytest.approx(high, abs=0.06)
