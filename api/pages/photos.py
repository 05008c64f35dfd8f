"""Photographs of a vehicle: brought or taken on the telephone, named, and taken away again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, File, Request, UploadFile
from fastapi.responses import Response

from api.deps import FormFields, Number, TheDesk
from api.pages.render import Page, go, page
from api.pages.vehicle_head import file_numbered, head_of, photo_address
from api.problems import not_found
from valuation.sheets.kept_photos import MOST_AT_ONCE, keep_photos, photo_numbered

if TYPE_CHECKING:
    from valuation.ledger import PhotoRecord

router = APIRouter(include_in_schema=False)
FOR_GOOD = "private, max-age=31536000, immutable"
"""A photograph under its number never changes."""


@dataclass(frozen=True, kw_only=True)
class PhotosPage(Page):
    """The photographs of one vehicle.

    Attributes
    ----------
    action : str
        Where the forms are sent to.
    photos : list of (PhotoRecord, str)
        Each with its address, in the order in which they came.
    most : int
        Photographs that may be brought at once.
    """

    template = "photos.html"
    action: str
    photos: list[tuple[PhotoRecord, str]]
    most: int = MOST_AT_ONCE


@router.get("/vehicles/{number}/photos")
def photos(request: Request, desk: TheDesk, number: Number) -> Response:
    """The photographs of a vehicle."""
    file = file_numbered(desk, number)
    context = PhotosPage(
        title=f"{file.name}: photographs",
        here="/",
        twin=f"/api/v1/vehicles/{number}/photos",
        vehicle=head_of(desk, file),
        action=f"/vehicles/{number}/photos",
        photos=[(one, photo_address(one.first)) for one in file.photos],
    )
    return page(request, context)


@router.post("/vehicles/{number}/photos")
def bring(
    desk: TheDesk,
    number: Number,
    form: FormFields,
    photos: Annotated[list[UploadFile] | None, File()] = None,
) -> Response:
    """Keep photographs with the vehicle."""
    subject = file_numbered(desk, number).subject
    files = [(one.filename or "photograph", one.file.read()) for one in photos or [] if one.filename]
    keep_photos(desk.ledger, subject, files, form.get("caption", "")[:200])
    return go(f"/vehicles/{number}/photos")


@router.post("/vehicles/{number}/photos/{photo}")
def change(desk: TheDesk, number: Number, photo: Number, form: FormFields) -> Response:
    """Write other words under a photograph, or take it away."""
    there = _one(desk, number, photo)
    if "withdraw" in form:
        desk.ledger.withdraw(there, "taken away on its page")
    else:
        desk.ledger.caption_photo(there, form.get("caption", "").strip()[:200])
    return go(f"/vehicles/{number}/photos")


@router.get("/photos/{photo}.jpg")
def jpeg(desk: TheDesk, photo: Number) -> Response:
    """A photograph's file."""
    from valuation.ledger import PhotoRecord

    content = desk.ledger.content(desk.record(PhotoRecord, photo).content)
    return Response(content, media_type="image/jpeg", headers={"Cache-Control": FOR_GOOD})


def _one(desk: TheDesk, number: int, photo: int) -> PhotoRecord:
    from valuation.ledger import PhotoRecord

    desk.record(PhotoRecord, photo)
    there = photo_numbered(desk.ledger, photo)
    if there is None or there.subject != file_numbered(desk, number).subject:
        raise not_found(f"photograph {photo} of vehicle {number}")
    return there
