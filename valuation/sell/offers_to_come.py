"""What buyers would pay at most, as a distribution: all that auctions and falling asks need to know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from valuation.regression.distribution import FloatArray, PriceDistribution


class Offers(Protocol):
    """What one buyer would pay at most, money."""

    def odds_above(self, price: FloatArray) -> FloatArray:
        """Probability of more than ``price``, same shape."""

    def density(self, price: FloatArray) -> FloatArray:
        """Probability per unit of money at ``price``, same shape."""

    def quantile(self, probability: float) -> float:
        """What is not exceeded with that probability."""


@dataclass(frozen=True, slots=True)
class PricedOffers:
    """Offers that follow a price distribution of length one."""

    prices: PriceDistribution

    def odds_above(self, price: FloatArray) -> FloatArray:
        """Probability of more than ``price``, same shape."""
        return self.prices.odds_above(price)

    def density(self, price: FloatArray) -> FloatArray:
        """Probability per unit of money at ``price``, same shape."""
        return self.prices.density(price)

    def quantile(self, probability: float) -> float:
        """What is not exceeded with that probability."""
        return float(self.prices.quantile(probability)[0])
