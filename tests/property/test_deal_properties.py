"""What must hold for every plan, whatever its figures."""

from dataclasses import replace
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.stated_prices import StatedPrices
from valuation.build.network import critical_path
from valuation.build.plan import BuildPlan, ShopSettings, Step
from valuation.build.scenarios import average_draws, carry_out, draw
from valuation.build.simulation import Simulation
from valuation.build.terms import Event, Goal, Purchase, SaleTerms
from valuation.build.three_point import Overrun, ThreePoint
from valuation.paths.deal_path import prepare
from valuation.paths.most_to_pay import most_to_pay
from valuation.paths.steps import evaluate_steps
from valuation.schema.reader import default_schema
from valuation.schema.vehicle import Vehicle

AS_OF = date(2026, 1, 5)
SIMULATION = Simulation(scenarios=256, shifts=4)
FACTORS = {
    "condition": {"project": 0.5, "runner": 0.8, "driver": 1.2, "show": 1.7},
    "paint": {"worn": 0.9, "fresh": 1.2},
    "awards": {"local": 1.1},
}
MARKET = StatedPrices(default_schema(), 40_000, FACTORS, scatter=0.2, yearly_percent=4, base_date=AS_OF)
SETS = [{"condition": "runner"}, {"condition": "driver"}, {"paint": "fresh"}, {"condition": "show"}, {}]

figures = st.tuples(st.floats(0, 3000), st.floats(0, 3000), st.floats(0, 6000)).map(lambda f: ThreePoint(*sorted(f)))
hours = st.tuples(st.floats(0, 60), st.floats(0, 60), st.floats(0, 120)).map(lambda f: ThreePoint(*sorted(f)))
waits = st.tuples(st.floats(0, 4), st.floats(0, 4), st.floats(0, 12)).map(lambda f: ThreePoint(*sorted(f)))


@st.composite
def plans(draw_from, most_steps=5):
    n = draw_from(st.integers(1, most_steps))
    steps = tuple(
        Step(
            f"s{i}",
            cost=draw_from(figures),
            hours=draw_from(hours),
            parts_weeks=draw_from(waits),
            after=tuple(f"s{j}" for j in range(i) if draw_from(st.booleans())),
            people=draw_from(st.integers(0, 2)),
            order_when_ready=draw_from(st.booleans()),
            sets=draw_from(st.sampled_from(SETS)),
        )
        for i in range(n)
    )
    shop = ShopSettings(
        labour_rate=draw_from(st.floats(0, 60)),
        crew=draw_from(st.integers(2, 3)),
        hours_per_week=draw_from(st.floats(5, 60)),
        holding_per_week=draw_from(st.floats(0, 100)),
        interest_percent=draw_from(st.floats(0, 12)),
        overrun=Overrun(1.05, draw_from(st.floats(1.05, 1.6))),
        spread=draw_from(st.sampled_from(["triangular", "pert"])),
    )
    event = Event("meet", date(2026, 6, 1), 100, {"driver": {"local": 0.3}, "show": {"local": 0.6}})
    return BuildPlan(
        "plan", Vehicle("find", {"condition": "project", "paint": "worn"}), steps, shop,
        Purchase(fee_percent=draw_from(st.floats(0, 15)), fee_minimum=draw_from(st.floats(0, 500))),
        SaleTerms(fee_percent=draw_from(st.floats(0, 12)), weeks_to_sell=draw_from(waits)),
        event=event if draw_from(st.booleans()) else None,
    )  # fmt: skip


@given(plans())
@settings(max_examples=40)
def test_odds_of_a_loss_rise_and_profit_falls_with_the_price(plan):
    deal = prepare(MARKET, plan, AS_OF, SIMULATION).deal
    prices = [0.0, 100.0, 2000.0, 10_000.0, 50_000.0]
    odds = [deal.odds_of_loss(price).value for price in prices]
    profits = [deal.expected_profit(price).value for price in prices]
    assert all(a <= b + 1e-12 for a, b in pairwise(odds))
    assert all(a > b for a, b in pairwise(profits))
    assert 0 <= odds[0] <= odds[-1] <= 1


@given(plans(), st.floats(5, 95), st.floats(-20, 80))
@settings(max_examples=40)
def test_at_the_most_to_pay_the_goal_is_just_met(plan, sure, margin):
    deal = prepare(MARKET, plan, AS_OF, SIMULATION).deal
    answer = most_to_pay(deal, Goal(margin, sure_percent=sure))
    if answer.price != 0:  # at 0 a least fee can leave the goal met with room to spare
        assert answer.odds_at_price == pytest.approx(sure / 100, abs=1e-5)
    else:
        assert answer.odds_at_price >= sure / 100 - 1e-5


@given(plans(), st.floats(1, 3000))
@settings(max_examples=30)
def test_the_most_to_pay_falls_with_cost_with_certainty_and_with_the_margin(plan, more):
    deal = prepare(MARKET, plan, AS_OF, SIMULATION).deal
    dearer = replace(deal, spent=deal.spent + more)
    base = most_to_pay(deal, Goal(20, sure_percent=70)).price
    assert most_to_pay(dearer, Goal(20, sure_percent=70)).price <= base + 0.01
    assert most_to_pay(deal, Goal(20, sure_percent=80)).price <= base + 0.01
    assert most_to_pay(deal, Goal(30, sure_percent=70)).price <= base + 0.01


