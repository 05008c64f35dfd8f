"""What is asked of estimates, and how the evidence of one is told."""

from __future__ import annotations

from pydantic import BaseModel, Field

from api.models.shared import Asked, Coverage, Day, RecordNumber, VehicleAsked
from valuation.answers.explain import Evidence


class EstimateAsked(Asked):
    """A vehicle to be valued."""

    vehicle: VehicleAsked
    table: RecordNumber | None = Field(None, description="Table version; the newest unless given.")
    as_of: Day | None = Field(None, description="Day on which the estimate holds; today unless given.")
    coverage: Coverage = 0.8
    record: bool = Field(True, description="Whether to write it to the ledger; a 'what if' need not be.")


class EvidenceAnswer(BaseModel):
    """Everything behind an estimate: effects, adjustment grid, influence of each sale, trend, gaps of the table."""

    id: int
    evidence: Evidence
