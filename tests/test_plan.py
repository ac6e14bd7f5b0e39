"""One figure for all draws: planned seat against a grid, chances against closed forms, prices against the list."""

from __future__ import annotations

import math
import os

import numpy as np
import pytest
import random_cars

from compare.answer.compare import compare
from compare.judge.draws import Draw
from compare.judge.rules import Ask, Option, Options, Rule
from compare.judge.seat import AXES, FACE_LEVELS, SAME, Harms, harm_at
from compare.judge.settle import Fitted, Plan, WithFigures, Written, one_figure, one_option
from compare.vocabulary import UNDO_STEPS

NO_LIFT = "[limits]\nmount_lift_most = 0\n"


def drawn(a, rows, draws, seed=1):
    names = a.names(rows, Draw(draws, seed))
    return names, (len(rows), 1 + draws)


# ---- what the seat minimises is what the work list charges ----------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_the_seat_s_harm_is_the_work_list_s_millimetres_and_money(tmp_path, seed):
    """On random cars, every draw: no second geometry, no second price list."""
    table = random_cars.catalogue(tmp_path / "c.csv", seed, 25)
    a = compare(table, random_cars.car(seed, NO_LIFT, "frame cut"), draws=1)
    names, shape = drawn(a, np.arange(25), 8)
    result = a.engine.run(names, shape, Fitted())
    seat = names["depth_of_face"], names["adapter_thickness"], names["engine_shift"]
    mine = {k: i for k, i in result.items.items() if k in {b.decision for b in result.bounds}}
    for level in ("frame cut", "body cut", "panel cut", "donor cut"):
        step = UNDO_STEPS.index(level)
        parts = [np.where(result.pick(i.undo) == step, result.pick(i.extent), 0.0) for i in mine.values()]
        listed = sum(parts, np.zeros(shape))
        np.testing.assert_allclose(harm_at(result.bounds, level, *seat, shape), listed, atol=1e-5)
    money = sum((result.pick(i.cost) for i in mine.values()), np.zeros(shape))
    # Made for the journal's diameter, wherever the gearbox sits.
    if "bush_made" in mine:
        money -= np.where(names["bush_by_route"] > 0, result.pick(mine["bush_made"].cost), 0.0)
    off = np.abs(harm_at(result.bounds, "cost", *seat, shape) - money) > 1e-4
    assert off.mean() < 0.005  # a figure within a millionth of nothing is charged by one and not the other


def test_no_violation_of_the_seat_is_no_clash_of_hub_and_hold(tmp_path):
    for seed in range(6):
        table = random_cars.catalogue(tmp_path / "c.csv", seed, 25)
        a = compare(table, random_cars.car(seed, NO_LIFT, "frame cut"), draws=1)
        names, shape = drawn(a, np.arange(25), 8)
        result = a.engine.run(names, shape, Fitted())
        seat = names["depth_of_face"], names["adapter_thickness"], names["engine_shift"]
        violated = harm_at(result.bounds, "violation", *seat, shape) > 1e-6
        at = [i for i, r in enumerate(a.engine.checks) if r.title in ("hub_seat", "bush_hold")]
        assert (violated == (result.verdicts[at] == 2).any(axis=0)).all()


# ---- the planned seat against a grid --------------------------------------------------------------------


def quality(axes, rows, depth, t, f, forbidden):
    """(share without a clash, expected mm per level) of seats `(points,)` of one build."""
    y, n = t - f, len(rows)
    wide = lambda a: np.broadcast_to(a[None, :], (n, len(a)))
    face = lambda level: axes["face"].harm(level, rows, depth[:, None] + y[None, :])
    plate = lambda level: axes["thickness"].harm(level, rows, wide(t))
    sound = plate("violation") <= SAME
    for level in forbidden:
        sound &= face(level) <= SAME
        sound &= (plate(level) <= SAME) if level == "donor cut" else True
    cuts = [face(level).mean(axis=0) for level in FACE_LEVELS]
    cuts.append((plate("donor cut") + face("donor cut")).mean(axis=0))
    return sound.mean(axis=0), np.array(cuts)


def worse(share, cuts, best_share, best_cuts):
    """Whether a seat is worse than another by more than 2 points of share or 0.05 mm at a level."""
    if abs(share - best_share) > 0.021:
        return bool(share < best_share)
    for mine, theirs in zip(cuts, best_cuts, strict=True):
        if mine > theirs + 0.101:  # two ties of 0.05: the planned one within its own, the grid's within its
            return True
        if mine < theirs - 0.05:
            return False
    return False


