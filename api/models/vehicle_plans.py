"""Models of a vehicle's plans and of the work by them."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

from pydantic import BaseModel, Field

from api.models.deal import Plan
from api.models.shared import Amount, Asked, Day, RecordNumber
from valuation.build.ticks import State


class PlanKept(BaseModel):
    """A plan of a vehicle in the ledger."""

    number: int = Field(description="Of its first record; it stays whatever is changed.")
    record: int = Field(description="Of its newest record: what a change began with.")
    subject: str
    name: str
    archived: bool
    written_at: dt.datetime
    text: str = Field(description="The TOML text, letter for letter.")
    whole: dict[str, Any] = Field(description="As it counts: with what the vehicle's record and the shop tell.")


class PlanAsked(Asked):
    """A plan to be kept."""

    plan: Plan
    record: RecordNumber | None = Field(
        None, description="Newest record of the plan that it replaces; a new one without."
    )


class ArchiveAsked(Asked):
    """Whether a plan is put away."""

    archived: bool


class LineAsked(Asked):
    """A plan that need not be kept."""

    plan: Plan


class TickAsked(Asked):
    """What became of a step."""

    plan: RecordNumber | None = Field(None, description="Number of the plan; the one that is followed unless given.")
    step: Annotated[str, Field(min_length=1, max_length=200)]
    state: State
    on: Day | None = Field(None, description="Day on which it was done or begun; today unless given.")
    cost: Amount = Field(0.0, description="What parts and outside work came to; so far, of a step that is begun.")
    hours: Annotated[float, Field(ge=0, le=100_000)] = Field(0.0, description="Likewise, of the shop's own people.")


class ExtraAsked(Asked):
    """A cost that no step planned."""

    plan: RecordNumber | None = Field(None, description="Number of the plan; the one that is followed unless given.")
    what: Annotated[str, Field(min_length=1, max_length=200)]
    on: Day | None = Field(None, description="Today unless given.")
    cost: Amount
    hours: Annotated[float, Field(ge=0, le=100_000)] = 0.0
