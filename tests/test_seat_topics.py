"""Mount, crossmember, tunnel, opening, register: formulas by hand and against print. Lengths in
mm.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import printed, within

from compare.topics import crossmember, mount, opening, tunnel


def one(value):
    return np.full((1, 1), float(value))


# ---- mount --------------------------------------------------------------------------------------


def test_ten_degrees_on_sixty_millimetres():
    """Design: 60 tan 10° = 10.6."""
    assert mount.milled_stock(60.0, math.radians(10.0)) == within(10.6, 0.05)


def test_a_wedge_of_two_degrees_over_a_hundred():
    """Axle wedge, geometry (computed): 2° over a 100 mm pad, 3.49 mm."""
    assert mount.milled_stock(100.0, math.radians(2.0)) == within(3.49, 0.005)


@pytest.mark.parametrize(("degrees", "lever"), [(0.16, 358), (0.25, 229), (0.33, 174)])
def test_a_spacer_of_a_millimetre_tilts_by_its_lever(degrees, lever):
    """A vehicle maker's workshop manual, 1998: 1 mm turns 0.16, 0.25, 0.33°; levers 358, 229, 174
    (computed).
    """
    assert math.degrees(mount.lift_angle(1.0, float(lever), 0.0)) == within(degrees, 0.0015)


@pytest.mark.parametrize(
    ("lift", "behind", "degrees"), [(6.0, 800.0, "0.430"), (10.0, 900.0, "0.637"), (12.7, 762.0, "0.955")]
)
def test_a_lift_behind_the_engine_s_mounts_is_a_triangle(lift, behind, degrees):
    """check-values 7: 6 mm at 800, 10 at 900, 1/2 in at 30 in behind the mounts: atan(h / L), computed."""
    tilt = float(np.rad2deg(mount.lift_angle(np.array(lift), np.array(behind), np.array(0.0))))
    assert tilt == printed(degrees)


def test_lift_of_ten_at_eight_hundred():
    """Design: pad 800, pivot −350: 0.498°; the output at 858 rises 10.5."""
    angle = mount.lift_angle(10.0, 800.0, -350.0)
    assert math.degrees(angle) == within(0.498, 0.0005)
    assert mount.output_rise(one(angle), one(160.0), one(698.0), one(-350.0))[0, 0] == within(
        10.5, 0.05
    )


# ---- crossmember --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("box", "bar", "common"),
    [
        ((0, 50), (40, 90), 10),
        ((0, 50), (60, 90), 0),
        ((0, 100), (40, 60), 20),
        ((45, 55), (40, 90), 10),
    ],
)
def test_sliding_overlap_by_hand(box, bar, common):
    assert crossmember.slide_overlap(*map(float, (*box, *bar))) == common


def test_six_above_the_crossmember_is_enough():
    for bottom, low in ((112.0, False), (112.1, True)):
        found = crossmember.low_boxes([(one(0), one(300), one(bottom))], one(118), 6.0)
        assert (found.front[0, 0, 0] < 1e8) == low


def test_neighbouring_low_boxes_are_not_counted_twice():
    boxes = [(one(0), one(300), one(120)), (one(300), one(700), one(119))]
    found = crossmember.low_boxes(boxes, one(118), 6.0)
    total = crossmember.overlaps(one(0), found, one(250), one(350)).sum()
    assert total == pytest.approx(100)


# ---- tunnel -------------------------------------------------------------------------------------

STATIONS, SECTION = np.array([[[100.0, 200.0]]]), np.array([[[60.0, 40.0]]])


def test_a_narrowing_tunnel_bites_at_the_rear_end():
    # At 150 the section is 50: 55 stands 5 beyond.
    found = tunnel.deepest(
        one(0)[..., None], one(150)[..., None], one(55)[..., None], STATIONS, SECTION
    )
    assert found.ravel()[0] == pytest.approx(5)


def test_a_waist_in_the_middle_is_found():
    stations, section = np.array([[[0.0, 100.0, 200.0]]]), np.array([[[60.0, 40.0, 60.0]]])
    found = tunnel.deepest(
        one(0)[..., None], one(200)[..., None], one(50)[..., None], stations, section
    )
    assert found.ravel()[0] == pytest.approx(10)


def test_no_box_no_depth():
    found = tunnel.deepest(
        one(50)[..., None], one(50)[..., None], one(500)[..., None], STATIONS, SECTION
    )
    assert found.ravel()[0] == -math.inf


# ---- opening ------------------------------------------------------------------------------------


def test_an_opening_short_at_both_ends():
    assert [float(a) for a in opening.overrun(100.0, 400.0, 60.0, 480.0, 520.0)] == [10.0, 10.0]


def test_an_opening_grows_by_half_to_three_quarters_of_an_inch_for_a_turret():
    """Practice of the trade: 12.7 to 19 mm are usual; a turret 100 long in a hole of 84 takes 16."""
    front, rear = opening.overrun(0.0, 500.0, 100.0, 458.0, 542.0)
    assert 12.7 <= front + rear <= 19.05


# ---- one price, one geometry --------------------------------------------------------------------

VARIED = {"shaft_stickout": 20, "pilot_length": 8, "spline_start": 8, "spline_end": 10, "collar_length": 20, "length": 60,
          "case_length": 40, "case_bottom": 20, "tail_bottom": 35, "tail_left": 40, "tail_top": 45, "mount_position": 70,
          "shifter_position": 70, "shifter_offset": 30}  # fmt: skip
MEASURED_ON_THE_SEAT = {"bellhousing_bored", "journal_turned", "pad_milled", "crank_bored"}


def random_rows(seed, count):
    from calder import GEARBOX

    random, rows = np.random.default_rng(seed), []
    for number in range(count):
        row = dict(GEARBOX) | {"name": f"G{number}"}
        for name, width in VARIED.items():
            if random.random() < 0.35:
                row[name] = round(max(row[name] + random.uniform(-width, width), 0.5), 2)
        if random.random() < 0.3:
            row["lug_cut"] = round(random.uniform(0, 10), 1)
        row["spline_end"] = max(row["spline_end"], row["spline_start"] + 20)
        rows.append(row)
    return rows


@pytest.mark.parametrize("seed", range(3))
def test_the_seat_minimises_what_the_work_list_charges(tmp_path, seed):
    """On random gearboxes: millimetres per undo step in the seat's bounds are those of the work
    list.
    """
    from calder import car_text, sheet_of

    from compare.answer.compare import compare
    from compare.judge.seat import harm_at
    from compare.read.car import read_car
    from compare.read.catalogue import catalogue_table
    from compare.vocabulary import UNDO_STEPS

    car = {"policy.deepest_cut": "frame cut", "engine_mounts.shift_bolted": 3, "engine_mounts.shift_slotted": 12,
           "limits": {"mount_lift_most": 0}}  # fmt: skip
    table = catalogue_table(sheet_of(tmp_path / "c.csv", random_rows(seed, 120)))
    a = compare(table, read_car(car_text(car)), draws=1)
    run = a.run(np.arange(len(a.builds)), "fitted")
    seat = run.names["depth_of_face"], run.names["adapter_thickness"], run.names["engine_shift"]
    compared = 0
    for step in UNDO_STEPS[1:]:
        harm = harm_at(run.bounds, step, *seat, run.shape)
        charged = np.zeros(run.shape)
        for name, item in run.items.items():
            if name not in MEASURED_ON_THE_SEAT:
                charged += np.where(
                    run.pick(item.undo) == UNDO_STEPS.index(step), run.pick(item.extent), 0.0
                )
        assert harm == pytest.approx(charged, abs=1e-5), step
        compared += int((charged > 0).sum())
    assert compared > 30
