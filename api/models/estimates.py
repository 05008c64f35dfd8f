"""Models of estimates and their evidence."""

from __future__ import annotations

import datetime as dt
from typing import Any

from pydantic import BaseModel, Field

from api.models.shared import (
    Asked,
    Coverage,
    Day,
    IntervalAnswer,
    NoteAnswer,
    RecordNumber,
    VehicleAnswer,
    VehicleAsked,
)


class EstimateAsked(Asked):
    """A vehicle to be valued."""

    vehicle: VehicleAsked
    table: RecordNumber | None = Field(None, description="Table version; the newest unless given.")
    as_of: Day | None = Field(None, description="Day on which the estimate holds; today unless given.")
    coverage: Coverage = 0.8
    record: bool = Field(True, description="Whether to write it to the ledger; a 'what if' need not be.")


class FactorAnswer(BaseModel):
    """What one attribute multiplies the price by."""

    attribute: str = Field(examples=["condition"])
    level: str = Field(examples=["driver"])
    factor: float = Field(examples=[1.29])
    low: float
    high: float


class GridLineAnswer(BaseModel):
    """One difference between a comparable and the vehicle, priced."""

    attribute: str
    from_level: str
    to_level: str
    factor: float
    amount: float


class GridRowAnswer(BaseModel):
    """One of the nearest comparables; its price and its lines add up to the adjusted price."""

    sale: str
    date: dt.date | None
    outcome: str
    source: str
    price: float
    lines: list[GridLineAnswer]
    adjusted_price: float
    net: float
    gross: float
    weight: float


class EstimateAnswer(BaseModel):
    """An estimate; ``base`` times all factors is the median."""

    id: int | None = Field(None, description="Number in the ledger; null when it was not written.")
    table: int
    vehicle: VehicleAnswer
    as_of: dt.date
    currency: str = Field(description="Empty when the table names none.")
    median: float = Field(description="The estimate: half of such sales end above it.", examples=[45310.32])
    mean: float
    interval: IntervalAnswer = Field(description="Holds the price of one such sale.")
    mean_interval: IntervalAnswer = Field(description="Holds the median itself.")
    base: float
    factors: list[FactorAnswer]
    grid: list[GridRowAnswer]
    reconciled: float | None = Field(description="What the sold rows of the grid come to together.")
    notes: list[NoteAnswer]
    sales_used: dict[str, int]


class EvidenceAnswer(BaseModel):
    """Everything behind an estimate: effects, adjustment grid, influence of each sale, trend, gaps of the table."""

    id: int
    evidence: dict[str, Any]


class BackTestAnswer(BaseModel):
    """Each sale of a table priced as if it had not been seen."""

    method: str
    coverage: float
    words: list[str] = Field(description="How far to trust the number, in plain words.")
    sales: list[dict[str, Any]]
    calibration: dict[str, Any]
    ratio_study: dict[str, Any]
    notes: list[NoteAnswer]
