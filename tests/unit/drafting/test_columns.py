"""Which column is what: by header, by kind of value and by words, all weighed together."""

import pytest

from tests.unit.drafting.conftest import made, sales
from valuation.errors import TableError

CONDITIONS = ["project", "runner", "driver", "show"]
BODIES = ["pickup", "sedan", "panel"]


def taken(understanding) -> dict[str, str]:
    return {column.header: column.name for column in understanding.columns}


def test_a_shape_of_bodies_is_no_condition_and_cond_is(read):
    found = read(sales(Shape=BODIES, **{"Cond.": CONDITIONS}))
    assert taken(found)["Shape"] == "body"
    assert taken(found)["Cond."] == "condition"


def test_a_shape_of_bodies_is_no_condition_although_nothing_else_is(read):
    found = read(sales(Shape=BODIES, Body=["pickup", "sedan"]))
    assert "condition" not in taken(found).values()
    assert taken(found)["Body"] == "body"


def test_a_shape_of_conditions_is_the_condition(read):
    assert taken(read(sales(Shape=CONDITIONS)))["Shape"] == "condition"


def test_paint_of_colours_is_the_colour(read):
    found = read(sales(Paint=["red", "dark blue", "cream"]))
    assert taken(found)["Paint"] == "colour"


@pytest.mark.parametrize(
    ("header", "words", "name"),
    [
        ("Engine/gearbox", ["original", "rebuilt", "swap"], "drivetrain"),
        ("Engine", ["original", "rebuilt", "swap"], "drivetrain"),
        ("Int.", ["worn", "fresh", "presentable"], "interior"),
        ("Paint grade", ["worn", "fresh", "faded"], "paint"),
        ("Docs", ["none", "some", "full"], "documentation"),
        ("Mileage (mi)", ["71,000", "48,200", "9,500"], "mileage"),
        ("Odo reading", ["71000", "48200", "9500"], "mileage"),
        ("Col.", ["red", "green", "blue"], "colour"),
        ("Make/model", ["Penhurrow Haywain", "Tarrowby Linnet"], "family"),
        ("Where", ["Hall A", "Hall B"], "venue"),
        ("Zustand", ["gut", "Projekt"], "condition"),
        ("Condittion", ["project", "driver"], "condition"),
    ],
)
def test_headers_of_the_trade(read, header, words, name):
    assert taken(read(sales(**{header: words})))[header] == name


@pytest.mark.parametrize("header", ["Mod. year", "Yr", "Model yr", "Baujahr", "Año", "Année", "YEAR (model)"])
def test_years(read, header):
    columns = sales(Condition=CONDITIONS)
    columns[header] = columns.pop("Year")
    assert taken(read(columns))[header] == "model_year"


def test_words_alone_can_show_what_a_column_is_but_not_where_they_fit_two(read):
    found = read(sales(Stand=["derelict", "project", "runner"], Leather=["worn", "fresh", "presentable"]))
    assert taken(found)["Stand"] == "condition"
    assert found.of("leather").part == "own"  # paint has these words too


def test_sold_is_a_date_a_price_or_an_outcome_by_its_values(read):
    plain = sales(Condition=CONDITIONS)
    dated = {**plain, "Sold": plain["Date"]}
    del dated["Date"]
    assert taken(read(dated))["Sold"] == "date"
    priced = {**plain, "Sold": plain["Price"]}
    del priced["Price"]
    assert taken(read(priced))["Sold"] == "price"
    assert taken(read(sales(Sold=["yes", "yes", "no"])))["Sold"] == "outcome"


def test_a_model_goes_before_a_make_and_a_make_serves_alone(read):
    both = read(sales(Make=["Penhurrow", "Tarrowby"], Model=["Haywain", "Linnet"]))
    assert (taken(both)["Model"], both.of("make").part) == ("family", "own")
    assert taken(read(sales(Make=["Penhurrow", "Tarrowby"])))["Make"] == "family"


def test_each_column_of_the_trade_is_given_once(read):
    names = list(taken(read(sales(Cond=CONDITIONS, Condition=CONDITIONS, Grade=CONDITIONS))).values())
    assert names.count("condition") == 1


