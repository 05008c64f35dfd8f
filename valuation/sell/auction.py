"""Selling at auction: the reserve, the chance of no sale, and what a number of bidders brings.

Bidders know what they see; the seller does not know what the vehicle is worth to them. That is said by several cases;
bidders are independent within each.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from valuation.errors import PlanError
from valuation.paths.root import falling_root
from valuation.regression.normal import ndtr
from valuation.sell.offers_to_come import Offers

NODES = 400
"""Pairs of strips in Simpson's rule."""


@dataclass(frozen=True, slots=True)
class Case:
    """How it may stand.

    Parameters
    ----------
    odds : float
        Probability; of all cases they sum to 1.
    offers : Offers
        What one bidder would then pay at most.
    unsold : float
        What the vehicle is then worth to the seller unsold, money.
    """

    odds: float
    offers: Offers
    unsold: float = 0.0

    def top(self) -> float:
        """What no bidder exceeds, but for one in a thousand million."""
        return self.offers.quantile(1 - 1e-9)

    def below(self, price: float) -> float:
        """Probability that one bidder would not pay ``price``."""
        return 1 - float(self.offers.odds_above(np.array([price]))[0])


def auction_reserve(cases: Sequence[Case], bidders: int) -> float:
    """The reserve that brings the most on average.

    Parameters
    ----------
    cases : sequence of Case
    bidders : int
        >= 1. With one case the answer is the same for every number.

    Raises
    ------
    PlanError
        No bidder would pay what the vehicle is worth unsold.

    Notes
    -----
    A reserve that is higher by a little gains where just one bidder is above it and loses where nobody else is:
    the sum over the cases of F^(n-1) ((1 - F) - (r - worth unsold) f) is 0. For one case this is
    r - (1 - F) / f = worth unsold: Myerson (1981), Optimal auction design, Mathematics of Operations Research 6(1);
    Riley and Samuelson (1981), Optimal auctions, American Economic Review 71(3).
    """
    top, least = max(case.top() for case in cases), min(case.unsold for case in cases)
    if least >= top:
        raise PlanError(
            f"No bidder would pay what the vehicle is worth unsold ({least:,.0f}). Do not sell it at auction."
        )

    def gain(reserve: float) -> float:
        slope = 0.0
        for case in cases:
            below = case.below(reserve)
            density = float(case.offers.density(np.array([reserve]))[0])
            slope += case.odds * below ** (bidders - 1) * (1 - below - (reserve - case.unsold) * density)
        return slope

    return falling_root(gain, least, top, 1e-9 * top)


def auction_revenue(cases: Sequence[Case], reserve: float, bidders: int) -> float:
    """Expected hammer price, 0 where the reserve is not met.

    Parameters
    ----------
    cases : sequence of Case
    reserve : float
    bidders : int
        >= 1.

    Notes
    -----
    The hammer falls at the larger of the reserve and the second highest value, if the highest is above the reserve:
    reserve P(highest > reserve) + integral above the reserve of P(second highest > x). Simpson's rule.
    """
    if bidders < 1:
        raise PlanError(f"An auction needs at least one bidder; found {bidders}.")
    weights = np.ones(2 * NODES + 1)
    weights[1:-1:2], weights[2:-1:2] = 4, 2
    brought = 0.0
    for case in cases:
        top = case.top()
        if reserve >= top:
            continue
        x = np.linspace(reserve, top, 2 * NODES + 1)
        below = 1 - case.offers.odds_above(x)
        second_above = 1 - below**bidders - bidders * below ** (bidders - 1) * (1 - below)
        brought += case.odds * (
            reserve * float(1 - below[0] ** bidders) + float(weights @ second_above) * (x[1] - x[0]) / 3
        )
    return float(brought)


def second_highest(bidders: int) -> float:
    """Expected second highest of so many standard normal numbers, >= 2.

    Examples
    --------
    >>> round(second_highest(2), 4), round(second_highest(5), 4)
    (-0.5642, 0.495)
    """
    z = np.linspace(-8.0, 8.0, 1601)
    below = ndtr(z)
    density = np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    weight = bidders * (bidders - 1) * below ** (bidders - 2) * (1 - below) * density
    return float((weight @ z) * (z[1] - z[0]))
