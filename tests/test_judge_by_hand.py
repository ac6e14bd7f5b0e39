"""The seat and what is settled, on bounds and asks small enough for a hand."""

from __future__ import annotations

import numpy as np
import pytest

from compare.judge.outcome import BOLTS_IN, GOES_IN, MEASURE, RULED_OUT, label, percent
from compare.judge.seat import Price, beyond, priced, solve

ONE = (1, 1)
NEED = {"lip_cut": Price("body cut", 0.0, 0.0), "brackets_slotted": Price("cost", 15.0, 0.0), "cheap": Price("cost", 0.0, 1.0)}


def seat(bounds, *, depth=100.0, low=0.0, high=0.0, most=0.0):
    found = solve(priced(bounds, NEED), np.array([[depth]]), np.array([[low]]), np.array([[high]]), np.array([[most]]), ONE)
    return float(found.thickness[0, 0]), float(found.shift[0, 0])


@pytest.mark.parametrize(
    ("start", "most", "shift"),
    [
        (91, 12, 9),  # nothing is cut from 9 to 12 forward: the least is taken
        (91, 30, 9),
        (91, 5, 5),  # it cannot go so far: as far as it goes
        (100, 12, 0),  # nothing is in the way: it stays
        (130, 12, 0),
    ],
)
def test_the_engine_moves_no_further_than_it_must(start, most, shift):
    """A face at 100 and something that begins at `start`: whatever stands behind it is cut."""
    assert seat([beyond("face", "lip_cut", "crossmember", np.array([[float(start)]]), 1.0)], most=most) == (0.0, shift)


def test_metal_is_dearer_than_money_and_money_than_moving():
    """9 forward spares the cut, though beyond 4 the brackets are slotted for 15; where nothing is spared, nothing moves."""
    bounds = [
        beyond("face", "lip_cut", "crossmember", np.array([[91.0]]), 1.0),
        beyond("shift", "brackets_slotted", "brackets", np.array([[4.0]]), 1.0),
    ]
    assert seat(bounds, most=12) == (0.0, 9.0)
    # Priced instead of cut: a crown a millimetre, 9 in all, against 15 for the slots: it goes the 4 that are free.
    bounds[0] = beyond("face", "cheap", "crossmember", np.array([[91.0]]), 1.0)
    assert seat(bounds, most=12) == (0.0, 4.0)


def test_a_free_thickness_takes_the_middle_of_what_is_as_good():
    """Violated below 10 and above 30: anywhere between is as good, so 20; and 25 where 20 is the least that is comfortable."""
    bounds = [
        beyond("thickness", "violation", "hub", np.array([[10.0]]), -1.0),
        beyond("thickness", "violation", "hub", np.array([[30.0]]), 1.0),
    ]
    assert seat(bounds, low=0, high=50) == (20.0, 0.0)
    assert seat([*bounds, beyond("thickness", "comfort", "hub", np.array([[20.0]]), -1.0)], low=0, high=50) == (25.0, 0.0)


def test_violations_that_exclude_each_other_are_weighed_by_the_millimetre():
    """Below 30 it is violated by 2 a mm, above 10 by 1 a mm: 30 harms least, by 20."""
    bounds = [
        beyond("thickness", "violation", "hub", np.array([[30.0]]), -1.0, 2.0),
        beyond("thickness", "violation", "hub", np.array([[10.0]]), 1.0, 1.0),
    ]
    assert seat(bounds, low=0, high=50) == (30.0, 0.0)


# ---- labels -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("chance", "bolts", "waits", "outcome"),
    [
        (0.81, True, False, BOLTS_IN), (0.81, False, False, GOES_IN), (0.79, True, False, MEASURE), (0.06, False, False, MEASURE),
        (0.04, True, False, RULED_OUT), (0.99, True, True, MEASURE), (0.04, True, True, RULED_OUT), (np.nan, True, False, MEASURE),
    ],
)  # fmt: skip
def test_a_label_on_both_sides_of_its_thresholds(chance, bolts, waits, outcome):
    """Sure enough from 0.8; hopeless below 0.05; a number that decides and is not known holds the label back."""
    found = label(np.array([chance]), np.array([bolts]), np.array([waits]), 0.8, 1000)
    assert found.outcome.tolist() == [outcome]


@pytest.mark.parametrize(
    ("chance", "draws", "firm"),
    # Two errors of 0.75 in 400 draws are 0.0433, in 256 they are 0.0541; of 0.07 in 400 0.0255, in 900 0.0170.
    [(0.75, 400, True), (0.75, 256, False), (0.07, 400, False), (0.07, 900, True), (np.nan, 4, True), (1.0, 256, True)],
)
def test_a_label_is_firm_two_errors_from_the_next_threshold(chance, draws, firm):
    found = label(np.array([chance]), np.array([True]), np.array([False]), 0.8, draws)
    assert found.firm.tolist() == [firm]


@pytest.mark.parametrize(
    ("chance", "error", "text"),
    [(0.996, 0.1, "> 99 %"), (0.994, np.nan, "99 %"), (0.004, np.nan, "< 1 %"), (0.006, np.nan, "1 %"), (0.5, 0.0024, "50 %"), (0.5, 0.0026, "50 ± 1 %"),
     (0.5, 0.011, "50 ± 3 %"), (0.5, 0.01, "50 ± 2 %")],
)  # fmt: skip
def test_a_chance_as_printed(chance, error, text):
    assert percent(chance, error) == text
