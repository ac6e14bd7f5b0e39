"""What is possible and hardly meant: a candidate against itself, its neighbours and today's
gearbox.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from compare.judge.draws import Draw, car_arrays
from compare.problems import visible
from compare.read.car import Car
from compare.read.catalogue import Table
from compare.read.cells import find_unit
from compare.read.sheet import split_head
from compare.topics.gearing import engine_speed, rolling_circumference
from compare.vocabulary import CATALOGUE_COLUMNS, GEARS, catalogue_terms

__all__ = ["FASTEST", "Suspicion", "cruise_rpm_of", "suspicions", "suspicious_rows"]

# What is compared with the neighbours: sizes that differ little from gearbox to gearbox. Common
# practice, no source.
ALIKE = (
    "length", "case_length", "shaft_stickout", "pilot_diameter", "pilot_length", "spline_diameter", "spline_end",
    "mount_position", "mount_drop", "shifter_position", "bellhousing_depth", "case_left", "case_right", "case_top",
    "case_bottom", "tail_left", "tail_right", "tail_top", "tail_bottom", "collar_length", "collar_diameter",
)  # fmt: skip
FASTEST = 10_000  # rev/min; an engine of a car that cruises above it is none that we know of
FEWEST = 3  # neighbours, today's gearbox among them
FAR = 1.8  # times the middle of the others, or a share of it as small


@dataclass(frozen=True)
class Suspicion:
    """row: of the table; reason: what looks wrong and why; suggestion: what to try; worst: the
    less, the worse.
    """

    row: int
    reason: str
    suggestion: str
    worst: int


def cruise_rpm_of(car: Car, ratio: float) -> float:
    """Engine speed [rev/min] at the car's cruising speed in a gear of some ratio; NaN where tyre,
    axle or speed are not known.
    """
    names = car_arrays(car, Draw())
    circumference = rolling_circumference(
        *(names[n] for n in ("tyre_rolling_circumference", *TYRE))
    )
    speed = engine_speed(names["cruise_speed"], circumference, names["axle_ratio"], np.array(ratio))
    return float(speed[0, 0])


TYRE = ("tyre_width", "tyre_aspect", "tyre_rim", "tyre_radial", "tyre_scale")


def _get(table: Table, name: str) -> np.ndarray:
    return table.columns[name].nominal if name in table.columns else np.full(len(table), np.nan)


# What eighths and sixteenths of an inch become when a spreadsheet program keeps two decimals.
ROUNDED = {
    "06": "1/16",
    "13": "1/8",
    "19": "3/16",
    "31": "5/16",
    "38": "3/8",
    "44": "7/16",
    "56": "9/16",
    "63": "5/8",
    "69": "11/16",
    "81": "13/16",
    "88": "7/8",
    "94": "15/16",
}


TWO_DECIMALS = re.compile(r'(\d*)[.,](\d\d) ?(in\.?|inch|inches|")?', re.IGNORECASE)


def _rounded(table: Table) -> list[tuple[int, str, str]]:
    """Inches with two decimals that a fraction seems to have been rounded to:

    up to 0.13 mm are lost.
    """
    found = []
    for at, head in enumerate(table.head):
        name, unit_text = split_head(head)
        unit = find_unit("length", unit_text or "") == "inch"
        term = catalogue_terms().get(name)
        if term is None or term.kind not in ("length", "diameter", "position"):
            continue
        texts = [cells[at] for cells in table.rows]
        matches = {t: TWO_DECIMALS.fullmatch(t.strip()) for t in set(texts)}
        matches = {t: m for t, m in matches.items() if m and (unit or m[3]) and m[2] in ROUNDED}
        for row, text in enumerate(texts if matches else ()):
            match = matches.get(text)
            if match:
                whole = f"{match[1]} " if match[1].strip("0") else ""
                found.append(
                    (
                        row,
                        f"{head} is {text.strip()}: a fraction rounded by a spreadsheet program?",
                        f"If {whole}{ROUNDED[match[2]]} in was meant, type that, in a column "
                        f"formatted as text.",
                    )
                )
    return found


def suspicions(table: Table, car: Car | None = None) -> list[Suspicion]:
    """Every suspicion of a catalogue, the worst first; `car` for the gearbox that is in it today."""
    parts = (
        _against_itself(table),
        _gears(table),
        _against_others(table, car),
        _twins(table),
        _doubts(table),
        _rounded(table),
    )
    found = [Suspicion(*one, worst) for worst, some in enumerate(parts) for one in some]
    return sorted(found, key=lambda s: (s.worst, s.row))


Get = Callable[[str], np.ndarray]
# (what may not be, what looks wrong, what to try); NaN is never suspicious.
CONTRADICTIONS: tuple[tuple[Callable[[Get], np.ndarray], str, str], ...] = (
    (lambda get: get("pilot_diameter") >= get("spline_diameter"),
     "the pilot is as wide as the splines or wider.", "Are the two columns swapped?"),
    (lambda get: get("pilot_length") > get("spline_start"),
     "the journal ends behind the first full spline.", "Both count from the tip; measure again."),
    (lambda get: get("spline_end") <= get("spline_start"),
     "the splines end before they start.", "Are spline_start and spline_end swapped?"),
    (lambda get: get("spline_end") > get("shaft_stickout"),
     "the splines run on behind the gearbox's front face.", "Measure shaft_stickout and spline_end from the same tip."),
    (lambda get: get("case_length") > get("length"),
     "the case is longer than the whole gearbox.", "Are the two columns swapped?"),
    (lambda get: get("mount_position") > get("length"),
     "the mount stands behind the output joint.", "Measure both from the front face."),
    (lambda get: get("mount_position") < 60,
     "the mount stands almost at the front face.", "It counts from the front face rearward; or is it in inches?"),
    (lambda get: get("shifter_position") > get("length") + 100,
     "the lever stands far behind the output joint.", "Measure from the front face."),
    (lambda get: get("collar_length") >= get("shaft_stickout"),
     "the release-bearing guide reaches the shaft's tip.", "Measure both from the front face."),
    (lambda get: get("mount_drop") > get("case_bottom") + 120,
     "the mount pad hangs far below the case.", "It counts from the axis."),
    (lambda get: get("register_diameter") < get("collar_diameter"),
     "the register is narrower than the guide inside it.", "Are the two swapped?"),
    (lambda get: get("speedo_driver_teeth") > get("speedo_driven_teeth"),
     "the speedometer's drive has more teeth than its pinion.", "Are driver and driven swapped?"),
)  # fmt: skip


def suspicious_rows(table: Table, car: Car) -> list[dict[str, Any]]:
    """The same, as the JSON has it."""
    return [
        {
            "candidate": table.names[s.row],
            "line": table.lines[s.row],
            "found": s.reason,
            "fix": s.suggestion,
        }
        for s in suspicions(table, car)
    ]


def _against_itself(table: Table) -> list[tuple[int, str, str]]:
    """Columns of one candidate that contradict each other."""
    found = []
    with np.errstate(invalid="ignore"):
        for wrong, reason, suggestion in CONTRADICTIONS:
            mask = wrong(lambda name: _get(table, name))
            found += [(int(row), reason, suggestion) for row in np.flatnonzero(mask)]
    return found


def _gears(table: Table) -> list[tuple[int, str, str]]:
    found = []
    ratios = np.stack([_get(table, g) for g in GEARS], axis=1)
    there = np.isfinite(ratios)
    with np.errstate(invalid="ignore"):
        falls = (np.diff(ratios, axis=1) < 0) | ~there[:, 1:]
    odd = ~falls.all(axis=1) | (there[:, 1:] & ~there[:, :-1]).any(axis=1)
    for row in np.flatnonzero(odd).tolist():
        known = ratios[row][np.isfinite(ratios[row])]
        if len(known) > 1 and (np.diff(known) >= 0).any():
            fix = "First gear has the largest ratio; check the order."
            found.append((row, "the ratios do not fall from gear to gear.", fix))
        gaps = np.isnan(ratios[row])
        last = int(np.flatnonzero(~gaps).max()) if (~gaps).any() else 0
        if gaps[:last].any() and last > 0:
            gear = int(np.flatnonzero(gaps[:last])[0]) + 1
            fix = f"Fill in ratio_{gear}, or move the higher gears down."
            found.append((row, f"gear {gear} is missing between others.", fix))
    return found


def _against_others(table: Table, car: Car | None) -> list[tuple[int, str, str]]:
    """Sizes far from those of the other gearboxes, the one in the car today among them."""
    found = []
    for name in ALIKE:
        values = _get(table, name)
        today = car.present[name].nominal if car is not None and name in car.present else math.nan
        middles = _middles_of_others(values, today)
        with np.errstate(invalid="ignore"):
            far = (middles > 0) & ~((middles / FAR <= values) & (values <= middles * FAR))
        for row in np.flatnonzero(far).tolist():
            others = np.append(np.delete(values, row), today)
            others = others[np.isfinite(others)]
            if len(others) >= FEWEST:
                who = "the others and today's gearbox" if math.isfinite(today) else "the others"
                between = f"{others.min():g} to {others.max():g} mm"
                reason = f"{name} is {values[row]:g} mm, {who} have {between}."
                found.append((row, reason, "In another unit, or of another place?"))
    return found


def _middles_of_others(values: np.ndarray, today: float) -> np.ndarray:
    """The median of all others for each value, and of today's; NaN where it has none or is none
    itself.

    >>> _middles_of_others(np.array([1.0, 4.0, np.nan, 2.0]), 8.0).tolist()
    [4.0, 2.0, nan, 4.0]
    """
    everyone = np.append(values, today)
    rising = np.sort(everyone[np.isfinite(everyone)])
    left = len(rising) - 1
    if left < 1:
        return np.full(len(values), math.nan)
    own = np.searchsorted(rising, values)
    without = lambda at: rising[np.minimum(at + (at >= own), left)]
    return np.where(
        np.isfinite(values), (without((left - 1) // 2) + without(left // 2)) / 2.0, math.nan
    )


def _twins(table: Table) -> list[tuple[int, str, str]]:
    """Two names for the same numbers."""
    kinds = ("length", "diameter", "ratio", "angle", "count")
    compared = [t.name for t in CATALOGUE_COLUMNS if t.name in table.columns and t.kind in kinds]
    if not compared:
        return []
    numbers = np.stack([table.columns[c].nominal for c in compared], axis=1)
    numbers = np.where(np.isnan(numbers), -1.0, numbers) + 0.0  # one zero, not two
    seen: dict[bytes, int] = {}
    found = []
    for row in np.flatnonzero((numbers >= 0).sum(axis=1) >= 4).tolist():
        first = seen.setdefault(numbers[row].tobytes(), row)
        if first != row:
            reason = f"every number is that of {visible(table.names[first], 40)}."
            found.append(
                (row, reason, "One gearbox under two names? Keep one, or measure what differs.")
            )
    return found


def _doubts(table: Table) -> list[tuple[int, str, str]]:
    """Doubts as large as the number."""
    found = []
    for name, cells in table.columns.items():
        if catalogue_terms().get(name) is None or catalogue_terms()[name].kind != "length":
            continue
        with np.errstate(invalid="ignore"):
            wide = (
                np.isfinite(cells.half)
                & (cells.nominal != 0)
                & (cells.half > np.abs(cells.nominal) * 0.5)
            )
        for row in np.flatnonzero(wide).tolist():
            reason = f"{name} of {visible(table.names[row], 40)} is doubtful by more than half of itself."
            found.append((row, reason, "Is the ± in another unit than the value?"))
    return found
