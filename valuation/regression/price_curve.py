"""The predictive distribution of one price as a handful of points, for pictures and tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from valuation.regression.distribution import PriceDistribution

POINTS = 121
"""Of the curve that is drawn: smooth to the eye at the width of a page."""
_SOUGHT = 2001
"""Of the curve along which the points are spaced; with twice as many they lie where they do."""
LAST_PROBABILITY = 0.995
"""The curve runs from the price that 1 in 200 lies below to the one that 1 in 200 lies above."""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One point of a distribution.

    Parameters
    ----------
    amount : float
        Money.
    odds_below : float
        Probability of ending at or below it, 0 to 1.
    height : float
        Relative likelihood of ending about there; 1 at the most likely of the points.
    """

    amount: float
    odds_below: float
    height: float


def price_curve(distribution: PriceDistribution, points: int = POINTS) -> tuple[CurvePoint, ...]:
    """The distribution of one price, from the price that 1 in 200 is below to the one that 1 in 200 is above.

    Parameters
    ----------
    distribution : PriceDistribution
        Of length one.
    points : int
        How many; evenly spaced along the curve as it is drawn, so that they lie close where it bends or is steep.
    """
    low, high = (float(end[0]) for end in distribution.interval(2 * LAST_PROBABILITY - 1))
    amounts = np.geomspace(low, high, _SOUGHT)
    heights = distribution.density(amounts[:, None])[:, 0]
    steps = np.hypot(np.diff(amounts) / (high - low), np.diff(heights) / heights.max())
    along = np.concatenate([[0.0], np.cumsum(steps)])
    return curve_at(distribution, np.interp(np.linspace(0, along[-1], points), along, amounts).tolist())


def curve_at(distribution: PriceDistribution, amounts: Sequence[float]) -> tuple[CurvePoint, ...]:
    """The distribution of one price at given amounts.

    Parameters
    ----------
    distribution : PriceDistribution
        Of length one.
    amounts : sequence of float
        Money, rising.
    """
    column = np.asarray(amounts, dtype=float)[:, None]
    odds, slopes = distribution.cdf(column)[:, 0], distribution.density(column)[:, 0]
    points = np.column_stack([column, odds, slopes / slopes.max()])
    return tuple(CurvePoint(*point) for point in points.tolist())
