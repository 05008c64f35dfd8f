"""The vehicles of a ledger: where each stands, and all that is kept of one."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.answers.keeping import ANSWERED, reach, worth
from valuation.answers.story import Section, story_of
from valuation.answers.talks import Thread, talks
from valuation.answers.vehicle_file import STAGES, Stage, same_name, vehicle_file, vehicle_files
from valuation.build.figures import about, money
from valuation.errors import LedgerError, shortlist
from valuation.ledger.corrections import corrections_of
from valuation.text.spelling import counted, level_key, nearest

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import EstimateRecord, Record


@dataclass(frozen=True)
class VehicleKept:
    """A vehicle of the ledger with its newest estimate.

    Attributes
    ----------
    subject : str
        Its key: the name by which commands know it.
    name : str
        What it is called on the desk.
    stage : {"found", "in work", "for sale", "sold"}
    estimate : int or None
        Number of the newest estimate; None while it was not valued.
    as_of : date or None
        The day for which that was made.
    median : float or None
        The estimate, money in ``currency``.
    currency : str
    offers : int
        Offers that stand in the ledger.
    best_offer : float or None
        The highest of those in the currency of the estimate.
    price : float or None
        What it was sold for, where it was.
    sold_on : date or None
    """

    subject: str
    name: str
    stage: Stage
    estimate: int | None
    as_of: dt.date | None
    median: float | None
    currency: str
    offers: int
    best_offer: float | None
    price: float | None
    sold_on: dt.date | None


@dataclass(frozen=True)
class VehiclesKept:
    """Every vehicle of a ledger.

    Attributes
    ----------
    sentence : str
        How many there are, and where they stand.
    vehicles : tuple of VehicleKept
        The one that was valued last first.
    """

    sentence: str
    vehicles: tuple[VehicleKept, ...]


@dataclass(frozen=True)
class Event:
    """One thing that is kept of a vehicle.

    Attributes
    ----------
    day : date
        On which it happened; of an estimate the day for which it was made.
    kind : str
        ``estimate``, ``offer`` or ``sale``.
    id : int
        Number of the record, by which it is corrected.
    text : str
        What it says.
    """

    day: dt.date
    kind: str
    id: int
    text: str


@dataclass(frozen=True)
class VehicleHistory:
    """All that is kept of one vehicle.

    Attributes
    ----------
    subject, name : str
        Its key, and what it is called on the desk.
    stage : {"found", "in work", "for sale", "sold"}
    sentence : str
        What it is worth.
    story : tuple of Section
        Its life so far, as its page on the desk tells it.
    talks : tuple of str
        How the talks with each buyer stand, in a sentence each.
    events : tuple of Event
        Estimates, offers buyer by buyer as they came, then sales.
    """

    subject: str
    name: str
    stage: Stage
    sentence: str
    story: tuple[Section, ...]
    talks: tuple[str, ...]
    events: tuple[Event, ...]


def vehicles(tables: Tables) -> VehiclesKept:
    """Every vehicle of a ledger, the one that was valued last first, then those that were not; none put away."""
    files = [one for one in vehicle_files(tables) if not one.archived]
    files.sort(key=lambda one: -1 if one.estimate is None else one.estimate.id, reverse=True)
    found = []
    for file in files:
        sale = file.sales[-1] if file.sales else None
        amounts = [one.amount for one in file.offers if one.currency == file.currency]
        found.append(
            VehicleKept(
                subject=file.subject,
                name=file.name,
                stage=file.stage,
                estimate=None if file.estimate is None else file.estimate.id,
                as_of=None if file.estimate is None else file.estimate.as_of,
                median=None if file.estimate is None else file.estimate.median,
                currency=file.currency,
                offers=len(file.offers),
                best_offer=max(amounts, default=None),
                price=None if sale is None else sale.price,
                sold_on=None if sale is None else sale.sold_on,
            )
        )
    stages = [one.stage for one in found]
    standing = ", ".join(f"{stages.count(stage)} {stage}" for stage in STAGES if stage in stages)
    sentence = (
        f"{counted(len(found), 'vehicle')} in the ledger: {standing}." if found else "No vehicle is in the ledger yet."
    )
    return VehiclesKept(sentence, tuple(found))


def vehicle_history(tables: Tables, name: str) -> VehicleHistory:
    """All that is kept of one vehicle, valued or not.

    Parameters
    ----------
    tables : Tables
    name : str
        Its key or what it is called on the desk, however its case and spaces are written.

    Raises
    ------
    LedgerError
        There is no such vehicle; names the nearest.
    """
    there = same_name(tables, name)
    subject = there.subject if there is not None else estimate_named(tables, name).subject
    file = vehicle_file(tables, subject)
    told = story_of(tables, file)
    events = [Event(one.as_of, "estimate", one.id, _valued(one)) for one in file.estimates]
    threads = talks(tables.ledger, subject, file.currency).threads
    offers = {one.id: one for one in file.offers}
    for thread in sorted(threads, key=lambda one: one.number):
        for bid in reversed(thread.bids):
            answer = f"; {ANSWERED[bid.answer]}" if bid.answer else ""
            answer += f" with {money(bid.counter)}" if bid.counter is not None else ""
            offer = offers[bid.offer]
            text = f"{offer.who or 'a buyer'}: {money(offer.amount)}{answer}{_corrected(offer)}"
            events.append(Event(bid.offered_on, "offer", bid.offer, text))
    for sale in file.sales:
        text = f"sold, {sale.kind}: {money(sale.price)}{_corrected(sale)}"
        events.append(Event(sale.sold_on, "sale", sale.id, text))
    return VehicleHistory(
        subject=subject,
        name=file.name,
        stage=file.stage,
        sentence=worth(file.estimate) if file.estimate is not None else told.sentence,
        story=told.sections,
        talks=tuple(map(_stands, threads)),
        events=tuple(events),
    )


def _stands(thread: Thread) -> str:
    """How the talks with a buyer stand; what to answer is asked of ``valuation offer``."""
    if thread.state != "to answer":
        return thread.sentence
    called = thread.called
    return f"{called[:1].upper()}{called[1:]} offers {money(thread.newest.amount)}: it waits for your answer."


def _valued(estimate: EstimateRecord) -> str:
    return f"about {about(estimate.median)}; {100 * estimate.coverage:g} in 100 {reach(estimate.low, estimate.high)}"


def _corrected(record: Record) -> str:
    return " (corrected)" if corrections_of(record) else ""


def estimate_named(tables: Tables, name: str) -> EstimateRecord:
    """The newest estimate of the vehicle of that name, however its case and spaces are written.

    Parameters
    ----------
    tables : Tables
    name : str

    Raises
    ------
    LedgerError
        There is no such vehicle; names the nearest.
    """
    known = tables.known()
    for estimate in known:
        if level_key(estimate.subject) == level_key(name):
            return estimate
    names = [estimate.subject for estimate in known]
    if not names:
        raise LedgerError(
            f"Cannot find the vehicle '{name}': the ledger has none yet. Keep an estimate first: valuation keep "
            "estimate VEHICLE."
        )
    close = nearest(name, names)
    asked = f" Did you mean '{close[0]}'?" if close else ""
    raise LedgerError(
        f"Cannot find the vehicle '{name}' in the ledger; it has {shortlist([repr(one) for one in names])}.{asked} "
        "Keep an estimate of it first if it is new."
    )
