"""Plans of a vehicle, what one comes to, and the work by it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response

from api import tasks
from api.dealing import keep_deal, plan_reader
from api.deps import Number, TheDesk
from api.desk import MAX_NUMBER, Desk
from api.jobs import Job
from api.models.deal import GoalAsked
from api.models.shared import Amount, Asked, Day
from api.models.vehicle_plans import ArchiveAsked, ExtraAsked, LineAsked, PlanAsked, PlanKept, TickAsked
from api.pages.vehicle_head import file_numbered
from api.problems import Refusal, answers, not_found
from api.routes.estimates import Wait
from api.routes.jobs import ACCEPTED, answered
from api.work_on import look_at_work, work_at_hand
from valuation.answers.build import BuildAnswer
from valuation.answers.given import PlanData, read_plans
from valuation.answers.plan_line import PlanLine, plan_line
from valuation.answers.plans import PlanReader, copied, keep_plan
from valuation.answers.vehicle_file import plan_key
from valuation.answers.work import Work
from valuation.answers.work_kept import followed, keep_extra, keep_tick
from valuation.build.progress import ExtraCost
from valuation.build.terms import Goal
from valuation.build.ticks import Tick
from valuation.day import day_of
from valuation.errors import PlanError
from valuation.text.plain import plain
from valuation.text.toml import read_toml, toml_text

if TYPE_CHECKING:
    from valuation.ledger import PlanRecord

router = APIRouter(prefix="/api/v1/vehicles/{v}", tags=["plans"])
KEPT = answers(404, 409, 422, 503)
"""How a plan that is written may be refused."""
WORKED = {**answers(404, 409, 422, 500, 503), **ACCEPTED}
"""The same of what is worked out."""
Which = Annotated[int, Query(ge=0, le=MAX_NUMBER, description="Number of the plan; 0: the one that is followed.")]


class PayAsked(Asked):
    """At which price, goal and day the plans of a vehicle are compared."""

    price: Amount | None = None
    goal: GoalAsked | None = None
    as_of: Day | None = None


@router.get("/plans", responses=answers(404, 409, 422), summary="Plans of a vehicle")
def list_plans(desk: TheDesk, v: Number) -> list[PlanKept]:
    """Those that stand in the order in which they were first written, then those that are put away."""
    reader = _reader(desk, v)
    kept = reader.plans
    away = {plan.id for plan in kept.archived}
    return [_kept(reader, plan, plan.id in away) for plan in (*kept.standing, *kept.archived)]


@router.post("/plans", status_code=201, responses=KEPT, summary="Keep a plan, new or changed")
def keep(desk: TheDesk, v: Number, asked: PlanAsked) -> PlanKept:
    """With the record that it replaces a changed plan; refused where that was changed meanwhile."""
    from valuation.build.scenarios import plan_rules

    reader, text = _reader(desk, v), _text(asked.plan)
    plan = reader.read(text)
    plan_rules(plan)
    newest = None
    if asked.record is not None:
        newest = reader.plans.find(asked.record)
        if newest is None:
            raise not_found(f"a plan of {reader.vehicle.subject} with the record {asked.record}")
        if newest.id != asked.record:
            raise Refusal(
                409, "service.clash", f"Cannot change the plan '{newest.name}': record {newest.id} is newer than "
                f"{asked.record}. Nothing was written. Read the newer one and change that.",
            )  # fmt: skip
    return _kept(reader, keep_plan(reader.ledger, reader.vehicle, text, plan.name, newest))


@router.post("/plans/line", response_model=PlanLine, responses=WORKED, summary="What a plan comes to, in one line")
def line(desk: TheDesk, v: Number, asked: LineAsked, wait: Wait = 60.0) -> PlanLine | Response:
    """Of a plan that need not be kept."""
    reader = _reader(desk, v)
    plan = reader.read(_text(asked.plan))
    table = desk.table_for(reader.vehicle.subject, reader.vehicle.currency)

    def answer(*_: object) -> PlanLine:
        return plan_line(desk.model(table), plan)

    return answer() if desk.is_fitted(table) else answered(desk.warm(table), wait, answer)


@router.post("/plans/{number}/copy", status_code=201, responses=KEPT, summary="Copy a plan into another way")
def copy(desk: TheDesk, v: Number, number: Number) -> PlanKept:
    """Under a name of its own, and without what was done."""
    reader = _reader(desk, v)
    return _kept(reader, copied(reader.ledger, _find(reader, number)))


@router.post("/plans/{number}/archive", responses=KEPT, summary="Put a plan away, or bring it back")
def archive(desk: TheDesk, v: Number, number: Number, asked: ArchiveAsked) -> PlanKept:
    """What is put away is left out of comparisons and lists; nothing of it is lost."""
    reader = _reader(desk, v)
    record = _find(reader, number)
    desk.ledger.show_as("plan", plan_key(record.subject, record.name), archived=asked.archived)
    return _kept(reader, record, asked.archived)


@router.post("/pay", response_model=BuildAnswer, responses=WORKED, summary="Compare the plans of a vehicle")
def pay(desk: TheDesk, v: Number, asked: PayAsked, wait: Wait = 60.0) -> Response:
    """All plans that stand, and selling as found; the answer is kept."""
    reader = _reader(desk, v)
    own = reader.plans.standing
    if not own:
        detail = f"Cannot compare paths for '{reader.vehicle.subject}': it has no plan. Write one first."
        raise Refusal(422, "service.request", detail)
    texts = reader.whole([plan.text for plan in own])
    plans, as_of = read_plans(texts, reader.schema, steps_needed=False), day_of(asked.as_of)
    goal = plans[0].goal if asked.goal is None else Goal(**asked.goal.model_dump())
    table = desk.table_for(reader.vehicle.subject, reader.vehicle.currency)
    inputs = {"plans": texts, "price": asked.price, "goal": plain(goal), "as_of": as_of.isoformat(), "table": table.id}

    def compare(job: Job) -> BuildAnswer:
        model = desk.fit_first(job, table)
        found = job.compute(tasks.whole_build, model, plans, as_of, asked.price, goal)
        keep_deal(desk, table, reader.vehicle.subject, "build", inputs, found)
        return found

    return answered(desk.work(f"Comparing paths for {reader.vehicle.subject}", compare), wait)


@router.get("/work", response_model=Work, responses=WORKED, summary="The work on a vehicle")
def work(desk: TheDesk, v: Number, plan: Which = 0, wait: Wait = 60.0) -> Work | Response:
    """Steps, money and days against the plan, and the choice today."""
    reader = _reader(desk, v)
    return _work(desk, reader, _followed(reader, plan), wait)


@router.post("/work", response_model=Work, responses=WORKED, summary="Tick a step")
def tick(desk: TheDesk, v: Number, asked: TickAsked, wait: Wait = 60.0) -> Work | Response:
    """Done, begun, left out, or to do after all; the plan is written anew with it."""
    reader = _reader(desk, v)
    on = day_of(asked.on) if asked.state in ("done", "begun") else None
    told = Tick(asked.step, asked.state, on, asked.cost, asked.hours)
    return _work(desk, reader, keep_tick(reader, _followed(reader, asked.plan or 0), told), wait)


@router.post("/work/extra", response_model=Work, responses=WORKED, summary="Add a cost that no step planned")
def extra(desk: TheDesk, v: Number, asked: ExtraAsked, wait: Wait = 60.0) -> Work | Response:
    """It counts as spent, and for the overrun."""
    reader = _reader(desk, v)
    told = ExtraCost(asked.what, day_of(asked.on), asked.cost, asked.hours)
    return _work(desk, reader, keep_extra(reader, _followed(reader, asked.plan or 0), told), wait)


def _work(desk: Desk, reader: PlanReader, record: PlanRecord, wait: float) -> Work | Response:
    at_hand = partial(work_at_hand, desk, reader, record)
    return at_hand() or answered(look_at_work(desk, reader, record), wait, lambda job: at_hand())


def _reader(desk: Desk, v: int) -> PlanReader:
    return plan_reader(desk, file_numbered(desk, v).vehicle)


def _find(reader: PlanReader, number: int) -> PlanRecord:
    record = reader.plans.find(number)
    if record is None:
        raise not_found(f"plan {number} of {reader.vehicle.subject}")
    return record


def _followed(reader: PlanReader, number: int) -> PlanRecord:
    record = followed(reader, number)
    if record is None:
        raise not_found(f"a plan to follow for {reader.vehicle.subject}")
    return record


def _text(plan: PlanData) -> str:
    try:
        if isinstance(plan, str):
            read_toml(plan)
            return plan
        return toml_text(plan)
    except ValueError as error:
        raise PlanError(f"Cannot use the plan: it {error}. Mend that.", where="plan") from error


def _kept(reader: PlanReader, plan: PlanRecord, archived: bool = False) -> PlanKept:
    return PlanKept(
        number=plan.first,
        record=plan.id,
        subject=plan.subject,
        name=plan.name,
        archived=archived,
        written_at=plan.written_at,
        text=plan.text,
        whole=plain(read_toml(str(reader.whole([plan.text])[0]))),
    )
