"""Envelope: boxes in tunnel and over the crossmember, worked by hand; drawings true to the numbers. Lengths in mm."""

from __future__ import annotations

import math

import numpy as np
import pytest

from compare.report.charts import clashes, layout_series
from compare.report.drawing import Scale, layout_of, plan_view, shaft_view, side_view
from compare.topics import envelope as e


def col(*values):
    return np.array([[v] for v in values], dtype=float)


STATIONS = np.array([[[200.0, 450.0, 700.0, 950.0]]])
LEFT = np.array([[[190.0, 150.0, 112.0, 95.0]]])


def test_a_narrowing_tunnel_bites_at_the_rear_end():
    # At 858 the tunnel is 112 − 17 × 158/250 = 101.256 wide; a tail of 101 leaves 0.256.
    _, tail = e.tunnel_clearance(col(160), col(300), col(698), col(98), col(101), STATIONS, LEFT)
    assert tail[0, 0] == pytest.approx(101.256 - 101)


def test_a_waist_in_the_middle_is_found():
    waist = np.array([[[190.0, 90.0, 150.0, 150.0]]])
    case, _ = e.tunnel_clearance(col(160), col(400), col(698), col(98), col(60), STATIONS, waist)
    assert case[0, 0] == pytest.approx(90 - 98)


def test_outside_the_stations_there_is_no_tunnel():
    case, tail = e.tunnel_clearance(col(-300), col(300), col(700), col(98), col(60), STATIONS, LEFT)
    assert math.isinf(case[0, 0]) and tail[0, 0] == pytest.approx(150 - 60 + (450 - 400) * 40 / 250)


def test_sliding_overlap_by_hand():
    """The housing's low part from 154 to 518 over a crossmember from 480, lip 12, to 545: lip 12, box section 26."""
    assert e.slide_overlap(154.0, 518.0, 480.0, 492.0) == 12.0
    assert e.slide_overlap(154.0, 518.0, 492.0, 545.0) == 26.0
    assert e.slide_overlap(600.0, 700.0, 480.0, 492.0) == 0.0


def test_the_part_of_the_housing_that_comes_too_low():
    # Case bottom 113 + 6 = 119 is lower than 118; tail 80 is not: from −6 to 300 + 6. With a low tail too: to the very end.
    front = e.low_front(col(700, 700, 700), col(300, 300, 300), col(113, 100, 113), col(80, 120, 120), col(118), 6.0)
    rear = e.low_rear(col(700, 700, 700), col(300, 300, 300), col(113, 100, 113), col(80, 120, 120), col(118), 6.0)
    assert front.ravel().tolist() == [-6.0, 294.0, -6.0] and rear.ravel().tolist() == [306.0, 706.0, 706.0]


def test_six_above_the_crossmember_is_enough():
    """Practice: about a quarter of an inch between housing and chassis is accepted."""
    assert e.HOUSING_GAP.default == pytest.approx(25.4 / 4, abs=0.5)
    assert e.low_front(col(700), col(300), col(112), col(80), col(118), 6.0)[0, 0] > 1e6


def test_ten_degrees_on_sixty_millimetres():
    """Practice: a mount pad can sit ten degrees off. 60 × tan 10° = 10.58."""
    assert e.milled_stock(np.array(60.0), np.deg2rad(10.0)) == pytest.approx(10.58, abs=0.005)


def test_wedge_before_milling_where_the_height_allows_it():
    wedge = e.wedge(col(math.radians(4)), col(60))
    assert wedge[0, 0] == pytest.approx(60 * math.tan(math.radians(4)) / 2)
    fits = e.wedge_fits(col(4.0, 4.0, 1.0), 2.0, np.repeat(wedge, 3, axis=0), col(90, 109, 90), col(110))
    assert fits.ravel().tolist() == [1.0, 0.0, 0.0]
    mill = e.mill_pad(col(4.0, 4.0, 1.0), fits, col(4.2, 4.2, 1.0), col(6, 6, 6), 2.0)
    assert np.asarray(mill.needed).ravel().tolist() == [0.0, 1.0, 0.0]


def test_an_opening_short_at_both_ends():
    # Lever at 500 ± 30 over an opening from 480 to 520: 10 short in front and behind.
    front, rear = e.overrun(100.0, 400.0, 60.0, 480.0, 520.0)
    assert (front, rear) == (10.0, 10.0)


def test_engine_forward_by_a_quarter_to_three_eighths_spares_the_box_section(demo_tables):
    """Practice: moving the engine forward 1/4 to 3/8 in can spare a crossmember its box section (the Garth's 9 mm is 0.354 in)."""
    seat = next(s for s in demo_tables.seats if s["candidate"] == "Garth 5")
    assert 25.4 / 4 <= seat["engine_shift_mm"] <= 25.4 * 3 / 8


# ---- drawings -----------------------------------------------------------------------------------------


def at_of(tables, candidate):
    return next(i for i in range(len(tables.shown)) if tables.candidate(i) == candidate)


