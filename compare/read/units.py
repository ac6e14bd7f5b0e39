"""Units as people spell them -> factors.

The only importer of pint, which was asked once per unit's name: the answers are kept in `factors`.
"""

from __future__ import annotations

import math
import re
from functools import cache

from compare.kinds import KINDS
from compare.read.factors import FACTORS

__all__ = ["asked_of_pint", "factor", "find_unit", "kind_of_spelling", "short_name"]


@cache
def factor(kind: str, unit: str) -> float:
    """How many internal units one `unit` (a name that pint knows) is.

    >>> factor("length", "inch")
    25.4
    """
    kept = KINDS[kind].kept
    if unit == kept:
        return 1.0
    if kind == "angle" and unit == "degree":  # the usual case; saves loading pint
        return math.pi / 180
    known = FACTORS.get((kept, unit))
    return asked_of_pint(kind, unit) if known is None else known


def asked_of_pint(kind: str, unit: str) -> float:
    """The same from pint itself, for a unit that nobody has asked for yet.

    >>> asked_of_pint("speed", "mile / hour")
    1.609344
    """
    kept = KINDS[kind].kept
    # Fourteen digits are more than any unit is defined to in print, and less than what binary sums
    # spoil.
    return float(f"{_registry().Quantity(1.0, unit).to(kept).magnitude:.14g}")


@cache
def _registry():  # type: ignore[no-untyped-def]
    import pint

    try:
        return pint.UnitRegistry(
            cache_folder=":auto:"
        )  # its own cache beside other programs' caches; saves 0.4 s a run
    except OSError:
        return pint.UnitRegistry(cache_folder=None)


@cache
def find_unit(kind: str, spelling: str) -> str | None:
    """The pint name for a unit as people spell it, within one kind of quantity;

    None when it is not one.

    >>> find_unit("torque", "Lb-Ft"), find_unit("length", "kg")
    ('foot * pound_force', None)
    """
    key = re.sub(r"[ .·*-]", "", spelling.casefold())
    if not key:
        return None
    for unit in KINDS[kind].units if kind in KINDS else ():
        if key in unit.spellings:
            return unit.name
    return None


def kind_of_spelling(spelling: str) -> str | None:
    """The first kind of quantity that has such a unit, to say what was typed instead.

    >>> kind_of_spelling("lbs"), kind_of_spelling("furlong")
    ('mass', None)
    """
    for kind in ("length", "torque", "mass", "angle", "speed", "area", "rpm", "per_km"):
        if find_unit(kind, spelling):
            return kind
    return None


@cache
def short_name(kind: str, unit: str) -> str:
    """How a unit is written in a fix: the first spelling, or the kind's own way for its usual unit.

    >>> short_name("torque", "newton * meter"), short_name("torque", "foot * pound_force")
    ('N·m', 'lb ft')
    >>> short_name("length", "inch")
    'in'
    """
    entry = KINDS[kind]
    if unit == entry.kept and entry.kept_unit and entry.unit == entry.kept_unit:
        return entry.unit
    special = {
        "foot * pound_force": "lb ft",
        "inch * pound_force": "lb in",
        "kilogram_force * meter": "kgf m",
    }
    if unit in special:
        return special[unit]
    return next((u.spellings[0] for u in entry.units if u.name == unit and u.spellings), "")
