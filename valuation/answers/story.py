"""A vehicle's life from the find to the sale: where it stands, the one thing to do next, and a line for each part."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from valuation.answers.so_far import (
    Asked,
    MostToPay,
    WorkSoFar,
    as_it_stands,
    asked_for,
    most_to_pay,
    outlay_so_far,
    schema_for,
    work_so_far,
)
from valuation.answers.vehicle_file import STAGES, Stage, VehicleFile, vehicle_file
from valuation.text.language import written
from valuation.text.rounding import told
from valuation.text.spelling import counted
from valuation.view import as_money

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import EstimateRecord, OfferRecord
    from valuation.schema.attributes import Attribute

__all__ = ["NextThing", "Section", "ShopLine", "VehicleStory", "as_it_stands", "outlay_so_far", "shop_lines", "story"]

SectionKey = Literal["what", "worth", "pay", "plan", "work", "ask", "offers", "paper", "sale"]
TITLES: dict[SectionKey, str] = {
    "what": "What it is",
    "worth": "What it is worth",
    "pay": "What to pay",
    "plan": "The plan",
    "work": "The work",
    "ask": "What to ask",
    "offers": "Offers",
    "paper": "Paper",
    "sale": "The sale",
}
"""The parts of a vehicle's story, in the order of its life."""
MOST_SAID = 5
"""Attributes that a line names; its page has them all."""


@dataclass(frozen=True)
class Section:
    """One part of the story in a line.

    Attributes
    ----------
    key : str
    title : str
    state : {"done", "now", "later"}
    outcome : str
        What came of it, or what it will need.
    """

    key: SectionKey
    title: str
    state: Literal["done", "now", "later"]
    outcome: str


@dataclass(frozen=True)
class NextThing:
    """The one thing to do next, and the part of the story in which it is done."""

    section: SectionKey
    text: str


@dataclass(frozen=True)
class VehicleStory:
    """A vehicle's life so far.

    Attributes
    ----------
    number : int
        By which addresses know it.
    subject, name : str
        Its key, and what it is called.
    stage : {"found", "in work", "for sale", "sold"}
    archived : bool
    sentence : str
        What it is worth.
    next : NextThing
    sections : tuple of Section
        In the order of its life.
    """

    number: int
    subject: str
    name: str
    stage: Stage
    archived: bool
    sentence: str
    next: NextThing
    sections: tuple[Section, ...]


@dataclass(frozen=True)
class ShopLine:
    """A vehicle in the shop's list.

    Attributes
    ----------
    number : int
    subject, name : str
    stage : {"found", "in work", "for sale", "sold"}
    archived : bool
    figure : str
        The one figure that matters at its stage.
    next : NextThing
    photo : int or None
        Number of its first photograph.
    """

    number: int
    subject: str
    name: str
    stage: Stage
    archived: bool
    figure: str
    next: NextThing
    photo: int | None


def story(tables: Tables, subject: str) -> VehicleStory:
    """A vehicle's life so far.

    Parameters
    ----------
    tables : Tables
    subject : str
        Its key, which the ledger has.
    """
    return story_of(tables, vehicle_file(tables, subject))


def story_of(tables: Tables, file: VehicleFile) -> VehicleStory:
    """The story that a vehicle's file tells.

    Parameters
    ----------
    tables : Tables
    file : VehicleFile
    """
    known = _known(tables, file, whole=True)
    return VehicleStory(
        number=file.number,
        subject=file.subject,
        name=file.name,
        stage=file.stage,
        archived=file.archived,
        sentence=worth_sentence(file.estimate),
        next=known.following,
        sections=tuple(known.sections(known.following.section)),
    )


def shop_lines(tables: Tables, files: Sequence[VehicleFile]) -> tuple[ShopLine, ...]:
    """Vehicles of the shop, each in a line: by stage, else in their order.

    Parameters
    ----------
    tables : Tables
    files : sequence of VehicleFile
    """
    lines = []
    for file in files:
        known = _known(tables, file, whole=False)
        photo = file.photos[0].first if file.photos else None
        lines.append(
            ShopLine(
                number=file.number,
                subject=file.subject,
                name=file.name,
                stage=file.stage,
                archived=file.archived,
                figure=known.figure,
                next=known.following,
                photo=photo,
            )
        )
    return tuple(sorted(lines, key=lambda one: STAGES.index(one.stage)))


