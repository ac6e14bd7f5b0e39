"""What the standards say of splines and fits; for identifying and for ordering, no rule asks for
it.
"""

from __future__ import annotations

import math

__all__ = [
    "DIN_5480", "GRADES", "ISO_14", "closing", "din_5480_tips", "general_tolerance",
    "identify_spline", "least_graphite_wall", "limits_of_size", "spline_torque_capacity", "undercut",
]  # fmt: skip

# Straight-sided splines, inch, 6 and 10 teeth: SAE J499 gives proportions of any diameter, usual
# diameters
# run in eighths of an inch. Metric: ISO 14 (BS 5686), (teeth, minor, major) [mm]. Involute: ANSI
# B92.1,
# major = (N + 1) / P inch for the standard pitches.
J499_TEETH = (4, 6, 10, 16)
ISO_14 = (
    (6, 23, 26), (6, 26, 30), (6, 28, 32), (8, 32, 36), (8, 36, 40), (8, 42, 46), (8, 46, 50), (8, 52, 58),
    (6, 11, 14), (6, 13, 16), (6, 16, 20), (6, 18, 22), (6, 21, 25), (6, 23, 28), (6, 26, 32), (6, 28, 34),
    (8, 32, 38), (8, 36, 42), (8, 42, 48), (8, 46, 54), (8, 52, 60),
    (8, 56, 62), (8, 62, 68), (10, 72, 78), (10, 82, 88), (10, 92, 98), (10, 102, 108), (10, 112, 120),
    (8, 56, 65), (8, 62, 72), (10, 72, 82), (10, 82, 92), (10, 92, 102), (10, 102, 112), (10, 112, 125),
)  # fmt: skip
# Involute, metric, of DIN 5480: (reference diameter, module, teeth); sizes seen in a catalogue or
# as stock.
DIN_5480 = ((20.0, 1.25, 14), (25.0, 1.25, 18), (30.0, 2.0, 14), (40.0, 2.0, 18))
B92_PITCHES = (10, 12, 16, 20, 24, 32, 40, 48)
FORM_TOLERANCE = 0.15


def spline_torque_capacity(
    teeth: float, major: float, minor: float, length: float, pressure: float
) -> float:
    """Torque of a straight-sided spline [lbf·in] = pressure × teeth × mean radius × height ×
    length, SAE J499.

    major, minor, length [in]; pressure [psi].

    >>> round(spline_torque_capacity(6, 1.0, 0.9, 1.0, 1000.0), 1)
    142.5
    """
    return pressure * teeth * (major + minor) / 4.0 * (major - minor) / 2.0 * length


def identify_spline(teeth: float, diameter: float) -> list[str]:
    """The standard forms whose teeth and major diameter [mm] match, in words; empty when none does.

    A straight and an involute spline can share both numbers: equal numbers are no proof of fit.

    >>> identify_spline(10, 25.4)
    ['straight-sided, 10 × 1 in (SAE J499)']
    >>> identify_spline(7, 24.3)
    []
    """
    found = []
    teeth = round(teeth)
    if teeth in J499_TEETH:
        eighths = round(diameter / 25.4 * 8)
        if eighths > 0 and abs(eighths * 25.4 / 8 - diameter) <= FORM_TOLERANCE:
            whole, rest = divmod(eighths, 8)
            size = f"{whole or ''}{' ' if whole and rest else ''}{_eighths(rest)}"
            found.append(f"straight-sided, {teeth} × {size} in (SAE J499)")
    for count, minor, major in ISO_14:
        if count == teeth and abs(major - diameter) <= FORM_TOLERANCE:
            found.append(f"straight-sided, {count}×{minor}×{major} mm (ISO 14)")
    for pitch in B92_PITCHES:
        if teeth >= 6 and abs((teeth + 1) / pitch * 25.4 - diameter) <= FORM_TOLERANCE:
            found.append(f"involute, {teeth} teeth {pitch} pitch (ANSI B92.1)")
    for reference, module, count in DIN_5480:
        if count == teeth and abs(din_5480_tips(reference, module)[0] - diameter) <= FORM_TOLERANCE:
            found.append(f"involute, W {reference:g} × {module:g} × {count} (DIN 5480)")
    return found


def din_5480_tips(reference: float, module: float) -> tuple[float, float]:
    """Tip diameters of shaft and hub [mm] by reference diameter and module [mm], DIN 5480-1.

    >>> din_5480_tips(25.0, 1.25)
    (24.75, 22.5)
    """
    return reference - 0.2 * module, reference - 2.0 * module


def _eighths(rest: int) -> str:
    return {0: "", 1: "1/8", 2: "1/4", 3: "3/8", 4: "1/2", 5: "5/8", 6: "3/4", 7: "7/8"}[rest]


# ISO 286-2 [µm] by nominal diameter, upper end of the range [mm] inclusive: IT6, IT7, then the
# fundamental
# deviations of e, f, g (upper) and p (lower). h has none. e of all ranges from memory.
BANDS = (
    (6, 8, 12, 20, 10, 4, 12), (10, 9, 15, 25, 13, 5, 15), (18, 11, 18, 32, 16, 6, 18), (30, 13, 21, 40, 20, 7, 22),
    (50, 16, 25, 50, 25, 9, 26), (80, 19, 30, 60, 30, 10, 32), (120, 22, 35, 72, 36, 12, 37),
    (180, 25, 40, 85, 43, 14, 43), (250, 29, 46, 100, 50, 15, 50), (315, 32, 52, 110, 56, 17, 56),
    (400, 36, 57, 125, 62, 18, 62), (500, 40, 63, 135, 68, 20, 68),
)  # fmt: skip
# Lower deviations of r and s, which have finer ranges above 50 mm. r above 280 mm from memory.
PRESSED = (
    (6, 15, 19), (10, 19, 23), (18, 23, 28), (30, 28, 35), (50, 34, 43), (65, 41, 53), (80, 43, 59), (100, 51, 71),
    (120, 54, 79), (140, 63, 92), (160, 65, 100), (180, 68, 108), (200, 77, 122), (225, 80, 130), (250, 84, 140),
    (280, 94, 158), (315, 98, 170), (355, 108, 190), (400, 114, 208), (450, 126, 232), (500, 132, 252),
)  # fmt: skip
GRADES = ("H7", "e7", "f7", "g6", "h6", "h7", "p6", "r6", "s6")


