"""What a build is worth to its owner: score where it goes in, today's gearbox less the waste where
not.

In one draw V = S if the build goes in (fitted: one has it in hand before cutting), else V_keep −
W/m, with W the waste and m the money that one point is worth. Builds are ranked by the mean of V.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.judge.engine import OWN_RATE, UNKNOWN_WORTH
from compare.topics.criteria import COST_SPAN

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = [
    "Worth",
    "chance_first",
    "dominators",
    "drawn_values",
    "drawn_weights",
    "first_shares",
    "keep_scores",
    "lost_points",
    "values",
    "waste",
    "weighed_values",
]

Array = np.ndarray
UNKNOWN_PRICE = 0.625  # of the budget: where the cost's worth is one half
AT_LEAST_AS_GOOD = 0.95  # share of draws in which one build must be no worse to dismiss another
CONTENDERS = 200


def waste(price: Array, resale: float, hours: float, rate: float, transport: Any) -> Array:
    """Money lost on a gearbox that does not go in: price not got back, hours in and out, transport.

    >>> float(waste(np.array(400.0), 0.5, 8.0, 10.0, 20.0))
    300.0
    """
    return price * (1.0 - resale) + hours * rate + transport


def lost_points(a: Assessment, cost_weight: Any = None) -> Array:
    """Waste of each build that does not go in, in points `(builds,)`; 0 where cost has no weight.

    cost_weight: that of a draw instead of the owner's; shapes broadcast against `(builds,)`.
    """
    values, engine = a.car.values, a.engine
    number = lambda name, default: values[name].nominal if name in values else default
    price = a.builds.price + a.builds.part_price
    price = np.where(np.isnan(price), UNKNOWN_PRICE * engine.budget, price)
    hours = sum(r.hours for r in engine.book.decisions if r.fitting and r.undo == "bolts back")
    fetched = np.where(a.builds.bought, 0.0, number("policy_transport", 0.0))
    lost = waste(
        price, number("policy_resale", 0.5), hours, number("workshop_rate", OWN_RATE), fetched
    )
    weight = engine.weights[engine.criteria.index("cost")] if cost_weight is None else cost_weight
    return np.asarray(lost * 100.0 * weight / (COST_SPAN * engine.budget))


def keep_scores(a: Assessment, weights: Array | None = None) -> Array:
    """What keeping today's gearbox is worth in each draw `(draws,)`, or with the weights of each
    draw.
    """
    if a.keep_worth is None or not len(a.keep_worth):
        return np.full(max(a.draws, 1), a.keep_value)
    if weights is None:
        return a.engine.score(a.keep_worth)
    worth = np.where(np.isnan(a.keep_worth), UNKNOWN_WORTH, a.keep_worth)
    return np.asarray(100.0 * (worth * weights).sum(axis=1))


def drawn_values(a: Assessment, rows: Array | None = None) -> tuple[Array, Array]:
    """(lowest, highest) V of some builds in each draw `(rows, draws)`; of the nominal draw where
    none was.
    """
    some = np.arange(len(a.builds)) if rows is None else np.asarray(rows, dtype=int)
    goes = a.drawn.goes_fitted[some] if a.draws else a.plan_goes[some, None]
    fails = keep_scores(a)[None, :] - lost_points(a)[some, None]
    return values(a.engine.score(a.drawn.worth[some]), goes, fails)


@dataclass
class Worth:
    """Expected value and its 5 to 95 % band, `(builds,)`; a draw that is open may be either."""

    mean: Array
    low: Array
    high: Array

    @classmethod
    def of(cls, a: Assessment) -> Worth:
        """From the draws of an assessment; from its nominal draw where nothing was drawn."""
        low, high = drawn_values(a)
        middle = (low + high) / 2.0
        if not a.draws:
            return cls(middle[:, 0], low[:, 0], high[:, 0])
        return cls(
            middle.mean(axis=1), np.quantile(low, 0.05, axis=1), np.quantile(high, 0.95, axis=1)
        )


def values(score: Array, goes: Array, fails: Array) -> tuple[Array, Array]:
    """(lowest, highest) V per draw; they differ only where it is not known whether the build goes
    in.

    >>> goes = np.array([[1.0, 0.0, np.nan]])
    >>> low, high = values(np.full((1, 3), 80.0), goes, np.array([[30.0]]))
    >>> low.tolist(), high.tolist()
    ([[80.0, 30.0, 30.0]], [[80.0, 30.0, 80.0]])
    """
    sure = np.where(goes == 1, score, fails)
    open_ = np.isnan(goes)
    return np.where(open_, np.minimum(score, fails), sure), np.where(
        open_, np.maximum(score, fails), sure
    )


def first_shares(values: Array) -> Array:
    """Share of draws in which each row comes first `(rows,)`, from values `(rows, draws)`; ties
    share.

    >>> first_shares(np.array([[2.0, 1.0, 3.0], [1.0, 1.0, 1.0]])).round(4).tolist()
    [0.8333, 0.1667]
    """
    if not len(values):
        return np.zeros(0)
    first = values >= values.max(axis=0) - 1e-9
    return np.asarray((first / first.sum(axis=0)).mean(axis=1))


def drawn_weights(weights: Array, draws: int, seed: int) -> Array:
    """Weights `(draws, criteria)`, each log-uniform between half and twice the owner's, adding up
    to 1.

    SMAA with values and weights drawn together (Lahdelma et al. 1998).
    """
    random = np.random.default_rng([seed, 7])
    factors = 2.0 ** random.uniform(-1.0, 1.0, (draws, len(weights)))
    found = weights * factors
    return np.asarray(found / found.sum(axis=1, keepdims=True))


def weighed_values(a: Assessment, rows: Array, weights: Array) -> Array:
    """V `(rows + 1, draws)` of some builds, today's gearbox last, under the weights of each draw.

    weights: `(draws, criteria)`, or `(1, criteria)` for the same in all draws.
    """
    worth = np.where(np.isnan(a.drawn.worth[rows]), UNKNOWN_WORTH, a.drawn.worth[rows])
    score = 100.0 * (worth * weights).sum(axis=2)
    keep = np.broadcast_to(keep_scores(a, weights), score.shape[1:])
    point = weights[:, a.engine.criteria.index("cost")]
    lost = lost_points(a, 1.0)[rows, None] * point
    low, high = values(score, a.drawn.goes_fitted[rows], keep - lost)
    return np.concatenate([(low + high) / 2.0, keep[None]])


def chance_first(a: Assessment) -> Array:
    """Chance of first place of each entry of `order`, keeping today's gearbox the last entry."""
    count = len(a.order)
    found = np.zeros(count + 1)
    some = a.order[:CONTENDERS]
    if not a.draws or not len(some):
        best = a.value[some].max(initial=-np.inf)
        found[0 if best >= a.keep_value else count] = 1.0
        return found
    rows = weighed_values(a, some, drawn_weights(a.engine.weights, a.draws, a.seed))
    found[np.r_[: len(some), count]] = first_shares(rows)
    return found


