"""Offers as they come: what they say of the worth, and what to answer."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from valuation.build.figures import about, apart, at_least, money, odds_said
from valuation.build.terms import SaleTerms
from valuation.errors import OfferError, shown
from valuation.notes import Note
from valuation.regression.distribution import PriceDistribution
from valuation.sell.bands import NO_SOURCE, OWN_FIGURE, PriceBands
from valuation.sell.buyers import Belief, Heard, learned
from valuation.sell.prospect import Prospect
from valuation.sell.sentences import bids_so_far, next_buyers, offer_sentence
from valuation.sell.waiting import Waiting, wait
from valuation.text.language import on_day, say
from valuation.text.money import MOST_MONEY
from valuation.text.numbers import finite_number
from valuation.view import Said, View, Viewed, as_money

Answer = Literal["accept", "counter", "hold"]
TWO_THIRDS = 2 / 3
"""Talks meet about two thirds of the way up from this buyer's first offer: common practice, no source."""

LEAST_CHANCE = 0.1
"""A counter that fewer buyers would take than one in ten is not worth making."""

NO_OPENING = 0.01
"""An offer that 99 in 100 are above is not an opening to talk from."""

LEAST_GAIN = 0.005
"""Share of the price that a counter must gain on average to be worth saying."""

COUNTERS_TRIED = 80
"""Even steps from the lowest counter to the ask; in between the gain hardly changes."""


@dataclass(frozen=True, slots=True, repr=False)
class Offer(Said):
    """One offer; money that the buyer would pay.

    Parameters
    ----------
    amount : float
        > 0.
    date : date or None
    buyer, note : str
        Offers that name the same buyer are one buyer's.
    """

    amount: float
    date: dt.date | None = None
    buyer: str = ""
    note: str = ""

    def _said(self) -> str:
        return ", ".join(
            filter(None, [f"offer of {as_money(self.amount)}", self.buyer, str(self.date or ""), self.note])
        )

    def __post_init__(self) -> None:
        number = finite_number(self.amount)
        if number is None or not 0 < number <= MOST_MONEY:
            raise OfferError(
                f"An offer must be money above 0; found {shown(self.amount)}. Write a plain number of at most "
                f"{MOST_MONEY:,.0f}."
            )


@dataclass(frozen=True, slots=True)
class UsualMeeting:
    """Where talks meet by common practice: two thirds of the way from this buyer's first offer up to the ask."""

    price: float
    source: str = NO_SOURCE


@dataclass(frozen=True, slots=True, repr=False)
class OfferAnswer(Viewed):
    """What to answer to an offer, and why.

    Attributes
    ----------
    amount : float
    answer : {"accept", "counter", "hold"}
    counter : float or None
        What to ask of this buyer; never under the floor. None when the answer is to accept or to hold.
    hold_until : date or None
        Day on which to think again, when the answer is to hold: the floor has come down to the offer, or the time is
        up.
    sentence : str
        What to say now, and what to do if it is refused.
    why : str
        The reason in one line.
    profit : float or None
        Expected profit at this offer; None when the outlay is not known.
    odds_of_better : float
        Probability of an offer above this one within ``weeks``.
    weeks : float
        Until the deadline, or until the vehicle goes the way out.
    above_share_of_offers : float
        Share of expected offers that this one is above, 0 to 1.
    place : str
        The same in one sentence, and how this buyer moved.
    worth : float
        The middle of what is believed of the worth after this offer, money.
    floor : float
        On this day, after learning from this offer.
    value_of_answer, value_of_taking, value_of_waiting : float
        What the answer, taking it, and letting it go are worth on average; money that a buyer pays.
    usual_meeting : UsualMeeting
    so_far : tuple of Offer
        The sequence, this one last.
    notes : tuple of Note
    """

    amount: float
    answer: Answer
    counter: float | None
    hold_until: dt.date | None
    sentence: str
    why: str
    profit: float | None
    odds_of_better: float
    weeks: float
    above_share_of_offers: float
    place: str = field(init=False, default="")
    worth: float
    floor: float
    value_of_answer: float
    value_of_taking: float
    value_of_waiting: float
    usual_meeting: UsualMeeting
    so_far: tuple[Offer, ...]
    notes: tuple[Note, ...]

    def _view(self) -> View:
        return View(
            title=f"Answer to {as_money(self.amount)}",
            facts=(self.sentence,),
            header=("offer", "day", "buyer"),
            rows=[(as_money(one.amount), str(one.date or ""), one.buyer) for one in self.so_far],
            notes=self.notes,
        )

    def __post_init__(self) -> None:
        place = say("Of the offers to expect, {odds} would be lower.", odds=odds_said(self.above_share_of_offers))
        bids = bids_so_far(tuple(one.amount for one in by_buyer(self.so_far)[-1]))
        object.__setattr__(self, "place", f"{place} {bids}".rstrip())


