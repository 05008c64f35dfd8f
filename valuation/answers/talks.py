"""The talks about one vehicle: a thread for each buyer with what to answer now, and the sale that comes of one."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from valuation.answers.kept import advice_on, offers_for
from valuation.build.figures import about, apart, at_least, money
from valuation.day import day_of
from valuation.ledger.corrections import Change, corrections_of
from valuation.ledger.matching import match
from valuation.ledger.records import EstimateRecord, OfferRecord, SaleRecord
from valuation.sell.bands import FloorFrom, PriceBands
from valuation.sell.offers import OfferAnswer
from valuation.text.language import on_day
from valuation.text.spelling import counted

if TYPE_CHECKING:
    from valuation.build.terms import SaleTerms
    from valuation.ledger import Ledger

State = Literal["to answer", "waiting", "accepted", "declined"]
_STATES: dict[str, State] = {"": "to answer", "counter": "waiting", "hold": "waiting", "accept": "accepted",
                             "decline": "declined"}  # fmt: skip

WORTH_SAYING = 0.01
"""Share by which offers must have moved the floor before that is said; it is rounded to about as much."""


@dataclass(frozen=True)
class Bid:
    """One bid of a buyer, and what was answered.

    Attributes
    ----------
    offer : int
        Number of the newest record of it.
    place : int
        Among all bids for the vehicle, in the order in which they came, from 1.
    amount : float
        Money.
    offered_on : date
    answer : str
        ``accept``, ``counter``, ``hold`` or ``decline``; empty while it is open.
    counter : float or None
        What was asked in return.
    answered_on : date or None
        When the answer was written down.
    remark : str
    corrections : tuple of Change
        What it said before, where it was corrected.
    """

    offer: int
    place: int
    amount: float
    offered_on: dt.date
    answer: str
    counter: float | None
    answered_on: dt.date | None
    remark: str
    corrections: tuple[Change, ...]


@dataclass(frozen=True)
class Thread:
    """The talks with one buyer.

    Attributes
    ----------
    number : int
        Of the record that began it: it stays whatever comes.
    buyer : str
        As it was written; may be empty, and then each bid is a buyer's of its own.
    called : str
        What sentences call the buyer.
    state : {"to answer", "waiting", "accepted", "declined"}
        Where it stands: the shop's turn, the buyer's turn, or over.
    sentence : str
        How it stands, with the figure to say.
    propose : float or None
        What the buyer may come to next: the shop's own counter.
    bids : tuple of Bid
        The newest first.
    advice : OfferAnswer or None
        On the newest bid, as of today, by all that was heard from everybody; None once it was answered, and where no
        price is set.
    """

    number: int
    buyer: str
    called: str
    state: State
    sentence: str
    propose: float | None
    bids: tuple[Bid, ...]
    advice: OfferAnswer | None

    @property
    def newest(self) -> Bid:
        """The bid that stands."""
        return self.bids[0]


@dataclass(frozen=True)
class SaleToRecord:
    """What is known of a sale that was agreed on: it fills the form.

    Attributes
    ----------
    buyer : str
    price : float
        Money.
    """

    buyer: str
    price: float


@dataclass(frozen=True)
class Sold:
    """A sale that stands in the ledger.

    Attributes
    ----------
    sale : int
        Its number.
    price : float
    sold_on : date
    sentence : str
        What it brought against what was estimated before.
    corrections : tuple of Change
    """

    sale: int
    price: float
    sold_on: dt.date
    sentence: str
    corrections: tuple[Change, ...]


@dataclass(frozen=True)
class TalksAnswer:
    """All talks about a vehicle.

    Attributes
    ----------
    subject, currency : str
    sentence : str
        How they stand together.
    threads : tuple of Thread
        Those to answer first, the highest bid first among them.
    ask : float or None
        As the price is set; None where it is not.
    floor : float or None
        On ``floor_on``, by what was offered until then.
    floor_on : date
        Today; once it is sold, the day of the sale.
    floors : tuple of FloorFrom
        How the floor falls, from the listing to the last day.
    to_record : SaleToRecord or None
        From the bid that was accepted, until its sale is recorded.
    sold : tuple of Sold
    """

    subject: str
    currency: str
    sentence: str
    threads: tuple[Thread, ...]
    ask: float | None
    floor: float | None
    floor_on: dt.date
    floors: tuple[FloorFrom, ...]
    to_record: SaleToRecord | None
    sold: tuple[Sold, ...]

    @property
    def open(self) -> tuple[Thread, ...]:
        """Those that are not over."""
        return tuple(one for one in self.threads if one.state != "declined")

    @property
    def over(self) -> tuple[Thread, ...]:
        """Those that were declined."""
        return tuple(one for one in self.threads if one.state == "declined")


def talks(
    ledger: Ledger,
    subject: str,
    currency: str,
    bands: PriceBands | None = None,
    terms: SaleTerms | None = None,
    today: dt.date | None = None,
) -> TalksAnswer:
    """The talks about a vehicle, thread by thread.

    Parameters
    ----------
    ledger : Ledger
    subject : str
        The vehicle's key.
    currency : str
        Of the vehicle's money.
    bands : PriceBands or None
        As its price is set; without them there is no advice.
    terms : SaleTerms or None
        By which the bands were made.
    today : date or None
    """
    day = day_of(today)
    chains: dict[object, list[tuple[int, OfferRecord]]] = {}
    for place, offer in enumerate(offers_for(ledger, subject), 1):
        chains.setdefault(offer.who.strip().casefold() or offer.first, []).append((place, offer))
    sold = tuple(
        Sold(one.id, one.price, one.sold_on, against_estimate(ledger, one), corrections_of(one))
        for one in ledger.sales(subject)
    )
    standing = [chain[-1][1] for chain in chains.values() if not chain[-1][1].answer]
    best = max(standing, key=lambda one: (one.currency == currency, one.amount), default=None)
    threads = []
    for chain in chains.values():
        last = chain[-1][1]
        advice = None
        if bands is not None and terms is not None and not sold and not last.answer and last.currency == currency:
            advice = advice_on(ledger, last, bands, terms, max(day, last.offered_on))
        threads.append(_thread(chain, advice, best, priced=bands is not None, sold=bool(sold)))
    order = {state: place for place, state in enumerate(("accepted", "to answer", "waiting", "declined"))}
    threads.sort(key=lambda one: (order[one.state], -one.newest.amount, one.number))
    if sold:
        day = min(day, sold[-1].sold_on)
    floor = None if bands is None else bands.floor
    heard = [chain[-1][1] for chain in chains.values() if chain[-1][1].currency == currency]
    if heard and bands is not None and terms is not None:
        last = max(heard, key=lambda one: one.offered_on)
        floor = advice_on(ledger, last, bands, terms, max(day, last.offered_on)).floor
    accepted = next((one for one in threads if one.state == "accepted"), None)
    together = _together(threads, accepted) + ("" if accepted else _moved(floor, bands, day))
    return TalksAnswer(
        subject=subject,
        currency=currency,
        sentence=sold[-1].sentence if sold else together,
        threads=tuple(threads),
        ask=None if bands is None else bands.ask,
        floor=floor,
        floor_on=day,
        floors=() if bands is None else bands.floors,
        to_record=SaleToRecord(accepted.buyer, accepted.newest.amount) if accepted and not sold else None,
        sold=sold,
    )


def against_estimate(ledger: Ledger, sale: SaleRecord) -> str:
    """What a sale brought, against the estimate that was made before it where there is one.

    Parameters
    ----------
    ledger : Ledger
    sale : SaleRecord
    """
    said = f"Sold for {money(sale.price)} on {on_day(sale.sold_on)}"
    pairs, _ = match(ledger.sales(sale.subject), ledger.all_written(EstimateRecord))
    pair = next((one for one in pairs if one.sale_id == sale.id), None)
    if pair is None:
        return f"{said}. No estimate was made before that day to set it against."
    place = "inside" if pair.inside else "outside"
    return (
        f"{said}: {apart(sale.price, pair.median, f'the estimate of {about(pair.median)}')} made before, and {place} "
        f"its {100 * pair.coverage:g} % range."
    )


def sale_remark(buyer: str, remark: str = "") -> str:
    """What is noted with a sale: to whom it went, in the shop's own words.

    Parameters
    ----------
    buyer : str
        May be empty.
    remark : str
    """
    return "; ".join(filter(None, (f"to {buyer.strip()}" if buyer.strip() else "", remark.strip())))


def _thread(
    chain: list[tuple[int, OfferRecord]],
    advice: OfferAnswer | None,
    best: OfferRecord | None,
    *,
    priced: bool,
    sold: bool,
) -> Thread:
    first, last = chain[0][1], chain[-1][1]
    called = last.who.strip() or f"the buyer of {on_day(last.offered_on)}"
    state = _STATES[last.answer]
    sentence = _standing(called, last, advice, priced=priced, sold=sold)
    if state == "to answer" and best is not None and best.first != last.first:
        sentence += f" {_name(best)} offers more, {money(best.amount)}: answer that first."
    return Thread(
        number=first.first,
        buyer=last.who.strip(),
        called=called,
        state=state,
        sentence=sentence,
        propose=last.counter,
        bids=tuple(_bid(place, one) for place, one in reversed(chain)),
        advice=advice,
    )


def _standing(called: str, last: OfferRecord, advice: OfferAnswer | None, *, priced: bool, sold: bool) -> str:
    """How a thread stands, in a sentence or two."""
    day = _answered_on(last)
    on = f" on {on_day(day)}" if day else ""
    name = called[:1].upper() + called[1:]
    if last.answer == "accept":
        taken = f"You took the {money(last.amount)} of {called}{on}."
        return taken if sold else f"{taken} Record the sale when it is paid."
    if last.answer == "decline":
        return f"You declined the {money(last.amount)} of {called}{on}."
    if last.answer == "counter" and last.counter is not None:
        return (
            f"You asked {called} for {money(last.counter)}{on}, against {money(last.amount)}. It is the buyer's turn."
        )
    if last.answer == "hold":
        return f"You held your price{on}, against the {money(last.amount)} of {called}. It is the buyer's turn."
    if advice is not None:
        return advice.sentence
    said = f"{name} offers {money(last.amount)}."
    return said if priced else f"{said} Set floor, target and ask, and what to say stands here."


def _together(threads: list[Thread], accepted: Thread | None) -> str:
    if accepted is not None:
        return f"The {money(accepted.newest.amount)} of {accepted.called} is accepted."
    to_answer = [one for one in threads if one.state == "to answer"]
    if to_answer:
        top = max(to_answer, key=lambda one: one.newest.amount)
        waits = "offer waits" if len(to_answer) == 1 else "offers wait"
        best = "it is" if len(to_answer) == 1 else "the best is"
        return f"{len(to_answer)} {waits} for your answer; {best} {money(top.newest.amount)} from {top.called}."
    waiting = [one for one in threads if one.state == "waiting"]
    if waiting:
        return f"Every offer is answered; {counted(len(waiting), 'buyer')} may come back."
    return "No offer stands." if threads else "No offer came yet."


def _moved(floor: float | None, bands: PriceBands | None, day: dt.date) -> str:
    """How far the offers have moved the floor, where that is worth saying."""
    if bands is None or floor is None:
        return ""
    stated = next((one.floor for one in reversed(bands.floors) if one.day <= day), bands.floor)
    if abs(floor / stated - 1) < WORTH_SAYING:
        return ""
    return f" By what was offered until now, take nothing under {at_least(floor)}."


def _name(offer: OfferRecord) -> str:
    return offer.who.strip() or f"The buyer of {on_day(offer.offered_on)}"


def _bid(place: int, offer: OfferRecord) -> Bid:
    return Bid(
        offer=offer.id,
        place=place,
        amount=offer.amount,
        offered_on=offer.offered_on,
        answer=offer.answer,
        counter=offer.counter,
        answered_on=_answered_on(offer),
        remark=offer.remark,
        corrections=corrections_of(offer),
    )


def _answered_on(offer: OfferRecord) -> dt.date | None:
    """The day on which the answer that stands was written down."""
    if not offer.answer:
        return None
    return next(one.written_at.date() for one in (*offer.history, offer) if one.answer == offer.answer)
