"""How far money is rounded that people are told: one rule for commands, pages and sheets."""

from __future__ import annotations

import math
from typing import Literal

from valuation.view import SMALL_MONEY, as_money

_TIE = 1e-9
"""Keeps a round figure round that a float holds as a trifle more."""

NARROW = 0.1
"""A range is narrow that is no wider than this share of the amount: then a fourth figure says something."""


def rounded(
    amount: float, *, width: float = math.inf, error: float = 0.0, limit: Literal["", "up", "down"] = ""
) -> float:
    """Three leading figures, four where the range is narrow; whole units from 100 up, at most cents below.

    Parameters
    ----------
    amount : float
        Money.
    width : float
        Of the range in which it lies, money; wide unless told.
    error : float
        Standard error of a simulated amount: nothing is shown that another run would change.
    limit : {"", "up", "down"}
        A limit is rounded to its safe side: the least to take up, the most to pay down.

    Examples
    --------
    >>> rounded(45_312.0), rounded(45_312.0, width=4_000.0), rounded(3.717)
    (45300.0, 45310.0, 3.72)
    >>> rounded(13_487.0, limit="down"), rounded(13_412.0, limit="up"), rounded(188.0, error=12.0)
    (13400.0, 13500.0, 200.0)
    """
    if not math.isfinite(amount) or amount == 0:
        return amount
    figures = 4 if width <= NARROW * abs(amount) else 3
    least = -2 if abs(amount) < SMALL_MONEY else 0
    power = max(math.floor(math.log10(abs(amount))) - figures + 1, least)
    wanted = rounding_step(error)
    if wanted > 10.0**power:
        return float(round(amount / wanted) * wanted)
    shift = 10.0**-power  # of an exact power of ten: dividing by it leaves 3.72 as people write it
    steps = amount * shift if power <= 0 else amount / 10.0**power
    whole = math.ceil(steps - _TIE) if limit == "up" else math.floor(steps + _TIE) if limit == "down" else round(steps)
    return float(whole / shift if power <= 0 else whole * 10.0**power) + 0.0  # what rounds to nothing has no sign


def told(
    amount: float | None, currency: str = "", *, width: float = math.inf, limit: Literal["", "up", "down"] = ""
) -> str:
    """An amount that was worked out, as a view says it: rounded by ``rounded``, in plain text.

    Parameters
    ----------
    amount : float or None
        Money; "none" for None.
    currency : str
        Stands behind it; may be empty.
    width, limit
        As for ``rounded``.

    Examples
    --------
    >>> told(45_312.0, "USD"), told(45_312.0, width=4_000.0), told(13_487.0, limit="down"), told(None)
    ('45,300 USD', '45,310', '13,400', 'none')
    """
    return as_money(None if amount is None else rounded(amount, width=width, limit=limit), currency)


def rounding_step(error: float) -> float:
    """The step (1, 2 or 5 times a power of ten) to which a figure with that standard error may be rounded.

    At least twice the error, so that a repeated simulation shows the same rounded figure or the one beside it.

    Examples
    --------
    >>> rounding_step(0.7), rounding_step(12.0), rounding_step(0.0)
    (2.0, 50.0, 0.0)
    """
    if error <= 0:
        return 0.0
    power = 10.0 ** math.floor(math.log10(2 * error))
    for digit in (1, 2, 5, 10):
        if digit * power >= 2 * error * (1 - 1e-12):
            return digit * power
    return 10 * power
