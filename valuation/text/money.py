"""Money: amounts with a currency sign or code, and premiums in money or percent."""

from __future__ import annotations

import re
from dataclasses import dataclass

from valuation.text.numbers import read_number
from valuation.text.reading import Reading

_SIGNS = {"€": "EUR", "£": "GBP", "¥": "JPY", "$": "$", "us$": "USD", "a$": "AUD", "c$": "CAD", "ca$": "CAD"}
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
    r"\s*(?:[.,]?-{1,2})?\s*(?P<after>[€£¥$]|[A-Za-z]{3})?",
    re.IGNORECASE,
)


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
    """

    amount: float
    currency: str = ""
    percent: bool = False


def read_money(text: str, reading: Reading = PLAIN) -> Money:
    """The amount in a cell such as ``$12,500``, ``12.500 €``, ``USD 12500`` or ``10 %``.

    Raises
    ------
    ValueError
        If the cell holds no single finite amount; the message is the half sentence that says why.

    Examples
    --------
    >>> read_money("€ 12,500")
    Money(amount=12500.0, currency='EUR', percent=False)
    """
    body = text.strip()
    if body.isdigit():
        return Money(float(body))
    if body.endswith("%"):
        return Money(read_number(body[:-1], reading.mark), percent=True)
    match = _AMOUNT.fullmatch(body)
    if match is None:
        return Money(read_number(body, reading.mark))
    named = match["before"] or match["after"] or ""
    currency = currency_name(named, reading) if named else ""
    if named and not is_currency(currency, reading):
        raise ValueError("is not a number")
    number = read_number(match["number"], reading.mark)
    return Money(-number if match["lead"] else number, currency)


def currency_name(text: str, reading: Reading) -> str:
    """The currency that a sign, code or word stands for; a bare ``$`` is the shop's own dollar if it has one."""
    word = text.strip()
    found = _SIGNS.get(word.casefold(), word.upper() if len(word) == 3 else word)
    if found == "$":
        return reading.currency if reading.currency in _DOLLARS else ("USD" if reading.currency else "$")
    return next(
        (known for known in (reading.currency, *reading.currencies) if known.casefold() == found.casefold()), found
    )


def is_currency(currency: str, reading: Reading) -> bool:
    """Whether a name is that of a currency: a well-known code, a dollar sign, or one that the schema names."""
    return currency in _CODES or currency == "$" or currency in (reading.currency, *reading.currencies)


def same_currency(first: str, second: str) -> bool:
    """Whether two names can mean one currency; a bare dollar sign goes with every dollar."""
    return first == second or ("$" in (first, second) and {first, second} <= _DOLLARS)
