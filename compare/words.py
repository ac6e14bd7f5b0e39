"""Sentences that every report carries: cautions, sources, and what to measure next."""

from __future__ import annotations

import math

from compare.answer.report import KIND_UNIT, plain_name
from compare.answer.visits import Dimension, Missing, term_of
from compare.figures import figure

__all__ = ["CAUTIONS", "SOURCES", "measure_line", "missing_line"]

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


def measure_line(d: Dimension, units: str = "metric") -> str:
    """One dimension in plain words."""
    term = term_of(d.column)
    whose = "the car" if d.owner == "car" else d.owner
    tool = f" ({term.tool})" if term.tool else ""
    question = d.question.rstrip("?")
    question = question[0].lower() + question[1:]
    if d.missing:
        return f"{plain_name(d.column)} of {whose}{tool}: not known, and it decides: {question}?"
    unit = KIND_UNIT.get(term.kind, "mm")
    doubt = figure(d.half, {"mm": "mm doubt", "mm diameter": "mm doubt", "rad": "rad doubt"}.get(unit, unit), units)
    if d.column in ("tyre_scale", "tyre_aspect"):
        doubt = f"{100 * d.half:.0f} %"
    check = d.check.replace("_", " ")
    lead = f"{plain_name(d.column)} of {whose}{tool}: known to ±{doubt}; decides "
    if d.settles >= 0.005:
        return lead + f"{100 * d.settles:.0f} % of whether {d.candidate} goes in, most by way of {check}"
    return lead + f"{100 * d.share:.0f} % of the doubt in {check} of {d.candidate}"


def missing_line(m: Missing, units: str = "metric") -> str:
    """A build judged over the plausible range of an unknown number."""
    unit = KIND_UNIT.get(term_of(m.column).kind, "mm")
    span = f"{figure(m.low, unit, units)} to {figure(m.high, unit, units)}"
    basis = "as in the rest of your catalogue" if m.from_catalogue else "all that is possible"
    name = plain_name(m.column)
    if math.isnan(m.goes_from):
        return f"{m.candidate}: wherever its {name} lies in {span} ({basis}), it does not go in."
    text = f"{m.candidate}: with its {name} anywhere in {span} ({basis}), chance to go in {100 * m.chance:.0f} %"
    if m.also_missing:
        return text + f", {', '.join(plain_name(n) for n in m.also_missing)} being unknown too."
    edges = []
    if m.goes_from > m.low + 1e-6:
        edges.append(f"at least {figure(m.goes_from, unit, units)}")
    if m.goes_to < m.high - 1e-6:
        edges.append(f"at most {figure(m.goes_to, unit, units)}")
    return text + (f"; it goes in with {' and '.join(edges)}." if edges else ".")
