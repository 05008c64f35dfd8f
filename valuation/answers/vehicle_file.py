"""All that the ledger keeps of one vehicle, in one place: where it stands follows from that."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from valuation.text.plain import plain
from valuation.text.spelling import level_key

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import (
        DealRecord,
        EstimateRecord,
        Ledger,
        OfferRecord,
        PhotoRecord,
        PlanRecord,
        Record,
        SaleRecord,
        SheetRecord,
        ShownRecord,
        VehicleRecord,
    )

R = TypeVar("R", bound="Record")
Stage = Literal["found", "in work", "for sale", "sold"]
STAGES: tuple[Stage, ...] = ("found", "in work", "for sale", "sold")
"""In the order of a vehicle's life."""


@dataclass(frozen=True)
class VehicleFile:
    """A vehicle with everything that is filed under it.

    Attributes
    ----------
    vehicle : VehicleRecord
    name : str
        What it is called.
    archived : bool
        Whether lists leave it out.
    estimates, deals, offers, sales, sheets, photos : tuple of Record
        Those that stand, oldest first.
    plans : tuple of PlanRecord
        The newest of each name, without those that are put away.
    """

    vehicle: VehicleRecord
    name: str
    archived: bool
    estimates: tuple[EstimateRecord, ...]
    plans: tuple[PlanRecord, ...]
    deals: tuple[DealRecord, ...]
    offers: tuple[OfferRecord, ...]
    sales: tuple[SaleRecord, ...]
    sheets: tuple[SheetRecord, ...]
    photos: tuple[PhotoRecord, ...]

    @property
    def subject(self) -> str:
        """The vehicle's key."""
        return self.vehicle.subject

    @property
    def number(self) -> int:
        """By which pages and addresses know it."""
        return self.vehicle.first

    @property
    def estimate(self) -> EstimateRecord | None:
        """The newest estimate."""
        return self.estimates[-1] if self.estimates else None

    @property
    def currency(self) -> str:
        """Of its money; empty where nothing names one."""
        return self.vehicle.currency or (self.estimates[-1].currency if self.estimates else "")

    @property
    def stage(self) -> Stage:
        """Where it stands."""
        if self.sales:
            return "sold"
        if self.vehicle.for_sale_on is not None or self.newest_deal("bands") is not None:
            return "for sale"
        return "found" if self.vehicle.bought_on is None else "in work"

    def newest_deal(self, *kinds: str) -> DealRecord | None:
        """The newest answer of the deal room of one of these kinds, if there is one."""
        return next((deal for deal in reversed(self.deals) if deal.kind in kinds), None)


def vehicle_kept(ledger: Ledger, subject: str, **told: Any) -> VehicleRecord:
    """The vehicle of the ledger under that key, written where it is new: the one way in which vehicles come about.

    Parameters
    ----------
    ledger : Ledger
    subject : str
    **told : Any
        What else is known of a new one, by the names of ``Ledger.add_vehicle``. Where that is not told, a vehicle is
        taken as found that was valued or planned first.
    """
    there = ledger.vehicle_of(subject)
    if there is not None:
        return there
    first = told or _first_known(ledger.estimates(subject), ledger.plans(subject))
    return ledger.add_vehicle(subject=subject, **first)


def vehicle_file(tables: Tables, subject: str) -> VehicleFile:
    """The file of one vehicle.

    Parameters
    ----------
    tables : Tables
    subject : str
        Its key, which the ledger has.
    """
    ledger = tables.ledger
    shown = ledger.shown("vehicle").get(subject)
    return VehicleFile(
        vehicle=vehicle_kept(ledger, subject),
        name=shown.name if shown else subject,
        archived=shown is not None and shown.archived,
        estimates=ledger.estimates(subject),
        plans=standing_plans(ledger.plans(subject), ledger.shown("plan")),
        deals=ledger.deals(subject),
        offers=_as_they_came(ledger.offers(subject)),
        sales=ledger.sales(subject),
        sheets=ledger.sheets(subject),
        photos=ledger.photos(subject),
    )


