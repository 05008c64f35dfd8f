"""Money: amounts with a currency sign or code, and premiums in money or percent."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from valuation.text.numbers import DOUBT, both_readings, in_doubt, read_number
from valuation.text.reading import Reading
from valuation.view import with_currency

_SIGNS = {
    "€": "EUR",
    "euro": "EUR",
    "euros": "EUR",
    "£": "GBP",
    "¥": "JPY",
    "$": "$",
    "us$": "USD",
    "a$": "AUD",
    "c$": "CAD",
    "ca$": "CAD",
}
_CODES = frozenset(
    re.findall(
        "[A-Z]{3}",
        "AED ARS AUD BGN BRL CAD CHF CLP CNY CZK DKK EUR GBP HKD HUF ILS INR ISK JPY KRW MXN NOK NZD PLN RON SEK SGD "
        "THB TRY USD ZAR",
    )
)
_DOLLARS = frozenset({"USD", "CAD", "AUD", "NZD", "HKD", "SGD", "MXN", "$"})
_AMOUNT = re.compile(
    r"(?P<lead>-?)\s*(?P<before>[A-Za-z]{0,3}[€£¥$]|[A-Za-z]{3})?\s*(?P<number>\(?[-+−]?[.,]?\d(?:[\d.,'’\s]*\d)?(?:e[+-]?\d+)?\)?)"
    r"(?:\s?(?P<thousands>k)\b)?\s*(?:[.,]?-{1,2})?\s*(?P<after>[€£¥$]|euros?|[A-Za-z]{3})?",
    re.IGNORECASE,
)


MOST_MONEY = 1e12
"""Amounts beyond it are refused, here and in the service."""

PLAIN = Reading()
"""Nothing is told of how to read."""


@dataclass(frozen=True, slots=True)
class Money:
    """An amount as a cell gives it.

    Parameters
    ----------
    amount : float
        Money, or percent where ``percent`` says so.
    currency : str
        Code or sign that the cell names; empty when it names none.
    percent : bool
        Whether the cell has a percent sign.
    thousands : bool
        Whether the cell gives it in thousands, as ``24k`` does; ``amount`` is the whole of it.
    """

    amount: float
    currency: str = ""
    percent: bool = False
    thousands: bool = False


def read_money(text: str, reading: Reading = PLAIN) -> Money:
    """The amount in a cell such as ``$12,500``, ``12.500 €``, ``USD 12500``, ``5.75k`` or ``10 %``.

    Parameters
    ----------
    text : str
        As the cell holds it.
    reading : Reading
        How to read what can be read in two ways.

    Raises
    ------
    ValueError
        If the cell does not hold one finite amount; the message says why.

    Examples
    --------
    >>> read_money("€ 12,500")
    Money(amount=12500.0, currency='EUR', percent=False, thousands=False)
    >>> read_money("5.75k").amount
    5750.0
    """
    body = text.strip()
    if body.endswith("%"):
        return Money(read_number(body[:-1], reading.mark), percent=True)
    match = _AMOUNT.fullmatch(body)
    if match is None:
        return Money(_amount(body, reading.mark))
    named = match["before"] or match["after"] or ""
    currency = currency_name(named, reading) if named else ""
    if named and not is_currency(currency, reading):
        raise ValueError("is not a number")
    if match["thousands"]:
        number = _in_thousands(match["number"], reading.mark)
    else:
        number = _amount(match["number"], reading.mark)
    return Money(-number if match["lead"] else number, currency, thousands=bool(match["thousands"]))


def _in_thousands(text: str, mark: str) -> float:
    """The whole amount of ``5.75k``; a lone mark before three digits can be either there, as in a plain number."""
    if both_readings(text) is not None and not mark:
        raise ValueError(in_doubt(text))
    return _bounded(round(1000 * read_number(text, mark), 2))


def _amount(text: str, mark: str) -> float:
    """An amount has two decimals at most, so a lone mark before three digits separates thousands, in every country."""
    found = both_readings(text)
    if found is None:
        amount = read_number(text, mark)
    elif mark == DOUBT or (mark and mark in text):  # the column's other cells say that here, of all places, it does not
        raise ValueError(in_doubt(text))
    else:
        amount = float(found[0])
    return _bounded(amount)


def _bounded(amount: float) -> float:
    if not abs(amount) <= MOST_MONEY:
        raise ValueError(f"is more than {MOST_MONEY:,.0f}")
    return amount


def read_amount(text: str, currency: str = "", reading: Reading = PLAIN) -> float:
    """The amount that a person writes into a form or a command, in the currency that is meant.

    Parameters
    ----------
    text : str
        As :func:`read_money` takes it.
    currency : str
        The currency that is meant; empty: whatever is written is taken to be it.
    reading : Reading
        How to read what can be read in two ways.

    Raises
    ------
    ValueError
        If it is not an amount, is a percentage or below 0, or is in another currency; the message says which.

    Examples
    --------
    >>> read_amount("$24.500", "USD"), read_amount("12,5")
    (24500.0, 12.5)
    """
    money = read_money(text, replace(reading, currency=currency or reading.currency))
    if money.percent:
        raise ValueError("is a percentage")
    if money.amount < 0:
        raise ValueError("is below zero")
    if currency and money.currency and not same_currency(currency, money.currency):
        raise ValueError(f"is in {money.currency}, but {currency} is expected")
    return money.amount


def exact_money(amount: float, currency: str = "") -> str:
    """An amount as it is, with cents where it has some.

    Parameters
    ----------
    amount : float
        Money.
    currency : str
        Stands behind it; may be empty.

    Examples
    --------
    >>> exact_money(6250), exact_money(6249.5, "USD")
    ('6,250', '6,249.50 USD')
    """
    return with_currency(f"{amount:,.2f}".removesuffix(".00"), currency)


def currency_name(text: str, reading: Reading) -> str:
    """The currency that a sign, code or word stands for; a bare ``$`` is the shop's own dollar if it has one.

    Parameters
    ----------
    text : str
        A sign, a code or a word.
    reading : Reading
        How to read what can be read in two ways.
    """
    word = text.strip()
    found = _SIGNS.get(word.casefold(), word.upper() if len(word) == 3 else word)
    if found == "$":
        return reading.currency if reading.currency in _DOLLARS else ("USD" if reading.currency else "$")
    return next(
        (known for known in (reading.currency, *reading.currencies) if known.casefold() == found.casefold()), found
    )


def is_currency(currency: str, reading: Reading) -> bool:
    """Whether a name is that of a currency: a well-known code, a dollar sign, or one that the schema names.

    Parameters
    ----------
    currency : str
        As :func:`currency_name` gives it.
    reading : Reading
        How to read what can be read in two ways.
    """
    return currency in _CODES or currency == "$" or currency in (reading.currency, *reading.currencies)


def same_currency(first: str, second: str) -> bool:
    """Whether two names can mean one currency; a bare dollar sign goes with every dollar.

    Parameters
    ----------
    first, second : str
    """
    return first == second or ("$" in (first, second) and {first, second} <= _DOLLARS)
