"""Dates in the styles of real tables, and which of them can be read two ways."""

import datetime as dt

import pytest

from valuation.text.dates import read_date

TODAY = dt.date(2025, 6, 1)


@pytest.mark.parametrize(
    "text",
    [
        "2024-05-31",
        "2024/5/31",
        "2024.05.31",
        "20240531",
        "2024-05-31 00:00:00",
        "2024-05-31T13:45:00Z",
        "31 May 2024",
        "31st May, 2024",
        "31-May-24",
        "May 31, 2024",
        "may 31st 2024",
        "31.5.2024",
        "31.05.24",
    ],
)
def test_one_reading(text):
    assert read_date(text, today=TODAY) == (dt.date(2024, 5, 31), "clear")


@pytest.mark.parametrize("text", ["5 September 2024", "5 Sept 2024", "sep 5, 2024", "5-Sep-24"])
def test_names_of_months(text):
    assert read_date(text, today=TODAY) == (dt.date(2024, 9, 5), "clear")


@pytest.mark.parametrize(("day_first", "month"), [(True, 4), (False, 3)])
def test_two_readings_follow_the_setting(day_first, month):
    assert read_date("03/04/2024", day_first=day_first) == (dt.date(2024, month, 7 - month), "either")


def test_a_part_above_twelve_proves_the_order_whatever_the_setting():
    assert read_date("31/05/2024", day_first=False) == (dt.date(2024, 5, 31), "day_first")
    assert read_date("05/31/2024", day_first=True) == (dt.date(2024, 5, 31), "month_first")


def test_equal_parts_can_be_read_one_way_only():
    assert read_date("4/4/2024") == (dt.date(2024, 4, 4), "clear")


@pytest.mark.parametrize(("text", "year"), [("3/4/24", 2024), ("3/4/25", 2025), ("3/4/26", 1926), ("3/4/99", 1999)])
def test_a_short_year_never_lies_after_this_year(text, year):
    assert read_date(text, today=TODAY)[0].year == year


@pytest.mark.parametrize("text", ["2024-02-30", "31/11/2024", "30 Feb 2024", "2023-13-01", "0000-01-01"])
def test_days_that_do_not_exist(text):
    with pytest.raises(ValueError, match="is a day that does not exist"):
        read_date(text)


@pytest.mark.parametrize(
    "text", ["2024", "May 2024", "2024-05", "soon", "45000", "3 Foo 2024", "1/2-2024", "-2024-01-01"]
)
def test_texts_that_are_no_whole_date(text):
    with pytest.raises(ValueError, match="is not a complete date"):
        read_date(text)


def test_a_year_that_cannot_be():
    with pytest.raises(ValueError, match="is in the year 9024; years from 1700 to 2200 are accepted"):
        read_date("9024-05-31")
