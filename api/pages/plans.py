"""The plans of a vehicle as cards, one for each step, and what a plan comes to as its cards change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.dealing import plan_reader, shop_of
from api.deps import FormFields, Number, TheDesk, record_number
from api.desk import Desk
from api.jobs import Awaited
from api.pages.clash import Choice, ClashPage, clash_page
from api.pages.in_use import in_use
from api.pages.refused import SHOWN, is_part
from api.pages.render import Page, go, page, page_of, part
from api.pages.vehicle_head import file_numbered, vehicle_head
from api.plan_cards import Source, acted, book_of, sources
from api.plan_form import (
    GROUPS,
    NumberField,
    PlanFields,
    at,
    data_of,
    fields_of,
    form_of,
    say_of_form,
    text_from_form,
    typed_plan,
)
from api.plan_merge import Apart, merged
from api.problems import Refusal, as_problem, not_found
from api.step_form import Choices, number_text, settable
from valuation.answers.plan_line import plan_line, still_needed
from valuation.answers.plans import copied, keep_plan, kept_plans, new_plan, rest_in_words
from valuation.answers.vehicle_file import plan_key
from valuation.errors import PlanError, ValuationError

if TYPE_CHECKING:
    from valuation.answers.plan_line import PlanLine
    from valuation.ledger import PlanRecord, TableRecord, VehicleRecord

router = APIRouter(include_in_schema=False)
NEW_PLAN = "new"
FIT_SECONDS = 20.0
"""How long a plan's line waits for a table that is being fitted."""


@dataclass(frozen=True, kw_only=True)
class PlansPage(Page):
    """The plans of one vehicle, one of them as cards.

    Attributes
    ----------
    number : int
        Of the vehicle.
    subject : str
    table : TableRecord
        That prices them.
    plans, archived : list of (int, str)
        Number and name of each plan that stands or is put away.
    plan : PlanFields or None
        The one shown; None where there is none yet.
    shown : int
        Its number; 0 for a new one.
    line : PlanLine or None
        What it comes to; None where that is not known yet.
    needs : str
        What it still needs before it can be kept or come to something.
    rest : str
        Show, sale, goal and overrun in words.
    groups : tuple
        Its number fields by what they are about.
    choices : list
        What a step can make of the vehicle.
    sources : list of Source
        Where steps can be taken from.
    currency : str
    """

    template = "plans.html"
    number: int
    subject: str
    table: TableRecord
    plans: list[tuple[int, str]]
    archived: list[tuple[int, str]]
    plan: PlanFields | None
    shown: int
    line: PlanLine | None
    needs: str
    rest: str
    groups: tuple[tuple[str, tuple[NumberField, ...]], ...]
    choices: Choices
    sources: list[Source]
    currency: str


@router.get("/vehicles/{v}/plans")
def plans(
    request: Request,
    desk: TheDesk,
    v: Number,
    plan: Annotated[str, Query(max_length=20)] = "",
    said: Annotated[str, Query(max_length=300)] = "",
) -> Response:
    """The plans of a vehicle; the first as cards unless another is wanted."""
    vehicle = file_numbered(desk, v).vehicle
    kept = kept_plans(desk.ledger, vehicle.subject)
    fields: PlanFields | None = None
    if plan == NEW_PLAN or not (kept.standing or kept.archived):
        fields = fields_of(0, new_plan(vehicle, desk.comparables(_table(desk, vehicle)).currency))
    else:
        number = record_number(plan)
        record = kept.find(number) if number else next(iter(kept.standing), None)
        if number and record is None:
            raise not_found(f"the plan {plan[:20]!r} of {vehicle.subject}")
        fields = None if record is None else _fields(desk, record)
    return page(request, _context(desk, vehicle, fields, said=said, line=_line_at_hand(desk, vehicle, fields)))


