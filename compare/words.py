"""Sentences that every report carries: cautions and sources."""

from __future__ import annotations

__all__ = ["CAUTIONS", "SOURCES"]

CAUTIONS = (
    "Work under a car only on stands rated for it, never on a jack alone; a gearbox is heavy, so use a hoist or a second person.",
    "Old clutch linings may hold asbestos: no blowing out, no dry brushing.",
    "Cut or weld structural metal only on the advice of someone qualified; ask what your local rules say about modified vehicles, "
    "inspection and insurance before the work.",
    "A propeller shaft that fails is dangerous: have it made and balanced by a specialist, and guard it where rules ask for it.",
    "These figures are for planning. Measure the parts in hand before machining; a hardened shaft throws hot, hard chips.",
)
SOURCES = (
    ("tyre size", "ISO 4000-1 (from memory); ETRTO Standards Manual for rolling circumference"),
    ("joint angles", "Dana Spicer, driveline operating angle guide, basic rules"),
    ("cancellation", "SAE AE-7, Universal Joint and Driveshaft Design Manual, 3.1.1"),
    ("whirling", "IMS Ltd, drive shaft technical data; simply supported tube, E 207 GPa, 7850 kg/m³"),
    ("speedometer", "UN Regulation 39, 5.3"),
    ("fits", "ISO 286-2"),
    ("splines", "SAE J499; ISO 14; ANSI B92.1"),
    ("case depth", "Ovako, Case hardening steel; Hauck Heat Treatment, Case hardening"),
    ("running clearance", "RBC Bearings, Running clearance: about 0.0015 in per inch of bore, installed"),
    ("doubt", "JCGM 100:2008, 4.3.7 and JCGM 101:2008: rectangular, by draws"),
    ("weights", "SMAA, Lahdelma et al. 1998: weights uniform over the simplex"),
    ("air", "ISO 2533"),
    ("working under a car", "HSE, vehicle repair, and INDG434"),
    ("asbestos", "US EPA, 2007 brochure for home mechanics"),
    ("structure", "Australian VSB 14 and VSB 6, B1, as examples: approval before work, no weakening of frame or crossmember"),
    ("all other limits, hours and costs", "common practice of the trade, no source"),
)
