"""The terms of a deal: what buying and selling cost, the show that may be made, and what the shop wants of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from valuation.build.bounds import within
from valuation.build.figures import listed
from valuation.build.three_point import ThreePoint
from valuation.errors import PlanError
from valuation.text.language import say
from valuation.year import WEEKS_PER_MONTH

USUAL_WEEKS_TO_SELL = ThreePoint(2.0, 6.0, 16.0)
"""Low, likely and high where a plan says nothing. Common practice, no source."""
USUAL_INTEREST = 8.0
"""Percent a year that money costs a shop: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Purchase:
    """What buying costs beside the price.

    Parameters
    ----------
    asked : float or None
        Price that the owner asks; None when not known.
    fee_percent, fee_minimum : float
        Buyer's fee in percent of the price, and the least that it comes to.
    fees : float
        Fixed fees, money.
    tax_percent : float
        Tax on the price that the shop cannot reclaim, percent.
    transport : float
        Bringing it home, money.
    stands_at : float or None
        What a vehicle in the shop would bring as it stands, money; None for one that is still to be bought.
    """

    asked: float | None = None
    fee_percent: float = 0.0
    fee_minimum: float = 0.0
    fees: float = 0.0
    tax_percent: float = 0.0
    transport: float = 0.0
    stands_at: float | None = None

    def __post_init__(self) -> None:
        within("purchase", self)

    @property
    def stake(self) -> float:
        """Money that a decision ties up: the price, or what the vehicle would bring today; never what was spent."""
        return (self.asked or 0.0) if self.stands_at is None else self.stands_at

    @property
    def fixed(self) -> float:
        """Money due whatever the price."""
        return self.fees + self.transport

    def paid(self, price: float) -> float:
        """Price with the fee and tax that depend on it; a price below 0 bears neither."""
        if price <= 0:
            return price
        fee = max(self.fee_percent / 100 * price, self.fee_minimum)
        return price * (1 + self.tax_percent / 100) + fee

    def price_for(self, paid: float) -> float:
        """The price at which ``paid`` is due in all: the inverse of ``paid``.

        A sum that does not cover more than the least fee leaves 0 for the owner; a sum below 0 bears no fee.
        """
        if paid <= self.fee_minimum:
            return min(paid, 0.0)
        tax = self.tax_percent / 100
        with_least_fee = (paid - self.fee_minimum) / (1 + tax)
        with_percent_fee = paid / (1 + tax + self.fee_percent / 100)
        return min(with_least_fee, with_percent_fee)


@dataclass(frozen=True, slots=True)
class Event:
    """A show that the build may make, and the chances of an award there.

    Parameters
    ----------
    name : str
    date : date
        Day by which the build must be finished.
    entry_cost : float
        Money, due whether or not the date is met.
    chances : mapping of str to mapping of str to float
        For each condition level, the chance (0 to 1) of each award; what is left is the chance of none.
    condition, award : str
        Names of the two attributes in the schema.
    """

    name: str
    date: date
    entry_cost: float = 0.0
    chances: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    condition: str = "condition"
    award: str = "awards"

    def __post_init__(self) -> None:
        within("event", self)
        for level, chances in self.chances.items():
            total = sum(chances.values())
            if any(not chance >= 0 for chance in chances.values()) or not total <= 1 + 1e-9:
                raise PlanError(
                    f"The chances of an award at condition '{level}' must be 0 or more and sum to at most 1; found "
                    f"{dict(chances)!r}, sum {total:g}. Write 0.3 for three in ten."
                )


@dataclass(frozen=True, slots=True)
class BuyersWish:
    """A buyer who would pay more for one attribute. It moves target and ask, never the evidence.

    Parameters
    ----------
    attribute, level : str
        What is wished for.
    premium_percent : float
        How much more that buyer would pay, percent; above -100.
    sure_percent : float
        How sure it is that such a buyer comes, 0 to 100.
    """

    attribute: str
    level: str
    premium_percent: float
    sure_percent: float

    def __post_init__(self) -> None:
        within("wish", self)


