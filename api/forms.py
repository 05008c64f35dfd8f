"""Reading forms: what a browser sends, as plain values with a refusal that names the field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from api.problems import Refusal
from valuation.text.dates import read_day
from valuation.text.money import read_amount
from valuation.text.reading import Reading


def amount(form: Mapping[str, str], name: str, title: str, currency: str = "") -> float | None:
    """Money from a field, written as in a table and in the currency that is meant; ``None`` when it is blank.

    Raises
    ------
    Refusal
        If it is no number of 0 or more, or names another currency.
    """
    text = form.get(name, "").strip()
    if not text:
        return None
    try:
        return read_amount(text, currency)
    except ValueError as error:
        raise Refusal(
            422, "service.request", f"Cannot use '{text[:40]}' for {title}: it {error}. Write it as 24500."
        ) from error


def day(form: Mapping[str, str], name: str, title: str) -> dt.date | None:
    """A date from a field; ``None`` when it is blank.

    Raises
    ------
    Refusal
        If it is no date.
    """
    text = form.get(name, "").strip()
    if not text:
        return None
    try:
        return read_day(text, Reading())
    except ValueError as error:
        raise Refusal(
            422, "service.request", f"Cannot use '{text[:40]}' for {title}: it {error}. Write it as 2026-05-31."
        ) from error


def needed(value: float | None, title: str) -> float:
    """The value, or a refusal that it is missing."""
    if value is None:
        raise Refusal(422, "service.request", f"Cannot go on without {title}: the field is blank. Fill it in.")
    return value
