"""A sentence as data: a template and the values that fill it; prose is made last, on the page."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from compare.figures import figure

__all__ = ["Said", "Told", "fill", "joined"]

Value = tuple[float, str] | str
_OPTIONAL = re.compile(r"\[([^\[\]]*)\]")
_NAME = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True)
class Said:
    """A template with names in braces, and what each name stands for: (number, unit) or a text.

    A part in square brackets is left out when a number in it is not known.
    """

    template: str
    values: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True)
class Told(Said):
    """A sentence that no template can hold: told by a function of the system of units."""

    template: str = ""
    tell: Callable[[str], str] = str


def fill(said: Said | str, units: str = "metric") -> str:
    """The sentence, in one system of units.

    >>> fill(Said("{a} of air[, {b} more]", {"a": (6.0, "mm"), "b": (math.nan, "mm")}))
    '6 mm of air'
    >>> fill(Said("[{b} off][; a bush]", {"b": (math.nan, "mm")}))
    'a bush'
    """
    if isinstance(said, str):
        return said
    if isinstance(said, Told):
        return said.tell(units)

    def known(match: re.Match[str]) -> str:
        values = [said.values.get(name) for name in _NAME.findall(match[1])]
        missing = any(isinstance(v, tuple) and math.isnan(v[0]) for v in values)
        return "" if missing else match[1]

    def figures(match: re.Match[str]) -> str:
        value = said.values.get(match[1], "?")
        return value if isinstance(value, str) else figure(*value, units)

    return _NAME.sub(figures, _OPTIONAL.sub(known, said.template).removeprefix("; "))


def joined(parts: list[Said | str], mark: str = "; ") -> Said:
    """Several sentences as one.

    >>> fill(joined([Said("{a} off", {"a": (2.0, "mm")}), "a bush"]))
    '2 mm off; a bush'
    """
    templates: list[str] = []
    values: dict[str, Value] = {}
    for number, part in enumerate(parts):
        if isinstance(part, str):
            name = f"text{number}"
            templates.append("{" + name + "}")
            values[name] = part
            continue
        if isinstance(part, Told):
            raise TypeError("a told sentence cannot be joined")
        named = _NAME.findall(part.template)
        templates.append(_NAME.sub(rf"{{\1_{number}}}", part.template))
        values |= {f"{k}_{number}": v for k, v in part.values.items() if k in named}
    return Said(mark.join(templates), values)
