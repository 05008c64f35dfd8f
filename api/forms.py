"""Reading forms: what a browser sends, as plain values with a refusal that names the field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING

from api.deps import record_number
from api.problems import Refusal, not_found
from valuation.text.dates import read_day
from valuation.text.money import read_amount
from valuation.text.reading import Reading

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.ledger import TableRecord

CONFIRM = "confirm"
"""Field that says that an unlikely figure is right; see ``UnlikelyError``."""


def table_named(desk: Desk, form: Mapping[str, str]) -> TableRecord:
    """The table version that a form was filled in for; the newest where it names none.

    Parameters
    ----------
    desk : Desk
    form : mapping of str to str
        Fields as they were typed, by name.
    """
    text = form.get("table", "")
    number = record_number(text)
    if text and number is None:
        raise not_found(f"the table {text[:20]!r}")
    return desk.table(number)


def amount(form: Mapping[str, str], name: str, title: str, currency: str = "") -> float | None:
    """Money from a field, written as in a table and in the currency that is meant; ``None`` when it is blank.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    name : str
        Of the field.
    title : str
        What the field is called on its page.
    currency : str
        That is meant where none is written.

    Raises
    ------
    Refusal
        If it is not a number of 0 or more, or names another currency.
    """
    text = form.get(name, "").strip()
    if not text:
        return None
    try:
        return read_amount(text, currency)
    except ValueError as error:
        raise Refusal(
            422,
            "service.request",
            f"Cannot use '{text[:40]}' for {title}: it {error}. Write it as 24500.",
            where=name,
        ) from error


def day(form: Mapping[str, str], name: str, title: str) -> dt.date | None:
    """A date from a field; ``None`` when it is blank.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    name : str
        Of the field.
    title : str
        What the field is called on its page.

    Raises
    ------
    Refusal
        If it is not a date.
    """
    text = form.get(name, "").strip()
    if not text:
        return None
    try:
        return read_day(text, Reading())
    except ValueError as error:
        raise Refusal(
            422,
            "service.request",
            f"Cannot use '{text[:40]}' for {title}: it {error}. Write it as 2026-05-31.",
            where=name,
        ) from error


def needed(form: Mapping[str, str], name: str, title: str, currency: str = "") -> float:
    """Money from a field that may not be blank.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    name : str
        Of the field.
    title : str
        What the field is called on its page.
    currency : str
        That is meant where none is written.
    """
    value = amount(form, name, title, currency)
    if value is None:
        detail = f"Cannot go on without {title}: the field is blank. Fill it in."
        raise Refusal(422, "service.request", detail, where=name)
    return value
