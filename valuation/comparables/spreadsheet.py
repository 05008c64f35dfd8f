"""Spreadsheets: rows of text from the sheets of an XLSX or ODS workbook that may be the table."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Callable, Collection, Iterator, Sequence
from functools import lru_cache
from itertools import chain
from typing import Any
from xml.etree import ElementTree

from valuation.comparables.texttable import MAX_CELLS, MAX_ROWS, refuse_size
from valuation.errors import TableError, shortlist
from valuation.schema.values import as_text
from valuation.text.spelling import did_you_mean, level_key

Rows = Iterator[Sequence[str]]

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_VALUE_TYPE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}value-type"


def workbook_rows(
    data: bytes, name: str, kind: str, is_known: Callable[[str], bool], sheet: str | None
) -> tuple[dict[str, Rows], tuple[str, ...]]:
    """The rows of the sheets that fit best, as text by title, and the titles of the others that hold something.

    Several fit best when they have equally many known headers. A sheet that is asked for by name is the only one.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        For messages.
    kind : str
        ``xlsx`` or ``ods``.
    is_known : callable
        Whether a header is one that the schema knows.
    sheet : str or None
        The sheet asked for by name.

    Raises
    ------
    TableError
        If the workbook is damaged, or has no sheet of the name asked for.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about parts of a workbook that hold no cells
            sheets = _xlsx_sheets(data) if kind == "xlsx" else _ods_sheets(data, name)
            starts = {title: _start(rows, name) for title, rows in sheets.items()}
    except TableError:
        raise
    except Exception as problem:  # the reading libraries raise many kinds for damaged files
        raise _damaged(name, problem) from problem
    if not starts:
        raise TableError(
            f"Cannot read '{name}': the workbook has no sheet of cells. Save the table as a sheet, or as CSV."
        )
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
        "and save it again, or save the table as CSV."
    )


def _start(rows: Rows, name: str) -> tuple[list[Sequence[str]], Rows]:
    """The rows up to and with the first that has two cells or more, and the rest."""
    start: list[Sequence[str]] = []
    cells = 0
    for row in rows:
        start.append(row)
        cells += len(row)
        if sum(bool(cell.strip()) for cell in row) > 1:
            break
        if len(start) > MAX_ROWS or cells > MAX_CELLS:
            refuse_size(len(start), cells, name)
    return start, rows


def _merit(header: Sequence[str], is_known: Callable[[str], bool]) -> tuple[int, bool]:
    """How many known headers a sheet has, and whether it holds anything at all."""
    return sum(map(is_known, header)), any(header)


def _named(titles: Collection[str], name: str, sheet: str) -> str:
    for title in titles:
        if level_key(title) == level_key(sheet):
            return title
    raise TableError(
        f"Cannot read '{name}': it has no sheet '{sheet}'. Its sheets are {shortlist(list(titles))}."
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


def _ods_sheets(data: bytes, name: str) -> dict[str, Rows]:
    import pandas as pd

    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        _refuse_repeats(archive, name)
        _parse_other_parts(archive)
    frames = pd.read_excel(
        io.BytesIO(data), engine="odf", sheet_name=None, header=None, dtype=object, keep_default_na=False
    )
    return {str(title): _frame_rows(frame) for title, frame in frames.items()}


def _refuse_repeats(archive: zipfile.ZipFile, name: str) -> None:
    """Refuse what a few bytes blow up: the reading library lays out each repeated row and cell that is not trailing."""
    rows = cells = below = 0
    with archive.open("content.xml") as content:
        for _, element in ElementTree.iterparse(content):
            kind = element.tag.rpartition("}")[2]
            if kind == "table":
                rows = below = 0
            if kind != "table-row":
                continue
            times, wide, seen = _times(element, "rows"), 0, 0
            for cell in element:
                seen += _times(cell, "columns")
                wide = seen if len(cell) or cell.get(_VALUE_TYPE) else wide
            below += times
            rows, cells = (below, cells + wide * times) if wide else (rows, cells)
            if rows > MAX_ROWS or cells > MAX_CELLS or rows * wide > MAX_CELLS:
                raise TableError(
                    f"Cannot read '{name}': the workbook is damaged: it repeats cells up to {rows:,} rows and "
                    f"{max(cells, rows * wide):,} cells; at most {MAX_ROWS:,} and {MAX_CELLS:,} are accepted. "
                    "Delete what lies beyond the table, and save it again."
                )
            element.clear()


def _parse_other_parts(archive: zipfile.ZipFile) -> None:
    """Parse what holds no cells: the reading library prints the whole text of a broken part, amid a command's answer.

    Raises
    ------
    ElementTree.ParseError
        If a part is not well-formed.
    """
    for part in {"styles.xml", "meta.xml", "settings.xml"} & set(archive.namelist()):
        with archive.open(part) as content:
            for _, element in ElementTree.iterparse(content):
                element.clear()


def _times(element: ElementTree.Element, what: str) -> int:
    return int(element.get(f"{_TABLE}number-{what}-repeated", "1"))


def _frame_rows(frame: Any) -> Rows:
    for row in frame.itertuples(index=False, name=None):
        yield [as_text(value) for value in row]
