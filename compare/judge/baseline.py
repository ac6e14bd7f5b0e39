"""Today's gearbox as the gauge of the profile: it runs through all checks as found.

The car drives: a nominal clash of a fit check means that a number or a limit is wrong. Where it
passes nominally, draws of the car in which it clashes are thrown away and drawn again. A road check
that today's car fails too is judged against today.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from compare.judge.draws import Draw, car_arrays, present_arrays
from compare.judge.engine import Engine, Result
from compare.judge.rules import CLASH, UNMEASURED
from compare.judge.settle import Found
from compare.read.car import Car

__all__ = ["CarDraws", "Today", "car_draws", "has_gearbox", "keep_worth", "sound", "today"]

Array = np.ndarray
TRIES = 24  # batches drawn before the gauge is given up


@dataclass
class Today:
    """Today's gearbox as found: the nominal run, the checks it fails, and whether it passes."""

    result: Result
    failing: list[str]
    passes: bool


def has_gearbox(car: Car) -> bool:
    """Whether the profile gives any ratio of today's gearbox."""
    return any(name.startswith("ratio_") for name in car.present)


def _run(engine: Engine, names: dict[str, Any], how: Draw) -> Result:
    shape = (1, 1 + how.count)
    return engine.run(names | present_arrays(engine.car, how), shape, Found())


def today(engine: Engine) -> Today | None:
    """The nominal run of today's gearbox; what it fails of the road checks becomes the engine's
    gauge.
    """
    if not has_gearbox(engine.car):
        return None
    engine.today = {}
    result = _run(engine, car_arrays(engine.car), Draw())
    blank = Draw(fill=False)
    given = _run(engine, car_arrays(engine.car, blank), blank)
    failing = []
    for at, rule in enumerate(engine.checks):
        if result.verdicts[at, 0, 0] != CLASH or rule.kind == "wish":
            continue
        if given.verdicts[at, 0, 0] != CLASH:
            continue  # only with what is likely for a number that nobody gave: that accuses no other
        works = float(np.broadcast_to(result.readings[rule.name].works, (1, 1))[0, 0])
        if rule.kind == "road":
            engine.today[rule.name] = -works
        else:
            failing.append(rule.name)
    return Today(result, failing, not failing)


@dataclass
class CarDraws:
    """The car's arrays `(1, 1 + count)`, the share of draws that was kept, and today's gearbox in
    them.

    keep: worth per criterion of keeping today's gearbox `(count, criteria)`, None without a gauge.
    """

    names: dict[str, Any]
    kept: float
    keep: Array | None


def keep_worth(engine: Engine, utility: Array) -> Array:
    """Worth per criterion of keeping what is in the car: as found, and it costs nothing."""
    worth = utility.copy()
    worth[..., engine.criteria.index("cost")] = 1.0
    return worth


def sound(engine: Engine, names: dict[str, Any], how: Draw) -> tuple[Array, Array]:
    """(draws in which today's gearbox does what it does in the car `(count,)`, worth `(count,
    criteria)`).
    """
    result = _run(engine, dict(names), how)
    fine = np.ones(1 + how.count, dtype=bool)
    for at, rule in enumerate(engine.checks):
        nominal = result.verdicts[at, 0, 0]
        if rule.name in engine.today:
            continue  # it fails there as the car is: how far it does says nothing against a draw
        if rule.kind != "wish" and nominal not in (CLASH, UNMEASURED):
            fine &= result.verdicts[at, 0] != CLASH
    return fine[1:], keep_worth(engine, result.utility[0, 1:])


def car_draws(engine: Engine, gauge: Today | None, how: Draw) -> CarDraws:
    """The car's draws; those that speak against today's gearbox are thrown away and drawn again."""
    names = car_arrays(engine.car, how)
    if gauge is None or not how.count:
        return CarDraws(names, 1.0, None)
    good, keep = sound(engine, names, how)
    if good.all():
        return CarDraws(names, 1.0, keep)
    parts, worths = [(names, np.flatnonzero(good))], [keep[good]]
    have, drawn = int(good.sum()), how.count
    for attempt in range(1, TRIES):
        if have >= how.count:
            break
        again = Draw(how.count, how.seed, how.batch + 1000 * attempt, how.fill)
        more = car_arrays(engine.car, again)
        good, worth = sound(engine, more, again)
        parts.append((more, np.flatnonzero(good)))
        worths.append(worth[good])
        have, drawn = have + int(good.sum()), drawn + how.count
    if have < how.count:
        return CarDraws(names, have / drawn, keep)
    worth = np.concatenate(worths)[: how.count]
    return CarDraws(_joined(parts, how.count), have / drawn, worth)


def _joined(parts: list[tuple[dict[str, Any], Array]], count: int) -> dict[str, Any]:
    """The kept draws of several batches as one, the nominal one first."""
    first = parts[0][0]
    joined: dict[str, Any] = {}
    for name, array in first.items():
        if array.ndim < 2 or array.shape[1] == 1:
            joined[name] = array
            continue
        drawn = np.concatenate([names[name][:, 1 + kept] for names, kept in parts], axis=1)
        joined[name] = np.concatenate([array[:, :1], drawn[:, :count]], axis=1)
    return joined