def dominators(worth: Array, goes: Array) -> list[int]:
    """For each build one that leaves no reason to choose it; −1 for none.

    That one is at least as good in 95 % of the draws in every criterion, no less likely to go in,
    and better in something. worth `(builds, draws, criteria)`; goes `(builds, draws)`. A criterion
    that is unknown for every build is left out; one that is unknown for a build dismisses nothing.
    Builds are asked in the order of their medians, each only against those that nothing dismissed
    before it.

    >>> worth = np.array([[[0.5, 0.5]], [[0.6, 0.5]], [[0.1, 0.9]]])
    >>> dominators(worth, np.ones((3, 1)))
    [1, -1, -1]
    """
    count = len(worth)
    if not count:
        return []
    known = ~np.isnan(worth).all(axis=(0, 1))
    worth = worth[..., known]
    chance = np.nan_to_num(goes).mean(axis=1)
    # At least as good in 95 % of the draws: then its quantile 5 points higher is no less than the
    # other's.
    held = np.where(np.isnan(worth), -np.inf, worth)
    upper = np.quantile(held, 0.5 + 1.0 - AT_LEAST_AS_GOOD, axis=1, method="higher")
    claimed = np.where(np.isnan(worth), np.inf, worth)
    middle = np.quantile(claimed, 0.5, axis=1, method="lower")
    found = [-1] * count
    front: list[int] = []
    for at in np.lexsort((-np.where(np.isfinite(upper), upper, 0.0).sum(axis=1), -chance)).tolist():
        some = np.array(front, dtype=int)
        may = (upper[some] >= middle[at] - 1e-9).all(axis=1) & (chance[some] >= chance[at] - 1e-9)
        for other in some[may].tolist():
            if _dismisses(worth[other], worth[at], chance[other] - chance[at]):
                found[at] = other
                break
        else:
            front.append(at)
    return found


def _dismisses(one: Array, other: Array, likelier: float) -> bool:
    """Whether one leaves no reason to choose the other, from worth `(draws, criteria)` of each."""
    with np.errstate(invalid="ignore"):
        as_good = (one >= other - 1e-9).mean(axis=0).min(initial=1.0) >= AT_LEAST_AS_GOOD
        better = (one > other + 1e-9).mean(axis=0).max(initial=0.0) >= 0.5
    return bool(as_good and (better or likelier > 0.02))
