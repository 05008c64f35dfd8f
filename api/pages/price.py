"""The Price and offers page: floor, target and ask, offers as they come, the answer to this one, the sale."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.dealing import bands_again, corrected, keep_deal
from api.deps import FormFields, Number, TableNumber, TheDesk, TheSettings
from api.forms import CONFIRM, amount, day, needed
from api.jobs import Job
from api.pages.in_use import in_use
from api.pages.pictures import Picture, picture
from api.pages.render import Page, go, locale_of, page
from api.pages.work import follow
from api.problems import Refusal
from valuation.answers.bands import bands as answer_bands
from valuation.answers.kept import (
    KeptBands,
    advice_on,
    kept_bands,
    offers_for,
    sold_as_it_stands,
    take_offer,
    take_sale,
)
from valuation.build.terms import SaleTerms
from valuation.day import day_of
from valuation.ledger.corrections import Change, corrections_of
from valuation.ledger.records import OFFER_ANSWERS, SALE_KINDS, OfferRecord
from valuation.notes import Note
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.ledger import EstimateRecord, SaleRecord
    from valuation.sell.bands import PriceBands

router = APIRouter()

SALE_FIELDS = (
    ("put_in", "What you have put in so far", "", "moves the break-even, never the floor"),
    ("offers_per_month", "Serious offers a month", "2", "0.5 is one in two months"),
    ("weeks_to_sell", "Weeks such a sale takes", "6", "from being for sale to being paid"),
    ("holding_per_week", "Holding, money per week", "", "storage, insurance"),
    ("fee_percent", "Seller's fee, percent", "", "of what the buyer pays"),
    ("fees", "Other costs of selling", "", "advertising, transport"),
)
"""Form fields of the sale: name, title, proposal, hint."""

_USUAL = SaleTerms()
WAY_FIELDS = (
    ("reach_percent", "Buyers reached, percent", f"{_USUAL.reach_percent:g}", "of those that usually come"),
    ("auction_fee_percent", "Auction: seller's fee, percent", f"{_USUAL.auction_fee_percent:g}", "of the hammer price"),
    (
        "auction_premium_percent", "Auction: buyer's premium, percent", f"{_USUAL.auction_premium_percent:g}",
        "on the hammer price",
    ),
    ("auction_bidders", "Auction: bidders", f"{_USUAL.auction_bidders}", "who would bid for it, 2 or more"),
    ("trade_under_percent", "Trade: under the estimate, percent", f"{_USUAL.trade_under_percent:g}", "paid at once"),
    (
        "consignment_fee_percent", "Consignment: fee, percent", f"{_USUAL.consignment_fee_percent:g}",
        "of what the buyer pays",
    ),
)  # fmt: skip
"""The same of where it could be sold; the proposals are common practice."""

TERMS = SALE_FIELDS + WAY_FIELDS


@dataclass(frozen=True)
class OfferShown:
    """An offer with the advice on it.

    Attributes
    ----------
    record : OfferRecord
    place : int
        In the order in which they came, from 1.
    advice : dict
        As the JSON answer.
    corrections : tuple of Change
        What it replaced.
    """

    record: OfferRecord
    place: int
    advice: dict[str, Any]
    corrections: tuple[Change, ...]


@dataclass(frozen=True, kw_only=True)
class PricePage(Page):
    """The price of one vehicle, and the talks about it.

    Attributes
    ----------
    known : list of EstimateRecord
        Vehicles to choose from: the newest estimate of each, of the table in use where there is one.
    estimate : EstimateRecord or None
        The one chosen.
    sale_fields, way_fields : tuple
    values : dict of str to str
        What the sale's fields hold.
    deadline : str
    bands : dict
        As the JSON answer; empty before the price is set.
    picture : Picture or None
    offers : list of OfferShown
    sales : list of SaleRecord
        Realised sales of this vehicle.
    kinds, answers : tuple of str
        Kinds of a sale, and answers to an offer.
    today : date
    currency : str
    clock : tuple of Note
        That this computer's clock is behind, if it is.
    """

    template = "price.html"
    known: list[EstimateRecord]
    estimate: EstimateRecord | None
    sale_fields: tuple[tuple[str, str, str, str], ...] = SALE_FIELDS
    way_fields: tuple[tuple[str, str, str, str], ...] = WAY_FIELDS
    values: dict[str, str]
    deadline: str
    bands: dict[str, Any]
    picture: Picture | None
    offers: list[OfferShown]
    sales: list[SaleRecord]
    kinds: tuple[str, ...] = SALE_KINDS
    answers: tuple[str, ...] = OFFER_ANSWERS[1:]
    today: dt.date
    currency: str
    clock: tuple[Note, ...]


@router.get("/price")
def price(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    estimate: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
    table: TableNumber = None,
    said: Annotated[str, Query(max_length=300)] = "",
) -> Response:
    """The price of a vehicle."""
    if not desk.ledger.tables():
        return go("/")
    chosen = desk.estimate(estimate) if estimate else None
    own = desk.table_of(chosen) if chosen else desk.table(table) if table else None
    known = desk.known(own)
    if chosen is None and len(known) == 1:
        chosen, own = known[0], desk.table_of(known[0])
    values = {name: proposal for name, _, proposal, _ in TERMS}
    bands, shown, deadline, chart = {}, [], "", None
    offers = offers_for(desk.ledger, chosen.subject) if chosen else []
    if chosen is not None:
        here, kept = f"/price?estimate={chosen.id}", kept_bands(desk.ledger, chosen.subject, chosen.currency)
        behind = kept.table if kept else desk.table_of(chosen)
        if not desk.is_fitted(behind) or (kept and desk.remembered(kept.key) is None):
            if kept is None:
                job = desk.warm(behind, here)
            else:
                job = desk.join(f"Setting the price of {chosen.subject}", partial(_again, desk, kept, here), here)
            return follow(request, job, lambda job: price(request, desk, settings, estimate, table, said))
        if kept is not None:
            found, inputs = desk.remembered(kept.key), kept.inputs
            bands, deadline = plain(found), inputs.get("deadline", "")
            values |= inputs.get("form", {})
            shown = [
                OfferShown(o, i, plain(advice_on(desk.ledger, o, found, kept.plan.sale)), corrections_of(o))
                for i, o in enumerate(offers, 1)
            ]
            told = tuple(offer.id for offer in offers)
            chart = desk.remember(
                ("price picture", kept.deal, told), lambda: _picture(desk, chosen, found, bands, offers, settings)
            )
    context = PricePage(
        title=f"Price: {chosen.subject}" if chosen else "Price and offers",
        here="/price",
        twin=f"/api/v1/offers?subject={chosen.subject}" if chosen else "/api/v1/deals",
        said=said,
        used=in_use(desk, own, "" if chosen else "/price?table=") if own else None,
        known=known,
        estimate=chosen,
        values=values,
        deadline=deadline,
        bands=bands,
        picture=chart,
        offers=shown,
        sales=list(desk.ledger.sales(chosen.subject)) if chosen else [],
        today=day_of(),
        currency=chosen.currency if chosen else "",
        clock=desk.ledger.clock_notes(),
    )
    return page(request, context)


@router.post("/price/{estimate_id}")
def set_price(request: Request, desk: TheDesk, estimate_id: Number, form: FormFields) -> Response:
    """Set floor, target and ask, and keep them in the ledger."""
    estimate = desk.estimate(estimate_id)
    table = desk.table_of(estimate)
    fields = {name: form.get(name, "").strip() for name, *_ in TERMS}
    given = {name: amount(form, name, f"'{title}'", estimate.currency) for name, title, *_ in TERMS}
    deadline = day(form, "deadline", "the deadline")
    plan, read = sold_as_it_stands(desk.ledger, desk.schema(table), estimate, given, deadline)
    as_of = day_of()
    inputs = {
        "plan": plan, "as_of": as_of.isoformat(), "price": given["put_in"], "goal": None, "form": fields,
        "deadline": deadline.isoformat() if deadline else "",
    }  # fmt: skip

    def work(job: Job) -> str:
        model = desk.fit_first(job, table)
        job.report("setting the price", 0.7)
        bands = job.compute(answer_bands, model, read, as_of, price=given["put_in"])
        keep_deal(desk, table, estimate.subject, "bands", inputs, bands)
        return f"/price?estimate={estimate_id}"

    return follow(request, desk.work(f"Setting the price of {estimate.subject}", work))


@router.post("/price/{estimate_id}/offers")
def offer(desk: TheDesk, estimate_id: Number, form: FormFields) -> Response:
    """Write an offer as it came."""
    estimate = desk.estimate(estimate_id)
    given = needed(form, "amount", "the amount of the offer", estimate.currency)
    when = day(form, "offered_on", "the day of the offer")
    who, remark = form.get("who", "")[:200], form.get("remark", "")[:2000]
    take_offer(desk.ledger, estimate, given, when, who=who, remark=remark, confirmed=CONFIRM in form)
    return go(f"/price?estimate={estimate_id}#offers")


@router.post("/price/{estimate_id}/offers/{offer_id}/correction")
def correct_offer(desk: TheDesk, estimate_id: Number, offer_id: Number, form: FormFields) -> Response:
    """Write an offer once more with what was wrong put right, or that it was never made."""
    record, withdraw = desk.record(OfferRecord, offer_id), "withdraw" in form
    changes: dict[str, Any] = {}
    if not withdraw:
        changes["amount"] = needed(form, "amount", "the amount of the offer", record.currency)
        changes["offered_on"] = day(form, "offered_on", "the day of the offer") or record.offered_on
        changes["who"] = form.get("who", record.who)[:200]
    corrected(desk, record, form.get("reason", "")[:200], changes, withdraw=withdraw, confirmed=CONFIRM in form)
    return go(f"/price?estimate={estimate_id}#offers")


@router.post("/price/{estimate_id}/offers/{offer_id}")
def answer(desk: TheDesk, estimate_id: Number, offer_id: Number, form: FormFields) -> Response:
    """Write the answer that was given to an offer."""
    told = form.get("answer", "")
    if told not in OFFER_ANSWERS[1:]:
        raise Refusal(
            422, "service.request", f"Cannot keep the answer {told!r}. Choose one of the list.", where="answer"
        )
    currency = desk.estimate(estimate_id).currency
    counter = needed(form, "counter", "the amount of the counter", currency) if told == "counter" else None
    record = desk.record(OfferRecord, offer_id)
    desk.ledger.answer_offer(record.id, told, counter, confirmed=CONFIRM in form)
    return go(f"/price?estimate={estimate_id}#offers")


@router.post("/price/{estimate_id}/sale")
def sale(desk: TheDesk, estimate_id: Number, form: FormFields) -> Response:
    """Write the realised sale."""
    estimate = desk.estimate(estimate_id)
    take_sale(
        desk.ledger,
        estimate,
        needed(form, "price", "the price paid", estimate.currency),
        day(form, "sold_on", "the day of the sale"),
        kind=form.get("kind", "private"),
        arms_length=not form.get("related"),
        remark=form.get("remark", "")[:2000],
        confirmed=CONFIRM in form,
    )
    return go("/track-record?said=The+sale+is+recorded.")


def _again(desk: TheDesk, kept: KeptBands, here: str, job: Job) -> str:
    bands_again(desk, job, kept)
    return here


def _picture(
    desk: TheDesk,
    estimate: EstimateRecord,
    found: PriceBands,
    bands: Mapping[str, Any],
    offers: list[OfferRecord],
    settings: TheSettings,
) -> Picture:
    from valuation.regression.price_curve import price_curve
    from valuation.sheets.bands_chart import bands_picture

    model = desk.model_kept(estimate.model_id)
    distribution = model.distribution([desk.vehicle_of(estimate)], found.sale_date)
    curve = plain(price_curve(distribution))
    told = [{"amount": one.amount, "who": one.who} for one in offers]
    chart = bands_picture(curve, bands, told, found.currency, locale_of(settings))
    return picture(chart, "Floor, target and ask, with the distribution of the price behind them")