def test_the_order_of_the_columns_does_not_matter(read):
    columns = sales(Shape=BODIES, Type=["fine", "odd"], **{"Cond.": CONDITIONS}, Paint=["worn", "fresh"])
    found = taken(read(columns))
    assert taken(read(dict(reversed(columns.items())))) == found


def test_it_says_how_sure_and_why(read):
    found = read(sales(Condition=CONDITIONS, Stand=BODIES))
    assert (found.of("condition").sure, found.of("price").sure) == ("certain", "certain")
    assert found.of("condition").why == "its header and its words (project, runner)"
    assert found.of("body").why == "its words (pickup, sedan)"


def test_without_a_price_there_is_no_draft(read):
    columns = sales(Condition=CONDITIONS)
    del columns["Price"]
    with pytest.raises(TableError, match=r"no column can be told to be the price\. Its headers are 'Date', 'Year'"):
        read(columns)


def test_money_with_its_sign_is_the_price_whatever_it_is_called(read):
    columns = sales(Condition=CONDITIONS)
    columns["Zaster"] = columns.pop("Price")
    assert taken(read(columns))["Zaster"] == "price"


def test_two_columns_of_prices_are_asked_about_and_the_answer_counts(read):
    columns = sales(Condition=CONDITIONS)
    columns = {"Hammer": columns.pop("Price"), **columns, "Price paid": [f"${9900 + 800 * i:,}" for i in range(12)]}
    first = read(columns)
    [question] = [one for one in first.questions if one.key == "column/price"]
    assert {choice.value for choice in question.choices} == {"Hammer", "Price paid"}
    other = next(choice.value for choice in question.choices if choice.value != question.suggestion)
    told = read(columns, {"column/price": other})
    assert taken(told)[other] == "price"
    assert not [one for one in told.questions if one.key == "column/price"]


def test_the_cells_of_a_column_go_before_its_header(read):
    """A header that promises numbers over cells of words is not believed."""
    found = read(sales(Mileage=["nice", "fine", "good to drive"], Condition=CONDITIONS))
    assert found.of("mileage").part == "own"


def test_a_table_read_by_a_schema_without_scales_needs_none():
    import datetime as dt

    from valuation.drafting.reader import understand
    from valuation.schema import parse_schema

    goods = parse_schema('[attributes.size]\nrole = "number"\n')
    found = understand(made(sales(Size=["1", "2", "3"], Cond=CONDITIONS)), goods, dt.date(2026, 11, 26))
    assert taken(found) == {"Date": "date", "Price": "price", "Year": "year", "Size": "size", "Cond": "cond"}


def test_a_total_beside_a_hammer_price_and_its_premium_is_no_question(read):
    columns = sales(Condition=CONDITIONS, Premium=["10 %"])
    columns["Hammer"] = columns.pop("Price")
    columns["Price paid"] = [f"${9900 + 800 * i:,}" for i in range(12)]
    assert "column/price" not in {one.key for one in read(columns).questions}


@pytest.mark.parametrize(
    ("header", "words"),
    [("Engine", ["V8", "I6", "I4"]), ("Kind of price", ["cash", "cheque"]), ("Power", ["low", "high"])],
)
def test_kinds_and_outcomes_need_words_that_are_known(read, header, words):
    found = read(sales(24, **{header: words}, Condition=CONDITIONS))
    assert next(column for column in found.columns if column.header == header).part == "own"
    assert not [one for one in found.questions if one.key.startswith("order/")]


@pytest.mark.parametrize(
    ("header", "cells", "name"),
    [
        ("When", ["spring 2024", "Dec 2025", "mid June 2023"], "date"),
        ("When", ["45291", "45022", "44876"], "date"),
        ("Year sold", ["2021", "2022", "2024"], "date"),
        ("Got", ["about $12k", "$9,500 ono", "$14,000 (sold later)"], "price"),
        ("Made", ["'55", "'48", "'52"], "model_year"),
        ("Yr", ["55", "48", "52"], "model_year"),
        ("Clock", ["71k", "about 48,000", "9,500 km"], "mileage"),
    ],
)
def test_values_written_by_hand(read, header, cells, name):
    columns = sales(24, Condition=CONDITIONS)
    for plain in {"date": ["Date"], "price": ["Price"], "model_year": ["Year"]}.get(name, []):
        del columns[plain]
    assert taken(read({**columns, header: [cells[i % 3] for i in range(24)]}))[header] == name