def grid_best(axes, rows, depth, low, high, most, forbidden):
    ts = np.arange(low, high + 0.05, 0.1) if high > low + SAME else np.array([low])
    fs = np.arange(0.0, most + 0.05, 0.1)
    best = None
    for t in ts[:: max(1, len(ts) // 40)]:
        share, cuts = quality(axes, rows, depth, np.full(len(fs), t), fs, forbidden)
        keep = share >= share.max() - 0.02
        for level in cuts:
            keep &= level <= level[keep].min() + 0.05
        at = int(keep.argmax())
        if best is None or worse(*best, share[at], cuts[:, at]):
            best = (share[at], cuts[:, at])
    return best


def lost_to_a_grid(tmp_path, seed):
    table = random_cars.catalogue(tmp_path / "c.csv", 100 + seed, 20)
    a = compare(table, random_cars.car(100 + seed, NO_LIFT), draws=1)
    rows = np.arange(20)
    names, shape = drawn(a, rows, 40)
    plan = Plan()
    result = a.engine.run(names, shape, plan)
    axes = {axis: Harms([b for b in result.bounds if b.axis == axis], shape) for axis in AXES}
    forbidden = [s for s in UNDO_STEPS[a.engine.deepest + 1 :] if s != "bolts back"]
    wide = lambda name: np.broadcast_to(names[name], shape)
    lost = []
    for build in rows:
        draws = build * shape[1] + np.arange(1, shape[1])
        depth = wide("depth_of_face")[build, 1:]
        low, high = wide("thickness_low")[build, 0], wide("thickness_high")[build, 0]
        if high <= low + SAME and (wide("thickness_low")[build] != low).any():
            continue  # a bought plate of doubtful thickness is no choice: its own doubt is in every draw
        most = float(np.quantile(wide("most_shift")[build, 1:], 0.02))
        t = np.array([wide("adapter_thickness")[build, 0]])
        f = np.array([wide("engine_shift")[build, 0]])
        share, cuts = quality(axes, draws, depth, t, f, forbidden)
        best = grid_best(axes, draws, depth, low, high, most, forbidden)
        if worse(share[0], cuts[:, 0], *best):
            lost.append((int(build), float(t[0]), float(f[0]), share[0], cuts[:, 0], best))
    return lost


def test_the_planned_seat_is_no_worse_than_a_grid(tmp_path):
    """Random cars × 20 gearboxes over the same draws, 0.1 mm grid: within 2 points of share and 0.05 mm.

    What is lost lies where two ties meet (a hundredth of a millimetre at a deeper level against some at
    a shallower one): at most 3 % of them. All twenty-five cars by PROOFS=25.
    """
    count = int(os.environ.get("PROOFS", "8"))
    lost = {seed: lost_to_a_grid(tmp_path, seed) for seed in range(count)}
    assert sum(map(len, lost.values())) <= 0.03 * count * 20, lost


# ---- chances against closed forms -----------------------------------------------------------------------


def one_gearbox(tmp_path, changes, text=None):
    from compare.read.car import read_car
    from compare.read.catalogue import load_catalogue

    head = random_cars.HEAD.split(",")
    row = dict(zip(head, map(str, random_cars.row(__import__("random").Random(3), 0)), strict=True))
    row |= {
        "source": "measured", "bellhousing_depth": "150 ±0 mm", "adapter": "to make",
        "adapter_thickness": "5..40", "shaft_stickout": "178 ±0 mm", "pilot_diameter": "15 ±0 mm",
        "pilot_length": "60 ±0 mm", "spline_start": "50 ±0 mm", "spline_end": "84 ±0 mm",
        "release_type": "fork", "collar_length": "70 ±0 mm", "spline_diameter": "25.4 ±0 mm",
    } | changes  # fmt: skip
    path = tmp_path / "one.csv"
    path.write_text(",".join(row) + "\n" + ",".join(row.values()) + "\n", encoding="utf-8")
    return compare(load_catalogue(path), read_car(text or random_cars.car_text(7, NO_LIFT, "frame cut")), draws=2048)


EXACT_CAR = """
[car]
name = "exact"
[crank]
flange_position = "25 ±0 mm"
bore_diameter = "21 ±0 mm"
bore_depth = "60 ±0 mm"
mouth_diameter = "30 ±0 mm"
mouth_depth = "20 ±0 mm"
bush_bore = "12.7 ±0 mm"
bush_length = "50 ±0 mm"
bush_recess = "0 ±0 mm"
[clutch]
friction_face = "22 ±0 mm"
hub_front = "-3 ±0 mm"
hub_rear = "25 ±0 mm"
wear_travel = "1.5 ±0 mm"
release_float = "1.5 ±0 mm"
spline_teeth = 10
spline_diameter = "25.4 ±0 mm"
bolt_heads = "60 ±0 mm"
disc_thickness = "8 ±0 mm"
[mount]
none = true
[crossmember]
none = true
[tunnel]
none = true
[opening]
none = true
[engine_mounts]
shift_bolted = 0
shift_slotted = 0
fan_gap = "40 ±0 mm"
fan_gap_least = 15
"""


def widths(doubts):
    """Share of draws in which the sum of rectangular doubts ± a stays within ± w of its middle."""

    def share(w):
        grid = np.zeros(1)
        for a in doubts:
            steps = (np.arange(2000) + 0.5) / 2000 * 2 * a - a
            if len(grid) == 1 and grid[0] == 0:
                grid = steps
                continue
            grid = (grid[:, None] + steps[None, :: max(1, len(steps) // 400)]).ravel()
            grid = np.sort(grid)[:: max(1, len(grid) // 4000)]
        return float((np.abs(grid) <= w).mean())

    return share


@pytest.mark.parametrize(
    "doubts",
    [("shaft_stickout", 4.0), ("shaft_stickout", 4.0, "bellhousing_depth", 3.0),
     ("shaft_stickout", 4.0, "bellhousing_depth", 3.0, "spline_end", 2.0)],
    ids=["one", "two", "three"],
)  # fmt: skip
def test_chance_of_one_plate_is_the_closed_form(tmp_path, doubts):
    """A plate of one thickness: the hub stays on its splines in |sum of doubts| ≤ half of the window.

    Splines from 50 to 50 + L; the hub is 31 long with its travels (28 + 1.5 + 1.5) and may stand 4.2 off at the
    front (0.15 × 28): the window of reach is L − 31 + 4.2, half of it each way. For one rectangular doubt ± a the
    share is w / a; for two and three the sums' own distribution, added up here point by point.
    """
    length = 31.0 - 4.2 + 4.0  # a window of 4, ± 2
    changes = {"spline_end": f"{50 + length} ±0 mm"}
    names, halves = doubts[::2], doubts[1::2]
    base = {"shaft_stickout": 178.0, "bellhousing_depth": 150.0, "spline_end": 50 + length}
    for name, half in zip(names, halves, strict=True):
        changes[name] = f"{base[name]} ±{half} mm"
    a = one_gearbox(tmp_path, changes, EXACT_CAR)
    at = next(i for i, r in enumerate(a.engine.checks) if r.title == "hub_seat")
    got = 1.0 - a.drawn.clash_plan[0, at]
    # The spline's end moves the window's middle by half of its doubt and its half-width by as much.
    if "spline_end" in names:
        rng = np.random.default_rng(5)
        draws = [rng.uniform(-h, h, 400_000) for h in halves]
        total, end = sum(draws[:2]), draws[2]
        expected = max(
            float(((total + m >= -2.0) & (total + m <= 2.0 + end)).mean()) for m in np.linspace(-2, 2, 81)
        )
    else:
        expected = widths(halves)(2.0)
    assert got == pytest.approx(expected, abs=0.03)
    assert a.drawn.clash_fitted[0, at] == pytest.approx(0.0, abs=0.001) or "spline_end" in names


def test_a_plate_made_to_one_thickness_is_not_as_sure_as_one_made_with_the_parts_in_hand(tmp_path):
    """Stick-out known to ± 4, a window of ± 2: half of the plates made from paper do not seat."""
    a = one_gearbox(
        tmp_path, {"shaft_stickout": "178 ±4 mm", "spline_end": "80.8 ±0 mm"}, EXACT_CAR
    )
    assert a.chance[0] > 0.99
    assert a.chance_plan[0] == pytest.approx(0.5, abs=0.03)


# ---- one figure, one option -----------------------------------------------------------------------------


def test_a_decision_leaves_nothing_done_only_for_more_than_five_points():
    least = np.concatenate([[0.0], np.where(np.arange(1000) < 40, 2.0, -1.0)])[None]
    assert one_figure(Ask(least, most=9.0), True, (1, 1001))[0, 0] == 0.0
    least = np.concatenate([[0.0], np.where(np.arange(1000) < 80, 2.0, -1.0)])[None]
    assert one_figure(Ask(least, most=9.0), True, (1, 1001))[0, 0] >= 2.0


def test_the_figure_lies_in_most_draws_intervals():
    random = np.random.default_rng(1)
    least = random.uniform(1.0, 2.0, 500)
    most = least + 1.0
    ask = Ask(np.r_[1.5, least][None], np.r_[2.5, most][None])
    figure = float(one_figure(ask, True, (1, 501))[0, 0])
    share = ((least <= figure) & (figure <= most)).mean()
    grid = np.linspace(0.5, 3.5, 3001)
    best = max(((least <= g) & (g <= most)).mean() for g in grid)
    assert share >= best - 0.02


def rule_of(*undo):
    options = tuple(Option(f"option {i}", undo=u) for i, u in enumerate(undo))
    return Rule("trial", "choice", lambda: None, (), "trial", options=options)


def test_the_shallowest_option_that_is_sure_enough_else_the_likeliest():
    rule = rule_of("bolts back", "bolts back", "donor cut")
    good = np.zeros((1, 101, 3)) - 1.0
    good[0, :51, 0], good[0, :86, 1], good[0, :, 2] = 1.0, 1.0, 1.0
    deepest = np.full((1, 1), 4.0)
    taken, shares = one_option(Options(good), rule, deepest, (1, 101), 0.8)
    assert taken[0, 0] == 1 and shares[0].round(2).tolist() == [0.5, 0.85, 1.0]
    assert one_option(Options(good), rule, deepest, (1, 101), 0.9)[0][0, 0] == 2
    assert one_option(Options(good), rule, np.zeros((1, 1)), (1, 101), 0.9)[0][0, 0] == 1


# ---- the plan written down ------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_the_plan_s_figures_written_down_and_run_as_found_give_its_verdicts(tmp_path, seed):
    table = random_cars.catalogue(tmp_path / "c.csv", 200 + seed, 25)
    a = compare(table, random_cars.car(200 + seed), draws=1)
    names, shape = drawn(a, np.arange(25), 40)
    settle = Plan()
    plan = a.engine.run(names, shape, settle)
    decisions = [r.name for r in a.engine.book.decisions]
    written = {n: np.broadcast_to(plan.names[n], shape)[:, :1] for n in (*decisions, "adapter_thickness", "engine_shift")}
    again = a.engine.run(a.names(np.arange(25)), (25, 1), Written(values=written))
    assert (again.verdicts[:, :, 0] == plan.verdicts[:, :, 0]).all()
    # And the figures in other draws leave the nominal draw as it is.
    other = a.engine.run(a.names(np.arange(25)), (25, 1), WithFigures(settle.figures))
    assert (other.verdicts[:, :, 0] == plan.verdicts[:, :, 0]).all()


def test_engine_nine_forward_spares_the_lip_in_half_of_the_draws_the_planned_shift_in_nearly_all(demo_files):
    """The front edge and the case's end are known to ± 0.5: at 9.0 mm half of the draws need a cut."""
    from compare.read.car import load_car
    from compare.read.catalogue import load_catalogue

    a = compare(load_catalogue(demo_files[0]), load_car(demo_files[1]), only=["Garth 5"], draws=512)
    planned = float(a.figures.seat.shift[0, 0])
    low, high = float(a.figures.seat.shift_low[0, 0]), float(a.figures.seat.shift_high[0, 0])
    assert 10.0 < planned < 11.5 and 9.3 < low < 10.2 and high == pytest.approx(12.0)

    def cut_share(shift):
        names = a.names([0], Draw(512))
        figures = a.figures.of(np.array([0]))
        figures.seat.shift[:] = shift
        result = a.engine.run(names, (1, 513), WithFigures(figures))
        return float((np.broadcast_to(result.names["lip_cut"], (1, 513))[0, 1:] > 1e-6).mean())

    assert cut_share(9.0) == pytest.approx(0.5, abs=0.05)
    assert cut_share(planned) < 0.05
    assert cut_share(10.5) < 0.05
    assert math.isclose(cut_share(0.0), 1.0)
