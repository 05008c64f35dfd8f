"""Paths, steps and bands: what to pay, what to build, what to ask."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response

from api.answers import deal_answer
from api.dealing import keep_deal, with_shop
from api.deps import Number, TheDesk
from api.jobs import Job
from api.models.deal import (
    BandsAsked,
    DealAnswer,
    DealAsked,
    StepsAsked,
)
from api.problems import answers
from api.routes.estimates import Wait
from api.routes.jobs import ACCEPTED, answered
from valuation.answers.bands import bands as answer_bands
from valuation.answers.given import read_plans
from valuation.answers.paths import paths as answer_paths
from valuation.answers.steps import steps as answer_steps
from valuation.day import day_of
from valuation.paths.compare import PathsReport
from valuation.paths.steps import StepsReport
from valuation.sell.bands import PriceBands

router = APIRouter(prefix="/api/v1", tags=["deal"])
LONG: dict[int | str, dict[str, Any]] = {**answers(404, 409, 422, 500, 503), **ACCEPTED}


@router.post("/paths", response_model=PathsReport, responses=LONG, summary="Ways to go with a find, side by side")
def paths(desk: TheDesk, asked: DealAsked, wait: Wait = 60.0) -> Response:
    """Most to pay, profit and odds for each plan; selling as found is always among them."""
    table = desk.table(asked.table)
    asked = asked.model_copy(update={"plans": with_shop(desk, asked.plans)})
    plans, as_of = read_plans(asked.plans, desk.schema(table), steps_needed=False), day_of(asked.as_of)

    def compare(job: Job) -> PathsReport:
        model = desk.fit_first(job, table)
        job.report("comparing the paths", 0.6)
        found = job.compute(answer_paths, model, plans, as_of, price=asked.price, goal=asked.wanted())
        if asked.subject:
            inputs = {**asked.model_dump(mode="json"), "as_of": as_of.isoformat()}
            keep_deal(desk, table, asked.subject, "paths", inputs, found)
        return found

    return answered(desk.work("Comparing paths", compare), wait)


@router.post("/steps", response_model=StepsReport, responses=LONG, summary="Worth of each step of a build")
def steps(desk: TheDesk, asked: StepsAsked, wait: Wait = 60.0) -> Response:
    """What each step adds with the others in place, what it costs, and which to leave out."""
    table = desk.table(asked.table)
    (plan,) = read_plans(with_shop(desk, [asked.plan]), desk.schema(table))
    as_of = day_of(asked.as_of)

    def weigh(job: Job) -> StepsReport:
        model = desk.fit_first(job, table)
        job.report("weighing the steps", 0.6)
        return job.compute(
            answer_steps, model, plan, as_of, price=asked.price, budget=asked.budget, finish_by=asked.finish_by
        )

    return answered(desk.work(f"Steps of {plan.name}", weigh), wait)


@router.post("/bands", response_model=PriceBands, responses=LONG, summary="Floor, target and ask")
def bands(desk: TheDesk, asked: BandsAsked, wait: Wait = 60.0) -> Response:
    """Where to stop, what to expect and what to ask, and the most to pay for the find."""
    table = desk.table(asked.table)
    asked = asked.model_copy(update={"plan": with_shop(desk, [asked.plan])[0]})
    (plan,) = read_plans([asked.plan], desk.schema(table), steps_needed=False)
    as_of = day_of(asked.as_of)

    def set_bands(job: Job) -> PriceBands:
        model = desk.fit_first(job, table)
        job.report("setting the price", 0.6)
        found = job.compute(answer_bands, model, plan, as_of, price=asked.price, goal=asked.wanted())
        if asked.subject:
            inputs = {**asked.model_dump(mode="json"), "as_of": as_of.isoformat()}
            keep_deal(desk, table, asked.subject, "bands", inputs, found)
        return found

    return answered(desk.work(f"Bands of {plan.name}", set_bands), wait)


@router.get("/deals", responses=answers(409, 422), summary="Deal results in the ledger")
def list_deals(
    desk: TheDesk,
    subject: Annotated[str | None, Query(max_length=200)] = None,
    last: Annotated[int, Query(ge=1, le=200)] = 20,
) -> list[DealAnswer]:
    """The newest, oldest of them first."""
    return [deal_answer(desk, deal) for deal in desk.ledger.deals(subject, last=last)]


@router.get("/deals/{deal_id}", responses=answers(404, 409, 422), summary="One deal result")
def one_deal(desk: TheDesk, deal_id: Number) -> DealAnswer:
    """As it was written, with what it was computed from."""
    from valuation.ledger import DealRecord

    return deal_answer(desk, desk.record(DealRecord, deal_id))
