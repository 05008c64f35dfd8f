"""Which steps to do, against every subset of the steps looked at one by one."""

import itertools
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from valuation.build.figures import at_least
from valuation.build.plan import Step
from valuation.build.simulation import Simulation
from valuation.build.three_point import Overrun, ThreePoint
from valuation.errors import PlanError
from valuation.paths import choices
from valuation.paths.bound import profit_bound
from valuation.paths.choices import Limits, Screen, climb, ways, with_needs
from valuation.paths.deal_path import prepare
from valuation.paths.steps import evaluate_steps

SETTINGS = [
    ("condition", "runner"), ("condition", "driver"), ("paint", "worn"), ("paint", "presentable"), ("paint", "fresh"),
    ("drivetrain", "original"), ("drivetrain", "rebuilt-original"), ("condition", "show"),
]  # fmt: skip


def random_plan(plan, seed, steps):
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(steps):
        name, level = SETTINGS[rng.integers(len(SETTINGS))]
        cost = rng.uniform(500, 5000)
        hours = rng.uniform(5, 60)
        rows.append(
            Step(
                f"s{i}",
                cost=ThreePoint(0.8 * cost, cost, 1.7 * cost),
                hours=ThreePoint(0.8 * hours, hours, 1.6 * hours),
                parts_weeks=ThreePoint(0, 1, 4),
                after=tuple(f"s{j}" for j in range(i) if rng.random() < 0.15),
                sets={name: level},
            )
        )
    return replace(plan, steps=tuple(rows), shop=replace(plan.shop, labour_rate=12))


def by_hand(plan, kept):
    """Whether no step is kept without those it needs, read off the plan itself."""
    names = {step.id for step, one in zip(plan.steps, kept, strict=True) if one}
    return all(set(step.after) <= names for step in plan.steps if step.id in names)


@pytest.mark.parametrize("seed", range(6))
def test_the_search_is_brute_force_by_full_simulation_on_random_plans(market, plan, as_of, seed):
    """Every subset that can be carried out is simulated: none is better than the best, those without a use included."""
    plan = random_plan(plan, seed, 6)
    simulation = Simulation(scenarios=512)
    results = {}
    for kept in itertools.product([False, True], repeat=6):
        if by_hand(plan, kept):
            path = prepare(market, plan, as_of, simulation, done=np.array(kept))
            results[kept] = path.deal.expected_profit(4000).value
    found = evaluate_steps(market, plan, as_of, price=4000, simulation=simulation)
    assert found.search.exact
    assert found.search.searched <= len(results)
    kept = tuple(step.id in found.best_subset.steps for step in plan.steps)
    assert found.best_subset.expected_profit == pytest.approx(results[kept], abs=20)
    assert found.best_subset.expected_profit == pytest.approx(
        max(results.values()), abs=2 * found.best_subset.simulation_error + 20
    )
    profits = [found.best_subset.expected_profit, *(one.expected_profit for one in found.alternatives)]
    assert profits == sorted(profits, reverse=True)


@pytest.mark.parametrize("seed", range(4))
def test_screened_figures_are_near_those_of_the_full_simulation(market, plan, as_of, seed):
    plan = random_plan(plan, seed, 6)
    screen = Screen(market, plan, as_of, Simulation(scenarios=64))
    rows = ways(plan, with_needs(plan))
    figures = screen.figures(rows)
    for i in range(0, len(rows), 3):
        path = prepare(market, plan, as_of, Simulation(scenarios=1024), done=rows[i])
        assert figures.profit[i] == pytest.approx(path.deal.expected_profit(4000).value, abs=350)
        assert figures.weeks[i] == pytest.approx(path.outcome.weeks.mean(), abs=0.7)
        assert figures.price[i] == pytest.approx(path.deal.expected_price(), rel=0.01)


def test_ways_are_what_settles_each_attribute_with_all_that_it_needs(plan):
    assert {tuple(np.flatnonzero(row)) for row in ways(plan, with_needs(plan))} == {
        (), (0,), (1,), (0, 1), (1, 2), (0, 1, 2), (0, 1, 3), (0, 1, 2, 3),
    }  # fmt: skip


def test_the_budget_and_the_date_are_kept(market, plan, as_of):
    plan = random_plan(plan, 1, 8)
    free = evaluate_steps(market, plan, as_of)
    budget = free.best_subset.steps_cost - 500
    cheaper = evaluate_steps(market, plan, as_of, budget=budget)
    assert all(one.steps_cost <= budget for one in (cheaper.best_subset, *cheaper.alternatives))
    assert cheaper.best_subset.expected_profit <= free.best_subset.expected_profit
    assert "over the budget" in {one.why_not for one in cheaper.results}
    day = as_of + timedelta(days=int(7 * free.best_subset.weeks) - 4)
    sooner = evaluate_steps(market, plan, as_of, finish_by=day)
    assert sooner.best_subset.weeks <= free.best_subset.weeks
    assert sooner.best_subset.steps != free.best_subset.steps


def test_limits_that_nothing_keeps_are_named_with_the_mend(market, plan, as_of):
    with pytest.raises(PlanError, match=r"finished by 2026-10-01, since the build starts on 2026-11-02\. Set a later"):
        evaluate_steps(market, plan, as_of, finish_by=date(2026, 10, 1))


