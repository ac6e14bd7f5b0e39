"""Doubt: draws, shares of variance, chances, against JCGM and closed forms."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from published import printed, within
from uncertainties import ufloat

from compare.answer.report import Tables
from compare.answer.visits import dimensions, judged_over_range, variance_shares
from compare.judge.draws import rectangular, stream
from compare.judge.engine import compare
from compare.read.car import read_car
from compare.read.catalogue import load_catalogue, load_parts

DRAWS = 40_000


def test_four_rectangular_inputs_of_jcgm_101():
    """JCGM 101:2008, 9.2.3 (memory + computed): four rectangular inputs, mean 0, s.d. 1: 95 % interval ±3.88, not ±3.92."""
    half = math.sqrt(3.0)
    total = sum(rectangular(0.0, half, 400_001, 1, "example", f"input {i}")[1:] for i in range(4))
    low, high = np.quantile(total, [0.025, 0.975])
    exact = 2 * math.sqrt(3) * (2 - 0.6**0.25)
    assert exact == printed("3.88")
    assert (high - low) / 2 == within(exact, 0.015)
    assert abs((high - low) / 2 - 3.92) > 0.02


def test_standard_uncertainty_of_a_rectangle():
    """JCGM 100:2008, 4.3.7: a/√3."""
    values = rectangular(10.0, 3.0, 200_001, 1, "o", "c")[1:]
    assert values.std() == within(3.0 / math.sqrt(3), 0.01)
    assert values.min() >= 7.0 and values.max() <= 13.0


def test_draw_zero_is_nominal_and_no_doubt_draws_nothing():
    assert rectangular(5.0, 1.0, 10, 1, "o", "c")[0] == 5.0
    assert np.all(rectangular(5.0, 0.0, 10, 1, "o", "c") == 5.0)


def test_streams_hang_on_seed_owner_and_column():
    base = stream(1, "a", "length").uniform(size=5)
    assert np.array_equal(base, stream(1, "a", "length").uniform(size=5))
    for other in ((2, "a", "length"), (1, "b", "length"), (1, "a", "mass")):
        assert not np.array_equal(base, stream(*other).uniform(size=5))


def test_a_stream_is_the_same_on_every_machine():
    """Pinned: PCG64 seeded by (seed, CRC-32 of owner, CRC-32 of column)."""
    assert stream(1, "candidate Tarn 5A", "length").uniform(-1, 1, 3).round(12).tolist() == PINNED


PINNED = [0.27061718597, -0.792139892389, -0.211622551614]


def test_stack_up_of_the_tolerance_article():
    """A published tolerance article: 2.000 ± .005, 1.500 ± .003, 0.500 ± .002 in a housing of 4.020 ± .005: gap 0.020, worst ± 0.015, root sum square ± 0.00794."""
    halves = np.array([0.005, 0.003, 0.002, 0.005])
    gap = 4.020 - (2.000 + 1.500 + 0.500)
    assert gap == printed("0.020") and halves.sum() == printed("0.015") and math.sqrt((halves**2).sum()) == printed("0.00794")
    shares = variance_shares(halves)
    assert shares == pytest.approx(halves**2 / (halves**2).sum())
    draws = rectangular(4.020, 0.005, DRAWS, 1, "h", "x") - sum(rectangular(n, a, DRAWS, 1, "p", str(n)) for n, a in ((2.0, 0.005), (1.5, 0.003), (0.5, 0.002)))
    # Rectangles have a third of the square of their half-width as variance, so the article's figure is √3 standard deviations.
    assert draws[1:].std() * math.sqrt(3) == within(0.00794, 0.0001)
    assert abs(draws - gap).max() <= 0.015 + 1e-12


def test_end_gauge_of_the_gum():
    """JCGM 100:2008, H.1 (inputs as in the GTC package's example): length 50,000,838 nm, u 32 nm."""
    ls, d, alpha, theta, delta_alpha, delta_theta = 50_000_623.0, 215.0, 11.5e-6, -0.1, 0.0, 0.0
    length = ls + d - ls * (delta_alpha * theta + alpha * delta_theta)
    assert length == printed("50000838")
    # u: standard 25, difference 9.7, temperature difference 2.9 and expansion difference 16.6 nm (H.1.4).
    swings = np.array([25.0, 9.7, 2.9, 16.6]) * math.sqrt(3)
    assert math.sqrt((swings**2).sum() / 3) == printed("32")
    assert variance_shares(swings)[0] == pytest.approx(25.0**2 / (25.0**2 + 9.7**2 + 2.9**2 + 16.6**2))


def test_linear_sums_agree_with_the_uncertainties_package():
    rng = np.random.default_rng(5)
    for _ in range(20):
        weights, halves = rng.uniform(-3, 3, 5), rng.uniform(0.1, 4, 5)
        total = sum(w * ufloat(10.0, a / math.sqrt(3)) for w, a in zip(weights, halves, strict=True))
        swings = weights * halves
        assert math.sqrt((swings**2).sum() / 3) == pytest.approx(total.std_dev)
        parts = sorted((c**2 for c in total.error_components().values()), reverse=True)
        assert sorted(variance_shares(swings), reverse=True) == pytest.approx(np.array(parts) / total.std_dev**2)


# ---- through the whole program -------------------------------------------------------------------------


def one(tmp_path, car_text, name="X", **changes):
    """One exact candidate for the demo van, with some cells changed; everything without stated doubt is drawn exact."""
    cells = {"name": name, "source": "drawing", "ratio_1": "3.42", "ratio_2": "2.08", "ratio_3": "1.39", "ratio_4": "1", "ratio_5": "0.8", "bellhousing": "own", "bellhousing_depth": "160 ±0", "adapter": "none",
                 "shaft_stickout": "163 ±0", "pilot_diameter": "15 ±0", "pilot_length": "26 ±0", "spline_teeth": "10", "spline_diameter": "25.4 ±0", "spline_start": "38 ±0", "spline_end": "84 ±0", "collar_length": "60 ±0",
                 "length": "698 ±0", "case_length": "300 ±0", "case_left": "98 ±0", "case_right": "98 ±0", "case_top": "102 ±0", "case_bottom": "108 ±0", "tail_left": "62 ±0", "tail_right": "62 ±0", "tail_top": "72 ±0",
                 "tail_bottom": "80 ±0", "mount_position": "640 ±0", "mount_drop": "95 ±0", "mount_tilt": "0 ±0", "mount_pad_length": "60 ±0", "shifter_position": "730 ±0", "shifter_room": "80 ±0", "release_type": "fork",
                 "release_side": "left", "output_type": "slip yoke", "slip_travel": "60", "speedo_drive": "cable", "speedo_driver_teeth": "6", "speedo_driven_teeth": "14..20", "torque_rating": "170", "price": "100"} | changes  # fmt: skip
    path = tmp_path / f"{name}.csv"
    path.write_text(",".join(cells) + "\n" + ",".join(cells.values()) + "\n", encoding="utf-8")
    return load_catalogue(path), read_car(car_text)


@pytest.fixture
def exact_car(demo_files):
    """The van with every length exact."""
    text = demo_files[1].read_text(encoding="utf-8")
    text = re.sub(r"\[gearbox\].*?(?=\[crank\])", "", text, flags=re.S)
    out, section = [], ""
    for line in text.splitlines():
        found = re.match(r"\[(\w+)\]", line)
        section = found[1] if found else section
        number = re.match(r"(\w+) = (-?[\d.]+)$", line)
        if number and section in ("crank", "clutch", "mount", "crossmember", "opening", "driveshaft") and number[1] not in ("wear_travel_",):
            line = f'{number[1]} = "{number[2]} ±0"' if number[1] not in ("spline_teeth", "release_travel", "release_travel_max", "pedal_travel", "pedal_ratio", "fork_ratio", "free_play") else line
        line = re.sub(r'"(1/2|1|3/4|7/8|8|2 1/4) in"', r'"\1 in ±0"', line)
        line = re.sub(r"zone = \[760, 830\]", 'zone = ["760 ±0", "830 ±0"]', line)
        out.append(line)
    return "\n".join(out)


def test_chance_of_a_single_uniform(tmp_path, exact_car):
    """The hub's rear margin is spline_end − 76.5: with 78 ± 4 it is negative for 2.5 of 8 mm: chance of not clashing 11/16."""
    table, car = one(tmp_path, exact_car, spline_end="78 ±4")
    found = compare(table, car, draws=DRAWS)
    at = [r.title for r in found.engine.checks].index("hub_seat")
    assert found.chance_check[0, at] == within(5.5 / 8, 0.01)


def test_chance_of_a_sum_of_two_uniforms(tmp_path, exact_car):
    """Margin = spline_end − shaft_stickout + 160 + … : 79.5 ± 3 less 163 ± 3: a triangle of half-width 6 about 3; P(< 0) = 3²/(2·6²) = 1/8."""
    table, car = one(tmp_path, exact_car, spline_end="79.5 ±3", shaft_stickout="163 ±3", spline_start="30 ±0", pilot_length="33 ±0", collar_length="50 ±0")
    found = compare(table, car, draws=DRAWS)
    at = [r.title for r in found.engine.checks].index("hub_seat")
    assert 1 - found.chance_check[0, at] == within(1 / 8, 0.01)


def test_a_build_s_chance_is_joint_not_a_product(tmp_path, exact_car):
    """Hub in front and hub behind hang on the same stick-out: either margin fails alone, so the chance is the sum's, not the product's."""
    # Full splines from 41.5 to 80.5: front margin 4 + e (works down to −4.2: never), rear 4 − e: fails for e > 4 of ± 8: 1/4.
    # Guide: 163 + e − 82.5 − (76.5 + e) = 4 whatever e. End gap: 6 − e: shortened tip, allowed.
    table, car = one(tmp_path, exact_car, spline_end="80.5 ±0", spline_start="41.5 ±0", shaft_stickout="163 ±8", pilot_length="35 ±0")
    found = compare(table, car, draws=DRAWS)
    assert found.outcome_share[0, :2].sum() == within(0.75, 0.01)
    checks = [r.title for r in found.engine.checks]
    product = np.prod([c for c in found.chance_check[0] if not np.isnan(c)])
    assert found.chance_check[0, checks.index("hub_seat")] == within(0.75, 0.01)
    assert product <= found.outcome_share[0, :2].sum() + 0.01


def test_shares_of_variance_are_exact_on_a_linear_margin(tmp_path, exact_car):
    """Rear margin = spline_end − stickout + depth − …: half-widths 4, 2, 1: shares 16/21, 4/21, 1/21."""
    table, car = one(tmp_path, exact_car, spline_end="77 ±4", shaft_stickout="163 ±2", bellhousing_depth="160 ±1", spline_start="20 ±0", pilot_length="33 ±0", collar_length="40 ±0")
    found = dimensions(compare(table, car, draws=400))
    shares = {d.column: d.share for d in found if d.check == "hub_seat"}
    assert shares["spline_end"] == pytest.approx(16 / 21, abs=1e-6)
    assert shares["shaft_stickout"] == pytest.approx(4 / 21, abs=1e-6)
    assert shares["bellhousing_depth"] == pytest.approx(1 / 21, abs=1e-6)


def test_widening_a_doubt_never_helps_a_clash_without_cause(tmp_path, exact_car):
    """Margin −1: exact it fails for sure; ± 0.5 cannot save it; ± 4 can, with the closed form's chance; wider tends to one half."""
    chances = []
    for half in (0, 0.5, 1, 2, 4, 8):
        table, car = one(tmp_path, exact_car, spline_end=f"75.5 ±{half}", spline_start="20 ±0")
        found = compare(table, car, draws=8000)
        at = [r.title for r in found.engine.checks].index("hub_seat")
        chances.append(float(found.chance_check[0, at]))
        assert chances[-1] == within(max(0.0, (half - 1) / (2 * half)) if half else 0.0, 0.02)
        assert chances[-1] <= 0.5


def test_same_numbers_for_any_order_or_subset(demo, demo_files, tmp_path):
    lines = demo_files[0].read_text(encoding="utf-8").splitlines()
    comments, head, rows = [x for x in lines if x.startswith("#")], lines[2], lines[3:]
    path = tmp_path / "reversed.csv"
    path.write_text("\n".join([*comments, head, *rows[::-1]]) + "\n", encoding="utf-8")
    car = read_car(demo_files[1].read_text(encoding="utf-8"))
    parts = load_parts(demo_files[2])
    backwards = compare(load_catalogue(path), car, parts, draws=400)
    by = lambda a: {(a.builds.candidate_name(b), a.builds.name(b)): (a.score[b], tuple(a.band[b]), tuple(a.outcome_share[b])) for b in range(len(a.builds))}
    assert by(backwards) == by(demo)
    some = compare(demo.builds.catalogue, car, parts, draws=400, only=["Askrigg 5", "keld 5"])
    assert by(some) == {k: v for k, v in by(demo).items() if k[0] in ("Askrigg 5", "Keld 5")}
    again = compare(demo.builds.catalogue, car, parts, draws=400)
    assert np.array_equal(again.key, demo.key)
    other = compare(demo.builds.catalogue, car, parts, draws=400, seed=2)
    assert not np.array_equal(other.key, demo.key)


def test_slices_do_not_change_anything(demo, monkeypatch):
    import compare.judge.engine as module

    monkeypatch.setattr(module, "SLICE", 900)
    small = compare(demo.builds.catalogue, demo.car, demo.builds.parts, draws=400)
    assert np.array_equal(small.key, demo.key) and np.array_equal(small.verdict, demo.verdict)


def test_an_unknown_number_is_judged_over_its_range_and_not_filled_in(demo):
    """Bainbridge 5 lacks spline_end: it goes in from 76.5 on (reach 28 + 48.5), and stays measure first."""
    found = {m.candidate: m for m in judged_over_range(demo)}
    m = found["Bainbridge 5"]
    assert m.column == "spline_end" and m.from_catalogue
    assert m.goes_from == pytest.approx(76.5, abs=(m.high - m.low) / 200 + 1e-9)
    assert m.chance == pytest.approx((m.high - 76.5) / (m.high - m.low), abs=0.01)
    row = next(r for r in Tables(demo).ranking if r["candidate"] == "Bainbridge 5")
    assert row["outcome"] == "measure first"


def test_what_is_missing_and_blocks_comes_first(demo):
    first = dimensions(demo)[0]
    assert (first.owner, first.column, first.missing) == ("Bainbridge 5", "spline_end", True)


def outcome_doubt(assessment):
    """Doubt in whether each of the shortlist goes in: Σ p (1 − p)."""
    p = assessment.outcome_share[assessment.order[:12], :2].sum(axis=1)
    return float((p * (1 - p)).sum())


def test_narrowing_the_first_dimension_changes_more_outcomes_than_any_other(demo, demo_files):
    """Done, not argued: each of the listed dimensions is narrowed to a tenth in turn, and the shortlist's doubt is measured anew."""
    listed = [d for d in dimensions(demo) if not d.missing and d.weight > 0.01]
    assert len(listed) >= 4
    car = demo.car
    before = outcome_doubt(demo)
    assert before > 0.05
    gains = {}
    for d in listed[:12]:
        table = load_catalogue(demo_files[0])
        parts = load_parts(demo_files[2])
        if d.owner == "car":
            from dataclasses import replace

            from compare.read.cells import Value

            if d.column not in car.values:
                continue
            changed = replace(car, values=car.values | {d.column: Value(car.values[d.column].nominal, d.half / 10)})
        else:
            changed = car
            for t in (table, parts):
                if d.owner in t.names:
                    t.columns[d.column].half[t.names.index(d.owner)] = d.half / 10
        gains[d.owner, d.column] = before - outcome_doubt(compare(table, changed, parts, draws=4000))
    first = (listed[0].owner, listed[0].column)
    assert max(gains, key=gains.get) == first, sorted(gains.items(), key=lambda g: -g[1])[:4]
    assert gains[first] > 0
