"""Dates as people write them in tables: ISO, day or month first, or with the month's name."""

from __future__ import annotations

import datetime as dt
import re
from typing import Literal

from valuation.text.reading import Reading
from valuation.text.spelling import one_meant

NO_DATE = "is not a complete date"

EARLIEST, LATEST = dt.date(1700, 1, 1), dt.date(2200, 12, 31)
"""No date of a sale, a plan or an estimate lies outside."""

Style = Literal["clear", "either", "day_first", "month_first"]
"""How sure the order of a date's parts is: ``either`` follows the setting, the last two prove one order."""

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip

_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d{1,2}:\d{2}.*)?")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_PARTS = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})(?: \d{1,2}:\d{2}.*)?")
_DAY_NAME = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[-\s.,]+([a-z]{3,9})[-\s.,]+(\d{4}|\d{2})")
_NAME_DAY = re.compile(r"([a-z]{3,9})[-\s.]+(\d{1,2})(?:st|nd|rd|th)?[-\s,]+(\d{4}|\d{2})")


def read_date(text: str, *, day_first: bool = False, today: dt.date | None = None) -> tuple[dt.date, Style]:
    """The date that a cell holds, and whether its parts could be read in another order.

    Parameters
    ----------
    text : str
        Such as ``2024-05-03``, ``03/05/2024``, ``3.5.2024``, ``3 May 2024``, ``May 3, 2024``.
    day_first : bool
        Whether 03/05/2024 is 3 May; used only where both orders are possible. Dates with points are day first
        always, as is usual where they are written.
    today : date or None
        A year of two digits is put in the century that keeps it from lying after this year.

    Raises
    ------
    ValueError
        If the text is not a complete date, or is a day that does not exist; the message says which.

    Examples
    --------
    >>> read_date("03/05/2024", day_first=True)
    (datetime.date(2024, 5, 3), 'either')
    >>> read_date("2024-05-03")
    (datetime.date(2024, 5, 3), 'clear')
    """
    body = " ".join(text.strip().split())
    if match := _ISO.fullmatch(body) or _COMPACT.fullmatch(body):
        year, month, day = (int(part) for part in match.groups())
        return _real(year, month, day), "clear"
    if match := _PARTS.fullmatch(body):
        return _by_order(match, day_first, today)
    lowered = body.casefold()
    if match := _DAY_NAME.fullmatch(lowered):
        return _real(_year(match[3], today), _month(match[2]), int(match[1])), "clear"
    if match := _NAME_DAY.fullmatch(lowered):
        return _real(_year(match[3], today), _month(match[1]), int(match[2])), "clear"
    raise ValueError(NO_DATE)


def _by_order(match: re.Match[str], day_first: bool, today: dt.date | None) -> tuple[dt.date, Style]:
    first, second, year = int(match[1]), int(match[3]), _year(match[4], today)
    if match[2] == ".":
        return _real(year, second, first), "clear"
    if first == second:
        return _real(year, first, second), "clear"
    if first > 12:
        return _real(year, second, first), "day_first"
    if second > 12:
        return _real(year, first, second), "month_first"
    return (_real(year, second, first) if day_first else _real(year, first, second)), "either"


def _year(text: str, today: dt.date | None) -> int:
    if len(text) == 4:
        return int(text)
    this_year = (today or dt.date.today()).year
    year = this_year - this_year % 100 + int(text)
    return year if year <= this_year else year - 100


def _month(name: str) -> int:
    for number, month in enumerate(MONTHS, start=1):
        if name in (month.casefold(), month[:3].casefold()) or (name == "sept" and number == 9):
            return number
    raise ValueError(NO_DATE)


def month_meant(text: str) -> str:
    """A date whose month is misspelt, with the month that is meant; empty when there is none.

    Examples
    --------
    >>> month_meant("3 Feburuary 2024"), month_meant("3 Smarch 2024"), month_meant("31 April 2024")
    ('3 February 2024', '', '')
    """
    words = re.findall(r"[^\W\d_]{4,}", text)
    meant = one_meant(words[0], {month: month for month in MONTHS}) if len(words) == 1 else ""
    fixed = text.replace(words[0], meant) if meant else ""
    try:
        return fixed if fixed != text and read_date(fixed) else ""
    except ValueError:
        return ""


def _real(year: int, month: int, day: int) -> dt.date:
    try:
        found = dt.date(year, month, day)
    except ValueError:
        raise ValueError("is a day that does not exist") from None
    return possible_day(found)


def possible_day(day: dt.date) -> dt.date:
    """The same day, of a file or a request that gives it as a date.

    Raises
    ------
    ValueError
        If it lies before ``EARLIEST`` or after ``LATEST``.
    """
    if not EARLIEST.year <= day.year <= LATEST.year:
        raise ValueError(f"is in the year {day.year}; years from {EARLIEST.year} to {LATEST.year} are accepted")
    return day


def read_day(text: str, reading: Reading) -> dt.date:
    """The date that a person writes into a form, a command or a plan.

    Parameters
    ----------
    text : str
        As it was written.
    reading : Reading
        How to read what can be read in two ways.

    Raises
    ------
    ValueError
        If it is not a date, or can be read two ways and nothing says which; the message says so.

    Examples
    --------
    >>> read_day("31 May 2026", Reading())
    datetime.date(2026, 5, 31)
    """
    day, style = read_date(text, day_first=bool(reading.day_first), today=reading.today)
    if style == "either" and reading.day_first is None:
        other, _ = read_date(text, day_first=True, today=reading.today)
        raise ValueError(f"can be read as two dates, {day} and {other}")
    return day
