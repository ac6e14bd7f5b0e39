"""The seat solver against brute force and linear programming: exact, lexicographic, never a needless cut."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from compare.judge import seat
from compare.topics.envelope import envelope_bounds
from compare.topics.input_shaft import reach_terms, shaft_bounds

STEP = 0.1


def col(*values):
    return np.array([[v] for v in values], dtype=float)


def random_problem(seed: int, count: int):
    """Random cars and candidates: (bounds, depth, low, high, most shift), one row each, numbers as cars have them."""
    rng = np.random.default_rng(seed)
    u = lambda low, high: rng.uniform(low, high, (count, 1))
    depth = u(140, 170)
    stations = np.sort(rng.uniform(150, 1000, (count, 1, 4)), axis=-1) + np.arange(4) * 15.0
    section = lambda: rng.uniform(85, 130, (count, 1, 4))
    removable = rng.integers(0, 2, (count, 1)).astype(float)
    case_length = u(280, 340)
    length = case_length + u(300, 420)
    sides = {f"{box}_{side}": u(60, 118) for box in ("case", "tail") for side in ("left", "right", "top", "bottom")}
    start = depth + case_length + u(-25, 30)
    low_front = np.where(rng.uniform(size=(count, 1)) < 0.6, -6.0, 1e9)
    low_rear = np.where(low_front < 0, case_length + 6.0, 1e9 + 1)
    position, zone = u(560, 700), depth + u(560, 740)
    shifter, opening = u(600, 800), depth + u(540, 760)
    bounds = envelope_bounds(
        length=length, case_length=case_length, low_front=low_front, low_rear=low_rear, crossmember_start=start, crossmember_end=start + u(40, 80),
        crossmember_lip_depth=u(0, 15), mount_position=position, car_mount_zone_start=zone, car_mount_zone_end=zone + u(10, 60), mount_bracket_most=60.0,
        shifter_position=shifter, shifter_room=u(40, 100), opening_side=u(0, 2), opening_start=opening, opening_end=opening + u(60, 140), lever_crank_most=u(0, 60),
        engine_mounts_shift_bolted=u(0, 4), tunnel_removable=removable, tunnel_x=stations, tunnel_left=section(), tunnel_right=section(), tunnel_top=section(), tunnel_bottom=section(),
        **sides, tunnel_tight=6.0, workshop_outside_rate=np.full((1, 1), 50.0),
    )  # fmt: skip
    reach = u(20, 45)
    terms = reach_terms(
        crank_bore_depth=u(28, 40), shoulder_stop=u(0, 8), pilot_length=u(18, 30), crank_bush_recess=u(0, 3), crank_bush_length=u(12, 22),
        spline_start=u(34, 52), spline_end=u(68, 95), hub_rear_released=u(44, 52), hub_front_worn=u(14, 20), shaft_stickout=u(150, 180), collar_length=u(60, 100),
    )  # fmt: skip
    bounds += shaft_bounds(
        reach_bare=reach, reach_terms=terms, journal_planned=u(12, 17), hub_length=u(22, 30), end_gap_tight=1.0, end_gap_clear=3.0, shoulder_gap_tight=1.5,
        bush_hold_tight=0.5, bush_hold_clear=0.75, hub_seat_rear_clear=2.0, hub_seat_share_tight=0.85, collar_gap_tight=1.0, collar_gap_clear=3.0, bush_clear_of_hub=2.0,
    )  # fmt: skip
    low = np.round(u(0, 8), 1)
    span = np.where(rng.uniform(size=(count, 1)) < 0.3, 0.0, np.round(u(0, 6), 1))
    most = np.round(u(0, 8), 1) * (rng.uniform(size=(count, 1)) < 0.85)
    return bounds, depth, low, low + span, most


def harms(bounds, axis, level, points):
    """Harm of one axis and level at points `(rows, points)`."""
    shape = (len(points), 1)
    return seat.Harms([b for b in bounds if b.axis == axis], shape).harm(level, np.arange(len(points)), points)


ORDER = ("violation", "frame cut", "body cut", "panel cut", "donor cut", "cost", "shift")


def vector_at(bounds, depth, t, f):
    """The harms that the solver minimises, in order, `(rows, 7)`."""
    shape = (len(depth), 1)
    found = [seat.harm_at(bounds, level, depth, t, f, shape)[:, 0] for level in ORDER[:-1]]
    return np.stack([*found, f[:, 0]], axis=1)


def brute(bounds, depth, low, high, most):
    """The best vector over a grid of 0.1 mm in thickness and shift."""
    rows = len(depth)
    nt, nf = round(float((high - low).max()) / STEP) + 1, round(float(most.max()) / STEP) + 1
    t = low + STEP * np.arange(nt)[None, :]
    f = STEP * np.arange(nf)[None, :] + 0 * depth
    ok_t, ok_f = t <= high + 1e-9, f <= most + 1e-9
    # x takes the grid's values only: depth + low + 0.1 (i − j).
    offsets = np.arange(-(nf - 1), nt)
    x = depth + low + STEP * offsets[None, :]
    best_mask = ok_t[:, :, None] & ok_f[:, None, :]
    index = np.arange(nt)[:, None] - np.arange(nf)[None, :] + nf - 1
    found = []
    for level in ORDER:
        total = np.zeros((rows, nt, nf))
        if level == "shift":
            total += f[:, None, :]
        else:
            if level in seat.AXES["thickness"]:
                total += harms(bounds, "thickness", level, t)[:, :, None]
            if level in seat.AXES["shift"]:
                total += harms(bounds, "shift", level, f)[:, None, :]
            if level in seat.AXES["face"]:
                total += harms(bounds, "face", level, x)[:, index]
        least = np.where(best_mask, total, np.inf).min(axis=(1, 2))
        best_mask &= total <= least[:, None, None] + 1e-9
        found.append(least)
    return np.stack(found, axis=1)


def worse(mine, theirs, tolerance=1e-5):
    """Rows where `mine` is lexicographically worse than `theirs`."""
    undecided = np.ones(len(mine), dtype=bool)
    bad = np.zeros(len(mine), dtype=bool)
    for level in range(mine.shape[1]):
        bad |= undecided & (mine[:, level] > theirs[:, level] + tolerance)
        undecided &= np.abs(mine[:, level] - theirs[:, level]) <= tolerance
    return np.flatnonzero(bad)


@pytest.mark.parametrize("seed", range(5))
def test_no_cut_that_a_smaller_step_could_have_avoided(seed):
    """2,500 random cars and candidates in all, against every seat of a 0.1 mm grid."""
    bounds, depth, low, high, most = random_problem(seed, 500)
    found = seat.solve(bounds, depth, low, high, most, (500, 1))
    assert np.all(found.thickness >= low - 1e-9) and np.all(found.thickness <= high + 1e-9)
    assert np.all(found.shift >= -1e-9) and np.all(found.shift <= most + 1e-9)
    mine, theirs = vector_at(bounds, depth, found.thickness, found.shift), brute(bounds, depth, low, high, most)
    bad = worse(mine, theirs)
    assert not len(bad), [(int(i), mine[i].round(4).tolist(), theirs[i].round(4).tolist()) for i in bad[:3]]
    # The problems are worth solving: many need a cut today, many are spared one by the seat.
    today = vector_at(bounds, depth, low, 0 * low)
    assert (today[:, 1:4].sum(axis=1) > 0).mean() > 0.4
    assert (mine[:, 1:4].sum(axis=1) < today[:, 1:4].sum(axis=1) - 0.01).mean() > 0.2


def test_draws_are_solved_each_on_its_own():
    bounds, depth, low, high, most = random_problem(9, 60)
    whole = seat.solve(bounds, depth, low, high, most, (60, 1))
    # The same rows once more, each as if it stood twice side by side.
    twice = seat.solve(bounds, depth, low, high, most, (60, 2))
    assert np.allclose(twice.thickness, np.repeat(whole.thickness, 2, axis=1))
    assert np.allclose(twice.shift, np.repeat(whole.shift, 2, axis=1))


def test_against_linear_programming_where_the_problem_is_one():
    """Minimise frame, then body millimetres: crossmember before the plateau is linear in x = depth + t − f."""
    rng = np.random.default_rng(4)
    for _ in range(40):
        depth, case, start, lip = rng.uniform(140, 170), rng.uniform(300, 340), rng.uniform(470, 500), rng.uniform(0, 12)
        low, high, most = 0.0, rng.uniform(0, 8), rng.uniform(0, 12)
        rear = case + 6.0
        bounds = [
            seat.beyond("face", "frame cut", "box", col(start + lip - rear), 1.0),
            seat.beyond("face", "body cut", "lip", col(start - rear), 1.0),
        ]
        found = seat.solve(bounds, col(depth), col(low), col(high), col(most), (1, 1))
        mine = vector_at(bounds, col(depth), found.thickness, found.shift)[0]
        # Variables t, f, frame, body; first the frame cut alone, then the body cut with the frame cut held.
        a = [[1, -1, -1, 0], [1, -1, 0, -1]]
        b = [start + lip - rear - depth, start - rear - depth]
        limits = [(low, high), (0, most), (0, None), (0, None)]
        frame = linprog([0, 0, 1, 0], A_ub=a, b_ub=b, bounds=limits)
        body = linprog([0, 0, 0, 1], A_ub=[*a, [0, 0, 1, 0]], b_ub=[*b, frame.fun + 1e-9], bounds=limits)
        assert mine[1] == pytest.approx(frame.fun, abs=1e-6)
        assert mine[2] == pytest.approx(body.fun, abs=1e-6)


def test_the_shift_is_the_smallest_that_does_it():
    bounds = [seat.beyond("face", "body cut", "lip", col(151.0), 1.0)]
    found = seat.solve(bounds, col(160.0), col(0.0), col(0.0), col(12.0), (1, 1))
    assert found.shift[0, 0] == pytest.approx(9.0)


def test_a_thinner_adapter_comes_before_a_shift():
    bounds = [seat.beyond("face", "body cut", "lip", col(165.0), 1.0)]
    found = seat.solve(bounds, col(160.0), col(2.0), col(20.0), col(12.0), (1, 1))
    assert found.shift[0, 0] == 0.0 and found.thickness[0, 0] <= 5.0 + 1e-9


def test_the_middle_where_a_whole_interval_is_equally_good():
    found = seat.solve([], col(160.0), col(10.0), col(20.0), col(5.0), (1, 1))
    assert (found.thickness[0, 0], found.shift[0, 0]) == (15.0, 0.0)


def test_an_unknown_thickness_stays_unknown_and_an_unknown_face_still_settles_the_shaft():
    nan = float("nan")
    found = seat.solve([], col(160.0, nan), col(nan, 10.0), col(nan, 20.0), col(5.0, 5.0), (2, 1))
    assert np.isnan(found.thickness[0, 0]) and found.thickness[1, 0] == 15.0


def test_windows_of_shift():
    bound = seat.beyond("face", "body cut", "lip", col(151.0), 1.0)
    assert seat.windows(bound, 160.0, 0.0, 12.0, 0, (1, 1)) == [(9.0, 12.0)]
    assert seat.windows(bound, 160.0, 0.0, 8.0, 0, (1, 1)) == []


def test_a_bound_at_a_level_its_axis_does_not_have_is_refused():
    with pytest.raises(ValueError, match="no level"):
        seat.beyond("thickness", "frame cut", "x", col(1.0), 1.0)
