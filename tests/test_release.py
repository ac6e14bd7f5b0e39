"""Clutch release: hydraulics, the arm's side, the guide and the concentric slave, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from bench import BOOK, LIMITS, NAN, nominal, run, said
from published import printed, within

from compare.topics import release as r

# A concentric slave of an invented maker: annulus 50 / 36, 64 high pushed back, 18 of stroke.
AROUND = {
    "release_type": 1.0, "annulus_inside": 36.0, "annulus_outside": 50.0, "annulus_stroke": 18.0,
    "slave_least": 66.0, "release_side": NAN,
}  # fmt: skip


# ---- published figures --------------------------------------------------------------------------


def test_pascal_s_principle_of_openstax():
    """OpenStax College Physics: 500 N on a 0.500 cm master, 2.50 cm slave: 12,500 N (printed)."""
    assert 500 * r.pedal_leverage(1.0, 5.00, 25.0, 1.0) == printed("12500")


def test_concentric_slave_of_a_published_worked_example():
    """Master 0.75 × 1.25 in, annulus 2.0 / 1.375 in: 0.552 in³, 1.656 in², 0.333 in (printed)."""
    inch = 25.4
    travel = r.annulus_travel(1.25 * inch, 1.0, 0.75 * inch, 1.375 * inch, 2.0 * inch)
    assert math.pi / 4 * 0.75**2 * 1.25 == printed("0.552")
    # The example prints 1.656 in² and 1069 mm²; exact 1.6567.
    assert math.pi / 4 * (2.0**2 - 1.375**2) == within(1.656, 0.001)
    assert travel / inch == printed("0.333")
    assert travel == within(8.47, 0.01)


def test_outer_slave_of_the_design_s_formula():
    """Pedal 140, ratio 6, master 19.05, slave 22.225, fork 2, play 1.5: 17.14; 7.07 (computed)."""
    slave = r.slave_travel(140.0, 6.0, 19.05, 22.225)
    assert slave == printed("17.14")
    assert r.bearing_travel(slave, 2.0, 1.5) == printed("7.07")


def test_air_gap_of_three_shops():
    """Three shops' instructions: 2.5 to 6 mm, 4 aimed at; they disagree (seen)."""
    assert (LIMITS["slave_standoff_tight"], LIMITS["slave_standoff_clear"]) == (2.5, 4.0)


def test_what_force_gains_travel_loses():
    leverage = r.pedal_leverage(5.0, 19.05, 22.225, 2.0)
    travel = r.bearing_travel(r.slave_travel(140.0, 5.0, 19.05, 22.225), 2.0, 0.0)
    assert leverage * travel == pytest.approx(140.0)


def test_centring_bore_centres():
    for travel in (6.0, 9.5, 14.0):
        bore = r.centring_bore(travel, 140.0, 5.0, 19.05, 2.0, 1.0)
        slave = r.slave_travel(140.0, 5.0, 19.05, bore)
        assert r.bearing_travel(slave, 2.0, 1.0) == pytest.approx(travel)


# ---- travel, by hand ----------------------------------------------------------------------------


def test_bearing_travel_of_today_s_slave():
    """140 / 5 = 28; 28 × (19.05 / 22.225)² = 20.57; / 2 − 1 = 9.29, between 8 and 11."""
    today = run("found")
    assert nominal(today, "release_travel") == printed("9.29")
    assert said(today, "release_travel") == "clear"
    assert nominal(run(), "slave_bore") == 0.0


def test_a_slave_too_wide_is_changed_for_one_that_is_made():
    """25.4: 28 × (19.05 / 25.4)² = 15.75; / 2 − 1 = 6.88 < 8.

    9.5 is the middle: bore 19.05 √(28 / 2 / 10.5) = 22.0, which is made: 9.50.
    """
    wide = {"clutch_slave_bore": 25.4}
    found = run("found", **wide)
    assert nominal(found, "release_travel") == within(6.875, 1e-9)
    assert said(found, "release_travel") == "clash"
    fitted = run("fitted", **wide)
    assert nominal(fitted, "slave_bore") == 22.0
    assert nominal(fitted, "release_travel") == printed("9.50")
    assert said(fitted, "release_travel") == "clear"


