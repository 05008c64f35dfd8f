"""The start page: by the hand when the ledger is empty, otherwise what there is and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from api.deps import TheDesk
from api.pages.render import Page, go, page
from api.problems import not_found
from valuation.answers.intake import bring_demo

if TYPE_CHECKING:
    from valuation.ledger import EstimateRecord, TableRecord

router = APIRouter()
SHOWN = 12
"""Newest estimates on the first page: what a screen has room for."""


@dataclass(frozen=True, kw_only=True)
class StartPage(Page):
    """Where the shop stands.

    Attributes
    ----------
    tables : list of TableRecord
        Newest version of each table, newest first.
    estimates : list of EstimateRecord
        The newest of each vehicle, newest first.
    has_demo : bool
        Whether the demo can be brought.
    sales : int
        Realised sales recorded.
    currency : str
        Of new tables that name none.
    """

    template = "start.html"
    tables: list[TableRecord]
    estimates: list[EstimateRecord]
    has_demo: bool
    sales: int
    currency: str


@router.get("/")
def start(request: Request, desk: TheDesk) -> HTMLResponse:
    """The start page."""
    context = StartPage(
        title="The desk",
        here="/",
        twin="/api/v1/comparables",
        tables=desk.newest_tables(),
        estimates=desk.known()[:SHOWN],
        has_demo=(desk.settings.demo_folder / "comparables.csv").is_file(),
        sales=len(desk.ledger.sales()),
        currency=desk.settings.currency,
    )
    return page(request, context)


@router.post("/demo")
def demo(desk: TheDesk) -> Response:
    """Bring the invented demo's table and plans."""
    if not (desk.settings.demo_folder / "comparables.csv").is_file():
        raise not_found("the demo's files")
    table = bring_demo(desk, desk.settings.demo_folder)
    desk.warm(table)
    return go(f"/comparables/{table.id}")
