"""Money: amounts with a currency sign or code, and premiums in money or percent."""

from __future__ import annotations

import re
from dataclasses import dataclass

from valuation.schema.numerals import read_number
from valuation.schema.schema import Schema

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


def read_money(text: str, mark: str, schema: Schema) -> Money:
    """The amount in a cell such as ``$12,500``, ``12.500 €``, ``USD 12500`` or ``10 %``.

    Raises
    ------
    ValueError
        If the cell holds no single finite amount; the message is the half sentence that says why.

    Examples
    --------
    >>> read_money("€ 12,500", "", Schema("any", ()))
    Money(amount=12500.0, currency='EUR', percent=False)
    """
    body = text.strip()
    if body.isdigit():
        return Money(float(body))
    if body.endswith("%"):
        return Money(read_number(body[:-1], mark), percent=True)
    match = _AMOUNT.fullmatch(body)
    if match is None:
        return Money(read_number(body, mark))
    named = match["before"] or match["after"] or ""
    currency = currency_name(named, schema) if named else ""
    if named and not is_currency(currency, schema):
        raise ValueError("is not a number")
    number = read_number(match["number"], mark)
    return Money(-number if match["lead"] else number, currency)


def currency_name(text: str, schema: Schema) -> str:
    """The currency that a sign, code or word stands for; a bare ``$`` is the schema's own dollar if it has one."""
    word = text.strip()
    found = _SIGNS.get(word.casefold(), word.upper() if len(word) == 3 else word)
    if found == "$":
        return schema.currency if schema.currency in _DOLLARS else ("USD" if schema.currency else "$")
    return next((known for known in (schema.currency, *schema.rates) if known.casefold() == found.casefold()), found)


def is_currency(currency: str, schema: Schema) -> bool:
    """Whether a name is that of a currency: a well-known code, a dollar sign, or one that the schema names."""
    return currency in _CODES or currency == "$" or currency in (schema.currency, *schema.rates)


def same_currency(first: str, second: str) -> bool:
    """Whether two names can mean one currency; a bare dollar sign goes with every dollar."""
    return first == second or ("$" in (first, second) and {first, second} <= _DOLLARS)
