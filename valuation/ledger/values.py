"""What one field of a record may hold: each rule gives the clean value back or refuses it in words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from numbers import Integral, Real
from typing import Annotated

from valuation.errors import LedgerError
from valuation.ledger.canonical import canonical_json


@dataclass(frozen=True, slots=True)
class Rule:
    """How a field is cleaned before it is written.

    Parameters
    ----------
    clean : callable
        From the field's name and the value given to the value kept.
    refers_to : str
        For a field that names another record or a content: where that is stored.
    """

    clean: Callable[[str, object], object]
    refers_to: str = ""


def _text(name: str, value: object) -> str:
    if not isinstance(value, str):
        raise _refusal(name, value, "text")
    if "\0" in value or any("\ud800" <= letter <= "\udfff" for letter in value):
        raise _refusal(name, value, "text without NUL characters and lone surrogates")
    return value


def _label(name: str, value: object) -> str:
    text = _text(name, value).strip()
    if not text:
        raise _refusal(name, value, "text that is not empty")
    return text


def _json(name: str, value: object) -> str:
    if not isinstance(value, Mapping):
        raise _refusal(name, value, "an object of names and values")
    return canonical_json(dict(value), name.replace("_", " "))


def _digest(name: str, value: object) -> str:
    text = _text(name, value)
    if not re.fullmatch(r"[0-9a-f]{64}", text):
        raise _refusal(name, value, "a SHA-256 in 64 hexadecimal digits")
    return text


def _number(name: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, Real):
        raise _refusal(name, value, "a number")
    try:
        number = float(value)
    except OverflowError:
        number = float("inf")
    if not abs(number) < float("inf") or number != value:
        raise _refusal(name, value, "a finite number that a double-precision figure holds exactly")
    return number


def _money(name: str, value: object) -> float:
    amount = _number(name, value)
    if not amount > 0:
        raise _refusal(name, value, "an amount of money above 0")
    return amount


def _share(name: str, value: object) -> float:
    share = _number(name, value)
    if not 0 < share < 1:
        raise _refusal(name, value, "a share between 0 and 1, such as 0.8")
    return share


def _count(name: str, value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, Integral) or not 0 <= int(value) < 2**31:
        raise _refusal(name, value, "a whole number from 0 to 2,147,483,647")
    return int(value)


def _flag(name: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise _refusal(name, value, "true or false")
    return value


def _day(name: str, value: object) -> date:
    if isinstance(value, str):
        try:
            return date.fromisoformat(value)
        except ValueError:
            raise _refusal(name, value, "a date as year-month-day, such as 2025-03-31") from None
    if isinstance(value, datetime) or not isinstance(value, date):
        raise _refusal(name, value, "a date without a time of day")
    return value


def one_of(*accepted: str) -> Rule:
    """Rule of a field that holds one of a few words."""

    def clean(name: str, value: object) -> str:
        if value not in accepted:
            raise _refusal(name, value, " or ".join(repr(word) for word in accepted))
        return str(value)

    return Rule(clean)


def reference(stored_in: str) -> Rule:
    """Rule of a field that holds the number of a record stored in ``stored_in``."""
    return Rule(_count, refers_to=stored_in)


def _refusal(name: str, value: object, accepted: str) -> LedgerError:
    found = repr(value)
    if len(found) > 80:
        found = f"{found[:77]}..."
    return LedgerError(
        f"Cannot write {name.replace('_', ' ')} to the ledger: found {found}. It must be {accepted}. "
        "Mend it and try again.",
        where=name,
    )


Text = Annotated[str, Rule(_text)]
"""Any text, also an empty one."""
Label = Annotated[str, Rule(_label)]
"""A name: text that is not empty; blanks around it are taken off."""
JsonText = Annotated[str, Rule(_json)]
"""A mapping when written; its canonical JSON text when read."""
Digest = Annotated[str, Rule(_digest)]
"""A fingerprint (SHA-256) of something kept elsewhere."""
Content = Annotated[str, Rule(_digest, refers_to="contents")]
"""A fingerprint (SHA-256) of a file or text that the ledger keeps."""
Money = Annotated[float, Rule(_money)]
"""An amount of money, above 0, in the currency named beside it."""
Share = Annotated[float, Rule(_share)]
"""Strictly between 0 and 1."""
Count = Annotated[int, Rule(_count)]
"""A whole number from 0 up."""
Flag = Annotated[bool, Rule(_flag)]
"""True or false."""
Day = Annotated[date, Rule(_day)]
"""A calendar date; also accepted as year-month-day."""
