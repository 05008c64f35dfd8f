"""One table in every kind of file, encoding and delimiter reads as the same comparables."""

import datetime as dt
import io
import zipfile

import pandas as pd
import pytest

from valuation.comparables import from_frame, read_comparables
from valuation.errors import TableError
from valuation.schema import default_schema

VINTAGE = default_schema()
TODAY = dt.date(2025, 6, 1)
FRAME = pd.DataFrame(
    {
        "sale": ["a", "b", "c"],
        "Date of sale": [dt.date(2024, 5, 31), dt.date(2023, 1, 2), dt.date(2022, 12, 24)],
        "Hammer price": [24500.5, 18000.0, 31000.0],
        "Outcome": ["sold", "bid not met", "asking"],
        "family": ["Törn", "Tern", "Törn"],
        "Year": [1951, 1952, 1960],
        "condition": ["driver", "runner", "show"],
        "Original paint": [True, False, True],
        "Mileage": [45000.0, None, 12.125],
    }
)


def read(data, **options):
    return read_comparables(data, VINTAGE, today=TODAY, **options)


EXPECTED = from_frame(FRAME, VINTAGE, today=TODAY)


def csv_bytes(delimiter=",", encoding="utf-8", **options):
    return FRAME.to_csv(index=False, sep=delimiter, **options).encode(encoding)


def workbook(kind, frame=FRAME, sheet="sales"):
    buffer = io.BytesIO()
    with pd.ExcelWriter(buffer, engine={"xlsx": "openpyxl", "ods": "odf"}[kind]) as writer:
        frame.to_excel(writer, sheet_name=sheet, index=False)
    return buffer.getvalue()


def test_what_is_expected_is_what_the_frame_says():
    assert EXPECTED.n_usable == EXPECTED.rows == 3
    assert EXPECTED.faults == ()
    assert EXPECTED.sales.index.tolist() == [2, 3, 4]
    assert EXPECTED.attributes["family"].tolist() == ["Törn", "Tern", "Törn"]
    assert EXPECTED.attributes["original_finish"].tolist() == [1.0, 0.0, 1.0]
    assert EXPECTED.attributes["mileage"].tolist()[2] == 12.125
    assert EXPECTED.prices().tolist() == [[24500.5, 24500.5], [18000.0, float("inf")], [0.0, 31000.0]]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_delimiters_and_encodings(delimiter, encoding):
    assert read(csv_bytes(delimiter, encoding)).fingerprint == EXPECTED.fingerprint


def test_a_guessed_encoding_is_noted():
    codes = [note.code for note in read(csv_bytes(encoding="cp1252")).notes]
    assert codes == ["encoding_guessed"]


@pytest.mark.parametrize(
    ("encoding", "called", "words"),
    [
        ("cp1252", "Western text of Windows", ("Törn", "Kübel", "Größe", "café", "d’Or", "Tušek")),
        ("cp850", "Western text of DOS", ("Kübel", "läuft", "Kübel Ångström")),
        ("mac_roman", "Western text of older Apple computers", ("café", "Ångström", "Größe am café")),
    ],
)
def test_an_old_code_page_is_told_by_the_words_that_it_makes(encoding, called, words):
    text = "date,price,outcome,model_year,condition,family\n2024-05-31,100,sold,1951,driver,{}\n"
    for word in words:
        found = read(text.format(word).encode(encoding))
        assert found.attributes["family"].tolist() == [word]
        assert [note.text for note in found.notes if note.code == "encoding_guessed"] == [
            f"The file is not UTF-8; it was read as {called}. Check the accented letters."
        ]


def test_a_word_that_no_code_page_makes_alone_is_read_as_that_of_windows():
    text = b"date,price,outcome,model_year,condition,family\n2024-05-31,100,sold,1951,driver,\xc9toile\n"
    assert read(text).attributes["family"].tolist() == ["Étoile"]


def test_semicolons_with_decimal_commas():
    assert read(csv_bytes(";", decimal=",")).fingerprint == EXPECTED.fingerprint


def test_a_spreadsheets_own_hint_at_the_delimiter_is_no_row():
    table = read(b"sep=;\n" + csv_bytes(";"))
    assert table.fingerprint == EXPECTED.fingerprint
    assert table.sales.index.tolist() == [2, 3, 4]


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_workbooks(kind, tmp_path):
    file = tmp_path / f"table.{kind}"
    file.write_bytes(workbook(kind))
    table = read(file)
    assert table.fingerprint == EXPECTED.fingerprint
    assert table.source_name == file.name


def test_parquet(tmp_path):
    FRAME.to_parquet(tmp_path / "table.parquet")
    assert read(tmp_path / "table.parquet").fingerprint == EXPECTED.fingerprint
    FRAME.set_index("sale").to_parquet(tmp_path / "indexed.parquet")
    assert read(tmp_path / "indexed.parquet").fingerprint == EXPECTED.fingerprint


def test_the_content_decides_and_not_the_name():
    assert read(workbook("xlsx"), name="table.csv").fingerprint == EXPECTED.fingerprint


def test_typed_frames():
    typed = FRAME.convert_dtypes().assign(**{"Date of sale": pd.to_datetime(FRAME["Date of sale"])})
    typed["condition"] = typed["condition"].astype("category")
    assert from_frame(typed, VINTAGE, today=TODAY).fingerprint == EXPECTED.fingerprint


