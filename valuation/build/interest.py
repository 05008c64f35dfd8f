"""What money costs: one convention for buying, building, waiting and selling.

Money costs interest from the day it is spent until the day it comes back, at one effective yearly rate. A sum paid at
once grows by ``growth``; money that flows evenly (labour, holding, a share of the shop's overhead) by ``flow``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from valuation.regression.distribution import FloatArray
from valuation.year import WEEKS_PER_YEAR


def weekly_force(yearly_percent: float) -> float:
    """The rate at which money grows at every instant, by week: log(1 + yearly rate) over the weeks of a year."""
    return float(np.log1p(yearly_percent / 100)) / WEEKS_PER_YEAR


def growth(weeks: ArrayLike, yearly_percent: float) -> FloatArray:
    """What one unit of money has grown to after some weeks, compounding; its inverse is what later money is worth now.

    Parameters
    ----------
    weeks : array_like
        From the day the money is spent until it comes back; a negative wait discounts.
    yearly_percent : float
        Effective yearly rate, percent.

    Returns
    -------
    ndarray
        Shape of ``weeks``; 1 at no wait.

    Examples
    --------
    >>> round(float(growth(WEEKS_PER_YEAR, 8.0)), 4)
    1.08
    """
    return np.asarray(np.exp(weekly_force(yearly_percent) * np.asarray(weeks, dtype=float)))


def flow(weeks: ArrayLike, yearly_percent: float) -> FloatArray:
    """What one unit of money a week, paid evenly, has grown to by the end of those weeks.

    Parameters
    ----------
    weeks : array_like
        How long it flows, 0 or more.
    yearly_percent : float
        Effective yearly rate, percent.

    Returns
    -------
    ndarray
        Shape of ``weeks``; never under ``weeks``.

    Notes
    -----
    (exp(d n) - 1) / d with the force of interest d, the accumulated value of a continuous annuity; n without interest.

    Examples
    --------
    >>> round(float(flow(10, 0.0)), 4), round(float(flow(WEEKS_PER_YEAR, 10.0) / WEEKS_PER_YEAR), 4)
    (10.0, 1.0492)
    """
    span = np.asarray(weeks, dtype=float)
    force = weekly_force(yearly_percent)
    return np.asarray(np.expm1(force * span) / force if force > 0 else span)
