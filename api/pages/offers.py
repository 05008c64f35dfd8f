"""Offers as they come, what is answered, what was wrong, and the sale: the forms of a vehicle's price page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fastapi import APIRouter
from fastapi.responses import Response

from api.dealing import corrected
from api.deps import FormFields, Number, TheDesk
from api.forms import CONFIRM, amount, day, needed
from api.pages.render import go
from api.pages.vehicle_head import file_numbered
from api.problems import Refusal
from valuation.answers.kept import take_offer, take_sale
from valuation.answers.talks import sale_remark
from valuation.ledger.records import OFFER_ANSWERS, OfferRecord

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.ledger import EstimateRecord

router = APIRouter(include_in_schema=False)
LONGEST_NAME, LONGEST_REMARK = 200, 2000
"""Characters of what is typed that are kept."""


@router.post("/vehicles/{v}/offers")
def offer(desk: TheDesk, v: Number, form: FormFields) -> Response:
    """Write an offer as it came."""
    estimate = _estimate(desk, v)
    given = needed(form, "amount", "the amount of the offer", estimate.currency)
    when = day(form, "offered_on", "the day of the offer")
    who, remark = form.get("who", "")[:LONGEST_NAME], form.get("remark", "")[:LONGEST_REMARK]
    made = take_offer(desk.ledger, estimate, given, when, who=who, remark=remark, confirmed=CONFIRM in form)
    return go(f"/vehicles/{v}/price#offer-{made.first}")


@router.post("/vehicles/{v}/offers/{offer_id}/answer")
def answer(desk: TheDesk, v: Number, offer_id: Number, form: FormFields) -> Response:
    """Write the answer that was given to an offer."""
    told = form.get("answer", "")
    if told not in OFFER_ANSWERS[1:]:
        raise Refusal(422, "service.request", f"Cannot keep the answer {told!r}. Press one of the buttons.")
    record = desk.record(OfferRecord, offer_id)
    counter = needed(form, "counter", "the amount to ask for", record.currency) if told == "counter" else None
    desk.ledger.answer_offer(record.id, told, counter, confirmed=CONFIRM in form)
    return go(f"/vehicles/{v}/price#offers")


@router.post("/vehicles/{v}/offers/{offer_id}/correction")
def correct_offer(desk: TheDesk, v: Number, offer_id: Number, form: FormFields) -> Response:
    """Write an offer once more with what was wrong put right, or that it was never made."""
    record, withdraw = desk.record(OfferRecord, offer_id), "withdraw" in form
    changes: dict[str, Any] = {}
    if not withdraw:
        changes["amount"] = needed(form, "amount", "the amount of the offer", record.currency)
        changes["offered_on"] = day(form, "offered_on", "the day of the offer") or record.offered_on
        changes["who"] = form.get("who", record.who)[:LONGEST_NAME]
        if record.answer == "counter":
            changes["counter"] = amount(form, "counter", "what you asked for", record.currency) or record.counter
    corrected(
        desk, record, form.get("reason", "")[:LONGEST_NAME], changes, withdraw=withdraw, confirmed=CONFIRM in form
    )
    return go(f"/vehicles/{v}/price#offers")


@router.post("/vehicles/{v}/sale")
def sale(desk: TheDesk, v: Number, form: FormFields) -> Response:
    """Write the realised sale."""
    estimate = _estimate(desk, v)
    take_sale(
        desk.ledger,
        estimate,
        needed(form, "price", "the price paid", estimate.currency),
        day(form, "sold_on", "the day of the sale"),
        kind=form.get("kind", "private"),
        arms_length=not form.get("related"),
        remark=sale_remark(form.get("buyer", "")[:LONGEST_NAME], form.get("remark", "")[:LONGEST_REMARK]),
        confirmed=CONFIRM in form,
    )
    return go(f"/vehicles/{v}/price?said=The+sale+is+recorded.#sale")


def _estimate(desk: Desk, v: int) -> EstimateRecord:
    """The estimate that offers and sales of a vehicle are held against."""
    file = file_numbered(desk, v)
    if file.estimate is None:
        detail = f"Cannot write that for '{file.name}': it was not valued yet. Set floor, target and ask first."
        raise Refusal(409, "service.request", detail)
    return file.estimate
