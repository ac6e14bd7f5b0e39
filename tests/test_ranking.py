"""Ranking: weighted sum, dominance, chance of first place."""

from __future__ import annotations

import numpy as np
import pytest
from published import printed, within
from skcriteria import mkdm
from skcriteria.agg.simple import WeightedSumModel
from skcriteria.agg.topsis import TOPSIS

from compare.judge import value as ranking
from compare.vocabulary import CRITERIA


@pytest.mark.parametrize("seed", range(10))
def test_weighted_sum_agrees_with_scikit_criteria(seed):
    rng = np.random.default_rng(seed)
    table, weights = rng.uniform(0.01, 1, (7, 8)), rng.dirichlet(np.ones(8))
    theirs = WeightedSumModel().evaluate(mkdm(table, [max] * 8, weights=weights)).e_.score
    mine = ranking.score(table, weights)
    assert mine == pytest.approx(100 * np.asarray(theirs))


def test_the_reference_package_gives_what_its_book_prints():
    """Tzeng & Huang 2011, in scikit-criteria's tests: TOPSIS .5037 .6581 .7482 .3340 for weights .3 .4 .3 — so its model is the one we think it is."""
    table = [[5, 8, 4], [7, 6, 8], [8, 8, 6], [7, 4, 6]]
    from skcriteria.preprocessing.scalers import VectorScaler

    scaled = VectorScaler(target="matrix").transform(mkdm(table, [max] * 3, weights=[0.3, 0.4, 0.3]))
    theirs = TOPSIS().evaluate(scaled).e_.similarity
    assert list(theirs) == [printed(p) for p in ("0.5037", "0.6581", "0.7482", "0.3340")]
    # And our weighted sum of the same table ranks the same one first and the same one last.
    mine = ranking.score(np.array(table) / 8.0, np.array([0.3, 0.4, 0.3]))
    assert int(np.argmax(mine)) == int(np.argmax(theirs)) and int(np.argmin(mine)) == int(np.argmin(theirs))


@pytest.mark.parametrize("seed", range(10))
def test_dominance_agrees_with_scikit_criteria(seed):
    rng = np.random.default_rng(seed)
    table = rng.integers(1, 4, (9, 4)).astype(float)
    theirs = np.asarray(mkdm(table, [max] * 4).dominance.dominated())
    mine = ranking.dominated_by(table, np.zeros(9))
    assert [m >= 0 for m in mine] == theirs.tolist()
    for loser, winner in enumerate(mine):
        if winner >= 0:
            assert (table[winner] >= table[loser]).all() and (table[winner] > table[loser]).any()


def test_a_worse_outcome_never_dominates():
    assert ranking.dominated_by(np.array([[0.5, 0.5], [0.9, 0.9]]), np.array([0, 3])) == [-1, -1]


@pytest.mark.parametrize(
    ("differences", "probability"),
    [((0.3, -0.4), 3 / 7), ((3.0, -1.0, -2.0), 9 / 20)],
)
def test_chance_of_first_under_uniform_weights(differences, probability):
    """Simplex geometry (SMAA, Lahdelma et al. 1998): first with probability 3/7; 9/20; Π d₁ / (d₁ − d_j) in general."""
    d = np.array(differences)
    positive = d[0]
    assert np.prod([positive / (positive - x) for x in d[1:]]) == pytest.approx(probability)
    utility = np.stack([d - d.min(), np.zeros(len(d)) - d.min()])
    assert ranking.chance_first_any_weights(utility, draws=200_000)[0] == within(probability, 0.005)


def test_a_dominated_candidate_is_never_first():
    chance = ranking.chance_first_any_weights(np.array([[0.5, 0.5], [0.6, 0.7], [0.9, 0.1]]))
    assert chance[0] == 0.0 and chance.sum() == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("function", "inputs"),
    [
        (ranking.cruise_utility, np.linspace(0, 40, 81)),
        (lambda x: ranking.pull_utility(-x), np.linspace(-8, 3, 81)),
        (lambda x: ranking.cost_utility(x, np.full(81, 1000.0)), np.linspace(0, 3000, 81)),
        (lambda x: ranking.cost_utility(x, np.full(81, np.inf)), np.linspace(0, 3000, 81)),
        (lambda x: ranking.undo_utility(np.stack([x * 0, x * 0, x * 0, x, x * 0], axis=-1)), np.linspace(0, 200, 81)),
        (lambda x: ranking.undo_utility(np.eye(5)[np.minimum(x.astype(int), 4)] * 3.0), np.linspace(0, 4, 81)),
        (lambda x: ranking.shaft_utility(np.full(81, 3.0), np.zeros(81, bool), x, np.ones(81, bool)), np.linspace(0, 60, 81)),
    ],
)
def test_utilities_are_monotone_and_within_nought_and_one(function, inputs):
    values = function(inputs)
    assert np.all(np.diff(values) <= 1e-12)
    assert values.min() >= 0 and values.max() <= 1


def test_every_criterion_has_a_weight_and_a_meaning():
    assert set(ranking.DEFAULT_WEIGHTS) == set(ranking.MEANINGS) == set(CRITERIA)


def test_weights_of_the_profile_change_the_order(demo):
    from dataclasses import replace

    from compare.judge.engine import compare

    cheap = compare(demo.builds.catalogue, replace(demo.car, weights=dict.fromkeys(CRITERIA, 0.0) | {"cost": 1.0}), demo.builds.parts, draws=1)
    names = [cheap.builds.candidate_name(b) for b in cheap.order if cheap.outcome[b] == 1]
    costs = [cheap.total_cost[b] for b in cheap.order if cheap.outcome[b] == 1]
    assert names[0] == "Ostrel M4" and costs == sorted(costs)


def test_outcome_comes_before_score(demo):
    outcomes = demo.outcome[demo.order].tolist()
    assert outcomes == sorted(outcomes)
    for code in range(4):
        scores = [demo.score[b] for b in demo.order if demo.outcome[b] == code]
        assert scores == sorted(scores, reverse=True)
