"""Chances, bands and first places again by random numbers of one's own: every draw a catalogue row, judged nominally."""

from __future__ import annotations

import copy

import numpy as np
import pytest
from variants import CATALOGS, keep_rows

from compare.answer.compare import compare
from compare.judge.draws import likely_of
from compare.judge.engine import UNKNOWN_WORTH
from compare.read.car import load_car
from compare.read.catalogue import Column, load_catalogue
from compare.read.cells import Value
from compare.vocabulary import CAR_KEYS, LIKELY_SHARE, catalogue_terms

SOME = ["Askrigg 5", "Bainbridge 5", "Garth 5", "Dent 5", "Keld 5", "Brindle H5", "Ravenseat 5", "Cotter 5"]
COPIES, DRAWS = 300, 1024


def exact_car():
    """The demo's car, each number known exactly, so that only the gearboxes are in doubt."""
    car = load_car(CATALOGS / "pellow-van.toml")
    known = lambda value: Value(value.nominal, 0.0)
    car.values = {name: known(value) for name, value in car.values.items()}
    car.pairs = {name: (known(low), known(high)) for name, (low, high) in car.pairs.items()}
    for term in CAR_KEYS:
        if likely_of(term) is not None and term.name not in car.values:
            car.values[term.name] = Value(sum(likely_of(term)) / 2.0, 0.0)
    car.stations = [{side: known(value) for side, value in one.items()} for one in car.stations]
    return car


def drawn_rows(catalogue, builds, count, random):
    """Each row `count` times, each doubtful number drawn uniformly over its doubt or its likely share."""
    found = copy.deepcopy(catalogue)
    rows = [r for r in range(len(catalogue)) for _ in range(count)]
    keep_rows(found, rows)
    found.names = [f"{name} {n % count}" for n, name in enumerate(found.names)]
    terms, blank = catalogue_terms(), np.full(len(rows), np.nan)
    for name, term in terms.items():
        if name in builds.columns and name not in found.columns and likely_of(term) is not None:
            found.columns[name] = Column(blank.copy(), blank.copy(), blank.copy())
    at = [builds.candidate.tolist().index(r) for r in rows]
    for name, column in found.columns.items():
        if name not in builds.columns:
            continue
        nominal, half, high = (getattr(builds.columns[name], x)[at] for x in ("nominal", "half", "high"))
        fixed = ~np.isnan(high) | (half == 0.0)
        moved = nominal + np.where(fixed, 0.0, random.uniform(-1.0, 1.0, len(rows)) * half)
        if name in LIKELY_SHARE:
            of, least, most = LIKELY_SHARE[name]
            share = random.uniform(least, most, len(rows)) * found.columns[of].nominal
            moved = np.where(np.isnan(nominal), share, moved)
        elif likely_of(terms[name]) is not None:
            likely = random.uniform(*likely_of(terms[name]), len(rows))
            moved = np.where(np.isnan(nominal), likely, moved)
        fixed &= ~np.isnan(nominal)
        column.nominal = np.where(fixed, column.nominal, moved)
        column.half = np.where(fixed, column.half, 0.0)
    return found


@pytest.fixture(scope="module")
def both():
    """(the tool's own draws, one build a draw from other random numbers by rows `(candidates, copies)`)."""
    catalogue, car = load_catalogue(CATALOGS / "demo.csv"), exact_car()
    keep_rows(catalogue, [catalogue.names.index(name) for name in SOME])
    random = np.random.default_rng(20261125)
    tool = compare(catalogue, car, draws=DRAWS)
    mine = compare(drawn_rows(catalogue, tool.builds, COPIES, random), car, draws=1)
    return tool, mine, random


def rows_of(mine):
    at = {mine.builds.candidate_name(b): b for b in range(len(mine.builds))}
    return np.array([[at[f"{name} {n}"] for n in range(COPIES)] for name in SOME])


def test_chances_are_the_shares_of_rows_that_go_in(both):
    """Within three of their joint standard errors; at least two of the eight are far from certain."""
    tool, mine, _ = both
    shares = mine.plan_goes[rows_of(mine)].mean(axis=1)
    told = {tool.builds.candidate_name(b): tool.drawn.goes_fitted[b].mean() for b in range(len(tool.builds))}
    unsure = 0
    for name, share in zip(SOME, shares, strict=True):
        chance = told[name]
        error = np.sqrt(max(share * (1.0 - share), 1.0 / COPIES) * (1.0 / COPIES + 1.0 / DRAWS))
        assert abs(share - chance) <= 3.0 * error, name
        unsure += 0.1 < share < 0.9
    assert unsure >= 2


def test_values_bands_and_first_places_are_those_of_the_rows(both):
    """Value, 5 to 95 % of it, and SMAA's first places with weights from other random numbers."""
    tool, mine, random = both
    rows = rows_of(mine)
    order = [tool.builds.candidate.tolist().index(tool.builds.catalogue.names.index(n)) for n in SOME]
    weights = tool.engine.weights * 2.0 ** random.uniform(-1.0, 1.0, (COPIES, len(tool.engine.weights)))
    weights /= weights.sum(axis=1, keepdims=True)
    fill = lambda worth: np.where(np.isnan(worth), UNKNOWN_WORTH, worth)
    worth, goes = fill(mine.drawn.worth[rows][:, :, 0]), mine.plan_goes[rows] == 1
    kept = fill(mine.today.result.utility[0][:1])
    kept[:, mine.engine.criteria.index("cost")] = 1.0
    keep = fill(tool.keep_worth).mean(axis=0, keepdims=True)
    assert keep == pytest.approx(kept, abs=1e-6)  # the car is exact, and keeping costs nothing
    owner, cost = tool.engine.weights, tool.engine.criteria.index("cost")
    price = tool.builds.price[order]
    wasted = price * 0.4 + 8.5 * 5.0 + 20.0  # resale 0.6, hours out and in at 5, transport
    lost = wasted / (1.25 * 1600.0)
    value = lambda w: np.where(
        goes, 100.0 * (worth * w).sum(axis=2),
        100.0 * ((keep * w).sum(axis=-1) - lost[:, None] * w[..., cost]),
    )  # fmt: skip
    own = value(owner[None])
    for at, b in enumerate(order):
        error = np.hypot(own[at].std() / np.sqrt(COPIES), own[at].std() / np.sqrt(DRAWS))
        assert abs(own[at].mean() - tool.value[b]) <= 3.0 * error + 0.05, SOME[at]
        if goes[at].all():
            assert np.quantile(own[at], 0.05) == pytest.approx(tool.value_low[b], abs=0.5)
            assert np.quantile(own[at], 0.95) == pytest.approx(tool.value_high[b], abs=0.5)
    all_values = np.vstack([value(weights), 100.0 * (keep * weights).sum(axis=1)[None]])
    first = np.bincount(all_values.argmax(axis=0), minlength=len(SOME) + 1) / COPIES
    told = dict(zip(tool.order.tolist(), tool.chance_first, strict=False))
    for at, b in enumerate(order):
        error = np.sqrt(max(first[at] * (1 - first[at]), 1 / COPIES) * (1 / COPIES + 1 / DRAWS))
        assert abs(first[at] - told[b]) <= 3.0 * error, SOME[at]