@pytest.mark.parametrize("budget", [-1.0, float("nan"), float("inf")])
def test_a_budget_that_is_no_money_is_refused(market, plan, as_of, budget):
    with pytest.raises(PlanError, match=r"money of 0 or more is accepted\. Give the most that parts and labour"):
        evaluate_steps(market, plan, as_of, budget=budget)


def test_a_budget_limits_what_the_steps_cost_and_not_what_the_vehicle_does(market, plan, as_of):
    """At whatever purchase price the same money buys the same steps; it is parts and labour, overrun included."""
    sure = replace(
        plan,
        steps=tuple(
            replace(step, cost=ThreePoint(1000, 1000, 1000), hours=ThreePoint(10, 10, 10)) for step in plan.steps
        ),
        shop=replace(plan.shop, overrun=Overrun(1.0, 1.0)),
    )
    for price in (0.0, 4000.0, 20_000.0):
        three = evaluate_steps(market, sure, as_of, price=price, budget=3 * 1200.0).best_subset
        assert len(three.steps) == 3
        assert three.steps_cost == pytest.approx(3600)
        assert len(evaluate_steps(market, sure, as_of, price=price, budget=3 * 1200.0 - 1).best_subset.steps) == 2
    nothing = evaluate_steps(market, sure, as_of, price=4000.0, budget=0.0).best_subset
    assert nothing.steps == ()
    assert nothing.steps_cost == 0


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("budget", [None, 9_000.0])
def test_the_search_of_many_ways_finds_the_best_of_few_and_its_bound_is_never_passed(market, plan, as_of, seed, budget):
    plan = random_plan(plan, seed, 10)
    needs, limits = with_needs(plan), Limits(budget)
    screen = Screen(market, plan, as_of)
    every = screen.figures(ways(plan, needs))
    best = every.profit[limits.kept_by(every.steps_cost, every.weeks)].max()
    found = screen.figures(climb(screen, needs, limits))
    assert found.profit[limits.kept_by(found.steps_cost, found.weeks)].max() == pytest.approx(best, rel=0.05)
    bound = profit_bound(screen, needs, limits)
    assert best - 1e-6 <= bound < best + 12_000


def test_the_bound_holds_where_three_steps_are_worth_nothing_but_together(market, plan, as_of):
    """No change of one attribute leads to the best choice, so that the bound cannot lean on having found it."""
    sets = {"condition": "driver", "paint": "fresh", "drivetrain": "original"}

    class Together(type(market)):
        def _parts(self, vehicle):
            whole = all(vehicle.attributes.get(name) == level for name, level in sets.items())
            return {**super()._parts(vehicle), **({("together", "yes"): float(np.log(2))} if whole else {})}

    fields = {name: getattr(market, name) for name in market.__dataclass_fields__}
    flat = Together(**{**fields, "factors": {}, "unsure": 0.0, "yearly_percent": 0})
    steps = tuple(Step(name, cost=ThreePoint.certain(900), sets={name: level}) for name, level in sets.items())
    plan = replace(plan, steps=steps, event=None)
    screen = Screen(flat, plan, as_of)
    every = screen.figures(ways(plan, with_needs(plan)))
    best = int(every.profit.argmax())
    assert every.price[best] == pytest.approx(2 * every.price.min(), rel=1e-9)
    assert profit_bound(screen, with_needs(plan), Limits()) >= every.profit[best] - 1e-6


def test_too_many_ways_are_searched_with_a_bound_in_words(market, plan, as_of, monkeypatch):
    monkeypatch.setattr(choices, "MOST_COMPARED", 20)
    report = evaluate_steps(market, random_plan(plan, 5, 22), as_of, simulation=Simulation(scenarios=256))
    assert not report.search.exact
    assert report.search.bound >= report.best_subset.expected_profit - 4 * report.best_subset.simulation_error - 100
    assert report.search.words.startswith("Too many ways to compare one by one: ")
    assert f"No choice can expect more than {at_least(report.search.bound)}, " in report.search.words


def test_a_small_search_says_how_many_ways_it_compared(market, plan, as_of):
    report = evaluate_steps(market, plan, as_of)
    assert report.search.words == f"All {report.search.searched} ways of reaching a result were compared."
    assert report.alternatives[0].differs.startswith(("with ", "without "))


@pytest.mark.slow
def test_a_plan_of_two_hundred_steps_is_answered(market, plan, as_of):
    """As many as the bounds of a plan allow; one attribute after another is set many times over."""
    row = tuple(
        Step(
            f"s{i}", cost=ThreePoint(50, 100, 200), hours=ThreePoint(1, 2, 4), after=(f"s{i - 1}",) if i % 5 else (),
            sets=dict([SETTINGS[i % len(SETTINGS)]]),
        )
        for i in range(200)
    )  # fmt: skip
    report = evaluate_steps(market, replace(plan, steps=row), as_of, simulation=Simulation(scenarios=16))
    assert len(report.steps) == 200
    assert report.search.bound >= report.best_subset.expected_profit - 1e-6


def test_a_step_that_serves_nothing_is_left_out(market, plan, as_of):
    idle = Step("polish", cost=ThreePoint.certain(100))
    report = evaluate_steps(market, replace(plan, steps=(*plan.steps, idle)), as_of)
    assert "polish" in report.best_subset.left_out
    assert report.steps[-1].net < 0
