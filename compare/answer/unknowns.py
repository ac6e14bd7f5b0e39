"""Unknown numbers: which of them decide whether a build goes in."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.judge.draws import Draw, bounds_of, build_arrays, car_arrays, joined, likely_of
from compare.judge.rules import UNMEASURED
from compare.judge.settle import Fitted, WithFigures
from compare.vocabulary import (
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    LIKELY_SHARE,
    car_terms_by_name,
    catalogue_terms,
)

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["asked_by_checks", "deciding_unknowns", "open_names", "unknown_columns", "unknown_keys"]

Array = np.ndarray
POINTS = 9
MOST_BUILDS = 60
# A range that is blank is settled by its low end, and its high end follows.
GIVEN = {"adapter_thickness": "adapter_thickness_low"}
TWINS = {"adapter_thickness_low": "adapter_thickness_high"}
# What no one number can stand for is settled by the flag that says that nothing is in the way.
FLAGS = {"tunnel_stations": "tunnel_none"}
ENDS = {"car_mount_zone": ("car_mount_zone_start", "car_mount_zone_end")}
# Of these either serves for the other: where both are blank, either is wanting.
STAND_INS = (("bearing_bore", "clutch_bearing_bore"), ("fork_ratio", "clutch_fork_ratio"))
COUNTED = ("spline_teeth", "output_spline_teeth", "driveshaft_yoke_spline_teeth")


def unknown_columns(a: Assessment, build: int) -> list[str]:
    """The columns that are blank for a build and have a likely range."""
    columns = a.builds.columns
    likely = [
        t.name for t in CATALOGUE_COLUMNS if likely_of(t) is not None or t.name in LIKELY_SHARE
    ]
    return [n for n in likely if n in columns and math.isnan(columns[n].nominal[build])]


def unknown_keys(a: Assessment) -> list[str]:
    """The car's keys that the profile does not give and that have a likely range."""
    given = car_arrays(a.car, Draw(fill=False))
    return [t.name for t in CAR_KEYS if likely_of(t) is not None and np.isnan(given[t.name]).all()]


def open_names(a: Assessment, build: int, check: str) -> list[tuple[str, str]]:
    """(owner, name) of the numbers without a likely range that leave a check of a build open."""
    feeds = a.engine.book.feeds(check)
    car = car_arrays(a.car, Draw())
    found = []
    for name in sorted(feeds):
        if name in car_terms_by_name() and name in car and np.isnan(car[name]).all():
            if car_terms_by_name()[name].kind != "flag":
                found.append(("car", name))
        elif f"{name}_start" in car and np.isnan(car[f"{name}_start"]).all():
            found.append(("car", name))
        elif name in catalogue_terms() and name in a.builds.columns:
            blank = math.isnan(a.builds.columns[name].nominal[build])
            if blank and name not in unknown_columns(a, build):
                found.append((a.builds.candidate_name(build), name))
    if "tunnel_stations" in feeds and not a.car.stations:
        found.append(("car", "tunnel_stations"))
    return found


def asked_by_checks(
    a: Assessment, build: int, anew: bool = False
) -> dict[str, list[tuple[str, str]]]:
    """Check -> (owner, name) of the blanks that leave it unmeasured in this build.

    Each blank is taken away by itself, the others at their likely middle, or the middle of what is
    possible: a blank that has a default, or that nothing asks for here, leaves nothing open.

    anew: with every decision made anew, so that a plan which has no figures for want of numbers
    hides none of them; else with the plan's figures, so that only what bars them is named.
    """
    candidate = a.builds.candidate_name(build)
    open_of = {
        rule.name: open_names(a, build, rule.name)
        for number, rule in enumerate(a.engine.checks)
        if a.unmeasured[build, number]
    }
    suspects = [(candidate, n) for n in unknown_columns(a, build)]
    suspects += [("car", n) for n in unknown_keys(a)]
    likely = set(suspects)
    suspects += dict.fromkeys(one for names in open_of.values() for one in names)
    names, filled = _each_left_out(a, build, suspects, likely)
    rows, width = np.array([build]), 1 + len(suspects)
    made = a.made.arrays(a.builds, rows)
    settle = Fitted(made=made) if anew else WithFigures(a.figures.of(rows), made)
    result = a.engine.run(names, (1, width), settle)
    open_ = result.verdicts[:, 0, :] == UNMEASURED
    idle = _idle(a, suspects, open_)
    found = {}
    for number, rule in enumerate(a.engine.checks):
        alone = open_[number] & ~open_[number, 0]
        mine = [one for at, one in enumerate(suspects, 1) if alone[at] and one in filled]
        mine += [
            one for one in open_of.get(rule.name, ()) if one not in filled and open_[number, 0]
        ]
        if not mine and a.unmeasured[build, number]:
            feeds = a.engine.book.feeds(rule.name)
            mine = [one for one in suspects if one[1] in feeds and one not in idle]
        found[rule.name] = mine
    return found