def by_buyer(offers: Sequence[Offer]) -> list[list[Offer]]:
    """The bids of each buyer, oldest first; the buyer of the last offer last. Offers without a name stand alone."""
    found: dict[object, list[Offer]] = {}
    for i, offer in enumerate(offers):
        found.setdefault(offer.buyer.strip().casefold() or i, []).append(offer)
    last = offers[-1].buyer.strip().casefold() or len(offers) - 1
    return [*(bids for who, bids in found.items() if who != last), found[last]]


@dataclass(frozen=True, slots=True)
class Talks:
    """How things stand on the day of an offer.

    Attributes
    ----------
    prospect : Prospect
    waiting : Waiting
        Its solution.
    week : float
        Weeks into the listing.
    before, after : Belief
        What was believed of the worth without this buyer, and is believed now.
    """

    prospect: Prospect
    waiting: Waiting
    week: float
    before: Belief
    after: Belief

    def floor(self, weeks_on: float = 0.0) -> float:
        """What waiting is worth, so many weeks from now, by what is believed now; money."""
        value = self.waiting.at(self.waiting.value, self.week + weeks_on, self.after.buyers)
        return self.after.worth * math.exp(value)

    def expected(self, belief: Belief) -> PriceDistribution:
        """What the next buyer would pay."""
        buyers = self.prospect.sale.buyers
        return PriceDistribution.log_normal(belief.mean + buyers.centre, math.hypot(belief.doubt, buyers.spread))

    def buyers_within(self, weeks: float) -> float:
        """Buyers to expect within so many weeks from now."""
        buyers = self.prospect.sale.buyers
        return buyers.expected(self.week + weeks) - buyers.expected(self.week)


def talks_on(prospect: Prospect, offers: Sequence[Offer], today: dt.date | None) -> Talks:
    """What was learned from all offers, the last among them.

    Parameters
    ----------
    prospect : Prospect
    offers : sequence of Offer
        Oldest first; of several by one buyer the last counts.
    today : date or None
        None: the day of the listing.
    """
    days = [one.date for one in offers if one.date is not None]
    prospect = prospect.begun(min([prospect.for_sale, *days]))
    week = 0.0 if today is None else min(prospect.weeks_on(today), prospect.sale.weeks)
    heard = [
        Heard(bids[-1].amount, week if bids[0].date is None else prospect.weeks_on(bids[0].date))
        for bids in by_buyer(offers)
    ]
    buyers, prior = prospect.sale.buyers, prospect.belief
    before, after = (learned(prior, buyers, each, week) for each in (heard[:-1], heard))
    return Talks(prospect, wait(prospect.sale), week, before, after)