def limits_of_size(nominal: float, grade: str) -> tuple[float, float]:
    """Smallest and largest size [mm] of a nominal diameter over 3 to 500 mm in a grade of ISO 286-2.

    Of a size that is not known, NaN. Raises ValueError outside the table.

    >>> limits_of_size(16.0, "f7"), limits_of_size(146.0, "H7")
    ((15.966, 15.984), (146.0, 146.04))
    """
    if math.isnan(nominal):
        return math.nan, math.nan
    if not 3 < nominal <= 500 or grade not in GRADES:
        raise ValueError(f"{nominal} mm {grade} is outside the table of fits (over 3 to 500 mm)")
    it6, it7, e, f, g, p = next(band[1:] for band in BANDS if nominal <= band[0])
    r, s = next(band[1:] for band in PRESSED if nominal <= band[0])
    low, high = {
        "H7": (0, it7), "e7": (-e - it7, -e), "f7": (-f - it7, -f), "g6": (-g - it6, -g), "h6": (-it6, 0),
        "h7": (-it7, 0), "p6": (p, p + it6), "r6": (r, r + it6), "s6": (s, s + it6),
    }[grade]  # fmt: skip
    return round(nominal + low / 1000, 3), round(nominal + high / 1000, 3)


# ISO 2768-1, Table 1 [mm]: upper end of the range of lengths (inclusive), fine, medium.
ISO_2768 = (
    (3, 0.05, 0.1), (6, 0.05, 0.1), (30, 0.1, 0.2), (120, 0.15, 0.3), (400, 0.2, 0.5), (1000, 0.3, 0.8),
    (2000, 0.5, 1.2), (4000, math.nan, 2.0),
)  # fmt: skip


def general_tolerance(length: float, fine: bool = False) -> float:
    """± of a length without a tolerance of its own [mm], ISO 2768-1 m (or f), from 0.5 to 4000 mm.

    A shorter length, which wants a tolerance of its own, is given that of the first range.

    >>> general_tolerance(46.0), general_tolerance(46.0, fine=True), general_tolerance(2.0)
    (0.3, 0.15, 0.1)
    """
    if math.isnan(length):
        return math.nan
    for top, f, m in ISO_2768:
        if length <= top:
            return f if fine else m
    raise ValueError(f"{length} mm is outside ISO 2768-1 (to 4000 mm)")


# DIN 509, forms E and F [mm]: upper end of the range of diameters, radius, depth, length.
DIN_509 = (
    (1.6, 0.1, 0.1, 0.5), (3.0, 0.2, 0.1, 1.0), (10.0, 0.2, 0.2, 2.0), (18.0, 0.6, 0.2, 2.0),
    (80.0, 0.6, 0.3, 2.5), (math.inf, 1.0, 0.4, 4.0),
)  # fmt: skip


def undercut(diameter: float) -> tuple[str, float]:
    """(how it is written, its length [mm]) of the undercut at a shoulder by its shaft [mm], DIN 509 F.

    >>> undercut(12.7), undercut(18.2)
    (('DIN 509 – F 0.6 × 0.2', 2.0), ('DIN 509 – F 0.6 × 0.3', 2.5))
    """
    if math.isnan(diameter):
        return "", math.nan
    _, radius, depth, length = next(row for row in DIN_509 if diameter <= row[0])
    return f"DIN 509 – F {radius:g} × {depth:g}", length


# Centre holes, ISO 6411 form A: d and the mouth of its cone [mm], by the shaft's end (a module's
# rule, weak).
CENTRES = (
    (8.0, 1.0, 2.12),
    (12.0, 1.6, 3.35),
    (20.0, 2.0, 4.25),
    (30.0, 2.5, 5.3),
    (math.inf, 3.15, 6.7),
)


def centre_hole(diameter: float) -> str:
    """The centre for a shaft's end [mm], as it is written: ISO 6411 form A, sizes of DIN 332.

    >>> centre_hole(13.96)
    'ISO 6411 – A2/4.25'
    """
    _, d, mouth = next(row for row in CENTRES if diameter <= row[0] or math.isnan(diameter))
    return f"ISO 6411 – A{d:g}/{mouth:g}"


def closing(inner: float, outer: float, poisson: float = 0.3) -> float:
    """By how much of the interference a bush's bore closes in a rigid housing: Lamé.

    2ab / (a² + b² − ν (b² − a²)); inner, outer: diameters of the bush [mm].

    >>> round(closing(12.0, 16.0), 3)
    1.048
    """
    a, b = inner, outer
    return 2.0 * a * b / (a * a + b * b - poisson * (b * b - a * a))


def least_graphite_wall(journal: float) -> float:
    """Least wall of a bush of graphite bronze, lightly loaded [mm] = √(0.5 d): SLSM 1002.

    >>> round(least_graphite_wall(12.0), 2)
    2.45
    """
    return math.sqrt(0.5 * journal)
