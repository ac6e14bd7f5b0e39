"""What a cell is read as, and what is said where it cannot be read:

with texts that can be typed as they stand.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from compare.kinds import KINDS
from compare.problems import CellError, visible
from compare.read.numbers import amounts, clean
from compare.read.units import factor, find_unit
from compare.vocabulary import Term

__all__ = [
    "LENGTHS", "Reading", "Value", "examples", "looks_like_date", "not_understood", "other_kind",
    "outside", "possible", "such_as",
]  # fmt: skip

LENGTHS = ("length", "position", "diameter")
_MONTH = r"(?:jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|sept|oct|okt|nov|dec|dez)[a-z]*\.?"
DATE = re.compile(
    rf"\d{{1,2}}[-. /]{_MONTH}(?:[-. /]\d{{2,4}})?|{_MONTH}[-. /]\d{{1,4}}|\d{{4}}-\d\d-\d\d(?:[ "
    rf"T].*)?|"
    r"\d{1,2}/\d{1,2}/\d{2,4}(?: .*)?|\d{1,2}\.\d{1,2}\.\d{2,4}",
    re.IGNORECASE | re.ASCII,
)


@dataclass(frozen=True)
class Value:
    """A number in internal units, with the half-width of its doubt (NaN: none stated).

    A free choice has `high` above `nominal`: anything from nominal to high may be chosen.
    """

    nominal: float
    half: float = math.nan
    high: float = math.nan


@dataclass(frozen=True)
class Reading:
    """One way to read a cell:

    its value, how to type it beyond doubt, by which decimal mark it is read.

    `open` where nothing that is typed tells the unit of a fraction: such a cell is asked about,
    whatever the range. `step` [internal units] is how exactly it was written.
    """

    value: Value
    typed: str
    mark: str = ""
    open: bool = False
    step: float = 0.0


def looks_like_date(text: str) -> bool:
    """Whether a spreadsheet program seems to have turned the cell into a date.

    >>> looks_like_date("8-May"), looks_like_date("1-1/8"), looks_like_date("5/8")
    (True, False, False)
    """
    return DATE.fullmatch(text.strip()) is not None


def possible(value: Value, term: Term) -> bool:
    scale = factor("angle", "degree") if term.kind == "angle" else 1.0
    top = value.nominal if math.isnan(value.high) else value.high
    if not (math.isfinite(value.nominal) and math.isfinite(top)):
        return False
    if value.half > (term.high - term.low) * scale:
        return False  # a doubt wider than all that is possible is a slip
    return term.low * scale - 1e-9 <= value.nominal and top <= term.high * scale + 1e-9


def examples(term: Term) -> tuple[str, ...]:
    """Texts that this very column takes."""
    kind = KINDS[term.kind]
    if term.kind == "counts":
        return ("16..23",) if term.low <= 16 and term.high >= 23 else (f"{max(term.low, 1):.0f}",)
    usual = re.match(r"[\d.]+", kind.example)
    number = float(usual[0].rstrip(".")) if usual else 1.0
    if not term.low <= number <= term.high:
        low = 0.0 if term.low <= 0.0 else term.low
        high = term.high if math.isfinite(term.high) else 10.0 * low + 10.0
        number = min(max(float(f"{low + (high - low) / 3:.2g}"), term.low), term.high)
    text = f"{round(number) if term.kind == 'count' else number:.6g}"
    plain = (text, f"{text} {kind.unit}") if kind.unit else (text,)
    return tuple(plain)


def such_as(term: Term) -> tuple[str, tuple[str, ...]]:
    options = examples(term)
    article = KINDS[term.kind].article
    return (
        f"Type {article} such as {' or '.join(options)}. Leave it empty or type ? if you do not "
        f"know it.",
        options,
    )


def not_understood(whole: str, term: Term) -> CellError:
    article = KINDS[term.kind].article
    fix, options = such_as(term)
    shown = visible(whole)
    if looks_like_date(clean(whole)):
        fix = f"Format the column as text, then type {article} such as {' or '.join(options)}."
        found = f'"{shown}" is a date: a spreadsheet program made it out of a number or a fraction.'
        return CellError(found, fix, options)
    if re.fullmatch(r"#{2,}|#[A-Z/0!?]+", whole):
        found = f'"{shown}" is what a spreadsheet program shows for a cell it cannot show.'
        return CellError(
            found, f"Widen the column or mend the cell, and export again. {fix}", options
        )
    if re.fullmatch(r"\d(?:[.,]\d+)?[eE][+-]?\d+", whole):
        if not re.search(r"E[+-]", whole):  # a spreadsheet program writes 1.2E+09
            found = f'"{shown}" is a number in powers of ten.'
            return CellError(found, f"Type the number in full. {fix}", options)
        found = f'"{shown}" was shortened by a spreadsheet program.'
        return CellError(
            found, f"Format the column as text and type the number in full. {fix}", options
        )
    sum_of = r"\d ?[x*] ?\d|\*\*"
    if re.search(sum_of, clean(whole)) and not re.match(r"0x", whole, re.IGNORECASE):
        return CellError(f'"{shown}" is a sum, one number is expected.', fix, options)
    return CellError(f'"{shown}" is not {article}.', fix, options)


def other_kind(whole: str, number: str, spelling: str, other: str, term: Term) -> CellError:
    expected = KINDS[term.kind].article
    found = f'"{visible(whole)}" is {KINDS[other].article}, {expected} is expected here.'
    if term.kind == "torque" and other == "mass" and find_unit("mass", spelling) == "pound":
        try:
            value = amounts(number, inch=False, thousands=False, whole=whole)[0].number * factor(
                "torque", "foot * pound_force"
            )
        except CellError:
            return CellError(found, *such_as(term))
        options = (f"{number} lb ft", f"{value:.0f} N·m")
        if possible(Value(value), term):
            end = " Leave it empty or type ? if you do not know it."
            return CellError(found, f"Type {options[0]}, or {options[1]}.{end}", options)
    return CellError(found, *such_as(term))


def outside(term: Term, whole: str) -> CellError:
    """The cell is no possible value of its column."""
    shown = (" " + term.unit).rstrip()
    fix = f"Possible here: {term.low:g} to {term.high:g}{shown}. Check the number and its unit."
    return CellError(f'"{visible(whole)}" is outside what is possible.', fix)
