"""The outlay line by line, against hand arithmetic, and its sum against the comparison of paths."""

import dataclasses
import datetime as dt

import pytest

from benchmarks.stated_prices import StatedPrices
from valuation.build.plan import BuildPlan, ShopSettings, Step
from valuation.build.terms import Event, Purchase, SaleTerms
from valuation.build.three_point import Overrun, ThreePoint
from valuation.paths.compare import evaluate_paths
from valuation.paths.outlay import outlay_lines
from valuation.schema import Vehicle, default_schema

DAY = dt.date(2026, 11, 25)
LEVELS = {"derelict": 0.3, "project": 0.5, "runner": 0.75, "driver": 1.25, "show": 1.8}
MARKET = StatedPrices(default_schema(), 40_000, {"condition": LEVELS}, {"model_year": (-0.5, 1954)}, scatter=0.2)


def sure(figure):
    return ThreePoint.certain(figure)


PLAN = BuildPlan(
    "sure plan",
    Vehicle("find", {"family": "Penhurrow Haywain", "model_year": 1954.0, "condition": "project"}),
    steps=(
        Step("engine", "Engine", sure(4000), sure(60)),
        Step("cab", "", sure(900), sure(30), after=("engine",), sets={"condition": "driver"}),
    ),
    shop=ShopSettings(labour_rate=25, hours_per_week=30, holding_per_week=30, overhead_per_week=80, bays=2,
                      interest_percent=0, overrun=Overrun.none()),
    purchase=Purchase(asked=6137, fee_percent=5, fees=100, transport=350),
    sale=SaleTerms(fees=180, weeks_to_sell=sure(6)),
)  # fmt: skip


def test_each_line_by_hand():
    lines = {one.what: one.amount for one in outlay_lines(MARKET, PLAN, DAY)}
    assert lines == pytest.approx(
        {
            "the vehicle": 6137,
            "fee and tax of the purchase": 306.85,
            "title, inspection, transport": 450,
            "Engine: parts": 4000,
            "Engine: labour, 60 hours": 1500,
            "cab: parts": 900,
            "cab: labour, 30 hours": 750,
            "holding": 30 * (3 + 6),  # 90 hours at 30 a week, and six weeks to sell
            "the bay": 80 / 2 * 3,
            "fixed costs of the sale": 180,
        }
    )


@pytest.mark.parametrize("interest", [0.0, 9.0])
def test_the_lines_add_up_to_the_outlay_of_the_comparison(interest):
    wide = dataclasses.replace(
        PLAN,
        steps=(dataclasses.replace(PLAN.steps[0], cost=ThreePoint(3000, 4000, 8000)), PLAN.steps[1]),
        shop=dataclasses.replace(PLAN.shop, interest_percent=interest, overrun=Overrun()),
        event=Event("Harvest meet", dt.date(2027, 1, 30), 320, {"driver": {"national": 0.9}}),
    )
    path = evaluate_paths(MARKET, [wide], DAY, price=7000).path("sure plan")
    lines = outlay_lines(MARKET, wide, DAY, price=7000)
    assert sum(one.amount for one in lines) == pytest.approx(path.outlay.mean, abs=0.005)
    assert ("interest until the sale" in [one.what for one in lines]) == (interest > 0)
