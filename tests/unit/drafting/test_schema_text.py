"""The drafted schema: valid TOML that reads the table as it was understood, whatever its headers and words are."""

import datetime as dt
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.drafting.conftest import TODAY, sales
from valuation.comparables.reader import from_text_table, read_comparables
from valuation.comparables.reading import read_text_tables
from valuation.comparables.texttable import table_from_columns
from valuation.drafting.reader import understand
from valuation.drafting.schema_text import draft_schema
from valuation.schema import default_schema, parse_schema
from valuation.schema.vehicle import vehicle_from_words

CONDITIONS = ["project", "runner", "driver", "show"]
DEMO = Path(__file__).parents[3] / "data"

HOSTILE = [
    "x" * 1000,
    '=HYPERLINK("http://x.example")',
    "two\nlines",
    "quote \" and ' and \\",
    "tab\tand bell\a",
    "\x7f\x80",
    "# remark",
    "]\n[attributes.evil",
    "a.b.c",
    "​",
    "ключ",
    "$",
    "!!!",
    "(column 3)",
    "price",
    "reason",
    "\ud800",
]


def drafted(columns, told=None):
    table = table_from_columns(columns, "mine.csv")  # which takes any text for a header
    understanding = understand(table, default_schema(), TODAY, told)
    return table, draft_schema(understanding)


@pytest.mark.parametrize("header", HOSTILE)
def test_hostile_headers_and_words_give_a_valid_schema_that_reads_the_table(header):
    columns = sales(24, Condition=[*CONDITIONS, header.strip() or "?"])
    columns[header] = ["a", "b"] * 12
    table, text = drafted(columns)
    assert from_text_table(table, parse_schema(text), TODAY).n_usable >= 19


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(max_size=40), min_size=1, max_size=6), st.lists(st.text(max_size=20), min_size=1, max_size=8))
def test_any_headers_and_any_words_give_a_valid_schema(headers, words):
    columns = sales(24, Condition=CONDITIONS, Result=["sold", *words])
    for at, header in enumerate(headers):
        columns.setdefault(header if header.strip() else "blank", [words[(i + at) % len(words)] for i in range(24)])
    table, text = drafted(columns)
    schema = parse_schema(text)
    assert schema.attribute("condition").role == "ordinal"
    read = from_text_table(table, schema, TODAY)
    assert read.rows == 24


def test_every_price_column_can_be_named_even_by_a_sign_alone():
    columns = sales(Condition=CONDITIONS)
    columns["$"] = columns.pop("Price")
    table, text = drafted(columns)
    assert from_text_table(table, parse_schema(text), TODAY).n_usable == 12


def test_only_the_columns_of_the_table_are_in_it_with_the_trades_meanings():
    _, text = drafted(sales(24, **{"Cond.": [*CONDITIONS, "barn", "mint"]}, Paint=["worn", "fresh"]))
    schema = parse_schema(text)
    assert schema.names == ("model_year", "condition", "paint")
    condition, base = schema.attribute("condition"), default_schema().attribute("condition")
    assert (condition.meaning, condition.expected) == (base.meaning, base.expected)
    assert condition.aliases == ("Cond.", *base.aliases)
    assert condition.level_names == base.level_names
    assert "barn" in condition.levels[1].aliases
    assert "mint" in condition.levels[4].aliases


def test_a_misspelt_word_is_left_to_be_mended_and_becomes_no_alias():
    _, text = drafted(sales(24, Condition=[*CONDITIONS, "drvier"]))
    assert "drvier" not in text


def test_what_could_not_be_told_stands_in_a_list_and_the_file_is_valid_as_it_is():
    columns = {**sales(24, Condition=[*CONDITIONS, "fettled"], Result=["sold", "withdrawn"])}
    columns["Date"] = ["03/04/2024", "05/06/2024"] * 12
    _, text = drafted(columns)
    head = text.partition("\nname =")[0]
    assert "# TO FILL IN" in head
    assert "'fettled'" in head
    assert "'withdrawn'" in head
    assert "03/04/2024" in head
    assert tomllib.loads(text)["day_first"] is False


