"""Speedometer: one tooth for all draws, its error in each, against UN Regulation 39 and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from bench import BOOK, NAN, nominal, run, said
from published import printed

from compare.answer.why import jobs
from compare.topics import speedometer as s


@pytest.mark.parametrize(("true", "most"), [(50, 59), (90, 103), (110, 125), (130, 147)])
def test_un_regulation_39(true, most):
    """UN Regulation 39, 5.3: 0 ≤ V₁ − V₂ ≤ 0.1 V₂ + 4 km/h: 50–59, 90–103, 110–125, 130–147."""
    assert s.r39_spare(float(true), 1.0) == 0.0
    assert s.r39_spare(float(true), most / true) == pytest.approx(0.0, abs=1e-9)
    assert s.r39_spare(float(true), (most + 0.1) / true) < 0
    assert s.r39_spare(float(true), (true - 0.1) / true) < 0


def test_teeth_and_error_by_hand():
    """6 × 4.1 × 10⁶ / (1900 × 800) = 16.18: 16 teeth, the dial shows 1.15 % more."""
    car = run()
    assert nominal(car, "driven_wanted") == printed("16.18")
    assert nominal(car, "driven_to_order") == 16.0
    assert nominal(car, "speedometer_error") == printed("1.15")
    assert said(car, "speedometer_error") == "clear"


def test_the_planned_tooth_is_judged_before_it_is_ordered():
    """Always planned: nothing done is no clash, it is only not ordered yet."""
    assert said(run("found"), "speedometer_error") == "clear"
    assert nominal(run("found"), "driven_to_order") == 0.0


def test_the_tooth_that_is_ordered_is_the_one_that_is_judged():
    """18 ordered instead of 16: 16.18 / 18: the dial shows 10.1 % less, which is a clash."""
    other = run("found", {"driven_to_order": np.array([[18.0]])})
    assert nominal(other, "speedometer_error") == printed("-10.1")
    assert said(other, "speedometer_error") == "clash"


def test_one_tooth_and_its_error_in_every_draw():
    """Circumference 1900, 1860, 1940: wanted 16.18, 16.53, 15.85; with 16: 1.2, 3.3, −0.9 %.

    The third draw under-reads: with 15 none does, and one tooth in three is worth more than that.
    """
    drawn = run(tyre_rolling_circumference=[[1900.0, 1860.0, 1940.0]])
    assert nominal(drawn, "driven_planned") == 15.0
    assert np.unique(drawn["driven_to_order"]).tolist() == [15.0]
    assert drawn["speedometer_error"][0] == pytest.approx([7.89, 10.21, 5.67], abs=0.01)


def test_a_rare_draw_does_not_change_the_tooth():
    """One draw in forty needs 15: 16 stays, and that draw is a clash that a converter cures."""
    round_ = np.full((1, 40), 1900.0)
    round_[0, 7] = 1940.0
    found = run("found", tyre_rolling_circumference=round_)
    assert nominal(found, "driven_planned") == 16.0
    assert found["verdict_speedometer_error"][0].tolist().count(2) == 1
    fitted = run("fitted", tyre_rolling_circumference=round_)
    assert np.broadcast_to(fitted["speedometer_converter"], (1, 40)).sum() == 1.0


@pytest.mark.parametrize(
    ("wanted", "tooth"), [(16.69, 16.0), (19.0, 19.0), (30.0, 20.0), (9.0, 14.0), (20.9, 20.0)]
)
def test_the_tooth_does_not_under_read(wanted, tooth):
    """14 to 20 are made: the nearest that does not under-read, else the nearest."""
    made = s.tooth_for_most(np.array([[wanted]]), np.array([[14.0]]), np.array([[20.0]]))
    assert made[0, 0] == tooth


def test_where_only_one_tooth_is_made_none_is_ordered():
    one = run(speedo_driven_least=16.0, speedo_driven_most=16.0)
    assert nominal(one, "driven_to_order") == 0.0
    assert nominal(one, "speedometer_error") == printed("1.15")


def test_out_of_reach_takes_a_converter():
    """700 turns per km: wanted 18.5, only 14 is made: 32 % over; 0.1 × 40 + 4 are 20 % at 40."""
    far = {
        "speedometer_turns_per_km": 700.0,
        "speedo_driven_least": 14.0,
        "speedo_driven_most": 14.0,
    }
    found = run("found", **far)
    assert nominal(found, "speedometer_error") == printed("32.1")
    assert said(found, "speedometer_error") == "clash"
    fitted = run("fitted", **far)
    assert nominal(fitted, "speedometer_converter") == 1.0
    assert said(fitted, "speedometer_error") == "clear"
    assert nominal(fitted, "speedometer_error") == 0.0


@pytest.mark.parametrize("drive", [1.0, 2.0])
def test_a_sensor_or_nothing_takes_a_converter_and_no_tooth(drive):
    """Nothing drives the dial: it shows 100 % less, whatever the teeth."""
    no_cable = {"speedo_drive": drive, "speedo_driver_teeth": NAN, "speedo_driven_least": NAN}
    found = run("found", **no_cable)
    assert nominal(found, "speedometer_error") == -100.0
    assert said(found, "speedometer_error") == "clash"
    fitted = run("fitted", **no_cable)
    assert nominal(fitted, "speedometer_converter") == 1.0
    assert nominal(fitted, "driven_to_order") == 0.0
    assert said(fitted, "speedometer_error") == "clear"


def test_unknown_turns_are_unmeasured():
    unknown = run(speedometer_turns_per_km=NAN)
    assert said(unknown, "speedometer_error") == "unmeasured"
    assert said(run(speedo_drive=NAN), "speedometer_error") == "unmeasured"


def test_it_is_a_wish():
    assert BOOK.rules["speedometer_error"].kind == "wish"
    assert BOOK.rules["driven_to_order"].blind


def test_vector_equals_scalar_and_car_meets_builds():
    axles = np.array([[3.7], [4.1], [4.875]])
    turns = np.array([[800.0, 820.0]])
    grid = run(axle_ratio=axles, speedometer_turns_per_km=turns)
    wanted = 6.0 * axles * 1e6 / (1900.0 * turns)
    assert grid["driven_wanted"] == pytest.approx(wanted)
    error = 100.0 * (wanted / grid["driven_planned"] - 1.0)
    assert grid["dial_error"] == pytest.approx(error)
    for build, axle in enumerate(axles[:, 0]):
        alone = run(axle_ratio=axle, speedometer_turns_per_km=turns)
        assert grid["dial_error"][build] == pytest.approx(alone["dial_error"][0])


def test_the_driven_gear_is_told_where_what_to_make_or_order_is(demo):
    """It belongs to fitting any gearbox, and is ordered all the same."""
    told = []
    for build in demo.order[:8]:
        _, make = jobs(demo, int(build))
        ordered = demo.run([int(build)]).items.get("driven_to_order")
        if ordered is not None and ordered.done.any():
            told.append([job.operation for job in make])
            assert "Order the driven gear of the speedometer" in told[-1]
    assert told, "somebody needs one"
