"""Models that several routes share."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

from valuation.text.money import read_amount

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]


def _money(value: Any) -> Any:
    """A text as forms and tables read it, so that '24.500' is the same amount everywhere."""
    return read_amount(value) if isinstance(value, str) else value


AnAmount = BeforeValidator(_money)
Amount = Annotated[float, AnAmount, Field(ge=0, le=1e12, allow_inf_nan=False, description="Money.")]
Coverage = Annotated[float, Field(ge=0.5, le=0.99, description="Share of such sales that the interval is to hold.")]
RecordNumber = Annotated[int, Field(ge=1, le=2**31 - 1)]


class Asked(BaseModel):
    """A request body: what is not known is refused."""

    model_config = ConfigDict(extra="forbid")


class NoteAnswer(BaseModel):
    """What a reader of a number must know."""

    code: str = Field(examples=["few_sales"])
    text: str


class IntervalAnswer(BaseModel):
    """A range of prices with its stated coverage; an open end is null."""

    coverage: float = Field(examples=[0.8])
    low: float | None = Field(examples=[37518.18])
    high: float | None = Field(examples=[54720.8])


class VehicleAsked(Asked):
    """A vehicle by its attributes, named and spelled as the schema knows them."""

    name: Name = Field(examples=["Haywain pickup of 1952"])
    attributes: dict[str, str | float | bool | None] = Field(
        examples=[{"family": "Penhurrow Haywain", "model_year": 1952, "condition": "driver", "paint": "fresh"}]
    )


class VehicleAnswer(BaseModel):
    """A vehicle as it was understood."""

    name: str
    attributes: dict[str, str | float | bool]


class JobAnswer(BaseModel):
    """A piece of long work."""

    id: str
    what: str = Field(examples=["Comparing paths"])
    state: Literal["waiting", "running", "done", "failed", "stopped"]
    step: str = Field(description="What it is at.", examples=["fitting the table"])
    share: float = Field(description="How much is done, 0 to 1.")
    begun: dt.datetime
    problem: dict[str, Any] | None = Field(None, description="Problem details, if it failed or was stopped.")
    result: str | None = Field(None, description="Where the answer is, when it is done.", examples=["/api/v1/deals/3"])
