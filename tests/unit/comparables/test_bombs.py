"""Small files that claim to be huge: refused before they are laid out."""

import io
import zipfile

import openpyxl
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from valuation.comparables import read_comparables
from valuation.errors import TableError
from valuation.schema import default_schema

VINTAGE = default_schema()
FRAME = pd.DataFrame({"price": [24500.0], "outcome": ["sold"], "date": ["2024-05-31"], "model_year": [1951]})


def ods():
    out = io.BytesIO()
    with pd.ExcelWriter(out, engine="odf") as writer:
        FRAME.to_excel(writer, index=False)
    return out.getvalue()


def rewritten(data, part, change):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            content = source.read(name)
            target.writestr(name, change(content) if name == part else content)
    return out.getvalue()


@pytest.mark.parametrize("part", ["styles.xml", "meta.xml"])
def test_a_broken_part_of_an_ods_is_refused_and_nothing_is_printed(part, capfd):
    data = rewritten(ods(), part, lambda content: content.replace(b"</office:", b"</offices:", 1))
    with pytest.raises(TableError, match="damaged"):
        read_comparables(data, VINTAGE)
    assert capfd.readouterr() == ("", "")


def test_an_ods_of_a_hundred_thousand_rows_and_columns_is_refused():
    def repeat(content):
        content = content.replace(b"<table:table-row", b'<table:table-row table:number-rows-repeated="100000"')
        return content.replace(b"<table:table-cell", b'<table:table-cell table:number-columns-repeated="100000"')

    with pytest.raises(TableError, match=r"the workbook is damaged: it repeats cells up to .* Delete what"):
        read_comparables(rewritten(ods(), "content.xml", repeat), VINTAGE)


def test_empty_cells_repeated_to_the_end_of_the_sheet_are_no_bomb():
    tail = b'<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
    tail += b'table:number-columns-repeated="16384"/></table:table-row></table:table>'
    data = rewritten(ods(), "content.xml", lambda content: content.replace(b"</table:table>", tail))
    assert read_comparables(data, VINTAGE).rows == 1


def test_an_xlsx_without_sheets_is_refused():
    book = openpyxl.Workbook()
    out = io.BytesIO()
    book.save(out)

    def emptied(content):
        start, end = content.index(b"<sheets>"), content.index(b"</sheets>")
        return content[: start + 8] + content[end:]

    with pytest.raises(TableError, match=r"the workbook (has no sheet of cells|is damaged)"):
        read_comparables(rewritten(out.getvalue(), "xl/workbook.xml", emptied), VINTAGE)


def test_an_xlsx_of_more_cells_than_are_accepted_is_refused(monkeypatch):
    monkeypatch.setattr("valuation.comparables.texttable.MAX_CELLS", 20_000)
    book = openpyxl.Workbook()
    book.active.append(list(FRAME.columns))
    book.active.append([*FRAME.iloc[0]])
    book.active.cell(row=3, column=16_384, value="far away")
    book.active.cell(row=4, column=16_384, value="far away")
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(TableError, match=r"it has 32,\d{3} cells or more; at most 20,000 are accepted"):
        read_comparables(out.getvalue(), VINTAGE)


def test_a_parquet_of_a_milliard_equal_cells_is_refused_by_its_own_description():
    out = io.BytesIO()
    column = pa.array([None] * 11_000_000, pa.null())
    pq.write_table(pa.table({"price": column}), out)
    assert len(out.getvalue()) < 100_000
    with pytest.raises(TableError, match=r"it has more than 2,000,000 rows"):
        read_comparables(out.getvalue(), VINTAGE)


def test_a_csv_of_a_million_columns_is_refused():
    data = b"price,outcome," + b"x," * 1_000_000 + b"\n" + b"1," * 1_000_002 + b"\n"
    with pytest.raises(TableError, match=r"has 1,000,0\d\d columns; at most 500 are accepted"):
        read_comparables(data, VINTAGE)


def test_a_price_of_hundreds_of_digits_is_a_fault():
    data = f"price,outcome,date,model_year\n{'9' * 400},sold,2024-05-31,1951\n1e13,sold,2024-05-31,1951\n"
    faults = [fault for fault in read_comparables(data.encode(), VINTAGE).faults if fault.column == "price"]
    assert [(fault.row, fault.code) for fault in faults] == [
        (2, "price_not_a_number"),
        (3, "price_not_a_number"),
    ]
    assert "is too large; the largest number accepted is" in faults[0].why
    assert "is more than 1,000,000,000,000" in faults[1].why


@pytest.mark.parametrize(
    "data", [b"price,outcome\n\x001,sold\n" * 3, b"price,outcome\n1,sold\x00\n", b"PAR1" * 9, b'sep="\nprice\n1\n']
)
def test_odd_bytes_are_refused(data):
    with pytest.raises(TableError, match="Cannot read"):
        read_comparables(data, VINTAGE)


def test_a_spreadsheet_that_unpacks_to_more_than_can_be_read_in_a_minute_is_refused():
    data = rewritten(ods(), "content.xml", lambda content: content + b" " * 21_000_000)
    assert len(data) < 100_000
    with pytest.raises(TableError, match=r"would unpack to 21,.*Save the table alone, as CSV or Parquet"):
        read_comparables(data, VINTAGE)
