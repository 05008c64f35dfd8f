"""Money costs from the day it is spent until it comes back."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from valuation.build.interest import flow, growth
from valuation.build.plan_file import parse_plan
from valuation.build.simulation import Simulation
from valuation.paths.deal_path import prepare
from valuation.year import WEEKS_PER_YEAR

VEHICLE = '[vehicle]\ncondition = "project"\n'


def test_growth_and_flow_without_interest_are_the_money_itself():
    assert growth([0, 3, 500], 0.0).tolist() == [1, 1, 1]
    assert flow([0, 3, 500], 0.0).tolist() == [0, 3, 500]


def test_a_flow_is_the_sum_of_its_small_parts_each_grown_to_the_end():
    parts = (np.arange(10_000) + 0.5) / 10_000 * 30
    assert flow(30, 9.0) == pytest.approx(float(growth(30 - parts, 9.0).mean() * 30), rel=1e-9)
    assert growth(WEEKS_PER_YEAR, 9.0) == pytest.approx(1.09)


def test_waiting_two_years_for_a_small_chance_of_an_award_does_not_raise_the_profit(market, plan, as_of):
    """Prices stand still, and the award adds little: what is tied up meanwhile costs more."""
    still = replace(market, yearly_percent=0)
    shop = replace(plan.shop, holding_per_week=0)
    far = replace(
        plan, shop=shop, event=replace(plan.event, date=as_of + timedelta(700), chances={"driver": {"local": 0.02}})
    )
    waited = prepare(still, far, as_of, Simulation(scenarios=256), event_decided=True)
    waiting = waited.deal.expected_profit(4000).value
    at_once = prepare(still, replace(far, event=None), as_of, Simulation(scenarios=256)).deal.expected_profit(4000)
    assert waiting < at_once.value - 500


def test_parts_labour_and_fees_bear_interest_as_the_purchase_does(market, plan, as_of):
    """All the same money, spent for the vehicle or for its build on the first day, costs the same."""
    free = replace(plan, event=None, shop=replace(plan.shop, interest_percent=0))
    dear = replace(plan, event=None, shop=replace(plan.shop, interest_percent=20))
    simulation = Simulation(scenarios=256)
    without, with_interest = (prepare(market, one, as_of, simulation) for one in (free, dear))
    cost = float((with_interest.deal.spent - without.deal.spent).mean())
    average_weeks = float(without.outcome.weeks_until_sold.mean())
    all_from_the_first_day = float(without.deal.spent.mean()) * (1.2 ** (average_weeks / WEEKS_PER_YEAR) - 1)
    assert 0.4 * all_from_the_first_day < cost < all_from_the_first_day


@pytest.mark.parametrize(
    ("shop", "sale", "rate", "said"),
    [
        ("interest_percent = 5", "", 5, ""),
        ("", "discount_percent = 7", 7, ""),
        ("", "", 8, "Money: it is taken to cost 8 % a year"),
        ("interest_percent = 5", "discount_percent = 7", 5, "discount_percent under [sale], 7 %, is left aside"),
    ],
)
def test_one_rate_serves_building_and_selling(schema, shop, sale, rate, said):
    plan = parse_plan(f"{VEHICLE}[shop]\n{shop}\n[sale]\n{sale}\n", schema, steps_needed=False)
    assert plan.shop.interest_percent == rate
    texts = [text for text in plan.defaults if text.startswith("Money")]
    assert (said in texts[0]) if said else not texts


def test_the_entry_is_paid_on_the_day_of_the_event(market, plan, as_of):
    dear = replace(plan, event=replace(plan.event, entry_cost=plan.event.entry_cost + 1000))
    path, more = (prepare(market, one, as_of, Simulation(scenarios=256), event_decided=True) for one in (plan, dear))
    until = (plan.event.date - as_of).days / 7
    late = np.maximum(path.outcome.weeks_until_sold - until, 0)
    assert more.deal.spent - path.deal.spent == pytest.approx(1000 * growth(late, 6.0))
    assert plan.event.date > date(2027, 1, 1)
