"""How many internal units one unit is, as pint says: asked once and kept, since loading pint takes
longer than a file.

A test asks pint for every one again. Keys are pint's names: (unit in which it is kept, unit).
"""

__all__ = ["FACTORS"]

FACTORS = {
    ("millimeter", "centimeter"): 10.0,
    ("millimeter", "meter"): 1000.0,
    ("millimeter", "inch"): 25.4,
    ("millimeter", "foot"): 304.8,
    ("millimeter", "thou"): 0.0254,
    ("millimeter", "micrometer"): 0.001,
    ("radian", "arcminute"): 0.00029088820866572,
    ("radian", "arcsecond"): 4.8481368110954e-06,
    ("newton * meter", "kilonewton * meter"): 1000.0,
    ("newton * meter", "decanewton * meter"): 10.0,
    ("newton * meter", "newton * centimeter"): 0.01,
    ("newton * meter", "foot * pound_force"): 1.3558179483314,
    ("newton * meter", "inch * pound_force"): 0.11298482902762,
    ("newton * meter", "kilogram_force * meter"): 9.80665,
    ("kilogram", "gram"): 0.001,
    ("kilogram", "metric_ton"): 1000.0,
    ("kilogram", "UK_hundredweight"): 50.80234544,
    ("kilogram", "quarter"): 12.70058636,
    ("kilogram", "stone"): 6.35029318,
    ("kilogram", "pound"): 0.45359237,
    ("kilogram", "ounce"): 0.028349523125,
    ("kilometer / hour", "mile / hour"): 1.609344,
    ("kilometer / hour", "meter / second"): 3.6,
    ("meter ** 2", "centimeter ** 2"): 0.0001,
    ("meter ** 2", "millimeter ** 2"): 1e-06,
    ("meter ** 2", "foot ** 2"): 0.09290304,
    ("meter ** 2", "inch ** 2"): 0.00064516,
    ("1 / kilometer", "1 / mile"): 0.62137119223733,
    ("dimensionless", "percent"): 0.01,
}
