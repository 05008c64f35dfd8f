"""What a file holds beside its sales: titles, joined headers, headings, totals, notes, merged and hidden cells."""

import datetime as dt
import io

import openpyxl
import pytest

from valuation.comparables import read_comparables
from valuation.comparables.mending import with_headers
from valuation.comparables.reading import read_text_tables
from valuation.errors import TableError
from valuation.schema import default_schema, parse_schema

TODAY = dt.date(2026, 11, 26)
SCHEMA = parse_schema("""
date_required = true
[columns]
price = ["Price hammer", "Price hammer (USD)", "Brought"]
premium = ["Price premium", "Price premium (%)"]
[attributes.truck]
role = "nominal"
[attributes.year]
role = "smooth"
minimum = 1885
maximum = 2015
""")
HEADER = "truck,year,price,date,outcome"
ROW = "Garrow Wren,1951,24500,2024-05-31,sold"


def read(*lines, **options):
    return read_comparables("\n".join(lines).encode(), SCHEMA, today=TODAY, **options)


def table_of(*lines):
    [found], _ = read_text_tables("\n".join(lines).encode(), lambda header: False, name="sales.csv")
    return found


def workbook(rows, change=lambda sheet: None):
    book, out = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    change(book.active)
    book.save(out)
    return out.getvalue()


def asides(found):
    return {fault.row: fault.code for fault in found.faults if fault.row}


def test_a_table_by_hand_with_a_title_semicolons_own_words_and_a_line_of_totals():
    lines = [
        "What trucks brought;;;;;",
        "Truck;Yr;Cond.;Price;Date;Outcome",
        "Garrow Wren;'54;driver;about 19.000;Dec 2025;sold",
        "Ostrey Mule;'55;runner;5.75k;spring 2024;sold",
        "Ostrey Mule;56;driver;12 500,-;31.5.2024;sold",
        "Total;;;37.250;;",
    ]
    schema = with_headers(default_schema(), {"Truck": "family", "Yr": "model_year", "Cond.": "condition"})
    found = read_comparables("\n".join(lines).encode(), schema, today=TODAY)
    assert found.sales["price"].tolist() == [19000, 5750, 12500]
    assert found.attributes["model_year"].tolist() == [1954, 1955, 1956]
    assert asides(found) == {6: "totals_row"}


@pytest.mark.parametrize(
    ("lines", "row", "headers"),
    [
        (["Our sales,x,,,", "as of May,,,y,", HEADER, ROW], 3, HEADER.split(",")),
        (["Lorry,Built,Fetched,On", "Wren,1951,24500,2024-05-31"], 1, ["Lorry", "Built", "Fetched", "On"]),
        (["Ferrish,,,,printed 3 Nov", "Lorry,Built,Fetched,On,How", "Wren,1951,24500,2024-05-31,sold"], 2,
         ["Lorry", "Built", "Fetched", "On", "How"]),
        (["Lorry,Bid 1,Bid 2,Yr", "Wren,100,200,1951", "Mule,100,200,1951"], 1, ["Lorry", "Bid 1", "Bid 2", "Yr"]),
    ],
)  # fmt: skip
def test_the_header_is_found_by_what_it_holds(lines, row, headers):
    found = table_of(*lines)
    assert found.header_rows == (row,)
    assert found.headers == headers
    assert list(found.titles) == list(range(1, row))


def test_several_title_lines_are_named_in_one_note():
    found = read("Our sales,x,,,", "as of May,,,y,", HEADER, ROW)
    assert [note.text for note in found.notes] == [
        "The 2 lines above the header were skipped: 'Our sales, x', 'as of May, y'."
    ]


def test_two_rows_of_headers_and_one_of_units_are_joined():
    lines = [
        "truck,year,Price,,date,outcome",
        ",,hammer,premium,,",
        ",,(USD),(%),,",
        "Wren,1951,1000,10,2024-05-31,sold",
    ]
    found = read(*lines)
    assert found.sales["price"].tolist() == [1000]
    assert found.sales["premium"].tolist() == [100]
    assert found.currency == "USD"
    assert [note.text for note in found.notes if note.code == "headers_joined"] == [
        "The headers stand in rows 1, 2, 3 and were joined: 'truck', 'year', 'Price hammer (USD)', "
        "'Price premium (%)', 'date' and 1 more."
    ]


def test_groups_that_tell_equal_headers_apart_are_joined_with_them():
    found = table_of("Seller,,Buyer,", "name,town,name,town", "Ada,1,Ruth,2")
    assert found.headers == ["Seller name", "Seller town", "Buyer name", "Buyer town"]


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("Total,,49000,,", "totals_row"),
        ("Average price,,24500,,", "totals_row"),
        ("Total:,2,49000,,2 sold", "totals_row"),
        (",,73500,,", "totals_row"),
        ("2024,,,,", "section_row"),
        ("Garrow Wren,,,,", "section_row"),
        (HEADER, "repeated_header"),
        (HEADER.replace("date", "date "), "repeated_header"),
    ],
)
def test_rows_that_are_no_sales_are_set_aside_under_their_own_code(line, code):
    first = [ROW.replace("24500", f"{price}") for price in (24500, 24000, 25000)]
    found = read(HEADER, *first, line, ROW.replace("1951", "1953"))
    [fault] = [fault for fault in found.faults if fault.row]
    assert (fault.row, fault.code, fault.sets_aside) == (5, code, True)
    assert fault.mend.startswith("Nothing")
    assert found.rows == 5
    assert found.set_aside.loc[5, "reason"] == fault.why


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("Total Loss,1951,24500,2024-05-30,sold", None),  # a sale with its day, whatever it is called
        (",,24500,,", "missing_outcome"),
        ("Wren,,,2024-05-30,", "missing_price"),
    ],
)
def test_what_may_be_a_sale_is_none_of_them(line, code):
    found = read(HEADER, ROW, ROW.replace("1951", "1952"), line, ROW.replace("1951", "1953"))
    assert code in (asides(found).get(4), *(fault.code for fault in found.faults))
    assert not {"totals_row", "section_row"} & {fault.code for fault in found.faults}


