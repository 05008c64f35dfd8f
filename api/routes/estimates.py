"""Estimates and the evidence behind them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import JSONResponse, Response

from api import tasks
from api.answers import kept_estimate
from api.deps import Number, TheDesk
from api.jobs import Job
from api.models.estimates import BackTestAnswer, EstimateAnswer, EstimateAsked, EvidenceAnswer
from api.problems import answers
from api.routes.jobs import ACCEPTED, answered
from valuation.day import day_of
from valuation.text.plain import plain

router = APIRouter(tags=["estimates"])
Wait = Annotated[float, Query(ge=0, le=600, description="Seconds to wait before the answer is a job (202).")]


@router.post(
    "/estimates",
    status_code=201,
    response_model=EstimateAnswer,
    responses={**answers(404, 409, 422, 500, 503), **ACCEPTED},
    summary="Value a vehicle",
)
def make_estimate(desk: TheDesk, asked: EstimateAsked, wait: Wait = 60.0) -> Response:
    """Answers at once when the table is fitted already; the first question to a table waits for its fit."""
    from valuation.schema import parse_vehicle

    table = desk.table(asked.table)
    vehicle = parse_vehicle(asked.vehicle.model_dump(), desk.schema(table))
    as_of = day_of(asked.as_of)

    def value(job: Job | None = None) -> Response:
        if asked.record:
            record, summary = desk.keep_estimate(table, vehicle, as_of, asked.coverage)
            return _made(summary, table.id, record.id)
        return _made(desk.value(table, vehicle, as_of, asked.coverage), table.id, None)

    return value() if desk.is_fitted(table) else answered(desk.warm(table), wait, value)


def _made(summary: Mapping[str, Any], table: int, number: int | None) -> Response:
    body = {"id": number, "table": table, **summary}
    try:
        text = json.dumps(body, allow_nan=False, separators=(",", ":"))
    except ValueError:  # an interval with an open end, which JSON has no word for
        text = json.dumps(plain(body), allow_nan=False, separators=(",", ":"))
    return Response(text, 201, media_type="application/json")


@router.get("/estimates", responses=answers(409, 422), summary="Estimates in the ledger")
def list_estimates(
    desk: TheDesk,
    subject: Annotated[str | None, Query(max_length=200)] = None,
    last: Annotated[int, Query(ge=1, le=500)] = 50,
) -> list[EstimateAnswer]:
    """The newest, oldest of them first."""
    found = desk.ledger.estimates(subject, last=last)
    return [EstimateAnswer.model_validate(kept_estimate(desk, one)) for one in found]


@router.get("/estimates/{estimate_id}", responses=answers(404, 409, 422), summary="One estimate")
def one_estimate(desk: TheDesk, estimate_id: Number) -> EstimateAnswer:
    """As it was written."""
    return EstimateAnswer.model_validate(kept_estimate(desk, desk.estimate(estimate_id)))


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
    return answered(job, wait, lambda job: JSONResponse({"id": estimate.id, "evidence": job.result}))


@router.post(
    "/comparables/{table_id}/back-test",
    response_model=BackTestAnswer,
    responses={**answers(404, 409, 422, 500, 503), **ACCEPTED},
    summary="How the method fares on a table",
)
def back_test(desk: TheDesk, table_id: Number, wait: Wait = 60.0) -> Response:
    """Each sale priced from earlier ones only; how far to trust the number at this size, in words."""
    table = desk.table(table_id)

    def test(job: Job) -> dict[str, Any]:
        job.report("reading the table", 0.05)
        return job.compute(tasks.back_test, desk.comparables(table))

    return answered(desk.work(f"Back-test of {table.name}", test), wait, lambda job: JSONResponse(job.result))