def vehicle_files(tables: Tables) -> tuple[VehicleFile, ...]:
    """The files of all vehicles, archived ones too, the newest first.

    A vehicle that an older program valued or planned has no record of its own yet: it gets one here.
    """
    ledger = tables.ledger
    estimates, plans = _by_subject(ledger.estimates()), _by_subject(ledger.plans())
    vehicles = {one.subject: one for one in ledger.vehicles()}
    for subject in dict.fromkeys((*estimates, *plans)):
        if subject not in vehicles:
            vehicles[subject] = vehicle_kept(ledger, subject)
    deals, offers, sales = _by_subject(ledger.deals()), _by_subject(ledger.offers()), _by_subject(ledger.sales())
    sheets, photos = _by_subject(ledger.sheets()), _by_subject(ledger.photos())
    shown, plans_shown = ledger.shown("vehicle"), ledger.shown("plan")
    return tuple(
        VehicleFile(
            vehicle=one,
            name=shown[one.subject].name if one.subject in shown else one.subject,
            archived=one.subject in shown and shown[one.subject].archived,
            estimates=estimates[one.subject],
            plans=standing_plans(plans[one.subject], plans_shown),
            deals=deals[one.subject],
            offers=_as_they_came(offers[one.subject]),
            sales=sales[one.subject],
            sheets=sheets[one.subject],
            photos=photos[one.subject],
        )
        for one in sorted(vehicles.values(), key=lambda one: -one.first)
    )


def plan_key(subject: str, name: str) -> str:
    """Under which a plan is called otherwise or put away.

    Parameters
    ----------
    subject : str
        The vehicle's key.
    name : str
        The plan's own name.
    """
    return f"{subject}\n{name}"


def found_as_told(vehicle: VehicleRecord) -> dict[str, Any]:
    """What a vehicle was when it was found, with its number, as ``parse_vehicle`` reads it."""
    told: dict[str, Any] = json.loads(vehicle.found)
    return {"name": vehicle.subject, "number": vehicle.number, "attributes": told}


def same_name(tables: Tables, name: str) -> VehicleRecord | None:
    """The vehicle that has this key or is called so, however case and spaces are written.

    Parameters
    ----------
    tables : Tables
    name : str
    """
    shown = tables.ledger.shown("vehicle")
    for one in tables.ledger.vehicles():
        called = shown[one.subject].name if one.subject in shown else one.subject
        if level_key(name) in (level_key(one.subject), level_key(called)):
            return one
    return None


def _first_known(estimates: tuple[EstimateRecord, ...], plans: tuple[PlanRecord, ...]) -> dict[str, Any]:
    if estimates:
        told = json.loads(estimates[0].vehicle)
        return {"number": told.pop("vehicle", ""), "found": told, "currency": estimates[0].currency}
    if plans:
        return _found_in_plan(plans[0].text)
    return {}


def _found_in_plan(text: str) -> dict[str, Any]:
    """What a plan says of the vehicle as found and of its purchase; what cannot be read is left out."""
    from valuation.text.toml import read_toml

    try:
        data = read_toml(text)
    except ValueError:
        return {}
    vehicle, purchase, bought = (_table(data.get(name)) for name in ("vehicle", "purchase", "bought"))
    found = {key: plain(value) for key, value in vehicle.items() if key not in ("name", "number", "vehicle")}
    told: dict[str, Any] = {"found": _table(found.get("attributes")) or found}
    told["number"] = str(vehicle.get("number", vehicle.get("vehicle", "")))
    told["currency"] = str(data.get("currency", ""))
    told["asked"] = _money(purchase.get("asked"))
    if (price := _money(bought.get("price"))) is not None and bought.get("on"):
        told |= {"bought_for": price, "bought_on": str(plain(bought["on"]))}
    return told


def _table(value: object) -> dict[str, Any]:
    return dict(value) if isinstance(value, Mapping) else {}


def _money(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and value > 0 else None


def _by_subject(records: Iterable[R]) -> defaultdict[str, tuple[R, ...]]:
    found: dict[str, list[R]] = {}
    for one in records:
        found.setdefault(getattr(one, "subject"), []).append(one)  # noqa: B009 -- every kind that is filed has it
    return defaultdict(tuple, {subject: tuple(own) for subject, own in found.items()})


def standing_plans(plans: tuple[PlanRecord, ...], shown: Mapping[str, ShownRecord]) -> tuple[PlanRecord, ...]:
    """The newest version of each plan, of one vehicle or of many, without those that are put away.

    Parameters
    ----------
    plans : tuple of PlanRecord
        In the order in which they were written.
    shown : mapping of str to ShownRecord
        What the ledger shows of plans.
    """
    newest = {(plan.subject, plan.name): plan for plan in plans}
    away = {key for key, one in shown.items() if one.archived}
    return tuple(plan for plan in newest.values() if plan_key(plan.subject, plan.name) not in away)


def _as_they_came(offers: tuple[OfferRecord, ...]) -> tuple[OfferRecord, ...]:
    return tuple(sorted(offers, key=lambda one: one.first))
