"""Cells of a workbook: text that never becomes a formula, numbers to the last bit, dates that a spreadsheet knows."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from valuation.sheets.cleaning import ELLIPSIS, clean_text

LONGEST_TEXT = 32_767
"""Characters that a cell can hold, by the file format."""
LINE_HEIGHT = 13.5
"""Points that a line of ten-point type takes in a cell."""
FIRST_DAY = dt.date(1900, 3, 1)
"""Before this day spreadsheets disagree about dates; such a date is written as text."""


class Cells:
    """Writes one sheet of a workbook.

    Parameters
    ----------
    book : xlsxwriter Workbook
    name : str
        Of the sheet.
    widths : sequence of float
        Of its columns, in characters; the last one also holds for all columns after it.
    """

    def __init__(self, book: Any, name: str, widths: tuple[float, ...] = (18.0,)) -> None:
        self.sheet = book.add_worksheet(name)
        self.sheet.set_landscape()
        self.sheet.fit_to_pages(1, 0)  # as wide as the paper, as long as it takes
        self.sheet.set_footer("&L&A&R&P / &N")
        self.formats = _formats(book)
        self.cut = 0
        self.widths = widths
        for column, width in enumerate(widths):
            self.sheet.set_column(column, column, width)
        self.sheet.set_column(len(widths), 60, widths[-1])

    def text(self, row: int, column: int, text: str, style: str = "text") -> None:
        """Write a text as a text, whatever it begins with; a cell that is opened for editing keeps it a text.

        Parameters
        ----------
        row, column : int
            Counted from 0.
        text : str
        style : str
            Name of a style of the workbook.
        """
        if len(text) > LONGEST_TEXT:
            text, self.cut = text[: LONGEST_TEXT - 1] + ELLIPSIS, self.cut + 1
        if text:
            self.sheet.write_string(row, column, text, self.formats[style])

    def number(self, row: int, column: int, value: float | None, style: str = "number") -> None:
        """Write a number exactly; one that the file format would round is written as text, an open one left blank.

        Parameters
        ----------
        row, column : int
            Counted from 0.
        value : float or None
            ``None`` or not finite: the cell stays blank.
        style : str
            Name of a style of the workbook.
        """
        if value is None or not math.isfinite(value):
            return
        if float(f"{value:.16G}") == value:
            self.sheet.write_number(row, column, value, self.formats[style])
        else:
            self.sheet.write_string(row, column, repr(float(value)), self.formats["text"])

    def near(self, row: int, column: int, value: float | None, style: str = "number") -> None:
        """Write a number for people and formulas, to 16 digits.

        Parameters
        ----------
        row, column : int
            Counted from 0.
        value : float or None
            ``None`` or not finite: the cell stays blank.
        style : str
            Name of a style of the workbook.
        """
        if value is not None and math.isfinite(value):
            self.sheet.write_number(row, column, value, self.formats[style])

    def day(self, row: int, column: int, day: dt.date | None) -> None:
        """Write a date.

        Parameters
        ----------
        row, column : int
            Counted from 0.
        day : date or None
            ``None``: the cell stays blank.
        """
        if day is None:
            return
        if day < FIRST_DAY:
            self.text(row, column, day.isoformat())
        else:
            self.sheet.write_datetime(row, column, dt.datetime(day.year, day.month, day.day), self.formats["date"])

    def across(self, row: int, last: int, text: str) -> None:
        """Write a paragraph over the columns from the first to ``last``, in a row as high as it needs.

        Parameters
        ----------
        row, last : int
            Counted from 0.
        text : str
        """
        width = sum(self.widths[min(column, len(self.widths) - 1)] for column in range(last + 1))
        self.sheet.merge_range(row, 0, row, last, "", self.formats["wrapped"])
        self.text(row, 0, text, "wrapped")
        self.sheet.set_row(row, LINE_HEIGHT * math.ceil(max(len(text), 1) / width))

    def formula(self, row: int, column: int, formula: str, value: float, style: str = "money") -> None:
        """Write a formula of our own making, with the value that it comes to.

        Parameters
        ----------
        row, column : int
            Counted from 0.
        formula : str
            Begins with ``=``.
        value : float
            What it comes to.
        style : str
            Name of a style of the workbook.
        """
        self.sheet.write_formula(row, column, formula, self.formats[style], value)

    def head(self, titles: list[str], rows: int = 0) -> None:
        """Write the row of column titles at the top: kept in sight, printed on every page, and with filters.

        Parameters
        ----------
        titles : list of str
            From the first column on.
        rows : int
            That follow; without any there are no filters.
        """
        for column, title in enumerate(titles):
            self.text(0, column, title, "head")
        self.sheet.freeze_panes(1, 0)
        self.sheet.repeat_rows(0)
        if rows and titles:
            self.sheet.autofilter(0, 0, rows, len(titles) - 1)


def printable(text: str) -> str:
    """A text for reading, without characters that cannot be shown."""
    return clean_text(text)[0]


def _formats(book: Any) -> dict[str, Any]:
    """The styles of a workbook, made once; texts carry the mark that keeps them texts when edited."""
    known: dict[str, Any] | None = getattr(book, "valuation_formats", None)
    if known is None:
        base = {"font_name": "Arial", "font_size": 10, "valign": "top"}
        known = {
            "text": book.add_format({**base, "quote_prefix": True}),
            "wrapped": book.add_format({**base, "quote_prefix": True, "text_wrap": True}),
            "title": book.add_format({**base, "bold": True, "font_size": 14, "quote_prefix": True, "text_wrap": True}),
            "head": book.add_format({**base, "bold": True, "bottom": 1, "text_wrap": True, "quote_prefix": True}),
            "number": book.add_format(base),
            "money": book.add_format({**base, "num_format": "#,##0.00"}),
            "total": book.add_format({**base, "num_format": "#,##0.00", "bold": True, "top": 1}),
            "factor": book.add_format({**base, "num_format": "0.0000"}),
            "percent": book.add_format({**base, "num_format": "0.0"}),
            "date": book.add_format({**base, "num_format": "yyyy-mm-dd"}),
        }
        book.valuation_formats = known
    return known
