"""Input shaft: routes, hub and window, worked by hand. Lengths in mm."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import linprog

from compare.topics import input_shaft as s

LIMITS = {"wall_clear": 2.0, "wall_tight": 1.5, "clearance_clear": 0.15, "clearance_tight": 0.3, "clearance_least": -0.02}


def col(*values):
    return np.array([[v] for v in values], dtype=float)


def test_shoulder_finds_the_first_thing_narrower_than_itself():
    # No mouth, bore narrower than the shoulder: the flange plane. Mouth wider: its end. Bore wider too: the bush.
    assert s.stop_depth(0.0, 0.0, 21.0, 2.0, 25.4) == 0.0
    assert s.stop_depth(30.0, 6.0, 21.0, 2.0, 25.4) == 6.0
    assert s.stop_depth(30.0, 6.0, 26.0, 9.0, 25.4) == 9.0
    assert s.stop_depth(0.0, 0.0, 26.0, 9.0, 25.4) == 9.0
    assert math.isnan(s.stop_depth(30.0, math.nan, 21.0, 2.0, 25.4))


def test_turning_back_past_the_splines_moves_their_start():
    # reach 50, stop 6: 50 − 6 + 1.5 = 45.5 of journal; the splines began at 38 and now begin at 45.5.
    needed = s.journal_needed(col(50), col(6), col(20), 1.5)
    assert needed[0, 0] == 45.5
    assert s.spline_start_after(col(38), needed, s.turned_back(needed, col(20)))[0, 0] == 45.5
    # A journal long enough moves nothing, and neither does turning back short of the splines.
    assert s.spline_start_after(col(38), col(26), col(0))[0, 0] == 38
    assert s.spline_start_after(col(50), col(45.5), col(25.5))[0, 0] == 50


def test_hub_on_the_runout_is_a_clash_even_when_the_journal_fits():
    reading = s.hub_seat(col(20.0), col(-0.5), col(28.0), 2.0, 0.85)
    assert reading.works[0, 0] == -0.5 and reading.value[0, 0] == -0.5


def test_hub_short_at_the_front_is_tight_down_to_85_percent():
    # A hub of 28 may stand 4.2 off its splines: 85 % engaged.
    assert s.engaged_share(-4.2, 28.0) == pytest.approx(0.85)
    for front, works in ((-4.1, True), (-4.3, False)):
        assert (s.hub_seat(col(front), col(9.0), col(28.0), 2.0, 0.85).works[0, 0] >= 0) == works


# Crank bore 21, bush bore 12.7. Three journals by hand:
# 15.0: as it is −2.3; wall (21 − 15)/2 = 3.0 clear; turn to 12.7: 1.15 a side; to 17: nothing to turn.
# 18.2: wall 1.4, too thin; turn to 17: 0.6 a side, to 12.7: 2.75; open the bore to 22.2: 0.6 a side.
# 19.8: wall 0.6; turn to 17: 1.4 a side, to 12.7: 3.55; open to 23.8: 1.4 a side.
@pytest.mark.parametrize(
    ("journal", "wall", "to_present", "to_largest", "opened"),
    [(15.0, 3.0, 1.15, None, None), (18.2, 1.4, 2.75, 0.6, 0.6), (19.8, 0.6, 3.55, 1.4, 1.4)],
)
def test_routes_by_the_diameters(journal, wall, to_present, to_largest, opened):
    after, bore, walls, cut, works, _ = s.route_diameters(col(journal), col(12.7), col(21.0), col(0.8), LIMITS)
    assert walls[0, 0, s.NEW_BUSH] == pytest.approx(wall)
    assert (works[0, 0, s.NEW_BUSH] >= 0) == (wall >= 1.5)
    assert cut[0, 0, s.TO_PRESENT] == pytest.approx(to_present)
    assert after[0, 0, s.TO_PRESENT] == 12.7 and after[0, 0, s.TO_LARGEST] == 17.0
    if to_largest is None:
        assert works[0, 0, s.TO_LARGEST] < 0 and works[0, 0, s.OPEN_BORE] < 0
    else:
        assert cut[0, 0, s.TO_LARGEST] == pytest.approx(to_largest)
        assert bore[0, 0, s.OPEN_BORE] == pytest.approx(journal + 4.0)
        assert cut[0, 0, s.OPEN_BORE] == pytest.approx(opened)


def routes(pilot, reach=28.0, pilot_length=26.0, case=0.8, deepest=3.0, bush=20.0, hub_front_worn=17.5, bush_bore=12.7):
    """Routes with the demo van's crankshaft: bore 21 × 34, bush 12.7 × 20 recessed 2, stop at 6."""
    needed = max(pilot_length, reach - 6 + 1.5)
    cut = max(1.0 - (34 - reach), 0.0)
    return s.pilot_routes(col(pilot), col(bush_bore), col(21.0), col(2.0), col(bush), col(case), col(reach), col(cut), col(needed), col(hub_front_worn), col(deepest),
                          2.0, 1.5, 0.15, 0.30, -0.02, 0.75, 0.5, 2.0, 1.5)  # fmt: skip


