"""One `Kind` per kind of quantity:

its unit, how people spell its units, what it is called, its doubt. Data only.

A new kind of quantity is one entry here. The factors between units are asked of pint, by the names
that stand here; no spelling of a user ever reaches it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["KINDS", "Kind", "Unit", "kind_of_unit"]


@dataclass(frozen=True)
class Unit:
    """A unit by pint's name, and its spellings:

    lower case, without dots, spaces, hyphens and `·`.
    """

    name: str
    spellings: tuple[str, ...]


@dataclass(frozen=True)
class Kind:
    """One kind of quantity.

    `unit` is what a bare number means and what is shown; `kept` is pint's name of the unit kept
    after reading ("" for none), `kept_unit` how that is written. `chain` are units that follow each
    other in one cell (2 ft 3 in). `before` and `after` are words beside a number that say nothing
    new. `guess` is the doubt to offer for a guess. `doubt` is the half-width [in `unit`] of a value
    that states none, by how the dimensions were had.
    """

    name: str
    unit: str
    article: str
    example: str
    kept: str = ""
    kept_unit: str = ""
    units: tuple[Unit, ...] = ()
    chain: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    guess: str = ""
    digits: int = 2
    doubt: Mapping[str, float] = field(default_factory=dict)


_LENGTHS = (
    Unit("millimeter", ("mm", "mms", "millimetre", "millimetres", "millimeter", "millimeters")),
    Unit("centimeter", ("cm", "cms", "centimetre", "centimetres", "centimeter", "centimeters")),
    Unit("meter", ("m", "metre", "metres", "meter", "meters", "mtr", "mtrs")),
    Unit("inch", ("in", "ins", "inch", "inches", '"', "zoll")),
    Unit("foot", ("ft", "foot", "feet", "'")),
    Unit("thou", ("thou", "thous", "thousandths", "thousandthsofaninch")),
    Unit("micrometer", ("µm", "μm", "um", "micron", "microns")),
)
_LENGTH_WORDS = (
    "nominal", "nom", "long", "length", "overall", "oa", "wide", "width", "high", "height", "tall",
    "deep", "depth",
    "thick", "thickness", "measured", "exactly", "exact",
)  # fmt: skip
_ROUND_WORDS = (
    *_LENGTH_WORDS, "dia", "diam", "diameter", "od", "o/d", "ø", "outside", "outside diameter",
    "round",
)  # fmt: skip
_LENGTH = {
    "unit": "mm", "article": "a length", "kept": "millimeter", "kept_unit": "mm", "units": _LENGTHS,
    "chain": ("foot", "inch"), "digits": 1,
}  # fmt: skip
_LENGTH_DOUBT = {"measured": 0.5, "drawing": 0.25, "published": 2.0, "hearsay": 6.0}
_TORQUES = (
    Unit(
        "newton * meter",
        ("nm", "newtonmetre", "newtonmetres", "newtonmeter", "newtonmeters", "newtonsmetre"),
    ),
    Unit("kilonewton * meter", ("knm",)),
    Unit("decanewton * meter", ("danm", "mdan")),
    Unit("newton * centimeter", ("ncm",)),
    Unit(
        "foot * pound_force",
        (
            "lbft", "lbsft", "lbfft", "lbfeet", "lbsfeet", "ftlb", "ftlbs", "ftlbf", "ftlbsf",
            "poundfeet", "poundfoot",
            "poundsfeet", "poundsfoot", "footpound", "footpounds", "lb/ft", "lbs/ft", "lbf/ft",
            "ft/lb", "ft/lbs", "feetlb",
            "feetlbs", "feetpounds", "footlb", "footlbs", "lbfoot",
        ),
    ),
    Unit(
        "inch * pound_force",
        (
            "lbin", "lbsin", "lbfin", "inlb", "inlbs", "inlbf", "inchpounds", "poundinches",
            "poundinch", "inchlbs",
        ),
    ),
    Unit(
        "kilogram_force * meter",
        ("kgfm", "kgm", "mkg", "mkgf", "kpm", "mkp", "kilogrammetres", "kilogrammeters"),
    ),
)  # fmt: skip
_MASSES = (
    Unit(
        "kilogram",
        ("kg", "kgs", "kilogram", "kilograms", "kilogramme", "kilogrammes", "kilo", "kilos"),
    ),
    Unit("gram", ("g", "gr", "gm", "gms", "gram", "grams", "gramme", "grammes")),
    Unit("metric_ton", ("t", "tonne", "tonnes", "metricton", "metrictons")),
    Unit("UK_hundredweight", ("cwt", "cwts", "hundredweight", "hundredweights")),
    Unit("quarter", ("qr", "qrs", "qtr", "qtrs")),
    Unit("stone", ("st", "stone", "stones")),
    Unit("pound", ("lb", "lbs", "pound", "pounds")),
    Unit("ounce", ("oz", "ozs", "ounce", "ounces")),
)
_ANGLES = (
    Unit("degree", ("deg", "degs", "°", "degree", "degrees")),
    Unit("radian", ("rad", "rads", "radian", "radians")),
    Unit("arcminute", ("'", "arcmin", "min", "mins", "minute", "minutes")),
    Unit("arcsecond", ('"', "arcsec", "sec", "secs", "second", "seconds")),
)
_SPEEDS = (
    Unit(
        "kilometer / hour",
        (
            "km/h",
            "km/hr",
            "kmh",
            "kmhr",
            "kph",
            "kmph",
            "kilometresperhour",
            "kilometersperhour",
            "kmperhour",
        ),
    ),
    Unit(
        "mile / hour",
        ("mph", "mi/h", "mi/hr", "miles/h", "miles/hour", "milesperhour", "mileperhour"),
    ),
    Unit("meter / second", ("m/s", "m/sec", "metrespersecond", "meterspersecond")),
)
_AREAS = (
    Unit(
        "meter ** 2",
        (
            "m²",
            "m2",
            "m^2",
            "sqm",
            "msq",
            "sqmetre",
            "sqmetres",
            "squaremetres",
            "squaremeters",
            "qm",
        ),
    ),
    Unit("centimeter ** 2", ("cm²", "cm2", "cm^2", "sqcm", "squarecentimetres")),
    Unit("millimeter ** 2", ("mm²", "mm2", "mm^2", "sqmm")),
    Unit("foot ** 2", ("ft²", "ft2", "ft^2", "sqft", "squarefeet", "squarefoot", "sqfeet")),
    Unit("inch ** 2", ("in²", "in2", "in^2", "sqin", "squareinches")),
)
_ENGINE_SPEEDS = (
    Unit(
        "revolution / minute",
        (
            "rpm", "rev/min", "revs/min", "r/min", "1/min", "/min", "min^1", "min1", "min⁻¹",
            "u/min", "upm", "tr/min",
            "revs", "rev", "revspermin", "revsperminute", "revolutionsperminute", "revperminute",
        ),
    ),
)  # fmt: skip
_CABLE_TURNS = (
    Unit(
        "1 / kilometer",
        (
            "turns/km", "/km", "1/km", "rev/km", "revs/km", "turnsperkm", "perkm", "tpk",
            "revsperkm", "revperkm", "u/km",
            "turnsperkilometre", "turnsperkilometer", "perkilometre", "perkilometer", "rpk",
        ),
    ),
    Unit(
        "1 / mile",
        (
            "turns/mile", "/mile", "/mi", "1/mile", "rev/mile", "revs/mile", "revs/mi", "turns/mi",
            "turnspermile",
            "permile", "tpm", "revspermile", "revpermile", "revolutionspermile",
        ),
    ),
)  # fmt: skip

_ALL = (
    Kind(
        "length", example="612, 612 mm, 24 1/8 in or 612 ±3", doubt=_LENGTH_DOUBT,
        before=("length", "l"),
        after=_LENGTH_WORDS, guess="3 mm", **_LENGTH,  # type: ignore[arg-type]
    ),
    Kind(
        "position", example="612, -4.5 mm or 24 1/8 in", doubt=_LENGTH_DOUBT, after=_LENGTH_WORDS,
        guess="3 mm",
        **_LENGTH,  # type: ignore[arg-type]
    ),
    # Diameters are had with a vernier, angles with a level: common practice, no source.
    Kind(
        "diameter", example="16.9, 16.9 mm or 11/16 in",
        doubt={"measured": 0.05, "drawing": 0.02, "published": 0.1, "hearsay": 1.0},
        before=("ø", "dia", "diam", "diameter", "od", "d"), after=_ROUND_WORDS, guess="0.5 mm",
        **{**_LENGTH, "digits": 2},  # type: ignore[arg-type]
    ),
    Kind(
        "angle", "deg", "an angle", "2.5 or 2.5 deg", "radian", "rad", _ANGLES,
        ("degree", "arcminute", "arcsecond"),
        after=("nominal", "nom"), guess="1 deg", digits=1,
        doubt={"measured": 0.25, "drawing": 0.1, "published": 0.5, "hearsay": 2.0},
    ),
    Kind(
        "torque", "N·m", "a torque", "142, 142 N·m or 105 lb ft", "newton * meter", "N·m", _TORQUES,
        after=("nominal", "max", "maximum", "peak"), guess="10 %", digits=0,
    ),
    Kind(
        "mass", "kg", "a mass", "38, 38 kg or 84 lb", "kilogram", "kg", _MASSES,
        ("metric_ton", "UK_hundredweight", "quarter", "stone", "pound", "ounce"),
        after=("dry", "nominal", "weight", "bare", "all up"), guess="10 %", digits=1,
    ),
    Kind(
        "speed", "km/h", "a speed", "95, 95 km/h or 60 mph", "kilometer / hour", "km/h", _SPEEDS,
        guess="5 %", digits=0,
    ),
    Kind("area", "m²", "an area", "1.9 or 1.9 m²", "meter ** 2", "m²", _AREAS, guess="10 %"),
    Kind(
        "rpm", "rev/min", "an engine speed", "3200 or 3200 rpm", "revolution / minute", "rev/min",
        _ENGINE_SPEEDS,
        after=("max", "maximum"), guess="5 %", digits=0,
    ),
    Kind(
        "per_km", "turns/km", "turns per km", "1000 or 1600 turns/mile", "1 / kilometer",
        "turns/km", _CABLE_TURNS,
        before=("k", "w"), guess="5 %", digits=0,
    ),
    Kind(
        "fraction", "", "a share", "0.92 or 92 %", "dimensionless", "",
        (Unit("dimensionless", ()), Unit("percent", ("%", "percent", "pc", "pct"))), guess="0.02",
    ),
    Kind(
        "number", "", "a plain number", "0.45", "dimensionless", "", (Unit("dimensionless", ()),),
        before=("cd", "cw", "cx"), guess="0.05",
    ),
    Kind(
        "ratio", "", "a ratio", "3.73 or 3.73:1", before=("i", "od", "o/d", "overdrive"),
        after=("od", "o/d", "overdrive", "lsd", "ratio", "nominal", "final drive", "diff", "open"),
        digits=3,
    ),
    Kind(
        "count", "", "a whole number", "10", before=("z", "n"),
        after=("t", "z", "teeth", "tooth", "spline", "splines", "spl", "off", "no"), digits=0,
    ),
    Kind(
        "counts", "", "a range of whole numbers", "16..23", before=("z", "n"),
        after=("t", "z", "teeth", "tooth"), digits=0,
    ),
    Kind("money", "", "an amount of money", "450", kept_unit="money", digits=0),
    Kind("text", "", "a text", "a name"),
    Kind("choice", "", "one of the choices", ""),
    Kind("tyre", "", "a tyre size", "165/80R13, 155R13 or 5.60-15"),
    Kind("flag", "", "true or false", "true"),
    Kind("pair", "mm", "a pair of lengths", "[820, 900]", kept_unit="mm"),
    Kind("curve", "", "a torque curve", "[[1000, 80], [2000, 95], [4000, 90]]"),
    Kind(
        "stations", "mm", "a list of stations", "[{x = 200, left = 150, right = 150, top = 180}]",
        kept_unit="mm",
    ),
    Kind(
        "pieces", "mm", "a list of pieces", "[{start = 200, end = 700, removable = true}]",
        kept_unit="mm",
    ),
    Kind("words", "", "a list of words", '["lathe"]'),
    Kind("names", "", "a list of names", '["cruise_rpm"]'),
)  # fmt: skip
KINDS: dict[str, Kind] = {kind.name: kind for kind in _ALL}


def kind_of_unit(unit: str) -> str:
    """The kind of a quantity that is only known by its unit, as a decision's is.

    >>> kind_of_unit("mm"), kind_of_unit("deg"), kind_of_unit("")
    ('position', 'angle', 'number')
    """
    if unit in ("mm", "mm diameter"):
        return "position"  # either side of nothing
    for kind in KINDS.values():
        if unit and unit in (kind.unit, kind.kept_unit) and kind.kept:
            return kind.name
    return "angle" if unit == "°" else "number"
