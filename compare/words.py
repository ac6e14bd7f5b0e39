"""What every report carries: cautions, what is not judged, sources; and chances in words."""

from __future__ import annotations

import math
from typing import Any

from compare.judge.outcome import percent
from compare.said import fill

__all__ = [
    "CAUTIONS",
    "NOT_JUDGED",
    "SOURCES",
    "chance_words",
    "draws_words",
    "money_words",
    "ways_words",
]

CAUTIONS = (
    "Work under a car only on stands rated for it, never on a jack alone; a gearbox is heavy, so use a hoist or a second person.",
    "Old clutch linings may hold asbestos: no blowing out, no dry brushing.",
    "Cut or weld structural metal only on the advice of someone qualified; ask what your local rules say about modified vehicles, "
    "inspection and insurance before the work.",
    "A propeller shaft that fails is dangerous: have it made and balanced by a specialist, and guard it where rules ask for it.",
    "These figures are for planning. Measure the parts in hand before machining; a hardened shaft throws hot, hard chips.",
)  # fmt: skip
NOT_JUDGED = (
    "starter and ring gear, cable side and turn, reverse switch, exhaust, handbrake cable, dipstick, oil, clutch's capacity, "
    "linkage, lean of the gearbox"
)  # fmt: skip
SOURCES = (
    ("tyre size", "ISO 4000-1 (from memory); ETRTO Standards Manual for rolling circumference"),
    ("joint angles", "Dana Spicer, driveline operating angle guide, basic rules"),
    ("cancellation", "SAE AE-7, Universal Joint and Driveshaft Design Manual, 3.1.1"),
    ("whirling", "IMS Ltd, drive shaft technical data; simply supported tube, E 207 GPa, 7850 kg/m³"),
    ("speedometer", "UN Regulation 39, 5.3"),
    ("fits and undercuts", "ISO 286-2; DIN 509; ISO 2768-1"),
    ("splines", "SAE J499; ISO 14; ANSI B92.1; DIN 5480"),
    ("case depth", "Ovako, Case hardening steel; Hauck Heat Treatment, Case hardening"),
    ("running clearance", "RBC Bearings, Running clearance: about 0.0015 in per inch of bore, installed"),
    ("doubt", "JCGM 100:2008, 4.3.7 and JCGM 101:2008: rectangular, by draws (Latin hypercube)"),
    ("weights", "SMAA, Lahdelma et al. 1998: values and weights drawn together"),
    ("air", "ISO 2533"),
    ("working under a car", "HSE, vehicle repair, and INDG434"),
    ("asbestos", "US EPA, 2007 brochure for home mechanics"),
    ("structure", "Australian VSB 14 and VSB 6, B1, as examples: approval before work, no weakening of frame or crossmember"),
    ("all other limits, hours and costs", "common practice of the trade, no source"),
)  # fmt: skip


def chance_words(row: dict[str, Any], key: str = "chance_fitted") -> str:
    """A row's chance as it is printed; a question mark where it cannot be said.

    >>> chance_words({"chance_fitted": 0.9999, "chance_error": 0.001}), chance_words({"chance_fitted": None})
    ('> 99 %', '?')
    """
    value = row.get(key)
    return "?" if value is None else percent(value, math.nan)


def draws_words(car: Any) -> str:
    """How much was drawn; a chance that needs more draws than the others has up to the most.

    >>> draws_words({"draws": 512, "most_draws": 2560}), draws_words({"draws": 0, "most_draws": 0})
    ('512 to 2560 draws', 'nominal values only')
    """
    if not car["draws"]:
        return "nominal values only"
    most = "" if car["most_draws"] == car["draws"] else f" to {car['most_draws']}"
    return f"{car['draws']}{most} draws"


def money_words(value: float | None, currency: str = "") -> str:
    """Money without cents; what is not known is said.

    >>> money_words(1234.4, "crowns"), money_words(None)
    ('1234 crowns', 'not known')
    """
    if value is None:
        return "not known"
    return f"{value:.0f} {currency}".strip()


def ways_words(rows: Any, candidate: str, units: str = "metric") -> list[str]:
    """The ways out of one candidate, the nearest first; what helps only together stands together.

    >>> rows = [{"candidate": "A", "change": n, "together": n == 1, "text": t} for n, t in ((1, "x"), (1, "y"), (2, "z"))]
    >>> ways_words(rows, "A")
    ['only together: x and y', 'z']
    """
    found: dict[int, list[Any]] = {}
    for row in rows or ():
        if row["candidate"] == candidate:
            found.setdefault(row["change"], []).append(row)
    return [
        ("only together: " if some[0]["together"] else "")
        + " and ".join(fill(r["text"], units) for r in some)
        for some in found.values()
    ]
