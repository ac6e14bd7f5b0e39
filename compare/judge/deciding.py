"""What knowing is worth: pure sums over the values of options, by draws.

An option is anything that can be bought, or keeping what one has. Values are in any one unit; the
worth of knowing comes out in the same. `weights` say how much each draw counts; left out, all count
alike.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

__all__ = [
    "Knowing",
    "acceptability",
    "central_weights",
    "confidence",
    "nearly",
    "partial_information",
    "perfect_information",
    "winning",
]

Array = np.ndarray
GROUPS = 8  # of inner draws, each left out once for the error
FIRST_TIE = 1e-9


@dataclass(frozen=True)
class Knowing:
    """Worth of knowing something before choosing, its standard error, and how often the choice
    changes.
    """

    worth: float
    error: float
    change: float

    def times(self, money: float) -> Knowing:
        """The same in another unit."""
        return Knowing(float(self.worth * money), float(self.error * money), self.change)


NOTHING = Knowing(0.0, 0.0, 0.0)


def _shares(weights: Any, count: int) -> Array:
    if weights is None:
        return np.full(count, 1.0 / count)
    found = np.asarray(weights, dtype=float)
    return np.asarray(found / found.sum())


def perfect_information(values: Array, weights: Array | None = None) -> Knowing:
    """Worth of knowing everything: E[max over options] − max over options of E.

    values: `(options, draws)`. weights: `(draws,)`, such as probabilities of states. The error is
    that of independent draws. Source: decision tables (tests give theirs).

    >>> table = np.array([[1500.0, 300.0, -800.0], [900.0, 600.0, -200.0], [500.0, 500.0, 500.0]])
    >>> round(perfect_information(table, np.array([0.5, 0.3, 0.2])).worth, 6)
    350.0
    """
    share = _shares(weights, values.shape[1])
    best = int((values @ share).argmax())
    gain = values.max(axis=0) - values[best]
    worth = float(gain @ share)
    error = math.sqrt(float(share**2 @ (gain - worth) ** 2))
    return Knowing(worth, error, float(share[gain > FIRST_TIE].sum()))


def partial_information(
    values: Array,
    weights: Array | None = None,
    levels: Array | None = None,
    others: float = -math.inf,
    order: Array | None = None,
) -> Knowing:
    """Worth of knowing z: E over z of [max over options of the mean given z], less the best mean.

    values: `(options, outer, inner)`, z standing still along `inner`. weights: `(outer, inner)`.
    levels: the options' means from more draws `(options,)`, to which these are set. others: the
    best mean among options that z does not touch. order: the outer draws by rising z where they are
    strata of one dimension, whose error is that of neighbours paired; left out, the error is that
    of independent draws. The inner draws are the same for every z, so a difference between two z is
    due to z. Source: nested Monte Carlo for the expected value of partial perfect information.

    >>> z, w = np.meshgrid([-1.0, 1.0], [-3.0, 3.0], indexing="ij")
    >>> partial_information(np.array([z + w, 0.0 * z]), levels=np.zeros(2)).worth
    0.5
    """
    _, outer, inner = values.shape
    weight = np.ones((outer, inner)) if weights is None else np.asarray(weights, dtype=float)
    worth, gain, share, first = _given(values, weight, levels, others)
    spread = _outer_spread(share * (gain - worth), weight.sum(axis=1) > 0, order)
    groups = min(GROUPS, inner)
    left = []
    for group in range(groups):
        kept = np.arange(inner) % groups != group
        if inner > 1 and (weight[:, kept].sum(axis=1) > 0).any():
            left.append(_given(values[:, :, kept], weight[:, kept], levels, others)[0])
    count = len(left)
    if count > 1:
        spread += (count - 1) / count * float(((np.array(left) - np.mean(left)) ** 2).sum())
    return Knowing(worth, math.sqrt(spread), float(share[first].sum()))


def _outer_spread(parts: Array, there: Array, order: Array | None) -> float:
    """Variance of a sum over the outer draws: independent, or one from each stratum (strata
    collapsed in pairs).
    """
    if order is None:
        return float((parts**2).sum())
    whole = np.zeros(len(there))
    whole[there] = parts
    sorted_parts = whole[order]
    even = len(sorted_parts) // 2 * 2
    return float(((sorted_parts[0:even:2] - sorted_parts[1:even:2]) ** 2).sum())


def nearly(values: Array, weights: Array, levels: Array, others: float) -> bool:
    """Whether knowing z may change the choice: another option comes within half of its swing of the
    best.

    As `partial_information`, from few draws: what is far from changing the choice need not be drawn
    finely.

    >>> z = np.linspace(-1.0, 1.0, 9)[:, None] * np.ones((1, 4))
    >>> one = np.ones_like(z)
    >>> nearly(np.array([z, 0 * z]), one, np.array([0.9, 0.0]), -np.inf)
    True
    >>> nearly(np.array([z, 0 * z]), one, np.array([9.0, 0.0]), 1.0)
    False
    """
    total = np.maximum(weights.sum(axis=1), 1e-12)
    means = np.einsum("koi,oi->ko", values, weights) / total
    means = means + (levels - means @ (total / total.sum()))[:, None]
    means = np.vstack([means, np.full(means.shape[1], others)])
    behind = means[int(np.append(levels, others).argmax())] - means
    with np.errstate(invalid="ignore"):
        swing = np.nan_to_num(behind.max(axis=1) - behind.min(axis=1))
    return bool(((behind.min(axis=1) < 0.5 * swing) & (swing > FIRST_TIE)).any())


def _given(
    values: Array, weight: Array, levels: Array | None, others: float
) -> tuple[float, Array, Array, Array]:
    """(worth, gain per z, share per z, whether another option is then best) for given draws."""
    total = weight.sum(axis=1)
    there = total > 0
    share = total[there] / total.sum()
    means = np.einsum("koi,oi->ko", values[:, there], weight[there]) / total[there]
    overall = means @ share
    wanted = overall if levels is None else levels
    means = means + (wanted - overall)[:, None]
    best = max(float(wanted.max()), others)
    top = np.maximum(means.max(axis=0), others)
    now = np.full(top.shape, others) if others >= wanted.max() else means[int(wanted.argmax())]
    worth = float(top @ share) - best
    return max(worth, 0.0), top - best, share, top > now + FIRST_TIE


# ---- places, with values and weights drawn together ----------------------------------------------


def _order(values: Array) -> Array:
    return np.asarray((-values).argsort(axis=0, kind="stable").argsort(axis=0, kind="stable"))


def acceptability(values: Array) -> Array:
    """Share of draws in which each option takes each place `(options, places)`, from `(options,
    draws)`.

    Source: rank acceptability index, SMAA-2 (Lahdelma and Salminen 2001). Ties go to the earlier
    option.

    >>> acceptability(np.array([[2.0, 1.0, 3.0, 2.0], [1.0, 2.0, 2.0, 1.0]])).tolist()
    [[0.75, 0.25], [0.25, 0.75]]
    """
    place = _order(values)
    return np.stack([(place == at).mean(axis=1) for at in range(len(values))], axis=1)


def winning(values: Array) -> Array:
    """Share of draws in which the row beats the column `(options, options)`, 0 on the diagonal.

    >>> winning(np.array([[1.0, 1.0], [0.0, 2.0]])).tolist()
    [[0.0, 0.5], [0.5, 0.0]]
    """
    return np.asarray((values[:, None] > values[None]).mean(axis=2))


def central_weights(values: Array, weights: Array) -> Array:
    """Mean weights of the draws in which each option comes first `(options, criteria)`; NaN where
    never.

    values: `(options, draws)`, weights: `(draws, criteria)`. Source: as `acceptability`.

    >>> weights = np.array([[0.2, 0.8], [0.4, 0.6]])
    >>> central_weights(np.array([[1.0, 1.0], [0.0, 0.0]]), weights).round(3).tolist()
    [[0.3, 0.7], [nan, nan]]
    """
    first = _order(values) == 0
    count = first.sum(axis=1)[:, None]
    return np.where(count > 0, (first.astype(float) @ weights) / np.maximum(count, 1), np.nan)


def confidence(values_under: Callable[[Array], Array], central: Array) -> Array:
    """Chance of first place of each option under its own central weights `(options,)`; NaN without
    them.

    values_under: values `(options, draws)` for weights `(criteria,)`. central: `(options,
    criteria)`. Source: as `acceptability`.

    >>> worth = np.array([[[1.0, 0.0]], [[0.0, 1.0]]])
    >>> central = np.array([[0.8, 0.2], [np.nan, np.nan]])
    >>> confidence(lambda weights: worth @ weights, central).tolist()
    [1.0, nan]
    """
    found = np.full(len(central), np.nan)
    for at, weight in enumerate(central):
        if not np.isnan(weight).any():
            found[at] = (_order(values_under(weight))[at] == 0).mean()
    return found
