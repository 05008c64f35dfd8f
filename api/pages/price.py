"""What to ask for a vehicle: floor, target and ask, the talks with each buyer, and the sale."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.dealing import bands_again, keep_deal, with_shop
from api.deps import FormFields, Number, TheDesk, TheSettings
from api.forms import amount, day
from api.jobs import Job
from api.pages.in_use import in_use
from api.pages.pictures import Picture, picture
from api.pages.render import Page, go, locale_of, page
from api.pages.vehicle_head import file_numbered, head_of, vehicle_address
from api.pages.work import follow
from valuation.answers.bands import bands as answer_bands
from valuation.answers.kept import KeptBands, kept_bands
from valuation.answers.sales_of_table import sales_to_take_in
from valuation.answers.selling import bare, estimate_to_sell_by, sold_as_it_stands, terms_known
from valuation.answers.so_far import as_it_stands, outlay_so_far
from valuation.answers.talks import TalksAnswer, talks
from valuation.build.terms import SaleTerms
from valuation.day import day_of
from valuation.ledger.records import SALE_KINDS
from valuation.notes import Note
from valuation.text.plain import plain

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.answers.vehicle_file import VehicleFile
    from valuation.ledger import EstimateRecord, TableRecord
    from valuation.sell.bands import PriceBands

router = APIRouter(include_in_schema=False)
COVERAGE = 0.8
"""Of an estimate that is made with the price: that of every estimate unless told otherwise."""

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


@dataclass(frozen=True, kw_only=True)
class PricePage(Page):
    """The price of one vehicle, and the talks about it.

    Attributes
    ----------
    number : int
        The vehicle's.
    subject : str
        Its key.
    valued : bool
        Whether it was valued: offers are written from then on.
    due : bool
        Whether work was finished since the price was set.
    sale_fields, way_fields : tuple
    values : mapping of str to str
        What the sale's fields hold.
    deadline : str
    as_nothing : str
        What was not told and counts as nothing.
    bands : dict
        As the JSON answer; empty before the price is set.
    picture, talks_picture : Picture or None
    talks : TalksAnswer
    kinds : tuple of str
        Of a sale.
    sales_table : TableRecord or None
        Into which a realised sale can be taken.
    to_take_in : frozenset of int
        Numbers of the sales that it does not hold yet.
    today : date
    currency : str
    clock : tuple of Note
        That this computer's clock is behind, if it is.
    """

    template = "price.html"
    number: int
    subject: str
    valued: bool
    due: bool
    sale_fields: tuple[tuple[str, str, str, str], ...] = SALE_FIELDS
    way_fields: tuple[tuple[str, str, str, str], ...] = WAY_FIELDS
    values: Mapping[str, str]
    deadline: str
    as_nothing: str
    bands: dict[str, Any]
    picture: Picture | None
    talks_picture: Picture | None
    talks: TalksAnswer
    kinds: tuple[str, ...] = SALE_KINDS
    sales_table: TableRecord | None
    to_take_in: frozenset[int]
    today: dt.date
    currency: str
    clock: tuple[Note, ...]


@router.get("/price")
def old_price(desk: TheDesk, estimate: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0) -> Response:
    """Where the price stood before vehicles had pages of their own."""
    return go(f"{vehicle_address(desk, desk.estimate(estimate).subject)}/price" if estimate else "/")


@router.get("/vehicles/{v}/price")
def price(
    request: Request,
    desk: TheDesk,
    settings: TheSettings,
    v: Number,
    said: Annotated[str, Query(max_length=300)] = "",
) -> Response:
    """The price of a vehicle."""
    file = file_numbered(desk, v)
    kept, due = kept_bands(desk.ledger, file.subject, file.currency), estimate_to_sell_by(desk, file.subject)
    found = None if kept is None else desk.remembered(kept.key)
    if kept is not None and (found is None or not desk.is_fitted(kept.table)):
        here = f"/vehicles/{v}/price"
        job = desk.join(f"Setting the price of {file.name}", partial(_again, desk, kept, here), here)
        return follow(request, job, lambda job: price(request, desk, settings, v, said))
    known = terms_known(kept, _shop(desk, file), outlay_so_far(desk, file.subject))
    own = desk.table_for(file.subject, file.currency)
    newest = desk.newest_of(own.name)
    told = talks(desk.ledger, file.subject, file.currency, found, kept.plan.sale if kept else None)
    context = PricePage(
        title=f"What to ask: {file.name}",
        here="/",
        vehicle=head_of(desk, file),
        twin=f"/api/v1/vehicles/{v}/offers",
        said=said,
        used=in_use(desk, own),
        number=v,
        subject=file.subject,
        valued=file.estimate is not None,
        due=kept is not None and file.estimate is not None and due is None,
        values=known.values,
        deadline=known.deadline,
        as_nothing=known.as_nothing,
        bands=plain(found) if found is not None else {},
        picture=_bands_picture(desk, file, kept, found, told, settings) if kept and found else None,
        talks_picture=_talks_picture(told, settings) if told.threads else None,
        talks=told,
        sales_table=newest,
        to_take_in=frozenset(one.id for one in sales_to_take_in(desk, newest)) if newest and told.sold else frozenset(),
        today=day_of(),
        currency=file.currency,
        clock=desk.ledger.clock_notes(),
    )
    return page(request, context)


@router.post("/vehicles/{v}/price")
def set_price(request: Request, desk: TheDesk, v: Number, form: FormFields) -> Response:
    """Set floor, target and ask for the vehicle as it stands, and keep them in the ledger."""
    file = file_numbered(desk, v)
    table = desk.table_for(file.subject, file.currency)
    fields = {name: form.get(name, "").strip() for name, *_ in TERMS}
    given = {name: amount(form, name, f"'{title}'", file.currency) for name, title, *_ in TERMS}
    deadline = day(form, "deadline", "the deadline")
    as_of, there = day_of(), estimate_to_sell_by(desk, file.subject)
    stands = as_it_stands(desk, file.subject) if there is None else None
    shop = _shop(desk, file)
    if there is not None:
        table = desk.table_of(there)
        plan, read = sold_as_it_stands(desk.ledger, desk.schema(table), there, given, deadline, shop)

    def work(job: Job) -> str:
        model = desk.fit_first(job, table)
        if there is None and stands is not None:
            job.report("valuing it as it stands", 0.6)
            estimate, _ = desk.keep_estimate(table, stands, as_of, COVERAGE)
            own, sold = sold_as_it_stands(desk.ledger, desk.schema(table), estimate, given, deadline, shop)
        else:
            own, sold = plan, read
        job.report("setting the price", 0.7)
        bands = job.compute(answer_bands, model, sold, as_of, price=given["put_in"])
        inputs = {
            "plan": own, "as_of": as_of.isoformat(), "price": given["put_in"], "goal": None, "form": fields,
            "deadline": deadline.isoformat() if deadline else "",
        }  # fmt: skip
        keep_deal(desk, table, file.subject, "bands", inputs, bands)
        return f"/vehicles/{v}/price"

    return follow(request, desk.work(f"Setting the price of {file.name}", work))


def _shop(desk: Desk, file: VehicleFile) -> Mapping[str, Any]:
    """A plan for the vehicle as data, with what the shop's settings say."""
    (data,) = with_shop(desk, [bare(file.subject, {}, file.currency)])
    assert isinstance(data, Mapping)
    return data


