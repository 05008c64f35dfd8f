"""The workbook: the table reads back, and LibreOffice reckons the grid's formulas to the cent."""

import datetime as dt
import io
import re
import shutil
import subprocess
from dataclasses import replace

import pandas as pd
import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from tests.unit.sheets.conftest import shop_frame
from tests.unit.sheets.printed import lines_of
from valuation.comparables import from_frame, read_comparables
from valuation.errors import SheetError
from valuation.paths.compare import evaluate_paths
from valuation.schema import default_schema
from valuation.sheets.workbook import paths_workbook, workbook
from valuation.text.locale import LOCALES

DAY = dt.date(2026, 11, 2)
HERE = LOCALES["international"]


@pytest.fixture(scope="module")
def ways(market, plans):
    return evaluate_paths(market, plans, DAY, price=7321)


@pytest.fixture(scope="module")
def content(table, found):
    return workbook(table, found)


@pytest.fixture(scope="module")
def private(ways):
    return paths_workbook(ways)


def test_the_table_reads_back_with_the_same_fingerprint(table, content):
    back = read_comparables(content, table.schema, today=None)
    assert back.fingerprint == table.fingerprint
    assert (back.n_usable, back.faults) == (table.n_usable, ())


def test_another_currency_and_a_premium_by_venue_read_back(table):
    schema = replace(default_schema(), currency="USD", rates={"EUR": 1.0837}, venue_premiums={"Quarrygate": 7.3})
    frame = pd.DataFrame(index=range(30)).assign(
        price=[10_001.01 + 333.37 * i for i in range(30)],
        currency=["EUR" if i % 2 else "USD" for i in range(30)],
        venue=["Quarrygate" if i % 3 else "private" for i in range(30)],
        date="2026-01-05",
        outcome="sold",
        source=[f"lot {i}" for i in range(30)],
        model_year=1950,
        condition="driver",
    )
    own = from_frame(frame, schema)
    assert read_comparables(workbook(own), schema).fingerprint == own.fingerprint


def test_equal_input_gives_equal_bytes(table, found, ways, content, private):
    assert workbook(table, found) == content
    assert paths_workbook(ways) == private


def test_faults_and_rows_set_aside_are_in_it(table):
    frame = table.sales[["sale", "price", "outcome", "source"]].assign(
        date=table.sales["date"].dt.strftime("%Y-%m-%d"), model_year=1950, condition="driver"
    )
    frame.loc[frame.index[2], "condition"] = "drvier"
    frame["price"] = frame["price"].astype(object)
    frame.loc[frame.index[5], "price"] = "a lot"
    own = from_frame(frame, default_schema())
    assert len(own.set_aside) == 2
    book = load_workbook(io.BytesIO(workbook(own)))
    faults = list(book["Faults"].iter_rows(min_row=2, values_only=True))
    assert [(row[0], row[2]) for row in faults if row[5] == "yes"] == [("4", "drvier"), ("7", "a lot")]
    assert [row[0] for row in book["Set aside"].iter_rows(min_row=2, values_only=True)] == ["4", "7"]
    assert book["Comparables"].max_row == own.n_usable + 1
    said = [row[0] for row in book["Summary"].iter_rows(values_only=True) if row[0]]
    assert "42 usable rows of 44. Rows set aside: 2, see 'Set aside'. Faults found: 2, see 'Faults'." in said


