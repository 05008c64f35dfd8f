"""Which sheet of a workbook is read, and how the owner learns of it."""

import io

import pandas as pd
import pytest

from valuation.comparables import read_comparables
from valuation.comparables.mending import text_table
from valuation.errors import TableError
from valuation.schema import default_schema

SCHEMA = default_schema()


def sales(rows, price=20_000):
    return pd.DataFrame(
        {
            "price": [price + 100 * i for i in range(rows)],
            "outcome": ["sold"] * rows,
            "date": [f"2024-{1 + i % 12:02d}-{1 + i // 12:02d}" for i in range(rows)],
            "family": ["Garrow Wren"] * rows,
            "model_year": [1940 + i for i in range(rows)],
            "condition": ["driver"] * rows,
            "paint": ["worn"] * rows,
        }
    )


def workbook(engine="openpyxl", **sheets):
    buffer = io.BytesIO()
    with pd.ExcelWriter(buffer, engine=engine) as writer:
        for title, frame in sheets.items():
            frame.to_excel(writer, sheet_name=title, index=False)
    return buffer.getvalue()


def read(data, **words):
    found = read_comparables(data, SCHEMA, name="sales.xlsx", **words)
    return found, [note.text for note in found.notes if note.code == "sheet_chosen"]


@pytest.mark.parametrize("engine", ["openpyxl", "odf"])
def test_of_sheets_that_fit_equally_the_fullest_is_read_and_the_others_are_named(engine):
    found, notes = read(workbook(engine, old=sales(3), new=sales(9, 30_000), notes=pd.DataFrame({"a": [1], "b": [2]})))
    assert (found.n_usable, found.sales["price"].min()) == (9, 30_000)
    assert notes == [
        "The sheet 'new' was read; 'old', 'notes' were not. These fit equally well: 'old' (3 usable rows), 'new' "
        "(9 usable rows); 'new' has the most usable rows. To read another, name it."
    ]


def test_rows_that_cannot_be_used_do_not_count():
    broken = sales(20).assign(price="no idea")
    found, [note] = read(workbook(first=broken, second=sales(4)))
    assert found.n_usable == 4
    assert "'first' (0 usable rows), 'second' (4 usable rows); 'second' has the most usable rows" in note


def test_of_equally_full_ones_the_first_is_read():
    found, [note] = read(workbook(one=sales(5), two=sales(5, 90_000)))
    assert found.sales["price"].max() < 90_000
    assert "'one' has as many usable rows as any other and comes first" in note


def test_a_sheet_with_a_header_alone_gives_way_and_is_named():
    found, notes = read(workbook(next_year=sales(0), this_year=sales(5)))
    assert found.n_usable == 5
    assert notes == ["The sheet 'this_year' was read; 'next_year' was not."]


def test_a_sheet_asked_for_by_name_is_read_without_a_note():
    found, notes = read(workbook(old=sales(3), new=sales(9)), sheet="Old")
    assert (found.n_usable, notes) == (3, [])


def test_the_cells_to_be_mended_are_those_of_the_sheet_that_was_read():
    data = workbook(old=sales(3), new=sales(9))
    assert len(text_table(data, SCHEMA, "sales.xlsx").cells) == 9
    nameless = workbook(old=sales(3).rename(columns={"price": "x"}), new=sales(9).rename(columns={"price": "y"}))
    assert len(text_table(nameless, SCHEMA, "sales.xlsx").cells) == 3


@pytest.mark.parametrize("sheet", ["Sale", "new2"])
def test_a_sheet_that_is_not_there_is_refused_with_those_that_are(sheet):
    with pytest.raises(TableError, match=rf"it has no sheet '{sheet}'\. Its sheets are old, new\."):
        read(workbook(old=sales(3), new=sales(9)), sheet=sheet)


def test_a_file_without_sheets_has_no_sheet_to_name():
    with pytest.raises(TableError, match=r"sheet 'x' of 'a\.csv': only a workbook .* Leave the sheet out"):
        read_comparables(b"price,outcome\n1,sold\n", SCHEMA, name="a.csv", sheet="x")
