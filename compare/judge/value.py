"""Outcome first, then score: utilities, dominance, chance of first place."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from compare.vocabulary import CRITERIA

__all__ = ["DEFAULT_WEIGHTS", "chance_first_any_weights", "chance_of_first", "dominated_by", "key_of", "score", "utilities"]

Array = np.ndarray

DEFAULT_WEIGHTS: dict[str, float] = {
    "cruise": 3.0,
    "pull": 2.0,
    "undo": 3.0,
    "shaft_work": 2.0,
    "fit": 2.0,
    "driveline": 1.0,
    "clutch": 1.0,
    "cost": 2.0,
}
UNKNOWN = 0.5
MEANINGS = {
    "cruise": "1 inside the wanted window, falling to 0 at 25 % outside it",
    "pull": "gradient held in top at cruise: 0 at 0 %, 1 from 4 %",
    "undo": "1 when all bolts back; donor cut 0.8, panel 0.6, body 0.4, frame 0.2, each falling by up to 0.2 with the millimetres cut",
    "shaft_work": "1 as it is, 0.9 new bush, 0.8 extended bush, 0.6 turned inside the case, 0.3 through it, 0.1 crank bored, 0 no way; turning back takes off up to 0.3",
    "fit": "mean over the position checks: clear 1, tight 0.6, put right by work 0.3, clash 0",
    "driveline": "mean over the propeller shaft's checks, as fit",
    "clutch": "mean over the clutch's checks, as fit",
    "cost": "1 at nothing, 0 at a quarter above the budget; without a budget halved every 1500",
}
VERDICT_WORTH = {"clear": 1.0, "tight": 0.6, "resolved": 0.3, "clash": 0.0}


def cruise_utility(outside: Array) -> Array:
    """1 inside the window, 0 at 25 % outside; outside [%].

    >>> cruise_utility(np.array([0.0, 12.5, 40.0])).tolist()
    [1.0, 0.5, 0.0]
    """
    return np.clip(1.0 - outside / 25.0, 0.0, 1.0)


def pull_utility(gradient: Array) -> Array:
    """0 where top gear cannot hold the level, 1 from 4 %; gradient [%].

    >>> pull_utility(np.array([-1.0, 1.0, 6.0])).tolist()
    [0.0, 0.25, 1.0]
    """
    return np.clip(gradient / 4.0, 0.0, 1.0)


def undo_utility(cuts: Array) -> Array:
    """From millimetres per undo step `(..., 5)`: the deepest step used, and how much of it.

    >>> undo_utility(np.array([[0.0, 0, 0, 0, 0], [0, 0, 0, 50.0, 0]])).round(9).tolist()
    [1.0, 0.3]
    """
    worth = np.ones(cuts.shape[:-1])
    for step in range(1, 5):
        mm = cuts[..., step]
        worth = np.where(mm > 1e-7, 1.0 - 0.2 * step - 0.2 * mm / (mm + 50.0), worth)
    return worth


def cost_utility(cost: Array, budget: Array) -> Array:
    """1 at nothing, 0 at 1.25 × the budget; without a budget halved every 1500.

    >>> cost_utility(np.array([500.0, 1250.0]), np.array([1000.0, 1000.0])).tolist()
    [0.6, 0.0]
    """
    with np.errstate(invalid="ignore"):
        limited = np.clip(1.0 - cost / (1.25 * budget), 0.0, 1.0)
    return np.where(np.isinf(budget), 0.5 ** (cost / 1500.0), limited)


def mean_worth(verdicts: Array, resolved: Array) -> Array:
    """Mean over the last axis of what verdicts are worth, unmeasured left out; NaN when all are.

    >>> mean_worth(np.array([[0, 1, 2, 3]]), np.array([[False, False, True, False]])).round(4).tolist()
    [0.6333]
    """
    worth = np.array([1.0, VERDICT_WORTH["tight"], VERDICT_WORTH["clash"], np.nan])[verdicts]
    worth = np.where((verdicts == 2) & resolved, VERDICT_WORTH["resolved"], worth)
    known = ~np.isnan(worth)
    count = known.sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(count > 0, np.where(known, worth, 0.0).sum(axis=-1) / count, np.nan)


def shaft_utility(route: Array, through_case: Array, turned_back: Array, works: Array) -> Array:
    """What the pilot route is worth, less what turning back takes; turned_back [mm].

    >>> shaft_utility(np.array([0.0, 3.0]), np.array([False, True]), np.array([0.0, 30.0]), np.array([True, True])).round(3).tolist()
    [1.0, 0.15]
    """
    table = np.array([1.0, 0.9, 0.8, 0.6, 0.6, 0.1])
    known = ~np.isnan(route)
    worth = table[np.where(known, route, 0).astype(int)]
    worth = np.where(through_case, worth - 0.3, worth)
    back = np.nan_to_num(turned_back)
    worth = np.maximum(worth - 0.3 * back / (back + 30.0), 0.0)
    return np.where(known, np.where(works, worth, 0.0), np.nan)


def utilities(parts: Mapping[str, Array]) -> Array:
    """`(builds, draws, criteria)` in the order of CRITERIA, NaN where nothing is known."""
    return np.stack(np.broadcast_arrays(*(parts[c] for c in CRITERIA)), axis=-1)


def weight_vector(weights: Mapping[str, float]) -> Array:
    """Weights in the order of CRITERIA, adding up to 1; criteria left out take their default."""
    vector = np.array([weights.get(c, DEFAULT_WEIGHTS[c]) for c in CRITERIA])
    return vector / vector.sum()


def score(utility: Array, weights: Array) -> Array:
    """0–100: the weighted mean; an unknown utility counts one half, and its doubt shows in the band.

    >>> round(float(score(np.array([1.0] * 4 + [np.nan] * 4), np.ones(8) / 8)), 2)
    75.0
    """
    return 100.0 * (np.where(np.isnan(utility), UNKNOWN, utility) * weights).sum(axis=-1)


def key_of(outcome: Array, score: Array) -> Array:
    """One number that sorts as the ranking does: outcome first, then score; larger is better."""
    return (3.0 - outcome) * 1000.0 + score


def chance_of_first(keys: Array) -> Array:
    """Share of draws in which each candidate comes first `(candidates,)`, from keys `(candidates, draws)`; ties share.

    >>> chance_of_first(np.array([[2.0, 1.0, 3.0], [1.0, 1.0, 1.0]])).round(4).tolist()
    [0.8333, 0.1667]
    """
    if not len(keys):
        return np.zeros(0)
    first = keys >= keys.max(axis=0) - 1e-9
    return np.asarray((first / first.sum(axis=0)).mean(axis=1))


def chance_first_any_weights(utility: Array, seed: int = 1, draws: int = 20_000) -> Array:
    """Chance of first place when the weights are drawn uniformly from the simplex (SMAA, Lahdelma et al. 1998).

    utility `(candidates, criteria)`; unknown utilities count one half.

    >>> u = np.array([[0.3, 0.0], [0.0, 0.4]])
    >>> abs(float(chance_first_any_weights(u)[0]) - 3 / 7) < 0.01
    True
    """
    if not len(utility):
        return np.zeros(0)
    known = np.where(np.isnan(utility), UNKNOWN, utility)
    weights = np.random.default_rng(seed).dirichlet(np.ones(utility.shape[1]), draws)
    return chance_of_first(known @ weights.T)


def dominated_by(utility: Array, outcome: Array) -> list[int]:
    """For each candidate the index of one that is no worse in outcome and every criterion and better in one; −1 for none.

    Candidates with an unknown utility neither dominate nor are dominated on it.

    >>> dominated_by(np.array([[0.5, 0.5], [0.6, 0.5], [0.1, 0.9]]), np.array([0, 0, 0]))
    [1, -1, -1]
    """
    found = []
    for i in range(len(utility)):
        with np.errstate(invalid="ignore"):
            no_worse = (utility >= utility[i] - 1e-12).all(axis=1) & (outcome <= outcome[i])
            better = (utility > utility[i] + 1e-12).any(axis=1) | (outcome < outcome[i])
        by = np.flatnonzero(no_worse & better)
        found.append(int(by[np.nansum(utility[by], axis=1).argmax()]) if len(by) else -1)
    return found
