"""Spreadsheets: rows of text from the sheets of an XLSX or ODS workbook that may be the table."""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain
from typing import Any
from xml.etree import ElementTree

from valuation.comparables.layout import HEAD_ROWS
from valuation.comparables.marks import Marks, read_marks
from valuation.comparables.merges import Merge
from valuation.comparables.texttable import MAX_CELLS, MAX_ROWS, refuse_size
from valuation.errors import TableError, shortlist
from valuation.notes import Note
from valuation.schema.values import as_text
from valuation.text.numbers import NO_RESULT
from valuation.text.spelling import did_you_mean, level_key

Rows = Iterator[Sequence[str]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet that may be the table.

    Parameters
    ----------
    rows : iterator of sequence of str
        Cells as text.
    merges : tuple of Merge
        Cells merged into one.
    notes : tuple of Note
        What cannot be seen of it in a spreadsheet program.
    """

    rows: Rows
    merges: tuple[Merge, ...] = ()
    notes: tuple[Note, ...] = ()


_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_VALUE_TYPE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}value-type"


def workbook_sheets(
    data: bytes, name: str, kind: str, is_known: Callable[[str], bool], sheet: str | None, usual: str = ""
) -> tuple[dict[str, Sheet], tuple[str, ...]]:
    """The sheets that fit best by title, and the titles of the others that hold something.

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
    usual : str
        The sheet to read where there is one of that name and none is asked for.

    Raises
    ------
    TableError
        If the workbook is damaged, or has no sheet of the name asked for.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about parts of a workbook that hold no cells
            sheets = _xlsx_sheets(data) if kind == "xlsx" else _ods_sheets(data, name)
            starts = {title: _start(sheet.rows, name) for title, sheet in sheets.items()}
    except TableError:
        raise
    except Exception as problem:  # the reading libraries raise many kinds for damaged files
        raise _damaged(name, problem) from problem
    if not starts:
        raise TableError(
            f"Cannot read '{name}': the workbook has no sheet of cells. Save the table as a sheet, or as CSV."
        )
    whole = {title: replace(sheets[title], rows=_guarded(chain(*starts[title]), name)) for title in starts}
    chosen = _named(starts, name, sheet) if sheet is not None else usual
    if chosen in starts:
        others = [title for title, (start, _) in starts.items() if title != chosen and any(map(any, start))]
        return {chosen: whole[chosen]}, tuple(others) if sheet is None else ()
    merits = {title: _merit(start, is_known) for title, (start, _) in starts.items()}
    best = max(merits.values())
    filled = [title for title, (_, holds) in merits.items() if holds]
    fitting = [title for title in filled if merits[title] == best] or list(starts)[:1]
    return {title: whole[title] for title in fitting}, tuple(title for title in filled if title not in fitting)


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
    """The rows among which the header is looked for, and the rest."""
    start: list[Sequence[str]] = []
    cells = found = 0
    for row in rows:
        start.append(row)
        cells += len(row)
        found += any(cell.strip() for cell in row)
        if found >= HEAD_ROWS:
            break
        if len(start) > MAX_ROWS or cells > MAX_CELLS:
            refuse_size(len(start), cells, name)
    return start, rows


def _merit(start: list[Sequence[str]], is_known: Callable[[str], bool]) -> tuple[int, bool]:
    """How many known headers a sheet has in one row, and whether it holds anything at all."""
    return max((sum(map(is_known, row)) for row in start), default=0), any(any(row) for row in start)


def _named(titles: Collection[str], name: str, sheet: str) -> str:
    for title in titles:
        if level_key(title) == level_key(sheet):
            return title
    raise TableError(
        f"Cannot read '{name}': it has no sheet '{sheet}'. Its sheets are {shortlist(list(titles))}."
        f"{did_you_mean(sheet, titles)}"
    )


def _xlsx_sheets(data: bytes) -> dict[str, Sheet]:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    sheets: dict[str, Sheet] = {}
    for sheet in book.worksheets:
        sheet.reset_dimensions()  # what a writer says about the size is often wrong
        with sheet._get_source() as source:
            about = read_marks(source.read())
        sheets[sheet.title] = Sheet(_xlsx_rows(sheet, about.without_result), about.merges, about.notes())
    return sheets


def _xlsx_rows(sheet: Any, without_result: Mapping[int, Collection[int]]) -> Rows:
    for number, row in enumerate(sheet.iter_rows(), start=1):
        texts = [_xlsx_text(cell) for cell in row]
        for column in without_result.get(number, ()):
            texts[column - 1] = texts[column - 1] or NO_RESULT
        yield texts


def _xlsx_text(cell: Any) -> str:
    value = cell.value
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, dt.datetime) and _shows_no_day(cell.number_format):
        return f"{value:%b %Y}"  # what was typed as a month, and stored as its first day
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


