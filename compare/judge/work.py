"""The undo scale, and what operations come to in hours and money."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from compare.judge.rules import Amount, Rule
from compare.vocabulary import UNDO_STEPS

__all__ = ["Tally", "undo_index"]

Array = np.ndarray


def undo_index(step: str) -> int:
    """Place on the undo scale, 0 for what bolts back.

    >>> undo_index("frame cut")
    4
    """
    return UNDO_STEPS.index(step)


@dataclass
class Tally:
    """One operation over builds and draws, worked out. Shapes broadcast to `(builds, draws)`.

    needed: 1, 0, NaN · extent [mm] · undo: index on the scale · hours · cost (labour and material).
    `helps` is where it is needed, possible and permitted; `barred` where only the owner's policy forbids it;
    `unsure` where it is needed and nobody knows whether it is possible.
    """

    rule: Rule
    needed: Array
    extent: Array
    undo: Array
    hours: Array
    cost: Array
    owned: bool
    helps: Array
    barred: Array
    unsure: Array


def tally(rule: Rule, amount: Amount, tools: tuple[str, ...], rates: Mapping[str, float], deepest: int) -> Tally:
    """Hours and money of one operation: own hours at `rate` where the tool is owned, else `outside_rate`.

    Extent counts only where the operation is needed and possible; NaN where it is not known whether it is.
    """
    needed = np.asarray(amount.needed, dtype=float)
    certain = np.asarray(amount.possible, dtype=float)
    unsure = (needed > 0) & np.isnan(certain)
    possible = certain == 1.0
    needed = np.where(possible, needed, np.where(np.isnan(needed), np.nan, 0.0))
    wanted = needed > 0
    extent = np.where(wanted, np.asarray(amount.extent, dtype=float), np.where(np.isnan(needed), np.nan, 0.0))
    owned = rule.tool == "hand tools" or rule.tool in tools
    rate = rates["rate"] if owned else rates["outside_rate"]
    hours: Any = rule.hours if amount.hours is None else amount.hours
    hours = np.where(wanted, hours + rule.hours_per_mm * np.nan_to_num(extent), 0.0)
    material: Any = rule.cost if amount.cost is None else amount.cost
    cost = np.where(wanted, material + hours * rate, 0.0)
    undo: Any = undo_index(rule.undo) if amount.undo is None else amount.undo
    undo = np.broadcast_to(np.asarray(undo, dtype=float), np.broadcast_shapes(np.shape(undo), np.shape(extent)))
    permitted = undo <= deepest
    return Tally(rule, needed, extent, undo, hours, cost, owned, wanted & permitted, wanted & ~permitted, unsure)
