"""Written by hand: figures and dates that a strict reader refuses and a person reads without doubt."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from valuation.schema.attributes import Attribute, Role
from valuation.schema.checks import NUMERIC
from valuation.schema.values import CellFault, Value, read_value
from valuation.text.dates import LATEST, read_span
from valuation.text.money import Money, read_money
from valuation.text.numbers import is_missing
from valuation.text.reading import Reading
from valuation.text.remarks import Figure, bare_figure, two_ends

KILOMETRES = {"km": 1.0, "kms": 1.0, "kilometre": 1.0, "kilometres": 1.0, "kilometer": 1.0, "kilometers": 1.0,
              "mi": 1.609344, "mile": 1.609344, "miles": 1.609344}  # fmt: skip
"""Kilometres of each unit of road; the international mile is 1,609.344 m by definition."""

_WITH_UNIT = re.compile(r"(?P<number>.*\d)\s*(?P<thousands>k(?![a-z]))?\s*(?P<unit>[a-z]*)\.?", re.IGNORECASE)
_SHORT_YEAR = re.compile(r"['’]?(\d{2})")
_TWO_YEARS = re.compile(r"(\d{4})\s*[/-]\s*(\d{4}|\d{2})")
_SERIAL = re.compile(r"\d{5}(\.\d+)?")
_DAY_ZERO = dt.date(1899, 12, 30)  # the day before the first that spreadsheets count, two days off for 1900's leap day


def understood_price(text: str, reading: Reading) -> tuple[Money, tuple[str, ...]] | str:
    """A price with words around it and the kinds of what is read otherwise than written, or why it is none.

    Parameters
    ----------
    text : str
        As the cell holds it.
    reading : Reading
        How to read what can be read in two ways.
    """
    try:
        figure = bare_figure(text)
        money = read_money(figure.text, reading)
    except ValueError as problem:
        return str(problem)
    return money, (*(["prices_in_thousands"] if money.thousands else []), *_around(figure))


def price_range(text: str, reading: Reading) -> tuple[float, float] | None:
    """The two prices that a cell names, the lower one first; ``None`` when it does not.

    A range is not read as its middle. Where it stands for a sale, only one figure was paid, and an owner who takes the
    ends of an auction's estimate for it would count a guess made before the sale as the sale; where it stands for an
    asking price, the lower end is what the seller says he would take, and the middle is nobody's price.

    Parameters
    ----------
    text : str
        As the cell holds it.
    reading : Reading
        How to read what can be read in two ways.
    """
    try:
        ends = two_ends(bare_figure(text).text)
        amounts = sorted(read_money(end, reading).amount for end in ends) if ends else []
    except ValueError:
        return None
    return (amounts[0], amounts[1]) if amounts else None


def understood_number(
    attribute: Attribute, text: str, reading: Reading
) -> tuple[Value, tuple[str, ...]] | CellFault | None:
    """A number with words or another unit around it, or a year in two digits, and the kinds; ``None`` when it is none.

    Parameters
    ----------
    attribute : Attribute
        Whose value it is.
    text : str
        As the cell holds it.
    reading : Reading
        How to read what can be read in two ways.
    """
    try:
        figure = bare_figure(text)
    except ValueError as problem:
        return CellFault("not_a_number", f"'{text[:60]}' {problem}.", "Write the figure alone.")
    for body, kinds in _plainer(attribute, figure.text, reading):
        value = read_value(attribute, body, reading)
        if value is not None and not isinstance(value, CellFault):
            return value, (*kinds, *_around(figure))
    return None


def _around(figure: Figure) -> list[str]:
    return [*(["figures_about"] if figure.about else []), *(["remarks_beside_figures"] if figure.remark else [])]


def _plainer(attribute: Attribute, text: str, reading: Reading) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The text as the strict reader takes it, with what was changed for it."""
    if is_year(attribute):
        yield from _plainer_years(attribute, text)
        return
    match = _WITH_UNIT.fullmatch(text)
    number, thousands, unit = (
        (match["number"], match["thousands"], match["unit"].casefold()) if match else (text, "", "")
    )
    own = attribute.unit.casefold()
    factor = 1.0
    if unit and unit != own:
        if unit not in KILOMETRES or own not in KILOMETRES:
            return  # another word, or a unit that is not the schema's
        factor = KILOMETRES[unit] / KILOMETRES[own]
    kinds = (*(("numbers_in_thousands",) if thousands else ()), *(("lengths_converted",) if factor != 1 else ()))
    if not kinds:
        yield number, ()
        return
    plain = replace(attribute, minimum=None, maximum=None, role=Role.NUMBER)
    read = read_value(plain, number, reading)
    if isinstance(read, float):
        yield (
            f"{round(read * (1000 if thousands else 1) * factor, 2 if factor == 1 else 0):.2f}".removesuffix(".00"),
            kinds,
        )


def is_year(attribute: Attribute) -> bool:
    """Whether an attribute is a calendar year: a number without a unit whose range is one of years."""
    low, high = attribute.minimum, attribute.maximum
    return (
        attribute.role in NUMERIC
        and not attribute.unit
        and low is not None
        and high is not None
        and (1000 <= low <= high <= LATEST.year)
    )


def _plainer_years(attribute: Attribute, text: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    """A year in four digits where the schema's range leaves one century, and the earlier of two that follow each other.

    Each cell is judged by itself: a 55 can only be 1955 beside an 05 that can be two years and stays refused.
    """
    if match := _SHORT_YEAR.fullmatch(text):
        low, high = int(attribute.minimum or 0), int(attribute.maximum or 0)
        found = [year for year in range(low, high + 1) if year % 100 == int(match[1])][:2]
        if len(found) == 1:
            yield str(found[0]), ("years_of_two_digits",)
    elif (match := _TWO_YEARS.fullmatch(text)) and (int(match[1]) + 1) % 10 ** len(match[2]) == int(match[2]):
        yield match[1], ("years_of_two",)
    else:
        yield text, ()


def understood_date(text: str, today: dt.date) -> tuple[dt.date, tuple[str, ...], int] | str:
    """The day in the middle of a month, a season or a year, the kinds, and how many days it may lie off; or why not.

    The middle is the day that lies least far off. What that costs the fit: where prices drift by 4 % a year, half a
    season off is half a percent of the price, half a year off 2 %. Single sales scatter by ten times that, so that such
    a sale is worth keeping; the note says how many there are and how far off the widest may lie.

    Parameters
    ----------
    text : str
        As the cell holds it.
    today : date
        A span that has begun ends today.
    """
    try:
        figure = bare_figure(text)
        first, last = read_span(figure.text, today=today)
    except ValueError as problem:
        return str(problem)
    day = dt.date.fromordinal((first.toordinal() + last.toordinal()) // 2)
    return day, ("dates_with_a_width", *_around(figure)), (last - day).days


def stored_days(texts: Sequence[str], earliest: dt.date, today: dt.date) -> dict[str, dt.date]:
    """The days that a spreadsheet stored as numbers, when a whole column holds such numbers and nothing else.

    Parameters
    ----------
    texts : sequence of str
        The column's distinct texts.
    earliest, today : date
        All of them must lie between.
    """
    known = [text for text in texts if not is_missing(text)]
    if not known or not all(_SERIAL.fullmatch(text.strip()) for text in known):
        return {}
    days = {text: _DAY_ZERO + dt.timedelta(days=int(text.strip()[:5])) for text in known}
    return days if all(earliest <= day <= today for day in days.values()) else {}
