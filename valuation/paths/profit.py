"""The profit of a deal as a distribution.

Scenarios say what a build costs and how long it takes; the price is not drawn but kept as its distribution in closed
form. Each figure is an average, over the scenarios, of exact answers, so the simulation's error comes from the build
alone and is nil when the build is certain.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from valuation.build.simulation import shift_error
from valuation.build.terms import Goal, Purchase
from valuation.paths.root import falling_root
from valuation.regression.distribution import FloatArray, PriceDistribution


@dataclass(frozen=True, slots=True)
class Simulated:
    """A simulated figure and its standard error, in the same unit."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class Deal:
    """Everything that decides the profit of one path.

    Parameters
    ----------
    prices : PriceDistribution, length a
        Buyer-pays price for each state in which the vehicle may be sold.
    weights : ndarray, shape (s, a)
        Probability of each state in each scenario; rows sum to 1.
    kept : float
        Share of the price that stays with the seller.
    spent : ndarray, shape (s,)
        Outlay beside the vehicle itself, money.
    carry : ndarray, shape (s,)
        Outlay for each unit of money paid for the vehicle: 1 and the interest on it.
    purchase : Purchase
        What buying costs beside the price.
    shifts : int
        Independent parts into which the scenarios fall, for the error of the figures.
    """

    prices: PriceDistribution
    weights: FloatArray
    kept: float
    spent: FloatArray
    carry: FloatArray
    purchase: Purchase
    shifts: int

    def outlay(self, price: float) -> FloatArray:
        """All money put in when the vehicle is bought at ``price``, shape (s,)."""
        return self.spent + self.carry * self.purchase.paid(price)

    def odds_sold_below(self, threshold: FloatArray) -> FloatArray:
        """Probability that the sale brings at most ``threshold``, scenario by scenario, shape (s,)."""
        return np.asarray((self.weights * self.prices.cdf(threshold[:, None])).sum(axis=1))

    def expected_proceeds(self) -> FloatArray:
        """Expected money to the seller after fees and tax in percent, shape (s,)."""
        return self.kept * (self.weights @ self.prices.mean())

    def expected_profit(self, price: float) -> Simulated:
        """Expected profit when bought at ``price``."""
        return self._mean(self.expected_proceeds() - self.outlay(price))

    def odds_below(self, profit: float, price: float) -> Simulated:
        """Probability of a profit of at most ``profit`` when bought at ``price``.

        Parameters
        ----------
        profit : float
            Money.
        price : float
            Purchase price, money; ``None`` where it is not known.
        """
        return self._mean(self.odds_sold_below((self.outlay(price) + profit) / self.kept))

    def odds_of_loss(self, price: float) -> Simulated:
        """Probability of getting back less than was put in."""
        return self.odds_below(0.0, price)

    def odds_of_goal(self, goal: Goal, paid: float) -> Simulated:
        """Probability that the proceeds are what the goal wants, when ``paid`` is due for the vehicle in all.

        Parameters
        ----------
        goal : Goal
        paid : float
            Money.
        """
        missed = self._mean(self._odds_goal_is_missed(goal, paid))
        return Simulated(1 - missed.value, missed.error)

    def mean_odds_of_goal(self, goal: Goal, paid: float) -> float:
        """``odds_of_goal`` without its error, for a search that asks many times.

        Parameters
        ----------
        goal : Goal
        paid : float
            Money.
        """
        return 1 - float(self._odds_goal_is_missed(goal, paid).mean())

    def _odds_goal_is_missed(self, goal: Goal, paid: float) -> FloatArray:
        wanted = goal.multiple_of_outlay * (self.spent + self.carry * paid) + goal.profit
        return self.odds_sold_below(wanted / self.kept)

    def profit_quantile(self, probability: float, price: float) -> Simulated:
        """Profit that is not exceeded with the given probability.

        Parameters
        ----------
        probability : float
            Strictly between 0 and 1.
        price : float
            Purchase price, money; ``None`` where it is not known.
        """
        low, high = (self.kept * float(end) for end in self._price_range())
        outlay = self.outlay(price)
        middle = float(outlay.mean())

        def short_of(profit: float) -> float:
            return probability - float(self.odds_sold_below((outlay + profit) / self.kept).mean())

        scale = max(high - low, 1.0)
        root = falling_root(short_of, low - middle, high - middle, 1e-6 * scale)
        return Simulated(root, self._root_error(self.odds_below(root, price), short_of, root, scale))

    def price_quantile(self, probability: float) -> float:
        """Sale price that is not exceeded with the given probability, over all states."""
        shares = self.weights.mean(axis=0)
        low, high = self._price_range()

        def short_of(price: float) -> float:
            return probability - float(shares @ self.prices.cdf(price))

        return falling_root(short_of, float(low), float(high), 1e-9 * float(high))

    def expected_price(self) -> float:
        """Expected buyer-pays price over all states."""
        return float(self.weights.mean(axis=0) @ self.prices.mean())

    def _price_range(self) -> tuple[float, float]:
        low, high = self.prices.interval(0.98)
        return float(low.min()), float(high.max())

    def _mean(self, values: FloatArray) -> Simulated:
        by_shift = values.reshape(self.shifts, -1).mean(axis=1)
        return Simulated(float(by_shift.mean()), shift_error(by_shift))

    @staticmethod
    def _root_error(odds: Simulated, function: Callable[[float], float], root: float, scale: float) -> float:
        """Error of a root: the error of the odds there over their slope."""
        if odds.error == 0:
            return 0.0
        step = 1e-3 * scale
        slope = (function(root - step) - function(root + step)) / (2 * step)
        return odds.error / slope if slope > 0 else float("inf")
