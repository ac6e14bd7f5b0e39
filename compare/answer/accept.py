"""Accept limits of the seller's sheet: buy from here to there, walk away beyond, in between write
it down.

From chances: everything else is still drawn. In each draw the stretch of one letter that lets the
build in is
found; the share of draws whose stretch holds a value is the chance at that value.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.bench import Bench
from compare.answer.dimensions import GEARBOX, PART, Dimension, dimensions
from compare.answer.sweep import Stretches, stretches
from compare.answer.windows import hangs_on, matters
from compare.figures import digits_of, factor_of, figure, unit_of
from compare.judge.outcome import HOPELESS
from compare.said import Told
from compare.vocabulary import VISIT_OF_GROUP, VISITS, catalogue_terms

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["accept", "regions"]

Array = np.ndarray
Row = dict[str, Any]
DRAWS = 128
STRAIGHT = 0.02  # how near to whole a coefficient of a joint limit must be
NUDGE = 0.01  # mm
BY_FAR = 20.0  # doubts between a number and its nearest limit: practice
SHARE_BY_FAR = 0.25  # and how much of itself it is away from it


@dataclass(frozen=True)
class Region:
    """Where a chance holds along one letter [internal units]: NaN at an end where the range ends
    first."""

    low: float
    high: float
    never: bool = False


def accept(a: Assessment, builds: Sequence[int] | Array) -> list[Row]:
    """A row per letter that matters: buy within [buy_low, buy_high], walk away beyond [walk_low,
    walk_high].

    None where the range ends first; `enough` is False where no value of the letter makes it sure
    enough,
    and both ends to buy at are None. `with`: the other letters that feed the check which ends it;
    `text`
    then gives the joint limit, and it decides. Needs draws; no rows from a nominal run.
    """
    found: list[Row] = []
    if a.draws:
        for build in np.asarray(builds, dtype=int).tolist():
            found += _of_build(a, build)
    return found


def letters(a: Assessment, build: int, bench: Bench) -> list[Dimension]:
    """What can be measured at the seller's and matters."""
    able, terms = matters(a), catalogue_terms()
    return [
        d for d in dimensions(a, build, bench)
        if d.kind in (GEARBOX, PART) and d.name != "price" and hangs_on(d.name, able)
        and VISIT_OF_GROUP.get(terms[d.name].group) == VISITS[0] and terms[d.name].tool
    ]  # fmt: skip


def _of_build(a: Assessment, build: int) -> list[Row]:
    bench = Bench.nominal(a, [build])
    dims = letters(a, build, bench)
    goes, _ = stretches(bench, np.zeros(len(dims), dtype=int), dims)
    some = [i for i, _ in enumerate(dims) if goes.low_by[i] >= 0 or goes.high_by[i] >= 0]
    if not some:
        return []
    dims = [dims[i] for i in some]
    drawn = Bench.drawn(a, build, DRAWS)
    at = np.tile(np.arange(DRAWS), len(dims))
    per_draw, _ = stretches(drawn, at, [d for d in dims for _ in range(DRAWS)], closely=False)
    rows = []
    for i, dim in enumerate(dims):
        part = slice(i * DRAWS, (i + 1) * DRAWS)
        buy, walk = regions(dim, per_draw, part, a.engine.sure_enough)
        ends = _ends(dim, buy, walk)
        joint = _joint(bench, drawn, dims, i, goes, some[i])
        if not joint.others and met_by_far(dim, ends):
            continue
        rows.append(
            {
                "candidate": a.builds.candidate_name(build), "build": a.builds.name(build),
                "dimension": dim.name, "unit": dim.unit, **ends,
                "enough": not buy.never, "with": [dims[k].name for k in joint.others],
                "text": Told(tell=partial(_text, dim, ends, buy, joint)),
            }
        )  # fmt: skip
    return rows


def met_by_far(dim: Dimension, ends: dict[str, float | None]) -> bool:
    """Whether the number as it stands is so far inside its limits that measuring tells nothing.

    A count that is wrong is wrong by a whole one, so it is always asked for.
    """
    if dim.whole or math.isnan(dim.value):
        return False
    limits = [end * dim.scale for end in (ends["buy_low"], ends["buy_high"]) if end is not None]
    inside = all(
        end is None or sign * (dim.value - end * dim.scale) > 0
        for end, sign in ((ends["buy_low"], 1), (ends["buy_high"], -1))
    )
    far = min((abs(dim.value - end) for end in limits), default=0.0)
    enough = max(BY_FAR * max(dim.half, dim.fine), SHARE_BY_FAR * abs(dim.value))
    return inside and far > enough