def _again(desk: TheDesk, kept: KeptBands, here: str, job: Job) -> str:
    bands_again(desk, job, kept)
    return here


def _bands_picture(
    desk: Desk, file: VehicleFile, kept: KeptBands, found: PriceBands, told: TalksAnswer, settings: TheSettings
) -> Picture:
    from valuation.sheets.bands_chart import bands_picture

    offers = [{"amount": one.newest.amount, "who": one.buyer} for one in told.threads]

    def draw() -> Picture:
        curve = _curve(desk, file.estimate, found) if file.estimate is not None else []
        chart = bands_picture(curve, plain(found), offers, found.currency, locale_of(settings))
        return picture(chart, "Floor, target and ask, with the distribution of the price behind them")

    return desk.remember(("price picture", kept.deal, tuple(one.newest.offer for one in told.threads)), draw)


def _curve(desk: Desk, estimate: EstimateRecord, found: PriceBands) -> list[dict[str, Any]]:
    from valuation.regression.price_curve import price_curve

    distribution = desk.model_kept(estimate.model_id).distribution([desk.vehicle_of(estimate)], found.sale_date)
    curve: list[dict[str, Any]] = plain(price_curve(distribution))
    return curve


def _talks_picture(told: TalksAnswer, settings: TheSettings) -> Picture:
    from valuation.sheets.talks_chart import talks_picture

    chart = talks_picture(
        plain(told.threads),
        plain(told.floors),
        told.ask,
        told.floor,
        told.floor_on,
        told.currency,
        locale_of(settings),
        sold=bool(told.sold),
    )
    return picture(chart, "The talks, day by day")