def answer_offer(
    bands: PriceBands,
    terms: SaleTerms,
    offer: Offer,
    *,
    earlier: tuple[Offer, ...] = (),
    asked: float | None = None,
    currency: str = "",
    today: dt.date | None = None,
) -> OfferAnswer:
    """Accept, counter or hold.

    Parameters
    ----------
    bands : PriceBands
        Of the vehicle for sale.
    terms : SaleTerms
        How it is sold.
    offer : Offer
    earlier : tuple of Offer
        Offers so far, oldest first.
    asked : float, optional
        The price that is asked; the bands' own unless given.
    currency : str
        Of the offer; empty: the table's.
    today : date, optional
        The offer's day unless given.

    Raises
    ------
    OfferError
        The offer is in another currency, or the ask is not an amount of money.

    Notes
    -----
    The offer b is judged after learning from it. Taking it is worth b, letting it go the floor r. A counter c is taken
    with probability P(X >= c) / P(X >= b), X being what such a buyer would pay; if not, the buyer leaves with
    ``walk_away_percent`` (worth r) or stands by the offer (worth the better of b and r). The counter is the best
    c >= r up to the ask that is taken at least one time in ten and gains at least half a percent of the price.
    """
    if currency and bands.currency and currency.casefold() != bands.currency.casefold():
        raise OfferError(
            f"The offer of {money(offer.amount)} is in {currency!r} and the estimate in {bands.currency!r}. Convert it "
            f"to {bands.currency} at today's rate and enter that."
        )
    as_told = about(bands.ask) if asked is None else money(asked)
    asked = bands.ask if asked is None else asked
    if not (math.isfinite(asked) and asked > 0):
        raise OfferError(f"The ask must be money above 0; found {asked!r}. Write the price that you ask.")
    so_far = (*earlier, offer)
    talks = talks_on(bands.prospect, so_far, today or offer.date)
    amount, floor = offer.amount, talks.floor()
    limit, expected = talks.expected(talks.after), talks.expected(talks.before)
    above = float(expected.cdf(amount)[0])
    alone = max(amount, floor)
    counter, value = None, alone
    if above >= NO_OPENING:
        counter, value = _best_counter(limit, 1 - terms.walk_away_percent / 100, amount, floor, max(asked, floor))
    if counter is None or value < alone * (1 + LEAST_GAIN):
        counter, value = None, alone
    answer: Answer = "counter" if counter is not None else "accept" if amount >= floor else "hold"
    weeks = max(talks.prospect.sale.weeks - talks.week, 0.0)
    until = _hold_until(talks, amount, weeks) if answer == "hold" else None
    better = -math.expm1(-talks.buyers_within(weeks) * float(limit.odds_above(amount)[0]))
    bids = by_buyer(so_far)[-1]
    return OfferAnswer(
        amount=amount,
        answer=answer,
        counter=counter,
        hold_until=until,
        sentence=_sentence(offer, counter, until, as_told, floor, limit),
        why=_why(amount, floor, counter, value),
        profit=None if bands.outlay is None else terms.kept * amount - bands.outlay,
        odds_of_better=better,
        weeks=weeks,
        above_share_of_offers=above,
        worth=talks.after.worth,
        floor=floor,
        value_of_answer=value,
        value_of_taking=amount,
        value_of_waiting=floor,
        usual_meeting=UsualMeeting(bids[0].amount + TWO_THIRDS * (asked - bids[0].amount)),
        so_far=so_far,
        notes=_notes(terms, talks, so_far, asked, floor),
    )


def _best_counter(
    limit: PriceDistribution, stands_by: float, amount: float, floor: float, ask: float
) -> tuple[float | None, float]:
    """The counter with the largest expected worth, rounded to a plain figure that keeps the floor, and that worth."""
    would_pay = float(limit.odds_above(amount)[0])
    refused = stands_by * max(amount, floor) + (1 - stands_by) * floor
    lowest = max(floor, amount)
    step = _plain_step(lowest)
    tries = {ask} if ask > amount else set()
    for i in range(COUNTERS_TRIED + 1):
        plain = math.ceil((lowest + (ask - lowest) * i / COUNTERS_TRIED) / step - 1e-9) * step
        if amount < plain <= ask:
            tries.add(plain)
    best, most = None, floor
    for counter in sorted(tries):
        chance = float(limit.odds_above(counter)[0]) / would_pay if would_pay > 0 else 0.0
        worth = chance * counter + (1 - chance) * refused
        if chance >= LEAST_CHANCE and (best is None or worth > most):
            best, most = counter, worth
    return best, most


def _plain_step(price: float) -> float:
    """A step people talk in: 1, 2 or 5 times a power of ten, at most half a percent of the price."""
    power = 10.0 ** math.floor(math.log10(max(price, 1e-6) * 0.005))
    return max(digit * power for digit in (1, 2, 5) if digit * power <= max(price, 1e-6) * 0.005 * (1 + 1e-12))


