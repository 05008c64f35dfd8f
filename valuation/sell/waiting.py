"""The value of waiting: at what price to stop, when offers come one by one (search theory).

An offer in hand is worth taking when it is at least what waiting for the next is worth: the reservation price.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from valuation.errors import PlanError
from valuation.paths.root import falling_root
from valuation.regression.distribution import PriceDistribution
from valuation.year import WEEKS_PER_YEAR

STEPS_PER_WEEK = 4
MOST_STEPS = 600


class Offers(Protocol):
    """Offers as a distribution; all money is what the buyer pays."""

    def mean(self) -> float:
        """Expected offer."""

    def odds_above(self, price: float) -> float:
        """Probability that an offer is above ``price``."""

    def expected_above(self, price: float) -> float:
        """E[max(offer - price, 0)]."""

    def quantile(self, probability: float) -> float:
        """Offer that is not exceeded with that probability."""


@dataclass(frozen=True, slots=True)
class PricedOffers:
    """Offers that follow a price distribution of length one."""

    prices: PriceDistribution

    def mean(self) -> float:
        """Expected offer."""
        return float(self.prices.mean()[0])

    def odds_above(self, price: float) -> float:
        """Probability that an offer is above ``price``."""
        return float(self.prices.odds_above(price)[0])

    def expected_above(self, price: float) -> float:
        """E[max(offer - price, 0)]."""
        return float(self.prices.expected_above(price)[0])

    def quantile(self, probability: float) -> float:
        """Offer that is not exceeded with that probability."""
        return float(self.prices.quantile(probability)[0])

    def times(self, factor: float) -> PricedOffers:
        """Offers of ``factor`` times as much; > 0."""
        return PricedOffers(self.prices.shifted(factor))


def reservation_price(offers: Offers, cost_per_offer: float, discount: float = 1.0, kept: float = 1.0) -> float:
    """The price at which taking an offer and waiting for the next are worth the same.

    Parameters
    ----------
    offers : Offers
    cost_per_offer : float
        Money that waiting for one more offer costs; below 0 where waiting earns.
    discount : float
        What money at the next offer is worth now, in (0, 1].
    kept : float
        Share of the price that stays with the seller, in (0, 1].

    Returns
    -------
    float
        Money that the buyer pays.

    Raises
    ------
    PlanError
        Waiting costs nothing, so that no price would ever be taken.

    Notes
    -----
    Solves r = discount (r + E[max(X - r, 0)]) - cost / kept; without discounting E[max(X - r, 0)] = cost / kept.
    McCall (1970), Economics of information and job search, Quarterly Journal of Economics 84(1).
    """
    if discount >= 1 and cost_per_offer <= 0:
        raise PlanError(
            "Waiting for an offer costs nothing, so no price would ever be taken: found no holding cost and no "
            "discount. Set holding_per_week under [shop] or discount_percent under [sale]."
        )

    def gain_from_waiting(price: float) -> float:
        return discount * (price + offers.expected_above(price)) - cost_per_offer / kept - price

    middle = offers.mean()
    return falling_root(gain_from_waiting, 0.5 * middle, 1.5 * middle, 1e-11 * max(abs(middle), 1e-9))


def reservation_by_week(
    offers: Offers,
    *,
    per_week: float,
    holding: float,
    yearly_discount: float,
    weeks: float,
    last: float,
    kept: float = 1.0,
) -> list[tuple[float, float]]:
    """The reservation price as a deadline comes near, offers coming at random (Poisson).

    Parameters
    ----------
    offers : Offers
    per_week : float
        Expected offers per week, > 0.
    holding : float
        Money per week.
    yearly_discount : float
        Percent a year.
    weeks : float
        Until the deadline, >= 0.
    last : float
        What the buyer pays on the deadline if no offer was taken.
    kept : float
        Share of the price that stays with the seller.

    Returns
    -------
    list of (float, float)
        Weeks left, from 0 up to ``weeks``, and the reservation price then.

    Notes
    -----
    With t weeks left, dr/dt = per_week E[max(X - r, 0)] - holding / kept - rho r, integrated by the classical
    Runge-Kutta rule.
    """
    rho = math.log1p(yearly_discount / 100) / WEEKS_PER_YEAR

    def slope(price: float) -> float:
        return per_week * offers.expected_above(price) - holding / kept - rho * price

    count = min(max(math.ceil(weeks * STEPS_PER_WEEK), 1), max(MOST_STEPS, math.ceil(weeks)))
    step, price, path = weeks / count, last, [(0.0, last)]
    for i in range(count):
        a = slope(price)
        b = slope(price + step * a / 2)
        c = slope(price + step * b / 2)
        d = slope(price + step * c)
        price += step * (a + 2 * b + 2 * c + d) / 6
        path.append(((i + 1) * step, price))
    return path


def expected_wait(offers: Offers, per_week: float, price: float) -> float:
    """Expected weeks until an offer above ``price`` comes: 1 / (rate x odds).

    Parameters
    ----------
    offers : Offers
    per_week : float
        Serious offers a week, > 0.
    price : float
        Money.
    """
    odds = offers.odds_above(price)
    return 1 / (per_week * odds) if odds > 0 else math.inf


def odds_within(offers: Offers, per_week: float, price: float, weeks: float) -> float:
    """Probability that at least one offer above ``price`` comes within so many weeks.

    Parameters
    ----------
    offers : Offers
    per_week : float
        Serious offers a week, > 0.
    price : float
        Money.
    weeks : float
        From now.
    """
    return -math.expm1(-per_week * weeks * offers.odds_above(price))
