"""Cells that can be read two ways are asked about, whatever path they take; those that cannot are read."""

from __future__ import annotations

import pytest

from compare.read.cells import CellError, parse
from compare.read.numbers import amounts
from compare.vocabulary import catalogue_terms

TERMS = catalogue_terms()


@pytest.mark.parametrize("text", ["1,250", "1.250"])
def test_a_mark_before_three_digits_is_asked_about_where_both_readings_are_possible(text):
    """A lever may stand 1250 or one and a quarter behind the face."""
    with pytest.raises(CellError, match="two ways") as caught:
        parse(text, TERMS["shifter_position"])
    assert len(caught.value.options) == 2


@pytest.mark.parametrize(("column", "text", "value"), [("length", "1,100", 1100), ("price", "1,250", 1250)])
def test_it_is_read_where_only_one_reading_is_possible(column, text, value):
    """A gearbox of 1.1 mm is none; money has two decimals."""
    assert parse(text, TERMS[column]).nominal == value


def test_the_files_own_mark_settles_it():
    assert parse("1,250", TERMS["shifter_position"], decimal=",").nominal == 1.25
    assert parse("1.250", TERMS["shifter_position"], decimal=",").nominal == 1250


def test_the_files_own_mark_settles_a_range_by_the_end_that_has_one():
    assert parse("1,250..1300", TERMS["shifter_position"], decimal=",").nominal == 650.625
    assert parse("1,250..1300", TERMS["shifter_position"], decimal=".").nominal == 1275.0


@pytest.mark.parametrize(
    ("text", "step"), [("25", 0.5), ("25.4", 0.05), ("25.40", 0.005), ("1/2", 0.25), ("24 5/8", 0.0625), ("1,5", 0.05)]
)
def test_half_of_the_last_place_says_how_exactly_it_was_written(text, step):
    (found,) = amounts(text, inch=True, thousands=True, whole=text)
    assert found.step == pytest.approx(step)


@pytest.mark.parametrize(("text", "nominal", "half"), [("3.42..3.50", 3.46, 0.04), ("3.42-3.50", 3.46, 0.04), ("3 to 3.5", 3.25, 0.25)])
def test_a_ratio_between_two_figures_is_their_middle(text, nominal, half):
    found = parse(text, TERMS["ratio_1"])
    assert (found.nominal, found.half) == pytest.approx((nominal, half))


@pytest.mark.parametrize("text", ["3.50..3.42", "3..3.7", "3.5..3.5"])
def test_a_ratio_that_runs_backwards_or_too_far_is_none(text):
    with pytest.raises(CellError):
        parse(text, TERMS["ratio_1"])


@pytest.mark.parametrize(("text", "value"), [("4:1", 4.0), ("3.42 (3.421)", 3.42), ("3.42 = 3.424", 3.42)])
def test_a_ratio_to_one_and_one_given_twice(text, value):
    """What rounding explains may differ."""
    assert parse(text, TERMS["ratio_1"]).nominal == value


@pytest.mark.parametrize("text", ["1:4", "3.42 (3.9)", "3.42 = 3.47"])
def test_a_ratio_turned_round_or_given_twice_and_differing_is_asked_about(text):
    with pytest.raises(CellError):
        parse(text, TERMS["ratio_1"])


@pytest.mark.parametrize(("text", "nominal", "half"), [("610 +5/-3", 611, 4), ("610 -3/+5", 611, 4), ("100 +39/-0", 119.5, 19.5)])
def test_two_limits_are_their_middle_and_half_of_what_lies_between(text, nominal, half):
    found = parse(text, TERMS["case_length"])
    assert (found.nominal, found.half) == (nominal, half)


@pytest.mark.parametrize("text", ["610 +0/-0", "610 +5/+5", "100 +60/-0"])
def test_limits_that_leave_nothing_between_them_or_a_fifth_of_the_number_are_refused(text):
    with pytest.raises(CellError):
        parse(text, TERMS["case_length"])


@pytest.mark.parametrize(("digits", "read"), [(20, True), (21, False)])
def test_no_number_of_more_than_twenty_digits_is_read(digits, read):
    text = "612." + "5" * (digits - 3)
    if read:
        assert parse(text, TERMS["length"]).nominal == pytest.approx(612.5555555)
    else:
        with pytest.raises(CellError, match="too many digits"):
            parse(text, TERMS["length"])


@pytest.mark.parametrize(("text", "inches"), [("2 ft 3 in", 27), ("2 ft 11.9 in", 35.9)])
def test_feet_and_inches(text, inches):
    assert parse(text, TERMS["length"]).nominal == pytest.approx(25.4 * inches)


@pytest.mark.parametrize("text", ["2 ft 12 in", "2.5 ft 3 in", "3 in 2 ft"])
def test_feet_and_inches_that_are_none(text):
    with pytest.raises(CellError):
        parse(text, TERMS["length"])
