"""Reading forms: what a browser sends, as plain values with a refusal that names the field."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping

from api.problems import Refusal


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
            422, "service.request", f"Cannot use '{form.get(name, '')}' for {title}: it is no amount. Write 24500."
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
            422, "service.request", f"Cannot use '{text[:40]}' for {title}: it is no date. Write 2026-05-31."
        ) from error


def needed(value: float | None, title: str) -> float:
    """The value, or a refusal that it is missing."""
    if value is None:
        raise Refusal(422, "service.request", f"Cannot go on without {title}: the field is blank. Fill it in.")
    return value
