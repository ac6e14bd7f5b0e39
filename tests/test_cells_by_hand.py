"""Cells that can be read two ways are asked about, whatever path they take; those that cannot are read."""

from __future__ import annotations

import pytest

from compare.read.cells import CellError, parse
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
