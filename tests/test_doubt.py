"""Doubt: draws, streams, chances, against JCGM and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import printed, within
from scipy.stats import binomtest

from compare.answer.compare import compare
from compare.judge.draws import Draw, latin, over
from compare.judge.outcome import percent, standard_error
from compare.read.car import read_car
from compare.read.catalogue import load_catalogue, load_parts


def drawn(nominal, half, count, name):
    return over(nominal - half, nominal + half, nominal, Draw(count), "example", name)


def test_four_rectangular_inputs_of_jcgm_101():
    """JCGM 101:2008, 9.2.3 (memory + computed): four rectangular inputs, mean 0, s.d. 1: ±3.88, not ±3.92."""
    total = sum(drawn(0.0, math.sqrt(3.0), 400_000, f"input {i}")[1:] for i in range(4))
    low, high = np.quantile(total, [0.025, 0.975])
    exact = 2 * math.sqrt(3) * (2 - 0.6**0.25)
    assert exact == printed("3.88")
    assert (high - low) / 2 == within(exact, 0.015)


def test_standard_uncertainty_of_a_rectangle():
    """JCGM 100:2008, 4.3.7 (memory): a/√3."""
    values = drawn(10.0, 3.0, 200_000, "c")[1:]
    assert values.std() == within(3.0 / math.sqrt(3), 0.001)
    assert values.min() >= 7.0 and values.max() <= 13.0


@pytest.mark.parametrize("count", [7, 256, 512])
def test_one_draw_in_every_nth_of_the_range(count):
    """scipy's documentation of `qmc.LatinHypercube` (after Owen): one in [j/n, (j+1)/n) in each dimension."""
    for column in ("length", "mass"):
        points = latin(Draw(count), "candidate A", column)
        assert sorted((points * count).astype(int).tolist()) == list(range(count))


def test_variance_of_a_mean_of_ten_is_that_of_a_hypercube():
    """Computed: 1/(12 n³) = 8.33e-5 for n = 10, where plain draws have 1/(12 n) = 8.33e-3."""
    means = [latin(Draw(10, seed), "o", "c").mean() for seed in range(3000)]
    assert np.var(means) == pytest.approx(1 / (12 * 1000), rel=0.1)


def test_streams_hang_on_seed_batch_owner_and_column():
    base = latin(Draw(5, 1), "a", "length")
    assert np.array_equal(base, latin(Draw(5, 1), "a", "length"))
    for how, owner, column in (
        (Draw(5, 2), "a", "length"), (Draw(5, 1, 1), "a", "length"), (Draw(5, 1), "b", "length"),
        (Draw(5, 1), "a", "mass"),
    ):  # fmt: skip
        assert not np.array_equal(base, latin(how, owner, column))


def test_draw_zero_is_nominal():
    values = drawn(5.0, 1.0, 10, "c")
    assert values[0] == 5.0 and len(values) == 11


@pytest.mark.parametrize(("good", "of"), [(81, 263), (15, 148), (0, 20), (1, 29)])
def test_error_of_a_share_covers_what_wilson_s_interval_does(good, of):
    """Newcombe 1998, Table I (memory, computed equal by scipy): 0.2553 to 0.3662; 0.0624 to 0.1605 ..."""
    interval = binomtest(good, of).proportion_ci(method="wilson")
    half = 1.96 * float(standard_error(np.array(good / of), of))
    assert half == pytest.approx((interval.high - interval.low) / 2, rel=0.35)


def test_two_thousand_four_hundred_draws_for_two_points():
    """Computed: 1.96² p (1 − p) / 0.02² = 2401 at one half."""
    assert 1.96 * float(standard_error(np.array(0.5), 2401)) == pytest.approx(0.02, abs=1e-4)


def test_no_certainty_from_draws():
    assert (percent(1.0), percent(0.0), percent(0.996)) == ("> 99 %", "< 1 %", "> 99 %")


# ---- through the whole program --------------------------------------------------------------------------


def by_build(a):
    return {
        (a.builds.candidate_name(b), a.builds.name(b)): (
            f"{a.score[b]:.6f}", f"{a.value[b]:.4f}", f"{a.chance[b]:.5f}", f"{a.chance_plan[b]:.5f}",
        )
        for b in range(len(a.builds))
    }  # fmt: skip


def test_same_numbers_for_any_order_or_subset(demo, demo_files, tmp_path):
    """A candidate's numbers do not hang on its neighbours."""
    lines = demo_files[0].read_text(encoding="utf-8").splitlines()
    comments, head, rows = [x for x in lines if x.startswith("#")], lines[2], lines[3:]
    path = tmp_path / "reversed.csv"
    path.write_text("\n".join([*comments, head, *rows[::-1]]) + "\n", encoding="utf-8")
    car = read_car(demo_files[1].read_text(encoding="utf-8"))
    parts = load_parts(demo_files[2])
    whole = by_build(demo)
    assert by_build(compare(load_catalogue(path), car, parts, draws=512)) == whole
    some = by_build(compare(demo.builds.catalogue, car, parts, draws=512, only=["Askrigg 5", "keld 5"]))
    assert some == {k: whole[k] for k in some}
    other = by_build(compare(demo.builds.catalogue, car, parts, draws=512, seed=2))
    assert other != whole


def test_slices_change_nothing(demo, monkeypatch):
    import compare.answer.compare as module

    monkeypatch.setattr(module, "ROWS", 1200)
    small = compare(demo.builds.catalogue, demo.car, demo.builds.parts, draws=512)
    assert by_build(small) == by_build(demo)


def test_a_build_s_chance_is_one_over_the_same_draws_not_a_product(demo):
    """A chance is an AND over draws: never above the least sure check, often above the product."""
    decides = demo.engine.decides & ~demo.engine.waits
    for b in range(len(demo.builds)):
        single = 1.0 - demo.drawn.clash_fitted[b][decides]
        if not math.isnan(demo.chance[b]):
            assert demo.chance[b] <= single.min() + 1e-6
