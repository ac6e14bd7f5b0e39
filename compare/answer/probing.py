"""Points along a dimension: where it is looked first, and where it is looked more closely.

A stretch that goes in at every first point may hold a narrow clash, and one that fails at every
first point
a narrow stretch that goes in. Where a check turns, or begins to apply, more points are put in, and
where
its straight lines from both sides would meet below working.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from compare.answer.bench import Judged
from compare.answer.dimensions import Dimension

__all__ = ["Probed", "Run", "between_failures", "first_points", "looked_closer", "scan_of"]

Array = np.ndarray
Run = Callable[[Array, Array], Judged]
DOUBLINGS = 6
WHOLE_SCAN = 64
INSERTED, INSERTIONS = 6, 4
EXTRA = 16  # points over the range where a check turns or begins to apply
DIPS, ROUNDS = 6, 3  # points a round where straight lines would meet below working, and rounds
JUMPING, ONE_SIDED = 1, 2  # rounds in which it is enough that a check jumps, or that one line does
JUMP = 3.0  # times what the slopes on both sides say: a decision changes between
TURN = 1e-6


@dataclass
class Probed:
    """Points along each row, sorted `(rows, points)`, where it goes in, with no deeper step, what
    fails there and by which margin `(checks, rows, points)`."""

    points: Array
    good: Array
    shallow: Array
    failing: Array
    margin: Array

    @classmethod
    def of(cls, points: Array, judged: Judged) -> Probed:
        return cls(points, judged.good, judged.shallow, judged.failing, judged.margin)

    def some(self, rows: Array, deep: int) -> Probed:
        """Some rows; where `deep`, only what takes no deeper step counts as good."""
        good = (self.shallow if deep else self.good)[rows]
        inner = self.failing[:, rows], self.margin[:, rows]
        return Probed(self.points[rows], good, self.shallow[rows], *inner)


def first_points(dim: Dimension) -> Array:
    """The value and, doubling, what lies toward both ends of the range; the ends themselves."""
    steps = 2.0 ** np.arange(-DOUBLINGS, 1)
    down, up = dim.stands - dim.low, dim.high - dim.stands
    return np.concatenate([dim.stands - down * steps[::-1], [dim.stands], dim.stands + up * steps])


def scan_of(dims: Sequence[Dimension], rows: Array) -> Array:
    lists = [np.unique(np.r_[_whole_points(dims[r])]) for r in rows]
    longest = max(map(len, lists))
    return np.stack([np.r_[x, np.full(longest - len(x), x[-1])] for x in lists])


def _whole_points(dim: Dimension) -> Array:
    if dim.high - dim.low <= WHOLE_SCAN:
        return np.unique(np.r_[np.arange(np.ceil(dim.low), dim.high + 0.5), dim.stands])
    return np.unique(np.r_[np.linspace(dim.low, dim.high, WHOLE_SCAN).round(), dim.stands])


def looked_closer(run: Run, rows: Array, probed: Probed) -> Probed:
    """More points where a clash may hide between two that go in."""
    some = _restless(probed)
    if not len(some):
        return probed
    mine = probed.some(some, 0)
    low, high = mine.points[:, :1], mine.points[:, -1:]
    extra = low + (high - low) * np.arange(1, EXTRA + 1) / (EXTRA + 1.0)
    mine = _merged(mine, np.arange(len(some)), extra, run(rows[some], extra))
    todo = np.arange(len(some))
    for number in range(ROUNDS):
        extra = _dips(mine, todo, number)
        has = ~np.isnan(extra).all(axis=1)
        if not has.any():
            break
        todo, extra = todo[has], extra[has]
        extra = np.where(np.isnan(extra), mine.points[todo, :1], extra)
        mine = _merged(mine, todo, extra, run(rows[some[todo]], extra))
    return _put(probed, some, mine)


def _put(probed: Probed, some: Array, mine: Probed) -> Probed:
    """Some rows put back with more points; the others repeat their last one."""
    more = mine.points.shape[1] - probed.points.shape[1]
    found = []
    for name in Probed.__dataclass_fields__:
        whole = _wider(getattr(probed, name), more)
        whole[..., some, :] = getattr(mine, name)
        found.append(whole)
    return Probed(*found)


def _wider(array: Array, more: int) -> Array:
    return np.concatenate([array, np.repeat(array[..., -1:], more, axis=-1)], axis=-1)


def _restless(probed: Probed) -> Array:
    """Rows along which a check turns, or begins or ceases to apply."""
    blank = np.isnan(probed.margin)
    changes = (blank != blank[:, :, :1]).any(axis=(0, 2))
    rise = np.diff(np.where(blank, 0.0, probed.margin), axis=2)
    turns = ((rise > TURN).any(axis=2) & (rise < -TURN).any(axis=2)).any(axis=0)
    return np.flatnonzero(changes | turns)


def _dips(probed: Probed, some: Array, number: int) -> Array:
    """Per row up to DIPS places between two points that go in where a clash may hide, NaN for none."""
    points, good = probed.points[some], probed.good[some]
    margin = probed.margin[:, some]
    width = np.diff(points, axis=1)
    between = good[:, :-1] & good[:, 1:] & (width > 1e-9 * (1.0 + np.abs(points[:, 1:])))
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.where(width > 0, np.diff(margin, axis=2) / width, np.nan)
    blank = np.full((*slope.shape[:2], 1), np.nan)
    before = np.concatenate([blank, slope[..., :-1]], axis=2)
    after = np.concatenate([slope[..., 1:], blank], axis=2)
    start, end = margin[..., :-1], margin[..., 1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        # Where the line from the left, going on, comes below working, and where that from the
        # right.
        down, up = -start / (before * width), 1.0 - end / (after * width)
        falls, rises = (before < -TURN) & (down < 1.0), (after > TURN) & (up > 0.0)
        meet = (end - start - after * width) / ((before - after) * width)
        both = falls & rises
        part = np.where(both, meet, np.where(falls, (down + 1.0) / 2.0, up / 2.0))
        meets = (both if number >= ONE_SIDED else falls | rises) & (part > 0) & (part < 1)
        step = np.abs(slope) * width
        usual = np.fmax(np.abs(before), np.abs(after)) * width
        jumps = (step > JUMP * usual + TURN) | (np.isnan(start) != np.isnan(end))
        jumps &= number < JUMPING
    place = np.where(meets, part, np.inf).min(axis=0)
    place = np.where(np.isfinite(place), place, 0.5)
    weight = np.where(meets.any(axis=0), 2.0, np.where(jumps.any(axis=0), 1.0, 0.0)) * between
    found = points[:, :-1] + place * width
    best = np.argsort(-weight * (1.0 + width / np.ptp(points, axis=1)[:, None]), axis=1)[:, :DIPS]
    chosen = np.take_along_axis(np.where(weight > 0, found, np.nan), best, axis=1)
    return np.asarray(chosen)


def _roots(a: Array, b: Array, margin_a: Array, margin_b: Array) -> Array:
    """Where straight lines between two points pass zero `(checks, rows)`; NaN where they do not."""
    with np.errstate(invalid="ignore", divide="ignore"):
        part = margin_a / (margin_a - margin_b)
        part = np.where(np.isfinite(part) & (part >= 0) & (part <= 1), part, np.nan)
    return a + (b - a) * part


def between_failures(run: Run, rows: Array, probed: Probed, away: Array) -> Probed:
    """Points put between neighbours that fail by different checks: a narrow stretch may lie
    there."""
    for _ in range(INSERTIONS):
        extra = np.stack([_between(probed, int(r)) for r in away])
        if np.isnan(extra).all():
            break
        keep = ~np.isnan(extra).all(axis=1)
        away, extra = away[keep], extra[keep]
        extra = np.where(np.isnan(extra), probed.points[away, :1], extra)
        judged = run(rows[away], extra)
        probed = _merged(probed, away, extra, judged)
    return probed


def _between(probed: Probed, row: int) -> Array:
    """Up to INSERTED points of one row, NaN for none."""
    points, failing, margin = probed.points[row], probed.failing[:, row], probed.margin[:, row]
    found = np.full(INSERTED, np.nan)
    bad = ~probed.good[row]
    pairs = bad[:-1] & bad[1:] & ~(failing[:, :-1] & failing[:, 1:]).any(axis=0)
    pairs &= points[1:] - points[:-1] > 1e-6
    for slot, k in enumerate(np.flatnonzero(pairs)[:INSERTED]):
        roots = _roots(points[k], points[k + 1], margin[:, k], margin[:, k + 1])
        enter, leave = roots[failing[:, k]], roots[failing[:, k + 1]]
        middle = (points[k] + points[k + 1]) / 2.0
        if not np.isnan(enter).all() and not np.isnan(leave).all():
            middle = (np.nanmax(enter) + np.nanmin(leave)) / 2.0
        found[slot] = middle
    return found


def _merged(probed: Probed, some: Array, extra: Array, judged: Judged) -> Probed:
    """The points with the extra ones of some rows; other rows repeat their last point."""
    count = extra.shape[1]
    fresh = Probed.of(extra, judged)
    found = []
    order = None
    for name in Probed.__dataclass_fields__:
        whole = _wider(getattr(probed, name), count)
        whole[..., some, -count:] = getattr(fresh, name)
        order = np.argsort(whole, axis=1, kind="stable") if order is None else order
        mine = order if whole.ndim == 2 else order[None]
        found.append(np.take_along_axis(whole, mine, axis=-1))
    return Probed(*found)