def regions(
    dim: Dimension, found: Stretches, part: slice, sure_enough: float
) -> tuple[Region, Region]:
    """(where the chance is sure enough, where it is not hopeless), each the stretch nearest to the
    likeliest.

    found, part: the stretch of each draw.
    """
    low = np.where(np.isnan(found.low[part]), dim.low, found.low[part])
    high = np.where(np.isnan(found.high[part]), dim.high, found.high[part])
    low, high = low[found.exists[part]], high[found.exists[part]]
    total = len(found.exists[part])
    points = np.unique(np.r_[low, high])
    if not len(points):
        return Region(math.nan, math.nan, True), Region(math.nan, math.nan, True)
    held = (points[:, None] >= low) & (points[:, None] <= high)
    chance = held.sum(axis=1) / total
    best = int(chance.argmax())
    buy, walk = (_around(dim, points, chance >= need, best) for need in (sure_enough, HOPELESS))
    return buy, walk


def _around(dim: Dimension, points: Array, good: Array, best: int) -> Region:
    if not good[best]:
        return Region(math.nan, math.nan, True)
    low = high = best
    while low > 0 and good[low - 1]:
        low -= 1
    while high < len(points) - 1 and good[high + 1]:
        high += 1
    at_low, at_high = points[low] <= dim.low, points[high] >= dim.high
    return Region(
        math.nan if at_low else float(points[low]), math.nan if at_high else float(points[high])
    )


def _ends(dim: Dimension, buy: Region, walk: Region) -> dict[str, float | None]:
    """Rounded: what to buy inward, what to walk away from outward."""
    return {
        "buy_low": _rounded(dim, buy.low, 1), "buy_high": _rounded(dim, buy.high, -1),
        "walk_low": _rounded(dim, walk.low, -1), "walk_high": _rounded(dim, walk.high, 1),
    }  # fmt: skip


def _rounded(dim: Dimension, value: float, sign: int) -> float | None:
    """To a tenth of a millimetre, a hundredth of a diameter, else to the resolution, up (1) or down
    (−1)."""
    if math.isnan(value):
        return None
    grain = 1.0 if dim.whole else 0.1
    if "diameter" in dim.name:
        grain = 0.01
    elif not dim.whole and dim.unit != "mm":
        grain = 10.0 ** math.floor(math.log10(dim.fine / dim.scale))
    steps = value / dim.scale / grain
    whole = math.ceil(steps - 1e-6) if sign > 0 else math.floor(steps + 1e-6)
    return round(whole * grain, 6)


# ---- two letters in one check --------------------------------------------------------------------


@dataclass(frozen=True)
class _Joint:
    """The letters that feed the check which ends a letter's stretch; words of their limit
    together."""

    others: tuple[int, ...] = ()
    words: Callable[[str], str] | None = None


def _joint(
    bench: Bench, drawn: Bench, dims: Sequence[Dimension], own: int, goes: Stretches, place: int
) -> _Joint:
    """Taken where a check ends this letter's stretch, along all letters that it feels there, at
    both ends."""
    dim = dims[own]
    others: dict[int, None] = {}
    words = []
    for edge, check in (
        (goes.low[place], goes.low_by[place]),
        (goes.high[place], goes.high_by[place]),
    ):
        if check < 0 or math.isnan(edge) or dim.whole or dim.unit != "mm":
            continue
        slopes = _slopes(bench, dims, dim, float(edge), int(check))
        feeding = [k for k, s in enumerate(slopes) if abs(s) > STRAIGHT]
        others |= dict.fromkeys(k for k in feeding if k != own)
        straight = all(abs(abs(slopes[k]) - 1.0) < STRAIGHT for k in feeding)
        if len(feeding) > 1 and own in feeding and straight:
            signs = {k: round(float(slopes[k])) for k in feeding}
            words.append(_joint_limit(bench, drawn, dims, own, float(edge), int(check), signs))
    said = [w for w in words if w is not None]
    together = lambda units: "; ".join(w(units) for w in said)
    return _Joint(tuple(others), together if said else None)