def worth_sentence(estimate: EstimateRecord | None) -> str:
    """What an estimate says, in a sentence that needs no name; what is missing where there is none.

    Parameters
    ----------
    estimate : EstimateRecord or None
    """
    if estimate is None:
        return "Not valued yet."
    low, high, odds = estimate.low, estimate.high, f"{100 * estimate.coverage:g} in 100"
    worth = f"About {told(estimate.median, estimate.currency)} on {written(estimate.as_of)}"
    if high is None:
        return f"{worth}; {odds} such sales end at {told(low or 0.0)} or more."
    if not low:
        return f"{worth}; {odds} such sales end at {told(high)} or less."
    return f"{worth}; {odds} such sales end between {told(low)} and {told(high)}."


@dataclass(frozen=True)
class _Known:
    """What is known of a vehicle at its stage, each part read once; its attributes as the table calls them."""

    file: VehicleFile
    pay: MostToPay | None
    work: WorkSoFar | None
    asked: Asked | None
    titles: dict[str, str]

    @property
    def open_offer(self) -> OfferRecord | None:
        """The newest offer that has no answer yet."""
        return next((one for one in reversed(self.file.offers) if not one.answer), None)

    @property
    def following(self) -> NextThing:
        """The one thing to do next."""
        file, stage = self.file, self.file.stage
        if stage == "sold":
            return NextThing("sale", "See how the estimate did")
        if stage == "for sale":
            return self._while_for_sale()
        if stage == "found":
            if file.estimate is None:
                return NextThing("worth", "Value it")
            if self.pay is not None:
                return NextThing("pay", "Bought it? Say for how much")
            return NextThing("pay", "See what to pay at most") if file.plans else NextThing("plan", "Plan a build")
        if self.work is None:
            return NextThing("plan", "Write the plan of the work")
        if self.work.to_do:
            return NextThing("work", "Tick what is done")
        return NextThing("ask", "Set its price")

    def _while_for_sale(self) -> NextThing:
        if self.file.estimate is None:
            return NextThing("worth", "Value it")
        if self.asked is None:
            return NextThing("ask", "Set its price")
        if (offer := self.open_offer) is not None:
            return NextThing("offers", f"Answer {offer.who or 'the offer'}")
        return NextThing("offers", "Enter an offer")

    @property
    def figure(self) -> str:
        """The one figure that matters at its stage."""
        if self.file.stage == "found":
            return self._to_pay() or "not compared yet"
        if self.file.stage == "in work":
            return self._to_go() or "no plan yet"
        return self._asked() or "no price set yet" if self.file.stage == "for sale" else self._sold()

    def sections(self, now: SectionKey) -> Iterator[Section]:
        """A line for each part of the story."""
        for key, (outcome, needs) in self._lines().items():
            state: Literal["done", "now", "later"] = "now" if key == now else "done" if outcome else "later"
            yield Section(key, TITLES[key], state, outcome or needs)

    def _lines(self) -> dict[SectionKey, tuple[str, str]]:
        """What came of each part, and what it needs where nothing did."""
        file = self.file
        return {
            "what": (self._what(), "Nothing is known of it yet."),
            "worth": (worth_sentence(file.estimate) if file.estimate else "", "Needs to be valued."),
            "pay": (self._paid() or _sentence(self._to_pay()), "Needs a comparison of what could be done with it."),
            "plan": (_plans(file), "Needs the steps that would be done to it."),
            "work": (_sentence(self._done()), "Begins when it is bought and has a plan."),
            "ask": (_sentence(self._asked()), "Set once it stands as it is to be sold."),
            "offers": (self._offers(), "Come when it is for sale."),
            "paper": (
                _papers(file),
                "No sheet of it was made yet." if file.estimate else "Can be made once it is valued.",
            ),
            "sale": (_sentence(self._sold()), "Ends the story."),
        }

    def _what(self) -> str:
        vehicle = self.file.vehicle
        told = json.loads(vehicle.found)
        titles = self.titles or {name: name.replace("_", " ") for name in told}
        known = [(title, told[name]) for name, title in titles.items() if name in told]
        said = [_said(title, value) for title, value in known if value not in (None, "", "none", False)][:MOST_SAID]
        asked = f"asked {as_money(vehicle.asked, self.file.currency)}" if vehicle.asked is not None else ""
        day = f"found on {written(vehicle.found_on)}" if vehicle.found_on is not None else ""
        return _sentence(", ".join(filter(None, [*said, asked, day])))

    def _paid(self) -> str:
        vehicle = self.file.vehicle
        if vehicle.bought_on is None:
            return ""
        price = f" for {as_money(vehicle.bought_for, self.file.currency)}" if vehicle.bought_for is not None else ""
        return f"Bought{price} on {written(vehicle.bought_on)}."

    def _to_pay(self) -> str:
        pay = self.pay
        if pay is None:
            return ""
        if pay.most <= 0:
            return f"walk away: no price meets the goal ({pay.path})"
        return f"pay up to {told(pay.most, pay.currency, limit='down')} ({pay.path})"

    def _to_go(self) -> str:
        if self.work is None:
            return ""
        if not self.work.to_do:
            return "every step is done"
        pay = self.pay
        ready = f", ready about {written(pay.ready_on)}" if pay and pay.ready_on and pay.path == self.work.plan else ""
        return f"{told(self.work.to_go, self.file.currency, limit='up')} to go{ready}"

    def _done(self) -> str:
        work = self.work
        if work is None:
            return ""
        steps = f"{work.done} of {counted(work.done + work.to_do, 'step')} done"
        spent = f"{told(work.spent, self.file.currency)} went in so far"
        return f"{steps}, {spent}, {self._to_go()}" if work.to_do else f"every step is done, {spent}"

    def _asked(self) -> str:
        asked = self.asked
        if asked is None:
            return ""
        offer = f", last offer {as_money(self.file.offers[-1].amount, '')}" if self.file.offers else ""
        return f"ask {told(asked.ask, asked.currency)}, floor {told(asked.floor, limit='up')}{offer}"

    def _offers(self) -> str:
        offers = self.file.offers
        if not offers:
            return ""
        alike = [one for one in offers if one.currency == offers[-1].currency]
        best = max(alike, key=lambda one: one.amount)
        highest = f"the highest {as_money(best.amount, best.currency)} by {best.who or 'a buyer'}"
        return f"{counted(len(offers), 'offer')}, {highest}."

    def _sold(self) -> str:
        if not self.file.sales:
            return ""
        sale = self.file.sales[-1]
        estimates = [one for one in self.file.estimates if one.id == sale.estimate_id]
        against = f"; {told(estimates[0].median)} was estimated" if estimates else ""
        return f"brought {as_money(sale.price, sale.currency)} on {written(sale.sold_on)}{against}"