@pytest.mark.parametrize(
    ("pilot", "route"),
    [(12.7, s.AS_IT_IS), (12.75, s.NEW_BUSH), (15.0, s.NEW_BUSH), (18.0, s.NEW_BUSH), (18.2, s.TO_LARGEST), (19.8, s.TO_LARGEST)],
)
def test_route_taken_by_the_journal(pilot, route):
    assert routes(pilot).chosen[0, 0] == route


def test_inside_the_case_is_clear_and_through_it_is_tight():
    inside = routes(18.2, case=0.8)
    through = routes(19.8, case=0.7)
    assert inside.comfort[0, 0, s.TO_LARGEST] == pytest.approx(0.2)
    assert through.comfort[0, 0, s.TO_LARGEST] == pytest.approx(-0.7)


def test_opening_the_crank_bore_is_offered_only_when_permitted_and_nothing_smaller_goes():
    # Bore 21 and bush bore 20.9 with a journal of 20.9 + 0.2: nothing can be turned off that leaves a bush... it can.
    forbidden = routes(19.8, deepest=0.0)
    assert s.ROUTE_UNDO[forbidden.chosen[0, 0]] > 0  # nothing that bolts back goes; the check then clashes
    reading = s.pilot_size(forbidden, col(float(forbidden.chosen[0, 0])), col(0.0))
    assert reading.works[0, 0] < 0


def test_a_shaft_that_does_not_reach_takes_an_extended_bush():
    # reach 5: the plain bush (2 to 22) holds 5 − 2 = 3 of a journal of 15, 7.5 is the least.
    # Extended it may come within 2 of the hub (17.5 − 2 = 15.5 behind the flange) and within 1.5 of the shoulder.
    # Comfort asks for 0.75 × 15 = 11.25: near end at depth 5 − 11.25 = −6.25, hold 11.25, length 22 + 6.25 = 28.25.
    found = routes(15.0, reach=5.0, pilot_length=24.0)
    assert found.chosen[0, 0] == s.EXTENDED
    assert found.hold[0, 0, s.EXTENDED] == pytest.approx(11.25)
    assert found.length[0, 0, s.EXTENDED] == pytest.approx(28.25)


def test_an_extended_bush_stops_two_short_of_the_hub():
    # Hub 4 behind the flange: the bush may stand 2 proud, hold 5 + 2 = 7 < 7.5: no route holds.
    found = routes(15.0, reach=5.0, pilot_length=24.0, hub_front_worn=4.0)
    assert found.hold[0, 0, s.EXTENDED] == pytest.approx(7.0)
    reading = s.bush_hold(found, col(15.0), col(5.0), col(0.0), col(24.0), col(2.0), col(20.0), 0.75, 0.5)
    assert reading.value[0, 0] == 3.0 and reading.works[0, 0] == pytest.approx(-4.5)


WINDOW = {
    "reach_bare": col(57.0), "crank_bore_depth": col(34.0), "shoulder_stop": col(6.0), "pilot_length": col(27.0), "crank_bush_recess": col(2.0), "crank_bush_length": col(20.0),
    "spline_start": col(36.0), "spline_end": col(88.0), "hub_rear_released": col(48.5), "hub_front_worn": col(17.5), "shaft_stickout": col(172.0), "collar_length": col(88.0), "journal_planned": col(14.0),
}  # fmt: skip


def window(**changes):
    values = dict(WINDOW | changes)
    bare, journal = values.pop("reach_bare"), values.pop("journal_planned")
    return s.thickness_window(bare, s.reach_terms(**values), journal, hub_length=col(28.0), end_gap_tight=1.0, shoulder_gap_tight=1.5, bush_hold_tight=0.5, hub_seat_share_tight=0.85, collar_gap_tight=1.0)


