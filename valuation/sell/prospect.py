"""The prospect of a sale: what is believed of the worth, how buyers come, and what waiting and the way out cost."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta

from valuation.build.interest import weekly_force
from valuation.build.plan import ShopSettings
from valuation.build.terms import USUAL_INTEREST, SaleTerms
from valuation.notes import Note
from valuation.sell.auction import second_highest
from valuation.sell.buyers import Belief, Buyers
from valuation.sell.waiting import LONGEST, Sale, as_usual
from valuation.text.language import ENGLISH, say_count, spoken
from valuation.year import DAYS_PER_WEEK, WEEKS_PER_YEAR

LEAST_WEEKS = 1.0
"""A sale takes a week at least: what is entered below counts as that."""

LEAST_OFFERS = 1.25
"""Offers that a sale takes at least, on average: one buyer in five says no to any price worth taking."""

HIDDEN = 0.5
"""Share of the scatter of sales, as a standard deviation, that is the vehicle's own quality: what every buyer sees and
the table does not. The rest is the luck of one sale, and an offer cannot tell more of the worth than that leaves.
Common practice, no source; see benchmarks/talks/README.md."""

LEAST_DOUBT = 0.02
"""Of the worth, log units: no estimate knows a vehicle better than by 2 %."""


@dataclass(frozen=True, slots=True)
class Prospect:
    """All that an answer to an offer rests on.

    Attributes
    ----------
    worth : float
        The middle of what is believed of the worth before any offer, money.
    sale : Sale
        How it is to be sold, in logs and shares of the worth.
    for_sale : date
        When the listing begins.
    deadline : date or None
    """

    worth: float
    sale: Sale
    for_sale: date
    deadline: date | None

    @property
    def belief(self) -> Belief:
        """What is believed of the log of the worth before any offer."""
        return Belief(math.log(self.worth), self.sale.doubt)

    @property
    def last_day(self) -> date:
        """The deadline, or the day on which it goes the way out."""
        return self.for_sale + timedelta(days=math.floor(self.sale.weeks * DAYS_PER_WEEK))

    def weeks_on(self, day: date) -> float:
        """Weeks from the listing until a day, 0 before it."""
        return max((day - self.for_sale).days / DAYS_PER_WEEK, 0.0)

    def begun(self, day: date) -> Prospect:
        """The same with a listing that began earlier."""
        if day >= self.for_sale:
            return self
        weeks = _weeks(self.sale.buyers.usual_weeks, day, self.deadline)
        return replace(self, for_sale=day, sale=replace(self.sale, weeks=weeks))


def prospect(
    worth: float, unknown: float, scatter: float, terms: SaleTerms, shop: ShopSettings, for_sale: date
) -> tuple[Prospect, tuple[Note, ...]]:
    """What is believed of a vehicle's worth and how it will sell, from its estimate and the terms of the sale.

    Parameters
    ----------
    worth : float
        The estimate: median price on the expected day of sale, money.
    unknown : float
        Standard deviation of what is not known of the log of the median.
    scatter : float
        Standard deviation of the log price of one sale around it: hidden quality and the luck of one sale, by which
        offers scatter at least.
    terms : SaleTerms
    shop : ShopSettings
        What a week of holding costs, and what money does, as when building.
    for_sale : date
        Day of the listing.

    Notes
    -----
    The usual seller (see ``as_usual``) fixes where offers centre and what waiting costs; what the shop says of itself
    comes on top: its reach, its holding cost, what money costs it where that is other than usual, and its deadline.
    """
    notes = []
    weeks = max(terms.weeks_to_sell.mean(), LEAST_WEEKS)
    if terms.offers_per_week * weeks < LEAST_OFFERS:
        longer = LEAST_OFFERS / terms.offers_per_week
        text = (
            f"{terms.offers_per_month:g} offers a month and a sale within {weeks:.0f} weeks contradict each other: "
            f"with so few buyers a sale takes about {in_words(longer)}, and that is used. Look at offers_per_month and "
            "weeks_to_sell under [sale]."
        )
        notes.append(Note("offers_contradict_weeks", text))
        weeks = longer
    luck = math.sqrt(1 - HIDDEN**2) * scatter
    entered = math.log1p(terms.offer_spread_percent / 100)
    if luck > entered:
        text = (
            f"The table's sales scatter by {100 * math.expm1(luck):.0f} % through luck, so offers are taken to scatter "
            f"by as much, not by the {terms.offer_spread_percent:g} % entered."
        )
        notes.append(Note("offers_scatter_like_sales", text))
    offers = Buyers(terms.offers_per_week, max(entered, luck), weeks)
    doubt = max(math.hypot(unknown, HIDDEN * scatter), LEAST_DOUBT)
    auction = second_highest(terms.auction_bidders) * offers.spread + math.log(terms.auction_kept / terms.kept)
    usual = as_usual(offers, doubt, auction)
    dearer = weekly_force(shop.interest_percent) - weekly_force(USUAL_INTEREST)
    cost = usual.weekly_cost + dearer + shop.holding_per_week / (terms.kept * worth)
    last = 0.0 if terms.deadline is None else (terms.last_resort or 0.0) / worth
    end = math.log(max(last, math.exp(usual.way_out)))
    buyers = replace(usual.buyers, per_week=offers.per_week * terms.reach_percent / 100)
    own = replace(
        usual, buyers=buyers, weekly_cost=max(cost, 0.0), weeks=_weeks(weeks, for_sale, terms.deadline), end=end
    )
    return Prospect(worth, own, for_sale, terms.deadline), tuple(notes)


def in_words(weeks: float) -> str:
    """So many weeks as people say them, in English.

    Examples
    --------
    >>> in_words(0.6), in_words(5.8), in_words(21.0), in_words(400.0)
    ('1 week', '6 weeks', '5 months', '8 years')
    """
    with spoken(ENGLISH):
        return time_said(weeks)


def time_said(weeks: float) -> str:
    """The same in the language of the answer, as a part of a sentence that is said in it."""
    months = weeks * 12 / WEEKS_PER_YEAR
    if weeks < 10.5:
        return say_count("{n} week", "{n} weeks", max(round(weeks), 1))
    if months < 20.5:
        return say_count("{n} month", "{n} months", round(months))
    return say_count("{n} year", "{n} years", round(months / 12))


def _weeks(usual: float, for_sale: date, deadline: date | None) -> float:
    """Weeks until the deadline, or until the way out where that comes first."""
    longest = LONGEST * usual
    return longest if deadline is None else min(max((deadline - for_sale).days / DAYS_PER_WEEK, 0.0), longest)
