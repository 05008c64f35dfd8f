"""Sheets: made from what the ledger holds, recorded with their fingerprint, and made again identically."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from api.dealing import offers_for, read_plans
from api.desk import Desk
from api.jobs import Job
from api.problems import Refusal

if TYPE_CHECKING:
    from valuation.ledger import EstimateRecord, SheetRecord, TableRecord
    from valuation.sheets.photos import Photo
    from valuation.sheets.records import AnySheet

MEDIA = {"pdf": "application/pdf", "html": "text/html; charset=utf-8"}


def buyer(
    desk: Desk, job: Job, estimate: EstimateRecord, shop: str, remark: str, photos: Sequence[Photo] = ()
) -> SheetRecord:
    """The sheet for the buyer of a vehicle: the valuation alone, nothing private."""
    from valuation.evidence import left_out_check
    from valuation.sheets.buyer import buyer_sheet

    table = desk.table_of(estimate)
    fitted = desk.fit_first(job, table)
    job.report("setting the sheet", 0.6)
    with job.stoppable():
        found, model = desk.evidence_object(estimate), desk.model_kept(estimate.model_id)
        tried = left_out_check(fitted, estimate.coverage)
        sales = desk.comparables(table)
        made = buyer_sheet(model, found, comparables=sales, tried=tried, shop=shop, remark=remark)
    return _keep(desk, made, estimate.subject, estimate.id, photos)


def deal(desk: Desk, job: Job, table: TableRecord, subject: str, shop: str) -> SheetRecord:
    """The private sheet of everything about a find or build."""
    from valuation.sell.offer_log import OfferLog
    from valuation.sell.offers import Offer
    from valuation.sheets.deal_sheet import deal_sheet

    plans = read_plans(plans_of(desk, subject), desk.schema(table))
    offers = tuple(Offer(one.amount, one.offered_on, one.who, one.remark) for one in offers_for(desk, subject))
    log = OfferLog(subject=subject, offers=offers) if offers else None
    model = desk.fit_first(job, table)
    job.report("working the deal out", 0.5)
    with job.stoppable():
        made = deal_sheet(model, plans, desk.today(), log=log, shop=shop)
    return _keep(desk, made, subject, None)


def card(desk: Desk, job: Job, table: TableRecord, subject: str, shop: str) -> SheetRecord:
    """The field card: most to pay by condition and model year; for one find, or for all that have plans."""
    from valuation.sheets.field_card import field_card

    plans = read_plans(plans_of(desk, subject or None), desk.schema(table))
    model = desk.fit_first(job, table)
    job.report("working the card out", 0.5)
    with job.stoppable():
        made = field_card(model, plans, desk.today(), shop=shop)
    return _keep(desk, made, subject, None)


def plans_of(desk: Desk, subject: str | None) -> list[str]:
    """Texts of the plans of a find, or of all."""
    newest = {(plan.subject, plan.name): plan.text for plan in desk.ledger.plans(subject)}
    if not newest:
        whose = f"for '{subject}'" if subject else "in the ledger"
        raise Refusal(422, "service.request", f"Cannot make the sheet: there is no plan {whose}. Write one first.")
    return list(newest.values())


def file_of(desk: Desk, record: SheetRecord, face: str) -> bytes:
    """The finished file of a recorded sheet, made again; the PDF is proved against its fingerprint.

    Raises
    ------
    SheetError
        If the record is damaged, or the sheet has no such face.
    """
    from valuation.sheets.records import make_again

    return desk.remember(
        ("sheet", record.id, face), lambda: make_again(json.loads(record.inputs), "html" if face == "html" else "pdf")
    )


def workbook_of(desk: Desk, estimate: EstimateRecord) -> bytes:
    """The table and the evidence of an estimate as a workbook that is safe to open."""
    from valuation.sheets.workbook import workbook

    return workbook(desk.comparables(desk.table_of(estimate)), desk.evidence_object(estimate))


def file_name(record: SheetRecord, face: str) -> str:
    """A plain name for the file."""
    return f"{record.file_name.rpartition('.')[0]}.{face}"


def _keep(desk: Desk, made: AnySheet, subject: str, estimate: int | None, photos: Sequence[Photo] = ()) -> SheetRecord:
    from valuation.ledger import fingerprint
    from valuation.sheets.records import draw, sheet_inputs
    from valuation.text.locale import locale_from

    locale = locale_from(desk.settings.locale)
    inputs: dict[str, Any] = sheet_inputs(made, locale, photos)
    content = draw(made, locale, photos, "pdf")
    name = re.sub(r"[^a-z0-9]+", "-", f"{inputs['kind']} {subject}".casefold()).strip("-")[:80]
    return desk.ledger.add_sheet(
        kind=inputs["kind"],
        file_name=f"{name}-{dt.date.today().isoformat()}.pdf",
        fingerprint=fingerprint(content),
        inputs=inputs,
        subject=subject,
        estimate_id=estimate,
    )
