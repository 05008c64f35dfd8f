"""Reading: from a path or bytes of any accepted kind to a text table."""

from __future__ import annotations

import csv
import io
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from valuation.comparables.sniffing import DELIMITERS, OLD_PAGES, decode, delimiter_of, kind_of, refuse_markup
from valuation.comparables.spreadsheet import workbook_sheets
from valuation.comparables.texttable import (
    MAX_CELL,
    MAX_CELLS,
    MAX_ROWS,
    TextTable,
    refuse_size,
    table_from_columns,
    table_from_rows,
)
from valuation.errors import TableError
from valuation.notes import Note
from valuation.schema.values import as_text
from valuation.text.numbers import NO_RESULT

MAX_UNPACKED_PARQUET = 100_000_000
"""Bytes that a Parquet file may unpack to: reading takes up to four times as much memory."""

Source = str | Path | bytes
"""Where a table comes from: a path, or the bytes of an upload."""


def read_text_tables(
    source: Source,
    is_known: Callable[[str], bool],
    *,
    name: str | None = None,
    sheet: str | None = None,
    usual_sheet: str = "",
) -> tuple[list[TextTable], tuple[str, ...]]:
    """Read a table as text; of a workbook each sheet that fits best, when several fit equally well.

    Parameters
    ----------
    source : str, Path or bytes
        A file's path, or its bytes.
    is_known : callable
        Whether a header is one that the schema knows; decides between delimiters and between sheets.
    name : str or None
        File name for messages; by default the path's.
    sheet : str or None
        Sheet of a workbook; by default those with most known headers.
    usual_sheet : str
        The sheet to read where there is one of that name and none is asked for.

    Returns
    -------
    tables : list of TextTable
        At least one.
    left_alone : tuple of str
        Other sheets of the workbook that hold something.

    Raises
    ------
    TableError
        If the file is not there, not a table of an accepted kind, empty, too large in some way, or has no such sheet.
    """
    data, title = _load(source, name)
    kind = kind_of(data, title)
    if kind in ("xlsx", "ods"):
        return _workbook_tables(data, title, kind, is_known, sheet, usual_sheet)
    if sheet is not None:
        raise TableError(
            f"Cannot read the sheet '{sheet}' of '{title}': only a workbook (XLSX, ODS) has sheets. "
            "Leave the sheet out."
        )
    return [_csv_table(data, title, is_known) if kind == "csv" else frame_table(_parquet(data, title), title)], ()


def _workbook_tables(
    data: bytes, name: str, kind: str, is_known: Callable[[str], bool], wanted: str | None, usual: str
) -> tuple[list[TextTable], tuple[str, ...]]:
    sheets, left_alone = workbook_sheets(data, name, kind, is_known, wanted, usual)
    tables: list[TextTable] = []
    refusals: dict[str, TableError] = {}
    for title, sheet in sheets.items():
        try:
            table = table_from_rows(
                sheet.rows, name, is_known=is_known, merges=sheet.merges, separated=False, notes=sheet.notes
            )
            _refuse_uncomputed(table)
            tables.append(replace(table, sheet=title))
        except TableError as refusal:  # such as a sheet with a header and nothing below it yet
            refusals[title] = refusal
    if not tables:
        raise next(iter(refusals.values()))
    return tables, (*refusals, *left_alone)


def _refuse_uncomputed(table: TextTable) -> None:
    """Refuse a column of formulas whose results the file does not hold; of single ones each cell is a fault."""
    for header in table.headers:
        if (table.cells[header] == NO_RESULT).mean() >= 0.5:
            raise TableError(
                f"Cannot use '{table.name}': the column '{header}' holds formulas, and the file does not hold their "
                "results, since a program saved it that computes nothing. Open it in a spreadsheet program and save it "
                "there once."
            )


def frame_table(frame: pd.DataFrame, name: str) -> TextTable:
    """A text table from a data frame, as if its rows stood below a header in a file.

    Parameters
    ----------
    frame : DataFrame, shape (n_rows, n_columns)
    name : str
        For messages.
    """
    columns: dict[str, list[str]] = {}
    for position, header in enumerate(frame.columns):
        column = frame.iloc[:, position].astype(object)
        texts = [as_text(value) for value in column.where(column.notna(), None).tolist()]
        columns[str(header) if str(header) not in columns else f"{header} ({position + 1})"] = texts
    return table_from_columns(columns, name)


def _load(source: Source, name: str | None) -> tuple[bytes, str]:
    if isinstance(source, bytes):
        return source, name or "the table"
    path = Path(source)
    try:
        return path.read_bytes(), name or path.name
    except OSError as problem:
        raise TableError(
            f"Cannot read the table {path}: {problem.strerror or problem}. Check the path and that it is a file."
        ) from problem


def _csv_table(data: bytes, name: str, is_known: Callable[[str], bool]) -> TextTable:
    text, encoding = decode(data, name)
    refuse_markup(text, name)
    delimiter = delimiter_of(text, is_known)
    if text[:4].casefold() == "sep=":  # a spreadsheet's own hint, which it does not count as a row
        hint, _, text = text.partition("\n")
        delimiter = hint[4:5] if hint[4:5] in DELIMITERS else delimiter
    notes: tuple[Note, ...] = ()
    if encoding in OLD_PAGES:
        text_note = f"The file is not UTF-8; it was read as {OLD_PAGES[encoding]}. Check the accented letters."
        notes = (Note("encoding_guessed", text_note),)
    rows = _csv_rows(text, delimiter, name)
    return table_from_rows(rows, name, is_known=is_known, comma_decimals=delimiter == ";", notes=notes)


def _csv_rows(text: str, delimiter: str, name: str) -> Iterator[Sequence[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as problem:
            raise TableError(
                f"Cannot read '{name}': near line {reader.line_num} a cell is longer than {MAX_CELL:,} characters, or "
                f"its quotation marks do not match ({problem}). Mend that line."
            ) from problem
        yield row


def _parquet(data: bytes, name: str) -> pd.DataFrame:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            _refuse_parquet_size(data, name)
            frame: Any = pd.read_parquet(io.BytesIO(data))
        index = frame.index
        if index.name is not None or isinstance(index, pd.MultiIndex):
            frame = frame.reset_index()
    except TableError:
        raise
    except Exception as problem:  # the reading library raises many kinds for damaged files
        raise TableError(
            f"Cannot read '{name}': it starts like a Parquet file but is damaged ({type(problem).__name__}). Export "
            "it again."
        ) from problem
    return pd.DataFrame(frame)


def _refuse_parquet_size(data: bytes, name: str) -> None:
    """Refuse a table by what its own description says, before a few bytes blow up to more than memory holds."""
    from pyarrow.parquet import read_metadata

    about = read_metadata(io.BytesIO(data))
    cells = about.num_rows * about.num_columns
    if about.num_rows > MAX_ROWS or cells > MAX_CELLS:
        refuse_size(about.num_rows, cells, name)
    unpacked = sum(about.row_group(i).total_byte_size for i in range(about.num_row_groups))
    if unpacked > MAX_UNPACKED_PARQUET:
        raise TableError(
            f"Cannot read '{name}': it would unpack to {unpacked:,} bytes; at most {MAX_UNPACKED_PARQUET:,} are "
            "accepted. Leave out the columns that hold long texts."
        )
