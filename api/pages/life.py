"""A vehicle's own page: its story downward, with what can be said of it right there."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.deps import FormFields, Number, TheDesk
from api.forms import amount, day
from api.pages.render import Page, go, page
from api.pages.vehicle_form import Field, value_text, vehicle_fields, vehicle_typed
from api.pages.vehicle_head import file_numbered, head_of
from api.problems import Refusal
from valuation.answers.so_far import schema_for, work_so_far
from valuation.answers.vehicle_change import (
    VehicleChange,
    buy,
    call_vehicle,
    changes_of,
    correct_vehicle,
    offer_for_sale,
)
from valuation.answers.vehicle_file import VehicleFile, found_as_told
from valuation.day import day_of
from valuation.schema import parse_vehicle

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class LifePage(Page):
    """The story of one vehicle.

    Attributes
    ----------
    action : str
        The vehicle's own address.
    bought_for, asked : str
        As their fields hold them.
    bought_on, for_sale_on : date or None
    today : date
    currency : str
    steps_done : int
        Steps of the plan that are done.
    fields : list of Field
        What it was when it was found, to be corrected; empty where no table says what the words mean.
    number : str
        What identifies it.
    changes : tuple of VehicleChange
    """

    template = "life.html"
    action: str
    bought_for: str
    asked: str
    bought_on: dt.date | None
    for_sale_on: dt.date | None
    today: dt.date
    currency: str
    steps_done: int
    fields: list[Field]
    number: str
    changes: tuple[VehicleChange, ...]


@router.get("/vehicles/{number}")
def life(request: Request, desk: TheDesk, number: Number) -> Response:
    """The story of a vehicle."""
    file = file_numbered(desk, number)
    vehicle, work = file.vehicle, work_so_far(desk, file)
    context = LifePage(
        title=file.name,
        here="/",
        twin=f"/api/v1/vehicles/{number}",
        vehicle=head_of(desk, file),
        action=f"/vehicles/{number}",
        bought_for=value_text(vehicle.bought_for),
        asked=value_text(vehicle.asked),
        bought_on=vehicle.bought_on,
        for_sale_on=vehicle.for_sale_on,
        today=day_of(),
        currency=file.currency,
        steps_done=work.done if work else 0,
        fields=_fields(desk, file),
        number=vehicle.number,
        changes=changes_of(vehicle),
    )
    return page(request, context)


@router.post("/vehicles/{number}/bought")
def bought(desk: TheDesk, number: Number, form: FormFields) -> Response:
    """Write that the vehicle was bought, or that it was not."""
    file = file_numbered(desk, number)
    price = amount(form, "bought_for", "the price paid", file.currency)
    buy(desk, file.subject, price, day(form, "bought_on", "the day of the purchase"))
    return go(f"/vehicles/{number}")


@router.post("/vehicles/{number}/for-sale")
def for_sale(desk: TheDesk, number: Number, form: FormFields) -> Response:
    """Write that the vehicle is for sale, or that it is not any longer."""
    file = file_numbered(desk, number)
    since = day(form, "for_sale_on", "the day since when it is for sale")
    offer_for_sale(desk, file.subject, since, stop="stop" in form)
    return go(f"/vehicles/{number}")


@router.post("/vehicles/{number}/name")
def name(desk: TheDesk, number: Number, form: FormFields) -> Response:
    """Call the vehicle otherwise."""
    call_vehicle(desk, file_numbered(desk, number).subject, form.get("name", "")[:200])
    return go(f"/vehicles/{number}")


@router.post("/vehicles/{number}/archive")
def archive(desk: TheDesk, number: Number, form: FormFields) -> Response:
    """Put the vehicle away, or bring it back."""
    file = file_numbered(desk, number)
    back = "back" in form
    desk.ledger.show_as("vehicle", file.subject, archived=not back, name=file.name)
    return go(f"/vehicles/{number}" if back else "/")


@router.post("/vehicles/{number}/correction")
def correction(desk: TheDesk, number: Number, form: FormFields) -> Response:
    """Correct what the vehicle was when it was found."""
    file = file_numbered(desk, number)
    schema = schema_for(desk, file)
    if schema is None:
        raise Refusal(404, "service.no_table", "There is no table of comparables yet. Bring one first.")
    vehicle = vehicle_typed(form, schema, file.subject)
    asked = amount(form, "asked", "the price asked", file.currency)
    correct_vehicle(desk, file.subject, form.get("reason", "").strip()[:200], vehicle, asked)
    return go(f"/vehicles/{number}")


def _fields(desk: TheDesk, file: VehicleFile) -> list[Field]:
    if (schema := schema_for(desk, file)) is None:
        return []
    found = parse_vehicle(found_as_told(file.vehicle), schema)
    return vehicle_fields(desk, desk.table_for(file.subject, file.currency), found)
