"""Spreadsheets: rows of text from the sheets of an XLSX or ODS workbook that may be the table."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable, Collection, Iterator, Sequence
from functools import lru_cache
from itertools import chain
from typing import Any

from valuation.comparables.texttable import MAX_ROWS
from valuation.errors import TableError, shortlist
from valuation.schema.values import as_text
from valuation.text.spelling import did_you_mean, level_key

Rows = Iterator[Sequence[str]]


def workbook_rows(
    data: bytes, name: str, kind: str, is_known: Callable[[str], bool], sheet: str | None
) -> tuple[dict[str, Rows], tuple[str, ...]]:
    """The rows of the sheets that fit best, as text by title, and the titles of the others that hold something.

    Several fit best when they have equally many known headers. A sheet that is asked for by name is the only one.

    Raises
    ------
    TableError
        If the workbook is damaged, or has no sheet of the name asked for.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about parts of a workbook that hold no cells
            sheets = _xlsx_sheets(data) if kind == "xlsx" else _ods_sheets(data)
            starts = {title: _start(rows) for title, rows in sheets.items()}
    except Exception as problem:  # the reading libraries raise many kinds for damaged files
        raise _damaged(name, problem) from problem
    if sheet is not None:
        chosen = _named(starts, name, sheet)
        return {chosen: _guarded(chain(*starts[chosen]), name)}, ()
    merits = {title: _merit(start[-1] if start else [], is_known) for title, (start, _) in starts.items()}
    best = max(merits.values())
    filled = [title for title, (_, holds) in merits.items() if holds]
    fitting = [title for title in filled if merits[title] == best] or list(starts)[:1]
    rows = {title: _guarded(chain(*starts[title]), name) for title in fitting}
    return rows, tuple(title for title in filled if title not in fitting)


def _guarded(rows: Any, name: str) -> Rows:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield from rows
    except Exception as problem:
        raise _damaged(name, problem) from problem


def _damaged(name: str, problem: Exception) -> TableError:
    return TableError(
        f"Cannot read '{name}': the workbook is damaged ({type(problem).__name__}). Open it in a spreadsheet program "
        "and save it anew, or save the table as CSV."
    )


def _start(rows: Rows) -> tuple[list[Sequence[str]], Rows]:
    """The rows up to and with the first that has two cells or more, and the rest."""
    start: list[Sequence[str]] = []
    for row in rows:
        start.append(row)
        if sum(bool(cell.strip()) for cell in row) > 1 or len(start) > MAX_ROWS:
            break
    return start, rows


def _merit(header: Sequence[str], is_known: Callable[[str], bool]) -> tuple[int, bool]:
    """How many known headers a sheet has, and whether it holds anything at all."""
    return sum(map(is_known, header)), any(header)


def _named(titles: Collection[str], name: str, sheet: str) -> str:
    for title in titles:
        if level_key(title) == level_key(sheet):
            return title
    raise TableError(
        f"Cannot read '{name}': it has no sheet '{sheet}'. Found are {shortlist(list(titles))}."
        f"{did_you_mean(sheet, titles)}"
    )


def _xlsx_sheets(data: bytes) -> dict[str, Rows]:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    sheets: dict[str, Rows] = {}
    for sheet in book.worksheets:
        sheet.reset_dimensions()  # what a writer says about the size is often wrong
        sheets[sheet.title] = _xlsx_rows(sheet)
    return sheets


def _xlsx_rows(sheet: Any) -> Rows:
    for row in sheet.iter_rows():
        yield [_xlsx_text(cell) for cell in row]


def _xlsx_text(cell: Any) -> str:
    value = cell.value
    if value is None or isinstance(value, str):
        return value or ""
    text = as_text(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        percent, sign = _shown_as(cell.number_format)
        if percent:
            return as_text(round(value * 100, 10)) + "%"
        return sign + text
    return text


@lru_cache(maxsize=1024)
def _shown_as(number_format: str) -> tuple[bool, str]:
    """Whether a number format shows percent, and the currency sign or code that it shows before the number."""
    bracketed = re.search(r"\[\$([^\]-]+)(-[^\]]*)?\]", number_format)
    rest = re.sub(r"\[[^\]]*\]", "", number_format)
    sign = bracketed[1].strip() if bracketed else next((sign for sign in rest if sign in "€£¥$"), "")
    return "%" in rest, f"{sign} " if sign.isalpha() else sign


def _ods_sheets(data: bytes) -> dict[str, Rows]:
    import zipfile

    import pandas as pd

    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        content = archive.read("content.xml")
    # A few bytes can say that a row is repeated a milliard times; the reading library would lay out every one.
    if any(int(times) > MAX_ROWS for times in re.findall(rb'-repeated="(\d+)"', content)):
        raise ValueError("repeats a row or cell more often than a table has rows")
    frames = pd.read_excel(
        io.BytesIO(data), engine="odf", sheet_name=None, header=None, dtype=object, keep_default_na=False
    )
    return {str(title): _frame_rows(frame) for title, frame in frames.items()}


def _frame_rows(frame: Any) -> Rows:
    for row in frame.itertuples(index=False, name=None):
        yield [as_text(value) for value in row]
