"""A vehicle that must go: asks that fall until it is sold."""

from __future__ import annotations

import numpy as np

from valuation.errors import PlanError
from valuation.paths.root import falling_root
from valuation.sell.offers_to_come import Offers


def markdown_asks(offers: Offers, rounds: int, left: float = 0.0) -> list[float]:
    """Asks, round after round, until the first that is not above what the vehicle is worth to the best buyer.

    Parameters
    ----------
    offers : Offers
        What the vehicle is worth to the best buyer: one figure, which nobody knows.
    rounds : int
        How many asks there is time for, >= 1.
    left : float
        What it brings after the last round, money.

    Notes
    -----
    Lazear (1986), Retail pricing and clearance sales, American Economic Review 76(1), 14-32. Every ask that was refused
    tells that the value is lower. The sum of p_i (F(p_(i-1)) - F(p_i)) is largest where
    F(p_(i-1)) = F(p_i) + f(p_i) (p_i - p_(i+1)): from the last ask each earlier one follows, and the first must have
    everything under it.
    """
    if rounds < 1:
        raise PlanError(f"Asks need at least one round; found {rounds}. Say how often the ask can be lowered.")

    def backwards(last: float) -> tuple[list[float], float]:
        asks, after = [last], left
        while True:
            at = np.array([asks[-1]])
            reached = 1 - float(offers.odds_above(at)[0]) + float(offers.density(at)[0]) * (asks[-1] - after)
            if len(asks) == rounds or reached >= 1 - 1e-12:
                return asks, reached + (rounds - len(asks))
            asks, after = [*asks, offers.quantile(max(reached, 1e-12))], asks[-1]

    top, bottom = offers.quantile(1 - 1e-9), max(offers.quantile(1e-9), left)
    if left >= top:
        return [left] * rounds
    last = falling_root(lambda price: 1 - backwards(price)[1], bottom, top, 1e-11 * top)
    asks, _ = backwards(last)
    return [*[asks[-1]] * (rounds - len(asks)), *reversed(asks)]
