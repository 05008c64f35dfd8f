"""The bounds of every number and date of a plan: one place for the reader of plans, its messages and the service.

The bounds are wide enough for any shop and narrow enough that every question ends: without them one figure
(a thousand million people, a deadline in the year 9999) would keep the simulation busy for hours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Protocol

from valuation.errors import PlanError, shown
from valuation.year import DAYS_PER_YEAR

HORIZON_YEARS = 20
"""How far ahead of the question's day a plan may look, years: builds and sales of old vehicles end long before."""
HORIZON = timedelta(days=round(HORIZON_YEARS * DAYS_PER_YEAR))
MOST_STEPS = 200
"""Steps of one plan: the search for the best subset and the page that shows it stay usable."""
MOST_JOBS = 1_000
"""Past jobs that an overrun is learned from."""
MOST_MONEY = 1e12
"""Far above any price or cost, so that a slip of digits is noticed and sums stay exact to the cent."""


class Ends(Protocol):
    """A figure from low to high; both have to be accepted."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Bound:
    """What is accepted for one number.

    Parameters
    ----------
    unit : str
        In words, for messages and the service's schema.
    low, high : float
    above, below : bool
        Whether ``low`` and ``high`` themselves are left out.
    whole : bool
        Whether only whole numbers are accepted.
    mend : str
        What to write instead.
    """

    unit: str
    low: float = 0.0
    high: float = MOST_MONEY
    above: bool = False
    below: bool = False
    whole: bool = False
    mend: str = "Write a plain number."

    def holds(self, value: float) -> bool:
        """Whether a number is accepted."""
        over = value > self.low if self.above else value >= self.low
        return over and (value < self.high if self.below else value <= self.high)

    @property
    def words(self) -> str:
        """What is accepted, as a message says it."""
        low = f"above {self.low:,g}" if self.above else f"{self.low:,g} or more"
        high = f"{self.high:,.0f}"
        return f"{low} and {'below' if self.below else 'at most'} {high} ({self.unit})"


MONEY = Bound("money")
PERCENT = Bound("percent", high=100)
"""Of what is there: a share."""
YEARLY = Bound("percent a year", high=1_000)
"""Interest and growth may be over 100 percent; a thousand is taken for a slip."""
TAX = Bound("percent", high=1_000)
"""Some duties on imports are more than the price; a thousand percent is taken for a slip."""
WEEKLY = Bound("money per week")

BOUNDS: Mapping[str, Mapping[str, Bound]] = {
    "shop": {
        "labour_rate": Bound("money per hour"),
        "crew": Bound("people", low=1, high=100, whole=True),
        "hours_per_week": Bound(
            "hours", low=0.1, high=168, mend="Write the hours that one person gives to this vehicle in a week."
        ),
        "bays": Bound("bays", low=1, high=1_000, whole=True),
        "holding_per_week": WEEKLY,
        "overhead_per_week": WEEKLY,
        "interest_percent": YEARLY,
    },
    "overrun": {
        "typical": Bound("a factor", high=100, above=True, mend="Write 1 where builds cost what was planned."),
        "one_in_ten": Bound("a factor", high=100, above=True, mend="Write 1.35 for 35 percent more."),
    },
    "steps": {
        "cost": MONEY,
        "hours": Bound("hours", high=100_000),
        "parts_weeks": Bound("weeks", high=520),
        "people": Bound("people", high=100, whole=True, mend="Write how many work on it at once."),
    },
    "purchase": {
        "asked": MONEY,
        "fee_percent": PERCENT,
        "fee_minimum": MONEY,
        "fees": MONEY,
        "tax_percent": TAX,
        "transport": MONEY,
    },
    "event": {"entry_cost": MONEY},
    "sale": {
        "fee_percent": PERCENT,
        "fees": MONEY,
        "transport": MONEY,
        "tax_percent": TAX,
        "offers_per_month": Bound(
            "offers", low=0.01, high=1_000, mend="Without offers nothing can be sold: write how many serious offers "
            "you expect in a month, 0.5 for one in two months.",
        ),
        "weeks_to_sell": Bound("weeks", high=520),
        "last_resort": MONEY,
        "offer_spread_percent": Bound(
            "percent", low=0.1, high=100, mend="Write 10 when two buyers in three offer within 10 percent of the usual."
        ),
        "walk_away_percent": Bound(
            "percent", high=100, mend="Write 30 when three buyers in ten leave after a counter."
        ),
        "settle_under_ask_percent": Bound(
            "percent", high=100, below=True, mend="Write 15 when talks end 15 percent under the ask."
        ),
        "reach_percent": Bound(
            "percent", low=1, high=1_000, mend="Write 100 where as many buyers come as usual, 150 for half more.",
        ),
        "buyers_lost_percent": Bound(
            "percent", high=100, above=True, below=True,
            mend="Write 25 when an ask that is a tenth higher keeps one buyer in four away.",
        ),
        "auction_fee_percent": PERCENT,
        "auction_premium_percent": PERCENT,
        "auction_bidders": Bound("bidders", low=2, high=100, whole=True),
        "trade_under_percent": Bound("percent", high=100, below=True),
        "consignment_fee_percent": PERCENT,
    },
    "wish": {
        "premium_percent": Bound("percent", low=-100, high=1_000, above=True),
        "sure_percent": PERCENT,
    },
    "goal": {
        "margin_percent": Bound(
            "percent", low=-100, high=10_000, above=True, mend="Write 20 for a profit of 20 percent of the outlay."
        ),
        "profit": MONEY,
        "sure_percent": Bound(
            "percent", high=100, above=True, below=True,
            mend="No price is certain to meet a goal: write for example 75, or leave it out for 'on average'.",
        ),
    },
}  # fmt: skip
"""By table of the plan file and key. Figures that are given as low, likely and high keep to it each."""


def within(table: str, holder: object) -> None:
    """Refuse settings outside their bounds.

    Parameters
    ----------
    table : str
        A key of ``BOUNDS``.
    holder : object
        Has an attribute for each of that table's numbers; None is not looked at.

    Raises
    ------
    PlanError
        Naming the first that is outside, what was found, what is accepted and the mend.
    """
    for name, bound in BOUNDS[table].items():
        value: float | Ends | None = getattr(holder, name)
        if value is None:
            continue
        for figure in (value,) if isinstance(value, int | float) else (value.low, value.high):
            if not bound.holds(figure):
                raise PlanError(f"'{name}' must be {bound.words}; found {shown(figure)}. {bound.mend}", where=name)
