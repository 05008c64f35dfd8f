import json
from dataclasses import replace

import numpy as np
import pytest

from valuation.build.plan import Step
from valuation.build.simulation import Simulation
from valuation.build.three_point import ThreePoint
from valuation.errors import PlanError
from valuation.paths.deal_path import prepare
from valuation.paths.steps import evaluate_steps
from valuation.paths.worths import percent_effect
from valuation.text.plain import plain

SIMULATION = Simulation(scenarios=1024)


def by_id(report):
    return {step.id: step for step in report.steps}


def alone(plan, step, **shop):
    """The plan with one step, without show and overrun."""
    none = type(plan.shop.overrun).none()
    return replace(plan, steps=(step,), event=None, shop=replace(plan.shop, overrun=none, **shop))


def test_a_step_is_lost_together_with_all_that_hangs_on_it(market, plan, as_of):
    plan, still = replace(plan, event=None), replace(market, yearly_percent=0)
    report = evaluate_steps(still, plan, as_of, simulation=SIMULATION)
    assert report.best_subset.left_out == ()
    full = prepare(still, plan, as_of, SIMULATION).deal.expected_profit(4000).value
    lost = {"engine": ("engine", "finish"), "body": ("body", "paint", "finish"), "paint": ("paint",)}
    for name, with_it in lost.items():
        done = np.array([step.id not in with_it for step in plan.steps])
        less = prepare(still, plan, as_of, SIMULATION, done=done).deal.expected_profit(4000).value
        step = by_id(report)[name]
        assert (name, *step.needed_by) == with_it
        assert step.net == pytest.approx(full - less, abs=0.01)
        assert step.net == pytest.approx(0.96 * step.adds - step.costs, abs=0.01)
    assert "body" in by_id(report)["body"].id  # a step that later ones overtake is worth what they are worth


def test_a_result_bears_all_the_steps_that_it_needs(market, plan, as_of):
    plan, still = replace(plan, event=None), replace(market, yearly_percent=0)
    report = evaluate_steps(still, plan, as_of, simulation=SIMULATION)
    results = {one.name: one for one in report.results}
    assert set(results) == {"condition driver", "paint fresh"}
    driver, paint = results["condition driver"], results["paint fresh"]
    assert driver.needs == ("engine", "body", "finish")
    assert driver.of_these == ("engine", "finish")  # the paint needs the body as well
    assert paint.needs == ("body", "paint")
    assert paint.of_these == ("paint",)
    without = prepare(still, plan, as_of, SIMULATION, done=np.array([False, True, True, False]))
    full = prepare(still, plan, as_of, SIMULATION)
    assert driver.net == pytest.approx(
        full.deal.expected_profit(4000).value - without.deal.expected_profit(4000).value, abs=0.01
    )
    assert driver.costs == pytest.approx(float((full.deal.outlay(4000) - without.deal.outlay(4000)).mean()), abs=0.01)
    assert driver.weeks > 0


def test_what_others_need_is_never_said_to_be_left_out(market, plan, as_of):
    """The engine by itself costs more than it adds; the driver needs it, and the driver pays."""
    dear = replace(plan.steps[0], cost=ThreePoint.certain(9_000))
    report = evaluate_steps(market, replace(plan, steps=(dear, *plan.steps[1:]), event=None), as_of)
    engine = by_id(report)["engine"]
    assert engine.do
    assert engine.net > 0
    assert "leave out engine" not in report.why


def test_what_does_not_pay_is_left_out_with_its_needs_and_the_reason(market, plan, as_of):
    dear = replace(plan.steps[2], cost=ThreePoint.certain(15_000))
    plan = replace(plan, steps=(plan.steps[0], plan.steps[1], dear, plan.steps[3]), event=None)
    report = evaluate_steps(market, plan, as_of)
    paint = next(one for one in report.results if one.name == "paint fresh")
    assert (paint.do, paint.needs, paint.of_these) == (False, ("body", "paint"), ("paint",))
    assert paint.net < 0
    assert paint.why_not.startswith("costs ")
    assert report.why.startswith("Do engine, body and finish; leave out paint: expect ")
    assert report.why.endswith(" with every step.")


