"""Text as people write it at a bench <-> value and half-width in internal units.

Every cell is given all the readings that it allows; those that cannot be are struck out (by the unit that is typed,
by the column's possible range, by a second figure in brackets, by the file's habit); the one that is left is taken,
and the person is asked only when two are left. The grammar is our own and strict: a text is matched whole or refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from compare.kinds import KINDS
from compare.problems import CellError, did_you_mean, visible
from compare.read.numbers import NUMBER, Amount, amounts, clean, shortest
from compare.read.tyres import TyreSize, parse_tyre
from compare.read.units import factor, find_unit, kind_of_spelling, short_name
from compare.vocabulary import Term

__all__ = [
    "TyreSize", "Value", "clean", "factor", "find_unit", "is_unknown", "looks_like_date", "parse", "parse_number",
    "parse_tyre", "read_choice", "read_flag", "readings",
]  # fmt: skip


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
    """One way to read a cell: its value, how to type it beyond doubt, by which decimal mark it is read.

    `open` where nothing that is typed tells the unit of a fraction: such a cell is asked about, whatever the range.
    `step` [internal units] is how exactly it was written.
    """

    value: Value
    typed: str
    mark: str = ""
    open: bool = False
    step: float = 0.0


_UNKNOWN_WORDS = (
    "n/a na n.a. n.a n/k nk n.k. unknown unknwn tbd tbc tba nil none null nan xxx xx nd n.d. dk poa p.o.a. tobemeasured "
    "notknown notmeasured notstated notgiven nodata dontknow don'tknow noidea missing todo blank"
)
UNKNOWN = frozenset(_UNKNOWN_WORDS.split())
_LENGTHS = ("length", "position", "diameter")
_INCHES = ("inch", "foot")
_MONTH = r"(?:jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|sept|oct|okt|nov|dec|dez)[a-z]*\.?"
_DATE = re.compile(
    rf"\d{{1,2}}[-. /]{_MONTH}(?:[-. /]\d{{2,4}})?|{_MONTH}[-. /]\d{{1,4}}|\d{{4}}-\d\d-\d\d(?:[ T].*)?|"
    r"\d{1,2}/\d{1,2}/\d{2,4}(?: .*)?|\d{1,2}\.\d{1,2}\.\d{2,4}",
    re.IGNORECASE | re.ASCII,
)
_GUESS_BEFORE = re.compile(
    r"(?:[<>~≈≤≥]=?|ca\.? |ca\.|circa|c\.|c |about|abt\.?|approx\.?|approximately|around|roughly|nearly|almost|maybe|perhaps|"
    r"say|under|over|up to|at least|at most|min\.?|max\.?|less than|more than|est\.?|estimated|estimate|guess)[ :]*(?=[\d.,(£$€-])",
    re.IGNORECASE,
)
_GUESS_AFTER = re.compile(
    r" ?(?:\?+|\(\?+\)|-?ish|or so|\(?approx\.?(?:imately)?\)?|\(?ca\.?\)|\(?circa\)?|\(?about\)?|\+|max\.?|(?<!/)(?<!per )min\.?|\(?est(?:imated|\.)?\)?|"
    r"roughly|guess(?:ed)?|or more|or less|more or less|plus)$",
    re.IGNORECASE,
)
_PLUS_UNIT = re.compile(rf"(?P<rest>{NUMBER})\+(?P<unit> ?[a-zµ°\"' .·/]+)$", re.IGNORECASE | re.ASCII)
_FIT = re.compile(r"(?<=[\dm \"]) ?\(?(?!x)(?:[a-z]|js|cd|ef|fg)\d{1,2}(?:/[a-z]{1,2}\d{1,2})?\)?$", re.IGNORECASE | re.ASCII)


def is_unknown(text: str) -> bool:
    """Whether a cell says that the value is not known.

    >>> [is_unknown(t) for t in ("", " ? ", "TBC", "--", "?mm", "none", "0")]
    [True, True, True, True, True, True, False]
    """
    plain = clean(text).casefold()
    if not plain or not any(c.isalnum() for c in plain):
        return not plain.strip("?-.~/_ ")
    if any(c.isdigit() for c in plain):
        return False
    squeezed = plain.replace(" ", "")
    if squeezed in UNKNOWN or squeezed.strip(".!?()") in UNKNOWN:
        return True
    lead = re.match(r"\?+|n/a|n/k|tb[acd]|unknown", squeezed)
    return lead is not None and any(find_unit(k, squeezed[lead.end() :]) for k in KINDS)


def looks_like_date(text: str) -> bool:
    """Whether a spreadsheet program seems to have turned the cell into a date.

    >>> looks_like_date("8-May"), looks_like_date("1-1/8"), looks_like_date("5/8")
    (True, False, False)
    """
    return _DATE.fullmatch(text.strip()) is not None


# ---- the door -----------------------------------------------------------------------------------------


def parse(text: str, term: Term, unit: str | None = None, decimal: str = "") -> Value | None:
    """Read one numeric cell. None when the cell says that the value is not known.

    `unit` is the head's unit (a pint name) for numbers that state none, `decimal` the file's decimal mark.
    Raises CellError.

    >>> from compare.vocabulary import catalogue_terms
    >>> parse('24 1/8 ±1/16 in', catalogue_terms()["length"])
    Value(nominal=612.775, half=1.5875, high=nan)
    """
    if is_unknown(text):
        return None
    return _decide(readings(text, term, unit), term, unit, text.strip(), decimal)


def parse_number(number: float, term: Term, unit: str | None = None) -> Value:
    """A number that the file holds as a number (a workbook's cell, a TOML number): no mark to be read two ways.

    >>> from compare.vocabulary import catalogue_terms
    >>> parse_number(612.125, catalogue_terms()["length"]).nominal
    612.125
    """
    whole = f"{number:.12g}"
    if not math.isfinite(number) or abs(number) >= 1e12:
        raise CellError(f'"{whole}" is not a possible number.', "Type a number; leave it out if you do not know it.")
    if term.kind in ("count", "counts") and number != round(number):
        raise _not_understood(whole, term)
    kept = _scale(term.kind, unit) * number
    high = kept if term.kind == "counts" else math.nan
    reading = Reading(Value(kept, 0.0 if term.kind == "counts" else math.nan, high), whole)
    return _decide([reading], term, unit, whole, "")


def _scale(kind: str, unit: str | None) -> float:
    entry = KINDS[kind]
    if not entry.kept:
        return 1.0
    return factor(kind, unit or entry.units[0].name)


def readings(text: str, term: Term, unit: str | None = None) -> list[Reading]:
    """Every reading that the text itself allows, before anything is struck out by the range. Raises CellError."""
    whole = text.strip()
    plain = clean(text)
    if len(plain) > 60:
        raise CellError(f'"{visible(whole, 40)}" is too long for a number.', *_such_as(term))
    if looks_like_date(plain) and not (term.kind == "counts" and re.fullmatch(r"\d+/\d+/\d+", plain)):
        raise _not_understood(whole, term)
    bare = _without_words(plain, term)
    _refuse_guess(bare, term, unit, whole)
    return _READERS.get(term.kind, _quantity)(bare, term, unit, whole)


def _decide(found: Sequence[Reading], term: Term, unit: str | None, whole: str, decimal: str) -> Value:
    """Strike out what cannot be; take what is left, or ask."""
    left = [r for r in found if _possible(r.value, term)]
    if not left:
        raise _outside(found, term, unit, whole)
    if any(r.open for r in left):
        raise _unit_asked(left, term, whole)
    if len({r.value.nominal for r in left}) > 1 and decimal:
        as_decimal = [r for r in left if r.mark == decimal]
        left = as_decimal or [r for r in left if not r.mark] or left
    if len({r.value.nominal for r in left}) > 1:
        options = [r.typed for r in left]
        words = ["for the larger number", "for the smaller one"]
        fix = ", ".join(f"{o} {w}" for o, w in zip(options, words, strict=False))
        raise CellError(f'"{visible(whole)}" can be read two ways.', f"Type {fix}.", options, [r.value for r in left])
    return left[0].value


def _possible(value: Value, term: Term) -> bool:
    scale = factor("angle", "degree") if term.kind == "angle" else 1.0
    top = value.nominal if math.isnan(value.high) else value.high
    if not (math.isfinite(value.nominal) and math.isfinite(top)):
        return False
    return term.low * scale - 1e-9 <= value.nominal and top <= term.high * scale + 1e-9


def _unit_asked(left: Sequence[Reading], term: Term, whole: str) -> CellError:
    options = list(dict.fromkeys(r.typed for r in left))
    if len(options) == 1 and not math.isnan(left[0].value.nominal):
        same = f"{shortest(left[0].value.nominal)} {term.unit}"
        options += [same] if math.isnan(left[0].value.half) and math.isnan(left[0].value.high) else []
    return CellError(
        f'"{visible(whole)}" has no unit in a column of millimetres.', f"Type {', or '.join(options)}.", options,
        mend=options[0] if len({r.typed for r in left}) == 1 else "",
    )  # fmt: skip


def _outside(found: Sequence[Reading], term: Term, unit: str | None, whole: str) -> CellError:
    shown = (" " + term.unit).rstrip()
    fix = f"Possible here: {term.low:g} to {term.high:g}{shown}. Check the number and its unit."
    options = []
    plain = clean(whole)
    if re.fullmatch(r"\d+(?:[.,]\d+)?", plain, re.ASCII):
        units = sorted(KINDS[term.kind].units, key=lambda u: u.name != "inch")  # the usual slip first
        for other in units:
            if other.name in (unit or KINDS[term.kind].units[0].name, "micrometer", "foot") or not other.spellings:
                continue
            name = short_name(term.kind, other.name)
            try:
                left = [r for r in _quantity(f"{plain} {name}", term, None, plain) if _possible(r.value, term)]
            except CellError:
                continue
            if len(left) == 1:
                options.append(f"{plain} {name}")
    if options:
        lead = "In inches, type" if options[0].endswith(" in") else "If that is meant, type"
        fix += f" {lead} {', or '.join(visible(o, 30) for o in options[:2])}."
    return CellError(f'"{visible(whole)}" is outside what is possible.', fix, options[:2])


# ---- words around a number ----------------------------------------------------------------------------


def _spelt(words: Iterable[str]) -> str:
    """A pattern for words, short ones with or without points between their letters."""
    return "|".join(r"\.?".join(map(re.escape, w)) if len(w) <= 2 else re.escape(w) for w in sorted(words, key=len, reverse=True))


def _without_words(plain: str, term: Term) -> str:
    """The cell without words that say nothing new in this column.

    >>> _without_words("15 mm nominal", Term("d", "diameter", "")), _without_words("Z=23", Term("z", "count", ""))
    ('15 mm', '23')
    """
    kind = KINDS[term.kind]
    text = plain
    before = _spelt((*kind.before, term.heading, term.name))
    # A letter beside a number names the quantity; `10 x` or `24 in` are no such words.
    text = re.sub(rf"^(?:{before})\.? ?[=:]? ?(?=[\d.,+(-])", "", text, flags=re.IGNORECASE)
    if kind.name in _LENGTHS:
        found = re.search(r" ?(?:measured )?(?:from|to) (?:the )?(?:front |gearbox |block )?([a-z]+)$", text, re.IGNORECASE)
        if found and re.search(r"\d", text[: found.start()]) and found[1].casefold() in (term.meaning or "").casefold():
            text = text[: found.start()]
    for _ in range(3):
        shorter = text
        if kind.after:
            shorter = re.sub(rf"(?<![a-z])[ -]?(?:\({{0,1}})(?:{_spelt(kind.after)})\.?\)?$", "", text, flags=re.IGNORECASE)
        if kind.name == "diameter":
            shorter = _FIT.sub("", shorter)
        if not re.search(r"\d", shorter) or shorter == text:
            break
        text = shorter.strip()
    return text.strip()


def _refuse_guess(bare: str, term: Term, unit: str | None, whole: str) -> None:
    """A number that says itself that it is a guess wants its doubt. Raises CellError."""
    alone = _ONE.fullmatch(bare)
    if alone and find_unit(term.kind, alone["rest"].strip()):
        return
    before, after, plus = _GUESS_BEFORE.match(bare), _GUESS_AFTER.search(bare), _PLUS_UNIT.match(bare)
    if plus:
        rest = plus["rest"] + plus["unit"]
    elif before or (after and re.search(r"\d", bare[: after.start()])):
        rest = bare[before.end() :] if before else bare[: after.start() if after else None]
        rest = _GUESS_AFTER.sub("", rest)
    else:
        return
    what = "is a number with a question mark" if bare.rstrip(")").endswith("?") else "is a guess without its doubt"
    guess = KINDS[term.kind].guess
    options = []
    try:
        value = _decide(readings(rest, term, unit), term, unit, rest, "")
        if guess and math.isnan(value.half) and math.isnan(value.high):
            inch = term.kind in _LENGTHS and re.search(r"in|\"|'|ft|/", rest)
            options.append(f"{rest} ±{'1/8 in' if inch and term.kind != 'diameter' else guess}")
        options.append(rest)
    except CellError as error:
        options = list(error.options)
    if not options:
        raise CellError(f'"{visible(whole)}" {what}.', *_such_as(term))
    fix = f"Type {visible(options[0], 40)} (with the doubt that you think it has)" if len(options) > 1 else f"Type {options[0]}"
    fix += f", {options[1]} if it is sure" if len(options) > 1 else " if it is sure"
    raise CellError(f'"{visible(whole)}" {what}.', f"{fix}, or ? alone.", options)


# ---- what to type instead -----------------------------------------------------------------------------


def _examples(term: Term) -> tuple[str, ...]:
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


def _such_as(term: Term) -> tuple[str, tuple[str, ...]]:
    options = _examples(term)
    article = KINDS[term.kind].article
    return f"Type {article} such as {' or '.join(options)}. Leave it empty or type ? if you do not know it.", options


def _not_understood(whole: str, term: Term) -> CellError:
    article = KINDS[term.kind].article
    fix, options = _such_as(term)
    shown = visible(whole)
    if looks_like_date(clean(whole)):
        fix = f"Format the column as text, then type {article} such as {' or '.join(options)}."
        found = f'"{shown}" is a date: a spreadsheet program made it out of a number or a fraction.'
        return CellError(found, fix, options)
    if re.fullmatch(r"#{2,}|#[A-Z/0!?]+", whole):
        found = f'"{shown}" is what a spreadsheet program shows for a cell it cannot show.'
        return CellError(found, f"Widen the column or mend the cell, and export again. {fix}", options)
    if re.fullmatch(r"\d(?:[.,]\d+)?[eE][+-]?\d+", whole):
        found = f'"{shown}" was shortened by a spreadsheet program.'
        return CellError(found, f"Format the column as text and type the number in full. {fix}", options)
    if re.search(r"\d ?[x*] ?\d|\*\*", clean(whole)):
        return CellError(f'"{shown}" is a sum, one number is expected.', fix, options)
    return CellError(f'"{shown}" is not {article}.', fix, options)


def _other_kind(whole: str, number: str, spelling: str, other: str, term: Term) -> CellError:
    found = f'"{visible(whole)}" is {KINDS[other].article}, {KINDS[term.kind].article} is expected here.'
    if term.kind == "torque" and other == "mass" and find_unit("mass", spelling) == "pound":
        try:
            value = amounts(number, inch=False, thousands=False, whole=whole)[0].number * factor("torque", "foot * pound_force")
        except CellError:
            return CellError(found, *_such_as(term))
        options = (f"{number} lb ft", f"{value:.0f} N·m")
        if _possible(Value(value), term):
            end = " Leave it empty or type ? if you do not know it."
            return CellError(found, f"Type {options[0]}, or {options[1]}.{end}", options)
    return CellError(found, *_such_as(term))


# ---- measures: a number and its unit ------------------------------------------------------------------


@dataclass(frozen=True)
class _Side:
    """One number of a cell: its readings, in the unit that is typed beside it (None: no unit)."""

    amounts: tuple[Amount, ...]
    unit: str | None
    typed: str

    @property
    def fraction(self) -> bool:
        return self.amounts[0].fraction


_ONE = re.compile(rf"(?P<sign>[+-]?) ?(?P<number>{NUMBER})(?P<rest>.*)", re.ASCII | re.IGNORECASE)
_LINKS = re.compile(rf"(?P<number>{NUMBER}) ?(?P<unit>[^\d.,]*?\.?)[ ,-]*(?=\d|$)", re.ASCII | re.IGNORECASE)


def _side(text: str, term: Term, default: str, whole: str) -> _Side:
    """One side of a cell. Raises CellError."""
    kind = term.kind
    text = text.strip()
    found = _ONE.fullmatch(text)
    if not found:
        raise _not_understood(whole, term)
    sign = -1.0 if found["sign"] == "-" else 1.0
    spelling = found["rest"].strip().rstrip(".").strip()
    unit = find_unit(kind, spelling) if spelling else None
    thousands = kind not in ("fraction", "number")
    if spelling and unit is None:
        chained = _chain(text[len(found["sign"]) :].strip(), term, whole)
        if chained is None:
            other = kind_of_spelling(spelling)
            if other and other not in (kind, "length" if kind in _LENGTHS else ""):
                raise _other_kind(whole, found["number"], spelling, other, term)
            raise _not_understood(whole, term)
        return _Side((replace(chained[0], number=sign * chained[0].number),), chained[1], text)
    used = unit or default
    all_ways = amounts(found["number"], inch=used in _INCHES, thousands=thousands, whole=whole)
    return _Side(tuple(replace(a, number=sign * a.number) for a in all_ways), unit, text)


def _chain(text: str, term: Term, whole: str) -> tuple[Amount, str] | None:
    """Feet and inches, stones and pounds, degrees and minutes: (the whole in the last unit, that unit). None: no such."""
    kind, order = term.kind, KINDS[term.kind].chain
    links: list[tuple[str, str]] = []
    at = 0
    while at < len(text):
        found = _LINKS.match(text, at)
        if not found or found.end() == at:
            return None
        links.append((found["number"], found["unit"].strip(" .-")))
        at = found.end()
    if len(links) < 2 or not order:
        return None
    total, last = 0.0, ""
    for place, (number, spelling) in enumerate(links):
        unit = find_unit(kind, spelling)
        if unit is None and not spelling and place == len(links) - 1 and last in order[:-1]:
            unit = order[order.index(last) + 1] if last != "stone" else "pound"
        if unit not in order or (last and order.index(unit) <= order.index(last)):
            return None
        amount = amounts(number, inch=True, thousands=False, whole=whole)[0]
        if place < len(links) - 1 and amount.number != int(amount.number):
            return None
        ratio = factor(kind, last) / factor(kind, unit) if last else 0.0
        if last and amount.number >= round(ratio, 6):
            raise CellError(
                f'"{visible(whole)}" has {amount.number:g} {short_name(kind, unit)} beside a larger unit.', *_such_as(term)
            )
        total = total * (ratio or 0.0) + amount.number
        last, step = unit, amount.step
    return Amount(round(total, 9), False, step), last


def _quantity(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    """A length, mass, torque ... with its doubt or its range, and perhaps the same again in other units."""
    main, others = _equivalents(plain, term, unit, whole)
    found = _with_doubt(main, term, unit, whole)
    for other in others:
        beside = _with_doubt(other, term, None, whole)
        agreeing = [r for r in found if any(_agree(r, b) for b in beside)]
        if not agreeing:
            options = [r.typed for r in (*found, *beside) if _possible(r.value, term) and not r.open][:2]
            fix = f"Type {', or '.join(options)}." if options else _such_as(term)[0]
            raise CellError(f'"{visible(whole)}" gives two figures that differ.', fix, options)
        found = [replace(r, open=False) for r in agreeing]
    return found


def _agree(one: Reading, other: Reading) -> bool:
    """Whether two figures are the same, as exactly as the coarser of them was written."""
    close = 0.005 * max(abs(one.value.nominal), abs(other.value.nominal))
    return abs(one.value.nominal - other.value.nominal) <= max(close, one.step, other.step) * (1 + 1e-9)


def _equivalents(plain: str, term: Term, unit: str | None, whole: str) -> tuple[str, list[str]]:
    """`27 mm (1 1/16)`, `612 mm = 24.1"` -> (what stands first, what it is said to equal)."""
    found = re.fullmatch(r"(?P<main>[^()=\[\]]*\d[^()=\[\]]*?) ?[(\[] ?(?P<inner>[^()=\[\]]+?) ?[)\]]", plain)
    if found:
        if re.match(r"±|\+ ?/? ?-|plus", found["inner"], re.IGNORECASE):
            return f"{found['main']} {found['inner']}", []
        if re.search(r"\d", found["inner"]):
            return found["main"], [found["inner"]]
        raise _not_understood(whole, term)
    parts = [p.strip() for p in re.split(r" = |=| / ", plain)]
    if len(parts) == 2 and all(parts):
        typed = [_ONE.fullmatch(p) for p in parts]
        if "=" in plain or all(t and find_unit(term.kind, t["rest"].strip(" .")) for t in typed):
            return parts[0], [parts[1]]
    return plain, []


_PLUS_MINUS = re.compile(r"\+ ?/ ?-|\+-|\bplus ?(?:/| or | and )? ?minus\b|\+ or -", re.IGNORECASE)
_TOLERANCE = re.compile(
    rf"(?P<main>.*?\d.*?)(?: ?(?P<one>[+-] ?{NUMBER}|[+-] ?0) ?(?P<unit>[a-zµ\"']*)? ?[/ ,]? ?(?P<two>[+-] ?{NUMBER})"
    rf"| (?P<alone>[+-]{NUMBER})) ?(?P<end>[a-zµ\"']*)",
    re.IGNORECASE | re.ASCII,
)
_RANGE = re.compile(r"(?P<low>.*?\d.*?) ?(?P<word>\.\.+|\bto\b|\bbis\b| - |-) ?(?P<high>\d.*)", re.IGNORECASE | re.ASCII)


def _with_doubt(text: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    default = unit or KINDS[term.kind].units[0].name
    body, mark, doubt = _PLUS_MINUS.sub("±", text).partition("±")
    if mark:
        return _plus_minus(body.strip(), doubt.strip(), term, default, whole)
    if ".." not in text:
        try:
            return _single(_side(text, term, default, whole), term, default)
        except CellError as error:
            first = error
        tolerance = _TOLERANCE.fullmatch(text)
        if tolerance:
            return _between_limits(tolerance, term, default, whole)
    else:
        first = _not_understood(whole, term)
    stretch = _RANGE.fullmatch(re.sub(r"^(?:between|from) (.*\d.*) (?:and|to) ", r"\1 to ", text, flags=re.IGNORECASE))
    if stretch:
        return _range(stretch, term, default, whole)
    raise _half_a_range(text, term, whole) if ".." in text else first


def _half_a_range(text: str, term: Term, whole: str) -> CellError:
    if term.free_choice:
        return CellError(f'"{visible(whole)}" is not a free choice.', "Type it as 12..25 mm.", ("12..25 mm",))
    return CellError(f'"{visible(whole)}" is half a range.', *_such_as(term))


def _units_for(*sides: _Side, term: Term, default: str) -> list[tuple[str, bool]]:
    """The units that untyped sides may have: [(unit, open)]. A typed unit on one side counts for both."""
    typed = [s.unit for s in sides if s.unit]
    shared = typed[0] if typed else default
    fraction = any(s.fraction and s.unit is None for s in sides)
    if not fraction or term.kind not in _LENGTHS or shared in (*_INCHES, "thou"):
        return [(shared, False)]
    # A bare fraction is never taken as millimetres: inches, or the unit of the other side, and only the person knows.
    return [("inch", True), (shared, True)]


def _typed(number: float, unit: str, kind: str) -> str:
    return f"{shortest(number)} {short_name(kind, unit)}".strip()


def _single(side: _Side, term: Term, default: str) -> list[Reading]:
    out = []
    for unit, is_open in _units_for(side, term=term, default=default):
        scale = factor(term.kind, side.unit or unit)
        for amount in side.amounts:
            typed = f"{side.typed} {short_name(term.kind, unit)}" if is_open else _typed(amount.number, side.unit or unit, term.kind)
            value = Value(_tidy(amount.number * scale))
            out.append(Reading(value, typed, amount.mark, is_open, amount.step * scale))
    return [r for r in out if not r.open or r.typed.endswith(" in")] or out


def _tidy(number: float) -> float:
    """A sum without the dust of binary fractions: nine decimals are more than anyone measures."""
    return round(float(f"{number:.14g}"), 11)


def _plus_minus(body: str, doubt: str, term: Term, default: str, whole: str) -> list[Reading]:
    if not body or not doubt:
        raise CellError(f'"{visible(whole)}" has a ± with nothing beside it.', *_such_as(term))
    if "±" in doubt:
        raise CellError(f'"{visible(whole)}" has more than one ±.', *_such_as(term))
    if ".." in body:
        raise _half_a_range(body, term, whole)
    main = _side(body, term, default, whole)
    share = doubt.endswith("%") and term.kind != "fraction"
    measure, usual = (Term("share", "number", ""), "dimensionless") if share else (term, default)
    beside = _side(doubt.rstrip(" %") if share else doubt, measure, usual, whole)
    if any(a.number < 0 for a in beside.amounts) or re.match(r"[+-]", doubt):
        raise CellError(f'"{visible(whole)}" has a doubt below nothing.', *_such_as(term))
    if share:
        half = beside.amounts[-1].number / 100
        if main.amounts[0].number == 0:
            raise CellError(f'"{visible(whole)}" is a share of nothing: it would be certain.', *_such_as(term))
        return [
            replace(r, value=Value(r.value.nominal, _tidy(abs(r.value.nominal) * half)), typed=f"{r.typed} ±{shortest(half * 100)} %")
            for r in _single(main, term, default)
        ]
    out = []
    for unit, is_open in _units_for(main, beside, term=term, default=default):
        out += _doubtful(main, beside, unit, is_open, term)
    if main.unit is None and beside.unit and not main.fraction and not any(_possible(r.value, term) for r in out):
        out += _doubtful(main, beside, default, False, term)  # 612 ±1/8 in: the value in the column's own unit
    return out


def _doubtful(main: _Side, beside: _Side, unit: str, is_open: bool, term: Term) -> list[Reading]:
    own, other = main.unit or unit, beside.unit or unit
    if is_open and unit == "inch" and not main.fraction and main.unit is None:
        own = KINDS[term.kind].units[0].name  # 610 ±1/16: it is the doubt whose unit is asked for
    half = min(beside.amounts, key=lambda a: a.number).number
    out = []
    for amount in main.amounts:
        typed = f"{_as_typed(main, amount, own, term)} ±{_as_typed(beside, beside.amounts[-1], other, term)}"
        value = Value(_tidy(amount.number * factor(term.kind, own)), _tidy(half * factor(term.kind, other)))
        out.append(Reading(value, typed, amount.mark, is_open))
    return out


def _as_typed(side: _Side, amount: Amount, unit: str, term: Term) -> str:
    """One side as it was typed where that was a fraction, else as a plain number; with its unit."""
    if not side.fraction:
        return _typed(amount.number, unit, term.kind)
    return side.typed if side.unit else f"{side.typed} {short_name(term.kind, unit)}"


def _between_limits(found: re.Match[str], term: Term, default: str, whole: str) -> list[Reading]:
    """`610 +5/-3`, `15 mm -0.02`: the middle of the two limits, and half of what lies between."""
    main = _side(found["main"], term, default, whole)
    ends = [found["one"] or found["alone"], found["two"] or "0"]
    unit_text = " " + (found["unit"] or found["end"] or "")
    sides = [_side(e.replace(" ", "") + unit_text, term, default, whole) for e in ends]
    if found["alone"] and main.unit is None and (sides[0].fraction or term.low < 0):
        raise _not_understood(whole, term)
    used = main.unit or sides[0].unit or default
    if any(s.fraction and s.unit is None for s in sides) and used not in _INCHES:
        raise _not_understood(whole, term)
    low, high = sorted(s.amounts[-1].number * factor(term.kind, s.unit or used) for s in sides)
    if high - low <= 0:
        raise _not_understood(whole, term)
    out = []
    for amount in main.amounts:
        middle = amount.number * factor(term.kind, main.unit or used) + (low + high) / 2
        half = (high - low) / 2
        if half > 0.2 * abs(middle):
            raise _not_understood(whole, term)
        kept = factor(term.kind, used)
        typed = f"{_typed(middle / kept, used, term.kind)} ±{_typed(half / kept, used, term.kind)}"
        out.append(Reading(Value(_tidy(middle), _tidy(half)), typed, amount.mark))
    return out


def _range(found: re.Match[str], term: Term, default: str, whole: str) -> list[Reading]:
    """`12..25 mm`: a free choice where the column allows one, else a middle and a doubt."""
    low_side, high_side = _side(found["low"], term, default, whole), _side(found["high"], term, default, whole)
    if ".." in found["high"]:
        raise _half_a_range("", term, whole)
    out = []
    for unit, is_open in _units_for(low_side, high_side, term=term, default=default):
        low_unit = low_side.unit or high_side.unit or unit
        high_unit = high_side.unit or low_side.unit or unit
        if is_open:
            low_unit, high_unit = low_side.unit or unit, high_side.unit or unit
        for low_amount in low_side.amounts:
            for high_amount in high_side.amounts:
                low = _tidy(low_amount.number * factor(term.kind, low_unit))
                high = _tidy(high_amount.number * factor(term.kind, high_unit))
                if high < low or (high == low and not term.free_choice):
                    continue
                value = Value(low, 0.0, high) if term.free_choice else Value(_tidy((low + high) / 2), _tidy((high - low) / 2))
                typed = f"{_typed(low_amount.number, low_unit, term.kind)}..{_typed(high_amount.number, high_unit, term.kind)}"
                if _possible(Value(low), term) and _possible(Value(high), term):
                    out.append(Reading(value, typed, low_amount.mark or high_amount.mark, is_open))
    if out:
        return out
    example = "12..25 mm" if term.free_choice else _examples(term)[0]
    low, high = (s.amounts[-1].number * factor(term.kind, s.unit or default) for s in (low_side, high_side))
    if high <= low:
        raise CellError(f'"{visible(whole)}" runs backwards.', f"Type the smaller number first, as {example}.", (example,))
    raise _outside([], term, None, whole)


# ---- ratios, counts, money ----------------------------------------------------------------------------

_DECIMAL = r"(?:\d+(?:[.,·]\d+)?\.?|[.,·]\d+)"


def _decimal(text: str, whole: str) -> float:
    return amounts(text.replace(",", "."), inch=False, thousands=False, whole=whole)[-1].number


def _ratio(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    found = re.fullmatch(r"(?P<main>[^()=]+?) ?(?:\( ?(?P<inner>[^()=±]+?) ?\)|= ?(?P<same>[^()=±]+))", plain)
    if not found:
        return _one_ratio(plain, term, whole)
    first, second = _one_ratio(found["main"], term, whole), _one_ratio(found["inner"] or found["same"], term, whole)
    agreeing = [r for r in first if any(_agree(r, s) for s in second)]
    if not agreeing:
        options = [r.typed for r in (*first, *second) if _possible(r.value, term)][:2]
        raise CellError(f'"{visible(whole)}" gives two figures that differ.', f"Type {', or '.join(options)}.", options)
    return agreeing


def _one_ratio(plain: str, term: Term, whole: str) -> list[Reading]:
    body, mark, doubt = (p.strip() for p in _PLUS_MINUS.sub("±", plain).partition("±"))
    half = math.nan
    if mark:
        if not re.fullmatch(rf"{_DECIMAL} ?%?", doubt, re.ASCII) or not body:
            raise _not_understood(whole, term)
        half = _decimal(doubt.rstrip(" %"), whole)
    if body.casefold() in ("direct", "straight", "straight through", "direct drive"):
        return [Reading(Value(1.0, half), "1")]
    pair = re.fullmatch(r"(\d{1,3}) ?(?:[:/x]| to |-) ?(\d{1,3})", body, re.ASCII | re.IGNORECASE)
    if pair and not ("-" in body and min(int(pair[1]), int(pair[2])) < 6):
        return _gear_pair(int(pair[1]), int(pair[2]), half, term, whole)
    stretch = re.fullmatch(rf"({_DECIMAL}) ?(?:-|to|\.\.+) ?({_DECIMAL})", body, re.ASCII | re.IGNORECASE)
    if stretch and not mark and not re.fullmatch(r"1[.,0]*", stretch[2]):
        low, high = _decimal(stretch[1], whole), _decimal(stretch[2], whole)
        if not low < high <= 1.2 * low:
            raise _not_understood(whole, term)
        middle, half = _tidy((low + high) / 2), _tidy((high - low) / 2)
        return [Reading(Value(middle, half), f"{shortest(middle)} ±{shortest(half)}")]
    found = re.fullmatch(rf"\+?({_DECIMAL})(?: ?(?:[:/]| to ) ?1(?:[.,]0+)?)?", body, re.ASCII | re.IGNORECASE)
    if not found or len(found[1]) > 14:
        raise _not_understood(whole, term)
    number = _decimal(found[1], whole)
    if mark and doubt.endswith("%"):
        half = _tidy(number * half / 100)
    step = 0.5 * 10.0 ** -len(re.split(r"[.,·]", found[1])[1]) if re.search(r"[.,·]", found[1]) else 0.5
    return [Reading(Value(number, half), shortest(number), step=step)]


def _gear_pair(top: int, bottom: int, half: float, term: Term, whole: str) -> list[Reading]:
    """Teeth of two wheels, in either order; `4:1` is a ratio as it stands."""
    if not top or not bottom:
        raise _not_understood(whole, term)
    if bottom == 1:
        return [Reading(Value(float(top), half), str(top))]
    if top == 1:
        raise CellError(
            f'"{visible(whole)}" is a ratio turned round, or a slip.', f"Type {bottom} or {shortest(1 / bottom)}.",
            [t for t in (str(bottom), shortest(1 / bottom)) if _possible(Value(float(t)), term)],
        )  # fmt: skip
    either = sorted({top / bottom, bottom / top}, reverse=True)
    return [Reading(Value(ratio, half), shortest(round(ratio, 5))) for ratio in either]


def _count(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    found = re.fullmatch(r"(\d{1,6})(?:[.,]0*)?", plain, re.ASCII)
    if not found:
        raise _not_understood(whole, term)
    return [Reading(Value(float(found[1])), found[1])]


def _counts(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    bare = re.sub(r"(?<=\d) ?(?:t|z|teeth|tooth)\b\.?", "", plain, flags=re.IGNORECASE)
    listed = re.fullmatch(r"\d{1,3}(?:(?: ?[/,;] ?| or | and | )\d{1,3})+", bare, re.ASCII)
    if listed:
        numbers = [int(n) for n in re.findall(r"\d+", bare)]
        if any(b - a != 1 for a, b in pairwise(numbers)):
            options = [f"{min(numbers)}..{max(numbers)}"]
            raise CellError(f'"{visible(whole)}" leaves numbers out.', f"Type {options[0]} if all between them are made, or one number.", options)
        return [Reading(Value(float(numbers[0]), 0.0, float(numbers[-1])), f"{numbers[0]}..{numbers[-1]}")]
    found = re.fullmatch(r"(\d{1,3})(?: ?(?:\.\.+|-|to|bis) ?(\d{1,3}))?", bare, re.ASCII | re.IGNORECASE)
    if not found:
        raise _not_understood(whole, term)
    low, high = float(found[1]), float(found[2] or found[1])
    if high < low:
        options = [f"{high:g}..{low:g}"]
        raise CellError(f'"{visible(whole)}" runs backwards.', f"Type the smaller number first, as {options[0]}.", options, mend=options[0])
    return [Reading(Value(low, 0.0, high), f"{low:g}..{high:g}" if high > low else f"{low:g}")]


_CODES = (
    "eur usd gbp sek nok dkk isk chf pln czk huf ron bgn hrk aud nzd cad jpy inr zar brl mxn ars clp cny hkd sgd krw twd thb php "
    "idr myr vnd try ils aed sar egp ngn kes uah rub rsd pkr lkr bdt mad tnd"
)
_CURRENCY = (
    r"(?:(?:us|a|au|c|ca|nz|r|hk|s|mx|nt)?\$|[£€¥₹₽₩₪₺₴₦₫฿₱₡₲₵₸₼₾¢]|"
    + "|".join(_CODES.split())
    + r"|kr\.?|skr|nkr|dkr|fr\.?|sfr\.?|rs\.?|kč|kc|zł|zl|ft|lei|lira|rand|yen|euros?|dollars?|bucks|pounds?(?: sterling)?|quid|francs?|crowns?|kronor|kroner)"
)
_MONEY_WORDS = (
    r"ono|o\.n\.o\.?|obo|o\.b\.o\.?|vb|fixed|firm|each|inc(?:l|luding)?\.? (?:vat|tax|post|postage|delivery)|"
    r"(?:ex|excl?)\.? works|asked|asking(?: price)?|cash"
)
_SUM_OF_MONEY = r"[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]{1,2})?|[0-9][0-9.,']*[0-9]|[0-9]"
_MONEY = re.compile(
    rf"(?:{_CURRENCY} ?)?(?P<number>{_SUM_OF_MONEY})(?P<k>k)?(?:[.,] ?-+|[.,])? ?(?:{_CURRENCY})?(?: ?(?:{_MONEY_WORDS}))*",
    re.ASCII | re.IGNORECASE,
)


def _money(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    if plain.casefold() in ("free", "gratis", "gift", "a gift", "nothing", "for free", "foc", "f.o.c."):
        return [Reading(Value(0.0), "0")]
    found = _MONEY.fullmatch(plain)
    if not found:
        raise _not_understood(whole, term)
    # Money has two decimals: three digits behind a mark are thousands.
    number = amounts(found["number"], inch=False, thousands=True, whole=whole)[0].number * (1000 if found["k"] else 1)
    return [Reading(Value(number), shortest(number))]


_READERS: dict[str, Callable[[str, Term, str | None, str], list[Reading]]] = {
    "ratio": _ratio, "count": _count, "counts": _counts, "money": _money,
}  # fmt: skip


# ---- choices ------------------------------------------------------------------------------------------


def read_choice(text: str, term: Term) -> float:
    """The index of a choice, NaN when unknown, one past the last for other text. Raises CellError.

    >>> read_choice("Slip-yoke", Term("output_type", "choice", "", choices=("slip yoke", "flange")))
    0.0
    """
    word = clean(text).casefold()
    options = [c.casefold() for c in term.choices]
    squeezed = re.sub(r"[ _-]", "", word)
    for at, option in enumerate(options):
        if word == option or (squeezed and squeezed == re.sub(r"[ _-]", "", option)):
            return float(at)
    if is_unknown(text):
        return math.nan
    if term.other_text:
        if looks_like_date(word) or len(word) > 200:
            raise CellError(f'"{visible(text, 40)}" is not a name.', f"Type {', '.join(term.choices)} or a short name.", term.choices)
        return float(len(options))
    near = did_you_mean(word, options)
    if near:
        raise CellError(f'"{visible(text, 40)}" is not one of the choices.', f"Type {near}.", (near,), mend=near)
    fix = f"Type one of: {', '.join(term.choices)}. Leave it empty if you do not know it."
    raise CellError(f'"{visible(text, 40)}" is not one of the choices.', fix, term.choices)


def read_flag(text: str, term: Term) -> float:
    """1 for yes, 0 for no, NaN when unknown. Raises CellError.

    >>> read_flag("Yes", Term("x", "flag", "")), read_flag("false", Term("x", "flag", ""))
    (1.0, 0.0)
    """
    word = clean(text).casefold()
    if word in ("true", "yes", "y", "1", "x"):
        return 1.0
    if word in ("false", "no", "n", "0"):
        return 0.0
    if is_unknown(text):
        return math.nan
    raise CellError(f'"{visible(text, 40)}" is neither true nor false.', "Type true or false.", ("true", "false"))