def _each_left_out(
    a: Assessment,
    build: int,
    suspects: Sequence[tuple[str, str]],
    likely: Collection[tuple[str, str]],
) -> tuple[dict[str, Any], set[tuple[str, str]]]:
    """(arrays of a build, the blanks that a number could stand for): all filled in draw 0, each
    away in its own.

    `(1, 1 + suspects)`. Filled with the likely middle where there is one, else that of what is
    possible.
    """
    names, width = a.names([build]), 1 + len(suspects)
    filled = set()
    for at, one in enumerate(suspects, 1):
        if one[1] in FLAGS:
            filled.add(one)
            _nothing_in_the_way(names, FLAGS[one[1]], at, width)
            continue
        if one[1] in ENDS:
            filled.add(one)
            _both_ends(names, one[1], at, width)
            continue
        key = GIVEN.get(one[1], one[1])
        middle = _middle_of(names.get(key), one[1], one in likely)
        if middle is None:
            continue
        filled.add(one)
        names[key] = np.broadcast_to(middle, (1, width)).copy()
        names[key][0, at] = math.nan
        if key in TWINS:
            names[TWINS[key]] = names[key]
    for at, (_, name) in enumerate(suspects, 1):
        for pair in STAND_INS:
            other = pair[1 - pair.index(name)] if name in pair else ""
            if any(other == one[1] for one in filled):
                names[other][0, at] = math.nan
    return names, filled


def _idle(a: Assessment, suspects: list[tuple[str, str]], open_: Array) -> set[tuple[str, str]]:
    """Blanks whose want alone opens none of the checks that they feed: another number serves for
    them.
    """
    found = set()
    feeds = [a.engine.book.feeds(rule.name) for rule in a.engine.checks]
    for at, one in enumerate(suspects, 1):
        fed = [n for n, names in enumerate(feeds) if one[1] in names and not open_[n, 0]]
        if fed and not open_[fed, at].any():
            found.add(one)
    return found


def _nothing_in_the_way(names: dict[str, Any], flag: str, at: int, width: int) -> None:
    """Set a flag but in one column, which stays as it was."""
    was = names[flag]
    names[flag] = np.ones((1, width))
    names[flag][0, at] = was[0, 0] if isinstance(was, np.ndarray) else was


def _both_ends(names: dict[str, Any], name: str, at: int, width: int) -> None:
    """Give a pair the middle of what is possible but in one column, where it is not known."""
    low, high = bounds_of(car_terms_by_name()[name])
    for end in ENDS[name]:
        names[end] = np.full((1, width), (low + high) / 2.0)
        names[end][0, at] = math.nan


def _middle_of(array: Any, name: str, likely: bool) -> Array | None:
    """A blank's array with a number in it; None where no one number can stand for it."""
    if not (isinstance(array, np.ndarray) and array.ndim == 2):
        return None
    if likely:
        return array[:, :1]
    term = (catalogue_terms() | car_terms_by_name())[name]
    if term.choices:
        return np.zeros((1, 1))
    low, high = bounds_of(term)
    return np.full((1, 1), (low + high) / 2.0) if math.isfinite(low + high) else None


