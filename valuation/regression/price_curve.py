"""The predictive distribution of one price as a handful of points, for pictures and tables."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from valuation.regression.distribution import PriceDistribution

POINTS = 81
"""Of the curve that is drawn: smooth to the eye at the width of a page."""
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
        How many, evenly spaced in money.
    """
    low, high = (float(distribution.quantile(p)[0]) for p in (1 - LAST_PROBABILITY, LAST_PROBABILITY))
    amounts = np.linspace(low, high, points)
    odds = distribution.cdf(amounts[:, None])[:, 0]
    slopes = distribution.density(amounts[:, None])[:, 0]
    heights = slopes / slopes.max()
    return tuple(CurvePoint(*map(float, one)) for one in zip(amounts, odds, heights, strict=True))
