"""Selling at auction: the reserve, and what a number of bidders brings."""

from __future__ import annotations

import numpy as np

from valuation.errors import PlanError
from valuation.sell.waiting import Offers

NODES = 400


def auction_reserve(offers: Offers, own_value: float) -> float:
    """The reserve that brings the most on average, whatever the number of bidders.

    Parameters
    ----------
    offers : Offers
        What one bidder would pay at most.
    own_value : float
        What the vehicle is worth to the seller unsold (the value of waiting), money.

    Notes
    -----
    The reserve r with r - (1 - F(r)) / f(r) = own value is where (r - own value)(1 - F(r)) is largest. Myerson (1981),
    Optimal auction design, Mathematics of Operations Research 6(1); Riley and Samuelson (1981), Optimal auctions,
    American Economic Review 71(3).
    """
    from scipy.optimize import minimize_scalar

    top = offers.quantile(1 - 1e-9)
    if own_value >= top:
        raise PlanError(
            f"No bidder would pay what the vehicle is worth unsold ({own_value:,.0f}). Do not sell it at auction."
        )
    answer = minimize_scalar(
        lambda price: -(price - own_value) * offers.odds_above(price),
        bounds=(own_value, top),
        method="bounded",
        options={"xatol": 1e-9 * top},
    )
    return float(answer.x)


def auction_revenue(offers: Offers, reserve: float, bidders: int) -> float:
    """Expected hammer price, 0 where the reserve is not met.

    Parameters
    ----------
    offers : Offers
        What one bidder would pay at most; bidders are independent.
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
    top = offers.quantile(1 - 1e-9)
    if reserve >= top:
        return 0.0
    x = np.linspace(reserve, top, 2 * NODES + 1)
    below = 1 - np.array([offers.odds_above(float(one)) for one in x])
    second_above = 1 - below**bidders - bidders * below ** (bidders - 1) * (1 - below)
    weights = np.ones(len(x))
    weights[1:-1:2], weights[2:-1:2] = 4, 2
    integral = float(weights @ second_above) * float(x[1] - x[0]) / 3
    return reserve * float(1 - below[0] ** bidders) + integral