def test_a_slave_too_narrow_takes_the_cover_over_centre():
    """20.0: 28 × (19.05 / 20)² = 25.40; / 2 − 1 = 11.70 > 11; again 22.0 is made."""
    narrow = {"clutch_slave_bore": 20.0}
    assert nominal(run("found", **narrow), "release_travel") == printed("11.70")
    assert said(run("found", **narrow), "release_travel") == "clash"
    assert nominal(run("fitted", **narrow), "slave_bore") == 22.0


def test_least_and_most_slave_are_made_ones():
    """Wanted 8 to 11: bores 19.05 √(14 / 12) = 20.58 to 19.05 √(14 / 9) = 23.76: 20.64 to 22.2."""
    ask = run("found", clutch_slave_bore=25.4)["ask_slave_bore"]
    assert (float(ask.least[0, 0]), float(ask.most[0, 0])) == (20.64, 22.2)


def test_a_figure_between_two_bores_is_the_nearest_that_is_made():
    between = run("found", {"slave_bore": np.array([[21.6]])})
    assert nominal(between, "slave_bore_fitted") == 22.0


def test_no_bore_that_is_made_does_it():
    """10.0 to 10.2 wants 21.4 to 21.5: none is made; nothing is ordered, and it stays a clash."""
    narrow = run(clutch_release_travel=10.0, clutch_release_travel_max=10.2)
    assert nominal(narrow, "slave_bore") == 0.0
    assert said(narrow, "release_travel") == "clash"


def test_the_gearbox_s_own_fork_counts():
    """Fork 2.4: 20.57 / 2.4 − 1 = 7.57 < 8; the car's 2.0 gives 9.29."""
    own = run("found", fork_ratio=2.4)
    assert nominal(own, "release_travel") == printed("7.57")
    assert said(own, "release_travel") == "clash"


def test_unknown_pedal_is_unmeasured():
    assert said(run(clutch_pedal_travel=NAN), "release_travel") == "unmeasured"


# ---- side of the arm ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("side", "blocked", "words"),
    [
        (0.0, 1.0, "clear"),
        (1.0, 1.0, "clash"),
        (2.0, 1.0, "clear"),
        (NAN, 1.0, "unmeasured"),
        (NAN, 2.0, "clear"),
        (1.0, 2.0, "clear"),
    ],
)
def test_arm_against_the_blocked_side(side, blocked, words):
    """Left 0, right 1, either 2; nothing blocked 2."""
    found = run("found", release_side=side, clutch_blocked_side=blocked)
    assert said(found, "release_side_free") == words


def cost_of(values, name="release_way"):
    taken = int(nominal(values, name))
    return BOOK.rules[name].options[taken].cost


@pytest.mark.parametrize(("swaps", "way"), [(1.0, r.PUSHED), (2.0, r.PULLED)])
def test_arm_moved_across_asks_for_its_slave(swaps, way):
    """The arm moves for nothing; the slave of the other side is paid for."""
    moved = run(release_side=1.0, arm_swaps=swaps)
    assert nominal(moved, "release_way") == way
    assert said(moved, "release_side_free") == "clear"
    assert cost_of(moved) >= 75.0


def test_a_pulling_slave_alone_brings_no_arm_away():
    """The arm does not go across: neither slave helps, and no concentric one is known."""
    stuck = run(release_side=1.0, arm_swaps=0.0)
    works = stuck["ask_release_way"].works[0, 0]
    assert works[:3].tolist() == [-1.0, -1.0, -1.0] and math.isnan(works[3])
    assert said(stuck, "release_side_free") == "clash"


def test_nobody_knows_whether_the_arm_goes_across():
    works = run(release_side=1.0)["ask_release_way"].works[0, 0]
    assert np.isnan(works[1:3]).all() and works[0] == -1.0


def test_a_concentric_slave_in_place_of_the_arm():
    """Gap 160 − 25 − 22 − 40 − 66 = 7; 28 × 19.05² / (50² − 36²) = 8.44 within 18: it works."""
    other = run(**{**AROUND, "release_type": 0.0, "release_side": 1.0, "arm_swaps": 0.0})
    assert nominal(other, "release_way") == r.MADE_CONCENTRIC
    assert nominal(other, "is_concentric") == 1.0
    assert nominal(other, "concentric_slave") == 0.0, "one slave is paid for"
    assert said(other, "release_side_free") == "tight", "gearbox out to reach a leak"
    assert nominal(other, "release_travel") == printed("8.44")


