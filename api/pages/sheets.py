"""Sheets from the pages: a form makes one, and its page shows where the file is."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response
from pydantic import ValidationError

from api.deps import FormFields, Number, TheDesk, record_number
from api.forms import amount, day, table_named
from api.models.sheets import SheetAsked
from api.pages.in_use import in_use
from api.pages.render import Page, page
from api.pages.work import follow
from api.problems import Refusal
from api.routes.sheets import start_sheet
from valuation.ledger.records import SheetRecord

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

router = APIRouter()


@dataclass(frozen=True, kw_only=True)
class SheetPage(Page):
    """A sheet that was made.

    Attributes
    ----------
    sheet : SheetRecord
    others : sequence of SheetRecord
        Made for the same vehicle.
    private : bool
        Whether it must stay in the shop.
    printed : str
        The fingerprint that stands on it.
    """

    template = "sheet.html"
    sheet: SheetRecord
    others: Sequence[SheetRecord]
    private: bool
    printed: str


def _currency(desk: TheDesk, form: Mapping[str, str]) -> str:
    """In which the asking price of an estimated vehicle is meant."""
    number = record_number(form.get("estimate", ""))
    return desk.estimate(number).currency if number is not None else ""


@router.post("/sheets")
def make(request: Request, desk: TheDesk, form: FormFields) -> Response:
    """Make a sheet as a piece of work."""
    try:
        asked = SheetAsked.model_validate(
            {
                "kind": form.get("kind", ""),
                "estimate": record_number(form.get("estimate", "")),
                "subject": form.get("subject", ""),
                "table": table_named(desk, form).id,
                "shop": form.get("shop", ""),
                "remark": form.get("remark", ""),
                "seller": {
                    "asking_price": amount(form, "asking_price", "the asking price", _currency(desk, form)),
                    "engine_number": form.get("engine_number", ""),
                    "graded_by": form.get("graded_by", ""),
                    "graded_on": day(form, "graded_on", "the day of grading"),
                    "not_inspected": form.get("not_inspected", "").split(";"),
                    "contact": form.get("contact", ""),
                },
            }
        )
    except ValidationError as error:
        first = error.errors()[0]
        where = str(first["loc"][0]) if first["loc"] else ""
        detail = f"Cannot make the sheet: in '{where}', {first['msg'][:1].lower()}{first['msg'][1:]}. Mend it there."
        raise Refusal(422, "service.request", detail, where=where) from error
    return follow(request, start_sheet(desk, asked))


@router.get("/sheets/{sheet_id}")
def sheet_page(request: Request, desk: TheDesk, sheet_id: Number) -> Response:
    """A sheet and where its file is."""
    sheet = desk.record(SheetRecord, sheet_id)
    inputs = json.loads(sheet.inputs)
    table = desk.table_of(desk.estimate(sheet.estimate_id)) if sheet.estimate_id else None
    if table is None and (number := inputs.get("table")) is not None:
        table = desk.table(number)
    context = SheetPage(
        title=f"Sheet: {sheet.subject or 'field card'}",
        here="",
        twin=f"/api/v1/sheets/{sheet.id}",
        used=in_use(desk, table) if table else None,
        sheet=sheet,
        others=[one for one in desk.ledger.sheets(sheet.subject) if one.id != sheet.id],
        private=sheet.kind != "buyer",
        printed=inputs["fingerprint"],
    )
    return page(request, context)
