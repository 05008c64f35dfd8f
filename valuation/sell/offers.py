"""Offers as they come: their place, their profit, the odds of a better one, and what to answer."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import Literal

from valuation.build.figures import apart, money, odds_words, percent
from valuation.build.terms import SaleTerms
from valuation.errors import OfferError, shown
from valuation.notes import Note
from valuation.sell.bands import NO_SOURCE, PriceBands, expected_offers
from valuation.sell.waiting import PricedOffers, odds_within
from valuation.text.money import MOST_MONEY
from valuation.text.numbers import finite_number
from valuation.view import View, Viewed, as_money
from valuation.year import DAYS_PER_WEEK

Answer = Literal["accept", "counter", "hold"]
TWO_THIRDS = 2 / 3
"""Talks meet about two thirds of the way up from the first offer: common practice, no source."""

LEAST_CHANCE = 0.1
NO_OPENING = 0.01
COUNTERS_TRIED = 80


@dataclass(frozen=True, slots=True)
class Offer:
    """One offer; money that the buyer would pay.

    Parameters
    ----------
    amount : float
        > 0.
    date : date or None
    buyer, note : str
    """

    amount: float
    date: dt.date | None = None
    buyer: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        number = finite_number(self.amount)
        if number is None or not 0 < number <= MOST_MONEY:
            raise OfferError(
                f"An offer must be money above 0; found {shown(self.amount)}. Write a plain number of at most "
                f"{MOST_MONEY:,.0f}."
            )


@dataclass(frozen=True, slots=True)
class UsualMeeting:
    """Where talks meet by common practice: two thirds of the way from the first offer up to the ask."""

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
    why : str
        The reason in money.
    profit : float or None
        Expected profit at this offer; None when the outlay is not known.
    odds_of_better : float
        Probability of an offer above this one within ``weeks``.
    weeks : float
        Until the deadline, or the usual weeks to sell.
    above_share_of_offers : float
        Share of expected offers that this one is above, 0 to 1.
    place : str
        The same in one sentence.
    floor : float
        On this day.
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
    why: str
    profit: float | None
    odds_of_better: float
    weeks: float
    above_share_of_offers: float
    place: str = field(init=False, default="")
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
            facts=(self.why,),
            header=("offer", "day", "buyer"),
            rows=[(as_money(one.amount), str(one.date or ""), one.buyer) for one in self.so_far],
            notes=self.notes,
        )

    def __post_init__(self) -> None:
        place = f"Of the offers to expect, {odds_words(self.above_share_of_offers)} would be lower."
        object.__setattr__(self, "place", place)


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
        The offer is in another currency, or the ask is not an amount.

    Notes
    -----
    Taking the offer b is worth b, letting it go the floor r. A counter c is taken with probability
    P(X >= c) / P(X >= b), X being what such a buyer would pay; if not, the buyer leaves with ``walk_away_percent``
    (worth r) or stands by the offer (worth the better of b and r). The counter is the best c >= r up to the ask that is
    taken at least one time in ten. An offer that 99 in 100 are above is not an opening to talk from.
    """
    if currency and bands.currency and currency.casefold() != bands.currency.casefold():
        raise OfferError(
            f"The offer of {money(offer.amount)} is in {currency!r} and the estimate in {bands.currency!r}. Convert it "
            f"to {bands.currency} at today's rate and enter that."
        )
    asked = bands.ask if asked is None else asked
    today = today or offer.date
    deadline = terms.deadline
    if deadline is not None and today is not None:
        weeks = max((deadline - today).days / DAYS_PER_WEEK, 0.0)
        floor = bands.floor_at(weeks)
    else:
        weeks, floor = terms.weeks_to_sell.mean(), bands.floor
    if not (math.isfinite(asked) and asked > 0):
        raise OfferError(f"The ask must be money above 0; found {asked!r}. Write the price that you ask.")
    amount, offers = offer.amount, expected_offers(bands.estimate, terms)
    stands_by = 1 - terms.walk_away_percent / 100
    counter, value = _best_counter(offers, stands_by, amount, floor, max(asked, floor))
    if amount < offers.quantile(NO_OPENING):
        counter, value = None, floor
    better = odds_within(offers, terms.offers_per_week, amount, weeks)
    answer: Answer
    if amount >= floor and (counter is None or value <= amount):
        answer, counter, value = "accept", None, amount
    elif counter is not None and value > floor * (1 + 1e-9):
        answer = "counter"
    else:
        answer, counter, value = "hold", None, floor
    first = earlier[0].amount if earlier else amount
    return OfferAnswer(
        amount=amount,
        answer=answer,
        counter=counter,
        why=_why(answer, amount, floor, counter, value, better, weeks),
        profit=None if bands.outlay is None else terms.kept * amount - bands.outlay,
        odds_of_better=better,
        weeks=weeks,
        above_share_of_offers=1 - offers.odds_above(amount),
        floor=floor,
        value_of_answer=value,
        value_of_taking=amount,
        value_of_waiting=floor,
        usual_meeting=UsualMeeting(first + TWO_THIRDS * (asked - first)),
        so_far=(*earlier, offer),
        notes=_notes(terms, offers, (*earlier, offer), asked, floor),
    )


