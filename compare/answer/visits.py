"""What to measure next: which dimensions decide how much of the shortlist's doubt.

A dimension weighs what knowing it would settle of the doubt whether each build goes in (first order, from draws).
Its share of a margin's doubt comes from central differences where the margin is linear, exact then: every input is
moved once for all builds, as pseudo-draws of one run. Where a margin has kinks the share comes from the draws too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from compare.answer.missing import missing_inputs
from compare.judge.draws import bounds_of, build_arrays, car_arrays, car_doubts
from compare.judge.engine import Assessment, Result
from compare.judge.rules import CLASH, UNMEASURED
from compare.vocabulary import CAR_KEYS, CATALOGUE_COLUMNS, STATION_SIDES, Term, car_terms_by_name, catalogue_terms

__all__ = ["Dimension", "Missing", "dimensions", "judged_over_range", "plausible_range", "variance_shares"]

Array = np.ndarray
SHORTLIST = 8
NEAR = 0.01  # what a check close to its limit weighs, against the doubt of an outcome
DRAWS = 2001
BINS = 16


@dataclass(frozen=True)
class Dimension:
    """One dimension worth measuring. `weight` is the doubt it decides over the shortlist.

    `share` is its part in the doubt of `check` for `candidate`, `settles` its part in whether that candidate goes in.
    """

    owner: str
    column: str
    half: float
    weight: float
    candidate: str
    check: str
    question: str
    share: float
    settles: float = 0.0
    missing: bool = False


@dataclass(frozen=True)
class Missing:
    """A build judged over the plausible range of one unknown number; never filled in silently."""

    candidate: str
    column: str
    low: float
    high: float
    from_catalogue: bool
    chance: float
    goes_from: float
    goes_to: float
    also_missing: tuple[str, ...]


def variance_shares(swings: Array) -> Array:
    """Share of each input in the variance of a sum, from half swings `(..., inputs)`; zero where nothing moves.

    A rectangular ± a has variance a²/3 (JCGM 100:2008, 4.3.7), so for a linear sum shares go as the swings squared.

    >>> variance_shares(np.array([3.0, 4.0])).tolist()
    [0.36, 0.64]
    """
    squares = swings**2
    total = squares.sum(axis=-1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total > 0, squares / total, 0.0)


def _tunnel_place(column: str) -> tuple[str, int] | None:
    for side in STATION_SIDES:
        if column.startswith(f"tunnel_{side}_") and column.rsplit("_", 1)[1].isdigit():
            return f"tunnel_{side}", int(column.rsplit("_", 1)[1])
    return None


def _keys(column: str) -> tuple[str, ...]:
    """The names under which the sums know a column; a thickness has two ends."""
    return ("adapter_thickness_low", "adapter_thickness_high") if column == "adapter_thickness" else (column,)


def _moved(a: Assessment, builds: Array) -> tuple[Result, list[tuple[str, Array]], list[Any]]:
    """One run in which every doubtful input is moved down and up once: (result, [(column, half per build)], car doubts)."""
    of_build = build_arrays(a.builds, builds, 1, a.seed)
    of_car = car_arrays(a.car, 1, a.seed)
    columns: list[tuple[str, Array]] = []
    for term in CATALOGUE_COLUMNS:
        if term.name not in a.builds.columns or term.kind in ("text", "choice", "counts"):
            continue
        column = a.builds.columns[term.name]
        half = np.where(np.isfinite(column.nominal[builds]) & np.isnan(column.high[builds]), column.half[builds], 0.0)
        if (half > 0).any():
            columns.append((term.name, half))
    doubts = [d for d in car_doubts(a.car) if d.column in of_car or _tunnel_place(d.column)]
    width = 1 + 2 * (len(columns) + len(doubts))
    names: dict[str, Any] = dict(of_car) | dict(of_build)

    def move(key: str, at: int, half: Any, station: Any = ...) -> None:
        """Move one input down in draw `at` and up in the next, in a copy as wide as all the moves."""
        if names[key].shape[1] != width:
            names[key] = np.broadcast_to(names[key], (names[key].shape[0], width, *names[key].shape[2:])).copy()
        names[key][:, at, station] -= half
        names[key][:, at + 1, station] += half

    at = 1
    for name, half in columns:
        for key in _keys(name):
            move(key, at, half)
            np.clip(names[key], *bounds_of(catalogue_terms()[name]), out=names[key])
        at += 2
    for doubt in doubts:
        side, station = _tunnel_place(doubt.column) or (doubt.column, ...)
        move(side, at, doubt.half, station)
        at += 2
    return a.engine.run(names, (len(builds), width)), columns, doubts


def dimensions(a: Assessment, shortlist: int = SHORTLIST) -> list[Dimension]:
    """Dimensions ranked by how much of the shortlist's doubt they decide; what is missing and blocks comes first."""
    order = a.order[:shortlist]
    waiting = [b for b in a.order[shortlist:] if a.outcome[b] == 2]
    builds = np.array([*order, *waiting[:4]], dtype=int)
    if not len(builds):
        return []
    found = _missing_first(a, builds)
    if a.draws > 1:
        found += _by_variance(a, builds)
    return found


