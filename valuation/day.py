"""The day on which an answer holds: one default for commands, pages, service and Python."""

from __future__ import annotations

import datetime as dt


def day_of(as_of: dt.date | None = None) -> dt.date:
    """The day given, else today.

    Examples
    --------
    >>> day_of(dt.date(2026, 7, 1))
    datetime.date(2026, 7, 1)
    """
    return as_of or dt.date.today()
