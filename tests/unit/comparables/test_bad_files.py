"""Files that are no table of sales: each is refused by name, with what was found and what to do."""

import io
import zipfile

import pandas as pd
import pytest

from valuation.comparables import from_frame, read_comparables
from valuation.errors import TableError
from valuation.schema import default_schema

VINTAGE = default_schema()
HEADER = "date,price,outcome,model_year,condition\n"
ROW = "2024-05-31,24500,sold,1951,driver\n"


def zipped(**entries):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, text in entries.items():
            archive.writestr(name.replace("__", "/").replace("_xml", ".xml"), text)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", r"Cannot read 'sales\.csv': it is empty\. Give a table with a header row"),
        (b" \r\n\t\n", "it is empty"),
        (b"\xef\xbb\xbf", "it is empty"),
        (HEADER.encode(), r"Cannot use 'sales\.csv': it has a header and no rows below it\. Add one row for each sale"),
        ((HEADER + ",,,,\n\n").encode(), "it has a header and no rows below it"),
        (
            b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj",
            "it is a PDF document, whatever its name says. A table is read from CSV",
        ),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(100), r"it is an old Excel workbook \(\.xls\)"),
        (b"\x89PNG\r\n\x1a\n", "it is a picture"),
        (b"\x1f\x8b\x08\x00", r"it is a compressed file \(gzip\)"),
        (b"PK\x03\x04junk", "it is a damaged spreadsheet or archive"),
        (zipped(a_txt="x"), "it is a compressed archive without a table in it"),
        (zipped(xl__workbook_xml="<nonsense/>"), "the workbook is damaged"),
        (zipped(mimetype="x", content_xml="<nonsense"), "the workbook is damaged"),
        (b"PAR1 but not really PAR1", "it starts like a Parquet file but is damaged"),
        (b"<!doctype html><table>", "it is a web page or XML, not a table"),
        (b'[{"price": 1}]', "it is JSON, not a table"),
        (b"date,price\n\x00\x01\x02\x03\x04", "it is not text, so it is not a CSV table"),
        (bytes(range(256)) * 20, "it is not text, so it is not a CSV table"),
        (
            b"date~price~outcome\n2024-05-31~5~sold\n",
            r"a single column, headed 'date~price~outcome'\. Columns are separated by",
        ),
        (
            b"Dear sir, here is the table.\nYours\n",
            r"no price column\. Its headers are 'Dear sir', 'here is the table\.'",
        ),
        (
            b"date,prise,outcome\n2024-05-31,5,sold\n",
            r"Its headers are 'date', 'prise', 'outcome'\. Rename 'prise' to 'price'",
        ),
        (b"sale,date\n1,2\n", r"'sale', 'date'\. Name the column of prices 'price'"),
        (b"a,b\n1,2\n", r"Name the column of prices 'price', or add its header under \[columns\] price"),
        (
            b"2024-05-31,24500,sold,1951,driver\n2024-04-30,19500,sold,1953,show\n",
            r"it has no header row; row 1 holds values already \('2024-05-31', '24500', .*Put a row above it that",
        ),
        (
            (HEADER + "2024-05-31,5,sold,1951," + "x" * 2_000_000).encode(),
            r"near line 2 a cell is longer than 32,767 characters",
        ),
        (
            (HEADER + "2024-05-31,5,sold,1951," + "x" * 40_000).encode(),
            r"a cell in row 2 holds 40,000 characters; at most 32,767 are accepted",
        ),
        ((HEADER + '"2024-05-31,5,sold,1951,driver\n' + ROW * 5000).encode(), "its quotation marks do not match"),
        ((",".join(f"c{i}" for i in range(501)) + ",price\n").encode(), "it has 502 columns; at most 500 are accepted"),
    ],
)
def test_refused_with_what_was_found_and_what_to_do(data, words):
    with pytest.raises(TableError, match=words):
        read_comparables(data, VINTAGE, name="sales.csv")


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(
        TableError, match=r"Cannot read the table .*gone\.csv: No such file or directory\. Check the path"
    ):
        read_comparables(tmp_path / "gone.csv", VINTAGE)


def test_a_folder_is_no_table(tmp_path):
    with pytest.raises(TableError, match="Is a directory"):
        read_comparables(tmp_path, VINTAGE)


def test_bytes_without_a_name_are_called_the_table():
    with pytest.raises(TableError, match="Cannot read 'the table': it is empty"):
        read_comparables(b"", VINTAGE)


def test_an_archive_that_unpacks_to_too_much_is_not_unpacked(monkeypatch):
    monkeypatch.setattr("valuation.comparables.sniffing.MAX_UNPACKED", 10)
    with pytest.raises(TableError, match="it would unpack to 12 bytes; at most 10 are accepted"):
        read_comparables(zipped(xl__workbook_xml="123456789012"), VINTAGE)


def test_more_rows_than_are_accepted(monkeypatch):
    monkeypatch.setattr("valuation.comparables.texttable.MAX_ROWS", 3)
    with pytest.raises(TableError, match="it has more than 3 rows"):
        read_comparables((HEADER + ROW * 3).encode(), VINTAGE)


def test_frames_are_held_to_the_same_limits():
    with pytest.raises(TableError, match="it is empty"):
        from_frame(pd.DataFrame(), VINTAGE)
    with pytest.raises(TableError, match="it has a header and no rows"):
        from_frame(pd.DataFrame({"price": [], "date": []}), VINTAGE)
    with pytest.raises(TableError, match="Cannot use 'mine': it has no price column"):
        from_frame(pd.DataFrame({"a": [1], "b": [2]}), VINTAGE, name="mine")
    with pytest.raises(TableError, match="a cell in row 3 holds 40,000 characters"):
        from_frame(pd.DataFrame({"price": ["1", "x" * 40_000], "date": ["", ""]}), VINTAGE)