def test_a_table_of_headings_alone_has_no_rows():
    with pytest.raises(TableError, match="it has a header and no rows below it"):
        read(HEADER, "2024,,,,", "2025,,,,")


@pytest.mark.parametrize(
    "lines",
    [
        ["Line,Jan,Feb,Mar,Apr", "Wren,1,2,3,4", "Mule,1,2,3,4"],
        ["Line,2021,2022,2023,2024", "Wren,1,2,3,4", "Mule,1,2,3,4"],
        ["Row Labels,Millbeck Hall,private,Grand Total", "Wren,1,2,3", "Mule,1,2,3", "Grand Total,2,4,6"],
        ["Line,Q1 2024,Q2 2024,Q3 2024", "Wren,1,2,3", "Mule,1,2,3"],
    ],
)
def test_a_pivot_table_is_refused_by_name(lines):
    with pytest.raises(TableError, match=r"it is a pivot table \(.*Give the list that it was made from"):
        read(*lines)


def test_merged_cells_stand_for_all_of_their_rows_and_are_named_once():
    rows = [HEADER.split(","), ["Wren", 1951, 1000, "2024-05-31", "sold"], ["", 1952, 1100, "2024-05-30", "sold"]]
    found = read_comparables(workbook(rows, lambda sheet: sheet.merge_cells("A2:A3")), SCHEMA, today=TODAY)
    assert found.attributes["truck"].tolist() == ["Wren", "Wren"]
    assert [(one.kind, one.row, one.column, one.value) for one in found.read_as] == [
        ("merged_cells", 3, "truck", "Wren")
    ]
    assert found.notes[0].text == "1 merged cell was filled in with what the merge shows: '' as 'Wren' (row 3)."


def test_a_price_that_is_merged_over_rows_may_be_one_for_all_and_is_set_aside():
    rows = [HEADER.split(","), *[["Wren", 1951 + i, 1000 if i != 2 else "", "2024-05-31", "sold"] for i in range(4)]]
    found = read_comparables(workbook(rows, lambda sheet: sheet.merge_cells("C3:C4")), SCHEMA, today=TODAY)
    assert [(fault.row, fault.code) for fault in found.faults] == [(3, "merged_price"), (4, "merged_price")]
    assert found.sales.index.tolist() == [2, 5]


def test_a_heading_merged_over_all_columns_is_a_heading():
    rows = [HEADER.split(","), ["2023"], ["Wren", 1951, 1000, "2024-05-31", "sold"]]
    found = read_comparables(workbook(rows, lambda sheet: sheet.merge_cells("A2:E2")), SCHEMA, today=TODAY)
    assert asides(found) == {2: "section_row"}
    assert found.read_as == ()


def test_hidden_rows_and_columns_are_read_and_counted():
    def hide(sheet):
        sheet.row_dimensions[2].hidden = True
        sheet.column_dimensions["A"].hidden = True

    rows = [HEADER.split(","), *[["Wren", 1951 + i, 1000, "2024-05-31", "sold"] for i in range(3)]]
    found = read_comparables(workbook(rows, hide), SCHEMA, today=TODAY)
    assert found.n_usable == 3
    assert [note.text for note in found.notes] == [
        "1 hidden row and 1 hidden column of the sheet were read as well; what is hidden or filtered out counts too."
    ]


def test_a_formula_without_its_result_is_a_fault_of_its_cell():
    rows = [
        HEADER.split(","),
        *[["Wren", 1951 + i, "=2*500" if i == 1 else 1000, "2024-05-31", "sold"] for i in range(4)],
    ]
    [fault] = read_comparables(workbook(rows), SCHEMA, today=TODAY).faults
    assert (fault.row, fault.code) == (3, "spreadsheet_error")
    assert fault.mend == "Open the file in a spreadsheet program and save it there once."


def test_a_day_that_a_workbook_shows_as_a_month_is_a_month():
    def as_month(sheet):
        sheet["D2"].number_format = "mmm-yy"

    rows = [HEADER.split(","), ["Wren", 1951, 1000, dt.date(2025, 12, 1), "sold"]]
    found = read_comparables(workbook(rows, as_month), SCHEMA, today=TODAY)
    assert [(one.kind, one.written, one.value) for one in found.read_as] == [
        ("dates_with_a_width", "Dec 2025", "2025-12-16")
    ]


def test_an_empty_margin_is_no_column():
    found = read_comparables(
        workbook([["", "", *row] for row in (HEADER.split(","), ROW.split(","))]), SCHEMA, today=TODAY
    )
    assert found.n_usable == 1
    assert found.faults == ()