@pytest.mark.parametrize("width", [60, 78, 118])
@pytest.mark.parametrize("candidate", ["Tarn 5A", "Wray 5 iron case", "Swale 5 wide"])
def test_side_view_is_right_to_one_cell(demo_tables, candidate, width):
    layout = layout_of(demo_tables, at_of(demo_tables, candidate))
    drawing = side_view(layout, width)
    assert max(len(line) for line in drawing.lines) <= width + 8
    rows = drawing.lines[: drawing.z.count]
    columns = {mark: [i for line in rows for i, c in enumerate(line) if c == mark] for mark in "#=X"}
    cell = (drawing.x.high - drawing.x.low) / (drawing.x.count - 1)
    assert abs(drawing.x.value(min(columns["#"])) - layout.x_face) <= cell
    assert abs(drawing.x.value(max(columns["="])) - layout.tail_end) <= cell
    assert abs(drawing.x.value(max(columns["X"])) - layout.crossmember[1]) <= cell
    tops = [drawing.z.count - 1 - r for r, line in enumerate(rows) if "#" in line]
    row_mm = (drawing.z.high - drawing.z.low) / (drawing.z.count - 1)
    assert abs(drawing.z.value(max(tops)) - layout.case["top"]) <= row_mm


def test_the_clash_of_the_wray_is_marked_where_it_is(demo_tables):
    at = at_of(demo_tables, "Wray 5 iron case")
    layout = layout_of(demo_tables, at)
    drawing = side_view(layout, 100)
    marks = [drawing.x.value(i) for line in drawing.lines[: drawing.z.count] for i, c in enumerate(line) if c == "!"]
    cell = (drawing.x.high - drawing.x.low) / (drawing.x.count - 1)
    assert marks and min(marks) >= layout.crossmember[0] - cell and max(marks) <= layout.case_end + cell
    assert clashes(layout)


def test_nothing_is_marked_on_the_one_that_bolts_in(demo_tables):
    layout = layout_of(demo_tables, at_of(demo_tables, "Tarn 5A"))
    for view in (side_view, plan_view):
        assert not any("!" in line for line in view(layout, 78).lines)
    assert not clashes(layout)


def test_plan_view_marks_a_tail_too_near_the_tunnel(demo_tables):
    """The Swale's tail of 101 stands 5.2 too near on the left and 2.2 on the right at its rear end."""
    layout = layout_of(demo_tables, at_of(demo_tables, "Swale 5 wide"))
    drawing = plan_view(layout, 100)
    marks = [drawing.x.value(i) for line in drawing.lines[: drawing.z.count] for i, c in enumerate(line) if c == "!"]
    first = 700 + (112 - 107) * 250 / 17  # where the tunnel comes down to 101 + 6
    cell = (drawing.x.high - drawing.x.low) / (drawing.x.count - 1)
    assert marks and abs(min(marks) - first) <= cell and max(marks) <= layout.tail_end + cell


def test_shaft_view_is_right_to_one_cell(demo_tables):
    at = at_of(demo_tables, "Tarn 5A")
    drawing = shaft_view(demo_tables, at, 100)
    bars = {line[:13].strip(): line[14:] for line in drawing.lines}
    reach = demo_tables.value("reach", at)
    cell = (drawing.x.high - drawing.x.low) / (drawing.x.count - 1)
    for name, start, end, mark in (("journal", -reach, -reach + 26, "="), ("full splines", 38 - reach, 84 - reach, "S"), ("hub, worn", 17.5, 45.5, "H"), ("hub, released", 20.5, 48.5, "H"), ("bore", -34, 0, ".")):
        cells = [i for i, c in enumerate(bars[name]) if c == mark]
        assert abs(drawing.x.value(min(cells)) - start) <= cell and abs(drawing.x.value(max(cells)) - end) <= cell, name


def test_the_hub_on_the_runout_is_marked(demo, demo_files):
    from compare.answer.report import Tables
    from compare.judge.engine import compare

    tables = Tables(compare(demo.builds.catalogue, demo.car, draws=1, only=["Hawes 5"]))
    lines = shaft_view(tables, 0, 100).lines
    assert any(line.startswith("hub, released") and "!" in line for line in lines)
    assert any(line.startswith("turned back") for line in lines)


def test_chart_points_are_the_numbers(demo_tables):
    at = at_of(demo_tables, "Garth 5")
    layout = layout_of(demo_tables, at)
    series = dict(layout_series(layout, "side"))
    assert series["case"][0] == (pytest.approx(151.0), pytest.approx(-121.0))
    assert series["case"][2] == (pytest.approx(151.0 + 323.0), pytest.approx(102.0))
    assert series["crossmember"][0][0] == 480.0 and series["lip"][1][0] == 492.0
    assert series["mount pad"][0] == (pytest.approx(151 + 652 - 30), -95.0)
    plan = dict(layout_series(layout, "plan"))
    assert plan["tunnel left"][1] == (450.0, 150.0) and plan["tunnel right"][1] == (450.0, -150.0)


def test_scale_rounds_to_the_nearest_cell():
    scale = Scale(0.0, 770.0, 78)
    assert [scale.cell(v) for v in (0, 4.9, 5.1, 770)] == [0, 0, 1, 77]
    assert scale.value(scale.cell(345.0)) == pytest.approx(345, abs=5)