def test_window_by_hand():
    # Reach at most: end gap 34 − 1 = 33; shoulder 6 + 27 − 1.5 = 31.5; bush 2 + 20 + 27 − 7 = 42; hub 88 − 48.5 = 39.5; guide 172 − 88 − 48.5 − 1 = 34.5.
    # Reach at least: bush 2 + 7 = 9; hub 36 − 17.5 − 4.2 = 14.3. Thickness 57 − reach: 25.5 to 42.7.
    found = window()
    assert found.low[0, 0] == pytest.approx(25.5) and found.high[0, 0] == pytest.approx(42.7)
    assert s.WINDOW_CHECKS[found.low_by[0, 0]] == "shoulder_gap" and s.WINDOW_CHECKS[found.high_by[0, 0]] == "hub_seat"


def test_checks_that_exclude_each_other_are_named_with_the_millimetres():
    # Splines 45 to 68: reach at least 45 − 17.5 − 4.2 = 23.3, at most 68 − 48.5 = 19.5: 3.8 apart.
    found = window(spline_start=col(45.0), spline_end=col(68.0))
    assert found.low[0, 0] - found.high[0, 0] == pytest.approx(3.8)
    assert s.WINDOW_CHECKS[found.low_by[0, 0]] == s.WINDOW_CHECKS[found.high_by[0, 0]] == "hub_seat"


def test_unknown_ends_leave_the_window_open_there():
    found = window(spline_start=col(math.nan), collar_length=col(math.nan))
    assert found.low[0, 0] == pytest.approx(25.5)
    found = window(**{k: col(math.nan) for k in ("spline_start", "journal_planned", "pilot_length")})
    assert math.isnan(found.high[0, 0])


def _constraints(values, t):
    """Every position check as ≥ 0, from the plain definitions."""
    reach = values["reach_bare"] - t
    hold = min(reach, values["crank_bush_recess"] + values["crank_bush_length"]) - max(values["crank_bush_recess"], reach - values["pilot_length"])
    return (
        values["crank_bore_depth"] - reach - 1.0,
        values["shoulder_stop"] - (reach - values["pilot_length"]) - 1.5,
        hold - 0.5 * values["journal_planned"],
        values["spline_end"] - (reach + values["hub_rear_released"]),
        reach + values["hub_front_worn"] - values["spline_start"] + 0.15 * 28.0,
        values["shaft_stickout"] - values["collar_length"] - (reach + values["hub_rear_released"]) - 1.0,
    )


@pytest.mark.parametrize("seed", range(40))
def test_window_against_linear_programming_and_a_scan(seed):
    """The same window from scipy.optimize.linprog on the stated inequalities, and from a scan in steps of 0.05 mm."""
    rng = np.random.default_rng(seed)
    values = {k: float(v[0, 0]) + rng.uniform(-4, 4) for k, v in WINDOW.items()}
    found = window(**{k: col(v) for k, v in values.items()})
    low, high = float(found.low[0, 0]), float(found.high[0, 0])
    v, hold = values, 0.5 * values["journal_planned"]
    bare = v["reach_bare"]
    # Rows a·t ≤ b with reach = bare − t.
    upper = [v["crank_bore_depth"] - 1, v["shoulder_stop"] + v["pilot_length"] - 1.5, v["crank_bush_recess"] + v["crank_bush_length"] + v["pilot_length"] - hold,
             v["spline_end"] - v["hub_rear_released"], v["shaft_stickout"] - v["collar_length"] - v["hub_rear_released"] - 1]  # fmt: skip
    lower = [v["crank_bush_recess"] + hold, v["spline_start"] - v["hub_front_worn"] - 4.2]
    a = [[-1.0]] * len(upper) + [[1.0]] * len(lower)
    b = [u - bare for u in upper] + [bare - x for x in lower]
    least, most = (linprog([c], A_ub=a, b_ub=b, bounds=[(None, None)]) for c in (1.0, -1.0))
    scan = [t for t in np.arange(-40, 120, 0.05) if min(_constraints(values, t)) >= -1e-9]
    if low <= high:
        assert least.status == 0
        assert least.x[0] == pytest.approx(low, abs=1e-6) and most.x[0] == pytest.approx(high, abs=1e-6)
        if high - low > 0.1:
            assert scan[0] == pytest.approx(low, abs=0.06) and scan[-1] == pytest.approx(high, abs=0.06)
    else:
        assert least.status == 2 and not scan


def test_vector_equals_scalar_and_car_meets_builds():
    found = s.tip_reach(np.array([[25.0, 26.0, 27.0]]), col(160, 150), col(0, 20), col(163, 172))
    assert found.shape == (2, 3)
    assert found[1, 2] == s.tip_reach(27.0, 150.0, 20.0, 172.0)