def _known(tables: Tables, file: VehicleFile, *, whole: bool) -> _Known:
    told = file.stage == "in work" or whole  # a line of the list says it of vehicles in work alone
    work = work_so_far(tables, file) if told and file.vehicle.bought_on is not None and file.plans else None
    schema = schema_for(tables, file) if whole else None
    titles = {one.name: _title(one) for one in schema.attributes} if schema else {}
    return _Known(file, most_to_pay(tables, file), work, asked_for(tables, file), titles)


def _title(attribute: Attribute) -> str:
    """What a line says before an attribute's value: nothing where the value says of itself what it is."""
    open_scale = attribute.role == "nominal" and not attribute.levels
    return "" if open_scale or attribute.role == "smooth" else attribute.title.lower()


def _plans(file: VehicleFile) -> str:
    names = [plan.name for plan in file.plans]
    return (
        f"{counted(len(names), 'plan')}: {', '.join(names[:3])}{' and more' if len(names) > 3 else ''}."
        if names
        else ""
    )


def _papers(file: VehicleFile) -> str:
    if not file.sheets:
        return ""
    return f"{counted(len(file.sheets), 'sheet')} made, the last on {written(file.sheets[-1].written_at.date())}."


def _said(title: str, value: object) -> str:
    if isinstance(value, bool):
        return title
    text = str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)
    return f"{title} {text}".strip()


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}." if text else ""
