"""Sheets: made from what the ledger holds, recorded with their fingerprint, and made again identically."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Literal

from api import tasks
from api.dealing import bands_again, with_shop
from api.desk import Desk
from api.jobs import Job
from api.problems import Refusal
from valuation.answers.given import read_plans
from valuation.answers.kept import kept_bands, talks
from valuation.answers.plans import kept_plans
from valuation.answers.talks import talks as told_talks
from valuation.day import day_of
from valuation.sheets.on_paper import DealKept, ForBuyer, deal_kept, newest_build, photos_on_paper

if TYPE_CHECKING:
    from valuation.ledger import EstimateRecord, SheetRecord, TableRecord
    from valuation.text.locale import Locale

Face = Literal["pdf", "html", "txt", "png"]
MEDIA = {
    "pdf": "application/pdf", "html": "text/html; charset=utf-8", "txt": "text/plain; charset=utf-8",
    "png": "image/png",
}  # fmt: skip


def buyer(desk: Desk, job: Job, estimate: EstimateRecord, told: ForBuyer) -> SheetRecord:
    """Paper for the buyer of a vehicle: the valuation alone, nothing private.

    Parameters
    ----------
    desk : Desk
    job : Job
        The job that the work is done in.
    estimate : EstimateRecord
    told : ForBuyer
    """
    photos = photos_on_paper(desk.ledger, estimate.subject, told.photos)
    locale = _locale(desk).in_language(told.language) if told.language else _locale(desk)
    vehicle, table = desk.vehicle_of(estimate), desk.table_of(estimate)
    model, _ = desk.model_behind(job, estimate)
    job.report("setting the sheet", 0.6)
    drawn = job.compute(
        tasks.buyer_sheet,
        model,
        desk.model(table),
        vehicle,
        estimate.as_of,
        estimate.coverage,
        told,
        photos,
        locale,
    )
    return _keep(desk, drawn, estimate.subject, estimate.id, table)


def deal(desk: Desk, job: Job, table: TableRecord, subject: str, shop: str) -> SheetRecord:
    """The private sheet of everything about a find or build: what its pages show, where they were asked.

    Parameters
    ----------
    desk : Desk
    job : Job
        The job that the work is done in.
    table : TableRecord
    subject : str
        The shop's name for the vehicle.
    shop : str
        Who hands it out; may be empty.
    """
    record = newest_build(desk.ledger, subject)
    behind = (desk.table_behind(record) if record else None) or table
    schema = desk.schema(behind)
    if record is None:
        asked = DealKept(
            read_plans(with_shop(desk, plans_of(desk, subject), subject), schema, steps_needed=False),
            day_of(),
            None,
            None,
            {},
        )
    else:
        asked = deal_kept(desk.ledger, record, schema)
    model = desk.fit_first(job, behind)
    bands = kept_bands(desk.ledger, subject, model.currency)
    priced = None if bands is None else (bands.plan, bands_again(desk, job, bands))
    standing: tuple[str, ...] = ()
    if priced is not None:
        told = told_talks(desk.ledger, subject, model.currency, priced[1], priced[0].sale)
        standing = tuple(thread.sentence for thread in told.threads)
    job.report("working the deal out", 0.5)
    log = talks(desk.ledger, subject)
    drawn = job.compute(tasks.deal_sheet, model, asked, priced, log, standing, shop, _locale(desk))
    return _keep(desk, drawn, subject, None, behind)


def card(desk: Desk, job: Job, table: TableRecord, subject: str, shop: str) -> SheetRecord:
    """The field card: most to pay by condition and model year; for one find, or for all that have plans.

    Parameters
    ----------
    desk : Desk
    job : Job
        The job that the work is done in.
    table : TableRecord
    subject : str
        The find; all that have plans where it is empty.
    shop : str
        Who hands it out; may be empty.
    """
    plans = read_plans(with_shop(desk, plans_of(desk, subject or None)), desk.schema(table))
    model = desk.fit_first(job, table)
    job.report("working the card out", 0.5)
    drawn = job.compute(tasks.field_card, model, plans, day_of(), shop, _locale(desk))
    return _keep(desk, drawn, subject, None, table)


def plans_of(desk: Desk, subject: str | None) -> list[str]:
    """Texts of the plans of a find, or of all.

    Parameters
    ----------
    desk : Desk
    subject : str or None
        The find; all unless given.
    """
    subjects = [subject] if subject else dict.fromkeys(plan.subject for plan in desk.ledger.plans())
    texts = [plan.text for one in subjects for plan in kept_plans(desk.ledger, one).standing]
    if not texts:
        whose = f"for '{subject}'" if subject else "in the ledger"
        raise Refusal(422, "service.request", f"Cannot make the sheet: there is no plan {whose}. Write one first.")
    return texts


def file_key(record: SheetRecord, face: Face) -> tuple[str, int, Face]:
    """Under which the desk keeps a finished file.

    Parameters
    ----------
    record : SheetRecord
    face : Face
    """
    return "sheet", record.id, face


def draw_again(desk: Desk, job: Job, record: SheetRecord, face: Face) -> bytes:
    """Inside a job: the finished file of a recorded sheet; the PDF is proved against its fingerprint.

    Parameters
    ----------
    desk : Desk
    job : Job
        The job that the work is done in.
    record : SheetRecord
    face : Face

    Raises
    ------
    SheetError
        If the record is damaged, or the sheet has no such face.
    """
    from valuation.sheets.records import make_again

    inputs = json.loads(record.inputs)
    return desk.remember(file_key(record, face), lambda: job.compute(make_again, inputs, face))


def workbook_of(desk: Desk, job: Job, estimate: EstimateRecord) -> bytes:
    """Inside a job: the table and the evidence of an estimate as a workbook that is safe to open.

    Parameters
    ----------
    desk : Desk
    job : Job
        The job that the work is done in.
    estimate : EstimateRecord
    """
    model, _ = desk.model_behind(job, estimate)
    job.report("writing the workbook", 0.7)
    sales, vehicle = desk.comparables(desk.table_of(estimate)), desk.vehicle_of(estimate)
    return job.compute(tasks.workbook, model, sales, vehicle, estimate.as_of, estimate.coverage, _locale(desk).paper)


def file_name(record: SheetRecord, face: Face) -> str:
    """A plain name for the file.

    Parameters
    ----------
    record : SheetRecord
    face : Face
    """
    return f"{record.file_name.rpartition('.')[0]}.{face}"


def _locale(desk: Desk) -> Locale:
    from valuation.text.locale import locale_from

    return locale_from(desk.settings.locale)


def _keep(desk: Desk, drawn: tasks.Drawn, subject: str, estimate: int | None, table: TableRecord) -> SheetRecord:
    from valuation.ledger import fingerprint
    from valuation.sheets.records import FACES

    inputs, content = {**drawn[0], "table": table.id}, drawn[1]
    name = re.sub(r"[^a-z0-9]+", "-", f"{inputs['kind']} {subject}".casefold()).strip("-")[:80]
    return desk.ledger.add_sheet(
        kind=inputs["kind"],
        file_name=f"{name}-{day_of().isoformat()}.{FACES[inputs['kind']][0]}",
        fingerprint=fingerprint(content),
        inputs=inputs,
        subject=subject,
        estimate_id=estimate,
    )