def _hold_until(talks: Talks, amount: float, weeks: float) -> dt.date:
    """When to think again about an offer that was let go: the floor is down to it, or the time is up."""
    start = talks.prospect.for_sale
    for week in range(1, math.floor(weeks) + 1):
        if talks.floor(week) <= amount:
            return start + dt.timedelta(days=round(7 * (talks.week + week)))
    return talks.prospect.last_day


def _sentence(
    offer: Offer, counter: float | None, until: dt.date | None, ask: str, floor: float, limit: PriceDistribution
) -> str:
    """What to say now, and what to do if it is refused."""
    if counter is None and until is None:
        return offer_sentence(offer.buyer, offer.amount, say("take it"))
    if counter is not None:
        said = offer_sentence(offer.buyer, offer.amount, say("say {price}", price=money(counter)))
        if offer.amount >= floor:
            return f"{said} {say('If that is refused, take the {price}.', price=money(offer.amount))}"
        return f"{said} {say('If that is refused, wait: {hope}.', hope=_to_come(floor, limit))}"
    assert until is not None
    hold = say("hold at {price} until {day}", price=ask, day=on_day(until))
    said = offer_sentence(offer.buyer, offer.amount, hold)
    return f"{said} {say('If that is refused, let this buyer go: {hope}.', hope=_to_come(floor, limit))}"


def _to_come(floor: float, limit: PriceDistribution) -> str:
    """What may be hoped for of the buyers to come."""
    each = float(limit.odds_above(floor)[0])
    count = 1 if each >= 0.5 else math.ceil(math.log(0.5) / math.log1p(-min(max(each, 1e-9), 0.5)))
    if count > 9:
        return say("waiting is worth {floor}, with the auction at the end", floor=at_least(floor))
    return say("{floor} or more is likelier than not from {buyers}", floor=at_least(floor), buyers=next_buyers(count))


def _why(amount: float, floor: float, counter: float | None, value: float) -> str:
    if counter is not None:
        alone = say("taking the offer") if amount >= floor else say("waiting ({floor})", floor=at_least(floor))
        return say(
            "Asking for {price} is worth {more} more on average than {other}.",
            price=money(counter),
            more=about(value - max(amount, floor)),
            other=alone,
        )
    if amount >= floor:
        return say(
            "{price} is {more} above what waiting is worth after this offer ({floor}), and no counter gains half a "
            "percent.",
            price=money(amount),
            more=about(amount - floor),
            floor=at_least(floor),
        )
    return say(
        "{price} is {less} under what waiting is worth ({floor}).",
        price=money(amount),
        less=about(floor - amount),
        floor=at_least(floor),
    )


def _notes(terms: SaleTerms, talks: Talks, offers: tuple[Offer, ...], asked: float, floor: float) -> tuple[Note, ...]:
    amount = offers[-1].amount
    usual = terms.settle_under_ask_percent
    source = NO_SOURCE if usual == SaleTerms().settle_under_ask_percent else OWN_FIGURE
    custom = f"; talks usually end about {usual:.3g} % under it ({source})" if amount < asked else ""
    notes = [Note("against_the_ask", f"The offer is {apart(amount, asked, f'the ask of {money(asked)}')}{custom}.")]
    if asked < floor:
        text = (
            f"The ask of {money(asked)} is under the floor of {at_least(floor)}: raise it, or expect to sell for less."
        )
        notes.append(Note("ask_under_floor", text))
    estimate = talks.prospect.worth
    if abs(talks.after.mean - talks.prospect.belief.mean) > talks.prospect.sale.doubt:
        notes.append(
            Note(
                "offers_off_the_estimate",
                f"By the offers and the weeks so far the vehicle is worth about {about(talks.after.worth)}, "
                f"{apart(talks.after.worth, estimate, f'the estimate of {about(estimate)}')}: look again at its "
                "attributes, its listing and the table.",
            )
        )
    return tuple(notes)
