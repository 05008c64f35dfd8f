import json
from dataclasses import replace
from datetime import date

import pytest

from valuation.build.plan import Step
from valuation.build.scenarios import average_draws, carry_out, plan_rules
from valuation.build.simulation import Simulation
from valuation.build.three_point import ThreePoint
from valuation.errors import PlanError
from valuation.paths.deal_path import prepare
from valuation.paths.schedule import crew_slack, evaluate_schedule
from valuation.text.plain import plain


def certain(name, weeks, after=(), people=1):
    return Step(name, hours=ThreePoint.certain(20.0 * weeks * max(people, 1)), after=after, people=people)


def test_slack_counts_the_hands(plan):
    """Network: a (3) then c (2); b (4) beside. With two people b may slip by 1, with one person by nothing."""
    steps = (certain("a", 3), certain("b", 4), certain("c", 2, after=("a",)))
    overrun = type(plan.shop.overrun).none()
    two = replace(plan, steps=steps, shop=replace(plan.shop, crew=2, overrun=overrun))
    one = replace(two, shop=replace(two.shop, crew=1))
    free, tight = crew_slack(two, plan_rules(two)), crew_slack(one, plan_rules(one))
    assert free.length == 5
    assert free.times["b"].slack == 1
    assert tight.length == 9
    assert [tight.times[name].slack for name in "abc"] == [0, 0, 0]


def test_odds_dates_and_critical_steps(market, plan, as_of):
    report = evaluate_schedule(market, plan, as_of)
    path = prepare(market, plan, as_of, Simulation(scenarios=2048))
    assert report.odds_of_event == pytest.approx(float(path.outcome.on_time.mean()))
    assert report.finish.early < report.finish.likely < report.finish.late
    by_id = {step.id: step for step in report.steps}
    assert by_id["finish"].odds_critical == 1.0
    assert by_id["finish"].slack_weeks == 0
    assert by_id["engine"].slack_weeks > 0
    assert by_id["engine"].odds_critical < by_id["body"].odds_critical
    assert by_id["body"].delay_costs_per_week > by_id["engine"].delay_costs_per_week > 0


def test_a_delay_of_a_build_without_event_and_drift_costs_its_week(market, plan, as_of):
    still = replace(market, yearly_percent=0)
    plain = replace(plan, event=None, shop=replace(plan.shop, interest_percent=0))
    report = evaluate_schedule(still, plain, as_of)
    assert report.delay_costs_per_week == pytest.approx(30 + 450 / 3, rel=1e-9)


def test_the_crew_only_ever_lengthens_a_build(market, plan, as_of):
    alone = replace(plan, shop=replace(plan.shop, crew=1))
    assert evaluate_schedule(market, alone, as_of).crew_waits_weeks > 1
    assert evaluate_schedule(market, plan, as_of).crew_waits_weeks >= 0


def test_json_and_refusals(market, plan, as_of):
    answer = json.loads(json.dumps(plain(evaluate_schedule(market, plan, as_of))))
    assert set(answer["steps"][0]) >= {"id", "slack_weeks", "odds_critical", "delay_costs_per_week"}
    assert date.fromisoformat(answer["finish"]["likely"]) > as_of
    with pytest.raises(PlanError, match="has no steps to schedule"):
        evaluate_schedule(market, replace(plan, steps=()), as_of)


def test_slack_of_the_average_schedule_moves_the_end_only_beyond_it(market, plan):
    """Lengthen each step by its slack, and by a little more: the end stays, then moves."""
    overrun = type(plan.shop.overrun).none()
    plan = replace(plan, event=None, shop=replace(plan.shop, overrun=overrun))
    rules = plan_rules(plan)
    slack = crew_slack(plan, rules)
    average = average_draws(plan)
    for i, step in enumerate(plan.steps):
        ends = []
        for extra in (slack.times[step.id].slack, slack.times[step.id].slack + 0.1):
            hours = average.hours.copy()
            hours[0, i] += extra * plan.shop.hours_per_week * step.people
            ends.append(carry_out(plan, replace(average, hours=hours), date(2026, 1, 1), rules).weeks[0])
        assert ends[0] == pytest.approx(slack.length)
        assert ends[1] == pytest.approx(slack.length + 0.1)


def test_parts_ordered_when_ready_are_part_of_the_slack(plan):
    """a (2) then b (1), whose parts come 3 after a; beside them c (5): c may slip by 1."""
    steps = (
        certain("a", 2),
        replace(certain("b", 1, after=("a",)), parts_weeks=ThreePoint.certain(3), order_when_ready=True),
        certain("c", 5),
    )
    alone = replace(plan, steps=steps, shop=replace(plan.shop, crew=3, overrun=type(plan.shop.overrun).none()))
    slack = crew_slack(alone, plan_rules(alone))
    assert slack.length == 6
    assert [slack.times[name].slack for name in "abc"] == [0, 0, 1]
