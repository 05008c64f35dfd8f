from dataclasses import replace

import pytest

from valuation.build.plan import Step
from valuation.build.scenarios import shared_overrun
from valuation.build.three_point import Overrun, ThreePoint
from valuation.paths.deal_path import as_found
from valuation.paths.drivers import profit_drivers


def test_largest_swing_first_and_every_uncertain_input_once(market, plan, as_of):
    drivers = profit_drivers(market, plan, as_of)
    swings = [driver.swing for driver in drivers]
    assert swings == sorted(swings, reverse=True)
    names = [driver.name for driver in drivers]
    assert len(names) == len(set(names))
    assert {"sale price", "overrun of the whole build", "weeks to sell", "award at the event", "body: hours"} <= set(
        names
    )
    assert "body: wait for parts" not in names  # it is certain


def test_a_step_cost_swings_by_its_own_range(market, plan, as_of):
    step = Step("only", cost=ThreePoint(1000, 2000, 5000))
    shop = replace(plan.shop, overrun=Overrun.none(), interest_percent=0)
    alone = replace(plan, steps=(step,), event=None, shop=shop)
    (driver,) = (one for one in profit_drivers(market, alone, as_of) if one.name == "only: cost")
    assert driver.swing == pytest.approx(driver.high - driver.low)
    assert driver.profit_at_low > driver.profit_at_high


def test_selling_as_found_is_driven_by_price_and_time(market, plan, as_of):
    assert [driver.name for driver in profit_drivers(market, as_found(plan), as_of)] == ["sale price", "weeks to sell"]


def test_a_steps_range_is_held_within_the_overrun_that_counts_once(market, plan, as_of):
    """At its mean a step's cost drives to the plan's own expected profit, the overrun stated or not."""
    step = Step("only", cost=ThreePoint(1000, 2000, 6000))
    alone = replace(plan, steps=(step,), event=None, shop=replace(plan.shop, interest_percent=0))
    (driver,) = (one for one in profit_drivers(market, alone, as_of) if one.name == "only: cost")
    shared = shared_overrun(alone)
    swing = (driver.high - driver.low) * shared.cost_scale * shared.factor.mean
    assert shared.cost_scale < 0.7
    assert driver.swing == pytest.approx(swing, rel=0.01)