@given(plans())
@settings(max_examples=30)
def test_several_paths_must_all_be_done_merge_bias(plan):
    """The chance to be done in time is never above that of any single chain of steps, and the mean never below."""
    plan = replace(plan, event=None)
    draws = draw(plan, SIMULATION)
    weeks = carry_out(plan, draws, AS_OF).weeks
    ids = [step.id for step in plan.steps]
    people = np.array([max(step.people, 1) for step in plan.steps])
    takes = draws.hours * draws.overrun[:, None] / (people * plan.shop.hours_per_week)
    expected = critical_path(
        dict(zip(ids, takes.mean(axis=0), strict=True)), {step.id: step.after for step in plan.steps}
    )
    chain = [ids.index(step) for step in expected.critical]
    single = takes[:, chain].sum(axis=1) if _is_chain(plan, expected.critical) else takes[:, chain].max(axis=1)
    assert np.all(weeks >= single - 1e-9)
    assert weeks.mean() >= expected.length - 1e-9


def _is_chain(plan, names):
    after = {step.id: step.after for step in plan.steps}
    return all(a in after[b] for a, b in pairwise(names))


@given(plans(), st.floats(0.01, 100))
@settings(max_examples=30)
def test_another_currency_changes_every_sum_by_its_rate_and_no_odds(plan, rate):
    def scaled(figure):
        return ThreePoint(figure.low * rate, figure.likely * rate, figure.high * rate)

    steps = tuple(replace(step, cost=scaled(step.cost)) for step in plan.steps)
    shop = replace(
        plan.shop, labour_rate=plan.shop.labour_rate * rate, holding_per_week=plan.shop.holding_per_week * rate
    )
    event = plan.event and replace(plan.event, entry_cost=plan.event.entry_cost * rate)
    purchase = replace(plan.purchase, fee_minimum=plan.purchase.fee_minimum * rate)
    other = replace(plan, steps=steps, shop=shop, event=event, purchase=purchase)
    here = prepare(MARKET, plan, AS_OF, SIMULATION).deal
    there = prepare(replace(MARKET, base=40_000 * rate), other, AS_OF, SIMULATION).deal
    assert there.expected_profit(3000 * rate).value == pytest.approx(
        rate * here.expected_profit(3000).value, rel=1e-6, abs=1e-6 * rate * 40_000
    )
    assert there.odds_of_loss(3000 * rate).value == pytest.approx(here.odds_of_loss(3000).value, abs=1e-9)


@given(plans(), st.randoms(use_true_random=False))
@settings(max_examples=30)
def test_the_order_of_the_file_does_not_change_the_expected_schedule(plan, random):
    steps = list(plan.steps)
    random.shuffle(steps)
    plan = replace(plan, event=None, shop=replace(plan.shop, crew=10))
    shuffled = replace(plan, steps=tuple(steps))
    here, there = (carry_out(one, average_draws(one), AS_OF) for one in (plan, shuffled))
    assert there.weeks[0] == pytest.approx(here.weeks[0])
    assert there.parts[0] == pytest.approx(here.parts[0])


@given(plans(), st.one_of(st.none(), st.floats(0, 20_000)))
@settings(max_examples=25, deadline=None)
def test_no_verdict_on_steps_contradicts_another(plan, budget):
    report = evaluate_steps(MARKET, plan, AS_OF, price=5_000, budget=budget, simulation=Simulation(64, 4))
    best = set(report.best_subset.steps)
    for one in report.results:
        assert one.do == (set(one.needs) <= best)  # what a result needs is never said to be left out
        if one.do:
            assert one.net >= -1e-6
        elif one.why_not not in ("over the budget", "not ready by the day"):
            assert one.net <= 1e-6
        assert one.net == pytest.approx(plan.sale.kept * one.adds - one.costs, abs=1e-3)
    for step in report.steps:
        assert step.do == (step.id in best)
        if step.do:
            assert step.net >= -1e-6
            assert set(plan.steps[[s.id for s in plan.steps].index(step.id)].after) <= best
        elif budget is None:
            assert step.net <= 1e-6
    for other in report.alternatives:
        assert other.expected_profit <= report.best_subset.expected_profit + 1e-6


@given(plans(), st.floats(0, 60))
@settings(max_examples=25)
def test_waiting_longer_never_raises_the_profit_where_prices_stand_still(plan, weeks):
    still = replace(MARKET, yearly_percent=0)
    plan = replace(plan, event=None)
    later = replace(plan.sale, weeks_to_sell=ThreePoint(*(x + weeks for x in _three(plan.sale.weeks_to_sell))))
    now, then = (
        prepare(still, one, AS_OF, SIMULATION).deal.expected_profit(4_000).value
        for one in (plan, replace(plan, sale=later))
    )
    assert then <= now + 1e-6


def _three(figure):
    return figure.low, figure.likely, figure.high


@given(figures, st.lists(st.floats(0, 7000), min_size=2, max_size=6), st.sampled_from(["triangular", "pert"]))
def test_the_rest_of_a_figure_falls_as_more_is_used_and_the_whole_rises(figure, used, shape):
    used = sorted(used)
    rests = [figure.after(one, shape) for one in used]
    means, grain = [rest.mean(shape) for rest in rests], 1e-3 * max(figure.high, 1.0)
    u = (np.arange(64) + 0.5) / 64
    assert all((rest.quantile(u, shape) >= 0).all() for rest in rests)
    assert all(more <= less + grain for less, more in pairwise(means)), "never more to go after more was spent"
    totals = [spent + mean for spent, mean in zip(used, means, strict=True)]
    assert all(after >= before - grain for before, after in pairwise(totals)), "never cheaper in all"
    assert figure.after(0, shape) == figure
    assert figure.after(1e-9, shape).mean(shape) == pytest.approx(figure.mean(shape), abs=grain)
