"""Ratios, gear pairs, counts and money: what is written without a unit of measure."""

from __future__ import annotations

import math
import re
from itertools import pairwise

from compare.problems import CellError, visible
from compare.read.measures import PLUS_MINUS, agree, tidy
from compare.read.numbers import amounts, clean, shortest
from compare.read.values import Reading, Value, not_understood, possible
from compare.vocabulary import Term

__all__ = ["count", "counts", "currency", "money", "ratio"]

_DECIMAL = r"(?:\d+(?:[.,·]\d+)?\.?|[.,·]\d+)"
_CODES = (
    "eur usd gbp sek nok dkk isk chf pln czk huf ron bgn hrk aud nzd cad jpy inr zar brl mxn ars "
    "clp cny hkd sgd krw twd thb php "
    "idr myr vnd try ils aed sar egp ngn kes uah rub rsd pkr lkr bdt mad tnd"
)
_CURRENCY = (
    r"(?:(?:us|a|au|c|ca|nz|r|hk|s|mx|nt)?\$|[£€¥₹₽₩₪₺₴₦₫฿₱₡₲₵₸₼₾¢]|"
    + "|".join(_CODES.split())
    + r"|kr\.?|skr|nkr|dkr|fr\.?|sfr\.?|rs\.?|kč|kc|zł|zl|ft|lei|lira|rand|yen|"
    r"euros?|dollars?|bucks|pounds?(?: sterling)?|quid|francs?|crowns?|kronor|kroner)"
)
_MONEY_WORDS = (
    r"ono|o\.n\.o\.?|obo|o\.b\.o\.?|vb|fixed|firm|each|inc(?:l|luding)?\.? (?:vat|tax|post|"
    r"postage|delivery)|"
    r"ovno|neg|negotiable|delivered|collected|incl|posted|(?:ex|excl?)\.? works|asked|asking(?: price)?|cash"
)
_SUM_OF_MONEY = r"[0-9]{1,3}(?:[ '][0-9]{3})+(?:[.,][0-9]{1,2})?|[0-9][0-9.,]*[0-9]|[0-9]"
_MONEY = re.compile(
    rf"(?:{_CURRENCY} ?)?(?P<number>{_SUM_OF_MONEY})(?P<k>k)?(?:[.,] ?-+|[.,])? "
    rf"?(?:{_CURRENCY})?(?: ?(?:{_MONEY_WORDS}))*",
    re.ASCII | re.IGNORECASE,
)


def _decimal(text: str, whole: str) -> float:
    return amounts(text.replace(",", "."), inch=False, thousands=False, whole=whole)[-1].number


