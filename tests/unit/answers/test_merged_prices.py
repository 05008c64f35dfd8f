"""A workbook with one price merged over two vehicles, written anew by the desk, does not count it as two sales."""

import io
from functools import cache

import openpyxl
import pytest

from valuation.answers.add import add_to_ledger, told
from valuation.answers.intake import bring, draft_of, mend_table
from valuation.answers.sales_of_table import what_changed
from valuation.answers.tables import Tables
from valuation.comparables.mend import Mend
from valuation.comparables.mends import Reapplied

HEADER = ("date", "price", "outcome", "family", "model_year", "condition")
ROWS = [(f"2025-0{1 + i}-15", 10_000 + 700 * i, "sold", "Tarrowby Linnet", 1950 + i, "driver") for i in range(6)]
MERGED = (5, 6)
WRITTEN = Mend(2, "condition", "driver", "show")


@cache
def workbook():
    """The same bytes each time: a file of this kind holds the time at which it was written."""
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for row in (HEADER, *ROWS):
        sheet.append(row)
    sheet.merge_cells("B5:B6")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.fixture
def tables(tmp_path):
    opened = Tables(str(tmp_path / "ledger.sqlite"), currency="EUR")
    yield opened
    opened.close()


def brought(tables, mends=None):
    return bring(tables, draft_of(tables, "Linnets", workbook(), "linnets.xlsx"), mends=mends)


def prices(tables, table):
    return [tables.text_table(table).cell(row, "price") for row in MERGED]


def test_a_mend_on_the_page_of_the_table(tables):
    came = brought(tables).table
    assert tables.comparables(came).n_usable == 4
    mended = mend_table(tables, came, {(2, "condition"): "show"}).table
    assert prices(tables, mended) == ["", ""]
    assert tables.comparables(mended).n_usable == 4
    changes = {(one.row, one.column): one for one in what_changed(tables, "Linnets")[0].changes}
    assert set(changes) == {(2, "condition"), (5, "price"), (6, "price")}
    assert "merged" in changes[5, "price"].reason


def test_a_mend_before_the_table_is_kept_and_the_same_file_once_more(tables):
    found = brought(tables, Reapplied((WRITTEN,), (), ()))
    assert prices(tables, found.table) == ["", ""]
    assert tables.comparables(found.table).n_usable == 4
    assert brought(tables).table == found.table, "the same file with the same mends writes nothing"


def test_a_price_that_was_typed_for_one_of_them_stays(tables):
    came = brought(tables).table
    mended = mend_table(tables, came, {(5, "price"): "4000"}).table
    assert prices(tables, mended) == ["4000", ""]
    assert tables.comparables(mended).n_usable == 5


def test_a_sale_that_is_added(tables):
    came = brought(tables).table
    cells = dict(zip(HEADER, ("2025-09-01", "15000", "sold", "Tarrowby Linnet", "1958", "show"), strict=True))
    added = add_to_ledger(tables, came, told(cells))
    newest = tables.newest_of("Linnets")
    assert newest is not None
    assert (added.version, prices(tables, newest)) == (newest.id, ["", ""])
    assert added.usable == tables.comparables(newest).n_usable == 5
    assert what_changed(tables, "Linnets")[0].said == "1 sale added."
