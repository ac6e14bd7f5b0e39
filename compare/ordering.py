"""What an order to a machinist is made of; the topics say what is ordered, `answer/orders.py` makes
rows.

A decorator only marks a function, as with rules. An ordered function takes plain floats by the
names of
rules, limits and columns (one build, nominal, the plan's) and gives its Cuts; what has a trailing
axis
(stations, places) comes as an array along it, what is a NamedTuple as one of such.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from types import ModuleType
from typing import Any

from compare.said import Said

__all__ = ["Cut", "Order", "order", "orders_of", "parts_of", "tell"]


def tell(template: str, **values: Any) -> Said:
    """A sentence of an order; a bare number is in mm, one as (number, unit) in that.

    >>> tell("to {depth}", depth=6.0).values
    {'depth': (6.0, 'mm')}
    """
    mm = lambda v: (float(v), "mm") if isinstance(v, int | float) else v
    return Said(template, {name: mm(value) for name, value in values.items()})


def parts_of(figure: float, needs: Sequence[float]) -> list[tuple[int, float]]:
    """(place, its share) of a figure of the plan that places share by what each needs; all [mm].

    Where none of them needs anything in the nominal build, the figure is one place's, numbered −1.

    >>> parts_of(6.0, [1.0, 0.0, 3.0]), parts_of(6.0, [0.0, 0.0])
    ([(0, 1.5), (2, 4.5)], [(-1, 6.0)])
    """
    whole = sum(needs)
    if not whole > 0.0:
        return [(-1, figure)]
    return [(place, figure * need / whole) for place, need in enumerate(needs) if need > 0.0]


@dataclass(frozen=True)
class Cut:
    """One line of an order: a size from `was` to between `low` and `high` [unit].

    on: what sort of part it is done to. length [mm] with its tolerance as it is written: ±0.3 as
    0.3,
    one-sided as text. runout [mm], total indicator reading. of, length_of: the quantities that the
    size and the length make true. text: what is said where the order has no size.
    """

    operation: str
    on: str
    datum: str = ""
    was: float = math.nan
    low: float = math.nan
    high: float = math.nan
    unit: str = "mm"
    length: float = math.nan
    length_tolerance: float | str | None = None
    runout: float | None = None
    finish: str = ""
    undercut: str = ""
    material: str | Said = ""
    measure_before: str | Said = ""
    note: str | Said = ""
    of: str = ""
    length_of: str = ""


@dataclass(frozen=True)
class Order:
    """A marked function: the decisions that bring it about, and its place in the sequence."""

    name: str
    function: Callable[..., list[Cut]]
    decisions: tuple[str, ...]
    step: int
    inputs: tuple[str, ...]


def order(
    *decisions: str, step: int
) -> Callable[[Callable[..., list[Cut]]], Callable[..., list[Cut]]]:
    """Mark a function as what is ordered where one of the decisions (or `choice:option`) is taken.

    step: its place in the sequence; lower is done first.
    """

    def mark(function: Callable[..., list[Cut]]) -> Callable[..., list[Cut]]:
        inputs = tuple(inspect.signature(function).parameters)
        function.__order__ = Order(function.__name__, function, decisions, step, inputs)  # type: ignore[attr-defined]
        return function

    return mark


def orders_of(topics: Iterable[ModuleType]) -> list[Order]:
    """Every order of the topics, in the sequence in which they are carried out."""
    found = []
    for topic in topics:
        for thing in vars(topic).values():
            mine = getattr(thing, "__order__", None)
            if isinstance(mine, Order) and thing.__module__ == topic.__name__:
                found.append(mine)
    return sorted(found, key=lambda o: o.step)
