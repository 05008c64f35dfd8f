"""What happens to a vehicle of the shop: bought, for sale, called otherwise, put away, and corrected."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.day import day_of
from valuation.errors import LedgerError
from valuation.ledger.corrections import corrections_of
from valuation.text.language import written
from valuation.view import as_money

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import ShownRecord, VehicleRecord
    from valuation.schema import Vehicle

TITLES = {
    "number": "its number",
    "asked": "what is asked",
    "found_on": "found on",
    "bought_for": "bought for",
    "bought_on": "bought on",
    "for_sale_on": "for sale since",
    "remark": "remark",
}
"""Fields of a vehicle as people call them."""


@dataclass(frozen=True)
class VehicleChange:
    """One thing that was changed about a vehicle.

    Attributes
    ----------
    on : date
        On which it was written.
    reason, what : str
        Why, and what it is.
    was, became : str
        Empty where nothing was known.
    """

    on: dt.date
    reason: str
    what: str
    was: str
    became: str


def buy(tables: Tables, subject: str, price: float | None, day: dt.date | None) -> VehicleRecord:
    """Write that a vehicle was bought, or with neither price nor day that it was not.

    Parameters
    ----------
    tables : Tables
    subject : str
        The vehicle's key.
    price : float or None
        Paid for it, money.
    day : date or None
        Of the purchase; today unless told.

    Raises
    ------
    LedgerError
        The day lies in the future.
    """
    if price is None and day is None:
        return tables.ledger.change_vehicle(subject, "not bought after all", {"bought_for": None, "bought_on": None})
    bought = _not_ahead("the purchase", "bought_on", day_of(day))
    return tables.ledger.change_vehicle(subject, "bought", {"bought_for": price, "bought_on": bought})


def offer_for_sale(tables: Tables, subject: str, day: dt.date | None, *, stop: bool = False) -> VehicleRecord:
    """Write that a vehicle is for sale, or that it is not any longer.

    Parameters
    ----------
    tables : Tables
    subject : str
        The vehicle's key.
    day : date or None
        Since when; today unless told.
    stop : bool
        Whether it is not for sale after all.
    """
    if stop:
        return tables.ledger.change_vehicle(subject, "not for sale after all", {"for_sale_on": None})
    since = _not_ahead("the offer", "for_sale_on", day_of(day))
    return tables.ledger.change_vehicle(subject, "for sale", {"for_sale_on": since})


def correct_vehicle(tables: Tables, subject: str, reason: str, vehicle: Vehicle, asked: float | None) -> VehicleRecord:
    """Write what a vehicle was when it was found once more, with what was wrong put right.

    Parameters
    ----------
    tables : Tables
    subject : str
        The vehicle's key.
    reason : str
        Why, in a few words.
    vehicle : Vehicle
        As it was found indeed.
    asked : float or None
        What was asked for it, money.
    """
    changes = {"found": vehicle.as_dict()["attributes"], "number": vehicle.number, "asked": asked}
    return tables.ledger.change_vehicle(subject, reason, changes)


def call_vehicle(tables: Tables, subject: str, name: str) -> ShownRecord:
    """Call a vehicle otherwise; its key stays, and so does all that is filed under it.

    Parameters
    ----------
    tables : Tables
    subject : str
        The vehicle's key.
    name : str

    Raises
    ------
    LedgerError
        Another vehicle is called so, or the name is empty.
    """
    from valuation.answers.vehicle_file import same_name

    there = same_name(tables, name)
    if there is not None and there.subject != subject:
        raise LedgerError(
            f"Cannot call it '{name.strip()}': another vehicle of the shop is called so. Choose another name.",
            where="name",
        )
    return tables.ledger.show_as("vehicle", subject, name=name)


def changes_of(vehicle: VehicleRecord) -> tuple[VehicleChange, ...]:
    """What was changed about a vehicle since it was first written, the oldest first.

    Parameters
    ----------
    vehicle : VehicleRecord
        With its history.
    """
    found = []
    for change in corrections_of(vehicle):
        parts = {change.field: (change.was, change.became)}
        if change.field == "found":
            parts = _parts_changed(json.loads(change.was), json.loads(change.became))
        for field, (was, became) in parts.items():
            what = TITLES.get(field, field.replace("_", " "))
            texts = [_text(field, value, vehicle.currency) for value in (was, became)]
            found.append(VehicleChange(change.written_at.date(), change.reason, what, *texts))
    return tuple(found)


def _parts_changed(before: Mapping[str, object], after: Mapping[str, object]) -> dict[str, tuple[object, object]]:
    names = dict.fromkeys((*before, *after))
    return {name: (before.get(name), after.get(name)) for name in names if before.get(name) != after.get(name)}


def _text(field: str, value: object, currency: str) -> str:
    if value is None:
        return ""
    if field in ("asked", "bought_for") and isinstance(value, float):
        return as_money(value, currency)
    if field.endswith("_on") and isinstance(value, str):
        return written(dt.date.fromisoformat(value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def _not_ahead(what: str, where: str, day: dt.date) -> dt.date:
    if day > day_of():
        raise LedgerError(
            f"Cannot write {what} to the ledger: its day, {written(day)}, lies in the future. Write the day on which "
            "it happened.",
            where=where,
        )
    return day
