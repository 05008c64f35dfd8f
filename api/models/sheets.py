"""Models of sheets."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import BaseModel, Field

from api.models.shared import Amount, Asked, Day, RecordNumber
from valuation.notes import Note


class SellerAsked(Asked):
    """What the seller adds about the vehicle and himself; everything may be left out."""

    asking_price: Amount | None = Field(None, description="Printed on the buyer's sheet.")
    engine_number: str = Field("", max_length=100)
    graded_by: str = Field("", max_length=200, description="Whose opinion the grades are.")
    graded_on: Day | None = None
    not_inspected: list[Annotated[str, Field(max_length=500)]] = Field([], max_length=20)
    contact: str = Field("", max_length=500)


class SheetAsked(Asked):
    """A sheet to be made: for a buyer of an estimated vehicle, or private for a find with plans."""

    kind: Literal["buyer", "page", "message", "deal", "card"] = Field(
        description="For a buyer: the whole sheet, the same on one page, or a message to send. Private: deal and card."
    )
    estimate: RecordNumber | None = Field(None, description="Needed for what a buyer is handed.", examples=[1])
    subject: str = Field("", max_length=200, description="The find; needed for the private sheet.")
    table: RecordNumber | None = Field(None, description="Table version for private sheets; the newest unless given.")
    shop: str = Field("", max_length=200, description="Who hands it out.")
    remark: str = Field("", max_length=5_000, description="The shop's own words about the vehicle, for the buyer.")
    photos: list[RecordNumber] = Field([], max_length=6, description="The vehicle's photographs, by their numbers.")
    language: str = Field("", max_length=20, description="Such as de; empty: the desk's own.")
    seller: SellerAsked | None = Field(None, description="What the seller adds on the buyer's sheet.")


class SheetAnswer(BaseModel):
    """A sheet that was made."""

    id: int
    kind: str
    subject: str
    file_name: str
    fingerprint: str = Field(description="SHA-256 of the file.")
    printed: str = Field(description="The fingerprint that is printed on it, by which the ledger finds it.")
    written_at: dt.datetime
    notes: list[Note] = Field(description="What the shop should know of it; a buyer is shown none of it.")
    file: str = Field(description="Address of the file.", examples=["/api/v1/sheets/1/file"])


class PrintedAsked(Asked):
    """A fingerprint as it stands on paper."""

    printed: str = Field(max_length=200, description="Or its beginning; spaces do not count.")


class VerifiedAnswer(BaseModel):
    """What the ledger says of a sheet."""

    genuine: bool
    words: str
    sheet: int | None
