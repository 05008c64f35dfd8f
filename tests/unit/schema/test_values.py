"""From a cell's text to an attribute's value, or to what is wrong with it."""

import datetime as dt
import decimal

import pandas as pd
import pytest

from valuation.schema import Attribute, Level, Role
from valuation.schema.values import CellFault, as_text, possible_span, read_value
from valuation.text.reading import Reading

PLAIN = Reading()
GRADE = Attribute("grade", Role.ORDINAL, levels=(Level("none", aliases=("nil",)), Level("some"), Level("full")))
YEAR = Attribute("model_year", Role.SMOOTH, minimum=1885, maximum=2015)
MILES = Attribute("mileage", Role.NUMBER, unit="miles", minimum=0)
DOORS = Attribute("doors", Role.COUNT)
FLAG = Attribute("original_finish", Role.FLAG)
OPEN = Attribute("family", Role.NOMINAL)
SEEN = Attribute("seen", Role.DATE)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (float("nan"), ""),
        (pd.NaT, ""),
        ("x", "x"),
        (True, "yes"),
        (False, "no"),
        (1951, "1951"),
        (1951.0, "1951"),
        (12.5, "12.5"),
        (12.125, "12.1250"),
        (1e-7, "1e-07"),
        (float("inf"), "inf"),
        (dt.date(2024, 5, 31), "2024-05-31"),
        (dt.datetime(2024, 5, 31), "2024-05-31"),
        (dt.datetime(2024, 5, 31, 12, 30), "2024-05-31 12:30:00"),
        (decimal.Decimal("12.50"), "12.50"),
    ],
)
def test_native_cells_as_text(value, text):
    assert as_text(value) == text


@pytest.mark.parametrize(
    ("attribute", "text", "value"),
    [
        (GRADE, "NONE", "none"),
        (GRADE, " nil ", "none"),
        (GRADE, "n/a", None),
        (GRADE, "", None),
        (YEAR, "1951", 1951.0),
        (YEAR, "unknown", None),
        (MILES, "45,000 miles", 45000.0),
        (MILES, "45 000 MILES", 45000.0),
        (DOORS, "2.0", 2.0),
        (FLAG, "Yes", True),
        (FLAG, "x", True),
        (FLAG, "1", True),
        (FLAG, "N", False),
        (FLAG, "0", False),
        (FLAG, "", None),
        (OPEN, " Tern   panel ", "Tern panel"),
        (OPEN, "-", None),
        (SEEN, "31 May 2024", dt.date(2024, 5, 31)),
    ],
)
def test_values_that_are_read(attribute, text, value):
    assert read_value(attribute, text, PLAIN) == value


@pytest.mark.parametrize(
    ("attribute", "text", "code", "why", "mend"),
    [
        (GRADE, "ful", "unknown_level", "'ful' is not a level of grade.", "Write 'full' if that is meant"),
        (GRADE, "zebra", "unknown_level", "'zebra' is not a level", "Write one of none, some, full, or add 'zebra'"),
        (YEAR, "-1951", "impossible_number", "-1951 is out of range; 1885 to 2015 is accepted.", "Correct the number"),
        (YEAR, "51", "impossible_number", "'51' is not a complete model year", "such as 1951"),
        (YEAR, "nineteen", "not_a_number", "'nineteen' is not a number.", "such as 1950"),
        (YEAR, "inf", "not_a_number", "'inf' is infinite.", "leave the cell blank"),
        (MILES, "70,000 km", "not_a_number", "is not a number", "plain number of miles"),
        (DOORS, "2.5", "not_a_count", "'2.5' is not a count of doors.", "whole number"),
        (DOORS, "-1", "not_a_count", "'-1' is not a count", "whole number"),
        (FLAG, "maybe", "not_a_flag", "'maybe' is neither yes nor no.", "Write yes or no"),
        (SEEN, "2024-02-30", "impossible_date", "is a day that does not exist.", "2024-05-31"),
    ],
)
def test_problems_say_what_is_wrong_and_the_mend(attribute, text, code, why, mend):
    problem = read_value(attribute, text, PLAIN)
    assert isinstance(problem, CellFault)
    assert problem.code == code
    assert why in problem.why
    assert mend in problem.mend


def test_a_word_for_nothing_can_be_a_level_all_the_same():
    assert read_value(GRADE, "none", PLAIN) == "none"
    assert read_value(OPEN, "none", PLAIN) is None


@pytest.mark.parametrize(
    ("low", "high", "span"),
    [(0, 9, "0 to 9 km"), (0, None, "0 km or more"), (None, 9, "9 km or less"), (None, None, "any number km")],
)
def test_what_is_possible_in_words(low, high, span):
    assert possible_span(Attribute("d", Role.NUMBER, unit="km", minimum=low, maximum=high)) == span
