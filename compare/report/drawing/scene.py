"""Calls the views with the numbers of one build: which shapes there are, and which numbers are not
known.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from compare.judge.rules import Shape

__all__ = ["Scene", "scene", "views_of"]

View = Callable[..., list[Shape]]


@dataclass(frozen=True)
class Scene:
    """What is drawn in one view, and the names whose numbers are not known."""

    shapes: tuple[Shape, ...]
    unknown: tuple[str, ...]


def views_of(modules: Iterable[ModuleType]) -> dict[str, list[View]]:
    """The functions marked as views, by the view to which they add."""
    found: dict[str, list[View]] = {}
    for module in modules:
        for thing in vars(module).values():
            rule = getattr(thing, "__rule__", None)
            if rule is not None and rule.sort == "view" and thing.__module__ == module.__name__:
                found.setdefault(rule.meaning, []).append(thing)
    return found


def scene(views: Iterable[View], facts: Mapping[str, Any]) -> Scene:
    """The shapes of one view. What hangs on an unknown number is left out and its name listed.

    A parameter with a default is one that a car or gearbox may be without: nothing is missing then.
    """
    shapes: list[Shape] = []
    unknown: dict[str, None] = {}
    for function in views:
        parameters = inspect.signature(function).parameters
        given = {name: _plain(facts.get(name)) for name in parameters}
        open_ = [name for name, value in given.items() if np.isnan(value).all()]
        absent = {n for n in open_ if parameters[n].default is not inspect.Parameter.empty}
        known = {name: value for name, value in given.items() if name not in absent}
        shapes += [s for s in function(**known) if _whole(s)]
        unknown |= dict.fromkeys(n for n in open_ if n not in absent)
    return Scene(tuple(shapes), tuple(unknown))


def _plain(value: Any) -> Any:
    """A float or an array of floats; None is unknown."""
    if value is None or isinstance(value, str):
        return math.nan
    if isinstance(value, list | tuple | np.ndarray):
        return np.array([math.nan if v is None else v for v in value], dtype=float)
    return float(value)


def _whole(shape: Shape) -> bool:
    if shape.form == "angle" and math.isnan(shape.value):
        return False
    return all(math.isfinite(n) for point in shape.points for n in point)
