"""Cells of a workbook: text that never becomes a formula, numbers to the last bit, dates that a spreadsheet knows."""

from __future__ import annotations

import datetime as dt
import math
from textwrap import wrap
from typing import Any

from valuation.sheets.cleaning import ELLIPSIS, clean_text

LONGEST_TEXT = 32_767
"""Characters that a cell can hold, by the file format."""
LINE_HEIGHT = 13.5
"""Points that a line of ten-point type takes in a cell."""
TYPE, TITLE_TYPE = 10, 14
"""Points of the letters on the screen."""
FONT = {"font_name": "Arial", "font_size": TYPE}
PRINT_SCALE = 75
"""Percent: what has ten points on the screen is printed in seven and a half, which needs no glass."""
MARGIN = 10 / 25.4
"""Inches of paper left white at each side."""
PAGE_WIDTH = 150.0
"""Characters of columns that a landscape page of A4 or letter holds between its margins at that scale, in the widest
font that a program takes where Arial is not installed."""
AROUND = 0.75
"""Characters that the edges of a column take, by the file format's own rule for widths."""
LETTERS = 1.1
"""Letters of a text that the width of a digit holds on average: widths are counted in digits."""
LEAST_WIDTH, MOST_WIDTH = 5.0, 44.0
"""Characters in the narrowest column and in the widest; a longer text goes on in the next line of its cell."""
PAPERS = {"a4": 9, "us-letter": 1}
"""Numbers of the papers, by the file format."""
_SHOWN = {"number": ".10g", "money": ",.2f", "total": ",.2f", "factor": ".4f", "percent": ".1f"}
"""How figures of each style are written, to have their columns wide enough."""
HIGHEST_ROW = 409.0
"""Points, by the file format."""
FIRST_DAY = dt.date(1900, 3, 1)
"""Before this day spreadsheets disagree about dates; such a date is written as text."""


class Cells:
    """Writes one sheet of a workbook; each column as wide as what was written into it.

    Parameters
    ----------
    book : xlsxwriter Workbook
    name : str
        Of the sheet.
    most : float
        Characters in the widest column.
    """

    def __init__(self, book: Any, name: str, most: float = MOST_WIDTH) -> None:
        self.sheet = book.add_worksheet(name)
        self.sheet.set_landscape()
        self.sheet.set_paper(PAPERS[book.valuation_paper])
        self.sheet.set_print_scale(PRINT_SCALE)
        self.sheet.set_margins(left=MARGIN, right=MARGIN, top=MARGIN, bottom=1.4 * MARGIN)
        self.sheet.set_footer("&L&A&R&P / &N")
        self.formats = _formats(book)
        self.cut = 0
        self.most = most
        self.widths: list[float] = []
        self.lines: dict[int, int] = {}
        self.texts: list[tuple[int, int, str]] = []

    def _room(self, column: int, length: float) -> None:
        """Have a column as wide as a text in it needs."""
        self.widths += [LEAST_WIDTH] * (column + 1 - len(self.widths))
        self.widths[column] = max(self.widths[column], min(length + 1, self.most))

    def set_widths(self, *widths: float) -> None:
        """Give the first columns their widths, in characters."""
        self.widths = list(widths)
        self.lay_out()

    def lay_out(self, repeated: int = 1, together: int = 1) -> None:
        """Give each column its width, and part the columns among as many pages as they need side by side.

        Parameters
        ----------
        repeated : int
            Columns from the left that stand on each page.
        together : int
            Columns after those that are never parted.
        """
        lines = dict(self.lines)
        for row, column, text in self.texts:
            needed = sum(len(wrap(part, int(LETTERS * self.widths[column]))) for part in text.splitlines())
            lines[row] = max(lines.get(row, 1), needed + self.lines.get(row, 0))
        for row, needed in lines.items():
            self.sheet.set_row(row, min(LINE_HEIGHT * needed, HIGHEST_ROW))
        taken = [width + AROUND for width in self.widths]
        for column, width in enumerate(self.widths):
            self.sheet.set_column(column, column, width)
        self.sheet.repeat_columns(0, repeated - 1)
        held = used = sum(taken[:repeated])
        breaks = []
        for first in range(repeated, len(taken), together):
            block = sum(taken[first : first + together])
            if used > held and used + block > PAGE_WIDTH:
                breaks.append(first)
                used = held
            used += block
        self.sheet.set_v_pagebreaks(breaks)

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
            self._room(column, max(map(len, text.split() if style == "head" else text.splitlines()), default=0))
            self.sheet.write_string(row, column, text, self.formats[style])
            if len(text) > LEAST_WIDTH:
                self.texts.append((row, column, text))

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
        self._room(column, len(f"{value:{_SHOWN[style]}}"))
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
            self._room(column, len(f"{value:{_SHOWN[style]}}"))
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
            self._room(column, len(day.isoformat()))
            self.sheet.write_datetime(row, column, dt.datetime(day.year, day.month, day.day), self.formats["date"])

    def across(self, row: int, last: int, text: str, style: str = "text") -> None:
        """Write a paragraph over the columns from the first to ``last``, in a row as high as it needs.

        Parameters
        ----------
        row, last : int
            Counted from 0; the columns have their widths already.
        text : str
        style : str
            Name of a style of the workbook.
        """
        size = (TITLE_TYPE if style == "title" else TYPE) / TYPE
        lines = math.ceil(max(len(text), 1) * size / (LETTERS * sum(self.widths[: last + 1])))
        self.sheet.merge_range(row, 0, row, last, "", self.formats[style])
        self.sheet.write_string(row, 0, text, self.formats[style])
        self.sheet.set_row(row, LINE_HEIGHT * size * lines)

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
        self._room(column, len(f"{value:{_SHOWN[style]}}"))
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
        self.lines[0] = 1  # besides those of the titles: the buttons of the filters lie over it
        self.sheet.freeze_panes(1, 0)
        self.sheet.repeat_rows(0)
        self.sheet.hide_gridlines(0)  # printed too: the eye keeps its row across the page
        if rows and titles:
            self.sheet.autofilter(0, 0, rows, len(titles) - 1)


def printable(text: str) -> str:
    """A text for reading, without characters that cannot be shown."""
    return clean_text(text)[0]


def _formats(book: Any) -> dict[str, Any]:
    """The styles of a workbook, made once; texts carry the mark that keeps them texts when edited."""
    known: dict[str, Any] | None = getattr(book, "valuation_formats", None)
    if known is None:
        base = {**FONT, "valign": "top"}
        known = {
            "text": book.add_format({**base, "quote_prefix": True, "text_wrap": True}),
            "title": book.add_format(
                {**base, "bold": True, "font_size": TITLE_TYPE, "quote_prefix": True, "text_wrap": True}
            ),
            "head": book.add_format({**base, "bold": True, "bottom": 1, "text_wrap": True, "quote_prefix": True}),
            "number": book.add_format({**base, "num_format": "General_)"}),
            "money": book.add_format({**base, "num_format": "#,##0.00_)"}),
            "total": book.add_format({**base, "num_format": "#,##0.00_)", "bold": True, "top": 1}),
            "factor": book.add_format({**base, "num_format": "0.0000_)"}),
            "percent": book.add_format({**base, "num_format": "0.0_)"}),
            "date": book.add_format({**base, "num_format": "yyyy-mm-dd", "align": "left"}),
        }
        book.valuation_formats = known
    return known