def _best_counter(
    offers: PricedOffers, stands_by: float, amount: float, floor: float, ask: float
) -> tuple[float | None, float]:
    """The counter with the largest expected worth, rounded to a plain figure that keeps the floor, and that worth."""
    would_pay = offers.odds_above(amount)
    refused = stands_by * max(amount, floor) + (1 - stands_by) * floor

    def worth(counter: float) -> float:
        chance = offers.odds_above(counter) / would_pay if would_pay > 0 else 0.0
        return chance * counter + (1 - chance) * refused

    lowest = max(floor, amount)
    step = _plain_step(lowest)
    tries = {ask} if ask > amount else set()
    for i in range(COUNTERS_TRIED + 1):
        plain = math.ceil((lowest + (ask - lowest) * i / COUNTERS_TRIED) / step - 1e-9) * step
        if amount < plain <= ask:
            tries.add(plain)
    reachable = [one for one in tries if would_pay > 0 and offers.odds_above(one) / would_pay >= LEAST_CHANCE]
    if not reachable:
        return None, floor
    best = max(sorted(reachable), key=worth)
    return best, worth(best)


def _plain_step(price: float) -> float:
    """A step people talk in: 1, 2 or 5 times a power of ten, at most half a percent of the price."""
    power = 10.0 ** math.floor(math.log10(max(price, 1e-6) * 0.005))
    return max(digit * power for digit in (1, 2, 5) if digit * power <= max(price, 1e-6) * 0.005 * (1 + 1e-12))


def _why(
    answer: Answer, amount: float, floor: float, counter: float | None, value: float, better: float, weeks: float
) -> str:
    odds = f"A better offer within {weeks:.0f} weeks has odds of {percent(better)}."
    if answer == "accept":
        return (
            f"Accept: {money(amount)} is {money(amount - floor)} above what waiting is worth ({money(floor)}), and no "
            f"counter is worth the risk that the buyer leaves. {odds}"
        )
    if answer == "counter" and counter is not None:
        stand = "take the offer if they stand by it" if amount >= floor else "let the offer go if they do not come up"
        gain = value - max(amount, floor)
        return (
            f"Counter at {money(counter)}: worth {money(gain)} more on average than "
            f"{'taking the offer' if amount >= floor else f'waiting ({money(floor)})'}; {stand}. {odds}"
        )
    return (
        f"Hold: {money(amount)} is {money(floor - amount)} under what waiting is worth ({money(floor)}), and a buyer "
        f"who opens there would hardly come up so far. {odds}"
    )


def _notes(
    terms: SaleTerms, expected: PricedOffers, offers: tuple[Offer, ...], asked: float, floor: float
) -> tuple[Note, ...]:
    amount = offers[-1].amount
    usual = terms.settle_under_ask_percent
    custom = f"; talks usually end about {usual:g} % under it (common practice, no source)" if amount < asked else ""
    notes = [Note("against_the_ask", f"The offer is {apart(amount, asked, f'the ask of {money(asked)}')}{custom}.")]
    if asked < floor:
        text = f"The ask of {money(asked)} is under the floor of {money(floor)}: raise it, or expect to sell for less."
        notes.append(Note("ask_under_floor", text))
    if len(offers) >= 3:
        mean = sum(math.log(offer.amount) for offer in offers) / len(offers)
        centre, spread = float(expected.prices.location[0]), float(expected.prices.scale[0])
        off = (mean - centre) / (spread / math.sqrt(len(offers)))
        if abs(off) > 2:
            notes.append(
                Note(
                    "offers_off_the_estimate",
                    f"The {len(offers)} offers so far are {apart(math.exp(mean), math.exp(centre), 'what')} the "
                    "estimate lets one expect, more than chance explains: look again at the vehicle's attributes, its "
                    "listing and the table.",
                )
            )
    return tuple(notes)
