"""A table that is written is read back as the very same table, as CSV and as a workbook, and starts no formula."""

import csv
import io
from dataclasses import replace

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.comparables.mending import text_table
from valuation.comparables.texttable import TextTable
from valuation.comparables.writing import as_csv, as_workbook, changes_csv
from valuation.schema import default_schema

SCHEMA = default_schema()
TEXTS = [
    "24500", "24500.5", "$24500", "€ 12", "-3", "0123", "1e5", "10%", "12.5%", "2024-05-31", "2024-02-30", "1899-01-01",
    "1,500", "yes", "=1+1", "@x", "driver", " two  words ", 'a "b", c', "12.125", "12.1250", "$-5", "$5%", "a\nb",
]  # fmt: skip
CELL = st.sampled_from(TEXTS) | st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=9)


def table(rows, **others):
    cells = pd.DataFrame(rows, columns=["date", "price", "outcome"], dtype=object)
    cells.index = pd.Index([2 + 3 * i for i in range(len(rows))], name="row")
    return TextTable("t", cells, **others)


def read(source):
    return text_table(source, SCHEMA, "t")


@pytest.mark.parametrize("write", [as_csv, as_workbook])
@settings(max_examples=40, deadline=None)
@given(rows=st.lists(st.tuples(st.just("2024-05-31"), CELL, CELL), min_size=1, max_size=6))
def test_what_is_written_is_read_back_with_its_row_numbers(write, rows):
    before = table(rows)
    after = read(write(before))
    assert after.headers == before.headers
    assert after.cells.index.tolist() == before.cells.index.tolist()
    assert after.cells.to_numpy().tolist() == before.cells.to_numpy().tolist()


@pytest.mark.parametrize("write", [as_csv, as_workbook])
def test_cells_beyond_the_header_stay_beyond_it(write):
    before = table([("2024-05-31", "24", "500"), ("2024-05-30", "9", "sold")], overlong={2: "sold"})
    after = read(write(before))
    beyond = after.overlong or dict(after.cells["(column 4)"].loc[lambda column: column != ""])
    assert beyond == {2: "sold"}  # in a workbook they stand in a column without a header


def test_a_row_with_too_many_cells_is_still_a_fault_after_a_mend_elsewhere():
    from valuation.comparables import read_comparables
    from valuation.comparables.mending import mended

    lines = b"date,outcome,model_year,condition,price\n2024-05-31,sold,1951,driver,24,500\n"
    source = mended(read(lines), {(2, "condition"): "show"})
    found = read_comparables(source, SCHEMA)
    assert "extra_cells" in [fault.code for fault in found.faults]
    assert found.n_usable == 0


def test_a_workbook_holds_figures_and_dates_as_such_and_no_formula():
    book = openpyxl.load_workbook(io.BytesIO(as_workbook(replace(table([("2024-05-31", "24500", "=1+1")]), sheet="S"))))
    assert book.sheetnames == ["S"]
    day, price, outcome = book["S"][2]
    assert (day.is_date, price.value, price.data_type) == (True, 24500, "n")
    assert (outcome.value, outcome.data_type) == ("=1+1", "s")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_of_the_list_of_changes_can_start_a_formula(start):
    text = changes_csv(["row", "old"], [["2", f"{start}1"]]).decode("utf-8-sig")
    assert list(csv.reader(io.StringIO(text, newline="")))[1] == ["2", f"'{start}1"]
