"""I1 and I2: annuity tables, on the path from a plan to its outlay; see SOURCE.md."""

import math
from dataclasses import replace
from datetime import date

import pytest

from benchmarks.stated_prices import StatedPrices
from valuation.build.plan import BuildPlan, ShopSettings, Step
from valuation.build.simulation import Simulation
from valuation.build.terms import Purchase, SaleTerms
from valuation.build.three_point import Overrun, ThreePoint
from valuation.paths.deal_path import prepare
from valuation.schema.reader import default_schema
from valuation.schema.vehicle import Vehicle
from valuation.year import WEEKS_PER_YEAR

AS_OF = date(2026, 1, 1)
MARKET = StatedPrices(default_schema(), 40_000, base_date=AS_OF)
SIMULATION = Simulation(scenarios=16)
WEEKLY = {
    1: {5: 5.101, 10: 10.462, 14: 14.947},
    2: {5: 5.204, 10: 10.950, 14: 15.974},
    4: {5: 5.416, 10: 12.006, 14: 18.292},
}
YEARS = {(3, 3): 1.0927, (6, 9): 1.6895, (8, 5): 1.4693, (9, 8): 1.9926, (12, 8): 2.4760}


def outlay(price=0.0, weeks=0.0, yearly=0.0, steps=(), **shop):
    """Outlay of a plan whose vehicle is sold after that many weeks."""
    plan = BuildPlan(
        "plan", Vehicle("find", {}), steps,
        ShopSettings(interest_percent=yearly, overrun=Overrun.none(), **shop),
        Purchase(), SaleTerms(weeks_to_sell=ThreePoint.certain(weeks)),
    )  # fmt: skip
    return float(prepare(MARKET, plan, AS_OF, SIMULATION).deal.outlay(price)[0])


@pytest.mark.parametrize(("percent", "weeks"), [(i, n) for i, row in WEEKLY.items() for n in row])
def test_i1_holding_week_by_week_is_the_tables_annuity(percent, weeks):
    rate = percent / 100
    yearly = 100 * ((1 + rate) ** WEEKS_PER_YEAR - 1)
    held = outlay(weeks=weeks, yearly=yearly, holding_per_week=1.0)
    assert held * math.log1p(rate) / rate == pytest.approx(WEEKLY[percent][weeks], abs=0.0005)


@pytest.mark.parametrize(("percent", "years"), list(YEARS))
def test_i2_the_price_paid_grows_as_the_table_says(percent, years):
    paid = outlay(price=10_000.0, weeks=years * WEEKS_PER_YEAR, yearly=percent)
    assert paid / 10_000 == pytest.approx(YEARS[percent, years], abs=0.00005)


def test_labour_of_a_step_is_an_annuity_that_then_grows_until_the_sale():
    """100 hours at 10 a week and 1 an hour: 10 weeks of 10 at 1 % a week, then 5 weeks until it is sold."""
    yearly = 100 * (1.01**WEEKS_PER_YEAR - 1)
    step = Step("all", hours=ThreePoint.certain(100))
    spent = outlay(weeks=5, yearly=yearly, steps=(step,), labour_rate=1.0, hours_per_week=10)
    table = 10 * WEEKLY[1][10] * 1.0510  # future value of 1 at 1 %, 5 periods
    assert spent * math.log(1.01) / 0.01 == pytest.approx(table, abs=0.01)


def test_parts_cost_from_the_day_they_come():
    """1,000 for parts that come after 4 weeks; 10 weeks of work and 6 until sold follow: 16 weeks at 1 %."""
    yearly = 100 * (1.01**WEEKS_PER_YEAR - 1)
    step = Step("all", cost=ThreePoint.certain(1000), parts_weeks=ThreePoint.certain(4))
    step = replace(step, hours=ThreePoint.certain(100))
    assert outlay(weeks=6, yearly=yearly, steps=(step,), hours_per_week=10) == pytest.approx(1000 * 1.01**16)
