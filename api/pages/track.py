"""The Track record page: estimates made before a sale against the price realised, with how little a short one says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.dealing import corrected
from api.deps import FormFields, Number, TheDesk, TheSettings
from api.forms import CONFIRM, day, needed
from api.pages.pictures import Picture, picture
from api.pages.render import Page, go, locale_of, page
from valuation.answers.track_record import TrackRecord, track_record
from valuation.ledger.corrections import Change, corrections_of
from valuation.ledger.records import SALE_KINDS, SaleRecord
from valuation.notes import Note
from valuation.text.plain import plain

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class SaleShown:
    """A realised sale.

    Attributes
    ----------
    record : SaleRecord
    corrections : tuple of Change
        What it replaced.
    """

    record: SaleRecord
    corrections: tuple[Change, ...]


@dataclass(frozen=True, kw_only=True)
class TrackPage(Page):
    """How good the estimates were.

    Attributes
    ----------
    record : TrackRecord
    pictures : list of Picture
        One for each group.
    sales : list of SaleShown
        Every realised sale, withdrawn ones too.
    kinds : tuple of str
        How a sale comes about.
    clock : tuple of Note
        That this computer's clock is behind, if it is.
    """

    template = "track.html"
    record: TrackRecord
    pictures: list[Picture]
    sales: list[SaleShown]
    kinds: tuple[str, ...] = SALE_KINDS
    clock: tuple[Note, ...]


@router.get("/track-record")
def track(
    request: Request, desk: TheDesk, settings: TheSettings, said: Annotated[str, Query(max_length=300)] = ""
) -> Response:
    """The track record."""
    from valuation.sheets.sale_charts import track_picture

    record = track_record(desk.ledger)
    money = locale_of(settings).money
    shown = []
    for group in record.groups:
        basis = group.coverage, group.currency
        alike = [pair for pair in record.pairs if (pair.coverage, pair.currency) == basis]
        caption = f"Sales against their {100 * group.coverage:g} % intervals"
        shown.append(picture(track_picture(plain(alike), group.currency, money), caption))
    context = TrackPage(
        title="Track record",
        here="/track-record",
        twin="/api/v1/track-record",
        said=said,
        record=record,
        pictures=shown,
        sales=[SaleShown(one, corrections_of(one)) for one in desk.ledger.records(SaleRecord, withdrawn=True)],
        clock=desk.ledger.clock_notes(),
    )
    return page(request, context)


@router.post("/track-record/sales/{sale_id}")
def correct_sale(desk: TheDesk, sale_id: Number, form: FormFields) -> Response:
    """Write a sale once more with what was wrong put right, or that it was never made."""
    record, withdraw = desk.record(SaleRecord, sale_id), "withdraw" in form
    changes: dict[str, Any] = {}
    if not withdraw:
        changes["price"] = needed(form, "price", "the price paid", record.currency)
        changes["sold_on"] = day(form, "sold_on", "the day of the sale") or record.sold_on
        changes["kind"] = form.get("kind", record.kind)
        changes["arms_length"] = not form.get("related")
    corrected(desk, record, form.get("reason", "")[:200], changes, withdraw=withdraw, confirmed=CONFIRM in form)
    return go("/track-record?said=The+correction+is+recorded.")
