"""The empty table to start from, and the data dictionary."""

import io

import openpyxl
import pytest

from valuation.comparables import data_dictionary, read_comparables, write_template
from valuation.errors import TableError
from valuation.schema import SALE_COLUMNS, default_schema, parse_schema

VINTAGE = default_schema()


def test_a_csv_template_holds_headers_alone(tmp_path):
    file = write_template(tmp_path / "start.csv", VINTAGE)
    text = file.read_text(encoding="utf-8-sig")
    assert text.strip().split(",") == [*(c for c in data_dictionary(VINTAGE)["column"])]
    assert text.count("\n") == 1
    with pytest.raises(TableError, match="it has a header and no rows below it"):
        read_comparables(file, VINTAGE)


def test_a_workbook_template_has_the_dictionary_as_its_second_sheet(tmp_path):
    file = write_template(str(tmp_path / "start.xlsx"), VINTAGE)
    book = openpyxl.load_workbook(io.BytesIO(file.read_bytes()))
    assert book.sheetnames == ["comparables", "data dictionary"]
    header = [cell.value for cell in book["comparables"][1]]
    assert header == data_dictionary(VINTAGE)["column"].tolist()
    assert book["comparables"].max_row == 1
    words = {row[0].value: row for row in book["data dictionary"].iter_rows(min_row=2)}
    assert set(words) == set(header)
    assert "derelict < project < runner < driver < show" in [cell.value for cell in words["condition"]]


def test_a_filled_template_is_read_without_a_fault(tmp_path):
    file = write_template(tmp_path / "start.xlsx", VINTAGE)
    book = openpyxl.load_workbook(file)
    sheet = book["comparables"]
    values = {"date": "2024-05-31", "price": 24500, "outcome": "sold", "model_year": 1951, "condition": "driver"}
    for cell in sheet[1]:
        sheet.cell(2, cell.column, values.get(str(cell.value)))
    book.save(file)
    table = read_comparables(file, VINTAGE)
    assert table.n_usable == 1
    assert table.faults == ()


def test_a_dictionary_row_for_every_column():
    frame = data_dictionary(VINTAGE).set_index("column")
    assert set(frame.index) == {*SALE_COLUMNS, *VINTAGE.names}
    assert frame.loc["price", "needed"] == "yes"
    assert frame.loc["outcome", "needed"] == "yes"
    assert frame.loc["model_year", "accepted"] == "1885 to 2015"
    assert frame.loc["mileage", "accepted"] == "0 to 1500000 miles"
    assert frame.loc["awards", "needed"] == "no; a blank cell is the lowest"
    assert frame.loc["body", "accepted"] == "any word"
    assert frame.loc["original_finish", "accepted"] == "yes or no"
    assert frame.loc["drivetrain", "accepted"].startswith("original, rebuilt-original")
    assert "derelict: Cannot be moved" in frame.loc["condition", "meaning"]
    assert "year" in frame.loc["model_year", "other_headers"].split(", ")


def test_a_dictionary_of_another_schema():
    schema = parse_schema(
        'default_outcome = "sold"\n[attributes.rooms]\nrole = "count"\nmissing = "refuse"\n'
        '[attributes.built]\nrole = "date"\n'
    )
    frame = data_dictionary(schema).set_index("column")
    assert frame.loc["outcome", "needed"] == "no; without the column every row is sold"
    assert frame.loc["date", "needed"] == "no"
    assert frame.loc["rooms", "needed"] == "yes; a blank cell sets the row aside"
    assert frame.loc["rooms", "accepted"] == "whole any number"
    assert frame.loc["built", "accepted"] == "a date such as 2024-05-31"


def test_refusals(tmp_path):
    with pytest.raises(TableError, match=r"Cannot write a template as 'a\.txt': found '\.txt'\. Use \.csv or \.xlsx"):
        write_template(tmp_path / "a.txt", VINTAGE)
    (tmp_path / "mine.csv").write_text("precious")
    with pytest.raises(TableError, match="the file exists already"):
        write_template(tmp_path / "mine.csv", VINTAGE)
    with pytest.raises(TableError, match="No such file or directory"):
        write_template(tmp_path / "nowhere" / "a.csv", VINTAGE)