def test_two_engines_stand_instead_of_each_other(market, plan, as_of):
    other = Step("plain engine", cost=ThreePoint.certain(3_000), sets={"drivetrain": "original"})
    free = replace(plan.steps[3], after=("body",))
    report = evaluate_steps(market, replace(plan, steps=(*plan.steps[:3], free, other), event=None), as_of)
    kept = {one.name for one in report.results if one.do}
    assert len(kept & {"drivetrain original", "drivetrain rebuilt-original"}) == 1
    left = next(one for one in report.results if one.name.startswith("drivetrain") and not one.do)
    assert len(left.of_these) == 1


def test_percent_is_the_stated_effect(market, plan, as_of):
    worths = by_id(evaluate_steps(replace(market, yearly_percent=0), plan, as_of))
    assert worths["paint"].percent == pytest.approx(100 * (1.15 / 0.85 - 1))
    assert worths["finish"].percent == pytest.approx(100 * (1.25 / 0.75 - 1))
    assert percent_effect(np.log(1.2)) == pytest.approx(20)


def test_odds_it_pays_are_those_of_the_market_itself(market, plan, as_of):
    """Truth known, one certain step: it pays when the vehicle's own luck is above a threshold."""
    truth = replace(market, unsure=0.0, yearly_percent=0)
    one = Step("engine", cost=ThreePoint.certain(7_000), sets={"drivetrain": "rebuilt-original"})
    plan = alone(plan, one, interest_percent=0)
    [worth] = evaluate_steps(truth, plan, as_of, simulation=Simulation(scenarios=8192)).steps
    base = 40_000 * 0.5 * 0.85
    rng = np.random.default_rng(3)
    luck = np.exp(0.2 * rng.standard_normal(400_000))
    pays = (0.96 * base * (1.1 - 0.7) * luck > 7_000).mean()
    assert worth.odds_it_pays == pytest.approx(pays, abs=0.005)


def test_what_the_table_does_not_know_about_the_vehicle_does_not_blur_a_step(market, plan, as_of):
    """Both states share the family's error and luck: a step that costs half of what it adds pays nearly always.

    Were the two prices drawn apart, with a scatter of 60 % each, it would pay little more than half of the time.
    """
    wild = replace(market, scatter=0.6, unsure=0.02, yearly_percent=0)
    one = Step("engine", cost=ThreePoint.certain(1_500), sets={"drivetrain": "rebuilt-original"})
    [worth] = evaluate_steps(wild, alone(plan, one), as_of, simulation=Simulation(scenarios=4096)).steps
    assert worth.odds_it_pays > 0.95


def test_a_step_that_makes_the_show_possible_gets_its_award(market, plan, as_of):
    fine = replace(plan, event=replace(plan.event, chances={"driver": {"regional": 0.8}}))
    worths = by_id(evaluate_steps(market, fine, as_of))
    assert worths["finish"].change_of_event_odds > 0.5  # without it the vehicle is no driver and is not entered
    no_event = by_id(evaluate_steps(market, replace(plan, event=None), as_of))
    assert worths["finish"].adds > no_event["finish"].adds
    assert no_event["finish"].change_of_event_odds is None


def test_json_has_the_agreed_keys(market, plan, as_of):
    answer = json.loads(json.dumps(plain(evaluate_steps(market, plan, as_of))))
    assert set(answer) >= {"why", "results", "steps", "best_subset", "alternatives"}
    assert [set(step) >= {"id", "adds", "costs", "net", "odds_it_pays"} for step in answer["steps"]] == [True] * 4
    assert len(answer["alternatives"]) == 4


def test_a_plan_without_steps_is_refused(market, plan, as_of):
    with pytest.raises(PlanError, match=r"has no steps to choose from\. Add one that starts with a line"):
        evaluate_steps(market, replace(plan, steps=()), as_of)
