"""The rows of one candidate, and how a number of theirs is written on paper."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from compare.figures import figure, safe
from compare.judge.outcome import MEASURE, RULED_OUT
from compare.said import fill
from compare.vocabulary import OUTCOMES, Term, car_terms_by_name, catalogue_terms

__all__ = ["NOT_KNOWN", "Candidate", "Row", "chance", "figure_of", "known", "plain_name", "span"]

Row = Mapping[str, Any]
NOT_KNOWN = "not known yet"


def known(value: Any) -> bool:
    """Whether there is a value: neither left out, nor None, nor NaN, nor an empty text."""
    if value is None or value == "":
        return False
    return not (isinstance(value, float) and math.isnan(value))


def plain_name(name: str) -> str:
    """A column or decision in plain words.

    >>> plain_name("spline_end")
    'spline end'
    """
    return safe(name).replace("_", " ")


def figure_of(value: Any, unit: str = "mm", system: str = "metric") -> str:
    """A number with its unit, `not known yet` where there is none; a text stays as it is.

    >>> figure_of(9.04), figure_of(None), figure_of("to fit")
    ('9 mm', 'not known yet', 'to fit')
    """
    if not known(value):
        return NOT_KNOWN
    if isinstance(value, str):
        return safe(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return figure(float(value), unit, system)


def span(low: Any, high: Any, unit: str = "mm", system: str = "metric") -> str:
    """Between two numbers, of which either may be missing (no end there).

    >>> span(39.2, 41.0), span(77.0, None), span(None, 158.0), span(None, None)
    ('39.2 mm to 41 mm', '77 mm or more', '158 mm or less', 'not known yet')
    """
    low, high = (v if known(v) and not math.isinf(v) else None for v in (low, high))
    if low is None and high is None:
        return NOT_KNOWN
    if high is None:
        return f"{figure(low, unit, system)} or more"
    if low is None:
        return f"{figure(high, unit, system)} or less"
    if figure(low, unit, system) == figure(high, unit, system):
        return figure(low, unit, system)
    return f"{figure(low, unit, system)} to {figure(high, unit, system)}"


def chance(value: Any) -> str:
    """A chance in per cent; never certain, since it comes from draws.

    >>> chance(0.861), chance(1.0), chance(0.001), chance(None)
    ('86 %', '> 99 %', '< 1 %', 'not known yet')
    """
    if not known(value):
        return NOT_KNOWN
    if value > 0.99:
        return "> 99 %"
    if value < 0.01:
        return "< 1 %"
    return f"{100 * float(value):.0f} %"


@dataclass(frozen=True)
class Candidate:
    """All rows, seen from one candidate and its build."""

    rows: Row
    name: str
    build: str
    car: str
    system: str

    @classmethod
    def of(cls, rows: Row) -> Candidate:
        """Raises ValueError where candidate, car or cautions are missing: never without."""
        for key in ("candidate", "car", "cautions"):
            if not rows.get(key):
                raise ValueError(f"papers need {key}")
        car = rows["car"]
        name = car.get("name") if isinstance(car, Mapping) else car
        return cls(
            rows,
            safe(rows["candidate"]),
            safe(rows.get("build") or ""),
            safe(name or "the car"),
            rows.get("units") or "metric",
        )

    def list(self, kind: str) -> Sequence[Row]:
        """The rows of a kind that are about this candidate and build, or about everybody."""
        found = []
        for row in self.rows.get(kind) or ():
            mine = safe(row.get("candidate") or self.name) == self.name
            build = row.get("build")
            if mine and (not self.build or not known(build) or safe(build) == self.build):
                found.append(row)
        return found

    def not_yet(self) -> str:
        """Why nothing is to be made for this gearbox as things stand; empty where it may."""
        outcome = self.one("ranking").get("outcome")
        if outcome == OUTCOMES[RULED_OUT]:
            return "Not to be made as things stand: this gearbox is ruled out, and this would not put it right."
        if outcome == OUTCOMES[MEASURE]:
            return "Not to be made yet: a number that decides is not sure enough. Measure first, then print this anew."
        return ""

    def one(self, kind: str) -> Row:
        """The first such row; an empty one where there is none."""
        found = self.list(kind)
        return found[0] if found else {}

    def said(self, row: Row) -> str:
        """The sentence of a row, "" where it has none."""
        text = row.get("text")
        return safe(fill(text, self.system)) if text else ""

    def texts(self, kind: str) -> tuple[str, ...]:
        """A list of plain texts that concerns everybody."""
        return tuple(safe(text) for text in self.rows.get(kind) or ())

    def figure(self, value: Any, unit: str | None = "mm") -> str:
        return figure_of(value, unit or "", self.system)

    def span(self, low: Any, high: Any, unit: str | None = "mm") -> str:
        return span(low, high, unit or "", self.system)

    def money(self, value: Any) -> str:
        text = figure_of(value, "money", self.system)
        currency = safe(self.rows.get("currency") or "")
        return f"{text} {currency}".strip() if known(value) else text

    def term(self, name: str) -> Term | None:
        """What the vocabulary says of a column or key."""
        return catalogue_terms().get(name) or car_terms_by_name().get(name)
