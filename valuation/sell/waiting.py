"""What it is worth to wait for the next buyer, when the worth itself is learned from the buyers who come.

Backwards from the last week over (week, buyers heard so far). Offers scatter by percentages, costs of waiting are
shares of the worth, and the belief is normal in logs: so the value of waiting is a share of the worth believed that
depends on the week and on how much was learned, not on the level, and every expectation has a closed form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from valuation.paths.root import falling_root
from valuation.regression.distribution import FloatArray
from valuation.regression.normal import ndtr
from valuation.sell.buyers import Buyers

LONGEST = 3.0
"""Usual times to sell after which a vehicle goes the way out. Common practice, no source."""

FINEST = 0.25
"""Offers to expect in one step of time at most: two in one step are then rare."""

LEAST_STEPS = 24
"""Of time, where few offers are expected."""
MOST_STEPS = 80
"""Of time, where many are: the work grows with them."""
MOST_DUE = 2.5
"""Buyers due in one step who are counted; only one is heard, so that more would add nothing but their own news. Over
what nine times the usual buyers come to where steps are as fine as ``FINEST``."""
MOST_BUYERS = 10
"""Buyers after whom one more changes the belief by as much as the last."""

_ROOT_TWO_PI = math.sqrt(2 * math.pi)


@dataclass(frozen=True, slots=True)
class Sale:
    """How a vehicle is to be sold.

    Parameters
    ----------
    buyers : Buyers
    doubt : float
        Standard deviation of the log worth before any offer; > 0.
    weekly_cost : float
        Cost of a week's waiting, as a share of the worth; >= 0.
    way_out : float
        Log of the share of the worth that the way out brings, which is open at any time.
    weeks : float
        From the listing to the last day; >= 0.
    end : float
        Log of the share of the worth that it brings on the last day; at least ``way_out``.
    step : float
        Weeks of one step of time, at most one buyer in each; > 0.
    """

    buyers: Buyers
    doubt: float
    weekly_cost: float
    way_out: float
    weeks: float
    end: float
    step: float


@dataclass(frozen=True, slots=True)
class Waiting:
    """The answer of the backward recursion; arrays of shape (steps + 1, buyers + 1).

    Attributes
    ----------
    times : ndarray, shape (steps + 1,)
        Weeks since the listing.
    value : ndarray
        Log of the share of the worth believed that waiting is worth.
    price : ndarray
        Log of the share of the worth believed at which it is expected to sell.
    weeks : ndarray
        Expected until then.
    out : ndarray
        Probability that it goes the way out.
    """

    times: FloatArray
    value: FloatArray
    price: FloatArray
    weeks: FloatArray
    out: FloatArray

    def at(self, table: FloatArray, weeks: float, buyers: int = 0) -> float:
        """An entry of one of the arrays.

        Parameters
        ----------
        table : ndarray, shape (steps + 1, buyers + 1)
            ``value``, ``price``, ``weeks`` or ``out``.
        weeks : float
            Into the listing.
        buyers : int
            Heard so far.
        """
        return float(np.interp(weeks, self.times, table[:, min(buyers, table.shape[1] - 1)]))


def wait(sale: Sale) -> Waiting:
    """The value of waiting, the expected price and the expected weeks, by the best rule.

    Parameters
    ----------
    sale : Sale

    Notes
    -----
    Search without recall where the mean of the offers is not known and is learned from them: DeGroot (1970), Optimal
    Statistical Decisions, chapter 13; Rothschild (1974), Searching for the lowest price when the distribution of prices
    is unknown, Journal of Political Economy 82(4). An offer is taken if it is at least what waiting is worth after
    learning from it; since it moves the belief by less than itself, that is so from one offer on.
    """
    buyers, spread = sale.buyers, sale.buyers.spread
    steps = max(math.ceil(sale.weeks / sale.step - 1e-9), 1)
    times = np.linspace(0.0, sale.weeks, steps + 1)
    due = np.minimum(np.diff([buyers.expected(float(time)) for time in times]), MOST_DUE)
    so_far = np.concatenate([[0.0], np.cumsum(due[:-1])])
    news = np.array([buyers.news(float(one), sale.doubt) for one in so_far])[:, None]
    comes = -np.expm1(-due)[:, None]
    heard = np.arange(MOST_BUYERS + 1)
    after = np.minimum(heard + 1, MOST_BUYERS)
    variance = 1 / (1 / sale.doubt**2 + heard / spread**2)
    scatter = np.sqrt(variance + spread**2)
    moved = variance / scatter**2  # share of an offer's surprise by which it moves the belief
    centre = buyers.centre + news * variance
    lesson = moved * news * variance + moved * spread**2 * news * (1 - comes)  # from an offer at the centre
    drop = variance * news * comes  # from a step without one
    cost = sale.weekly_cost * sale.weeks / steps
    found = np.empty((steps + 1, 4, len(heard)))
    found[-1] = np.array([[sale.end], [sale.end], [0.0], [1.0]])
    out = np.array([[sale.way_out], [sale.way_out], [0.0], [1.0]])
    for i in reversed(range(steps)):
        later = found[i + 1]
        next_one = later[:, after]
        least = (next_one[0] + lesson[i] - centre[i]) / (scatter * (1 - moved))
        refused = ndtr(least)
        height = scatter * np.exp(-(least**2) / 2) / _ROOT_TWO_PI
        offered = centre[i] * (1 - refused) + height + lesson[i] * refused - moved * height
        now = comes[i] * (next_one * refused) + (1 - comes[i]) * later
        now[:2] += comes[i] * offered - (1 - comes[i]) * drop[i]
        now[0] -= cost
        now[2] += times[1]
        found[i] = np.where(now[0] < sale.way_out, out, now)
    return Waiting(times, *np.moveaxis(found, 1, 0))


def as_usual(buyers: Buyers, doubt: float, way_out: float) -> Sale:
    """The usual seller, whose expected price is the estimate and whose expected time is the usual one.

    Two conditions for two unknowns: where offers centre, and what a week of waiting costs those who sell at the usual
    pace (their money, room and patience). The second alone moves the time; the first then moves the price.

    Parameters
    ----------
    buyers : Buyers
        Its ``centre`` is replaced.
    doubt : float
        Standard deviation of the log worth.
    way_out : float
        Log of what the way out brings, over the centre of offers.
    """
    weeks = LONGEST * buyers.usual_weeks
    steps = min(max(math.ceil(buyers.expected(weeks) / FINEST), LEAST_STEPS), MOST_STEPS)
    plain = Sale(replace(buyers, centre=0.0), doubt, 0.0, way_out, weeks, way_out, weeks / steps)

    def too_long(cost: float) -> float:
        return float(wait(replace(plain, weekly_cost=cost)).weeks[0, 0]) - buyers.usual_weeks

    cost = 0.0
    if too_long(0.0) > 0:
        high = buyers.spread / buyers.usual_weeks
        cost = falling_root(too_long, 0.0, high, 1e-5 * high)
    found = replace(plain, weekly_cost=cost)
    centre = -float(wait(found).price[0, 0])
    return replace(found, buyers=replace(buyers, centre=centre), way_out=way_out + centre, end=way_out + centre)