@router.post("/vehicles/{v}/plans")
def keep(request: Request, desk: TheDesk, v: Number, form: FormFields) -> Response:
    """Write a plan, new or changed, to the ledger."""
    vehicle = file_numbered(desk, v).vehicle
    request.state.page_of_form = partial(_form_again, request, desk, vehicle, form)
    kept = kept_plans(desk.ledger, vehicle.subject)
    began = record_number(form.get("number", "")) or 0
    newest, said = kept.find(began) if began else None, ""
    if newest is not None and newest.id != began:
        base, now = _fields(desk, desk.ledger.plan(began)), _fields(desk, newest)
        form, apart = merged(form, base, now)
        if apart:
            return clash_page(request, _clash(form, apart, newest, v))
        said = " It was changed elsewhere meanwhile; both changes are kept."
    text = _checked(desk, vehicle, form)
    if not form.get("name", "").strip() and not form.get("as_text"):
        raise Refusal(422, "service.request", "Cannot keep a plan without a name. Give it one.", where="name")
    record = keep_plan(desk.ledger, vehicle, text, str(data_of(text).get("name", "plan")), newest)
    words = quote(f"Kept the plan {record.name}.{said}")
    return go(f"/vehicles/{v}/plans?plan={record.first}&said={words}")


@router.post("/vehicles/{v}/plans/cards")
def cards(request: Request, desk: TheDesk, v: Number, form: FormFields) -> Response:
    """The form once more after a button changed its cards; nothing is written."""
    vehicle = file_numbered(desk, v).vehicle
    fields = typed_plan(form)
    steps = acted(fields.steps, form.get("act", ""), desk.ledger, shop_of(desk))
    fields = replace(fields, steps=steps)
    line = _line_at_hand(desk, vehicle, fields)
    return page(request, _context(desk, vehicle, fields, line=line), headers=SHOWN)


@router.post("/vehicles/{v}/plans/line")
def line(request: Request, desk: TheDesk, v: Number, form: FormFields) -> Response:
    """What a plan comes to as it is typed; nothing is written."""
    vehicle = file_numbered(desk, v).vehicle
    request.state.page_of_form = partial(_form_again, request, desk, vehicle, form)
    needs = _needs(typed_plan(form))
    try:
        text = _checked(desk, vehicle, form)
    except (Refusal, ValuationError) as error:
        if not is_part(request):
            raise
        # The line follows what is being typed, and half a figure is no failure.
        return part(request, "plan_line.html", line=None, needs=needs, refused=as_problem(error)["detail"])

    def answer(*_: object) -> Response:
        found = _line(desk, vehicle, text) if data_of(text).get("steps") else None
        if is_part(request):
            return part(request, "plan_line.html", line=found, needs=needs, refused="")
        return page(request, _context(desk, vehicle, typed_plan(form), line=found), headers=SHOWN)

    table = _table(desk, vehicle)
    return answer() if desk.is_fitted(table) else Awaited(desk.warm(table), FIT_SECONDS, answer, answer)


@router.post("/vehicles/{v}/plans/{number}/copy")
def copy(desk: TheDesk, v: Number, number: Number) -> Response:
    """Write a plan once more, to be changed into another way."""
    record = copied(desk.ledger, _plan(desk, v, number))
    said = quote(f"{record.name} is a copy: give it a name of its own and change what differs.")
    return go(f"/vehicles/{v}/plans?plan={record.first}&said={said}")


@router.post("/vehicles/{v}/plans/{number}/archive")
def archive(desk: TheDesk, v: Number, number: Number) -> Response:
    """Put a plan away."""
    record = _plan(desk, v, number)
    desk.ledger.show_as("plan", plan_key(record.subject, record.name), archived=True)
    return go(f"/vehicles/{v}/plans?said={quote(f'{record.name} is put away; it can be brought back below.')}")


@router.post("/vehicles/{v}/plans/{number}/back")
def back(desk: TheDesk, v: Number, number: Number) -> Response:
    """Bring a plan back that was put away."""
    record = _plan(desk, v, number)
    desk.ledger.show_as("plan", plan_key(record.subject, record.name), archived=False)
    return go(f"/vehicles/{v}/plans?plan={record.first}&said={quote(f'{record.name} is back.')}")


def _plan(desk: Desk, v: int, number: int) -> PlanRecord:
    vehicle = file_numbered(desk, v).vehicle
    record = kept_plans(desk.ledger, vehicle.subject).find(number)
    if record is None:
        raise not_found(f"plan {number} of {vehicle.subject}")
    return record


def _fields(desk: Desk, record: PlanRecord) -> PlanFields:
    return fields_of(record.id, record.text, book_of(shop_of(desk)))