def _missing_first(a: Assessment, builds: Array) -> list[Dimension]:
    found: dict[tuple[str, str], Dimension] = {}
    deciding = {r.title: r for r in a.engine.checks if r.decides}
    for at, by_check in enumerate(missing_inputs(a, [int(b) for b in builds])):
        if a.outcome[builds[at]] != 2:
            continue
        candidate = a.builds.candidate_name(int(builds[at]))
        for check, names in by_check.items():
            if check not in deciding:
                continue
            for name in names:
                owner = candidate if name in catalogue_terms() else "car"
                key = (owner, name)
                weight = 10.0 / len(names) + (found[key].weight if key in found else 0.0)
                found[key] = Dimension(owner, name, math.nan, weight, candidate, check, deciding[check].question, 1.0, missing=True)
    return sorted(found.values(), key=lambda d: -d.weight)


def main_effect(x: Array, y: Array, bins: int = BINS) -> Array:
    """Variance of y that knowing x would settle, Var(E[y | x]), from draws: means over equal bins of x, less their noise.

    x `(draws,)`, y `(..., draws)`; gives `(...)`.

    >>> rng = np.random.default_rng(1)
    >>> x, other = rng.uniform(-1, 1, (2, 16_000))
    >>> abs(float(main_effect(x, 2 * x + other)) - 4 / 3) < 0.03
    True
    """
    count = len(x) // bins * bins
    sorted_y = y[..., np.argsort(x[:count], kind="stable")].reshape(*y.shape[:-1], bins, count // bins)
    means = sorted_y.mean(axis=-1)
    noise = sorted_y.var(axis=-1, ddof=1).mean(axis=-1) / (count // bins)
    return np.maximum(means.var(axis=-1) - noise * (bins - 1) / bins, 0.0)


def _input(names: dict[str, Any], column: str, at: int) -> Array | None:
    """The draws of one dimension for one build; None where it does not vary."""
    place = _tunnel_place(column)
    if place:
        values = names[place[0]][0, :, place[1]]
    else:
        values = names[_keys(column)[0]]
        values = values[at if values.shape[0] > 1 else 0]
    return values if len(values) > 1 else None


def _by_variance(a: Assessment, builds: Array) -> list[Dimension]:
    """Every doubtful dimension, by the outcome doubt that knowing it would settle.

    Shares of a margin's doubt are exact where the margin is linear in all inputs, else from the draws.
    """
    moved, columns, doubts = _moved(a, builds)
    width = moved.shape[1]
    drawn_names = car_arrays(a.car, DRAWS, a.seed) | build_arrays(a.builds, builds, DRAWS, a.seed)
    inputs = dict(drawn_names)
    drawn = a.engine.run(drawn_names, (len(builds), DRAWS))
    goes = (drawn.outcome <= 1).astype(float)
    fails = (drawn.verdicts == CLASH) & ~drawn.resolved
    found: dict[tuple[str, str], tuple[float, Dimension]] = {}
    totals: dict[tuple[str, str], float] = {}
    names = [name for name, _ in columns] + [d.column for d in doubts]
    for b, build in enumerate(builds):
        owners = [a.builds.owner_label(name, int(build)) for name, _ in columns] + ["car"] * len(doubts)
        settled = np.zeros(len(names))
        doubt = float(goes[b].var())
        for k, name in enumerate(names):
            x = _input(inputs, name, b)
            if x is not None and 0.0 < goes[b].mean() < 1.0:
                settled[k] = float(main_effect(x, goes[b]))
        for c, rule in enumerate(a.engine.checks):
            reading = moved.readings[rule.name]
            applies = float(np.broadcast_to(np.asarray(reading.applies, dtype=float), moved.shape)[b, 0])
            if applies != 1 or moved.verdicts[c, b, 0] == UNMEASURED:
                continue
            works = np.broadcast_to(reading.works, moved.shape)[b]
            comfort = float(np.broadcast_to(reading.comfort, moved.shape)[b, 0])
            margins = np.broadcast_to(drawn.readings[rule.name].works, drawn.shape)[b]
            failing = float(fails[c, b].mean())
            critical = min(failing, 1.0 - failing)
            margin = min(abs(float(works[0])), abs(comfort))
            spread = float(margins.std()) if np.isfinite(margins).all() else 0.0
            near = NEAR * math.exp(-margin / spread) if spread > 0 and math.isfinite(margin) else 0.0
            if critical <= 1e-9 and near <= 1e-6:
                continue
            shares = _shares(works, margins, inputs, names, b, width)
            for k, name in enumerate(names):
                if shares[k] <= 0.001 or critical * settled[k] + near * shares[k] <= 1e-6:
                    continue
                half = float(columns[k][1][b]) if k < len(columns) else doubts[k - len(columns)].half
                key = (owners[k], name)
                totals[key] = totals.get(key, 0.0) + near * float(shares[k])
                importance = critical * float(shares[k]) + near * float(shares[k])
                if key not in found or importance > found[key][0]:
                    found[key] = (importance, Dimension(owners[k], name, half, 0.0, a.builds.candidate_name(int(build)), rule.title,
                                                        rule.question, float(shares[k]), float(settled[k]) / doubt if doubt > 0 else 0.0))  # fmt: skip
        for k, name in enumerate(names):
            if settled[k] > 0:
                totals[owners[k], name] = totals.get((owners[k], name), 0.0) + settled[k]
    listed = [replace(d, weight=totals[key]) for key, (_, d) in found.items()]
    return sorted(listed, key=lambda d: (-round(d.weight, 9), d.owner, d.column))


def _shares(works: Array, drawn: Array, inputs: dict[str, Any], names: list[str], at: int, width: int) -> Array:
    """Share of each input in the doubt of a margin."""
    down, up = works[1:width:2], works[2:width:2]
    with np.errstate(invalid="ignore"):
        swings = np.nan_to_num((up - down) / 2.0, posinf=0.0, neginf=0.0)
        bent = np.nan_to_num(up + down - 2.0 * works[0], posinf=0.0, neginf=0.0)
    if not np.isfinite(drawn).all() or np.abs(bent).max(initial=0.0) <= 1e-6:
        return variance_shares(swings)
    variance = float(drawn.var())
    if variance <= 0:
        return np.zeros(len(names))
    moves = (np.abs(swings) > 1e-9) | (np.abs(bent) > 1e-9)
    shares = np.zeros(len(names))
    for k in np.flatnonzero(moves):
        x = _input(inputs, names[k], at)
        if x is not None:
            shares[k] = min(float(main_effect(x, drawn)) / variance, 1.0)
    return shares


def plausible_range(a: Assessment, column: str) -> tuple[float, float, bool]:
    """(low, high, from the catalogue): where an unknown number may lie, given the other candidates and what is possible."""
    term = catalogue_terms()[column]
    low, high = bounds_of(term)
    known = a.builds.catalogue.columns[column].nominal if column in a.builds.catalogue.columns else np.zeros(0)
    known = known[np.isfinite(known)]
    if len(known) >= 3:
        spread = max(float(known.max() - known.min()) * 0.25, 0.05 * abs(float(np.median(known))))
        return max(low, float(known.min()) - spread), min(high, float(known.max()) + spread), True
    return low, high, False


def judged_over_range(a: Assessment, at_most: int = 3, points: int = 201) -> list[Missing]:
    """Builds that wait for up to `at_most` numbers of their own, judged over the plausible range of each.

    The first unknown number runs over its range in even steps; the others are drawn over theirs.
    """
    waiting = [int(b) for b in a.order if a.outcome[b] == 2]
    found: list[Missing] = []
    if not waiting:
        return found
    deciding = {r.title for r in a.engine.checks if r.decides}
    for build, by_check in zip(waiting, missing_inputs(a, waiting), strict=True):
        names = list(dict.fromkeys(n for c, miss in by_check.items() if c in deciding for n in miss))
        own = [n for n in names if n in catalogue_terms() and catalogue_terms()[n].kind in ("length", "position", "diameter", "angle")]
        if not names or len(own) != len(names) or len(names) > at_most:
            continue
        for first in own:
            low, high, from_catalogue = plausible_range(a, first)
            arrays = build_arrays(a.builds, np.array([build]), 1, a.seed)
            values = np.linspace(low, high, points)
            for name in own:
                if name == first:
                    drawn = values
                else:
                    other_low, other_high, _ = plausible_range(a, name)
                    drawn = np.random.default_rng([a.seed, len(name)]).uniform(other_low, other_high, points)
                for key in _keys(name):
                    arrays[key] = drawn[None, :]
            result = a.engine.run(car_arrays(a.car, 1, a.seed) | arrays, (1, points))
            goes = result.outcome[0] <= 1
            inside = values[goes]
            found.append(
                Missing(a.builds.candidate_name(build), first, low, high, from_catalogue, float(goes.mean()),
                        float(inside.min()) if len(inside) else math.nan, float(inside.max()) if len(inside) else math.nan,
                        tuple(n for n in own if n != first))
            )  # fmt: skip
    return found


def term_of(column: str) -> Term:
    """The vocabulary's term for a drawn column, stations and ends of pairs included."""
    if column in catalogue_terms():
        return catalogue_terms()[column]
    by_name = car_terms_by_name()
    if column in by_name:
        return by_name[column]
    if column.startswith("car_mount_zone"):
        return by_name["car_mount_zone"]
    if column.startswith("tyre_") or column.endswith("rolling_circumference"):
        return by_name["tyre_rolling_circumference"]
    if _tunnel_place(column) or column.startswith("tunnel"):
        return by_name["tunnel_stations"]
    return next((t for t in CAR_KEYS if t.name.endswith(column.replace(" ", "_"))), by_name["tunnel_stations"])