def ratio(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    found = re.fullmatch(
        r"(?P<main>[^()=]+?) ?(?:\( ?(?P<inner>[^()=±]+?) ?\)|= ?(?P<same>[^()=±]+))", plain
    )
    if not found:
        return _one_ratio(plain, term, whole)
    first, second = (
        _one_ratio(found["main"], term, whole),
        _one_ratio(found["inner"] or found["same"], term, whole),
    )
    agreeing = [r for r in first if any(agree(r, s) for s in second)]
    if not agreeing:
        options = [r.typed for r in (*first, *second) if possible(r.value, term)][:2]
        raise CellError(
            f'"{visible(whole)}" gives two figures that differ.',
            f"Type {', or '.join(options)}.",
            options,
        )
    return agreeing


def _one_ratio(plain: str, term: Term, whole: str) -> list[Reading]:
    body, mark, doubt = (p.strip() for p in PLUS_MINUS.sub("±", plain).partition("±"))
    half = math.nan
    if mark:
        if not re.fullmatch(rf"{_DECIMAL} ?%?", doubt, re.ASCII) or not body:
            raise not_understood(whole, term)
        half = _decimal(doubt.rstrip(" %"), whole)
    if body.casefold() in ("direct", "straight", "straight through", "direct drive"):
        return [Reading(Value(1.0, half), "1")]
    body = re.sub(r"(?<=\d) ?t\b", "", body, flags=re.IGNORECASE)
    pair = re.fullmatch(r"(\d{1,3}) ?(?:[:/x]| to |-) ?(\d{1,3})", body, re.ASCII | re.IGNORECASE)
    if pair and not ("-" in body and min(int(pair[1]), int(pair[2])) < 6):
        return _gear_pair(int(pair[1]), int(pair[2]), half, term, whole)
    stretch = re.fullmatch(
        rf"({_DECIMAL}) ?(?:-|to|\.\.+) ?({_DECIMAL})", body, re.ASCII | re.IGNORECASE
    )
    if stretch and not mark and not re.fullmatch(r"1[.,0]*", stretch[2]):
        low, high = _decimal(stretch[1], whole), _decimal(stretch[2], whole)
        if not low < high <= 1.2 * low:
            raise not_understood(whole, term)
        middle, half = tidy((low + high) / 2), tidy((high - low) / 2)
        return [Reading(Value(middle, half), f"{shortest(middle)} ±{shortest(half)}")]
    found = re.fullmatch(
        rf"\+?({_DECIMAL})(?: ?(?:[:/]| to ) ?1(?:[.,]0+)?)?", body, re.ASCII | re.IGNORECASE
    )
    if not found or len(found[1]) > 14:
        raise not_understood(whole, term)
    number = _decimal(found[1], whole)
    if mark and doubt.endswith("%"):
        half = tidy(number * half / 100)
    step = (
        0.5 * 10.0 ** -len(re.split(r"[.,·]", found[1])[1])
        if re.search(r"[.,·]", found[1])
        else 0.5
    )
    return [Reading(Value(number, half), shortest(number), step=step)]


def _gear_pair(top: int, bottom: int, half: float, term: Term, whole: str) -> list[Reading]:
    """Teeth of two wheels, in either order; `4:1` is a ratio as it stands."""
    if not top or not bottom:
        raise not_understood(whole, term)
    if bottom == 1:
        return [Reading(Value(float(top), half), str(top))]
    if top == 1:
        raise CellError(
            f'"{visible(whole)}" is a ratio turned round, or a slip.',
            f"Type {bottom} or {shortest(1 / bottom)}.",
            [t for t in (str(bottom), shortest(1 / bottom)) if possible(Value(float(t)), term)],
        )  # fmt: skip
    either = sorted({top / bottom, bottom / top}, reverse=True)
    return [Reading(Value(ratio, half), shortest(round(ratio, 5))) for ratio in either]


def count(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    found = re.fullmatch(r"(\d{1,6})(?:[.,]0*)?", plain, re.ASCII)
    if not found:
        raise not_understood(whole, term)
    return [Reading(Value(float(found[1])), found[1])]


def counts(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    bare = re.sub(r"(?<=\d) ?(?:t|z|teeth|tooth)\b\.?", "", plain, flags=re.IGNORECASE)
    listed = re.fullmatch(r"\d{1,3}(?:(?: ?[/,;] ?| or | and | )\d{1,3})+", bare, re.ASCII)
    if listed:
        numbers = [int(n) for n in re.findall(r"\d+", bare)]
        if any(b - a != 1 for a, b in pairwise(numbers)):
            if not term.low <= min(numbers) < max(numbers) <= term.high:
                raise not_understood(whole, term)
            options = [f"{min(numbers)}..{max(numbers)}"]
            raise CellError(
                f'"{visible(whole)}" leaves numbers out.',
                f"Type {options[0]} if all between them are made, or one number.",
                options,
            )
        return [
            Reading(
                Value(float(numbers[0]), 0.0, float(numbers[-1])), f"{numbers[0]}..{numbers[-1]}"
            )
        ]
    found = re.fullmatch(
        r"(\d{1,3})(?: ?(?:\.\.+|-|to|bis) ?(\d{1,3}))?", bare, re.ASCII | re.IGNORECASE
    )
    if not found:
        raise not_understood(whole, term)
    low, high = float(found[1]), float(found[2] or found[1])
    if high < low:
        if not term.low <= high < low <= term.high:
            raise not_understood(whole, term)
        options = [f"{high:g}..{low:g}"]
        raise CellError(
            f'"{visible(whole)}" runs backwards.',
            f"Type the smaller number first, as {options[0]}.",
            options,
            mend=options[0],
        )
    return [Reading(Value(low, 0.0, high), f"{low:g}..{high:g}" if high > low else f"{low:g}")]


# Spellings of the commonest currencies; any other is known by what is typed.
_SAME = {
    "£": ("gbp", "pound", "pounds", "pound sterling", "pounds sterling", "quid"),
    "€": ("eur", "euro", "euros"),
    "$": ("usd", "us$", "dollar", "dollars", "bucks"),
    "kr": ("skr", "nkr", "dkr", "crown", "crowns", "kronor", "kroner"),
    "CHF": ("fr", "sfr", "franc", "francs"),
}
_CURRENCY_OF = {word: sign for sign, words in _SAME.items() for word in (sign.casefold(), *words)}


def currency(text: str) -> str:
    """The currency of a sum of money, "" where none is typed.

    >>> [currency(t) for t in ("£1,200", "1200 GBP", "$450 ono", "450")]
    ['£', '£', '$', '']
    """
    plain = clean(text).casefold()
    if plain.isdigit() or not _MONEY.fullmatch(plain):
        return ""
    found = re.search(rf"(?<![a-z]){_CURRENCY}(?![a-z])", plain)
    word = found[0].strip(" .") if found else ""
    return _CURRENCY_OF.get(word, word)


def money(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    if plain.casefold() in (
        "free",
        "gratis",
        "gift",
        "a gift",
        "nothing",
        "for free",
        "foc",
        "f.o.c.",
    ):
        return [Reading(Value(0.0), "0")]
    found = _MONEY.fullmatch(plain)
    if not found:
        raise not_understood(whole, term)
    # Money has two decimals: three digits behind a mark are thousands.
    number = amounts(found["number"], inch=False, thousands=True, whole=whole)[0].number * (
        1000 if found["k"] else 1
    )
    return [Reading(Value(number), shortest(number))]
