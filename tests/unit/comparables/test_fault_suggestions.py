"""What each kind of fault suggests to write: the one answer where there is one, and nothing where there is none."""

import pytest

from tests.unit.comparables.test_faults import GOOD, TODAY, VINTAGE, table
from valuation.comparables import read_comparables
from valuation.schema import parse_schema

EUROS = parse_schema(
    'currency = "EUR"\n[venue_premiums]\nYard = 10\n[attributes.doors]\nrole = "count"\nmaximum = 6\n'
    '[attributes.size]\nrole = "number"\nmissing = "refuse"\n'
)
SALE = {"date": "2024-05-31", "price": "24500", "outcome": "sold", "size": "3", "doors": "2"}


def suggested(found, code):
    return [fault.suggestion for fault in found.faults if fault.code == code]


@pytest.mark.parametrize(
    ("column", "written", "code", "suggestion"),
    [
        ("condition", "drvier", "unknown_level", "driver"),
        ("condition", "Driver.", "unknown_level", "driver"),
        ("condition", "'show'", "unknown_level", "show"),
        ("condition", "driver?", "unknown_level", ""),
        ("condition", "driver/runner", "unknown_level", ""),
        ("condition", "fixed up", "unknown_level", ""),
        ("outcome", "solt", "unknown_outcome", "sold"),
        ("outcome", "bid not mett", "unknown_outcome", "bid_not_met"),
        ("outcome", "resold", "unknown_outcome", ""),
        ("outcome", "", "missing_outcome", ""),
        ("original_finish", "yes!", "not_a_flag", "yes"),
        ("original_finish", "fallse", "not_a_flag", "no"),
        ("original_finish", "part", "not_a_flag", ""),
        ("model_year", "12", "impossible_number", ""),
        ("model_year", "2051", "impossible_number", ""),
        ("model_year", "-1951", "impossible_number", ""),
        ("model_year", "l95O", "not_a_number", "1950"),
        ("model_year", "2o5O", "not_a_number", ""),
        ("model_year", "early", "not_a_number", ""),
        ("date", "3 Feburuary 2024", "impossible_date", "3 February 2024"),
        ("date", "2024-02-30", "impossible_date", ""),
        ("date", "12/05/2025", "future_date", "2025-05-12"),
        ("date", "2025-06-02", "future_date", ""),
        ("date", "12/11/2025", "future_date", ""),
        ("date", "1957-05-31", "early_date", ""),
        ("date", "", "missing_date", ""),
        ("price", "24,5OO", "price_not_a_number", "24,500"),
        ("price", "lots", "price_not_a_number", ""),
        ("price", "20 %", "price_not_a_number", ""),
        ("price", "(24500)", "price_negative", "24500"),
        ("price", "-€24500", "price_negative", "EUR 24500"),
        ("price", "0", "price_zero", ""),
        ("price", "", "missing_price", ""),
        ("price", "inf", "price_infinite", ""),
        ("arms_length", "brother", "not_arms_length", ""),
    ],
)
def test_a_cell_gets_a_suggestion_where_there_is_one_answer(column, written, code, suggestion):
    found = table({}, {column: written}, {})
    assert [(fault.code, fault.suggestion) for fault in found.faults] == [(code, suggestion)]


def test_what_is_suggested_for_a_cell_can_be_read():
    wrong = {"condition": "drvier", "outcome": "solt", "original_finish": "yes!", "model_year": "l951"}
    worse = {"price": "24,5OO", "date": "3 Feburuary 2024"}
    found = table(wrong, worse)
    mends = {(fault.row, fault.column): fault.suggestion for fault in found.faults}
    assert len(mends) == 6
    rows = [{**wrong}, {**worse}]
    for (row, column), text in mends.items():
        rows[row - 2][column] = text
    assert table(*rows).faults == ()


def test_two_levels_that_are_about_equally_near_are_no_single_answer():
    schema = parse_schema(
        '[attributes.finish]\nrole = "ordinal"\nlevels = ["matte", "matty", "shiny"]\n'
        '[attributes.state]\nrole = "ordinal"\nlevels = ["complete", "original"]\n'
    )
    lines = "finish,state,date,price,outcome\nmattr,complete,2024-05-01,5,sold\nshinny,complete,2024-05-02,6,sold\n"
    lines += "matte,incomplete,2024-05-03,7,sold\nmatte,unoriginal,2024-05-04,8,sold\n"
    found = read_comparables(lines.encode(), schema, today=TODAY)
    assert suggested(found, "unknown_level") == ["", "shiny", "", ""]


def test_a_line_that_looks_misspelt_suggests_the_common_one():
    found = table(*[{"family": "Penhurrow"}] * 6, {"family": "Penhurow"})
    assert suggested(found, "likely_misspelling") == ["Penhurrow"]


@pytest.mark.parametrize(
    ("premium", "suggestion"), [("10", "10 %"), ("0.1 %", "10 %"), ("$10", ""), ("60 %", ""), ("-5 %", ""), ("ten", "")]
)
def test_a_premium_that_looks_like_a_percentage_suggests_it(premium, suggestion):
    found = table({"premium": premium, "currency": "USD"}, columns=(*GOOD, "currency", "premium"))
    assert suggested(found, "doubtful_premium") == [suggestion]


def test_currencies_are_mended_by_hand():
    found = table(
        {"price": "$1"},
        {"price": "€2"},
        {"price": "3"},
        {"price": "€4", "currency": "USD"},
        columns=(*GOOD, "currency"),
    )
    faults = {fault.code: fault.suggestion for fault in found.faults}
    assert faults == {"currency_without_rate": "", "ambiguous_currency": "", "currency_conflict": ""}


def test_counts_blanks_and_cells_too_many_are_mended_by_hand():
    lines = ",".join(SALE) + "\n2024-05-31,24500,sold,,2.5,7\n"
    found = read_comparables(lines.encode(), EUROS, today=TODAY)
    assert {fault.code: fault.suggestion for fault in found.faults} == {
        "extra_cells": "",
        "missing_value": "",
        "not_a_count": "",
    }


def test_columns_are_mended_by_hand():
    found = table({"Hammer price": "9", "lucky": "7"}, columns=("Hammer price", "lucky", "date", "price", "outcome"))
    assert {fault.code: fault.suggestion for fault in found.faults} == {
        "column_twice": "",
        "missing_column": "",
        "unknown_column": "",
    }


def test_a_slipped_digit_suggests_the_price_without_it_in_the_currency_of_the_cell():
    prices = [f"{20000 + 137 * i}" for i in range(20)]
    found = table(*[{"price": price} for price in prices], {"price": "225000"})
    assert suggested(found, "slipped_digit") == ["22500"]
    found = table(*[{"price": f"€{price}"} for price in prices], {"price": "€ 2250"})
    assert suggested(found, "slipped_digit") == ["EUR 22500"]


def test_a_duplicate_suggests_no_text():
    twin = {"date": "2024-05-05", "mileage": "77"}
    assert suggested(table(twin, twin), "duplicate_sale") == [""]


def test_the_schema_used_here_reads_what_is_good():
    assert table({}, {}, schema=VINTAGE).faults == ()
