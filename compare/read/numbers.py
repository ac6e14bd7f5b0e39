"""The number in a cell: every way in which its marks and fractions can be read. Knows no units."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from compare.problems import CellError, visible

__all__ = ["DECIMAL_HABIT", "NUMBER", "Amount", "amounts", "clean", "shortest"]

_MAP = str.maketrans(
    {
        "−": "-", "–": "-", "—": "-", "‑": "-", "‐": "-", "“": '"', "”": '"', "″": '"', "„": '"',
        "’": "'", "‘": "'",
        "′": "'", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2007": " ", "\t": " ", "⁄": "/",
        "⋅": "·",
        "∙": "·", "•": "·", "…": "..", "º": "°", "˚": "°", "Ø": "ø", "⌀": "ø", "∅": "ø", "×": "x",
        "≃": "≈", "∼": "~",
        "∶": ":", "÷": "/", "∕": "/",
    }
)  # fmt: skip
_VULGAR = "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞⅐⅑⅒"

_GROUPED = r"\d{1,3}(?:[ ']\d{3})+(?:[.,·]\d+)?(?![\d'/])"
_MIXED = r"\d+(?:[-.]| ?\+ ?| ?and ?| ?& ?| )\d+ ?/ ?\d+"
_RAISED = re.compile("[⁰¹²³⁴-⁹]+[⁄/][₀-₉]+")  # a fraction set with small figures
NUMBER = rf"(?:{_MIXED}|\d+ ?/ ?\d+|{_GROUPED}|\d+(?:[.,·]\d+)*\.?|[.,·]\d+)"
# Cells whose decimal mark cannot be anything else; they show the file's habit.
DECIMAL_HABIT = re.compile(
    r"(?<![\d.,])(?:0[.,]\d+|\d+[.,]\d{1,2}|\d+[.,]\d{4,9}|\d{4,9}[.,]\d{3})(?![\d.,/])", re.ASCII
)
MOST_DIGITS = 12


@dataclass(frozen=True)
class Amount:
    """A number as read one way:

    whether it was a fraction, and half of its last place (how exactly it was written).
    """

    number: float
    fraction: bool = False
    step: float = 0.0
    mark: str = ""


def clean(text: str) -> str:
    """The same text with typographic marks, vulgar fractions, wide letters and odd spaces made
    plain.

    >>> clean("23½ in"), clean("24\u20111/8\u2033"), clean("\uff16\uff11\uff12")
    ('23 1/2 in', '24-1/8"', '612')
    """
    if not text.isascii():
        text = _RAISED.sub(lambda m: " " + unicodedata.normalize("NFKC", m[0]) + " ", text)
        out = []
        for char in text:
            if char in _VULGAR:
                out.append(" " + unicodedata.normalize("NFKC", char).replace("⁄", "/") + " ")
            elif "\uff01" <= char <= "\uff5e":
                out.append(chr(ord(char) - 0xFEE0))
            else:
                out.append(char)
        text = "".join(out).translate(_MAP)
    return " ".join(text.replace("''", '"').split())


def amounts(text: str, *, inch: bool, thousands: bool, whole: str) -> tuple[Amount, ...]:
    """All readings of one number's text. `thousands`: could be in the thousands at all.

    Raises CellError.

    >>> [a.number for a in amounts("1,250", inch=False, thousands=True, whole="1,250")]
    [1250.0, 1.25]
    >>> [a.number for a in amounts("24.1/8", inch=False, thousands=True, whole="24.1/8")]
    [24.125]
    """
    mixed = re.fullmatch(
        r"(?:(\d+)(?:[-.]| ?\+ ?| ?and ?| ?& ?| ))?(\d+) ?/ ?(\d+)", text, re.ASCII
    )
    if mixed:
        return (_fraction(mixed, whole),)
    bare = text.rstrip(".") if text.count(".") == 1 else text
    if re.fullmatch(_GROUPED, bare, re.ASCII) and re.search(r"[ ']", bare):
        bare = re.sub(r"[ ']", "", bare)
        return (_plain(bare.replace(",", ".").replace("·", "."), "", whole),)
    if "·" in bare:
        if bare.count("·") > 1 or re.search(r"[.,]", bare):
            raise _marks(whole)
        return (_plain(bare.replace("·", "."), ".", whole),)
    return _by_marks(bare, inch=inch, thousands=thousands, whole=whole)


def _fraction(found: re.Match[str], whole: str) -> Amount:
    parts = [g or "0" for g in found.groups()]
    if any(len(g) > 9 for g in parts):
        raise CellError(f'"{visible(whole)}" has too many digits.', "Type the number again.")
    units, top, bottom = (int(g) for g in parts)
    if bottom == 0:
        raise CellError(
            f'"{visible(whole)}" divides by nothing.', "Type a fraction such as 5/8 in."
        )
    if found[1] and top >= bottom:
        # The sum may be meant, or a slip of the pen in the fraction: only the person knows.
        raise CellError(
            f'"{visible(whole)}" has a fraction of one or more beside a whole number.',
            "Type the whole number and the fraction again; the fraction is less than one.",
        )
    return Amount(units + top / bottom, True, 0.5 / bottom)


def _marks(whole: str) -> CellError:
    return CellError(
        f'"{visible(whole)}" has too many points or commas.',
        "Type the number with one decimal point.",
    )


def _plain(text: str, mark: str, whole: str) -> Amount:
    digits = text.replace(".", "")
    if len(digits) > 20 or ("." not in text and len(digits) > MOST_DIGITS):
        raise CellError(f'"{visible(whole)}" has too many digits.', "Type the number again.")
    head, _, tail = text.partition(".")
    return Amount(float((head or "0") + "." + (tail or "0")), False, 0.5 * 10.0 ** -len(tail), mark)


def _by_marks(text: str, *, inch: bool, thousands: bool, whole: str) -> tuple[Amount, ...]:
    marks = [c for c in text if c in ".,"]
    if not marks:
        return (_plain(text, "", whole),)
    last = marks[-1]
    head, tail = text.rsplit(last, 1)
    if len(set(marks)) == 2:
        other = "," if last == "." else "."
        if marks.count(last) == 1 and re.fullmatch(
            rf"\d{{1,3}}(?:{re.escape(other)}\d{{3}})+", head, re.ASCII
        ):
            return (_plain(head.replace(other, "") + "." + tail, last, whole),)
        raise CellError(
            f'"{visible(whole)}" mixes points and commas.',
            "Type the number with one decimal point.",
        )
    if len(marks) > 1:
        if re.fullmatch(rf"\d{{1,3}}(?:{re.escape(last)}\d{{3}})+", text, re.ASCII):
            return (_plain(text.replace(last, ""), "", whole),)
        raise _marks(whole)
    decimal = _plain(head + "." + tail, last, whole)
    both = len(tail) == 3 and 1 <= len(head) <= 3 and not head.startswith("0") and thousands
    if both and not (inch and last == "."):
        return _plain(head + tail, "", whole), decimal
    return (decimal,)


def shortest(number: float) -> str:
    """A number as it is best typed:

    no more digits than it needs, never one that can be read two ways.

    >>> shortest(612.775), shortest(0.125), shortest(1250.0), shortest(28.57)
    ('612.7750', '0.125', '1250', '28.57')
    """
    text = f"{number:.6f}".rstrip("0").rstrip(".")
    head, _, tail = text.lstrip("-").partition(".")
    return (
        text + "0"
        if len(tail) == 3 and len(head) <= 3 and not head.startswith("0")
        else text or "0"
    )
