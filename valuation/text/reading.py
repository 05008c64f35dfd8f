"""Reading: how to read what can be read in two ways, for one schema, one column or one form."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Reading:
    """How to read what can be read in two ways.

    Parameters
    ----------
    mark : str
        The decimal mark that is told or that a column proves, as :func:`valuation.text.numbers.decimal_mark` says.
    day_first : bool or None
        Whether 03/04/2025 is 3 April; ``None``: it is not told, and such a date is refused.
    today : date or None
        For years of two digits.
    currency : str
        The currency that is meant where none is written; empty: none is assumed.
    currencies : collection of str
        Other currencies that are known by name, beside the well-known codes.
    """

    mark: str = ""
    day_first: bool | None = None
    today: dt.date | None = None
    currency: str = ""
    currencies: Collection[str] = ()
