"""Estimates and the evidence behind them."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response

from api import tasks
from api.answers import kept_estimate
from api.deps import Number, TheDesk
from api.jobs import Job
from api.models.estimates import EstimateAsked, EvidenceAnswer
from api.problems import answers
from api.routes.jobs import ACCEPTED, answered
from valuation.answers.kept_estimates import KeptEstimate
from valuation.day import day_of
from valuation.evidence.unseen import BackTest

router = APIRouter(prefix="/api/v1", tags=["estimates"])
Wait = Annotated[float, Query(ge=0, le=600, description="Seconds to wait before the answer is a job (202).")]


@router.post(
    "/estimates",
    status_code=201,
    response_model=KeptEstimate,
    responses={**answers(404, 409, 422, 500, 503), **ACCEPTED},
    summary="Value a vehicle",
)
def make_estimate(desk: TheDesk, asked: EstimateAsked, wait: Wait = 60.0) -> Any:
    """Answers at once when the table is fitted already; the first question to a table waits for its fit."""
    from valuation.schema import parse_vehicle

    table = desk.table(asked.table)
    vehicle = parse_vehicle(asked.vehicle.model_dump(), desk.schema(table))
    as_of = day_of(asked.as_of)

    def value(job: Job | None = None) -> KeptEstimate:
        if asked.record:
            record, found = desk.keep_estimate(table, vehicle, as_of, asked.coverage)
            return KeptEstimate.of(found, record.id, table.id)
        return KeptEstimate.of(desk.value(table, vehicle, as_of, asked.coverage), None, table.id)

    return value() if desk.is_fitted(table) else answered(desk.warm(table), wait, value)


@router.get(
    "/estimates", response_model=list[KeptEstimate], responses=answers(409, 422), summary="Estimates in the ledger"
)
def list_estimates(
    desk: TheDesk,
    subject: Annotated[str | None, Query(max_length=200)] = None,
    last: Annotated[int, Query(ge=1, le=500)] = 50,
) -> Any:
    """The newest, oldest of them first."""
    return [kept_estimate(desk, one) for one in desk.ledger.estimates(subject, last=last)]


@router.get(
    "/estimates/{estimate_id}", response_model=KeptEstimate, responses=answers(404, 409, 422), summary="One estimate"
)
def one_estimate(desk: TheDesk, estimate_id: Number) -> Any:
    """As it was written."""
    return kept_estimate(desk, desk.estimate(estimate_id))


@router.get(
    "/estimates/{estimate_id}/evidence",
    response_model=EvidenceAnswer,
    responses={**answers(404, 409, 422, 500, 503), **ACCEPTED},
    summary="What an estimate rests on",
)
def evidence(desk: TheDesk, estimate_id: Number, wait: Wait = 60.0) -> Response:
    """Effects in percent and money, the adjustment grid, influence of each sale, trend, gaps of the table."""
    estimate = desk.estimate(estimate_id)
    job = desk.join(f"Evidence for {estimate.subject}", lambda job: desk.evidence(job, estimate), str(estimate_id))
    return answered(job, wait, lambda job: {"id": estimate.id, "evidence": job.result})


@router.post(
    "/comparables/{table_id}/back-test",
    response_model=BackTest,
    responses={**answers(404, 409, 422, 500, 503), **ACCEPTED},
    summary="How the method fares on a table",
)
def back_test(desk: TheDesk, table_id: Number, wait: Wait = 60.0) -> Response:
    """Each sale priced from earlier ones only; how far to trust the number at this size, in words."""
    table = desk.table(table_id)

    def test(job: Job) -> BackTest:
        job.report("reading the table", 0.05)
        return desk.remember(("back-test", table.id), lambda: job.compute(tasks.back_test, desk.comparables(table)))

    return answered(desk.work(f"Back-test of {table.name}", test), wait)