def test_the_sheet_that_fits_best_is_read_and_the_others_are_named():
    buffer = io.BytesIO()
    with pd.ExcelWriter(buffer, engine="openpyxl") as writer:
        pd.DataFrame({"remarks": ["x"], "other": ["y"]}).to_excel(writer, sheet_name="Notes", index=False)
        FRAME.to_excel(writer, sheet_name="Sales", index=False)
    table = read(buffer.getvalue())
    assert table.fingerprint == EXPECTED.fingerprint
    assert [note.text for note in table.notes] == ["The sheet 'Sales' was read; 'Notes' was not."]
    with pytest.raises(TableError, match="no price column"):
        read(buffer.getvalue(), sheet="notes")
    with pytest.raises(TableError, match=r"it has no sheet 'Sale'\. Its sheets are Notes, Sales\. Did you mean 'S"):
        read(buffer.getvalue(), sheet="Sale")


def test_percent_and_currency_formats_of_a_workbook_are_read_as_they_are_shown():
    import xlsxwriter

    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["price", "premium", "outcome", "date", "model_year", "condition"])
        sheet.write_number(1, 0, 20000, book.add_format({"num_format": "[$€-407] #,##0.00"}))
        sheet.write_number(1, 1, 0.07, book.add_format({"num_format": "0%"}))
        sheet.write_row(1, 2, ["sold"])
        sheet.write_datetime(1, 3, dt.datetime(2024, 5, 31), book.add_format({"num_format": "dd.mm.yyyy"}))
        sheet.write_row(1, 4, [1951, "driver"])
    sale = read(buffer.getvalue()).sales.iloc[0]
    assert (sale["currency"], sale["premium"], sale["low"]) == ("EUR", 1400.0, 21400.0)


def test_row_numbers_are_those_of_the_spreadsheet_and_blank_rows_are_no_rows():
    header = "date,price,outcome,model_year,condition"
    text = f"\n\n{header}\n\n2024-05-31,1,sold,1951,driver\n,,,,\n2024-05-30,2,sold,1951,show\n"
    table = read(text.encode())
    assert table.sales.index.tolist() == [5, 7]
    assert table.rows == 2


def test_a_line_break_inside_a_quoted_cell_does_not_end_the_row():
    text = 'date,price,outcome,model_year,condition,source\n2024-05-31,1,sold,1951,driver,"lot 1\nHall"\n'
    assert read(text.encode()).sales["source"].tolist() == ["lot 1 Hall"]


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_a_title_above_the_header_is_passed_over_and_noted(delimiter):
    table = read(b"Our sales\n\n" + csv_bytes(delimiter))
    assert table.fingerprint == EXPECTED.fingerprint
    assert table.sales.index.tolist() == [4, 5, 6]
    assert [note.text for note in table.notes] == ["The line above the header, 'Our sales', was skipped."]


def test_a_title_above_the_header_of_a_sheet():
    buffer = io.BytesIO()
    with pd.ExcelWriter(buffer, engine="openpyxl") as writer:
        FRAME.to_excel(writer, sheet_name="Sales", index=False, startrow=2)
        writer.sheets["Sales"].cell(1, 1, "Our sales")
    table = read(buffer.getvalue())
    assert table.fingerprint == EXPECTED.fingerprint
    assert table.sales.index.tolist() == [4, 5, 6]


def test_a_workbook_that_is_damaged_further_down():
    source, damaged = zipfile.ZipFile(io.BytesIO(workbook("xlsx"))), io.BytesIO()
    with zipfile.ZipFile(damaged, "w") as target:
        for entry in source.infolist():
            content = source.read(entry)
            if entry.filename == "xl/worksheets/sheet1.xml":
                content = content[: content.rindex(b"<row")] + b"<row r='4'><c nonsense"
            target.writestr(entry.filename, content)
    with pytest.raises(TableError, match=r"Cannot read 'the table': the workbook is damaged \(ParseError\)"):
        read(damaged.getvalue())


def test_a_sheet_that_says_a_row_is_there_a_milliard_times_is_refused():
    source, bomb = zipfile.ZipFile(io.BytesIO(workbook("ods"))), io.BytesIO()
    with zipfile.ZipFile(bomb, "w") as target:
        for entry in source.infolist():
            content = source.read(entry)
            if entry.filename == "content.xml":
                content = content.replace(
                    b"<table:table-row", b'<table:table-row table:number-rows-repeated="1000000000"'
                )
            target.writestr(entry.filename, content)
    with pytest.raises(TableError, match="the workbook is damaged"):
        read(bomb.getvalue())


def test_a_workbook_of_empty_sheets_is_empty():
    buffer = io.BytesIO()
    with pd.ExcelWriter(buffer, engine="openpyxl") as writer:
        pd.DataFrame().to_excel(writer, sheet_name="one", index=False)
        pd.DataFrame().to_excel(writer, sheet_name="two", index=False)
    with pytest.raises(TableError, match="it is empty"):
        read(buffer.getvalue())


def test_a_workbook_without_a_sheet_counts_as_damaged():
    from odf.opendocument import OpenDocumentSpreadsheet

    buffer = io.BytesIO()
    OpenDocumentSpreadsheet().write(buffer)
    with pytest.raises(TableError, match="the workbook is damaged"):
        read(buffer.getvalue())
