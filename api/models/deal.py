"""Models of the deal: plans, paths, steps, bands, offers, sales."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, WithJsonSchema

from api.models.plan import plan_schema
from api.models.shared import Amount, Asked, Day, Name, Paid, RecordNumber, bounded
from valuation.build.bounds import BOUNDS
from valuation.build.terms import Goal
from valuation.ledger.corrections import Change
from valuation.notes import Note
from valuation.sell.offers import OfferAnswer

Confirm = Field(False, description="True: an unlikely figure or date was asked about and is right.")
TomlPlan = Annotated[str, Field(max_length=100_000, description="A build plan as its TOML file holds it.")]
SaleKind = Literal["private", "auction", "dealer", "other"]
Remark = Annotated[str, Field(max_length=2_000)]
PLAN_EXAMPLE = """name = "driver with paint"
[vehicle]
family = "Penhurrow Haywain"
model_year = 1955
condition = "project"
paint = "worn"
[[steps]]
id = "brakes"
what = "Brakes, steering, wiring, tyres"
cost = [1500, 2000, 3200]
hours = [50, 70, 110]
sets = { condition = "runner" }
"""
Plan = TomlPlan | Annotated[dict[str, Any], WithJsonSchema(plan_schema())]
"""The reader of plans checks it, with messages that name place and mend; here its bounds are only said."""
USUAL = Goal()


class GoalAsked(Asked):
    """What the shop wants of a deal."""

    margin_percent: Annotated[float, bounded(BOUNDS["goal"]["margin_percent"])] = USUAL.margin_percent
    profit: Annotated[float, bounded(BOUNDS["goal"]["profit"])] = USUAL.profit
    sure_percent: Annotated[float, bounded(BOUNDS["goal"]["sure_percent"])] | None = Field(
        USUAL.sure_percent, description="Null: on average."
    )


class _AboutDeal(Asked):
    """What every question about a deal may name."""

    table: RecordNumber | None = Field(None, description="Table version; the newest unless given.")
    as_of: Day | None = Field(None, description="Day of the purchase; today unless given.")
    price: Amount | None = Field(None, description="Purchase price; the first plan's unless given.")


class _KeptDeal(_AboutDeal):
    """A question with what the shop wants, whose answer may be kept."""

    goal: GoalAsked | None = None
    subject: Name | None = Field(None, description="Name to keep the answer under; it is not kept without one.")

    def wanted(self) -> Goal | None:
        """The goal, where one was told; else the plan's own."""
        return None if self.goal is None else Goal(**self.goal.model_dump())


class DealAsked(_KeptDeal):
    """Build plans of one vehicle, and the question's day and price."""

    plans: list[Plan] = Field(min_length=1, max_length=12, examples=[[PLAN_EXAMPLE]])


class StepsAsked(_AboutDeal):
    """One build plan, and what limits the choice of steps."""

    plan: Plan = Field(examples=[PLAN_EXAMPLE])
    budget: Amount | None = Field(None, description="Most money for the steps: parts and labour as expected.")
    finish_by: Day | None = None


class BandsAsked(_KeptDeal):
    """A plan (or a vehicle as it stands: a plan without steps) to be sold."""

    plan: Plan = Field(examples=[PLAN_EXAMPLE])


class DealAnswer(BaseModel):
    """A result of the deal room as the ledger keeps it."""

    id: int
    subject: str
    kind: str
    written_at: dt.datetime
    inputs: dict[str, Any]
    result: dict[str, Any]


class OfferAsked(Asked):
    """An offer as it came."""

    estimate: RecordNumber = Field(description="Estimate of the vehicle that the offer is for.")
    amount: Paid = Field(examples=[41000])
    offered_on: Day | None = Field(None, description="Today unless given.")
    who: str = Field("", max_length=200)
    currency: str = Field("", max_length=12)
    remark: Remark = ""
    confirm: bool = Confirm


class Correction(Asked):
    """What was wrong in a record; what is left out stays as it was."""

    reason: Name
    withdraw: bool = Field(False, description="True: it never happened; nothing else is then changed.")
    confirm: bool = Confirm

    def changes(self) -> dict[str, Any]:
        """The fields that were given."""
        return self.model_dump(exclude_unset=True, exclude={"reason", "withdraw", "confirm"})


class OfferCorrection(Correction):
    """What was wrong in an offer; what is left out stays as it was."""

    amount: Paid | None = None
    offered_on: Day | None = None
    who: str = Field("", max_length=200)
    currency: str = Field("", max_length=12)
    remark: Remark = ""
    answer: Literal["", "accept", "counter", "hold", "decline"] = ""
    counter: Paid | None = None


class GivenAnswer(Asked):
    """What was answered to an offer."""

    answer: Literal["accept", "counter", "hold", "decline"]
    counter: Paid | None = None
    confirm: bool = Confirm


class Corrected(BaseModel):
    """What a record replaced."""

    corrects: int | None = Field(None, description="Number of the record that this one stands for now.")
    corrections: list[Change] = Field(default_factory=list, description="Oldest first.")
    withdrawn: bool = False
    notes: list[Note] = Field(default_factory=list)


class OfferAnswerModel(Corrected):
    """An offer in the ledger, with the advice on it where bands are kept for the vehicle."""

    id: int
    subject: str
    estimate: int | None
    amount: float
    currency: str
    offered_on: dt.date
    who: str
    answer: str
    counter: float | None
    remark: str
    advice: OfferAnswer | None = Field(None, description="Accept, counter or hold, and why in money.")


class SaleAsked(Asked):
    """A realised sale."""

    estimate: RecordNumber = Field(description="An estimate of the vehicle as it was sold.")
    price: Paid = Field(description="What the buyer paid in all before tax.")
    sold_on: Day
    kind: SaleKind = "private"
    arms_length: bool = True
    remark: Remark = ""
    confirm: bool = Confirm


class SaleCorrection(Correction):
    """What was wrong in a sale; what is left out stays as it was."""

    price: Paid | None = None
    sold_on: Day | None = None
    kind: SaleKind = "private"
    arms_length: bool = True
    remark: Remark = ""


class SaleAnswer(Corrected):
    """A realised sale in the ledger."""

    id: int
    subject: str
    estimate: int
    price: float
    currency: str
    sold_on: dt.date
    kind: str
    arms_length: bool
    remark: str
