"""Text as people write it at a bench <-> value and half-width in internal units.

The grammar is our own and strict; pint is asked for factors only, once per unit, and only when a unit
other than the internal one occurs. No cell's text ever reaches pint's parser.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from functools import cache

from compare.problems import CellError, visible
from compare.vocabulary import Term

__all__ = ["TyreSize", "Value", "clean", "factor", "find_unit", "is_unknown", "looks_like_date", "parse", "parse_tyre"]


@dataclass(frozen=True)
class Value:
    """A number in internal units, with the half-width of its doubt (NaN: none stated).

    A free choice has `high` above `nominal`: anything from nominal to high may be chosen.
    """

    nominal: float
    half: float = math.nan
    high: float = math.nan


@dataclass(frozen=True)
class TyreSize:
    """A tyre code taken apart: width [mm], aspect [-], rim [mm], radial or not, relative doubt of the diameter."""

    width: float
    aspect: float
    rim: float
    radial: bool
    scale_half: float
    aspect_half: float
    advice: str = ""


UNKNOWN = frozenset({"", "?", "-", "n/a", "unknown", "tbc"})

# kind -> (name pint knows, spellings). Spellings are compared without case, dots, spaces and hyphens.
_UNITS: dict[str, tuple[tuple[str, tuple[str, ...]], ...]] = {
    "length": (
        ("millimeter", ("mm", "millimetre", "millimetres", "millimeter", "millimeters")),
        ("centimeter", ("cm", "centimetre", "centimetres", "centimeter", "centimeters")),
        ("meter", ("m", "metre", "metres", "meter", "meters")),
        ("inch", ("in", "inch", "inches", '"')),
        ("foot", ("ft", "foot", "feet", "'")),
        ("thou", ("thou",)),
    ),
    "torque": (
        ("newton * meter", ("nm", "newtonmetre", "newtonmetres", "newtonmeter", "newtonmeters")),
        ("foot * pound_force", ("lbft", "lbsft", "lbfft", "ftlb", "ftlbs", "ftlbf", "poundfeet", "poundfoot", "footpounds")),
        ("inch * pound_force", ("lbin", "lbfin", "inlb", "inlbs", "inlbf")),
        ("kilogram_force * meter", ("kgfm", "kgm", "mkg", "mkgf", "kpm", "mkp")),
        ("decanewton * meter", ("danm",)),
    ),
    "mass": (
        ("kilogram", ("kg", "kgs", "kilogram", "kilograms", "kilo", "kilos")),
        ("gram", ("g", "gram", "grams")),
        ("pound", ("lb", "lbs", "pound", "pounds")),
        ("metric_ton", ("t", "tonne", "tonnes")),
    ),
    "angle": (
        ("degree", ("deg", "°", "degree", "degrees")),
        ("radian", ("rad", "radian", "radians")),
        ("arcminute", ("arcmin", "minutes")),
    ),
    "speed": (
        ("kilometer / hour", ("km/h", "kmh", "kph", "kmph")),
        ("mile / hour", ("mph", "mi/h", "milesperhour")),
        ("meter / second", ("m/s",)),
    ),
    "area": (
        ("meter ** 2", ("m²", "m2", "m^2", "sqm")),
        ("foot ** 2", ("ft²", "ft2", "ft^2", "sqft")),
    ),
    "rpm": (("revolution / minute", ("rpm", "rev/min", "r/min", "1/min", "min^1")),),
    "per_km": (
        ("1 / kilometer", ("turns/km", "/km", "rev/km", "turnsperkm", "perkm", "1/km")),
        ("1 / mile", ("turns/mile", "/mile", "/mi", "rev/mile", "turnspermile", "permile", "tpm")),
    ),
    "fraction": (("dimensionless", ()), ("percent", ("%", "percent"))),
    "number": (("dimensionless", ()),),
}
_UNITS["position"] = _UNITS["diameter"] = _UNITS["length"]
_INTERNAL = {
    "length": "millimeter",
    "position": "millimeter",
    "diameter": "millimeter",
    "torque": "newton * meter",
    "mass": "kilogram",
    "angle": "radian",
    "speed": "kilometer / hour",
    "area": "meter ** 2",
    "rpm": "revolution / minute",
    "per_km": "1 / kilometer",
    "fraction": "dimensionless",
    "number": "dimensionless",
}
_DEFAULT_UNIT = {kind: units[0][0] for kind, units in _UNITS.items()}
_ARTICLES = {
    "length": "a length", "position": "a length", "diameter": "a length", "torque": "a torque", "mass": "a mass",
    "angle": "an angle", "speed": "a speed", "area": "an area", "rpm": "an engine speed", "per_km": "turns per km",
    "fraction": "a share", "number": "a plain number", "ratio": "a ratio", "count": "a whole number",
    "counts": "a range of whole numbers", "money": "an amount of money",
}  # fmt: skip
_EXAMPLES = {
    "length": "612, 612 mm, 24 1/8 in or 612 ±3",
    "position": "612, -4.5 mm or 24 1/8 in",
    "diameter": "16.9, 16.9 mm or 11/16 in",
    "torque": "142, 142 N·m or 105 lb ft",
    "mass": "38, 38 kg or 84 lb",
    "angle": "2.5 or 2.5 deg",
    "speed": "95, 95 km/h or 60 mph",
    "area": "1.9 or 1.9 m²",
    "rpm": "3200 or 3200 rpm",
    "per_km": "1000 or 1600 turns/mile",
    "fraction": "0.92 or 92 %",
    "number": "0.45",
    "ratio": "3.73 or 3.73:1",
    "count": "10",
    "counts": "16..23",
    "money": "450",
}

_MAP = str.maketrans(
    {
        "−": "-", "–": "-", "—": "-", "‑": "-", "‐": "-", "“": '"', "”": '"', "″": '"', "„": '"', "’": "'", "‘": "'",
        "′": "'", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2007": " ", "\t": " ", "⁄": "/", "·": "·", "⋅": "·",
        "∙": "·", "…": "..", "º": "°",
    }
)  # fmt: skip
_VULGAR = "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞⅐⅑⅒"

_MONTH = r"(?:jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|sept|oct|okt|nov|dec|dez)[a-z]*\.?"
_DATE = re.compile(
    rf"\d{{1,2}}[-. /]{_MONTH}(?:[-. /]\d{{2,4}})?|{_MONTH}[-. /]\d{{1,4}}|\d{{4}}-\d\d-\d\d(?:[ T].*)?|"
    r"\d{1,2}/\d{1,2}/\d{2,4}(?: .*)?|\d{1,2}\.\d{1,2}\.\d{2,4}",
    re.IGNORECASE | re.ASCII,
)
_NUMBER = r"(?:\d+[ -]\d+/\d+|\d+/\d+|\d[\d.,]*|[.,]\d+)"
_MEASURE = re.compile(
    rf"(?P<sign>[+-]?) ?(?:(?P<feet>{_NUMBER}) ?(?:ft|foot|feet|') ?(?P<inches>{_NUMBER}) ?(?:in|inch|inches|\")?"
    rf"|(?P<number>{_NUMBER}) ?(?P<unit>[^\d\s.,+-][^\d]*(?:[\^²]?2|1)?|/[a-z]+|1/min|1/km)?)\.?",
    re.ASCII | re.IGNORECASE,
)
_MONEY = re.compile(r"(?:[£$€¥]|[A-Za-z]{2,3}\.?(?= |\d))? ?(?P<number>\d[\d.,]*) ?(?:[£$€¥]|[A-Za-z]{2,3}\.?)?", re.ASCII)


def clean(text: str) -> str:
    """The same text with typographic marks, vulgar fractions and odd spaces made plain.

    >>> clean("23½ in"), clean("24\u20111/8\u2033")
    ('23 1/2 in', '24-1/8"')
    """
    if text.isascii():
        plain = text
    else:
        out = []
        for char in text:
            if char in _VULGAR:
                out.append(" " + unicodedata.normalize("NFKC", char).replace("⁄", "/") + " ")
            else:
                out.append(char)
        plain = "".join(out).translate(_MAP)
    return " ".join(plain.replace("''", '"').split())


def is_unknown(text: str) -> bool:
    """Whether a cell says that the value is not known.

    >>> [is_unknown(t) for t in ("", " ? ", "TBC", "0")]
    [True, True, True, False]
    """
    return clean(text).casefold() in UNKNOWN


def looks_like_date(text: str) -> bool:
    """Whether a spreadsheet program seems to have turned the cell into a date.

    >>> looks_like_date("8-May"), looks_like_date("1-1/8"), looks_like_date("5/8")
    (True, False, False)
    """
    return _DATE.fullmatch(text.strip()) is not None


@cache
def factor(kind: str, unit: str) -> float:
    """How many internal units one `unit` (a name that pint knows) is.

    >>> factor("length", "inch")
    25.4
    """
    if unit == _INTERNAL[kind]:
        return 1.0
    if kind == "angle" and unit == "degree":  # the usual case; saves loading pint
        return math.pi / 180
    return float(_registry().Quantity(1.0, unit).to(_INTERNAL[kind]).magnitude)


@cache
def _registry():  # type: ignore[no-untyped-def]
    import pint

    try:
        return pint.UnitRegistry(cache_folder=":auto:")  # its own cache beside other programs' caches; saves 0.4 s a run
    except OSError:
        return pint.UnitRegistry(cache_folder=None)


@cache
def find_unit(kind: str, spelling: str) -> str | None:
    """The pint name for a unit as people spell it, within one kind of quantity; None when it is not one.

    >>> find_unit("torque", "Lb-Ft"), find_unit("length", "kg")
    ('foot * pound_force', None)
    """
    key = re.sub(r"[ .·*-]", "", spelling.casefold())
    if not key:
        return None
    for name, spellings in _UNITS.get(kind, ()):
        if key in spellings:
            return name
    return None


def _kind_of(spelling: str) -> str | None:
    for kind in ("length", "torque", "mass", "angle", "speed", "area", "rpm", "per_km"):
        if find_unit(kind, spelling):
            return kind
    return None


def _number(text: str, whole: str, *, thousands: bool, inch: bool) -> float:
    """A plain, decimal or mixed-fraction number. `thousands`: could be in the thousands at all."""
    mixed = re.fullmatch(r"(?:(\d+)[ -])?(\d+)/(\d+)", text, re.ASCII)
    if mixed:
        units, top, bottom = (int(g) if g and len(g) < 10 else 0 for g in mixed.groups())
        if bottom == 0:
            raise CellError(f'"{visible(whole)}" divides by nothing.', "Type a fraction such as 5/8.")
        if mixed[1] and top >= bottom:
            raise CellError(
                f'"{visible(whole)}" has a fraction of one or more beside a whole number.',
                f"Type {units + top / bottom:g} if that is meant.",
            )
        return units + top / bottom
    marks = [c for c in text if c in ".,"]
    if not marks:
        if len(text) > 12:
            raise CellError(f'"{visible(whole)}" has too many digits.', "Type the number again.")
        return float(text)
    last = marks[-1]
    head, tail = text.rsplit(last, 1)
    if len(set(marks)) == 2:
        other = "," if last == "." else "."
        if marks.count(last) == 1 and re.fullmatch(rf"\d{{1,3}}(?:{re.escape(other)}\d{{3}})+", head):
            return float(head.replace(other, "") + "." + (tail or "0"))
        raise CellError(f'"{visible(whole)}" mixes points and commas.', "Type the number with one decimal point.")
    if len(marks) > 1:
        if re.fullmatch(rf"\d{{1,3}}(?:{re.escape(last)}\d{{3}})+", text):
            return float(text.replace(last, ""))
        raise CellError(f'"{visible(whole)}" has too many points or commas.', "Type the number with one decimal point.")
    ambiguous = (
        len(tail) == 3
        and 1 <= len(head) <= 3
        and not head.startswith("0")
        and thousands
        and not (inch and last == ".")
    )
    if ambiguous:
        raise CellError(
            f'"{visible(whole)}" can be read two ways.',
            f"Type {head}{tail} for the larger number, {head}.{tail.rstrip('0') or '0'} for the smaller one.",
        )
    if len(text) > 20:
        raise CellError(f'"{visible(whole)}" has too many digits.', "Type the number again.")
    return float((head or "0") + "." + (tail or "0"))


def _measure(text: str, kind: str, default: str, whole: str) -> tuple[float, str | None]:
    """(number in its own unit, unit or None) of one side of a cell."""
    found = _MEASURE.fullmatch(text.strip())
    if not found:
        raise _not_understood(whole, kind)
    sign = -1.0 if found["sign"] == "-" else 1.0
    if found["feet"]:
        if "length" not in (kind, "length" if kind in ("position", "diameter") else ""):
            raise CellError(f'"{visible(whole)}" is a length, {_ARTICLES[kind]} is expected here.', _type(kind))
        feet = _number(found["feet"], whole, thousands=False, inch=True)
        inches = _number(found["inches"], whole, thousands=False, inch=True)
        return sign * (12 * feet + inches), "inch"
    spelling = (found["unit"] or "").strip().rstrip(".")
    unit: str | None = None
    if spelling:
        unit = find_unit(kind, spelling)
        if unit is None:
            other = _kind_of(spelling)
            if other:
                raise CellError(
                    f'"{visible(whole)}" is {_ARTICLES[other]}, {_ARTICLES[kind]} is expected here.',
                    _mended(found["number"], other, spelling, kind),
                )
            raise _not_understood(whole, kind)
    used = unit or default
    number = _number(
        found["number"],
        whole,
        thousands=kind not in ("fraction", "number"),
        inch=used in ("inch", "foot"),
    )
    return sign * number, unit


def _mended(number: str, other: str, spelling: str, kind: str) -> str:
    end = " Leave it empty or type ? if you do not know it."
    if kind == "torque" and other == "mass" and find_unit("mass", spelling) == "pound":
        try:
            newton_metres = _number(number, number, thousands=True, inch=False) * factor("torque", "foot * pound_force")
        except CellError:
            return _type(kind)
        return f"Type {number} lb ft, or {newton_metres:.0f} N·m.{end}"
    return _type(kind)


def _type(kind: str) -> str:
    return f"Type {_ARTICLES[kind]} such as {_EXAMPLES[kind]}. Leave it empty or type ? if you do not know it."


def _not_understood(whole: str, kind: str) -> CellError:
    if looks_like_date(whole):
        return CellError(
            f'"{visible(whole)}" is a date: a spreadsheet program made it out of a number or a fraction.',
            f"Format the column as text, then type {_ARTICLES[kind]} such as {_EXAMPLES[kind]}.",
        )
    stripped = whole.strip()
    if re.fullmatch(r"#{2,}|#[A-Z/0!?]+", stripped):
        return CellError(f'"{visible(whole)}" is what a spreadsheet program shows for a cell it cannot show.', f"Widen the column or mend the cell, and export again. {_type(kind)}")
    if re.fullmatch(r"\d(?:[.,]\d+)?[eE][+-]?\d+", stripped):
        return CellError(f'"{visible(whole)}" was shortened by a spreadsheet program.', f"Format the column as text and type the number in full. {_type(kind)}")
    if re.fullmatch(r"[\d.,/ -]+\?", stripped, re.ASCII):
        return CellError(
            f'"{visible(whole)}" is a number with a question mark.',
            f"Type {stripped[:-1].strip()} ±3 (with the doubt that you think it has), or ? alone.",
        )
    if re.search(r"\dx\d|\d ?[x×*] ?\d|\*\*", stripped):
        return CellError(f'"{visible(whole)}" is a sum, one number is expected.', _type(kind))
    if re.match(r"(?:ca\.?|about|approx\.?|~|circa|c\.) ?\d", stripped, re.IGNORECASE):
        rest = re.sub(r"^[^\d]*", "", stripped)
        return CellError(f'"{visible(whole)}" is a guess without its doubt.', f"Type {visible(rest, 30)} ±3 (your doubt).")
    return CellError(f'"{visible(whole)}" is not {_ARTICLES[kind]}.', _type(kind))


def parse(text: str, term: Term, unit: str | None = None) -> Value | None:
    """Read one numeric cell. None when the cell says that the value is not known.

    `unit` is the column's unit (a pint name) for numbers that state none. Raises CellError.

    >>> from compare.vocabulary import catalogue_terms
    >>> parse('24 1/8 ±1/16 in', catalogue_terms()["length"])
    Value(nominal=612.775, half=1.5875, high=nan)
    """
    kind = term.kind
    whole = text.strip()
    plain = clean(text)
    if plain.casefold() in UNKNOWN:
        return None
    if not plain.replace("·", "").replace("±", "").replace("°", "").replace("²", "").isascii() and kind != "money":
        raise _not_understood(whole, kind)
    if len(plain) > 60:
        raise CellError(f'"{visible(whole, 40)}" is too long for a number.', _type(kind))
    if looks_like_date(plain):
        raise _not_understood(whole, kind)
    value = _READERS.get(kind, _quantity)(plain, term, unit, whole)
    _in_range(value, term, whole)
    return value


def _quantity(plain: str, term: Term, unit: str | None, whole: str) -> Value:
    kind = term.kind
    default = unit or _DEFAULT_UNIT[kind]
    body, mark, doubt = re.sub(r"\+ ?/ ?-|\+-", "±", plain).partition("±")
    if mark and (not body.strip() or not doubt.strip()):
        raise CellError(f'"{visible(whole)}" has a ± with nothing beside it.', _type(kind))
    if ".." in body:
        return _choice_range(body, doubt if mark else None, term, default, whole)
    number, own = _measure(body, kind, default, whole)
    half = math.nan
    if mark:
        if "±" in doubt:
            raise CellError(f'"{visible(whole)}" has more than one ±.', _type(kind))
        if doubt.strip().endswith("%") and kind != "fraction":
            half_number, half_unit = abs(number) * _measure(doubt.strip()[:-1], "number", "dimensionless", whole)[0] / 100, own
        else:
            half_number, half_unit = _measure(doubt, kind, own or default, whole)
        if half_number < 0:
            raise CellError(f'"{visible(whole)}" has a doubt below nothing.', "Type ± with a number of zero or more.")
        own = own or half_unit
        half = half_number * factor(kind, half_unit or own or default)
    return Value(number * factor(kind, own or default), half)


def _choice_range(body: str, doubt: str | None, term: Term, default: str, whole: str) -> Value:
    if not term.free_choice:
        raise CellError(
            f'"{visible(whole)}" is a free choice, which this column does not allow.',
            f"Type one number with its doubt, such as {_EXAMPLES[term.kind]}.",
        )
    left, _, right = body.partition("..")
    if doubt is not None or not left.strip() or not right.strip() or ".." in right:
        raise CellError(f'"{visible(whole)}" is not a free choice.', "Type it as 12..25 mm.")
    low, low_unit = _measure(left, term.kind, default, whole)
    high, high_unit = _measure(right, term.kind, default, whole)
    low_unit = low_unit or high_unit or default
    high_unit = high_unit or low_unit
    low, high = low * factor(term.kind, low_unit), high * factor(term.kind, high_unit)
    if high < low:
        raise CellError(f'"{visible(whole)}" runs backwards.', "Type the smaller number first, as 12..25 mm.")
    return Value(low, 0.0, high)


def _ratio(plain: str, term: Term, unit: str | None, whole: str) -> Value:
    body, mark, doubt = plain.partition("±")
    found = re.fullmatch(r"(\d+(?:[.,]\d+)?|[.,]\d+)(?: ?: ?1(?:[.,]0+)?)?", body.strip(), re.ASCII)
    gears = re.fullmatch(r"(\d{1,3}) ?/ ?(\d{1,3})", body.strip(), re.ASCII)
    if gears and int(gears[2]):
        return Value(int(gears[1]) / int(gears[2]))
    if not found:
        raise _not_understood(whole, "ratio")
    half = float(doubt.strip().replace(",", ".")) if mark and re.fullmatch(r" ?\d+(?:[.,]\d+)?", doubt, re.ASCII) else math.nan
    if mark and math.isnan(half):
        raise _not_understood(whole, "ratio")
    if len(found[1]) > 12:
        raise CellError(f'"{visible(whole)}" has too many digits.', _type("ratio"))
    return Value(float(found[1].replace(",", ".")), half)


def _count(plain: str, term: Term, unit: str | None, whole: str) -> Value:
    if not re.fullmatch(r"\d{1,6}(?:[.,]0)?", plain, re.ASCII):
        raise _not_understood(whole, "count")
    return Value(float(re.split(r"[.,]", plain)[0]))


def _counts(plain: str, term: Term, unit: str | None, whole: str) -> Value:
    found = re.fullmatch(r"(\d{1,3})(?: ?\.\. ?(\d{1,3}))?", plain, re.ASCII)
    if not found:
        raise _not_understood(whole, "counts")
    low, high = float(found[1]), float(found[2] or found[1])
    if high < low:
        raise CellError(f'"{visible(whole)}" runs backwards.', "Type the smaller number first, as 16..23.")
    return Value(low, 0.0, high)


def _money(plain: str, term: Term, unit: str | None, whole: str) -> Value:
    found = _MONEY.fullmatch(plain.replace(" ±", "±").partition("±")[0].strip())
    if not found:
        raise _not_understood(whole, "money")
    return Value(_number(found["number"], whole, thousands=True, inch=False))


_READERS = {"ratio": _ratio, "count": _count, "counts": _counts, "money": _money}


def _in_range(value: Value, term: Term, whole: str) -> None:
    scale = factor("angle", "degree") if term.kind == "angle" else 1.0
    top = value.nominal if math.isnan(value.high) else value.high
    if not (math.isfinite(value.nominal) and math.isfinite(top)):
        raise _not_understood(whole, term.kind)
    low, high = term.low * scale, term.high * scale
    if low - 1e-9 <= value.nominal and top <= high + 1e-9:
        return
    unit = (" " + term.unit).rstrip()
    fix = f"Possible here: {term.low:g} to {term.high:g}{unit}. Check the number and its unit."
    bare = re.fullmatch(r"\d+(?:[.,]\d+)?", clean(whole), re.ASCII)
    if term.unit == "mm" and bare and low <= value.nominal * 25.4 <= high:
        fix += f" In inches, type {visible(whole, 20)} in."
    raise CellError(f'"{visible(whole)}" is outside what is possible.', fix)


_METRIC_TYRE = re.compile(r"(?:p|lt)?(\d{3})(?:/(\d{2,3}))? ?(z?r|sr|hr|vr|-|d|b)? ?(\d{2}(?:\.5)?)(?: ?\d{2,3}[a-z]{1,2})?", re.I | re.ASCII)
_INCH_TYRE = re.compile(r"(\d{1,2}[.,]\d{2})(?: ?- ?| ?x ?| )(\d{2})(?: ?\d{2,3}[a-z])?", re.I | re.ASCII)


def parse_tyre(text: str) -> TyreSize:
    """Take a tyre code apart. ISO 4000-1 for metric codes; inch cross-ply codes are estimates.

    A radial code with no aspect counts as 82 % with a doubt that takes in 80 %; an inch cross-ply section
    stands 0.95 of its width high (0.87 for widths ending in .00 or .50), ± 3 % of the diameter.

    >>> size = parse_tyre("185/65R15")
    >>> size.width, size.aspect, round(size.rim, 1), size.radial
    (185.0, 0.65, 381.0, True)
    """
    plain = clean(text)
    found = _METRIC_TYRE.fullmatch(plain)
    if found:
        width, aspect, build, rim = found.groups()
        radial = (build or "r").lower() not in ("-", "d", "b")
        known = aspect is not None
        if not (100 <= float(width) <= 400 and 8 <= float(rim) <= 25 and (not known or 20 <= float(aspect) <= 100)):
            raise CellError(f'"{visible(text)}" is not a possible tyre size.', "Type it as on the side wall: 165/80R13.")
        return TyreSize(
            float(width), float(aspect) / 100 if known else 0.82, float(rim) * 25.4, radial, 0.0, 0.0 if known else 0.02
        )
    found = _INCH_TYRE.fullmatch(plain)
    if found:
        section = float(found[1].replace(",", "."))
        if not (3 <= section <= 12 and 8 <= float(found[2]) <= 25):
            raise CellError(f'"{visible(text)}" is not a possible tyre size.', "Type it as on the side wall: 5.60-15.")
        low = found[1][-2:] in ("00", "50")
        return TyreSize(
            section * 25.4, 0.87 if low else 0.95, float(found[2]) * 25.4, False, 0.03, 0.0,
            "the size of an inch cross-ply tyre is an estimate: measure the rolling circumference",
        )  # fmt: skip
    if re.fullmatch(r"[a-z]{1,2}r?\d{2} ?-? ?\d{2}", plain, re.I | re.ASCII):
        raise CellError(
            f'"{visible(text)}" is a letter code, for which there is no formula.',
            'Leave size out and type rolling_circumference = "1950 mm" as measured: chalk, five turns, divide.',
        )
    raise CellError(f'"{visible(text)}" is not a tyre size.', "Type it as on the side wall: 165/80R13, 155R13 or 5.60-15.")