def recomputed(content, folder):
    """The workbook as LibreOffice reckons it; openpyxl drops the stored values first, so none can be taken over."""
    soffice = shutil.which("soffice")
    if soffice is None:
        pytest.skip("LibreOffice (soffice) is not installed")
    book = load_workbook(io.BytesIO(content))
    book.save(folder / "bare.xlsx")
    assert load_workbook(folder / "bare.xlsx", data_only=True)["Grid"]["E6"].value is None
    subprocess.run(
        [soffice, f"-env:UserInstallation=file://{folder}/profile", "--headless", "--convert-to", "xlsx", "--outdir",
         str(folder / "out"), str(folder / "bare.xlsx")],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    return load_workbook(folder / "out" / "bare.xlsx", data_only=True)


def test_libreoffice_reckons_the_same_to_the_cent(content, found, tmp_path):
    sheet = recomputed(content, tmp_path)["Grid"]
    for number, row in enumerate(found.grid):
        column = 5 + 3 * number
        for at, line in enumerate(row.lines, start=6):
            assert round(100 * sheet.cell(at, column).value) == round(100 * line.amount)
        assert round(100 * sheet.cell(6 + len(row.lines), column).value) == round(100 * row.adjusted_price)
    reconciled = sheet.cell(6 + len(found.grid[0].lines) + 3, 2).value
    assert round(reconciled, 2) == round(found.reconciled, 2)


def test_stored_values_are_those_of_the_evidence(content, found):
    sheet = load_workbook(io.BytesIO(content), data_only=True)["Grid"]
    for number, row in enumerate(found.grid):
        assert sheet.cell(6 + len(row.lines), 5 + 3 * number).value == row.adjusted_price


def test_it_opens_with_the_answer(content, found):
    book = load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["Summary", "Comparables", "Grid", "Effects"]  # of an empty one the summary says so
    rows = {row[0]: row[1] for row in book["Summary"].iter_rows(values_only=True)}
    assert "44 usable rows of 44. Rows set aside: none. Faults found: none." in rows
    assert book["Summary"]["A1"].value == found.vehicle.name
    assert rows["Estimate"] == pytest.approx(found.median)
    assert rows["Range, low end"] == pytest.approx(found.interval.low)
    assert rows["Range, high end"] == pytest.approx(found.interval.high)
    assert rows["The nearest sales come to"] == pytest.approx(found.reconciled)
    assert [text for text in rows if text and text.startswith("This workbook holds the whole table with its sources")]


def test_effects_are_in_it(content, found):
    effects = list(load_workbook(io.BytesIO(content))["Effects"].iter_rows(min_row=2, values_only=True))
    assert [(row[0], row[2]) for row in effects] == [(effect.title, effect.to_level) for effect in found.effects]
    assert [row[3] for row in effects] == pytest.approx([effect.percent for effect in found.effects])


def printed_pages(folder, **books):
    """The pages of each workbook as LibreOffice prints them, all made by one start of it."""
    soffice = shutil.which("soffice")
    if soffice is None:
        pytest.skip("LibreOffice (soffice) is not installed")
    for name, content in books.items():
        (folder / f"{name}.xlsx").write_bytes(content)
    subprocess.run(
        [soffice, f"-env:UserInstallation=file://{folder}/profile", "--headless", "--convert-to", "pdf", "--outdir",
         str(folder), *(str(folder / f"{name}.xlsx") for name in books)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    return {name: PdfReader(folder / f"{name}.pdf").pages for name in books}


def test_each_printed_page_can_be_read_says_what_it_is_and_none_is_empty(table, found, ways, tmp_path):
    """Letters of seven points at least (``lines_of`` measures them), and as few pages as that leaves."""
    frame = shop_frame()
    frame.loc[frame.index[:3], "condition"] = "drvier"
    faulty = from_frame(frame, default_schema(), name="faulty.csv", today=DAY)
    books = printed_pages(
        tmp_path,
        a4=workbook(table, found),
        letter=workbook(faulty, paper="us-letter"),
        private=paths_workbook(ways),
    )
    pages = {"Summary": 1, "Comparables": 2, "Grid": 2, "Effects": 1}
    wanted = {
        "a4": ((595, 842), pages),
        "letter": ((612, 792), {"Summary": 1, "Comparables": 2, "Set aside": 2, "Faults": 1}),
        "private": ((595, 842), {"Paths (private)": 1}),
    }
    heads = {"Comparables": "sale", "Grid": "Sale", "Effects": "attribute", "Set aside": "row", "Faults": "row"}
    heads |= {"Summary": "", "Paths (private)": "Private: not for the buyer"}
    for name, (paper, parts) in wanted.items():
        made = [(page, lines_of(page)) for page in books[name]]
        feet = [re.sub(r" \d+ / \d+$", "", lines[-1][2]) for _, lines in made]
        assert {part: feet.count(part) for part in feet} == parts
        for part, (page, lines) in zip(feet, made, strict=True):
            upright = round(page.mediabox.width), round(page.mediabox.height)
            assert upright == (paper if part == "Summary" else paper[::-1])
            assert len(lines) > 3, (name, part)
            assert heads[part] in lines[0][2].split() or lines[0][2].startswith(heads[part])
    cover = [words for _, _, words in lines_of(books["a4"][0])]
    assert cover[0] == found.vehicle.name
    assert [words for words in cover if words.startswith(f"Estimate {found.median:,.2f} ")]
    for name, sales in (("a4", table.sales), ("letter", faulty.sales)):
        texts = [page.extract_text() for page in books[name] if "Comparables" in lines_of(page)[-1][2]]
        for sale in sales["sale"]:
            assert sum(sale in text for text in texts) == 2, sale  # once with its price, once with its attributes


def test_filters_stand_over_every_table(content, table):
    book = load_workbook(io.BytesIO(content))
    for name in ("Comparables", "Grid", "Effects"):
        assert book[name].print_title_rows == "$1:$1"
    assert book["Comparables"].auto_filter.ref.startswith("A1:")
    assert book["Comparables"].auto_filter.ref.endswith(str(table.n_usable + 1))
    assert book["Effects"].auto_filter.ref


def test_paths_stand_in_a_workbook_of_their_own(content, private, ways):
    assert load_workbook(io.BytesIO(private)).sheetnames == ["Paths (private)"]
    paths = {row[0]: row[1:] for row in load_workbook(io.BytesIO(private)).active.iter_rows(values_only=True)}
    assert "Private: not for the buyer" in paths
    assert list(paths["Most to pay"]) == pytest.approx([path.most_to_pay for path in ways.paths])
    assert not [name for name in load_workbook(io.BytesIO(content)).sheetnames if "rivate" in name]


def test_no_price_at_all_is_said_in_words(ways):
    hopeless = replace(
        ways,
        paths=tuple(
            replace(path, most_to_pay_proof=replace(path.most_to_pay_proof, price=-14_764.8)) for path in ways.paths
        ),
    )
    rows = load_workbook(io.BytesIO(paths_workbook(hopeless))).active.iter_rows(values_only=True)
    paths = {row[0]: row[1:] for row in rows}
    assert set(paths["Most to pay"]) == {"walk away"}


def test_a_table_too_long_for_a_sheet_is_refused(table, monkeypatch):
    monkeypatch.setattr("valuation.sheets.workbook.MOST_ROWS", 10)
    with pytest.raises(SheetError, match=r"Cannot write 44 rows of invented\.csv to a workbook: a sheet holds 10"):
        workbook(table)
