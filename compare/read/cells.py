"""Text as people write it at a bench <-> value and half-width in internal units.

Every cell is given all the readings that it allows; those that cannot be are struck out (by the
unit that is typed, by the column's possible range, by a second figure in brackets, by the file's
habit); the one that is left is taken, and the person is asked only when two are left. The grammar
is our own and strict: a text is matched whole or refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from functools import cache

from compare.kinds import KINDS
from compare.problems import CellError, did_you_mean, visible
from compare.read.measures import ONE_NUMBER, PLUS_MINUS, quantity
from compare.read.numbers import NUMBER, clean, shortest
from compare.read.ratios import count, counts, money, ratio
from compare.read.tyres import TyreSize, parse_tyre
from compare.read.units import factor, find_unit, short_name
from compare.read.values import (
    LENGTHS,
    Reading,
    Value,
    looks_like_date,
    not_understood,
    outside,
    possible,
    such_as,
)
from compare.vocabulary import Term

__all__ = [
    "TyreSize", "Value", "clean", "factor", "find_unit", "is_unknown", "looks_like_date", "parse",
    "parse_number",
    "parse_tyre", "read_choice", "read_flag", "readings",
]  # fmt: skip

_UNKNOWN_WORDS = (
    "n/a na n.a. n.a n/k nk n.k. unknown unknwn tbd tbc tba nil none null nan xxx xx nd n.d. dk "
    "poa p.o.a. tobemeasured "
    "notknown notmeasured notstated notgiven nodata dontknow don'tknow noidea missing todo blank "
    "unk unk. u/k notsure dunno pending notyet nodate"
)
UNKNOWN = frozenset(_UNKNOWN_WORDS.split())
_GUESS_BEFORE = re.compile(
    r"(?:[<>~≈≤≥]=?|ca\.? |ca\.|circa|c\.|c |about|abt\.?|approx\.?|approximately|around|roughly|"
    r"nearly|almost|maybe|perhaps|"
    r"say|under|over|up to|at least|at most|min\.?|max\.?|less than|more than|est\.?|estimated|"
    r"estimate|guess)[ :]*(?=[\d.,(£$€-])",
    re.IGNORECASE,
)
_GUESS_AFTER = re.compile(
    r" ?(?:\?+|\(\?+\)|-?ish|or so|\(?approx\.?(?:imately)?\)?|\(?ca\.?\)|\(?circa\)?|\(?about\)?|"
    r"\+|max\.?|(?<!/)(?<!per )min\.?|\(?est(?:imated|\.)?\)?|"
    r"roughly|guess(?:ed)?|or more|or less|more or less|plus)$",
    re.IGNORECASE,
)
_PLUS_UNIT = re.compile(
    rf"(?P<rest>{NUMBER})\+(?P<unit> ?[a-zµ°\"' .·/]+)$", re.IGNORECASE | re.ASCII
)
_FIT = re.compile(
    r"(?<=[\dm \"]) ?\(?(?!x)(?:[a-z]|js|cd|ef|fg)\d{1,2}(?:/[a-z]{1,2}\d{1,2})?\)?$",
    re.IGNORECASE | re.ASCII,
)
_READERS: dict[str, Callable[[str, Term, str | None, str], list[Reading]]] = {
    "ratio": ratio, "count": count, "counts": counts, "money": money,
}  # fmt: skip


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


def parse(text: str, term: Term, unit: str | None = None, decimal: str = "") -> Value | None:
    """Read one numeric cell. None when the cell says that the value is not known.

    `unit` is the head's unit (a pint name) for numbers that state none, `decimal` the file's
    decimal mark. Raises CellError.

    >>> from compare.vocabulary import catalogue_terms
    >>> parse('24 1/8 ±1/16 in', catalogue_terms()["length"])
    Value(nominal=612.775, half=1.5875, high=nan)
    """
    if is_unknown(text):
        return None
    return _decide(readings(text, term, unit), term, unit, text.strip(), decimal)


def parse_number(number: float, term: Term, unit: str | None = None) -> Value:
    """A number that the file holds as a number (a workbook's cell, a TOML number):

    no mark to be read two ways.

    >>> from compare.vocabulary import catalogue_terms
    >>> parse_number(612.125, catalogue_terms()["length"]).nominal
    612.125
    """
    whole = f"{number:.12g}"
    if not math.isfinite(number) or abs(number) >= 1e12:
        raise CellError(
            f'"{whole}" is not a possible number.',
            "Type a number; leave it out if you do not know it.",
        )
    if term.kind in ("count", "counts") and number != round(number):
        raise not_understood(whole, term)
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
    """Every reading that the text itself allows, before anything is struck out by the range.

    Raises CellError.
    """
    whole = text.strip()
    plain = clean(text)
    if len(plain) > 60:
        raise CellError(f'"{visible(whole, 40)}" is too long for a number.', *such_as(term))
    if looks_like_date(plain) and not (
        term.kind == "counts" and re.fullmatch(r"\d+/\d+/\d+", plain)
    ):
        raise not_understood(whole, term)
    bare = _without_words(plain, term)
    _refuse_guess(bare, term, unit, whole)
    return _READERS.get(term.kind, quantity)(bare, term, unit, whole)


def _decide(
    found: Sequence[Reading], term: Term, unit: str | None, whole: str, decimal: str
) -> Value:
    """Strike out what cannot be; take what is left, or ask."""
    left = [r for r in found if possible(r.value, term)]
    if not left:
        raise _outside(term, unit, whole)
    if term.low >= 0 and "±" in PLUS_MINUS.sub("±", clean(whole)):
        left = [r for r in left if not 0 < r.value.nominal <= r.value.half]
        if not left:
            found_so = f'"{visible(whole)}" has a doubt as large as the value.'
            fix, examples = such_as(term)
            raise CellError(found_so, f"Type the doubt again. {fix}", examples)
    if any(r.open for r in left):
        raise _unit_asked(left, term, whole)
    if len({r.value.nominal for r in left}) > 1 and decimal:
        as_decimal = [r for r in left if r.mark == decimal]
        left = as_decimal or [r for r in left if not r.mark] or left
    if len({r.value.nominal for r in left}) > 1:
        options = [r.typed for r in left]
        words = ["for the larger number", "for the smaller one"]
        fix = ", ".join(f"{o} {w}" for o, w in zip(options, words, strict=False))
        raise CellError(
            f'"{visible(whole)}" can be read two ways.',
            f"Type {fix}.",
            options,
            [r.value for r in left],
        )
    return left[0].value


def _unit_asked(left: Sequence[Reading], term: Term, whole: str) -> CellError:
    options = list(dict.fromkeys(r.typed for r in left))
    if len(options) == 1 and not math.isnan(left[0].value.nominal):
        same = f"{shortest(left[0].value.nominal)} {term.unit}"
        options += (
            [same] if math.isnan(left[0].value.half) and math.isnan(left[0].value.high) else []
        )
    return CellError(
        f'"{visible(whole)}" has no unit in a column of millimetres.',
        f"Type {', or '.join(options)}.", options,
        mend=options[0] if len({r.typed for r in left}) == 1 else "",
    )  # fmt: skip


def _outside(term: Term, unit: str | None, whole: str) -> CellError:
    plainly = outside(term, whole)
    fix = plainly.fix
    options = []
    plain = clean(whole)
    # Minutes and seconds of an angle are nobody's slip, and their signs read as inches.
    if term.kind != "angle" and re.fullmatch(r"\d+(?:[.,]\d+)?", plain, re.ASCII):
        units = sorted(
            KINDS[term.kind].units, key=lambda u: u.name != "inch"
        )  # the usual slip first
        for other in units:
            if (
                other.name in (unit or KINDS[term.kind].units[0].name, "micrometer", "foot")
                or not other.spellings
            ):
                continue
            name = short_name(term.kind, other.name)
            try:
                left = [
                    r
                    for r in quantity(f"{plain} {name}", term, None, plain)
                    if possible(r.value, term)
                ]
            except CellError:
                continue
            if len(left) == 1:
                options.append(f"{plain} {name}")
    if options:
        lead = "In inches, type" if options[0].endswith(" in") else "If that is meant, type"
        fix += f" {lead} {', or '.join(visible(o, 30) for o in options[:2])}."
    return CellError(plainly.found, fix, options[:2])


def _spelt(words: Iterable[str]) -> str:
    """A pattern for words, short ones with or without points between their letters."""
    return "|".join(
        r"\.?".join(map(re.escape, w)) if len(w) <= 2 else re.escape(w)
        for w in sorted(words, key=len, reverse=True)
    )


@cache
def _names_before(term: Term) -> re.Pattern[str]:
    """What may stand before a number and only names the quantity: `K=900`, `dia 15`.

    A single letter wants its `=`: an l is too easily a slipped 1.
    """
    words = (*KINDS[term.kind].before, term.heading, term.name)
    letters = _spelt(w for w in words if len(w) == 1 and w.isascii())
    others = _spelt(w for w in words if len(w) > 1 or not w.isascii())
    lone = rf"(?:{letters})(?: ?[=:] ?| )|" if letters else ""
    return re.compile(rf"^(?:{lone}(?:{others})\.? ?[=:]? ?)(?=[\d.,+(-])", re.IGNORECASE)


@cache
def _words_after(kind: str) -> re.Pattern[str] | None:
    """What may stand behind a number and says nothing new: `nominal`, `dry`, `OD`."""
    words = KINDS[kind].after
    if not words:
        return None
    return re.compile(rf"(?<![a-z])[ -]?\(?(?:{_spelt(words)})\.?\)?$", re.IGNORECASE)


_FROM = re.compile(
    r" ?(?:measured )?(?:from|to) (?:the )?(?:front |gearbox |block )?([a-z]+)$", re.IGNORECASE
)


def _without_words(plain: str, term: Term) -> str:
    """The cell without words that say nothing new in this column.

    >>> _without_words("15 mm nominal", Term("d", "diameter", ""))
    '15 mm'
    >>> _without_words("Z=23", Term("z", "count", ""))
    '23'
    """
    text = _names_before(term).sub("", plain)
    if term.kind in LENGTHS:
        found = _FROM.search(text)
        told = found is not None and found[1].casefold() in (term.meaning or "").casefold()
        if found and told and re.search(r"\d", text[: found.start()]):
            text = text[: found.start()]
    after = _words_after(term.kind)
    for _ in range(3):
        shorter = after.sub("", text) if after else text
        if term.kind == "diameter":
            shorter = _FIT.sub("", shorter)
        if not re.search(r"\d", shorter) or shorter == text:
            break
        text = shorter.strip()
    return text.strip()


def _is_read(text: str, term: Term, unit: str | None) -> bool:
    try:
        return parse(text, term, unit) is not None
    except CellError:
        return False


def _refuse_guess(bare: str, term: Term, unit: str | None, whole: str) -> None:
    """A number that says itself that it is a guess wants its doubt. Raises CellError."""
    alone = ONE_NUMBER.fullmatch(bare)
    if alone and find_unit(term.kind, alone["rest"].strip()):
        return
    before, after, plus = (
        _GUESS_BEFORE.match(bare),
        _GUESS_AFTER.search(bare),
        _PLUS_UNIT.match(bare),
    )
    if after and term.kind == "angle" and "min" in after[0]:
        return  # minutes of arc, not a least value
    if plus:
        rest = plus["rest"] + plus["unit"]
    elif before or (after and re.search(r"\d", bare[: after.start()])):
        rest = bare[before.end() :] if before else bare[: after.start() if after else None]
        rest = _GUESS_AFTER.sub("", rest)
    else:
        return
    what = (
        "is a number with a question mark"
        if bare.rstrip(")").endswith("?")
        else "is a guess without its doubt"
    )
    guess = KINDS[term.kind].guess
    options = []
    try:
        value = _decide(readings(rest, term, unit), term, unit, rest, "")
        if guess and math.isnan(value.half) and math.isnan(value.high):
            inch = term.kind in LENGTHS and re.search(r"in|\"|'|ft|/", rest)
            options.append(f"{rest} ±{'1/8 in' if inch and term.kind != 'diameter' else guess}")
        options = [o for o in (*options, rest) if _is_read(o, term, unit)]
    except CellError as error:
        options = list(error.options)
    if not options:
        raise CellError(f'"{visible(whole)}" {what}.', *such_as(term))
    fix = (
        f"Type {visible(options[0], 40)} (with the doubt that you think it has)"
        if len(options) > 1
        else f"Type {options[0]}"
    )
    fix += f", {options[1]} if it is sure" if len(options) > 1 else " if it is sure"
    raise CellError(f'"{visible(whole)}" {what}.', f"{fix}, or ? alone.", options)


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
            raise CellError(
                f'"{visible(text, 40)}" is not a name.',
                f"Type {', '.join(term.choices)} or a short name.",
                term.choices,
            )
        return float(len(options))
    near = did_you_mean(word, options)
    if near:
        raise CellError(
            f'"{visible(text, 40)}" is not one of the choices.', f"Type {near}.", (near,), mend=near
        )
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
    raise CellError(
        f'"{visible(text, 40)}" is neither true nor false.',
        "Type true or false.",
        ("true", "false"),
    )
