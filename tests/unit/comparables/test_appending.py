"""One more sale as a table's last row: in its own writing, with no other byte touched, read as its cells are read."""

import datetime as dt
import io
import re
from dataclasses import replace

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.comparables import read_comparables
from valuation.comparables.appending import with_row
from valuation.comparables.mending import text_table
from valuation.errors import TableError
from valuation.schema import default_schema

SCHEMA = default_schema()
TODAY = dt.date(2026, 10, 31)
FILE = (
    "Date,Price,Outcome,Make and model,Year,Cond.,Remark\n"
    "2025-01-01,9100,sold,Garrow Wren,1951,driver,café\n"
    "2025-01-02,12000,sold,Garrow Wren,1952,show,\n"
)
SALE = {"date": "2026-05-03", "price": "24,500", "family": "garrow wren", "model_year": "1951"}
ALIASES = {"condition": ("Cond.",)}


def schema():
    attributes = [replace(a, aliases=(*a.aliases, *ALIASES.get(a.name, ()))) for a in SCHEMA.attributes]
    return replace(SCHEMA, attributes=tuple(attributes))


def add(source, words, name="t.csv"):
    return with_row(source, schema(), words, name=name, today=TODAY)


@pytest.mark.parametrize(
    ("encoding", "end", "closed", "delimiter"),
    [
        ("utf-8", "\n", True, ","),
        ("utf-8", "\n", False, ";"),
        ("utf-8", "\r", True, "\t"),
        ("utf-8", "\r", False, ","),
        ("utf-8-sig", "\r\n", False, "|"),
        ("utf-16", "\r\n", True, "\t"),
        ("utf-16-le", "\n", False, ","),
        ("utf-16-be", "\r\n", True, ";"),
        ("cp1252", "\r\n", True, ";"),
        ("cp1252", "\n", False, "|"),
    ],
)
def test_the_line_is_written_as_the_others_are_and_they_stay_byte_for_byte(encoding, end, closed, delimiter):
    text = FILE.replace(",", delimiter).replace("\n", end)
    source = (text if closed else text.removesuffix(end)).encode(encoding)
    new = add(source, SALE | {"cond.": "driver", "Remark": "naïve; a|b, \t'c\""})
    assert new.source.startswith(source)
    added = new.source[len(source) :].decode({"utf-16": "utf-16-le", "utf-8-sig": "utf-8"}.get(encoding, encoding))
    assert added.strip("\r\n") == new.line
    assert added == (new.line + end if closed else end + new.line)
    assert (new.number, new.table.rows, new.table.n_usable) == (4, 3, 3)
    row = new.table.sales.loc[4]
    assert (row["price"], str(row["date"].date()), row["outcome"]) == (24_500, "2026-05-03", "sold")
    assert new.table.extra.at[4, "Remark"] == "naïve; a|b, \t'c\""
    assert new.table.attributes.at[4, "condition"] == "driver"


def test_what_was_written_and_what_it_was_read_as():
    new = add(FILE.encode(), SALE | {"condition": "Driver"})
    assert new.line == '2026-05-03,"24,500",sold,garrow wren,1951,Driver,'
    assert {cell.header: (cell.written, cell.read) for cell in new.cells} == {
        "Date": ("2026-05-03", "2026-05-03"),
        "Price": ("24,500", "24500"),
        "Outcome": ("sold", "sold"),
        "Make and model": ("garrow wren", "Garrow Wren"),
        "Year": ("1951", "1951"),
        "Cond.": ("Driver", "driver"),
    }


def test_a_sale_is_called_what_the_table_calls_it():
    source = FILE.replace("sold", "VERKAUFT").encode()
    german = replace(schema(), outcome_aliases={"sold": ("verkauft",)})
    assert with_row(source, german, SALE, name="t.csv", today=TODAY).cells[2].written == "VERKAUFT"
    asked = with_row(source, german, SALE | {"outcome": "asking"}, name="t.csv", today=TODAY)
    assert (asked.cells[2].written, asked.cells[2].read) == ("asking", "asking")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"cond.": "drvier"}, "'drvier' is not a level of condition. Write 'driver' if that is meant"),
        ({"condition": "driver", "Cond.": "show"}, "'Cond.' and another word both stand in 'Cond.'"),
        ({"conditiom": "driver"}, "it has no such column. Its columns are Date, Price"),
        ({"conditiom": "driver"}, "Did you mean 'condition'?"),
        ({"paint": "fresh"}, "the table has no column for it. Add one headed 'paint' to the table first"),
        ({"price": ""}, "price"),
        ({"price": "twelve"}, "'twelve'"),
        ({"date": "2026-13-01"}, "'2026-13-01'"),
        ({"date": "2027-01-01"}, "lies in the future"),
        (
            {"date": "2025-01-02", "price": "12000", "model_year": "1952", "condition": "show"},
            "gives the same date, price, outcome and attributes as row 3",
        ),
    ],
)
def test_a_row_that_could_not_be_used_is_refused_with_the_fault_that_its_cells_have(words, message):
    with pytest.raises(TableError, match=re.escape(message)):
        add(FILE.encode(), SALE | words)


def test_what_a_windows_text_cannot_hold_is_refused_by_its_letter():
    with pytest.raises(TableError, match="Western text of Windows, which has no 'Ł'"):
        add(FILE.encode("cp1252"), SALE | {"remark": "Łódź"})


def test_an_open_quotation_mark_swallows_no_row():
    with pytest.raises(TableError, match=r"Cannot (add the sale|read)"):
        add(FILE.encode() + b'2025-01-03,100,sold,"Garrow', SALE)


@pytest.mark.parametrize("kind", ["xlsx", "parquet"])
def test_of_another_kind_of_file_a_csv_file_with_the_same_rows_is_made(kind):
    frame = pd.read_csv(io.StringIO(FILE), dtype=str, keep_default_na=False)
    out = io.BytesIO()
    frame.to_excel(out, index=False) if kind == "xlsx" else frame.to_parquet(out)
    new = add(out.getvalue(), SALE, f"t.{kind}")
    before = read_comparables(out.getvalue(), schema(), name=f"t.{kind}", today=TODAY)
    pd.testing.assert_frame_equal(new.table.sales.loc[[2, 3]], before.sales)
    assert new.source.decode().splitlines()[-1] == new.line


@settings(max_examples=60, deadline=None)
@given(
    st.text(st.characters(codec="utf-8", exclude_characters="\x00\r\n", exclude_categories=["Cc", "Cs"]), max_size=12),
    st.integers(1_000, 90_000),
)
def test_whatever_is_written_stands_in_its_cell_and_nowhere_else(remark, price):
    new = add(FILE.encode(), SALE | {"Remark": remark, "price": str(price)})
    cells = text_table(new.source, schema(), "t.csv").cells
    assert cells.at[4, "Remark"] == remark
    assert cells.iloc[:2].equals(text_table(FILE.encode(), schema(), "t.csv").cells)
    assert new.table.sales.at[4, "price"] == price
