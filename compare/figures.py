"""Digits, units and making text safe: how a number or a user's text is shown, in every report."""

from __future__ import annotations

import math
import re

__all__ = [
    "SYSTEMS", "digits_of", "factor_of", "figure", "in_fractions", "number", "safe", "unit_of",
]  # fmt: skip

SYSTEMS = ("metric", "inch")
# internal unit -> (metric unit, factor, digits), (inch unit, factor, digits)
_SHOWN: dict[str, tuple[tuple[str, float, int], tuple[str, float, int]]] = {
    "mm": (("mm", 1.0, 1), ("in", 1 / 25.4, 3)),
    "mm tape": (("mm", 1.0, 1), ("in", 1 / 25.4, 0)),
    "mm diameter": (("mm", 1.0, 2), ("in", 1 / 25.4, 3)),
    "rad": (("°", 180.0 / math.pi, 1), ("°", 180.0 / math.pi, 1)),
    "deg": (("°", 1.0, 1), ("°", 1.0, 1)),
    "rad doubt": (("°", 180.0 / math.pi, 2), ("°", 180.0 / math.pi, 2)),
    "mm order": (("mm", 1.0, 3), ("in", 1 / 25.4, 4)),
    "mm doubt": (("mm", 1.0, 2), ("in", 1 / 25.4, 3)),
    "N·m": (("N·m", 1.0, 0), ("lb ft", 0.7375621492772654, 0)),
    "kg": (("kg", 1.0, 0), ("lb", 2.2046226218487757, 0)),
    "km/h": (("km/h", 1.0, 0), ("mph", 1 / 1.609344, 0)),
    "N": (("N", 1.0, 0), ("lbf", 0.22480894309971047, 0)),
    "rev/min": (("rev/min", 1.0, 0), ("rev/min", 1.0, 0)),
    "rad/s²": (("rad/s²", 1.0, 0), ("rad/s²", 1.0, 0)),
    "%": (("%", 1.0, 1), ("%", 1.0, 1)),
    "m²": (("m²", 1.0, 2), ("m²", 1.0, 2)),
    "turns/km": (("turns/km", 1.0, 0), ("turns/mile", 1.609344, 0)),
    "h": (("h", 1.0, 1), ("h", 1.0, 1)),
    "money": (("", 1.0, 0), ("", 1.0, 0)),
    "count": (("", 1.0, 0), ("", 1.0, 0)),
    "ratio": (("", 1.0, 3), ("", 1.0, 3)),
    "points": (("", 1.0, 1), ("", 1.0, 1)),
    "": (("", 1.0, 2), ("", 1.0, 2)),
}
UNKNOWN = "?"
# What a tape or a rule measures is in sixty-fourths where it is in inches, all else in thousandths.
TAPE, PARTS = "mm tape", 64


def unit_of(unit: str, system: str = "metric") -> str:
    """The unit shown for an internal unit.

    >>> unit_of("mm", "inch"), unit_of("rad")
    ('in', '°')
    """
    return _SHOWN.get(unit, _SHOWN[""])[SYSTEMS.index(system)][0] if unit in _SHOWN else unit


def number(value: float, unit: str, system: str = "metric") -> float:
    """The number in the shown unit, rounded to the digits that it deserves.

    >>> number(25.4, "mm", "inch"), number(-0.0000001, "mm")
    (1.0, 0.0)
    """
    _, factor, digits = _SHOWN.get(unit, _SHOWN[""])[SYSTEMS.index(system)]
    if in_fractions(unit, system):
        return round(float(value) * factor * PARTS) / PARTS + 0.0
    return round(float(value) * factor, digits) + 0.0


def in_fractions(unit: str, system: str = "metric") -> bool:
    """Whether numbers of a unit are shown as fractions: what a tape measures, in inches.

    >>> in_fractions("mm tape", "inch"), in_fractions("mm tape"), in_fractions("mm", "inch")
    (True, False, False)
    """
    return unit == TAPE and system == "inch"


def _fraction(value: float) -> str:
    """A number of sixty-fourths as one writes it.

    >>> _fraction(27.171875), _fraction(-0.3125), _fraction(3.0)
    ('27 11/64', '-5/16', '3')
    """
    parts = round(abs(value) * PARTS)
    whole, rest = divmod(parts, PARTS)
    shared = math.gcd(rest, PARTS)
    texts = [str(whole)] if whole or not rest else []
    texts += [f"{rest // shared}/{PARTS // shared}"] if rest else []
    return ("-" if value < 0 and parts else "") + " ".join(texts)


def figure(value: float | None, unit: str, system: str = "metric") -> str:
    """A number with its unit, as text.

    >>> figure(9.04, "mm"), figure(228.6, "mm", "inch"), figure(math.nan, "mm"), figure(0.0524, "rad")
    ('9 mm', '9 in', '?', '3°')
    >>> figure(690.0, "mm tape", "inch"), figure(690.0, "mm tape"), figure(12.7, "mm", "inch")
    ('27 11/64 in', '690 mm', '0.5 in')
    """
    if value is None or math.isnan(value):
        return UNKNOWN
    if math.isinf(value):
        return "no limit"
    shown, _, digits = _SHOWN.get(unit, _SHOWN[""])[SYSTEMS.index(system)]
    if in_fractions(unit, system):
        return f"{_fraction(number(value, unit, system))} {shown}"
    text = (
        f"{number(value, unit, system):,.{digits}f}".replace(",", " ")
        if abs(value) >= 1e4
        else f"{number(value, unit, system):.{digits}f}"
    )
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text == "-0":
        text = "0"
    if not shown:
        return text
    return text + shown if shown == "°" else f"{text} {shown}"


_BIDI = re.compile("[\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]")


def safe(text: object, most: int = 0) -> str:
    """A user's text made harmless: control codes and direction marks become visible, long text is cut.

    >>> safe("\\x1b[31mred\\u202e"), safe("x" * 50, 5)
    ('\\\\x1b[31mred\\\\u202e', 'xxxx…')
    """
    text = str(text)
    if text.isascii() and text.isprintable():  # the usual case
        return text if not most or len(text) <= most else text[: most - 1] + "…"
    out = []
    for char in text:
        if char in "\n\t":
            out.append(" ")
        elif (
            not char.isprintable()
            or _BIDI.match(char)
            or 0xD800 <= ord(char) <= 0xDFFF
            or char == "\ufffd"
        ):
            out.append(
                char.encode("unicode_escape", "surrogatepass").decode("ascii")
                if char != "\ufffd"
                else "?"
            )
        else:
            out.append(char)
    shown = "".join(out)
    return shown if not most or len(shown) <= most else shown[: most - 1] + "…"


def digits_of(unit: str, system: str = "metric") -> int:
    """How many digits a number of that unit deserves after the point.

    >>> digits_of("mm"), digits_of("mm diameter", "inch")
    (1, 3)
    """
    return _SHOWN.get(unit, _SHOWN[""])[SYSTEMS.index(system)][2]


def factor_of(unit: str, system: str = "metric") -> float:
    """Shown units per internal unit.

    >>> round(factor_of("km/h", "inch"), 6)
    0.621371
    """
    return _SHOWN.get(unit, _SHOWN[""])[SYSTEMS.index(system)][1]
