"""What to pay for a find: its plans and selling as found side by side, the decision first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api import tasks
from api.dealing import keep_deal, plan_reader
from api.deps import FormFields, Number, TheDesk, TheSettings
from api.desk import MAX_NUMBER, Desk
from api.forms import amount, day
from api.jobs import Job
from api.pages.build_pictures import build_pictures
from api.pages.in_use import in_use
from api.pages.pictures import Picture
from api.pages.render import Page, go, locale_of, page
from api.pages.vehicle_head import file_numbered, vehicle_address, vehicle_head
from api.pages.work import follow
from api.problems import Refusal, not_found
from api.step_form import number_text
from valuation.answers.given import read_plans
from valuation.answers.kept import KeptBuild, kept_build
from valuation.answers.plans import differing
from valuation.day import day_of
from valuation.errors import PlanError
from valuation.notes import Note
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.ledger import DealRecord, VehicleRecord

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class PayPage(Page):
    """Paths side by side, and all that is behind them.

    Attributes
    ----------
    number : int
        Of the vehicle.
    subject : str
    plans : list of str
        Names of the plans that stand.
    deal : DealRecord or None
        The comparison shown; None before the first.
    older : list of DealRecord
        Those before the newest, newest first.
    newest : int
        Number of the newest comparison.
    changed : list of str
        Plans that were changed, added or put away since.
    inputs : dict
        What it was computed from.
    found : dict
        ``paths``, ``curves`` and ``plans`` as the JSON twin shows them.
    best : dict
        The path to go, or the one that comes nearest.
    notes : tuple of Note
        Of all paths and builds, each once.
    pictures : dict of str to Picture
    currency : str
    values : dict of str to str
        What the form asks with.
    bought : bool
        Whether the vehicle is the shop's already.
    as_of : date
    """

    template = "pay.html"
    number: int
    subject: str
    plans: list[str]
    deal: DealRecord | None
    older: list[DealRecord]
    newest: int
    changed: list[str]
    inputs: Mapping[str, Any]
    found: Mapping[str, Any]
    best: Mapping[str, Any]
    notes: tuple[Note, ...]
    pictures: dict[str, Picture]
    currency: str
    values: Mapping[str, str]
    bought: bool
    as_of: dt.date


@router.get("/vehicles/{v}/pay")
def pay(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    v: Number,
    deal: Annotated[int, Query(ge=0, le=MAX_NUMBER)] = 0,
) -> Response:
    """The newest comparison of a vehicle's plans, or an older one."""
    vehicle = file_numbered(desk, v).vehicle
    all_kept = [one for one in desk.ledger.deals(vehicle.subject) if one.kind == "build"]
    wanted = deal or (all_kept[-1].id if all_kept else 0)
    shown = next((one for one in all_kept if one.id == wanted), None)
    if deal and shown is None:
        raise not_found(f"a comparison of paths of {vehicle.subject} with the number {deal}")
    kept = kept_build(desk.ledger, shown) if shown else KeptBuild({}, {})
    table = (desk.table_behind(shown) if shown else None) or desk.table_for(vehicle.subject, vehicle.currency)
    plans = plan_reader(desk, vehicle).plans.standing
    context = PayPage(
        title=f"What to pay: {vehicle.subject}",
        here="/",
        vehicle=vehicle_head(desk, vehicle.subject),
        twin=f"/api/v1/deals/{shown.id}" if shown else "/api/v1/deals",
        used=in_use(desk, table),
        number=vehicle.first,
        subject=vehicle.subject,
        plans=[plan.name for plan in plans],
        deal=shown,
        older=[one for one in reversed(all_kept) if shown and one.id != shown.id],
        newest=all_kept[-1].id if all_kept else 0,
        changed=_changed(desk, vehicle, kept) if shown else [],
        inputs=kept.inputs,
        found=kept.found,
        best=kept.nearest if shown else {},
        notes=kept.notes if shown else (),
        pictures=build_pictures(kept.found, kept.inputs, kept.nearest, locale_of(settings)) if shown else {},
        currency=kept.found["paths"]["currency"] if shown else desk.comparables(table).currency,
        values=_values(desk, vehicle),
        bought=vehicle.bought_on is not None,
        as_of=day_of(),
    )
    return page(request, context)


@router.post("/vehicles/{v}/pay")
def compare(request: Request, desk: TheDesk, v: Number, form: FormFields) -> Response:
    """Compare the plans of a vehicle as a piece of work, and keep the answer."""
    from valuation.answers.build import goal_wanted

    vehicle = file_numbered(desk, v).vehicle
    reader = plan_reader(desk, vehicle)
    own = reader.plans.standing
    if not own:
        detail = f"Cannot compare paths for '{vehicle.subject}': it has no plan. Write one first."
        raise Refusal(422, "service.request", detail)
    table = desk.table_for(vehicle.subject, vehicle.currency)
    texts = reader.whole([plan.text for plan in own])
    plans = read_plans(texts, reader.schema, steps_needed=False)
    price = amount(form, "price", "the price asked", desk.comparables(table).currency)
    margin, sure = amount(form, "margin", "the profit wanted"), amount(form, "sure", "how sure")
    goal = goal_wanted(plans, margin, sure) if {"margin", "sure"} & form.keys() else plans[0].goal
    as_of = day(form, "as_of", "the day of the purchase") or day_of()
    inputs = {"plans": texts, "price": price, "goal": plain(goal), "as_of": as_of.isoformat(), "table": table.id}

    def work(job: Job) -> str:
        model = desk.fit_first(job, table)
        job.report("comparing the paths", 0.6)
        result = job.compute(tasks.whole_build, model, plans, as_of, price, goal)
        keep_deal(desk, table, vehicle.subject, "build", inputs, result)
        return f"/vehicles/{vehicle.first}/pay"

    return follow(request, desk.work(f"Comparing paths for {vehicle.subject}", work))


@router.get("/build")
def old_plans(
    desk: TheDesk,
    subject: Annotated[str, Query(max_length=200)] = "",
    estimate: Annotated[int, Query(ge=0, le=MAX_NUMBER)] = 0,
) -> Response:
    """Where the plans of a find stood before."""
    subject = desk.estimate(estimate).subject if estimate else subject
    known = estimate or desk.ledger.plans(subject)
    return go(f"{vehicle_address(desk, subject)}/plans" if known else "/")


@router.get("/build/{deal_id}")
def old_result(desk: TheDesk, deal_id: Number) -> Response:
    """Where a comparison stood before."""
    from valuation.ledger import DealRecord

    return go(f"{vehicle_address(desk, desk.record(DealRecord, deal_id).subject)}/pay?deal={deal_id}")


def _values(desk: Desk, vehicle: VehicleRecord) -> dict[str, str]:
    """What the first plan's goal and the vehicle's record propose for the form."""
    values = {"price": number_text(vehicle.asked), "margin": "", "sure": ""}
    reader = plan_reader(desk, vehicle)
    for record in reader.plans.standing[:1]:
        try:
            first = reader.read(record.text)
        except (PlanError, ValueError):
            continue  # its own page says what is wrong with it
        values |= {"margin": number_text(first.goal.margin_percent), "sure": number_text(first.goal.sure_percent)}
        values["price"] = values["price"] or number_text(first.purchase.asked)
    return values


def _changed(desk: Desk, vehicle: VehicleRecord, kept: KeptBuild) -> list[str]:
    """Names of the plans that are not as they were compared."""
    reader = plan_reader(desk, vehicle)
    return differing(kept.inputs.get("plans", []), reader.whole([plan.text for plan in reader.plans.standing]))