def _joint_limit(
    bench: Bench,
    drawn: Bench,
    dims: Sequence[Dimension],
    own: int,
    edge: float,
    check: int,
    signs: dict[int, int],
) -> Callable[[str], str] | None:
    """What the check alone asks of the letters' sum, with the car's numbers drawn and the letters
    known."""
    known = {dims[k].name: np.array([dims[k].stands]) for k in signs} | {
        dims[own].name: np.array([edge])
    }
    count = len(drawn.builds)
    margin = drawn.judge(np.arange(count), [known] * count, 1).margin[check, :, 0]
    if np.isnan(margin).any():
        return None
    yours = sum(sign * dims[k].stands for k, sign in signs.items())
    at_edge = yours + signs[own] * (edge - dims[own].stands)
    least = at_edge - float(np.quantile(margin, 1.0 - bench.a.engine.sure_enough))
    return partial(_joint_words, dims, signs, least, yours)


def _slopes(
    bench: Bench, dims: Sequence[Dimension], dim: Dimension, edge: float, check: int
) -> Array:
    """How the check's margin grows with each letter, where the letter itself stands at its edge."""
    points = []
    for other in dims:
        for nudge in (-NUDGE, NUDGE):
            move = {dim.name: np.array([edge])}
            if other.unit == "mm" and not other.whole:
                at = edge if other.name == dim.name else other.stands
                move[other.name] = np.array([at + nudge])
            points.append(move)
    margin = bench.judge(np.zeros(len(points), dtype=int), points, 1).margin[check, :, 0]
    return np.nan_to_num((margin[1::2] - margin[::2]) / (2.0 * NUDGE))


def _joint_words(
    dims: Sequence[Dimension], signs: dict[int, int], least: float, yours: float, units: str
) -> str:
    """A sum of letters against its limit, turned so that the limit is no negative number."""
    limit = math.ceil(least * 10.0 - 1e-6) / 10.0
    lead = 1 if limit >= 0 else -1
    order = sorted(signs, key=lambda k: signs[k] != lead)
    parts = [f"{'+' if signs[k] == lead else '−'} {dims[k].name.replace('_', ' ')}" for k in order]
    words = " ".join(parts).removeprefix("+ ")
    bound = "at least" if lead > 0 else "at most"
    own = figure(lead * yours, "mm", units).removesuffix(f" {unit_of('mm', units)}")
    return f"{words} {bound} {figure(abs(limit), 'mm', units)}; yours {own}"


def _text(
    dim: Dimension, ends: dict[str, float | None], buy: Region, joint: _Joint, units: str
) -> str:
    name = dim.name.replace("_", " ")
    if joint.words is not None:
        return joint.words(units)
    if buy.never:
        return f"no {name} alone makes it sure enough"
    low, high = (_plain(dim, ends[key], units) for key in ("buy_low", "buy_high"))
    unit = unit_of(dim.unit, units)
    span = span_of(low, high, unit)
    walk = [
        f"{word} {_plain(dim, ends[key], units):.6g}"
        for word, key in (("below", "walk_low"), ("above", "walk_high"))
        if ends[key] is not None
    ]
    told = f"{name} {span}" if span else f"any {name}"
    return told + (f"; walk away {' or '.join(walk)}" if walk else "")


def _plain(dim: Dimension, value: float | None, units: str) -> float | None:
    """A rounded end in the units asked for: a thousandth of an inch where it is in inches."""
    if value is None or unit_of(dim.unit, units) == unit_of(dim.unit):
        return value
    return round(value * factor_of(dim.unit, units), max(3, digits_of(dim.unit, units)))


def span_of(low: float | None, high: float | None, unit: str) -> str:
    """Two ends in words, "" where there is neither.

    >>> span_of(39.2, 41.0, "mm"), span_of(None, 158.0, "mm"), span_of(77.0, None, "mm")
    ('between 39.2 and 41 mm', 'at most 158 mm', 'at least 77 mm')
    """
    unit = f" {unit}" if unit else ""
    if low is not None and high is not None:
        return f"between {low:.6g} and {high:.6g}{unit}"
    if low is not None:
        return f"at least {low:.6g}{unit}"
    return f"at most {high:.6g}{unit}" if high is not None else ""