def test_nothing_to_fill_in_leaves_no_list():
    columns = sales(24, Condition=CONDITIONS)
    columns["Sold for"] = columns.pop("Price")
    assert "TO FILL IN" not in drafted(columns)[1]


def test_an_open_scale_says_what_to_write_and_what_it_says_is_valid():
    columns = sales(24, Condition=["A", "B", "C"])
    _, text = drafted(columns)
    assert parse_schema(text).attribute("condition").role == "nominal"
    levels = next(line.removeprefix("# ") for line in text.splitlines() if line.startswith("# levels ="))
    changed = text.replace('[attributes.condition]\nrole = "nominal"',
                           f'[attributes.condition]\nrole = "ordinal"\ndirection = "up"\n{levels}')  # fmt: skip
    assert parse_schema(changed).attribute("condition").level_names == ("A", "B", "C")


def test_a_rate_that_is_told_is_used_and_one_that_is_not_is_a_remark():
    columns = {**sales(24, Condition=CONDITIONS), "Sold for": ["€9000", "€9500", "£10500"] * 8}
    del columns["Price"]
    table, text = drafted(columns)
    assert "# GBP = 1.0   # TO FILL IN" in text
    assert from_text_table(table, parse_schema(text), TODAY).n_usable == 16
    table, text = drafted(columns, {"rate/GBP": "1.18"})
    assert parse_schema(text).rates == {"GBP": 1.18}
    assert from_text_table(table, parse_schema(text), TODAY).n_usable == 24


def test_venues_stand_ready_for_their_premium():
    _, text = drafted(sales(24, Condition=CONDITIONS, Venue=["Saltmarsh Yard", "private"]))
    assert '# "Saltmarsh Yard" = 10' in text
    assert "# private" not in text
    assert parse_schema(text).venue_premiums == {}


def test_columns_left_out_are_named_and_nothing_is_said_about_them_afterwards():
    table, text = drafted(sales(24, Condition=CONDITIONS, Remarks=["fine", "odd"], **{"Asking price": ["$1", "$2"]}))
    schema = parse_schema(text)
    assert schema.left_out == ("Remarks", "Asking price")
    read = from_text_table(table, schema, TODAY)
    assert "unknown_column" not in {fault.code for fault in read.faults}
    assert list(read.extra.columns) == ["Remarks", "Asking price"]


def test_a_table_in_the_schemas_own_words_is_read_as_the_default_reads_it():
    """The demo's table, which is written in the words of the default: each sale that is used is the same sale."""
    file, today = DEMO / "comparables.csv", dt.date(2026, 10, 31)
    [table], _ = read_text_tables(file, lambda header: True)
    schema = parse_schema(draft_schema(understand(table, default_schema(), today)))
    ours, shipped = read_comparables(file, schema, today=today), read_comparables(file, default_schema(), today=today)
    assert ours.sales.index.equals(shipped.sales.index)
    columns = ["sale", "date", "outcome", "low", "high", "currency", "venue"]
    assert ours.sales[columns].equals(shipped.sales[columns])
    assert set(ours.attributes.columns) == set(shipped.attributes.columns)
    for name in shipped.attributes.columns:
        assert ours.attributes[name].equals(shipped.attributes[name]), name


def test_a_vehicle_is_told_in_the_owners_words_and_in_the_trades():
    _, text = drafted(sales(24, **{"Cond.": CONDITIONS, "Shape": ["pickup", "sedan", "wagon", "panel van"]}))
    schema = parse_schema(text)
    assert "shape" not in schema.attribute("condition").aliases
    told = vehicle_from_words(["year=1951", "condition=driver", "body=pickup"], schema)
    assert told.attributes == vehicle_from_words(["model_year=1951", "Cond.=driver", "Shape=pickup"], schema).attributes
