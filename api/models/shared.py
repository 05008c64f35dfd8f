"""Models that several routes share."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, model_validator
from pydantic.fields import FieldInfo

from valuation.build.bounds import MOST_MONEY, Bound
from valuation.errors import shown
from valuation.text.dates import EARLIEST, LATEST
from valuation.text.json import is_too_deep, too_deep
from valuation.text.money import read_amount

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]


def _money(value: Any) -> Any:
    """A text as forms and tables read it, so that '24.500' is the same amount everywhere."""
    return read_amount(value) if isinstance(value, str) else value


AnAmount = BeforeValidator(_money)
Amount = Annotated[float, AnAmount, Field(ge=0, le=MOST_MONEY, allow_inf_nan=False, description="Money.")]
Paid = Annotated[float, AnAmount, Field(gt=0, le=MOST_MONEY, allow_inf_nan=False)]
Day = Annotated[
    dt.date, Field(ge=EARLIEST, le=LATEST, json_schema_extra={"description": f"From {EARLIEST} to {LATEST}."})
]
Coverage = Annotated[float, Field(ge=0.5, le=0.99, description="Share of such sales that the interval is to hold.")]
MOST_WHOLE = 10**300
"""A whole number beyond it has no place among floating-point numbers."""
RecordNumber = Annotated[int, Field(ge=1, le=2**31 - 1)]


def bounded(bound: Bound) -> FieldInfo:
    """The bounds of a plan's number as a field's."""
    field: FieldInfo = Field(
        gt=bound.low if bound.above else None,
        ge=None if bound.above else bound.low,
        lt=bound.high if bound.below else None,
        le=None if bound.below else bound.high,
        allow_inf_nan=False,
        description=bound.unit,
    )
    return field


class Asked(BaseModel):
    """A request body: what is not known is refused, and so is what no answer could hold."""

    model_config = ConfigDict(extra="forbid")

    @model_validator(mode="before")
    @classmethod
    def _plain(cls, data: Any) -> Any:
        if is_too_deep(data):
            raise ValueError(f"the body {too_deep()}")
        layer = [data]
        while layer:
            for one in layer:
                if (
                    isinstance(one, str)
                    and not one.isascii()
                    and any("\ud800" <= character <= "\udfff" for character in one)
                ):
                    raise ValueError(
                        f"a lone surrogate character in the text {shown(one)}; whole characters are accepted"
                    )
                if isinstance(one, int) and abs(one) > MOST_WHOLE:
                    raise ValueError(f"{shown(one)} is too large; at most {MOST_WHOLE:.0e} is accepted")
            layer = [
                part
                for one in layer
                if isinstance(one, dict | list)
                for part in ([*one, *one.values()] if isinstance(one, dict) else one)
            ]
        return data


class VehicleAsked(Asked):
    """A vehicle by its attributes, named and spelled as the schema knows them."""

    name: Name = Field(examples=["Haywain pickup of 1952"])
    number: str = Field("", max_length=100, description="What identifies it, such as its chassis number.")
    attributes: dict[str, str | float | bool | None] = Field(
        examples=[{"family": "Penhurrow Haywain", "model_year": 1952, "condition": "driver", "paint": "fresh"}]
    )


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