def _table(desk: Desk, vehicle: VehicleRecord) -> TableRecord:
    return desk.table_for(vehicle.subject, vehicle.currency)


def _checked(desk: Desk, vehicle: VehicleRecord, form: Mapping[str, str]) -> str:
    """The text of the plan that a form says, once it reads; its refusal names the field."""
    from valuation.build.scenarios import plan_rules

    reader = plan_reader(desk, vehicle)
    try:
        text = text_from_form(form, book_of(reader.shop))
        plan_rules(reader.read(text))
    except PlanError as error:
        say_of_form(form, error)
        raise
    return text


def _line(desk: Desk, vehicle: VehicleRecord, text: str) -> PlanLine:
    return plan_line(desk.model(_table(desk, vehicle)), plan_reader(desk, vehicle).read(text))


def _line_at_hand(desk: Desk, vehicle: VehicleRecord, fields: PlanFields | None) -> PlanLine | None:
    """What the plan comes to where that can be said at once: its table is fitted, and what is typed reads."""
    table = _table(desk, vehicle)
    if fields is None or not desk.is_fitted(table):
        desk.warm(table)
        return None
    if not fields.steps:
        return None
    try:
        return _line(desk, vehicle, text_from_form(form_of(fields), book_of(shop_of(desk))))
    except (Refusal, ValuationError):
        return None  # the button below the cards says what is wrong


def _form_again(request: Request, desk: Desk, vehicle: VehicleRecord, form: Mapping[str, str]) -> str:
    return page_of(request, _context(desk, vehicle, typed_plan(form)))


def _context(
    desk: Desk, vehicle: VehicleRecord, fields: PlanFields | None, *, said: str = "", line: PlanLine | None = None
) -> PlansPage:
    kept, table, shop = kept_plans(desk.ledger, vehicle.subject), _table(desk, vehicle), shop_of(desk)
    record = kept.find(fields.number) if fields is not None and fields.number else None
    return PlansPage(
        title=f"Plans: {vehicle.subject}",
        here="/",
        vehicle=vehicle_head(desk, vehicle.subject),
        twin=f"/api/v1/vehicles/{vehicle.first}/plans",
        said=said,
        used=in_use(desk, table),
        number=vehicle.first,
        subject=vehicle.subject,
        table=table,
        plans=[(plan.first, plan.name) for plan in kept.standing],
        archived=[(plan.first, plan.name) for plan in kept.archived],
        plan=fields,
        shown=record.first if record else 0,
        line=line,
        needs=_needs(fields) if fields else "",
        rest=_rest(desk, vehicle, fields),
        groups=tuple((title, tuple(_usual(one, shop) for one in group)) for title, group in GROUPS),
        choices=settable(desk.schema(table), fields.steps if fields else ()),
        sources=sources(desk.ledger, shop, record.id if record else 0) if fields else [],
        currency=desk.comparables(table).currency,
    )


def _needs(fields: PlanFields) -> str:
    return still_needed(fields.name, any(step.is_told for step in fields.steps))


def _usual(one: NumberField, shop: Mapping[str, Any]) -> NumberField:
    return replace(one, usual=number_text(at(shop, one.path)))


def _rest(desk: Desk, vehicle: VehicleRecord, fields: PlanFields | None) -> str:
    if fields is None or not fields.number:  # a new plan has nothing of its own to say yet
        return ""
    try:
        return rest_in_words(plan_reader(desk, vehicle).read(fields.text))
    except (ValuationError, ValueError):
        return "What the text of the plan says cannot be read."


def _clash(form: Mapping[str, str], apart: list[Apart], newest: PlanRecord, v: int) -> ClashPage:
    names = {one.name for one in apart}
    address = f"/vehicles/{v}/plans"
    return ClashPage(
        title="Changed meanwhile",
        here="/",
        lead=f"The plan {newest.name} was changed at {newest.written_at:%H:%M}, after your page showed it. Nothing of "
        "yours was written yet.",
        action=address,
        button="Keep the plan with these choices",
        kept=[(name, text) for name, text in form.items() if name not in names],
        choices=[Choice(one.name, one.label, one.old, one.theirs, one.mine, one.mine) for one in apart],
        lost=[],
        back=f"{address}?plan={newest.first}",
    )