@lru_cache(maxsize=1024)
def _shows_no_day(number_format: str) -> bool:
    """Whether a number format shows the month and the year of a date and no day."""
    letters = re.sub(r'"[^"]*"|\[[^\]]*\]|\\.', "", number_format).casefold()
    return "m" in letters and "y" in letters and not set("dhs") & set(letters)


def _ods_sheets(data: bytes, name: str) -> dict[str, Sheet]:
    import pandas as pd

    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        marks = _ods_marks(archive, name)
        _parse_other_parts(archive)
    frames = pd.read_excel(
        io.BytesIO(data), engine="odf", sheet_name=None, header=None, dtype=object, keep_default_na=False
    )
    return {
        str(title): Sheet(_frame_rows(frame, about.shown_as), about.merges, about.notes())
        for (title, frame), about in zip(frames.items(), marks, strict=True)
    }


def _ods_marks(archive: zipfile.ZipFile, name: str) -> list[Marks]:
    """What the cells alone do not tell, sheet by sheet.

    Refuses what a few bytes blow up: the reading library lays out each repeated row and cell that is not trailing.
    """
    sheets: list[Marks] = []
    rows = cells = below = 0
    marks = Marks()
    with archive.open("content.xml") as content:
        for _, element in ElementTree.iterparse(content):
            kind = element.tag.rpartition("}")[2]
            if kind == "table":
                rows = below = 0
                sheets.append(marks)
                marks = Marks()
            if kind == "table-column" and element.get(f"{_TABLE}visibility", "visible") != "visible":
                marks.hidden_columns += _times(element, "columns")
            if kind != "table-row":
                continue
            times, wide, seen = _times(element, "rows"), 0, 0
            for cell in element:
                if len(cell) or cell.get(_VALUE_TYPE):
                    marks.note_ods_cell(cell, below + 1, seen + 1)
                seen += _times(cell, "columns")
                wide = seen if len(cell) or cell.get(_VALUE_TYPE) else wide
            if wide and element.get(f"{_TABLE}visibility", "visible") != "visible":
                marks.hidden_rows += times
            below += times
            rows, cells = (below, cells + wide * times) if wide else (rows, cells)
            if rows > MAX_ROWS or cells > MAX_CELLS or rows * wide > MAX_CELLS:
                raise TableError(
                    f"Cannot read '{name}': the workbook is damaged: it repeats cells up to {rows:,} rows and "
                    f"{max(cells, rows * wide):,} cells; at most {MAX_ROWS:,} and {MAX_CELLS:,} are accepted. "
                    "Delete what lies beyond the table, and save it again."
                )
            element.clear()
    return sheets


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


def _frame_rows(frame: Any, shown_as: Mapping[tuple[int, int], str]) -> Rows:
    for number, row in enumerate(frame.itertuples(index=False, name=None), start=1):
        texts = [as_text(value) for value in row]
        if shown_as:
            for column, value in enumerate(row, start=1):
                if sign := shown_as.get((number, column), ""):
                    percent = sign == "%"
                    texts[column - 1] = (
                        f"{as_text(round(value * 100, 10))}%" if percent else f"{sign} {texts[column - 1]}"
                    )
        yield texts
