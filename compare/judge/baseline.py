"""Today's gearbox as the gauge of the profile: it runs through all checks as found.

The car drives: a nominal clash of a fit check means that a number or a limit is wrong. Where it passes
nominally, draws of the car in which it clashes are thrown away and drawn again. A road check that
today's car fails too is judged against today.
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

__all__ = ["Today", "car_draws", "has_gearbox", "today"]

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
    """The nominal run of today's gearbox; what it fails of the road checks becomes the engine's gauge."""
    if not has_gearbox(engine.car):
        return None
    engine.today = {}
    result = _run(engine, car_arrays(engine.car), Draw())
    failing = []
    for at, rule in enumerate(engine.checks):
        if result.verdicts[at, 0, 0] != CLASH or rule.kind == "wish":
            continue
        works = float(np.broadcast_to(result.readings[rule.name].works, (1, 1))[0, 0])
        if rule.kind == "road":
            engine.today[rule.name] = -works
        else:
            failing.append(rule.name)
    return Today(result, failing, not failing)


def _sound(engine: Engine, gauge: Today, names: dict[str, Any], how: Draw) -> Array:
    """The draws `(count,)` in which today's gearbox does what it does in the car."""
    result = _run(engine, dict(names), how)
    fine = np.ones(1 + how.count, dtype=bool)
    for at, rule in enumerate(engine.checks):
        nominal = result.verdicts[at, 0, 0]
        if rule.kind != "wish" and nominal not in (CLASH, UNMEASURED):
            fine &= result.verdicts[at, 0] != CLASH
    return fine[1:]


def car_draws(engine: Engine, gauge: Today | None, how: Draw) -> tuple[dict[str, Any], float]:
    """(the car's arrays `(1, 1 + count)`, share of draws kept): draws against today's gearbox are redrawn."""
    names = car_arrays(engine.car, how)
    if gauge is None or not how.count:
        return names, 1.0
    kept = np.flatnonzero(_sound(engine, gauge, names, how))
    if len(kept) == how.count:
        return names, 1.0
    parts, have, drawn = [(names, kept)], len(kept), how.count
    for attempt in range(1, TRIES):
        if have >= how.count:
            break
        again = Draw(how.count, how.seed, how.batch + 1000 * attempt, how.fill)
        more = car_arrays(engine.car, again)
        good = np.flatnonzero(_sound(engine, gauge, more, again))
        parts.append((more, good))
        have, drawn = have + len(good), drawn + how.count
    if have < how.count:
        return names, have / drawn
    return _joined(parts, how.count), have / drawn


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
