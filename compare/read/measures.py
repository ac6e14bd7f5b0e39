"""A number and its unit, with its doubt, its limits or its range:

every way in which a measure can be read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from compare.kinds import KINDS
from compare.problems import CellError, visible
from compare.read.numbers import NUMBER, Amount, amounts, shortest
from compare.read.units import factor, find_unit, kind_of_spelling, short_name
from compare.read.values import (
    LENGTHS,
    Reading,
    Value,
    not_understood,
    other_kind,
    outside,
    possible,
    such_as,
)
from compare.vocabulary import Term

__all__ = ["ONE_NUMBER", "PLUS_MINUS", "agree", "quantity", "tidy"]

INCHES = ("inch", "foot")
ONE_NUMBER = re.compile(
    rf"(?P<sign>[+-]?) ?(?P<number>{NUMBER})(?P<rest>.*)", re.ASCII | re.IGNORECASE
)
_LINKS = re.compile(
    rf"(?P<number>{NUMBER}) ?(?P<unit>[^\d.,]*?\.?)[ ,-]*(?=\d|$)", re.ASCII | re.IGNORECASE
)
PLUS_MINUS = re.compile(r"\+ ?/ ?-|\+-|\bplus ?(?:/| or | and )? ?minus\b|\+ or -", re.IGNORECASE)
_TOLERANCE = re.compile(
    rf"(?P<main>.*?\d.*?)(?: ?(?P<one>[+-] ?{NUMBER}|[+-] ?0) ?(?P<unit>[a-zµ\"']*)? ?[/ ,]? "
    rf"?(?P<two>[+-] ?{NUMBER})"
    rf"| (?P<alone>[+-]{NUMBER})) ?(?P<end>[a-zµ\"']*)",
    re.IGNORECASE | re.ASCII,
)
_ZERO_LIMIT = re.compile(r"([+-] ?[\d.,]+) ?/ ?0\.?0*(?= ?[a-z\"]*$)", re.IGNORECASE | re.ASCII)
_RANGE = re.compile(
    r"(?P<low>.*?\d.*?) ?(?P<word>\.\.+|\bto\b|\bbis\b| - |-) ?(?P<high>\d.*)",
    re.IGNORECASE | re.ASCII,
)


@dataclass(frozen=True)
class _Side:
    """One number of a cell: its readings, in the unit that is typed beside it (None: no unit)."""

    amounts: tuple[Amount, ...]
    unit: str | None
    typed: str

    @property
    def fraction(self) -> bool:
        return self.amounts[0].fraction

    @property
    def strange_fraction(self) -> bool:
        """A fraction of parts into which no rule is divided."""
        return self.fraction and round(0.5 / self.amounts[0].step) not in (2, 4, 8, 16, 32, 64, 128)


def _side(text: str, term: Term, default: str, whole: str) -> _Side:
    """One side of a cell. Raises CellError."""
    kind = term.kind
    text = text.strip()
    found = ONE_NUMBER.fullmatch(text)
    if not found:
        raise not_understood(whole, term)
    sign = -1.0 if found["sign"] == "-" else 1.0
    spelling = found["rest"].strip().rstrip(".").strip()
    unit = find_unit(kind, spelling) if spelling else None
    thousands = kind not in ("fraction", "number")
    if spelling and unit is None:
        chained = _chain(text[len(found["sign"]) :].strip(), term, whole)
        if chained is None:
            other = kind_of_spelling(spelling)
            if other and other not in (kind, "length" if kind in LENGTHS else ""):
                raise other_kind(whole, found["number"], spelling, other, term)
            raise not_understood(whole, term)
        return _Side((replace(chained[0], number=sign * chained[0].number),), chained[1], text)
    used = unit or default
    all_ways = amounts(found["number"], inch=used in INCHES, thousands=thousands, whole=whole)
    return _Side(tuple(replace(a, number=sign * a.number) for a in all_ways), unit, text)


def _chain(text: str, term: Term, whole: str) -> tuple[Amount, str] | None:
    """Feet and inches, stones and pounds, degrees and minutes:

    (the whole in the last unit, that unit). None: no such.
    """
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
                f'"{visible(whole)}" has {amount.number:g} {short_name(kind, unit)} beside a '
                f"larger unit.",
                *such_as(term),
            )
        total = total * (ratio or 0.0) + amount.number
        last, step = unit, amount.step
    return Amount(round(total, 9), False, step), last


def quantity(plain: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    """A length, mass, torque ...

    with its doubt or its range, and perhaps the same again in other units.
    """
    main, others = _equivalents(plain, term, unit, whole)
    found = _with_doubt(main, term, unit, whole)
    for other in others:
        beside = _with_doubt(other, term, None, whole)
        agreeing = [r for r in found if any(agree(r, b) for b in beside)]
        if not agreeing:
            options = [
                r.typed for r in (*found, *beside) if possible(r.value, term) and not r.open
            ][:2]
            fix = f"Type {', or '.join(options)}." if options else such_as(term)[0]
            raise CellError(f'"{visible(whole)}" gives two figures that differ.', fix, options)
        found = [replace(r, open=False) for r in agreeing]
    return found


def agree(one: Reading, other: Reading) -> bool:
    """Whether two figures are the same, as exactly as the coarser of them was written."""
    close = 0.005 * max(abs(one.value.nominal), abs(other.value.nominal))
    return abs(one.value.nominal - other.value.nominal) <= max(close, one.step, other.step) * (
        1 + 1e-9
    )


def _equivalents(plain: str, term: Term, unit: str | None, whole: str) -> tuple[str, list[str]]:
    """`27 mm (1 1/16)`, `612 mm = 24.1"` -> (what stands first, what it is said to equal)."""
    found = re.fullmatch(
        r"(?P<main>[^()=\[\]]*\d[^()=\[\]]*?) ?[(\[] ?(?P<inner>[^()=\[\]]+?) ?[)\]]", plain
    )
    if found:
        if re.match(r"±|\+ ?/? ?-|plus", found["inner"], re.IGNORECASE):
            return f"{found['main']} {found['inner']}", []
        if re.search(r"\d", found["inner"]):
            return found["main"], [found["inner"]]
        raise not_understood(whole, term)
    parts = [p.strip() for p in re.split(r" = |=| / ", plain)]
    if len(parts) == 2 and all(parts):
        typed = [ONE_NUMBER.fullmatch(p) for p in parts]
        if "=" in plain or any(t and find_unit(term.kind, t["rest"].strip(" .")) for t in typed):
            return parts[0], [parts[1]]
    return plain, []


def _with_doubt(text: str, term: Term, unit: str | None, whole: str) -> list[Reading]:
    default = unit or KINDS[term.kind].units[0].name
    body, mark, doubt = PLUS_MINUS.sub("±", text).partition("±")
    if mark:
        return _plus_minus(body.strip(), doubt.strip(), term, default, whole)
    if ".." not in text:
        try:
            found = _single(_side(text, term, default, whole), term, default)
            if found:
                return found
            first = not_understood(whole, term)
        except CellError as error:
            first = error
        tolerance = _TOLERANCE.fullmatch(_ZERO_LIMIT.sub(r"\1/-0", text))
        if tolerance:
            return _between_limits(tolerance, term, default, whole)
    else:
        first = not_understood(whole, term)
    stretch = _RANGE.fullmatch(
        re.sub(r"^(?:between|from) (.*\d.*) (?:and|to) ", r"\1 to ", text, flags=re.IGNORECASE)
    )
    if stretch:
        return _range(stretch, term, default, whole)
    raise _half_a_range(text, term, whole) if ".." in text else first


def _half_a_range(text: str, term: Term, whole: str) -> CellError:
    if term.free_choice:
        return CellError(
            f'"{visible(whole)}" is not a free choice.', "Type it as 12..25 mm.", ("12..25 mm",)
        )
    return CellError(f'"{visible(whole)}" is half a range.', *such_as(term))


def _units_for(*sides: _Side, term: Term, default: str) -> list[tuple[str, bool]]:
    """The units that untyped sides may have: [(unit, open)].

    A typed unit on one side counts for both.
    """
    typed = [s.unit for s in sides if s.unit]
    shared = typed[0] if typed else default
    fraction = any(s.fraction and s.unit is None for s in sides)
    if not fraction or term.kind not in LENGTHS or shared in (*INCHES, "thou"):
        return [(shared, False)]
    if any(s.unit is None and s.strange_fraction for s in sides):
        return []  # 95/98 is two numbers
    # A bare fraction is never taken as millimetres: inches, or the unit of the other side, and only
    # the person knows.
    return [("inch", True), (shared, True)]


def _single(side: _Side, term: Term, default: str) -> list[Reading]:
    out = []
    for unit, is_open in _units_for(side, term=term, default=default):
        scale = factor(term.kind, side.unit or unit)
        for amount in side.amounts:
            typed = (
                f"{side.typed} {short_name(term.kind, unit)}"
                if is_open
                else _typed(amount.number, side.unit or unit, term.kind)
            )
            value = Value(tidy(amount.number * scale))
            out.append(Reading(value, typed, amount.mark, is_open, amount.step * scale))
    return [r for r in out if not r.open or r.typed.endswith(" in")] or out


def tidy(number: float) -> float:
    """A sum without the dust of binary fractions: nine decimals are more than anyone measures."""
    return round(float(f"{number:.14g}"), 11)


def _plus_minus(body: str, doubt: str, term: Term, default: str, whole: str) -> list[Reading]:
    if not body or not doubt:
        raise CellError(f'"{visible(whole)}" has a ± with nothing beside it.', *such_as(term))
    if "±" in doubt:
        raise CellError(f'"{visible(whole)}" has more than one ±.', *such_as(term))
    if ".." in body:
        raise _half_a_range(body, term, whole)
    main = _side(body, term, default, whole)
    share = doubt.endswith("%") and term.kind != "fraction"
    measure, usual = (Term("share", "number", ""), "dimensionless") if share else (term, default)
    try:
        beside = _side(doubt.rstrip(" %") if share else doubt, measure, usual, whole)
    except CellError:
        if share:
            raise not_understood(whole, term) from None
        raise
    if any(a.number < 0 for a in beside.amounts) or re.match(r"[+-]", doubt):
        raise CellError(f'"{visible(whole)}" has a doubt below nothing.', *such_as(term))
    if share:
        half = beside.amounts[-1].number / 100
        if main.amounts[0].number == 0:
            raise CellError(
                f'"{visible(whole)}" is a share of nothing: it would be certain.', *such_as(term)
            )
        return [
            replace(
                r,
                value=Value(r.value.nominal, tidy(abs(r.value.nominal) * half)),
                typed=f"{r.typed} ±{shortest(half * 100)} %",
            )
            for r in _single(main, term, default)
        ]
    out: list[Reading] = []
    for unit, is_open in _units_for(main, beside, term=term, default=default):
        out += _doubtful(main, beside, unit, is_open, term)
    if not out:
        raise not_understood(whole, term)
    if (
        main.unit is None
        and beside.unit
        and not main.fraction
        and not any(possible(r.value, term) for r in out)
    ):
        out += _doubtful(
            main, beside, default, False, term
        )  # 612 ±1/8 in: the value in the column's own unit
    return out


def _doubtful(main: _Side, beside: _Side, unit: str, is_open: bool, term: Term) -> list[Reading]:
    own, other = main.unit or unit, beside.unit or unit
    if is_open and unit == "inch" and not main.fraction and main.unit is None:
        own = KINDS[term.kind].units[0].name  # 610 ±1/16: it is the doubt whose unit is asked for
    half = min(beside.amounts, key=lambda a: a.number).number
    out = []
    for amount in main.amounts:
        doubt = _as_typed(beside, beside.amounts[-1], other, term)
        typed = f"{_as_typed(main, amount, own, term)} ±{doubt}"
        value = Value(
            tidy(amount.number * factor(term.kind, own)), tidy(half * factor(term.kind, other))
        )
        out.append(Reading(value, typed, amount.mark, is_open))
    return out


def _as_typed(side: _Side, amount: Amount, unit: str, term: Term) -> str:
    """One side as it was typed where that was a fraction, else as a plain number; with its unit."""
    if not side.fraction:
        return _typed(amount.number, unit, term.kind)
    return side.typed if side.unit else f"{side.typed} {short_name(term.kind, unit)}"


def _typed(number: float, unit: str, kind: str) -> str:
    return f"{shortest(number)} {short_name(kind, unit)}".strip()


def _between_limits(found: re.Match[str], term: Term, default: str, whole: str) -> list[Reading]:
    """`610 +5/-3`, `15 mm -0.02`: the middle of the two limits, and half of what lies between."""
    main = _side(found["main"], term, default, whole)
    ends = [found["one"] or found["alone"], found["two"] or "0"]
    unit_text = " " + (found["unit"] or found["end"] or "")
    sides = [_side(e.replace(" ", "") + unit_text, term, default, whole) for e in ends]
    if found["alone"] and main.unit is None and (sides[0].fraction or term.low < 0):
        raise not_understood(whole, term)
    used = main.unit or sides[0].unit or default
    if any(s.fraction and s.unit is None for s in sides) and used not in INCHES:
        raise not_understood(whole, term)
    low, high = sorted(s.amounts[-1].number * factor(term.kind, s.unit or used) for s in sides)
    if high - low <= 0:
        raise not_understood(whole, term)
    out = []
    for amount in main.amounts:
        middle = amount.number * factor(term.kind, main.unit or used) + (low + high) / 2
        half = (high - low) / 2
        if half > 0.2 * abs(middle):
            raise not_understood(whole, term)
        kept = factor(term.kind, used)
        typed = f"{_typed(middle / kept, used, term.kind)} ±{_typed(half / kept, used, term.kind)}"
        out.append(Reading(Value(tidy(middle), tidy(half)), typed, amount.mark))
    return out


def _range(found: re.Match[str], term: Term, default: str, whole: str) -> list[Reading]:
    """`12..25 mm`: a free choice where the column allows one, else a middle and a doubt."""
    low_side, high_side = (
        _side(found["low"], term, default, whole),
        _side(found["high"], term, default, whole),
    )
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
                low = tidy(low_amount.number * factor(term.kind, low_unit))
                high = tidy(high_amount.number * factor(term.kind, high_unit))
                if high < low or (high == low and not term.free_choice):
                    continue
                value = (
                    Value(low, 0.0, high)
                    if term.free_choice
                    else Value(tidy((low + high) / 2), tidy((high - low) / 2))
                )
                ends = ((low_amount.number, low_unit), (high_amount.number, high_unit))
                typed = "..".join(_typed(number, of, term.kind) for number, of in ends)
                if possible(Value(low), term) and possible(Value(high), term):
                    out.append(Reading(value, typed, low_amount.mark or high_amount.mark, is_open))
    if out:
        return out
    low, high = (
        s.amounts[-1].number * factor(term.kind, s.unit or default) for s in (low_side, high_side)
    )
    if high > low or not (possible(Value(low), term) and possible(Value(high), term)):
        raise outside(term, whole)
    if high == low:
        once = low_side.typed
        raise CellError(f'"{visible(whole)}" ends where it begins.', f"Type {once}.", (once,))
    turned = f"{high_side.typed}..{low_side.typed}"
    raise CellError(
        f'"{visible(whole)}" runs backwards.',
        f"Type the smaller number first, as {turned}.",
        (turned,),
    )
