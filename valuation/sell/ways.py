"""Where to sell: the private sale, auctions, the trade and consignment side by side, from one distribution."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from valuation.build.terms import SaleTerms
from valuation.regression.distribution import PriceDistribution
from valuation.regression.normal import ndtri
from valuation.sell.auction import Case, auction_reserve, auction_revenue
from valuation.sell.markdown import markdown_asks
from valuation.sell.offers_to_come import PricedOffers
from valuation.sell.prospect import Prospect
from valuation.sell.waiting import Waiting
from valuation.text.language import say
from valuation.year import DAYS_PER_WEEK

AUCTION_WEEKS = 4.0
"""From consigning a vehicle to being paid for it. Common practice, no source."""

CASES = 15
"""Equally likely worths that stand for the doubt about it."""
BAD_TENTH = float(ndtri(0.1))
"""Standard score that one in ten falls below."""
MOST_MARKDOWNS = 4
"""Asks in turn until the deadline. Common practice, no source."""
MOSTLY_UNSOLD = 0.9
"""Odds of no sale over which an auction with the best reserve is the private sale after it, not a way of its own."""


@dataclass(frozen=True, slots=True)
class WayToSell:
    """One way to sell.

    Attributes
    ----------
    name : str
    price : float
        What a buyer is expected to pay, money; at auction with a reserve, where it is sold.
    net : float
        Expected money to the shop after fees of the way, fixed costs and holding, whatever becomes of it there.
    bad_tenth : float
        Net that one sale in ten ends below.
    weeks : float or None
        Until the money is there; None: hardly within two years.
    reserve : float or None
        Hammer price under which it is not sold.
    odds_unsold : float
        Probability that it is not sold there.
    how : str
        What the figures rest on.
    """

    name: str
    price: float
    net: float
    bad_tenth: float
    weeks: float | None
    reserve: float | None
    odds_unsold: float
    how: str


@dataclass(frozen=True, slots=True)
class Markdown:
    """An ask from a day on, for a vehicle that must go."""

    from_day: date
    ask: float


def ways_to_sell(
    prospect: Prospect, waiting: Waiting, terms: SaleTerms, holding: float, weeks: float | None
) -> tuple[WayToSell, ...]:
    """The ways side by side, the most money first.

    Parameters
    ----------
    prospect : Prospect
    waiting : Waiting
        Its solution.
    terms : SaleTerms
    holding : float
        Money a week while it waits.
    weeks : float or None
        Expected for the private sale.
    """
    belief, buyers = prospect.belief, prospect.sale.buyers
    unlucky = math.exp(BAD_TENTH * belief.doubt)

    def money(kept: float, price: float, passed: float) -> float:
        return kept * price - terms.fixed - holding * passed

    lasts = float(waiting.weeks[0, 0])
    price = belief.worth * math.exp(float(waiting.price[0, 0]))
    scatter = math.hypot(belief.doubt, buyers.spread / 2)
    private = WayToSell(
        say("private sale"), price, money(terms.kept, price, lasts),
        money(terms.kept, price * math.exp(BAD_TENTH * scatter), lasts), weeks, None, float(waiting.out[0, 0]),
        f"{terms.offers_per_month:g} offers a month; unsold, it goes to auction without reserve",
    )  # fmt: skip
    fees = (
        f"{terms.auction_bidders} bidders, {terms.auction_fee_percent:g} % from the seller and "
        f"{terms.auction_premium_percent:g} % from the buyer"
    )
    out = belief.worth * math.exp(prospect.sale.way_out) * terms.kept / terms.auction_kept
    plain = WayToSell(
        say("auction without reserve"), out, money(terms.auction_kept, out, AUCTION_WEEKS),
        money(terms.auction_kept, out * unlucky, AUCTION_WEEKS), AUCTION_WEEKS, None, 0.0, fees,
    )  # fmt: skip
    under = 1 - terms.trade_under_percent / 100
    paid = belief.worth * under
    trade = WayToSell(
        say("to the trade"), paid, money(terms.kept, paid, 0.0), money(terms.kept, paid * unlucky, 0.0), 1.0, None, 0.0,
        f"{terms.trade_under_percent:g} % under the estimate, paid at once",
    )  # fmt: skip
    left = 1 - (terms.consignment_fee_percent + terms.tax_percent) / 100
    consigned = WayToSell(
        say("consignment"), price, money(left, price, lasts), money(left, price * math.exp(BAD_TENTH * scatter), lasts),
        weeks, None, 0.0, f"a dealer keeps {terms.consignment_fee_percent:g} % and takes as long",
    )  # fmt: skip
    reserved = _with_reserve(prospect, terms, holding, private, fees)
    if reserved is None or reserved.odds_unsold > MOSTLY_UNSOLD:
        plain = replace(plain, how=f"{fees}; a reserve that pays would leave it unsold more than 9 times in 10")
        found = [private, plain, trade, consigned]
    else:
        found = [private, plain, trade, consigned, reserved]
    return tuple(sorted(found, key=lambda way: -way.net))


def _with_reserve(
    prospect: Prospect, terms: SaleTerms, holding: float, private: WayToSell, fees: str
) -> WayToSell | None:
    """An auction with the best reserve; unsold, it goes to private sale afterwards. None if no bidder would meet it."""
    premium = 1 + terms.auction_premium_percent / 100
    hammer_kept, waited = terms.auction_kept * premium, terms.fixed + holding * AUCTION_WEEKS
    later = private.net - holding * AUCTION_WEEKS
    cases = _bidders(prospect, premium, max(later + waited, 0.0) / hammer_kept)
    if min(case.unsold for case in cases) >= max(case.top() for case in cases):
        return None
    reserve = auction_reserve(cases, terms.auction_bidders)
    unsold = [case.below(reserve) ** terms.auction_bidders for case in cases]
    odds = sum(case.odds * share for case, share in zip(cases, unsold, strict=True))
    kept = sum(case.odds * share * case.unsold for case, share in zip(cases, unsold, strict=True))
    brought = auction_revenue(cases, reserve, terms.auction_bidders)
    return WayToSell(
        say("auction with a reserve"), premium * brought / max(1 - odds, 1e-9), hammer_kept * (brought + kept) - waited,
        min(private.bad_tenth - holding * AUCTION_WEEKS, hammer_kept * reserve - waited),
        None if private.weeks is None else AUCTION_WEEKS + odds * private.weeks, reserve, odds,
        f"{fees}; unsold, it goes to private sale",
    )  # fmt: skip


def _bidders(prospect: Prospect, premium: float, unsold: float) -> list[Case]:
    """What a bidder would bid at most, by what the vehicle may be worth: the belief in equal parts.

    Parameters
    ----------
    prospect : Prospect
    premium : float
        What the buyer pays over the hammer price.
    unsold : float
        What it is worth unsold on average, money.
    """
    belief, buyers = prospect.belief, prospect.sale.buyers
    shifts = belief.doubt * ndtri((np.arange(CASES) + 0.5) / CASES)
    own = unsold * np.exp(shifts) / np.exp(shifts).mean()
    centres = belief.mean + shifts + buyers.centre - math.log(premium)
    return [
        Case(1 / CASES, PricedOffers(PriceDistribution.log_normal(centre, buyers.spread)), float(worth))
        for centre, worth in zip(centres, own, strict=True)
    ]


def markdown(prospect: Prospect, target: float, ask: float) -> tuple[Markdown, ...]:
    """When to ask less, for a vehicle that must be sold by a deadline; empty without one.

    Parameters
    ----------
    prospect : Prospect
    target, ask : float
        Price expected after talks and the first ask, money.
    """
    sale = prospect.sale
    if prospect.deadline is None or sale.weeks < 2 * MOST_MARKDOWNS:
        return ()
    rounds = int(min(MOST_MARKDOWNS, max(2 * sale.weeks // sale.buyers.usual_weeks, 2)))
    worth = PriceDistribution.log_normal(math.log(ask), sale.doubt)
    asks = markdown_asks(PricedOffers(worth), rounds, min(prospect.worth * math.exp(sale.end), target))
    length = sale.weeks / rounds * DAYS_PER_WEEK
    found = [Markdown(prospect.for_sale, ask)]
    for i, one in enumerate(asks):
        if one < found[-1].ask:
            found.append(Markdown(prospect.for_sale + timedelta(days=round(i * length)), one))
    return tuple(found)
