"""Sheets: the buyer's, the private one, the field card; and the workbook of an estimate."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, File, Query, UploadFile
from fastapi.responses import Response

from api import paper
from api.answers import shown
from api.deps import Number, TheDesk
from api.jobs import Awaited, Job
from api.models.sheets import PrintedAsked, SheetAnswer, SheetAsked, VerifiedAnswer
from api.problems import Refusal, answers
from api.routes.estimates import Wait
from api.routes.jobs import ACCEPTED, answered, still_at_it
from valuation.answers.vehicle_file import vehicle_file
from valuation.ledger.records import SheetRecord
from valuation.sheets.on_paper import FOR_BUYERS, ForBuyer, PaperOfVehicle, paper_of
from valuation.sheets.records import notes_of
from valuation.sheets.verify import Verified, verify_file, verify_printed
from valuation.text.language import languages

if TYPE_CHECKING:
    from valuation.sheets.buyer_summary import Seller

router = APIRouter(prefix="/api/v1", tags=["sheets"])
FILE_SECONDS = 60.0
"""How long a browser waits for a file."""
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
SHEET_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'"
"""The sheet as HTML is one file that holds its own style and pictures; it may load and run nothing."""


def sheet_answer(record: SheetRecord) -> SheetAnswer:
    """A sheet as the JSON answers show it."""
    inputs = json.loads(record.inputs)
    return shown(
        SheetAnswer,
        record,
        file=f"/api/v1/sheets/{record.id}/file",
        printed=inputs["fingerprint"],
        notes=list(notes_of(inputs)),
    )


def seller_of(asked: SheetAsked) -> Seller:
    """What the seller adds, as the sheet takes it."""
    from valuation.sheets.buyer_summary import Seller

    if asked.seller is None:
        return Seller()
    given = asked.seller.model_dump()
    return Seller(**{**given, "not_inspected": tuple(text for text in given["not_inspected"] if text.strip())})


def _for_buyer(asked: SheetAsked) -> ForBuyer:
    if asked.language and asked.language not in languages():
        raise Refusal(
            422,
            "service.request",
            f"Cannot make the sheet in {asked.language!r}: there are words in {', '.join(languages())}. Choose one.",
            where="language",
        )
    return ForBuyer(asked.kind, asked.shop, asked.remark, seller_of(asked), tuple(asked.photos), asked.language)


def start_sheet(desk: TheDesk, asked: SheetAsked) -> Job:
    """Begin to make a sheet; the job's result is the address of its file.

    Parameters
    ----------
    desk : TheDesk
    asked : SheetAsked
    """
    if asked.kind in FOR_BUYERS:
        if asked.estimate is None:
            raise Refusal(422, "service.request", "Cannot make the buyer's sheet: no estimate was named. Name one.")
        estimate = desk.estimate(asked.estimate)
        told = _for_buyer(asked)
    elif asked.kind == "deal" and not asked.subject:
        raise Refusal(422, "service.request", "Cannot make the private sheet: no find was named. Give its subject.")
    else:
        table = desk.table(asked.table)

    def make(job: Job) -> str:
        if asked.kind in FOR_BUYERS:
            record = paper.buyer(desk, job, estimate, told)
        elif asked.kind == "deal":
            record = paper.deal(desk, job, table, asked.subject, asked.shop)
        else:
            record = paper.card(desk, job, table, asked.subject, asked.shop)
        return f"/api/v1/sheets/{record.id}"

    return desk.work(f"Making the {asked.kind} sheet", make)


@router.post(
    "/sheets",
    status_code=201,
    response_model=SheetAnswer,
    responses={**answers(404, 409, 422, 500, 503), **ACCEPTED},
    summary="Make a sheet",
)
def make_sheet(desk: TheDesk, asked: SheetAsked, wait: Wait = 60.0) -> Response:
    """Makes the sheet, records it with its fingerprint, and says where its file is."""

    def made(job: Job) -> SheetAnswer:
        return sheet_answer(desk.record(SheetRecord, int(str(job.result).rpartition("/")[2])))

    return answered(start_sheet(desk, asked), wait, made)


@router.get("/sheets", responses=answers(409, 422), summary="Sheets made")
def list_sheets(
    desk: TheDesk, subject: Annotated[str | None, Query(max_length=200, description="The vehicle.")] = None
) -> list[SheetAnswer]:
    """In the order in which they were made."""
    return [sheet_answer(record) for record in desk.ledger.sheets(subject)]


@router.get("/sheets/{sheet_id}", responses=answers(404, 409, 422), summary="One sheet")
def one_sheet(desk: TheDesk, sheet_id: Number) -> SheetAnswer:
    """What was made, and where its file is."""
    return sheet_answer(desk.record(SheetRecord, sheet_id))


FILE: dict[int | str, dict[str, Any]] = {
    **answers(404, 409, 422, 503),
    200: {
        "content": {"application/pdf": {}, "text/html": {}, "text/plain": {}, "image/png": {}},
        "description": "The finished file.",
    },
}


@router.get("/sheets/{sheet_id}/file", response_class=Response, responses=FILE, summary="File of a sheet")
def sheet_file(
    desk: TheDesk,
    sheet_id: Number,
    face: Annotated[paper.Face | None, Query(description="A message is txt and png; all else pdf, html too.")] = None,
) -> Response:
    """The same bytes each time, as long as what draws it is of the same version."""
    from valuation.sheets.records import FACES

    record = desk.record(SheetRecord, sheet_id)
    face = face or FACES[record.kind][0]
    headers = {"Content-Disposition": f'inline; filename="{paper.file_name(record, face)}"'}
    if face == "html":
        headers["Content-Security-Policy"] = SHEET_POLICY

    def file(content: bytes) -> Response:
        return Response(content, media_type=paper.MEDIA[face], headers=headers)

    known = desk.remembered(paper.file_key(record, face))
    if known is not None:
        return file(known)
    job = desk.join(f"Drawing {record.file_name}", lambda job: paper.draw_again(desk, job, record, face), face)
    return Awaited(job, FILE_SECONDS, lambda job: file(job.result), still_at_it)


@router.get(
    "/vehicles/{number}/paper",
    response_model=PaperOfVehicle,
    responses=answers(404, 409, 422),
    summary="Paper of a vehicle",
)
def paper_of_vehicle(desk: TheDesk, number: Number) -> PaperOfVehicle:
    """What can be made of a vehicle on paper, with what is known for it, and what was made."""
    from valuation.ledger import VehicleRecord

    subject = desk.record(VehicleRecord, number).subject
    return paper_of(desk.ledger, vehicle_file(desk, subject))


@router.post(
    "/sheets/verify", response_model=VerifiedAnswer, responses=answers(409, 413, 422), summary="Check a sheet on paper"
)
def verify_fingerprint(desk: TheDesk, asked: PrintedAsked) -> Verified:
    """Looks for the fingerprint that is printed on a sheet among those of the ledger."""
    return verify_printed(asked.printed, desk.ledger.sheets())


@router.post(
    "/sheets/verify/file", response_model=VerifiedAnswer, responses=answers(409, 413, 422), summary="Check a sheet"
)
def verify_sheet(desk: TheDesk, file: Annotated[UploadFile, File(description="PDF, HTML, TXT or PNG.")]) -> Verified:
    """Holds the file of a sheet against the ledger, byte for byte where it can be made again."""
    return verify_file(file.file.read(), desk.ledger.sheets())


BOOK: dict[int | str, dict[str, Any]] = {
    **answers(404, 409, 422, 503),
    200: {"content": {WORKBOOK: {}}, "description": "The workbook."},
}


@router.get(
    "/estimates/{estimate_id}/workbook", response_class=Response, responses=BOOK, summary="Workbook of an estimate"
)
def workbook(desk: TheDesk, estimate_id: Number) -> Response:
    """Table, adjustment grid with live formulas, effects; no cell that came from a user can start a formula."""
    estimate = desk.estimate(estimate_id)
    headers = {"Content-Disposition": f'attachment; filename="estimate-{estimate_id}.xlsx"'}
    job = desk.work(f"Workbook of {estimate.subject}", lambda job: paper.workbook_of(desk, job, estimate))
    return Awaited(
        job, FILE_SECONDS, lambda job: Response(job.result, media_type=WORKBOOK, headers=headers), still_at_it
    )