def test_a_slave_that_comes_with_the_arm_is_paid_for_once():
    """Moved across, and the travel wants another bore: that bore costs nothing more."""
    ask = run(release_side=1.0, arm_swaps=1.0, clutch_slave_bore=25.4)["ask_slave_bore"]
    assert float(np.ravel(ask.cost)[0]) == 0.0
    ask = run(clutch_slave_bore=25.4)["ask_slave_bore"]
    assert float(np.ravel(ask.cost)[0]) == 45.0


# ---- concentric slave ---------------------------------------------------------------------------


def test_standoff_of_the_design_s_sum():
    """160 − 25 − 22 − 40 − 64 = 9; travel 28 × 19.05² / (50² − 36²) = 8.44: 17.44 of 18."""
    around = run("found", **{**AROUND, "slave_least": 64.0})
    assert nominal(around, "slave_standoff") == 9.0
    assert nominal(around, "release_travel") == printed("8.44")
    assert nominal(around, "slave_reach") == printed("17.44")
    assert said(around, "slave_standoff") == "clear"


@pytest.mark.parametrize(
    ("height", "gap", "words"), [(69.0, 4.0, "clear"), (70.0, 3.0, "tight"), (71.0, 2.0, "clash")]
)
def test_standoff_limits(height, gap, words):
    """73 − 69 = 4; 73 − 70 = 3; 73 − 71 = 2."""
    around = run(**{**AROUND, "slave_least": height})
    assert nominal(around, "slave_standoff") == gap
    assert said(around, "slave_standoff") == words


def test_a_plate_gives_a_concentric_slave_room():
    """Plate 2: 75 − 71 = 4."""
    plate = run(**{**AROUND, "slave_least": 71.0}, adapter_thickness=2.0)
    assert said(plate, "slave_standoff") == "clear"


def test_a_gap_too_wide_for_the_stroke_takes_a_spacer():
    """Gap 13, travel 8.44, stroke 15: 21.44 − 15 = 6.44 at least, 13 − 4 = 9 comfortable."""
    far = {**AROUND, "slave_least": 60.0, "annulus_stroke": 15.0}
    found = run("found", **far)
    assert said(found, "slave_standoff") == "clash"
    fitted = run("fitted", **far)
    assert float(fitted["ask_slave_shim"].least[0, 0]) == printed("6.44")
    assert nominal(fitted, "slave_shim") == 9.0
    assert nominal(fitted, "slave_standoff") == 4.0
    assert said(fitted, "slave_standoff") == "clear"


def test_a_stroke_too_short_for_travel_and_gap_has_no_spacer():
    """Stroke 10: 8.44 + 2.5 > 10: no spacer brings both within it."""
    short = run(**{**AROUND, "annulus_stroke": 10.0})
    assert nominal(short, "slave_shim") == 0.0
    assert said(short, "slave_standoff") == "clash"


def test_concentric_slave_has_its_price_and_its_place_in_the_ranking():
    around = run(**AROUND)
    assert nominal(around, "concentric_slave") == 1.0
    assert BOOK.rules["concentric_slave"].cost > 100.0
    assert BOOK.rules["release_side_free"].criterion == "clutch"
    assert said(around, "release_side_free") == "tight"
    assert said(around, "bearing_reach") == "clear", "its guide is its own"
    assert nominal(run(), "concentric_slave") == 0.0


def test_slave_of_unknown_height_is_unmeasured():
    assert said(run(**{**AROUND, "slave_least": NAN}), "slave_standoff") == "unmeasured"
    assert said(run(), "slave_standoff") == "clear", "a fork has no stand-off"


# ---- the guide ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cut", "under", "words"),
    [(0.0, 29.0, "clear"), (14.0, 15.0, "clear"), (17.0, 12.0, "tight"), (20.0, 9.0, "clash")],
)
def test_a_guide_still_guides_after_it_is_cut(cut, under, words):
    """Guide 80 − cut, carrier 30, fingers at 160 − 87 = 73, travel 8: 80 + 30 − 81 = 29 − cut."""
    guide = run(collar_cut=cut)
    assert nominal(guide, "bearing_reach") == under
    assert said(guide, "bearing_reach") == words


