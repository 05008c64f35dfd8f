"""Reading forms: what a browser sends, as plain values with a refusal that names the field."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

from api.problems import Refusal, not_found

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.ledger import TableRecord


def table_named(desk: Desk, form: Mapping[str, str]) -> TableRecord:
    """The table version that a form was filled in for; the newest where it names none."""
    number = form.get("table", "")
    if number and not (number.isascii() and number.isdigit()):
        raise not_found(f"the table {number[:20]!r}")
    return desk.table(int(number) if number else None)


def amount(form: Mapping[str, str], name: str, title: str) -> float | None:
    """Money from a field; ``None`` when it is blank.

    Raises
    ------
    Refusal
        If it is no number of 0 or more.
    """
    text = form.get(name, "").strip().replace(" ", "").replace(",", "").replace("'", "")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and 0 <= value <= 1e12):
        raise Refusal(
            422,
            "service.request",
            f"Cannot use '{form.get(name, '')}' for {title}: it is no amount. Write 24500.",
            where=name,
        )
    return value


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
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise Refusal(
            422,
            "service.request",
            f"Cannot use '{text[:40]}' for {title}: it is no date. Write 2026-05-31.",
            where=name,
        ) from error


def needed(form: Mapping[str, str], name: str, title: str) -> float:
    """Money from a field that may not be blank."""
    value = amount(form, name, title)
    if value is None:
        detail = f"Cannot go on without {title}: the field is blank. Fill it in."
        raise Refusal(422, "service.request", detail, where=name)
    return value