@dataclass(frozen=True, slots=True)
class SaleTerms:
    """How the vehicle is sold.

    Parameters
    ----------
    venue : str
    fee_percent : float
        Seller's fee, percent of the buyer-pays price, below 100 together with ``tax_percent``.
    fees, transport : float
        Fixed costs of selling, money; part of the outlay.
    tax_percent : float
        Tax that the seller must pass on, percent of the buyer-pays price.
    offers_per_month : float
        Serious offers to expect, > 0.
    weeks_to_sell : ThreePoint
        Weeks from being for sale to being paid. The default is common practice, no source.
    deadline : date or None
        Day by which it must be sold.
    last_resort : float or None
        What it still brings on the deadline without an offer, money; None, or less than that: an auction without
        reserve.
    offer_spread_percent : float
        How far offers for one vehicle scatter (one standard deviation), at least by the luck of sales in the table. The
        default is common practice, no source.
    walk_away_percent : float
        How often a buyer who gets a counter leaves instead of standing by the offer. The default is common practice,
        no source.
    settle_under_ask_percent : float
        How far under the opening ask talks usually end. The default is common practice, no source.
    reach_percent : float
        Buyers whom this sale reaches, percent of those that usually come (``offers_per_month``); > 0. More buyers than
        usual are said here and raise the floor; ``offers_per_month`` describes the usual sale, which brings the
        estimate.
    buyers_lost_percent : float
        Of buyers who are of two minds, how many an ask keeps away that is higher by a tenth. The default is common
        practice, no source.
    auction_fee_percent, auction_premium_percent : float
        Fees of seller and buyer at auction, percent of the hammer price. The defaults are common practice, no source.
    auction_bidders : int
        Bidders to expect, 2 or more. The default is common practice, no source.
    trade_under_percent : float
        How far under the estimate the trade pays. The default is common practice, no source.
    consignment_fee_percent : float
        What a dealer who sells it for the shop keeps. The default is common practice, no source.
    wish : BuyersWish or None
    """

    venue: str = ""
    fee_percent: float = 0.0
    fees: float = 0.0
    transport: float = 0.0
    tax_percent: float = 0.0
    offers_per_month: float = 2.0
    weeks_to_sell: ThreePoint = USUAL_WEEKS_TO_SELL
    deadline: date | None = None
    last_resort: float | None = None
    offer_spread_percent: float = 10.0
    walk_away_percent: float = 30.0
    settle_under_ask_percent: float = 15.0
    reach_percent: float = 100.0
    buyers_lost_percent: float = 25.0
    auction_fee_percent: float = 6.0
    auction_premium_percent: float = 10.0
    auction_bidders: int = 6
    trade_under_percent: float = 20.0
    consignment_fee_percent: float = 12.0
    wish: BuyersWish | None = None

    def __post_init__(self) -> None:
        within("sale", self)
        for name in ("fee_percent", "auction_fee_percent", "consignment_fee_percent"):
            fee = getattr(self, name)
            if fee + self.tax_percent >= 100:
                raise PlanError(
                    f"Fees and tax of the sale take the whole price; found {name} {fee:g} and tax_percent "
                    f"{self.tax_percent:g}, together they must stay below 100. Write 8 for 8 percent.",
                    where=name,
                )

    @property
    def kept(self) -> float:
        """Share of the buyer-pays price that stays with the seller."""
        return 1 - (self.fee_percent + self.tax_percent) / 100

    @property
    def auction_kept(self) -> float:
        """Share of what the buyer pays at auction that stays with the seller."""
        return (1 - (self.auction_fee_percent + self.tax_percent) / 100) / (1 + self.auction_premium_percent / 100)

    @property
    def fixed(self) -> float:
        """Fixed costs of selling, money."""
        return self.fees + self.transport

    @property
    def offers_per_week(self) -> float:
        """Serious offers per week."""
        return self.offers_per_month / WEEKS_PER_MONTH


@dataclass(frozen=True, slots=True)
class Goal:
    """What the shop wants of a deal: proceeds of at least a multiple of the outlay plus ``profit``, so sure.

    Proceeds are what the seller is paid after fees and tax in percent of the price.

    Parameters
    ----------
    margin_percent : float
        Wanted profit in percent of the outlay; above -100. A multiple of outlay of 2 is a margin of 100.
    profit : float
        Wanted profit in money on top; 0 or more.
    sure_percent : float or None
        With what probability, strictly between 0 and 100; None: on average.

    Attributes
    ----------
    multiple_of_outlay : float
        Proceeds wanted for each unit of outlay.
    words : str
        The goal as a person would say it.
    """

    margin_percent: float = 20.0
    multiple_of_outlay: float = field(init=False, default=0.0)
    profit: float = 0.0
    sure_percent: float | None = 75.0
    words: str = field(init=False, default="")

    def __post_init__(self) -> None:
        within("goal", self)
        object.__setattr__(self, "multiple_of_outlay", 1 + self.margin_percent / 100)
        object.__setattr__(self, "words", self._in_words())

    @classmethod
    def times_outlay(cls, multiple: float, sure_percent: float | None = 75.0) -> Goal:
        """The goal of getting ``multiple`` times the outlay back; > 0.

        Parameters
        ----------
        multiple : float
            > 0.
        sure_percent : float or None
            Probability in percent; on average unless given.
        """
        return cls(margin_percent=(multiple - 1) * 100, sure_percent=sure_percent)

    def _in_words(self) -> str:
        wanted = []
        if self.margin_percent != 0 or self.profit == 0:
            wanted.append(say("{percent} over outlay", percent=f"{self.margin_percent:g} %"))
        if self.profit:
            wanted.append(say("{amount} in money", amount=f"{self.profit:,.0f}"))
        what = listed(wanted)
        if self.sure_percent is None:
            return say("at least {what}, on average", what=what)
        return say("at least {what}, with {percent} probability", what=what, percent=f"{self.sure_percent:g} %")
