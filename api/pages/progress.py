"""The work on a vehicle: its steps ticked, the money and the days against the plan, and the choice today."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, cast, get_args

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.dealing import plan_reader
from api.deps import FormFields, Number, TheDesk, TheSettings, record_number
from api.desk import MAX_NUMBER, Desk
from api.forms import amount, day, needed
from api.pages.in_use import in_use
from api.pages.pictures import Picture, picture
from api.pages.render import Page, go, locale_of, page
from api.pages.vehicle_head import file_numbered, vehicle_head
from api.pages.work import follow
from api.problems import Refusal
from api.work_on import look_at_work, work_at_hand
from valuation.answers.work_kept import followed, keep_extra, keep_tick, take_extra_back
from valuation.build.progress import ExtraCost
from valuation.build.ticks import State, Tick
from valuation.day import day_of
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.answers.plans import PlanReader
    from valuation.answers.work import Work
    from valuation.ledger import PlanRecord, VehicleRecord

router = APIRouter(include_in_schema=False)
MARKS = {"done": "done", "begun": "begun", "left_out": "left out", "to_do": "to do"}
"""How the state of a step is said."""
SO_FAR = (("cost", "what parts and outside work came to so far"), ("hours", "the hours that it took so far"))
"""What may be told of a step that is begun."""


@dataclass(frozen=True, kw_only=True)
class ProgressPage(Page):
    """The work on one vehicle.

    Attributes
    ----------
    number : int
        Of the vehicle.
    subject : str
    record : VehicleRecord
    plan : PlanRecord or None
        The one that is followed; None where there is none.
    plans : list of (int, str)
        Number and name of those that could be.
    work : Work or None
        None before the purchase, or without a plan.
    marks : dict of str to str
        How the state of a step is said.
    picture : Picture or None
    currency : str
    today : date
    """

    template = "progress.html"
    number: int
    subject: str
    record: VehicleRecord
    plan: PlanRecord | None
    plans: list[tuple[int, str]]
    work: Work | None
    marks: Mapping[str, str]
    picture: Picture | None
    currency: str
    today: dt.date


@router.get("/vehicles/{v}/work")
def work(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    v: Number,
    plan: Annotated[int, Query(ge=0, le=MAX_NUMBER)] = 0,
    said: Annotated[str, Query(max_length=300)] = "",
) -> Response:
    """The work by the plan that is followed, or by another one."""
    vehicle = file_numbered(desk, v).vehicle
    reader = plan_reader(desk, vehicle)
    record = followed(reader, plan)
    found = work_at_hand(desk, reader, record) if record is not None else None
    if record is not None and found is None and vehicle.bought_on is not None:
        here = f"/vehicles/{vehicle.first}/work?plan={record.first}"
        job = look_at_work(desk, reader, record, here)
        return follow(request, job, lambda job: work(request, desk, settings, v, plan, said))
    table = desk.table_for(vehicle.subject, vehicle.currency)
    currency = desk.comparables(table).currency
    context = ProgressPage(
        title=f"The work: {vehicle.subject}",
        here="/",
        vehicle=vehicle_head(desk, vehicle.subject),
        twin=f"/api/v1/vehicles/{vehicle.first}/work",
        said=said,
        used=in_use(desk, table),
        number=vehicle.first,
        subject=vehicle.subject,
        record=vehicle,
        plan=record,
        plans=[(one.first, one.name) for one in reader.plans.standing],
        work=found,
        marks=MARKS,
        picture=_picture(found, currency, settings) if found else None,
        currency=currency,
        today=day_of(),
    )
    return page(request, context)


@router.post("/vehicles/{v}/work")
def tick(desk: TheDesk, v: Number, form: FormFields) -> Response:
    """Write what became of a step: done, begun, left out, or to do after all."""
    vehicle, state = file_numbered(desk, v).vehicle, form.get("state", "")
    reader = plan_reader(desk, vehicle)
    record = _plan(reader, form)
    if state not in get_args(State):
        detail = f"Cannot tick the step as {state[:20]!r}. Press one of its buttons."
        raise Refusal(422, "service.request", detail)
    currency = _currency(desk, vehicle)
    on, cost, hours = None, 0.0, 0.0
    if state in ("done", "begun"):
        on = day(form, "on", "the day") or day_of()
    if state == "begun":
        cost, hours = (amount(form, name, what, currency) or 0.0 for name, what in SO_FAR)
    if state == "done":
        cost = needed(form, "cost", "what parts and outside work came to (0 where it took none)", currency)
        hours = needed(form, "hours", "the hours that it took (0 where it took none)")
    kept = keep_tick(reader, record, Tick(form.get("step", ""), cast(State, state), on, cost, hours))
    return go(f"/vehicles/{vehicle.first}/work?plan={kept.first}#steps")


@router.post("/vehicles/{v}/work/extra")
def extra(desk: TheDesk, v: Number, form: FormFields) -> Response:
    """Write a cost that no step planned."""
    vehicle = file_numbered(desk, v).vehicle
    reader = plan_reader(desk, vehicle)
    record = _plan(reader, form)
    what = form.get("what", "").strip()[:200]
    if not what:
        detail = "Cannot keep the cost: it is not said what it was for. Say it in a few words."
        raise Refusal(422, "service.request", detail, where="what")
    currency = _currency(desk, vehicle)
    on, cost = day(form, "on", "the day") or day_of(), needed(form, "cost", "what it came to", currency)
    hours = needed(form, "hours", "the hours") if form.get("hours", "").strip() else 0.0
    kept = keep_extra(reader, record, ExtraCost(what, on, cost, hours))
    return go(f"/vehicles/{vehicle.first}/work?plan={kept.first}#extra")


@router.post("/vehicles/{v}/work/extra/back")
def extra_back(desk: TheDesk, v: Number, form: FormFields) -> Response:
    """Take an unplanned cost back that was a mistake."""
    vehicle = file_numbered(desk, v).vehicle
    reader = plan_reader(desk, vehicle)
    record = _plan(reader, form)
    kept = take_extra_back(reader, record, record_number(form.get("place", "")) or 0, form.get("what", ""))
    return go(f"/vehicles/{vehicle.first}/work?plan={kept.first}#extra")


def _plan(reader: PlanReader, form: Mapping[str, str]) -> PlanRecord:
    record = followed(reader, record_number(form.get("plan", "")) or 0)
    if record is None:
        raise Refusal(409, "service.request", "Cannot write to the plan: it is not there any more. Reload the page.")
    return record


def _currency(desk: Desk, vehicle: VehicleRecord) -> str:
    return desk.comparables(desk.table_for(vehicle.subject, vehicle.currency)).currency


def _picture(found: Work, currency: str, settings: TheSettings) -> Picture:
    from valuation.sheets.work_chart import work_picture

    return picture(work_picture(plain(found), currency, locale_of(settings).about), "Money over the weeks")
