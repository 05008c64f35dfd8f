"""How people write a price, a date, a year and a yes; and the kinds of file that common programs save."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
SEASONS = {3: "spring", 6: "summer", 9: "autumn"}  # by their first month


@dataclass
class Written:
    """A table as somebody keeps it, and what must come out of it."""

    rows: list[list[Any]] = field(default_factory=list)
    sales: list[dict[str, Any]] = field(default_factory=list)
    set_aside: dict[int, str] = field(default_factory=dict)
    read_as: Counter[str] = field(default_factory=Counter)
    notes: list[str] = field(default_factory=list)
    headers: dict[str, str] = field(default_factory=dict)
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    outcomes: dict[str, str] = field(default_factory=dict)
    settings: dict[str, Any] = field(default_factory=dict)
    sheet: str = ""
    refused: str = ""

    def line(self, *cells: Any) -> int:
        """Add a row that is no sale; its number."""
        self.rows.append(list(cells))
        return len(self.rows)

    def aside(self, code: str, *cells: Any) -> None:
        """Add a row that must be set aside under a code."""
        self.set_aside[self.line(*cells)] = code

    def sale(self, cells: list[Any], **meant: Any) -> int:
        """Add a sale and what must be read of it."""
        number = self.line(*cells)
        self.sales.append({"row": number, **meant})
        return number

    def told(self, *kinds: str) -> None:
        """Count what must be said to be read otherwise than written."""
        self.read_as.update(kind for kind in kinds if kind)


def middle(first: dt.date, last: dt.date) -> dt.date:
    """The day in the middle; the earlier of two."""
    return dt.date.fromordinal((first.toordinal() + last.toordinal()) // 2)


def month_end(year: int, month: int) -> dt.date:
    """The last day of a month."""
    return dt.date(year + month // 12, month % 12 + 1, 1) - dt.timedelta(days=1)


def of_month(day: dt.date, style: int) -> tuple[str, dt.date]:
    """A month alone, and its middle."""
    text = (f"{MONTHS[day.month - 1]} {day.year}", f"{day.month:02}/{day.year}", f"{day:%B} {day.year}")[style % 3]
    return text, middle(day.replace(day=1), month_end(day.year, day.month))


def of_season(day: dt.date) -> tuple[str, dt.date] | None:
    """A season of the north, and its middle; a winter is left to months, since it has two years."""
    first = day.month - day.month % 3
    if first not in SEASONS:
        return None
    return f"{SEASONS[first]} {day.year}", middle(dt.date(day.year, first, 1), month_end(day.year, first + 2))


def price_by_hand(price: int, style: int) -> tuple[str, tuple[str, ...]]:
    """A price as written into a notebook, and the kinds of what is not literal in it."""
    short = f"{price / 1000:g}k"
    return (
        (f"{price:,}", ()),
        (short, ("prices_in_thousands",)),
        (f"${short}", ("prices_in_thousands",)),
        (f"about {price:,}".replace(",", "."), ("figures_about",)),
        (f"{price:,},-".replace(",", " ", 1) if price > 999 else f"{price},-", ()),
        (f"~{price:,}", ("figures_about",)),
        (f"{price:,} firm", ("remarks_beside_figures",)),
        (f"{price:,} (incl. trailer)", ("remarks_beside_figures",)),
        (f"approx {short}", ("prices_in_thousands", "figures_about")),
        (f"ca. {price:,}".replace(",", "."), ("figures_about",)),
    )[style % 10]


def serial(day: dt.date) -> int:
    """The number under which a spreadsheet stores a day."""
    return (day - dt.date(1899, 12, 30)).days


def csv_bytes(rows: list[list[Any]], delimiter: str, encoding: str, *, end: str = "\r\n") -> bytes:
    """A text table."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(rows)
    return out.getvalue().encode(encoding)
