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
DAY_IN_WORDS = re.compile(rf"(\d{{1,2}})[ \xa0]({'|'.join(MONTHS)})[ \xa0](\d{{4}})")
"""A day as the house writes it into English sentences, 9 October 2026, whether or not it may break there."""

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


_MONTH_WORD = r"(?P<month>[a-z]{3,9})"
_YEAR_WORD = r"(?P<year>\d{4}|'\d{2})"
_MONTH_ALONE = re.compile(rf"(?:{_MONTH_WORD}|(?P<number>\d{{1,2}}))(?:\s+of)?[-\s.,/]*{_YEAR_WORD}")
_YEAR_FIRST = re.compile(rf"{_YEAR_WORD}[-\s.,/]+(?:{_MONTH_WORD}|(?P<number>\d{{1,2}}))")
_SEASON = re.compile(rf"(?P<season>spring|summer|autumn|fall)(?:\s+of)?[\s,]+{_YEAR_WORD}")
_WINTER = re.compile(r"winter(?:\s+of)?[\s,]+(?P<year>\d{4})\s*[-/]\s*(?P<next>\d{4}|\d{2})")
_QUARTER = re.compile(rf"(?:q(?P<before>[1-4])[-\s/]*)?{_YEAR_WORD}(?:[-\s/]*q(?P<after>[1-4]))?")
_PART = re.compile(r"(?P<part>early|beginning of|start of|mid|middle of|late|end of)[-\s]+(?P<of>.+)")
_SEASONS = {"spring": 3, "summer": 6, "autumn": 9, "fall": 9}  # the first month of each, north of the equator
_THIRDS = {"early": 0, "beginning of": 0, "start of": 0, "mid": 1, "middle of": 1, "late": 2, "end of": 2}


def read_span(text: str, *, today: dt.date | None = None) -> tuple[dt.date, dt.date]:
    """The first and the last day that a cell can mean which gives a month, a season or a year in place of a day.

    Seasons are those north of the equator. ``winter 2024`` is refused, since it is two winters. A span that has begun
    ends today, since a sale has been made.

    Parameters
    ----------
    text : str
        Such as ``Dec 2025``, ``12/2025``, ``mid June 2025``, ``spring 2024``, ``winter 2023/24``, ``Q3 2024``.
    today : date or None
        As for :func:`read_date`.

    Raises
    ------
    ValueError
        If the text is none of these.

    Examples
    --------
    >>> first, last = read_span("spring 2024")
    >>> str(first), str(last)
    ('2024-03-01', '2024-05-31')
    """
    body = " ".join(text.casefold().replace("’", "'").split())
    if match := _PART.fullmatch(body):
        first, last = _whole_span(match["of"], today)
        third = _THIRDS[match["part"]]
        if (last - first).days < 31:  # of a month the first ten days, the next ten, and the rest
            starts = [first, first + dt.timedelta(10), first + dt.timedelta(20), last + dt.timedelta(1)]
        elif (first.month, last.month) == (1, 12):
            starts = [first, first.replace(month=5), first.replace(month=9), last + dt.timedelta(1)]
        else:
            raise ValueError(NO_DATE)
        first, last = starts[third], starts[third + 1] - dt.timedelta(1)
    else:
        first, last = _whole_span(body, today)
    possible_day(first)
    return first, min(last, today) if today is not None and first <= today else last


def _whole_span(body: str, today: dt.date | None) -> tuple[dt.date, dt.date]:
    if match := _MONTH_ALONE.fullmatch(body) or _YEAR_FIRST.fullmatch(body):
        month = int(match["number"]) if match["number"] else _month_or_none(match["month"])
        if month and 1 <= month <= 12:
            return _months(_year(match["year"].lstrip("'"), today), month, 1)
    if match := _SEASON.fullmatch(body):
        return _months(_year(match["year"].lstrip("'"), today), _SEASONS[match["season"]], 3)
    if match := _WINTER.fullmatch(body):
        year = int(match["year"])
        if (year + 1) % 10 ** len(match["next"]) == int(match["next"]):
            return _months(year, 12, 3)
    if (match := _QUARTER.fullmatch(body)) and not (match["before"] and match["after"]):
        quarter = match["before"] or match["after"]
        if not quarter and len(match["year"]) == 4:
            return _months(int(match["year"]), 1, 12)
        if quarter:
            return _months(_year(match["year"].lstrip("'"), today), 3 * int(quarter) - 2, 3)
    if re.fullmatch(rf"winter[\s,]+{_YEAR_WORD}", body):
        raise ValueError("can be either of two winters")
    raise ValueError(NO_DATE)


def _months(year: int, month: int, count: int) -> tuple[dt.date, dt.date]:
    """The first and the last day of some months on end."""
    after = month - 1 + count
    if not 1 <= year < dt.MAXYEAR:
        raise ValueError(NO_DATE)
    return dt.date(year, month, 1), dt.date(year + after // 12, after % 12 + 1, 1) - dt.timedelta(days=1)


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
    found = _month_or_none(name)
    if found is None:
        raise ValueError(NO_DATE)
    return found


def _month_or_none(name: str) -> int | None:
    for number, month in enumerate(MONTHS, start=1):
        if name in (month.casefold(), month[:3].casefold()) or (name == "sept" and number == 9):
            return number
    return None


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