def deciding_unknowns(a: Assessment, goes: Array) -> dict[int, list[tuple[str, str]]]:
    """Per build the unknown numbers that decide: open ones, and those whose likely range holds an
    edge.

    Only builds are asked that might be called good; and of those only the ones that fail in some
    draw.
    """
    found: dict[int, list[tuple[str, str]]] = {}
    open_builds = np.flatnonzero(np.isnan(a.chance))
    for build in open_builds[:MOST_BUILDS].tolist():
        found[build] = _open(a, build)
    fails = (np.nan_to_num(goes) < 1).any(axis=1) | (a.draws == 0)
    sure = (a.chance >= 0.05) & fails
    car_unknown = unknown_keys(a)
    some = [
        b for b in np.flatnonzero(sure).tolist() if car_unknown or unknown_columns(a, b)
    ][:MOST_BUILDS]  # fmt: skip
    if some:
        for build, names in zip(some, _by_sweep(a, some, car_unknown), strict=True):
            if names:
                found[build] = names
    return found


def _open(a: Assessment, build: int) -> list[tuple[str, str]]:
    result = a.run([build], "fitted")
    names: dict[tuple[str, str], None] = {}
    for at, rule in enumerate(a.engine.checks):
        judged = a.engine.decides[at] and not a.engine.waits[at]
        if judged and result.verdicts[at, 0, 0] == UNMEASURED:
            names |= dict.fromkeys(open_names(a, build, rule.name))
    return _needed(a, build, list(names))


def _needed(a: Assessment, build: int, suspects: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Those of some blank numbers without which a build stays open even with all the others given.

    A blank that has a default, or that nothing asks for in this build, is left out.
    """
    names, filled = _each_left_out(a, build, suspects, ())
    result = a.engine.run(names, (1, 1 + len(suspects)), Fitted())
    judged = a.engine.decides & ~a.engine.waits
    open_ = (result.verdicts[judged, 0] == UNMEASURED).any(axis=0)
    return [one for at, one in enumerate(suspects, 1) if one not in filled or open_[0] or open_[at]]


def _by_sweep(
    a: Assessment, builds: list[int], car_unknown: list[str]
) -> list[list[tuple[str, str]]]:
    """Every unknown number moved over its likely range, the others at the middle of theirs."""
    rows = np.array(builds)
    mine = {b: unknown_columns(a, b) for b in builds}
    columns = sorted({c for names in mine.values() for c in names})
    width = 1 + POINTS * (len(columns) + len(car_unknown))
    of_car = car_arrays(a.car, Draw(seed=a.seed))
    names = joined(of_car, build_arrays(a.builds, rows, Draw(seed=a.seed)))
    places: list[tuple[str, slice]] = []
    at = 1
    for column in columns:
        blank = np.array([column in mine[b] for b in builds])
        _spread(names, column, width)
        names[column][blank, at : at + POINTS] = _range(names, column, rows)[blank]
        places.append((column, slice(at, at + POINTS)))
        at += POINTS
    for key in car_unknown:
        _spread(names, key, width)
        names[key][:, at : at + POINTS] = np.linspace(*_ends(key), POINTS)[None]
        places.append((key, slice(at, at + POINTS)))
        at += POINTS
    made = a.made.arrays(a.builds, rows)
    result = a.engine.run(names, (len(builds), width), Fitted(made=made))
    found: list[list[tuple[str, str]]] = []
    for row, build in enumerate(builds):
        hits = []
        for name, part in places:
            goes = result.goes_in[row, part]
            mixed = np.nanmax(goes, initial=0.0) > np.nanmin(goes, initial=1.0)
            if mixed and (name in car_unknown or name in mine[build]):
                owner = "car" if name in car_unknown else a.builds.candidate_name(build)
                hits.append((owner, name))
        found.append(hits)
    return found


def _spread(names: dict[str, Any], name: str, width: int) -> None:
    array = names[name]
    names[name] = np.broadcast_to(array[:, :1], (array.shape[0], width)).copy()


def _ends(name: str) -> tuple[float, float]:
    term = catalogue_terms().get(name) or car_terms_by_name()[name]
    found = likely_of(term)
    assert found is not None
    return found


def _range(names: dict[str, Any], column: str, rows: Array) -> Array:
    """Points over the likely range of a column `(builds, POINTS)`."""
    if column in LIKELY_SHARE:
        of, low, high = LIKELY_SHARE[column]
        base = np.broadcast_to(names[of][:, :1], (len(rows), 1))
        return base * np.linspace(low, high, POINTS)[None]
    points = np.linspace(*_ends(column), POINTS)
    points = np.round(points) if column in COUNTED else points
    return np.broadcast_to(points, (len(rows), POINTS))
