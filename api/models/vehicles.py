"""What is asked about the vehicles of the shop."""

from __future__ import annotations

from pydantic import BaseModel, Field

from api.models.shared import Asked, Day, Name, Paid, RecordNumber, VehicleAsked


class NewVehicle(VehicleAsked):
    """A vehicle as it was found."""

    table: RecordNumber | None = Field(None, description="Table version whose words it is told in; the newest.")
    asked: Paid | None = Field(None, description="What is asked for it, money in the table's currency.")
    found_on: Day | None = Field(None, description="Today unless given.")
    remark: str = Field("", max_length=2_000)


class VehicleChangeAsked(Asked):
    """What happened to a vehicle; what is left out stays."""

    name: Name | None = Field(None, description="What it is called from now on.")
    archived: bool | None = Field(None, description="Whether lists leave it out.")
    bought_for: Paid | None = Field(None, description="Money; with ``bought_on`` or alone.")
    bought_on: Day | None = Field(None, description="Today unless given with a price.")
    not_bought: bool = Field(False, description="True: it was not bought after all.")
    for_sale_on: Day | None = Field(None, description="Since when it is for sale.")
    not_for_sale: bool = Field(False, description="True: it is not for sale after all.")


class PhotoAnswer(BaseModel):
    """A photograph of a vehicle."""

    number: int = Field(description="Of its first record; it stays.")
    caption: str
    width: int
    height: int
    file: str = Field(description="Where the JPEG is.")
