"""Habits: what holds for a whole column, such as which part of a date comes first, told from all of its cells."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from valuation.comparables.headers import in_brackets
from valuation.comparables.texttable import TextTable
from valuation.comparables.written import understood_price
from valuation.drafting.header_likeness import words_of
from valuation.drafting.profile import Profile
from valuation.drafting.trade_words import KILOMETRE_WORDS
from valuation.schema.attributes import Attribute
from valuation.text.dates import read_date
from valuation.text.locale import KM_PER_MILE
from valuation.text.money import currency_name, is_currency
from valuation.text.numbers import DOUBT, decimal_mark
from valuation.text.reading import Reading

_MONTH_FIRST = frozenset({"USD", "$", "PHP"})
"""Currencies of places where the month is usually written first."""


@dataclass(frozen=True, slots=True)
class DateOrder:
    """Which part of a date comes first.

    Parameters
    ----------
    day_first : bool
    proofs : int
        Rows whose date can be read in this order alone.
    against : int
        Rows that can be read in the other order alone.
    either : int
        Rows that could be read both ways.
    example : str
        One of those.
    """

    day_first: bool
    proofs: int
    against: int
    either: int
    example: str = ""

    @property
    def is_told(self) -> bool:
        """Whether the column itself tells, or has nothing that could be read two ways."""
        return not self.either or (self.proofs > 0 and not self.against)


def date_order(dates: Profile | None, currencies: Iterable[str], comma_decimals: bool, today: dt.date) -> DateOrder:
    """The order of the parts of dates, told by the whole column, else by what else the table shows of its home.

    Parameters
    ----------
    dates : Profile or None
        The column of sale dates.
    currencies : iterable of str
        Of the table's prices.
    comma_decimals : bool
        Whether the table writes a comma before decimals, as is usual where the day comes first.
    today : date
        For years of two digits.
    """
    found: Counter[str] = Counter()
    example = ""
    for text, rows in (dates.counts if dates else {}).items():
        try:
            _, style = read_date(text, today=today)
        except ValueError:
            continue
        found[style] += rows
        if style == "either" and not example:
            example = text
    day, month = found["day_first"], found["month_first"]
    named = set(currencies)
    usual = comma_decimals or bool(named and not named & _MONTH_FIRST)
    first = day > month if day != month else usual
    return DateOrder(first, *((day, month) if first else (month, day)), found["either"], example)


def currencies_of(table: TextTable, price: Profile, column: Profile | None) -> Counter[str]:
    """Rows by the currency that they name; under "" those that name none.

    Parameters
    ----------
    table : TextTable
    price : Profile
        Of the price column.
    column : Profile or None
        Of a column of currencies.
    """
    by_header = header_currency(price.header)
    own = dict.fromkeys(table.cells.index, "")
    if column is not None:
        own = {row: _currency(str(text)) for row, text in table.cells[column.header].items()}
    signs = {text: _sign(text) for text in price.counts}
    found: Counter[str] = Counter()
    for row, cell in table.cells[price.header].items():
        text = " ".join(str(cell).split())
        if text in signs and any(character.isdigit() for character in text):
            found[own[row] or signs[text] or by_header] += 1
    if "$" in found and (dollars := [name for name in found if name in ("USD", "CAD", "AUD", "NZD")]):
        found[dollars[0]] += found.pop("$")  # a bare sign beside a named dollar is that dollar
    return found


def header_currency(header: str) -> str:
    """The currency that a header names, in brackets or as a word; empty when none."""
    for word in (in_brackets(header), *words_of(header)):
        name = _currency(word)
        if name and not (len(word) == 3 and word.isalpha() and name not in _HEADER_CODES):
            return name
    return ""


_HEADER_CODES = frozenset({"USD", "EUR", "GBP", "CAD", "AUD", "NZD", "CHF", "JPY", "SEK", "NOK", "DKK", "ZAR", "MXN"})
"""Codes that are taken for a currency within a header; others, such as ALL or TRY, are words too."""


def _currency(text: str) -> str:
    name = currency_name(text, Reading()) if text.strip() else ""
    return name if name and is_currency(name, Reading()) else ""


def _sign(text: str) -> str:
    price = understood_price(text, Reading())
    return "" if isinstance(price, str) else price[0].currency


def common_mark(price: Profile, numbers: Iterable[Profile], table: TextTable) -> str:
    """The decimal mark that columns of figures prove or show; empty where they do not, or not the same.

    A column all of whose marks stand before three digits shows that they part thousands.

    Parameters
    ----------
    price : Profile
        Of the price column.
    numbers : iterable of Profile
        Of columns of numbers.
    table : TextTable
    """
    columns = [_figures(column) for column in numbers]
    shown = {_other(_thousands_mark(texts)) for texts in columns if not decimal_mark(texts)} - {""}
    found = shown or {decimal_mark(texts) for texts in (_figures(price), *columns)} - {""}
    if len(found) == 1 and DOUBT not in found:
        return found.pop()
    return "," if not found and table.comma_decimals else ""


def _thousands_mark(texts: Iterable[str]) -> str:
    """The mark that parts thousands in a column without a decimal one; empty where fewer cells have it than tell."""
    found = Counter(match[1] for text in texts if (match := _BEFORE_THREE.search(text)))
    [(mark, count)] = found.most_common(1) or [("", 0)]
    return mark if len(found) == 1 and count >= _MARKS_THAT_TELL else ""


def _other(mark: str) -> str:
    return {".": ",", ",": "."}.get(mark, "")


_BEFORE_THREE = re.compile(r"(?<!\d)\d{1,3}([.,])\d{3}(?!\d)")

_MARKS_THAT_TELL = 3
"""Cells whose only mark stands before three digits from which it parts thousands: of figures with decimals that
happens by chance in one of a thousand columns or less. Chosen."""


def _figures(column: Profile) -> list[str]:
    return [text for text in column.counts if any(character.isdigit() for character in text)]


def distance(attribute: Attribute, column: Profile) -> Attribute:
    """A distance in the unit that its column is kept in, with expectation and bounds in that unit as well.

    Parameters
    ----------
    attribute : Attribute
        In miles.
    column : Profile
    """
    if attribute.unit != "miles":
        return attribute
    in_header = [word for word in words_of(column.header) if word in KILOMETRE_WORDS]
    unit = column.unit.casefold()
    if unit and unit not in KILOMETRE_WORDS:
        return replace(attribute, unit=column.unit)
    if not unit and not in_header:
        return attribute
    expected = attribute.expected
    return replace(
        attribute,
        unit=column.unit or "km",
        expected=replace(expected, per=round(expected.per * KM_PER_MILE, 2)) if expected else None,
        maximum=None if attribute.maximum is None else float(round(attribute.maximum * KM_PER_MILE)),
    )
