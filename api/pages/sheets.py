"""Paper of a vehicle: what can be made of it, what was made, and whether a sheet that somebody holds is the shop's."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import Response
from pydantic import ValidationError

from api.deps import FormFields, Number, TheDesk, record_number
from api.forms import amount, day, table_named
from api.models.sheets import SheetAsked
from api.pages.in_use import in_use
from api.pages.render import Page, page
from api.pages.vehicle_head import file_numbered, head_of, vehicle_head
from api.pages.work import follow
from api.problems import Refusal
from api.routes.sheets import start_sheet
from valuation.ledger.records import SheetRecord
from valuation.sheets.on_paper import FOR_BUYERS, KINDS, PaperOfVehicle, paper_of
from valuation.sheets.records import FACES, notes_of
from valuation.sheets.verify import Verified, verify_file, verify_printed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from valuation.notes import Note

router = APIRouter(include_in_schema=False)
FACE_NAMES = {"pdf": "Open the PDF", "html": "Open as one HTML file", "txt": "Open the text", "png": "Open the picture"}


@dataclass(frozen=True, kw_only=True)
class PaperPage(Page):
    """What can be made of a vehicle on paper.

    Attributes
    ----------
    number : int
        Of the vehicle.
    paper : PaperOfVehicle
    for_buyers : dict of str to str
        Kinds that may be handed to a buyer, and what they are called.
    private : dict of str to str
        Those that stay in the shop.
    found : Verified or None
        What the ledger says of a sheet that was just checked.
    """

    template = "paper.html"
    number: int
    paper: PaperOfVehicle
    for_buyers: Mapping[str, str]
    private: Mapping[str, str]
    found: Verified | None


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
    notes : sequence of Note
        What the shop should know of it.
    names : dict of str to str
        What each kind is called.
    faces : list of (str, str)
        Files that there are of it, and what their links say.
    """

    template = "sheet.html"
    sheet: SheetRecord
    others: Sequence[SheetRecord]
    private: bool
    printed: str
    notes: Sequence[Note]
    names: Mapping[str, str]
    faces: Sequence[tuple[str, str]]


def _currency(desk: TheDesk, form: Mapping[str, str]) -> str:
    """In which the asking price of an estimated vehicle is meant."""
    number = record_number(form.get("estimate", ""))
    return desk.estimate(number).currency if number is not None else ""


def _is_photo(name: str) -> bool:
    return name.startswith("photo.") and record_number(name.removeprefix("photo.")) is not None


def _asking(desk: TheDesk, form: Mapping[str, str]) -> float | None:
    """The asking price, where the owner wants it on the sheet; a form without the tick means what it says."""
    if "asking" in form and form["asking"] != "yes":
        return None
    return amount(form, "asking_price", "the asking price", _currency(desk, form))


@router.get("/vehicles/{number}/paper")
def paper(request: Request, desk: TheDesk, number: Number) -> Response:
    """What can be made of a vehicle on paper, and what was made."""
    return _paper(request, desk, number)


@router.post("/vehicles/{number}/paper/check")
def check(
    request: Request,
    desk: TheDesk,
    number: Number,
    file: Annotated[UploadFile | None, File()] = None,
    printed: Annotated[str, Form(max_length=200)] = "",
) -> Response:
    """Whether a sheet that somebody holds is one that the shop made."""
    records = desk.ledger.sheets()
    content = file.file.read() if file is not None and file.filename else b""
    if not content and not printed.strip():
        detail = "Cannot check a sheet: no file was chosen and no fingerprint written. Give one of the two."
        raise Refusal(422, "service.request", detail, where="printed")
    found = verify_file(content, records) if content else verify_printed(printed, records)
    return _paper(request, desk, number, found)


def _paper(request: Request, desk: TheDesk, number: int, found: Verified | None = None) -> Response:
    file = file_numbered(desk, number)
    known = paper_of(desk.ledger, file)
    context = PaperPage(
        title=f"Paper: {file.name}",
        here="",
        twin=f"/api/v1/vehicles/{number}/paper",
        vehicle=head_of(desk, file),
        number=number,
        paper=known,
        for_buyers={kind: name for kind, name in known.kinds.items() if kind in FOR_BUYERS},
        private={kind: name for kind, name in known.kinds.items() if kind not in FOR_BUYERS},
        found=found,
    )
    return page(request, context)


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
                "photos": [int(name.removeprefix("photo.")) for name in form if _is_photo(name)],
                "language": form.get("language", ""),
                "seller": {
                    "asking_price": _asking(desk, form),
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
        private=sheet.kind not in FOR_BUYERS,
        printed=inputs["fingerprint"],
        notes=notes_of(inputs),
        names=KINDS,
        faces=[(face, FACE_NAMES[face]) for face in FACES[sheet.kind]],
        vehicle=vehicle_head(desk, sheet.subject) if sheet.subject and desk.ledger.vehicle_of(sheet.subject) else None,
    )
    return page(request, context)
