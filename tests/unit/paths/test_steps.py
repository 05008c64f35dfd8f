import json
from dataclasses import replace

import numpy as np
import pytest

from valuation.build.plan import Step
from valuation.build.simulation import Simulation
from valuation.build.three_point import ThreePoint
from valuation.errors import PlanError
from valuation.paths.deal_path import prepare
from valuation.paths.steps import evaluate_steps, percent_effect, step_worths
from valuation.text.plain import plain

SIMULATION = Simulation(scenarios=1024)


def test_net_is_the_profit_with_the_step_less_that_without_it(market, plan, as_of):
    plan = replace(plan, event=None)
    drift_free = replace(market, yearly_percent=0)
    full = prepare(drift_free, plan, as_of, SIMULATION)
    for i, worth in enumerate(step_worths(drift_free, plan, as_of, simulation=SIMULATION)):
        done = np.ones(4, dtype=bool)
        done[i] = False
        without = prepare(drift_free, plan, as_of, SIMULATION, done=done)
        difference = full.deal.expected_profit(4000).value - without.deal.expected_profit(4000).value
        assert worth.net == pytest.approx(difference, abs=0.01)
        assert worth.net == pytest.approx(0.96 * worth.adds - worth.costs, abs=0.01)
        assert worth.weeks >= 0


def test_a_step_overtaken_by_a_later_one_adds_nothing_but_is_needed(market, plan, as_of):
    body = step_worths(replace(market, yearly_percent=0), replace(plan, event=None), as_of)[1]
    assert body.adds == pytest.approx(0, abs=1e-6)
    assert body.percent == 0
    assert body.needed_by == ("paint", "finish")
    assert body.odds_it_pays == 0


def test_percent_is_the_stated_effect(market, plan, as_of):
    worths = {worth.id: worth for worth in step_worths(market, plan, as_of)}
    assert worths["engine"].percent == pytest.approx(100 * (1.1 / 0.7 - 1))
    assert worths["finish"].percent == pytest.approx(100 * (1.25 / 0.75 - 1))
    assert percent_effect(np.log(1.2)) == pytest.approx(20)


def test_odds_it_pays_are_those_of_the_market_itself(market, plan, as_of):
    """Truth known, one certain step: it pays when the vehicle's own luck is above a threshold."""
    truth = replace(market, unsure=0.0, yearly_percent=0)
    one = Step("engine", cost=ThreePoint.certain(12_000), sets={"drivetrain": "rebuilt-original"})
    alone = replace(plan, steps=(one,), event=None, shop=replace(plan.shop, overrun=type(plan.shop.overrun).none()))
    (worth,) = step_worths(truth, alone, as_of, simulation=Simulation(scenarios=8192))
    base = 40_000 * 0.5 * 0.85
    rng = np.random.default_rng(3)
    luck = np.exp(0.2 * rng.standard_normal(400_000))
    pays = (0.96 * base * (1.1 - 0.7) * luck > 12_000).mean()
    assert worth.odds_it_pays == pytest.approx(pays, abs=0.005)


def test_what_the_table_does_not_know_about_the_vehicle_does_not_blur_a_step(market, plan, as_of):
    """Both states share the family's error and luck: a step that costs half of what it adds pays nearly always.

    Were the two prices drawn apart, with a scatter of 60 % each, it would pay little more than half of the time.
    """
    wild = replace(market, scatter=0.6, unsure=0.02, yearly_percent=0)
    one = Step("engine", cost=ThreePoint.certain(1_500), sets={"drivetrain": "rebuilt-original"})
    alone = replace(plan, steps=(one,), event=None, shop=replace(plan.shop, overrun=type(plan.shop.overrun).none()))
    (worth,) = step_worths(wild, alone, as_of, simulation=Simulation(scenarios=4096))
    assert worth.odds_it_pays > 0.95


def test_a_step_that_makes_the_show_possible_gets_its_award(market, plan, as_of):
    worths = {worth.id: worth for worth in step_worths(market, plan, as_of)}
    assert worths["finish"].change_of_event_odds > 0.5  # without it the vehicle is no driver and is not entered
    assert worths["engine"].change_of_event_odds <= 0
    no_event = {worth.id: worth for worth in step_worths(market, replace(plan, event=None), as_of)}
    assert worths["finish"].adds > no_event["finish"].adds
    assert no_event["finish"].change_of_event_odds is None


def test_json_has_the_agreed_keys(market, plan, as_of):
    answer = json.loads(json.dumps(plain(evaluate_steps(market, plan, as_of))))
    assert set(answer) >= {"steps", "best_subset", "alternatives"}
    assert [set(step) >= {"id", "adds", "costs", "net", "odds_it_pays"} for step in answer["steps"]] == [True] * 4
    assert len(answer["alternatives"]) == 4


def test_a_plan_without_steps_is_refused(market, plan, as_of):
    with pytest.raises(PlanError, match=r"has no steps\. Add one that starts with a line"):
        step_worths(market, replace(plan, steps=()), as_of)
