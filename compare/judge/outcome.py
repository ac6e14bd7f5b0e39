"""The one rule that makes labels of chances, and how sure a chance is."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

__all__ = [
    "BOLTS_IN",
    "GOES_IN",
    "MEASURE",
    "RULED_OUT",
    "Label",
    "label",
    "standard_error",
]

Array = np.ndarray
BOLTS_IN, GOES_IN, MEASURE, RULED_OUT = range(4)
HOPELESS = 0.05  # below this chance a build is ruled out


class Label(NamedTuple):
    """Outcome per build (index into OUTCOMES), and whether it stands two errors from its threshold."""

    outcome: Array
    firm: Array


def standard_error(chance: Array, draws: int | Array) -> Array:
    """Standard error of a share of independent draws; a Latin hypercube's is no larger.

    Of the share nearest to certain that the draws can tell apart, so that 0 of n is not without
    doubt.

    >>> round(float(standard_error(np.array(0.5), 2401)), 4)
    0.0102
    """
    count = np.asarray(draws, dtype=float)
    near = 1.0 / (count + 2.0)
    p = np.clip(chance, near, 1.0 - near)
    return np.asarray(np.sqrt(p * (1.0 - p) / np.maximum(count, 1.0)))


def label(
    chance: Array, plan_bolts_in: Array, waits: Array, sure_enough: float, draws: int | Array
) -> Label:
    """The label of each build on its chance *fitted*.

    plan_bolts_in: the plan makes nothing but fitting. waits: a number that decides is not known.
    """
    known = ~np.isnan(chance)
    good = known & (chance >= sure_enough) & ~waits
    out = known & (chance < HOPELESS)
    outcome = np.where(
        out, RULED_OUT, np.where(good, np.where(plan_bolts_in, BOLTS_IN, GOES_IN), MEASURE)
    )
    error = 2.0 * standard_error(np.nan_to_num(chance), draws)
    near = np.minimum(np.abs(chance - sure_enough), np.abs(chance - HOPELESS))
    firm = ~known | (near >= error)
    return Label(outcome.astype(np.int8), np.asarray(firm))


def percent(chance: float, error: float = math.nan) -> str:
    """A chance as it is printed: never certain from draws.

    >>> percent(0.861, 0.01), percent(0.9999), percent(0.0), percent(float("nan"))
    ('86 ± 2 %', '> 99 %', '< 1 %', '?')
    """
    if math.isnan(chance):
        return "?"
    if chance > 0.995:
        return "> 99 %"
    if chance < 0.005:
        return "< 1 %"
    band = 200.0 * error
    if math.isnan(band) or band < 0.5:
        return f"{100 * chance:.0f} %"
    return f"{100 * chance:.0f} ± {math.ceil(band - 1e-9):.0f} %"
