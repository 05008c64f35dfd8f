"""A small known market, and a small plan in it."""

from datetime import date

import pytest

from benchmarks.stated_prices import StatedPrices
from valuation.build.plan import BuildPlan, ShopSettings, Step
from valuation.build.terms import Event, Goal, Purchase, SaleTerms
from valuation.build.three_point import Overrun, ThreePoint
from valuation.schema.reader import default_schema
from valuation.schema.schema import Schema
from valuation.schema.vehicle import Vehicle

FACTORS = {
    "condition": {"derelict": 0.3, "project": 0.5, "runner": 0.75, "driver": 1.25, "show": 1.8},
    "paint": {"bare": 0.85, "worn": 0.9, "presentable": 1.0, "fresh": 1.15, "show-finish": 1.35},
    "drivetrain": {"missing": 0.7, "original": 1.0, "rebuilt-original": 1.1},
    "awards": {"none": 1.0, "local": 1.04, "regional": 1.14, "national": 1.3},
}


@pytest.fixture
def schema() -> Schema:
    return default_schema()


@pytest.fixture
def as_of() -> date:
    return date(2026, 11, 2)


@pytest.fixture
def market(schema: Schema) -> StatedPrices:
    return StatedPrices(
        schema, 40_000, FACTORS, {"model_year": (-0.5, 1954)}, scatter=0.2, unsure=0.05, yearly_percent=3
    )


@pytest.fixture
def found() -> Vehicle:
    return Vehicle(
        "barn find",
        {
            "family": "Penhurrow Haywain", "model_year": 1954.0, "condition": "project", "paint": "bare",
            "drivetrain": "missing", "awards": "none",
        },
    )  # fmt: skip


@pytest.fixture
def plan(found: Vehicle) -> BuildPlan:
    steps = (
        Step("engine", cost=ThreePoint(3000, 4000, 7000), hours=ThreePoint(60, 80, 140),
             parts_weeks=ThreePoint(2, 4, 9), sets={"drivetrain": "rebuilt-original"}),
        Step("body", cost=ThreePoint(1400, 2000, 4200), hours=ThreePoint(90, 140, 260), sets={"condition": "runner"}),
        Step("paint", cost=ThreePoint(1800, 2600, 4300), hours=ThreePoint(60, 90, 150), after=("body",),
             sets={"paint": "fresh"}),
        Step("finish", cost=ThreePoint(1500, 2200, 3600), hours=ThreePoint(70, 100, 170), after=("engine", "body"),
             after_if_done=("paint",), sets={"condition": "driver"}),
    )  # fmt: skip
    return BuildPlan(
        name="driver build",
        found=found,
        steps=steps,
        shop=ShopSettings(
            labour_rate=20, crew=2, hours_per_week=20, bays=3, holding_per_week=30, overhead_per_week=450,
            interest_percent=6, overrun=Overrun(1.1, 1.35),
        ),
        purchase=Purchase(asked=4000, fees=150, transport=400),
        sale=SaleTerms(fees=120, fee_percent=4, weeks_to_sell=ThreePoint(2, 6, 16)),
        goal=Goal(20, sure_percent=75),
        event=Event(
            "spring meet",
            date(2027, 5, 29),
            250,
            {"driver": {"local": 0.25}, "show": {"local": 0.35, "regional": 0.15}},
        ),
        currency="USD",
    )  # fmt: skip
