"""What the standards say of splines and fits; for identifying and for ordering, no rule asks for it."""

from __future__ import annotations

__all__ = ["ISO_14", "ISO_286", "identify_spline", "limits_of_size", "spline_torque_capacity"]

# Straight-sided splines, inch, 6 and 10 teeth: SAE J499 gives proportions of any diameter, usual diameters
# run in eighths of an inch. Metric: ISO 14 (BS 5686), (teeth, minor, major) [mm]. Involute: ANSI B92.1,
# major = (N + 1) / P inch for the standard pitches.
J499_TEETH = (4, 6, 10, 16)
ISO_14 = (
    (6, 23, 26), (6, 26, 30), (6, 28, 32), (8, 32, 36), (8, 36, 40), (8, 42, 46), (8, 46, 50), (8, 52, 58),
    (6, 11, 14), (6, 13, 16), (6, 16, 20), (6, 18, 22), (6, 21, 25), (6, 23, 28), (6, 26, 32), (6, 28, 34),
    (8, 32, 38), (8, 36, 42), (8, 42, 48), (8, 46, 54), (8, 52, 60),
)  # fmt: skip
B92_PITCHES = (10, 12, 16, 20, 24, 32, 40, 48)
FORM_TOLERANCE = 0.15


def spline_torque_capacity(teeth: float, major: float, minor: float, length: float, pressure: float) -> float:
    """Torque of a straight-sided spline [lbf·in] = pressure × teeth × mean radius × height × length, SAE J499.

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
    return found


def _eighths(rest: int) -> str:
    return {0: "", 1: "1/8", 2: "1/4", 3: "3/8", 4: "1/2", 5: "5/8", 6: "3/4", 7: "7/8"}[rest]


# ISO 286-2, limits of size [µm] for the grades that these orders need: upper limit of the range [mm]
# (inclusive), then per grade (lower, upper) deviation.
ISO_286: tuple[tuple[float, dict[str, tuple[int, int]]], ...] = (
    (6, {"H7": (0, 12), "f7": (-22, -10), "g6": (-12, -4), "r6": (15, 23), "s6": (19, 27)}),
    (10, {"H7": (0, 15), "f7": (-28, -13), "g6": (-14, -5), "r6": (19, 28), "s6": (23, 32)}),
    (18, {"H7": (0, 18), "f7": (-34, -16), "g6": (-17, -6), "r6": (23, 34), "s6": (28, 39)}),
    (30, {"H7": (0, 21), "f7": (-41, -20), "g6": (-20, -7), "r6": (28, 41), "s6": (35, 48)}),
    (50, {"H7": (0, 25), "f7": (-50, -25), "g6": (-25, -9), "r6": (34, 50), "s6": (43, 59)}),
)


def limits_of_size(nominal: float, grade: str) -> tuple[float, float]:
    """Smallest and largest size [mm] of a nominal diameter over 3 to 50 mm in a grade of ISO 286-2.

    Raises ValueError outside the table.

    >>> limits_of_size(16.0, "f7")
    (15.966, 15.984)
    """
    if not 3 < nominal <= 50:
        raise ValueError(f"{nominal} mm is outside the table of fits (over 3 to 50 mm)")
    for top, grades in ISO_286:
        if nominal <= top:
            low, high = grades[grade]
            return round(nominal + low / 1000, 3), round(nominal + high / 1000, 3)
    raise AssertionError