@pytest.mark.parametrize(
    ("bore", "words"), [(35.2, "clear"), (35.8, "tight"), (36.5, "clash"), (34.9, "clash")]
)
def test_the_bearing_s_bore_on_the_guide(bore, words):
    """Guide 35: slides with 0.2; 0.8 is slack; 1.5 tilts; −0.1 does not go on."""
    found = run("found", clutch_bearing_bore=bore)
    assert said(found, "bearing_reach") == words
    if words == "clash":
        fitted = run("fitted", clutch_bearing_bore=bore)
        assert nominal(fitted, "bearing_to_order") == within(35.275, 1e-9)
        assert said(fitted, "bearing_reach") == "clear"


def test_the_gearbox_s_own_bearing_goes_before_the_car_s():
    own = run("found", clutch_bearing_bore=30.0, bearing_bore=35.2)
    assert said(own, "bearing_reach") == "clear"


def test_a_guide_of_unknown_length_is_unmeasured_and_a_bearing_that_does_not_go_on_is_a_clash():
    assert said(run(collar_length=NAN), "bearing_reach") == "unmeasured"
    found = run("found", collar_length=NAN, clutch_bearing_bore=30.0)
    assert said(found, "bearing_reach") == "clash"


# ---- properties ---------------------------------------------------------------------------------


def test_vector_equals_scalar_and_one_car_meets_many_builds():
    rng = np.random.default_rng(5)
    across = {
        "clutch_slave_bore": rng.uniform(18, 26, (1, 6)),
        "clutch_finger_height": rng.uniform(30, 50, (1, 6)),
        "clutch_bearing_bore": rng.uniform(34.5, 36.5, (1, 6)),
    }
    down = {
        "release_type": np.array([[0.0], [1.0], [0.0]]),
        "release_side": np.array([[1.0], [NAN], [0.0]]),
        "arm_swaps": np.array([[2.0], [NAN], [0.0]]),
        "annulus_inside": np.array([[NAN], [36.0], [34.0]]),
        "annulus_outside": np.array([[NAN], [50.0], [52.0]]),
        "annulus_stroke": np.array([[NAN], [15.0], [16.0]]),
        "slave_least": np.array([[NAN], [64.0], [58.0]]),
    }
    grid = run("fitted", **across, **down)
    checked = [rule.name for rule in BOOK.rules.values() if rule.topic == "release"]
    for build in range(3):
        for draw in range(6):
            one = run(
                "fitted",
                **{k: v[0, draw] for k, v in across.items()},
                **{k: v[build, 0] for k, v in down.items()},
            )
            for name in checked:
                many = np.broadcast_to(grid[name], (3, 6))[build, draw]
                alone = float(np.ravel(one[name])[0])
                assert many == pytest.approx(alone, abs=1e-9, nan_ok=True), name


def test_whatever_is_fitted_is_checked_again():
    """Random cars: where a slave, a spacer or a bearing is fitted its check works with it."""
    rng = np.random.default_rng(6)
    cars = {
        "clutch_slave_bore": rng.uniform(15, 30, (400, 1)),
        "clutch_bearing_bore": rng.uniform(33, 37, (400, 1)),
        "release_type": rng.integers(0, 2, (400, 1)).astype(float),
        "annulus_inside": rng.uniform(34, 40, (400, 1)),
        "annulus_outside": rng.uniform(48, 54, (400, 1)),
        "annulus_stroke": rng.uniform(10, 18, (400, 1)),
        "slave_least": rng.uniform(50, 75, (400, 1)),
    }
    fitted = run("fitted", **cars)
    for decision, check in (
        ("slave_bore", "release_travel"),
        ("slave_shim", "slave_standoff"),
        ("bearing_to_order", "bearing_reach"),
    ):
        made = fitted[decision] > 0
        assert made.sum() > 20
        assert (fitted[f"reading_{check}"].works[made] >= -1e-7).all(), decision
