"""The seat of one draw against brute force: exact, lexicographic, never a needless cut."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
import random_cars

from compare.answer.compare import compare
from compare.answer.seat_words import WINDOW_CHECKS, _thickness_said
from compare.judge.draws import Draw
from compare.judge.seat import AXES, FACE_LEVELS, SAME, Bound, Harms, _at, beyond, solve
from compare.judge.settle import Fitted
from compare.said import fill
from compare.vocabulary import THICKNESS_WINDOWS

LEVELS = ("violation", *FACE_LEVELS, "donor cut")


def problem(tmp_path, seed, draws=3):
    """Bounds of a random car's gearboxes as the engine collects them."""
    table = random_cars.catalogue(tmp_path / "c.csv", seed, 20)
    a = compare(table, random_cars.car(seed, "[limits]\nmount_lift_most = 0\n"), draws=1)
    names = a.names(np.arange(20), Draw(draws, seed))
    shape = (20, 1 + draws)
    result = a.engine.run(names, shape, Fitted())
    wide = lambda name: np.broadcast_to(names[name], shape)
    return result, {n: wide(n) for n in ("depth_of_face", "thickness_low", "thickness_high", "most_shift")}, shape


def harms(axes, rows, depth, t, f):
    """Harm per level of seats `(points,)` of one row."""
    x = depth + t - f
    one = lambda axis, level, p: axes[axis].harm(level, rows, p[None, :])[0]
    found = [one("thickness", "violation", t)]
    found += [one("face", level, x) for level in FACE_LEVELS]
    found.append(one("thickness", "donor cut", t) + one("face", "donor cut", x))
    money = one("thickness", "cost", t) + one("face", "cost", x) + one("shift", "cost", f)
    return np.array([*found, money, f])


@pytest.mark.parametrize("seed", range(25))
def test_no_seat_of_a_tenth_millimetre_grid_is_better(tmp_path, seed):
    """25 cars × 20 gearboxes × 4 draws."""
    result, names, shape = problem(tmp_path, seed)
    axes = {axis: Harms([b for b in result.bounds if b.axis == axis], shape) for axis in AXES}
    for build in range(shape[0]):
        for draw in range(0, shape[1], 3):
            depth, low, high, most = (float(names[n][build, draw]) for n in names)
            ts = np.arange(low, high + 0.05, 0.25) if high > low + SAME else np.array([low])
            fs = np.arange(0.0, most + 1e-9, 0.1)
            t, f = (a.ravel() for a in np.meshgrid(ts, fs))
            rows = np.array([build * shape[1] + draw])
            grid = harms(axes, rows, depth, t, f)
            seat = result.names["adapter_thickness"], result.names["engine_shift"]
            own = harms(axes, rows, depth, *(np.array([s[build, draw]]) for s in seat))[:, 0]
            keep = np.ones(len(t), dtype=bool)
            for mine, theirs in zip(own, grid, strict=True):
                assert mine <= theirs[keep].min() + 1e-6, (build, draw, own)
                keep &= theirs <= mine + 1e-6
                if not keep.any():
                    break


def one_row(bounds, low, high, most, depth=0.0):
    col = lambda v: np.array([[float(v)]])
    seat = solve(bounds, col(depth), col(low), col(high), col(most), (1, 1))
    return float(seat.thickness[0, 0]), float(seat.shift[0, 0])


def test_the_middle_of_what_is_equally_good():
    bounds = [
        beyond("thickness", "violation", "front", np.array([[4.0]]), -1.0),
        beyond("thickness", "violation", "rear", np.array([[10.0]]), 1.0),
    ]
    assert one_row(bounds, 0, 20, 0) == (7.0, 0.0)


def test_the_least_shift_that_spares_everything():
    harm = Bound("face", "", "edge", lambda s: (s,), lambda v, s: np.maximum(v - s, 0.0),
                 (np.array([[0.0]]),), level="violation")  # fmt: skip
    with pytest.raises(ValueError, match="no level"):
        Bound("face", "", "edge", lambda s: (s,), lambda v, s: v, (), level="frame cut")
    cut = Bound("face", "cut", "edge", harm.breaks, harm.harm, harm.args, level="frame cut")
    assert one_row([cut], 0, 0, 12, depth=5.0) == (0.0, 5.0)


