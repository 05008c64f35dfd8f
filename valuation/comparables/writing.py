"""Writing: a text table as a file that is read back as the very same table, and the list of what was changed in it."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from valuation.comparables.texttable import TextTable
from valuation.schema.values import as_text

_NUMBER = re.compile(r"([€£¥$]?)(-?\d{1,15}(?:\.\d{1,10})?)(%?)")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_FIRST_DAY = "1900-03-01"
"""Before this day spreadsheets disagree about dates; such a date is written as text."""
_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet program may take for the beginning of a formula when it opens a CSV file."""


def as_csv(table: TextTable) -> bytes:
    """A CSV file (UTF-8) of a table; every row keeps its number."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";" if table.comma_decimals else ",", lineterminator="\r\n")
    at = 0
    for number, cells in _lines(table):
        out.write("\r\n" * (number - at - 1))  # blank lines keep the numbers of the rows after a gap
        writer.writerow(cells)
        at = number
    return out.getvalue().encode("utf-8")


def as_workbook(table: TextTable) -> bytes:
    """A workbook (XLSX) of one sheet with the cells of a table; every row keeps its number.

    Figures and ISO dates are written as such, where they are read back as the very same text; no text becomes a
    formula.
    """
    import xlsxwriter

    whole = io.BytesIO()
    with xlsxwriter.Workbook(whole, {"in_memory": True}) as book:
        sheet = book.add_worksheet(table.sheet or None)
        sheet.freeze_panes(1, 0)
        formats: dict[str, Any] = {}
        for number, cells in _lines(table):
            for column, text in enumerate(cells):
                value, look = _typed(text)
                if isinstance(value, str):
                    sheet.write_string(number - 1, column, value)
                    continue
                if look not in formats:
                    formats[look] = book.add_format({"num_format": look})
                write = sheet.write_datetime if isinstance(value, dt.date) else sheet.write_number
                write(number - 1, column, value, formats[look])
    return whole.getvalue()


def _lines(table: TextTable) -> Iterator[tuple[int, list[str]]]:
    """The header and every row with its number; cells beyond the header stay beyond it."""
    yield 1, table.headers
    for row, cells in zip(table.cells.index, table.cells.to_numpy().tolist(), strict=True):
        extra = table.overlong.get(int(row))
        yield int(row), [*cells, extra] if extra else cells


def _typed(text: str) -> tuple[str | float | dt.date, str]:
    """What a workbook's cell holds and how it shows it, so that it is read as this text again."""
    if match := _NUMBER.fullmatch(text):
        sign, figures, percent = match.groups()
        number = float(figures)
        if as_text(number) == figures and not (sign and percent):
            return (round(number / 100, 12), "0.##########%") if percent else (number, f"{sign}General")
    if _DAY.fullmatch(text) and text >= _FIRST_DAY:
        try:
            return dt.date.fromisoformat(text), "yyyy-mm-dd"
        except ValueError:
            return text, ""
    return text, ""


def changes_csv(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """A CSV file (UTF-8) to look at in a spreadsheet program: no cell can start a formula.

    A text that could start one gets an apostrophe before it.

    Parameters
    ----------
    header : sequence of str
    rows : iterable of sequence of str
        Cells as text.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([f"'{cell}" if cell.startswith(_STARTS_FORMULA) else cell for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")
