"""Offers as they come, and what to answer."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query

from api.answers import offer_answer
from api.dealing import bands_again, corrected
from api.deps import Number, TheDesk
from api.jobs import Awaited, Job
from api.models.deal import GivenAnswer, OfferAnswerModel, OfferAsked, OfferCorrection
from api.pages.vehicle_head import file_numbered
from api.problems import answers
from api.routes.jobs import still_at_it
from valuation.answers.kept import advice_on, kept_bands, offers_for, take_offer
from valuation.answers.talks import TalksAnswer, talks
from valuation.ledger.records import OfferRecord

router = APIRouter(prefix="/api/v1/offers", tags=["offers"])
of_vehicle = APIRouter(prefix="/api/v1/vehicles/{v}", tags=["offers"])
BANDS_SECONDS = 60.0
"""How long an offer waits for the bands that it is answered from; it is written after that, or not at all."""


@router.post(
    "",
    status_code=201,
    response_model=OfferAnswerModel,
    responses=answers(404, 409, 422, 503),
    summary="Enter an offer",
)
def enter_offer(desk: TheDesk, asked: OfferAsked) -> Any:
    """Writes the offer; where bands are kept for the vehicle, also says accept, counter or hold, and why."""
    estimate = desk.estimate(asked.estimate)
    kept = kept_bands(desk.ledger, estimate.subject)

    def write(job: Job | None = None) -> OfferAnswerModel:
        offer = take_offer(
            desk.ledger,
            estimate,
            asked.amount,
            asked.offered_on,
            currency=asked.currency,
            who=asked.who,
            remark=asked.remark,
            confirmed=asked.confirm,
        )
        bands = desk.remembered(kept.key) if kept else None
        advice = advice_on(desk.ledger, offer, bands, kept.plan.sale) if kept and bands else None
        return offer_answer(offer, advice, desk.ledger.clock_notes())

    if kept is None or desk.remembered(kept.key) is not None:
        return write()
    job = desk.join(f"Setting the price of {estimate.subject}", lambda job: bands_again(desk, job, kept))
    return Awaited(job, BANDS_SECONDS, write, still_at_it)


@router.get("", responses=answers(409, 422), summary="Offers in the ledger")
def list_offers(
    desk: TheDesk, subject: Annotated[str, Query(max_length=200, description="The vehicle.")]
) -> list[OfferAnswerModel]:
    """Oldest first."""
    return [offer_answer(offer) for offer in offers_for(desk.ledger, subject)]


@of_vehicle.get(
    "/offers", response_model=TalksAnswer, responses=answers(404, 409, 422, 503), summary="The talks about a vehicle"
)
def talks_about(desk: TheDesk, v: Number) -> Any:
    """A thread for each buyer with what to answer now, and the sale; without a price that is set, without advice."""
    file = file_numbered(desk, v)
    kept = kept_bands(desk.ledger, file.subject, file.currency)

    def read(job: Job | None = None) -> TalksAnswer:
        bands = desk.remembered(kept.key) if kept else None
        return talks(desk.ledger, file.subject, file.currency, bands, kept.plan.sale if kept else None)

    if kept is None or desk.remembered(kept.key) is not None:
        return read()
    job = desk.join(f"Setting the price of {file.name}", lambda job: bands_again(desk, job, kept))
    return Awaited(job, BANDS_SECONDS, read, still_at_it)


@router.post("/{offer_id}/answer", status_code=201, responses=answers(404, 409, 422), summary="Enter the answer given")
def give_answer(desk: TheDesk, offer_id: Number, given: GivenAnswer) -> OfferAnswerModel:
    """Writes what was answered as the next record of the offer."""
    offer = desk.record(OfferRecord, offer_id)
    return offer_answer(desk.ledger.answer_offer(offer.id, given.answer, given.counter, confirmed=given.confirm))


@router.post(
    "/{offer_id}/corrections", status_code=201, responses=answers(404, 409, 422), summary="Correct or withdraw an offer"
)
def correct_offer(desk: TheDesk, offer_id: Number, asked: OfferCorrection) -> OfferAnswerModel:
    """Writes the offer once more with what was wrong put right; the mistaken record stays and is shown with it."""
    offer = desk.record(OfferRecord, offer_id)
    written = corrected(desk, offer, asked.reason, asked.changes(), withdraw=asked.withdraw, confirmed=asked.confirm)
    return offer_answer(written, notes=desk.ledger.clock_notes())