def test_an_unknown_thickness_stays_unknown():
    seat = solve([], np.array([[1.0]]), np.array([[np.nan]]), np.array([[np.nan]]), np.array([[5.0]]), (1, 1))
    assert np.isnan(seat.thickness[0, 0])


@pytest.mark.parametrize("seed", range(12))
def test_harm_is_linear_between_the_breaks_that_a_bound_names(tmp_path, seed):
    """What the solver relies on: within each stretch the middle is the mean of two points near its ends."""
    result, _, shape = problem(tmp_path, seed)
    rows = np.arange(0, shape[0] * shape[1], 3)
    bent = set()
    for bound in result.bounds:
        build, draw = np.divmod(rows, shape[1])
        args = tuple(_at(a, build, draw) for a in bound.args)
        with np.errstate(invalid="ignore"):
            breaks = np.stack(np.broadcast_arrays(*bound.breaks(*args), np.full(len(rows), -1e3), np.full(len(rows), 1e3)), axis=-1)
        breaks = np.sort(np.where(np.isfinite(breaks), np.clip(breaks, -1e3, 1e3), 1e3), axis=-1)
        near, far = breaks[:, :-1], breaks[:, 1:]
        width = far - near
        points = [near + part * width for part in (0.01, 0.5, 0.99)]
        first, middle, last = (bound.harm(p, *(a[:, None] for a in args)) for p in points)
        off = np.abs(first + last - 2.0 * middle)
        if np.any((off > 1e-6 * (1.0 + np.abs(middle))) & (width > 1e-4) & np.isfinite(off)):
            bent.add((bound.place, bound.axis, bound.decision))
    assert not bent


@pytest.mark.parametrize("seed", range(6))
def test_comfort_is_what_the_checks_miss_of_being_clear(tmp_path, seed):
    """By the checks' own sums, nothing cut: end gap 3, hub 2 behind and 0 in front, hold three quarters, guide 3."""
    result, _, shape = problem(tmp_path, seed)
    n = result.names
    reach, journal = n["reach"], n["journal_after"]
    front = n["clutch_friction_face"] + n["clutch_hub_front"] - n["clutch_wear_travel"]
    rear = n["clutch_friction_face"] + n["clutch_hub_rear"] + n["clutch_release_float"]
    missing = {
        "tip": 3.0 - (n["crank_bore_depth"] - reach),
        "hub rear": 2.0 - (n["spline_end"] - (reach + rear)),
        "hub front": n["spline_start"] - (reach + front),
        "bush": 0.75 * journal - (reach - n["crank_bush_recess"]),
        "guide": 3.0 - (n["shaft_stickout"] - n["collar_length"] - (reach + rear)),
    }
    rows = np.arange(shape[0] * shape[1])
    build, draw = np.divmod(rows, shape[1])
    wide = lambda a: np.broadcast_to(a, shape).ravel()
    comfort = [b for b in result.bounds if b.level == "comfort" and b.axis == "thickness"]
    assert {b.place for b in comfort} == set(missing)
    for bound in comfort:
        args = tuple(_at(a, build, draw) for a in bound.args)
        harm = bound.harm(wide(n["adapter_thickness"]), *args)
        expected = np.maximum(wide(missing[bound.place]), 0.0)
        usual = wide((n["disc_ordered"] == 0) & np.isfinite(n["adapter_thickness"]))
        assert harm[usual] == pytest.approx(expected[usual], abs=1e-9), bound.place


def test_a_check_that_ends_the_window_at_both_sides_is_named_once():
    def said(low_by, high_by):
        window = SimpleNamespace(low=2.0, high=5.0, low_by=low_by, high_by=high_by)
        result = SimpleNamespace(
            names=dict.fromkeys(THICKNESS_WINDOWS, window),
            pick=lambda array: np.full((1, 1), float(array)),
            value=lambda name, at: math.nan,
        )
        return fill(_thickness_said(result, 0))

    one = WINDOW_CHECKS[0].replace("_", " ")
    assert f"({one} at either end)" in said(0, 0)
    assert f"({one}, {WINDOW_CHECKS[1].replace('_', ' ')})" in said(0, 1)
