"""The most to pay: the largest purchase price at which the goal is still met, solved and proved."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from valuation.build.figures import money, percent
from valuation.build.terms import Goal
from valuation.paths.profit import Deal, Simulated
from valuation.paths.root import falling_root

CENT = 0.01
"""The smallest step of money; the most to pay is found to a thousandth of it."""


@dataclass(frozen=True, slots=True)
class MostToPay:
    """The largest purchase price at which a goal is met.

    Attributes
    ----------
    price : float
        Money, to the cent below. At or below 0: walk away, even a gift would not meet the goal.
    error : float
        Standard error of ``price`` from the simulation, money; 0 when the build is certain.
    walk_away : bool
        Whether the goal cannot be met at any price above 0.
    goal : Goal
    odds_at_price : float
        Probability that the goal is met at ``price``.
    odds_at_five_percent_more : float
        The same when 5 % more is paid (of the price, or of the outlay where the price is not above 0).
    margin_at_price_percent : float
        Expected proceeds over expected outlay at ``price``, less 1.
    proof : str
        One line that shows the goal just met at the price.
    """

    price: float
    error: float
    walk_away: bool = field(init=False, default=False)
    goal: Goal
    odds_at_price: float
    odds_at_five_percent_more: float
    margin_at_price_percent: float
    proof: str = field(init=False, default="")

    def __post_init__(self) -> None:
        object.__setattr__(self, "walk_away", self.price <= 0)
        object.__setattr__(self, "proof", self._proof())

    def _proof(self) -> str:
        if self.walk_away:
            return (
                f"Walk away: the goal is not met at any price above 0; it would take {money(-self.price)} from the "
                "seller on top of the vehicle."
            )
        if self.goal.sure_percent is None:
            return (
                f"At {money(self.price, cents=True)} the expected profit is {self.margin_at_price_percent:.1f} % of "
                "the expected outlay: the goal is just met."
            )
        return (
            f"At {money(self.price, cents=True)} the goal is met with {percent(self.odds_at_price, 1)} probability; at "
            f"5 % more with {percent(self.odds_at_five_percent_more, 1)}."
        )


def most_to_pay(deal: Deal, goal: Goal) -> MostToPay:
    """Solve for the largest purchase price at which the goal is met.

    On average the answer is closed: (E[proceeds] - profit - ratio E[spent]) / (ratio E[carry]) is due in all. With a
    probability it is the root of the falling function "odds of the goal at that price, less the odds wanted".

    Parameters
    ----------
    deal : Deal
    goal : Goal
    """
    paid = (
        _paid_on_average(deal, goal)
        if goal.sure_percent is None
        else _paid_so_sure(deal, goal, goal.sure_percent / 100)
    )
    # To the cent below, never above; the sliver keeps a whole cent that arithmetic put a hair under itself.
    price = math.floor(100 * deal.purchase.price_for(paid.value) + 1e-6) / 100
    return MostToPay(
        price=price,
        error=paid.error,
        goal=goal,
        odds_at_price=deal.mean_odds_of_goal(goal, deal.purchase.paid(price)),
        odds_at_five_percent_more=deal.mean_odds_of_goal(goal, _five_percent_more(deal, price)),
        margin_at_price_percent=_margin(deal, price),
    )


def most_to_pay_each(deal: Deal, goal: Goal) -> list[float]:
    """The most to pay for each of many vehicles that are sold as they stand, at the outlay that is expected.

    Without a build the outlay is all but certain, and taking its mean is a hundred times quicker than solving; what it
    leaves out, how long the sale takes, moves the limit by some thousandths at most.

    Parameters
    ----------
    deal : Deal
        With the price of each vehicle in place of those of one vehicle's states.
    goal : Goal
    """
    sure = goal.sure_percent
    prices = deal.prices.mean() if sure is None else deal.prices.quantile(1 - sure / 100)
    spent, carry = float(deal.spent.mean()), float(deal.carry.mean())
    due = ((deal.kept * prices - goal.profit) / goal.multiple_of_outlay - spent) / carry
    return [deal.purchase.price_for(float(one)) for one in due]


def _five_percent_more(deal: Deal, price: float) -> float:
    if price > 0:
        return deal.purchase.paid(1.05 * price)
    return deal.purchase.paid(price) + 0.05 * abs(float(deal.outlay(price).mean()))


def _margin(deal: Deal, price: float) -> float:
    outlay = float(deal.outlay(price).mean())
    return 100 * (float(deal.expected_proceeds().mean()) / outlay - 1) if outlay > 0 else math.inf


def _paid_on_average(deal: Deal, goal: Goal) -> Simulated:
    """Closed form, scenario block by scenario block for its error."""

    def solve(proceeds: float, spent: float, carry: float) -> float:
        return (proceeds - goal.profit - goal.multiple_of_outlay * spent) / (goal.multiple_of_outlay * carry)

    columns = (deal.expected_proceeds(), deal.spent, deal.carry)
    by_shift = np.array(
        [solve(*parts) for parts in zip(*(c.reshape(deal.shifts, -1).mean(axis=1) for c in columns), strict=True)]
    )
    means = [float(column.mean()) for column in columns]
    return Simulated(solve(*means), float(by_shift.std(ddof=1) / math.sqrt(deal.shifts)))


def _paid_so_sure(deal: Deal, goal: Goal, wanted: float) -> Simulated:
    spent, carry = float(deal.spent.mean()), float(deal.carry.mean())

    def paid_if_sold_at(price: float) -> float:
        return ((deal.kept * price - goal.profit) / goal.multiple_of_outlay - spent) / carry

    def surplus(paid: float) -> float:
        return deal.mean_odds_of_goal(goal, paid) - wanted

    around = deal.prices.quantile(1 - wanted)  # one for each state; the answer lies near or between them
    low, high = (paid_if_sold_at(price) for price in (0.97 * float(around.min()), 1.03 * float(around.max())))
    root = falling_root(surplus, low, high, CENT / 1000)
    error = deal.odds_of_goal(goal, root).error
    if error:
        step = max((high - low) / 10, 1.0)
        slope = (surplus(root - step) - surplus(root + step)) / (2 * step)
        error = error / slope if slope > 0 else math.inf
    return Simulated(root, error)
