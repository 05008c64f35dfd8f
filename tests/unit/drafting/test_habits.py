"""Habits of whole columns: date order, currency, decimal mark, distance, outcomes."""

import pytest

from tests.unit.drafting.conftest import sales

CONDITIONS = ["project", "runner", "driver", "show"]


def dated(*dates: str, **columns: list[str]) -> dict[str, list[str]]:
    return {**sales(len(dates), Condition=CONDITIONS, **columns), "Date": list(dates)}


EITHER = ["03/04/2024", "05/06/2024", "01/02/2024", "09/08/2023"] * 3


def test_one_date_that_can_only_be_read_one_way_tells_for_all(read):
    found = read(dated(*EITHER[:-1], "25/12/2023"))
    assert (found.dates.day_first, found.dates.is_told, found.dates.proofs) == (True, True, 1)
    found = read(dated(*EITHER[:-1], "12/25/2023"))
    assert (found.dates.day_first, found.dates.is_told) == (False, True)


def test_dates_that_tell_nothing_are_asked_about_with_a_guess_by_the_currency(read):
    dollars = read(dated(*EITHER))
    assert dollars.dates.day_first is False
    [question] = [one for one in dollars.questions if one.key == "day_first"]
    assert (question.suggestion, question.rows) == ("false", 12)
    pounds = read({**dated(*EITHER), "Price": [f"£{9000 + 100 * i:,}" for i in range(12)]})
    assert pounds.dates.day_first is True
    assert read(dated(*EITHER), {"day_first": "true"}).dates.day_first is True


def test_dates_that_contradict_each_other_are_asked_about(read):
    found = read(dated(*EITHER[:-3], "25/12/2023", "24/12/2023", "12/26/2023"))
    assert (found.dates.day_first, found.dates.proofs, found.dates.against) == (True, 2, 1)
    assert "day_first" in {one.key for one in found.questions}


def test_dates_without_two_readings_are_not_asked_about(read):
    found = read(dated(*["2024-05-03", "3 May 2024", "3.5.2024"] * 4))
    assert "day_first" not in {one.key for one in found.questions}


@pytest.mark.parametrize(
    ("header", "prices", "currency"),
    [
        ("Price", ["$9,000", "$10,500"], "$"),
        ("Price", ["USD 9,000", "$10,500"], "USD"),
        ("Price (EUR)", ["9000", "10500"], "EUR"),
        ("Price GBP", ["9000", "10500"], "GBP"),
        ("Price €", ["9000", "10500"], "EUR"),
        ("Price", ["9.000 €", "10.500 €"], "EUR"),
        ("Price (all in)", ["9000", "10500"], ""),
    ],
)
def test_currency(read, header, prices, currency):
    columns = sales(Condition=CONDITIONS)
    del columns["Price"]
    assert read({**columns, header: prices * 6}).currency == currency


def test_other_currencies_wait_for_their_rate(read):
    columns = {**sales(Condition=CONDITIONS), "Price": ["€9000", "€9500", "£10500"] * 4}
    found = read(columns)
    assert (found.currency, dict(found.other_currencies)) == ("EUR", {"GBP": 4})
    [question] = [one for one in found.questions if one.key == "rate/GBP"]
    assert (question.choices, question.rows) == ((), 4)
    assert read(columns, {"rate/GBP": "1.18"}).rates == {"GBP": 1.18}
    assert read(columns, {"rate/GBP": "plenty"}).rates == {}


def test_prices_that_name_none_of_two_currencies_leave_it_open(read):
    columns = {**sales(Condition=CONDITIONS), "Price": ["€9000", "9500", "£10500"] * 4}
    found = read(columns)
    assert found.currency == ""
    assert "currency" in {one.key for one in found.questions}
    assert read(columns, {"currency": "EUR"}).currency == "EUR"


def test_a_column_of_currencies(read):
    columns = {**sales(Condition=CONDITIONS, Cur=["EUR", "EUR", "USD"]), "Price": ["9000", "9500", "9700"] * 4}
    found = read(columns)
    assert (found.currency, dict(found.other_currencies)) == ("EUR", {"USD": 4})


def test_a_mark_before_three_digits_throughout_parts_thousands(read):
    assert read(sales(Mileage=["71.000", "48.200", "9.500"])).decimal_mark == ","
    assert read(sales(Mileage=["71,000", "48,200", "9,500"])).decimal_mark == "."
    assert read(sales(Mileage=["71000", "48200", "9500"])).decimal_mark == ""


@pytest.mark.parametrize(
    ("header", "cells", "unit", "per"),
    [
        ("Mileage", ["71000", "48200"], "miles", 10000),
        ("Mileage (km)", ["71000", "48200"], "km", 16093.44),
        ("Km", ["71000", "48200"], "km", 16093.44),
        ("Odometer", ["71000 km", "48200 km"], "km", 16093.44),
        ("Odometer", ["71000 mi", "48200 mi"], "mi", 10000),
        ("Laufleistung", ["71000", "48200"], "km", 16093.44),
    ],
)
def test_distances_in_the_unit_that_they_are_kept_in(read, header, cells, unit, per):
    attribute = read(sales(**{header: cells})).of("mileage").attribute
    assert attribute.unit == unit
    assert attribute.expected.per == pytest.approx(per)
    assert attribute.maximum == pytest.approx(1_500_000 * per / 10000, abs=1)


def test_outcome_words_of_the_trade(read):
    words = ["Sold", "hammered", "RNM", "no sale", "reserve not met", "high bid", "listed", "asking", "for sale"]
    found = read(sales(36, Result=words)).of("outcome").words
    assert [word.level for word in found] == ["sold"] * 2 + ["bid_not_met"] * 4 + ["asking"] * 3


def test_an_outcome_that_nothing_tells_is_asked_about(read):
    found = read(sales(Result=["sold", "sold", "withdrawn"]))
    [question] = [one for one in found.questions if one.key == "outcome/withdrawn"]
    assert (question.rows, question.suggestion) == (4, "asking")
    auction = read(sales(Result=["sold", "sold", "withdrawn"], Lot=["A 1", "B 2", "C 3"]))
    assert next(one for one in auction.questions if one.key == "outcome/withdrawn").suggestion == "bid_not_met"
    told = read(sales(Result=["sold", "sold", "withdrawn"]), {"outcome/withdrawn": "bid_not_met"})
    assert told.of("outcome").words[-1].level == "bid_not_met"
    assert not told.questions


@pytest.mark.parametrize(
    ("header", "name", "outcome", "asked"),
    [
        ("Price", "mine.csv", "sold", True),
        ("Sold for", "mine.csv", "sold", False),
        ("Price", "sales.csv", "sold", False),
        ("Asking price", "mine.csv", "asking", True),
    ],
)
def test_without_an_outcome_column_the_names_say_it_or_it_is_asked(read, header, name, outcome, asked):
    columns = sales(Condition=CONDITIONS)
    columns[header] = columns.pop("Price")
    found = read(columns, name=name)
    assert (found.default_outcome, "default_outcome" in {one.key for one in found.questions}) == (outcome, asked)
    assert read(columns, {"default_outcome": "bid_not_met"}).default_outcome == "bid_not_met"
