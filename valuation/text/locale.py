"""Locale: how money, dates, numbers and lengths of road are written on paper, and on which paper."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Literal

from valuation.errors import SheetError, shortlist
from valuation.text.dates import DAY_IN_WORDS, MONTHS
from valuation.text.rounding import rounded
from valuation.text.spoken import ENGLISH, Said, catalogue, languages
from valuation.view import CURRENCY_SIGNS, decimals_of, with_currency

DateOrder = Literal["dmy", "mdy", "ymd"]
Paper = Literal["a4", "us-letter"]

MINUS = "\N{MINUS SIGN}"
NARROW = "\N{NARROW NO-BREAK SPACE}"
HARD = "\N{NO-BREAK SPACE}"
KM_PER_MILE = 1.609344
"""By definition: the international mile is 5280 feet of 0.3048 m."""

_MILES = frozenset({"mile", "miles", "mi"})
_KILOMETRES = frozenset({"km", "kilometre", "kilometres", "kilometer", "kilometers"})


def _one_of(name: str, value: str, accepted: tuple[str, ...]) -> None:
    if value not in accepted:
        raise SheetError(
            f"Cannot use a locale whose {name} is {value!r}. Write one of {', '.join(map(repr, accepted))}."
        )


@dataclass(frozen=True, slots=True)
class Locale:
    """How figures are written, and in which language a sheet is.

    Parameters
    ----------
    name : str
        For messages and for the record.
    thousands, decimal : str
        What stands between groups of three figures, and before decimals.
    date_order : {"dmy", "mdy", "ymd"}
        The month is written out, so that no date can be read two ways; ``ymd`` is ISO.
    currency_first : bool
        Whether the currency stands before the amount. Which currency it is, the table says; none is assumed.
    distance : {"", "miles", "km"}
        Unit in which lengths of road are shown; empty: as the schema gives them.
    paper : {"a4", "us-letter"}
    language : str
        Of the words on a sheet, one of ``languages()``.
    """

    name: str = "international"
    thousands: str = ","
    decimal: str = "."
    date_order: DateOrder = "dmy"
    currency_first: bool = True
    distance: Literal["", "miles", "km"] = ""
    paper: Paper = "a4"
    language: str = ENGLISH

    def __post_init__(self) -> None:
        _one_of("date_order", self.date_order, ("dmy", "mdy", "ymd"))
        _one_of("distance", self.distance, ("", "miles", "km"))
        _one_of("paper", self.paper, ("a4", "us-letter"))
        if self.language != ENGLISH:
            _one_of("language", self.language, languages())
        if not self.decimal or self.decimal == self.thousands:
            raise SheetError(
                f"Cannot write money in the locale '{self.name}': the decimal mark is {self.decimal!r} and the "
                f"thousands separator {self.thousands!r}. Give a decimal mark, and a different separator or none."
            )

    def number(self, value: float, digits: int = 0) -> str:
        """A number with its thousands separated.

        Parameters
        ----------
        value : float
        digits : int
            After the decimal mark.

        Examples
        --------
        >>> Locale().number(-71000.5, 1)
        '−71,000.5'
        """
        text = f"{abs(value):,.{digits}f}"
        if not any(character in text for character in "123456789"):
            value = 0.0  # what rounds to nothing has no sign
        whole, _, rest = text.partition(".")
        whole = whole.replace(",", self.thousands)
        return Said((MINUS if value < 0 else "") + whole + (self.decimal + rest if rest else ""))

    def money(self, amount: float, currency: str = "", *, cents: bool = False, sign: bool = False) -> str:
        r"""An amount of money; without a currency the bare number; an infinite one reads ``no limit``.

        Parameters
        ----------
        amount : float
        currency : str
            Code or sign; may be empty.
        cents : bool
            Whether to write two decimals.
        sign : bool
            Whether an amount above 0 gets its plus.

        Examples
        --------
        >>> LOCALES["de-DE"].money(15563.834, "EUR", cents=True)
        '15.563,83\xa0EUR'
        """
        if not math.isfinite(amount):
            return catalogue().gettext("no limit")
        text = self.number(amount, 2 if cents else decimals_of(amount))
        if sign and text[0] != MINUS and any(digit in text for digit in "123456789"):
            text = "+" + text
        if not currency:
            return Said(text)
        if self.currency_first and currency in CURRENCY_SIGNS:
            return Said(with_currency(text, currency))
        return Said(f"{currency}{HARD}{text}" if self.currency_first else f"{text}{HARD}{currency}")

    def about(self, amount: float, currency: str = "") -> str:
        """An amount rounded to three leading digits, as a figure that is estimated should be said.

        Parameters
        ----------
        amount : float
        currency : str
            Code or sign; may be empty.

        Examples
        --------
        >>> Locale().about(45310.3), Locale().about(987.6), Locale().about(3.717)
        ('45,300', '988', '3.72')
        """
        return self.money(rounded(amount), currency)

    def at_most(self, amount: float, currency: str = "") -> str:
        """A limit on what to pay, rounded down.

        Parameters
        ----------
        amount : float
            Money.
        currency : str
            Its code, put beside the amount; none unless given.
        """
        return self.money(rounded(amount, limit="down"), currency)

    def at_least(self, amount: float, currency: str = "") -> str:
        """The least to take, rounded up.

        Parameters
        ----------
        amount : float
            Money.
        currency : str
            Its code, put beside the amount; none unless given.
        """
        return self.money(rounded(amount, limit="up"), currency)

    def percent(self, share: float, *, sign: bool = False) -> str:
        r"""A share as percent.

        Parameters
        ----------
        share : float
            1 is 100 %.
        sign : bool
            Whether a share above 0 gets its plus.

        Examples
        --------
        >>> Locale().percent(0.7349), Locale().percent(-0.051, sign=True)
        ('73\xa0%', '−5\xa0%')
        """
        text = self.number(100 * share)
        if sign and text not in ("0", "") and text[0] != MINUS:
            text = "+" + text
        return Said(f"{text}{HARD}%")

    def date(self, day: dt.date | None) -> str:
        r"""A date; ``undated`` when there is none.

        Examples
        --------
        >>> Locale().date(dt.date(2026, 10, 9)), LOCALES["en-US"].date(dt.date(2026, 10, 9))
        ('9\xa0October\xa02026', 'October\xa09,\xa02026')
        """
        if day is None:
            return catalogue().gettext("undated")
        month = catalogue().gettext(MONTHS[day.month - 1])
        if self.date_order == "ymd":
            return day.isoformat()
        if self.date_order == "mdy":
            return f"{month}{HARD}{day.day},{HARD}{day.year}"
        words = catalogue().gettext("{day} {month} {year}").format(day=day.day, month=month, year=day.year)
        return Said(words.replace(" ", HARD))

    def sentence(self, text: str) -> str:
        r"""An English sentence of the house with its days as this locale writes them.

        Examples
        --------
        >>> LOCALES["en-US"].sentence("Sold by 9 October 2026.")
        'Sold by October\xa09,\xa02026.'
        """
        if self.language != ENGLISH or self.date_order == "dmy":
            return text
        return DAY_IN_WORDS.sub(
            lambda day: self.date(dt.date(int(day[3]), MONTHS.index(day[2]) + 1, int(day[1]))), text
        )

    def quantity(self, value: float, unit: str = "") -> str:
        r"""A number with its unit; lengths of road in the locale's own unit.

        Parameters
        ----------
        value : float
        unit : str
            Such as ``miles``; may be empty.

        Examples
        --------
        >>> LOCALES["de-DE"].quantity(71000, "miles")
        '114.263\xa0km'
        """
        if self.distance == "km" and unit in _MILES:
            value, unit = value * KM_PER_MILE, "km"
        elif self.distance == "miles" and unit in _KILOMETRES:
            value, unit = value / KM_PER_MILE, "miles"
        digits = 0 if unit in ("km", "miles") or float(value).is_integer() else 1
        text = self.number(value, digits)
        return Said(f"{text}{HARD}{unit}" if unit else text)

    def as_dict(self) -> dict[str, Any]:
        """Plain data; :func:`locale_from` reads it back. Records made before there were languages name none."""
        found = {field.name: getattr(self, field.name) for field in fields(self)}
        return found if self.language != ENGLISH else {name: found[name] for name in found if name != "language"}

    def in_language(self, language: str) -> Locale:
        """The same habits on paper, with the words, figures and dates of a language.

        Parameters
        ----------
        language : str
            One of ``languages()``; of a locale of that language's country nothing but the words changes.
        """
        _one_of("language", language, languages())
        if language == self.language or self.name.startswith(f"{language}-"):
            return replace(self, language=language)
        there = next((one for name, one in LOCALES.items() if name.startswith(f"{language}-")), LOCALES["en-GB"])
        return replace(there, paper=self.paper, distance=self.distance or there.distance, language=language)


LOCALES: Mapping[str, Locale] = {
    locale.name: locale
    for locale in (
        Locale(),
        Locale("en-GB", paper="a4", distance="miles"),
        Locale("en-US", date_order="mdy", paper="us-letter", distance="miles"),
        Locale("en-CA", date_order="ymd", paper="us-letter", distance="km"),
        Locale("en-AU", distance="km"),
        Locale("de-DE", ".", ",", currency_first=False, distance="km"),
        Locale("de-CH", "\N{RIGHT SINGLE QUOTATION MARK}", ".", distance="km"),
        Locale("fr-FR", NARROW, ",", currency_first=False, distance="km"),
        Locale("es-ES", ".", ",", currency_first=False, distance="km"),
        Locale("it-IT", ".", ",", currency_first=False, distance="km"),
        Locale("nl-NL", ".", ",", distance="km"),
        Locale("sv-SE", HARD, ",", date_order="ymd", currency_first=False, distance="km"),
        Locale("ja-JP", date_order="ymd", distance="km"),
    )
}
"""Habits of some places; a shop can state its own."""


def locale_from(setting: str | Mapping[str, Any] | Locale | None) -> Locale:
    """A locale from its name, from plain data (with an optional ``name`` of the one it starts from), or as it is.

    Raises
    ------
    SheetError
        If the name or a setting is not known.
    """
    if setting is None:
        return LOCALES["international"]
    if isinstance(setting, Locale):
        return setting
    if isinstance(setting, str):
        if setting not in LOCALES:
            raise SheetError(
                f"Cannot write a sheet in the locale {setting!r}: it is not known. Name one of "
                f"{shortlist(list(LOCALES), 20)}; or give thousands, decimal, date_order and so on one by one."
            )
        return LOCALES[setting]
    known = {field.name for field in fields(Locale)}
    strange = sorted(set(setting) - known)
    if strange:
        raise SheetError(
            f"Cannot use a locale with {shortlist([repr(name) for name in strange])}: no such setting. The settings "
            f"are {', '.join(sorted(known))}."
        )
    start = LOCALES.get(str(setting.get("name", "")), LOCALES["international"])
    return replace(start, **setting)
