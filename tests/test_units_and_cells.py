"""Units and cells: what people write at a bench, and what must never be read wrong in silence."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from compare.kinds import KINDS
from compare.problems import CellError
from compare.read.cells import (
    clean,
    factor,
    find_unit,
    is_unknown,
    looks_like_date,
    parse,
    parse_tyre,
)
from compare.read.factors import FACTORS
from compare.read.units import asked_of_pint
from compare.vocabulary import Term, car_terms_by_name, catalogue_terms

T = catalogue_terms()
ANY_LENGTH = Term("any", "length", "", low=-math.inf)


def value(text, column="length", unit=None):
    found = parse(text, T[column], unit)
    return None if found is None else found.nominal


def test_unit_factors_are_those_of_nist_sp_811_appendix_b():
    """NIST SP 811 App. B, as carried by scipy.constants."""
    assert factor("length", "inch") == pytest.approx(25.4, rel=1e-15) == pytest.approx(scipy.constants.inch * 1000)
    assert factor("mass", "pound") == pytest.approx(0.45359237, rel=1e-12) == pytest.approx(scipy.constants.lb)
    assert factor("torque", "foot * pound_force") == pytest.approx(4.4482216152605 * 0.3048, rel=1e-12)
    assert factor("speed", "mile / hour") == pytest.approx(1609.344 / 1000, rel=1e-12)
    assert factor("torque", "kilogram_force * meter") == pytest.approx(9.80665, rel=1e-12)
    assert factor("per_km", "1 / mile") == pytest.approx(1 / 1.609344, rel=1e-12)
    assert factor("rpm", "revolution / minute") == 1.0


def test_the_kept_factors_are_what_pint_says_and_none_is_missing():
    for name, kind in KINDS.items():
        for unit in kind.units:
            if unit.name == kind.kept:
                continue
            assert factor(name, unit.name) == pytest.approx(asked_of_pint(name, unit.name), rel=1e-13), unit.name
            usual = (name, unit.name) == ("angle", "degree")
            assert usual or (kind.kept, unit.name) in FACTORS, f"add {kind.kept, unit.name} to read/factors.py"


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("612", 612), ("612 mm", 612), ("612mm", 612), ("612 MM", 612), ("24 1/8 in", 612.775), ('24-1/8"', 612.775), ('24.125"', 612.775), ("24.125 in", 612.775),
        ("61,2 cm", 612), ("61.2cm", 612), ("1 ft 3 in", 381), ("1' 3\"", 381), ("0.612 m", 612), ("24⅛ in", 612.775), ("24⅛″", 612.775), ("24 1/8 IN", 612.775),
        ("1.234,5 mm", 1234.5), ("1,234.5 mm", 1234.5), ("612.5", 612.5), ("612,5", 612.5), ("23''", 584.2), ("612.0000", 612), ("2 ft 0 1/2 in", 622.3),
    ],
)  # fmt: skip
def test_lengths_as_people_write_them(text, millimetres):
    assert value(text) == pytest.approx(millimetres, abs=1e-9)


def test_half_inch_of_every_kind():
    for text in ("½ in", "1/2 in", "0.5 in", '0.5"', "½″", "12.7"):
        assert parse(text, T["pilot_diameter"]).nominal == pytest.approx(12.7)


@pytest.mark.parametrize(
    ("text", "newton_metres"),
    [("75 N·m", 75), ("75 Nm", 75), ("75 N-m", 75), ("75 N m", 75), ("55 lb ft", 74.5699871582), ("55 lb-ft", 74.5699871582), ("55 ft lb", 74.5699871582), ("55 lbft", 74.5699871582),
     ("7.6 kgf m", 74.53054), ("7,6 mkg", 74.53054), ("7.6 kgm", 74.53054), ("660 lb in", 74.5699871582), ("75", 75)],
)  # fmt: skip
def test_torques_as_people_write_them(text, newton_metres):
    assert value(text, "torque_rating") == pytest.approx(newton_metres, rel=1e-9)


def test_doubt_in_the_value_s_unit_or_its_own():
    assert parse("612 ±3", T["length"]).half == 3
    assert parse("612 ± 3 mm", T["length"]).half == 3
    assert parse("24 1/8 ±1/16 in", T["length"]).half == pytest.approx(25.4 / 16)
    assert parse("612 mm ± 1/8 in", T["length"]).half == pytest.approx(25.4 / 8)
    assert parse("612 +/- 3", T["length"]).half == 3
    assert math.isnan(parse("612", T["length"]).half)
    assert parse("600 ±1 %", T["length"]).half == pytest.approx(6)


def test_a_free_choice_only_where_a_column_allows_it():
    found = parse("12..25 mm", T["adapter_thickness"])
    assert (found.nominal, found.high) == (12, 25)
    assert parse("1/2..1 in", T["adapter_thickness"]).high == pytest.approx(25.4)
    assert parse("600..610", T["length"]).half == 5  # no choice there: a middle and a doubt
    with pytest.raises(CellError, match="backwards"):
        parse("25..12", T["adapter_thickness"])


def test_unknown_in_every_spelling():
    for text in ("", " ", "?", "-", "–", "n/a", "N/A", "unknown", "tbc", "TBC", "--", "???", "tbd", "POA", "none", "?mm", "n/a mm", "nan", "xxx"):
        assert is_unknown(text)
        assert parse(text, T["length"]) is None
    assert not any(is_unknown(t) for t in ("0", "any", "600?", "about", "ask"))


@pytest.mark.parametrize("text", ["1,250", "1.250", "1,250 mm", "12,345"])
def test_a_thousand_or_a_decimal_is_asked_not_guessed(text):
    with pytest.raises(CellError, match="two ways"):
        parse(text, ANY_LENGTH)


def test_three_decimals_where_no_thousand_is_possible():
    assert value("3.545", "ratio_1") == 3.545
    assert value("3,545", "ratio_1") == 3.545
    assert parse("0.625", T["pilot_length"].__class__("x", "length", "")).nominal == 0.625
    assert value("24.125", unit="inch") == pytest.approx(612.775)


def test_ratios_take_a_colon_and_only_there():
    assert value("3.73:1", "ratio_1") == 3.73
    assert value("41/11", "ratio_1") == pytest.approx(41 / 11)
    with pytest.raises(CellError):
        value("3.73:1", "length")


# What a general unit parser takes for something else, in silence (each measured once): here never a wrong number.
@pytest.mark.parametrize(
    ("text", "column", "right"),
    [
        ("23 5/8 in", "length", 600.075), ("1 1/8 in", "spline_diameter", 28.575), ("1½ in", "spline_diameter", 38.1), ('23 5/8"', "length", 600.075), ('1-1/8"', "spline_diameter", 28.575),
        ("1,5 in", "spline_diameter", 38.1), ("600 ± 1 mm", "length", 600), ("300 ft lb", "torque_rating", 406.745384499), ("41 kg m", "torque_rating", 402.07265), ("400 Nm", "torque_rating", 400),
    ],
)  # fmt: skip
def test_forms_that_mislead_a_general_parser(text, column, right):
    assert value(text, column) == pytest.approx(right)


@pytest.mark.parametrize(
    "text",
    ["9**9**9 mm", "600?", "1_000", "٦١٢", "inf", "1e3", "600x2", "--5", "5/0 in", "200 PS", "600 mm mm", "24 1/8 1/8 in", "6 1 2", "ca. 600", "600 or 610", "=600", "0x10",
     "1 9/8 in", "1,2,3", "1..2", "±3", "600 ±", "600 ±3 ±3", "600 ±-3", "12 34 mm", "1e400", "9" * 50, "600 lightyears", "612 €"],
)  # fmt: skip
def test_what_is_no_length_is_an_error_with_a_fix(text):
    with pytest.raises(CellError) as error:
        parse(text, T["length"])
    assert error.value.found
    assert "ype" in error.value.fix or "ossible" in error.value.fix


@pytest.mark.parametrize("text", ["8-May", "May-08", "2026-05-08 00:00:00", "01/08/2001", "10-Jan", "Jan-10", "08.05.2026", "12-Mrz", "3-Okt"])
def test_dates_made_by_a_spreadsheet_program_are_named_as_that(text):
    assert looks_like_date(text)
    with pytest.raises(CellError, match="is a date"):
        parse(text, T["spline_teeth"])


@pytest.mark.parametrize("text", ["5/8", "1-1/8", "24-1/8", "1/16"])
def test_fractions_are_no_dates(text):
    assert not looks_like_date(text)


def test_a_mass_where_a_torque_is_expected_says_both_ways_out():
    with pytest.raises(CellError) as error:
        parse("105 lb", T["torque_rating"])
    assert error.value.found == '"105 lb" is a mass, a torque is expected here.'
    assert error.value.fix == "Type 105 lb ft, or 142 N·m. Leave it empty or type ? if you do not know it."


def test_vulgar_fractions_do_not_glue_to_the_number():
    assert clean("23½") == "23 1/2"


def test_units_are_found_within_their_kind_only():
    assert find_unit("length", "kg") is None
    assert find_unit("torque", "Lb Ft") == "foot * pound_force"


def test_outside_what_is_possible_offers_inches_when_that_would_fit():
    with pytest.raises(CellError) as error:
        parse("23.5", T["length"])
    assert "23.5 in" in error.value.fix


@given(st.floats(min_value=0.01, max_value=9999), st.sampled_from(["mm", "in", "cm"]))
def test_any_decimal_reads_back(number, unit):
    text = f"{number:.4f} {unit}"
    scale = {"mm": 1, "in": 25.4, "cm": 10}[unit]
    assert parse(text, ANY_LENGTH).nominal == pytest.approx(float(f"{number:.4f}") * scale)


@given(st.integers(0, 60), st.integers(1, 15), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_any_mixed_fraction_reads_back(whole, top, bottom):
    if top >= bottom:
        return
    for text in (f"{whole} {top}/{bottom} in", f'{whole}-{top}/{bottom}"'):
        assert parse(text, ANY_LENGTH).nominal == pytest.approx((whole + top / bottom) * 25.4)


@given(st.text(max_size=30))
def test_any_text_is_a_value_or_a_clean_error(text):
    for column in ("length", "ratio_1", "spline_teeth", "torque_rating", "price", "mount_tilt", "speedo_driven_teeth", "adapter_thickness"):
        try:
            found = parse(text, T[column])
        except CellError as error:
            assert error.found and error.fix
        else:
            assert found is None or math.isfinite(found.nominal)


@given(st.text(max_size=20))
def test_any_tyre_text_is_a_size_or_a_clean_error(text):
    try:
        assert parse_tyre(text).width > 0
    except CellError as error:
        assert error.fix


def test_tyre_codes():
    """ISO 4000-1 (from memory) for metric codes; the rest by published sizing notes."""
    assert parse_tyre("185/65R15").aspect == 0.65
    assert parse_tyre("185/65 R15 88H").rim == 381
    assert (parse_tyre("155R13").aspect, parse_tyre("155R13").aspect_half) == (0.82, 0.02)
    cross = parse_tyre("5.60-15")
    assert (cross.radial, cross.aspect, cross.scale_half) == (False, 0.95, 0.03)
    assert parse_tyre("6.00-16").aspect == parse_tyre("5.50-15").aspect == 0.87
    with pytest.raises(CellError, match="letter code"):
        parse_tyre("E78-14")


def test_a_tyre_circumference_keeps_its_own_range():
    assert parse("1947 ±8 mm", car_terms_by_name()["tyre_rolling_circumference"]).half == 8


# ---- readings.csv: what people write, and what it means --------------------------------------------------

ROWS = list(csv.DictReader((Path(__file__).parent / "readings.csv").read_text(encoding="utf-8").splitlines()))
TERMS = T | car_terms_by_name()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['column']}: {row['typed']!a}")
def test_a_cell_is_read_as_a_person_would(row):
    """352 cells with their meaning; a figure printed to three digits is compared to three."""
    term, unit, expected = TERMS[row["column"]], row["unit_of_head"] or None, row["expected"]
    if expected == "ask":
        with pytest.raises(CellError) as error:
            parse(row["typed"], term, unit)
        assert error.value.fix
        for option in error.value.options:
            assert option in error.value.fix
            assert parse(option, term, unit) is not None, f"{option} is offered and not accepted"
        return
    found = parse(row["typed"], term, unit)
    if expected == "unknown":
        assert found is None
        return
    digits = len(expected.partition(".")[2])
    assert found.nominal == pytest.approx(float(expected), rel=2e-6, abs=0.55 * 10.0**-digits if len(expected) <= 4 else 1e-7)
    if row["half_width"]:
        assert found.half == pytest.approx(float(row["half_width"]))
    if row["high"]:
        assert found.high == pytest.approx(float(row["high"]))


@pytest.mark.parametrize(
    ("text", "column", "nominal", "half"),
    [
        ("15 -0.016/-0.034", "pilot_diameter", 14.975, 0.009), ("15 +0/-0.02", "pilot_diameter", 14.99, 0.01), ("610 +5/-3", "length", 611, 4),
        ("12.69-12.70", "pilot_diameter", 12.695, 0.005), ("between 600 and 620", "length", 610, 10), ("24-25 in", "length", 622.3, 12.7),
        ('612 ±1/8"', "length", 612, 3.175), ("92 +/- 2 %", "car_driveline_efficiency", 0.92, 0.02), ("150-200 Nm", "torque_rating", 175, 25),
        ("19 1/2 cwt", "car_mass", 990.64574, None), ("6 stone", "mass", 38.10176, None), ("1 cwt 2 qr", "mass", 76.203518, None), ("84 lb 8 oz", "mass", 38.328555, None),
        ("2\u00b030'", "mount_tilt", math.radians(2.5), None), ("2° 30' 36\"", "mount_tilt", math.radians(2.51), None), ("612 mm / 24.1 in", "length", 612, None),
        ("1.2k", "price", 1200, None), ("EUR 1.250,-", "price", 1250, None), ("1 250 kr", "price", 1250, None), ("direct", "ratio_4", 1, None), ("9-41", "axle_ratio", 41 / 9, None),
        ("0.78 (o/d)", "ratio_5", 0.78, None), ("min. 100", "mass", "ask", None), ("600 or 610", "length", "ask", None), ("3-4", "ratio_1", "ask", None), ("24 -1/8 in", "length", "ask", None),
    ],
)  # fmt: skip
def test_more_cells_than_the_list_holds(text, column, nominal, half):
    if nominal == "ask":
        with pytest.raises(CellError):
            parse(text, TERMS[column])
        return
    found = parse(text, TERMS[column])
    assert found.nominal == pytest.approx(nominal, rel=1e-6)
    assert half is None or found.half == pytest.approx(half)


def test_the_file_s_own_habit_settles_a_mark():
    for mark, typed, expected in ((".", "1,250", 1250), (",", "1,250", 1.25), (".", "1.250", 1.25), (",", "1.250", 1250)):
        assert parse(typed, ANY_LENGTH, decimal=mark).nominal == expected


@pytest.mark.parametrize("code", ["165/80R13", "165/80 R 13", "165-80-13", "165 80 13", "165x80x13", "165/80/13", "P165/80R13", "165/80 SR13", "165/80HR13 83T", "165/80R13 4PR", "165/80R13 83H XL", "165/80R13 TL"])  # fmt: skip
def test_tyre_codes_with_any_separator_speed_letter_and_ply_mark(code):
    size = parse_tyre(code)
    assert (size.width, size.aspect, size.rim, size.radial) == (165, 0.80, 330.2, True)


@pytest.mark.parametrize("code", ["5.60-15", "5.60 x 15", "5,60-15", "5.60-15 4PR", "5.60 15", "5.60-15 4 ply"])
def test_inch_tyres_with_any_separator(code):
    assert parse_tyre(code).width == pytest.approx(142.24) and not parse_tyre(code).radial


@given(st.text(alphabet="0123456789 .,/-+±'\"°mincftø½:x()<>?~=", max_size=14), st.sampled_from(sorted(TERMS)))
def test_whatever_is_offered_is_accepted(text, column):
    """Every option of every message is a cell that the same column reads."""
    term = TERMS[column]
    if term.kind in ("text", "choice", "tyre", "flag", "pair", "curve", "stations", "words", "pieces", "names"):
        return
    try:
        found = parse(text, term)
    except CellError as error:
        for option in error.options:
            assert parse(option, term) is not None, (text, column, option)
    else:
        if found is not None:
            assert term.kind == "angle" or term.low - 1e-6 <= found.nominal <= term.high + 1e-6
