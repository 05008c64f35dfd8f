"""Realised sales and the track record."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query

from api.answers import sale_answer
from api.dealing import corrected
from api.deps import Number, TheDesk
from api.models.deal import SaleAnswer, SaleAsked, SaleCorrection
from api.problems import answers
from valuation.answers.kept import take_sale
from valuation.answers.track_record import TrackRecord
from valuation.answers.track_record import track_record as look_back
from valuation.ledger.records import SaleRecord
from valuation.text.plain import plain

router = APIRouter(prefix="/api/v1", tags=["track record"])


@router.post("/sales", status_code=201, responses=answers(404, 409, 422), summary="Enter a realised sale")
def enter_sale(desk: TheDesk, asked: SaleAsked) -> SaleAnswer:
    """The track record sets it against the newest estimate of that vehicle made before the sale."""
    estimate = desk.estimate(asked.estimate)
    sale = take_sale(
        desk.ledger,
        estimate,
        asked.price,
        asked.sold_on,
        kind=asked.kind,
        arms_length=asked.arms_length,
        remark=asked.remark,
        confirmed=asked.confirm,
    )
    return sale_answer(sale, desk.ledger.clock_notes())


@router.post(
    "/sales/{sale_id}/corrections",
    status_code=201,
    responses=answers(404, 409, 422),
    summary="Correct or withdraw a realised sale",
)
def correct_sale(desk: TheDesk, sale_id: Number, asked: SaleCorrection) -> SaleAnswer:
    """Writes the sale once more with what was wrong put right; the mistaken record stays and is shown with it."""
    sale = desk.record(SaleRecord, sale_id)
    written = corrected(desk, sale, asked.reason, asked.changes(), withdraw=asked.withdraw, confirmed=asked.confirm)
    return sale_answer(written, desk.ledger.clock_notes())


@router.get("/sales", responses=answers(409, 422), summary="Realised sales")
def list_sales(desk: TheDesk, subject: Annotated[str | None, Query(max_length=200)] = None) -> list[SaleAnswer]:
    """In the order in which they were written."""
    return [sale_answer(sale) for sale in desk.ledger.sales(subject)]


@router.get("/track-record", response_model=TrackRecord, responses=answers(409), summary="How good the estimates were")
def track_record(desk: TheDesk) -> Any:
    """Share inside the interval, median error, bias and ratio study, with how little a small record can say."""
    return plain(look_back(desk.ledger))
