"""The Track record page: estimates made before a sale against the price realised, with how little a short one says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.deps import TheDesk, TheSettings
from api.finite import finite
from api.pages.pictures import Picture, picture
from api.pages.render import Page, locale_of, page

if TYPE_CHECKING:
    from valuation.ledger import SaleRecord

router = APIRouter()


@dataclass(frozen=True, kw_only=True)
class TrackPage(Page):
    """How good the estimates were.

    Attributes
    ----------
    record : dict
        Pairs, groups, sales set aside and notes, as the JSON twin shows them.
    pictures : list of Picture
        One for each group.
    sales : list of SaleRecord
        Every realised sale.
    """

    template = "track.html"
    record: dict[str, Any]
    pictures: list[Picture]
    sales: list[SaleRecord]


@router.get("/track-record")
def track(
    request: Request, desk: TheDesk, settings: TheSettings, said: Annotated[str, Query(max_length=300)] = ""
) -> Response:
    """The track record."""
    from valuation.ledger.track_record import track_record
    from valuation.sheets.charts import track_picture

    record = finite(track_record(desk.ledger).as_dict())
    money = locale_of(settings).money
    shown = []
    for group in record["groups"]:
        alike = [
            pair
            for pair in record["pairs"]
            if (pair["coverage"], pair["currency"]) == (group["coverage"], group["currency"])
        ]
        caption = f"Sales against their {100 * group['coverage']:g} % intervals"
        shown.append(picture(track_picture(alike, group["currency"], money), caption))
    context = TrackPage(
        title="Track record",
        here="/track-record",
        twin="/api/v1/track-record",
        said=said,
        record=record,
        pictures=shown,
        sales=list(desk.ledger.sales()),
    )
    return page(request, context)
