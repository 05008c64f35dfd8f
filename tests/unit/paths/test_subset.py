import itertools
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from valuation.build.plan import Step
from valuation.build.simulation import Simulation
from valuation.build.three_point import Overrun, ThreePoint
from valuation.errors import PlanError
from valuation.paths.deal_path import prepare
from valuation.paths.subset import allowed_subsets, best_subset
from valuation.paths.subset_milp import solve_large
from valuation.paths.subset_value import Limits, SubsetValuer

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


@pytest.mark.parametrize("seed", range(8))
def test_allowed_subsets_are_those_found_by_hand(plan, seed):
    plan = random_plan(plan, seed, 7)
    needs = np.array([[other.id in step.after for other in plan.steps] for step in plan.steps])
    found = {tuple(row) for row in allowed_subsets(needs).tolist()}
    assert found == {kept for kept in itertools.product([False, True], repeat=7) if by_hand(plan, kept)}


@pytest.mark.parametrize("seed", range(6))
def test_the_search_is_brute_force_by_full_simulation_on_random_plans(market, plan, as_of, seed):
    """Each subset simulated one by one, apart from the search: the best is the same, or as good within the errors."""
    plan = random_plan(plan, seed, 6)
    simulation = Simulation(scenarios=512)
    results = {}
    for kept in itertools.product([False, True], repeat=6):
        if by_hand(plan, kept):
            path = prepare(market, plan, as_of, simulation, done=np.array(kept))
            results[kept] = path.deal.expected_profit(4000).value
    found = best_subset(market, plan, as_of, price=4000, simulation=simulation)
    assert found.search.exact
    assert found.search.searched == len(results)
    assert found.best.expected_profit == pytest.approx(max(results.values()), abs=2 * found.best.simulation_error + 1)
    kept = tuple(step.id in found.best.steps for step in plan.steps)
    assert found.best.expected_profit == pytest.approx(results[kept])
    profits = [found.best.expected_profit, *(one.expected_profit for one in found.alternatives)]
    assert profits == sorted(profits, reverse=True)
    assert len(found.alternatives) == 4
    assert profits == pytest.approx(sorted(results.values(), reverse=True)[:5], abs=100)


@pytest.mark.parametrize("seed", range(4))
def test_expected_figures_of_a_subset_are_near_its_simulation_and_equal_it_for_the_full_build(
    market, plan, as_of, seed
):
    plan = random_plan(plan, seed, 6)
    simulation = Simulation(scenarios=1024)
    valuer = SubsetValuer(market, plan, as_of, 4000, simulation)
    subsets = allowed_subsets(valuer.needs)
    figures = valuer.figures(subsets)
    for i in range(0, len(subsets), 5):
        path = prepare(market, plan, as_of, simulation, done=subsets[i])
        assert figures.profit[i] == pytest.approx(path.deal.expected_profit(4000).value, abs=150)
    full = prepare(market, plan, as_of, simulation)
    last = valuer.figures(np.ones((1, 6), dtype=bool))
    assert last.weeks[0] == pytest.approx(full.outcome.weeks.mean())
    assert last.outlay[0] == pytest.approx(full.deal.outlay(4000).mean(), rel=1e-9)


def test_the_budget_and_the_date_are_kept(market, plan, as_of):
    plan = random_plan(plan, 1, 8)
    free = best_subset(market, plan, as_of)
    budget = free.best.steps_cost - 500
    cheaper = best_subset(market, plan, as_of, budget=budget)
    assert all(one.steps_cost <= budget for one in (cheaper.best, *cheaper.alternatives))
    assert cheaper.best.expected_profit <= free.best.expected_profit
    day = as_of + timedelta(days=int(7 * free.best.weeks) - 4)
    sooner = best_subset(market, plan, as_of, finish_by=day)
    assert sooner.best.weeks <= free.best.weeks
    assert sooner.best.steps != free.best.steps


def test_limits_that_nothing_keeps_are_named_with_the_mend(market, plan, as_of):
    with pytest.raises(PlanError, match=r"finished by 2026-10-01, since the build starts on 2026-11-02\. Set a later"):
        best_subset(market, plan, as_of, finish_by=date(2026, 10, 1))


@pytest.mark.parametrize("budget", [-1.0, float("nan"), float("inf")])
def test_a_budget_that_is_no_money_is_refused(market, plan, as_of, budget):
    with pytest.raises(PlanError, match=r"money of 0 or more is accepted\. Give the most that parts and labour"):
        best_subset(market, plan, as_of, budget=budget)


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
        three = best_subset(market, sure, as_of, price=price, budget=3 * 1200.0)
        assert len(three.best.steps) == 3
        assert three.best.steps_cost == pytest.approx(3600)
        assert len(best_subset(market, sure, as_of, price=price, budget=3 * 1200.0 - 1).best.steps) == 2
    nothing = best_subset(market, sure, as_of, price=4000.0, budget=0.0)
    assert nothing.best.steps == ()


@pytest.mark.parametrize("seed", range(6))
def test_integer_programming_finds_the_exact_best_and_its_bound_holds(market, plan, as_of, seed):
    plan = random_plan(plan, seed, 9)
    valuer = SubsetValuer(market, plan, as_of, 4000, Simulation(scenarios=256))
    everything = valuer.figures(allowed_subsets(valuer.needs)).profit
    candidates, bound = solve_large(valuer, Limits())
    assert valuer.figures(candidates).profit.max() == pytest.approx(everything.max(), rel=1e-9)
    assert bound >= everything.max() - 1e-6
    assert bound < everything.max() + 0.1 * abs(everything.max()) + 500


@pytest.mark.parametrize("seed", range(3))
def test_integer_programming_keeps_the_budget(market, plan, as_of, seed):
    plan = random_plan(plan, seed, 9)
    valuer = SubsetValuer(market, plan, as_of, 4000, Simulation(scenarios=256))
    every = valuer.figures(allowed_subsets(valuer.needs))
    budget = float(np.quantile(every.steps_cost, 0.3))
    best = every.profit[every.steps_cost <= budget].max()
    candidates, bound = solve_large(valuer, Limits(budget))
    figures = valuer.figures(candidates)
    assert figures.profit[figures.steps_cost <= budget].max() == pytest.approx(best, rel=0.01)
    assert bound >= best - 1e-6


def test_many_steps_are_searched_with_a_bound_in_words(market, plan, as_of):
    report = best_subset(market, random_plan(plan, 5, 22), as_of, simulation=Simulation(scenarios=256))
    assert not report.search.exact
    assert report.search.bound >= report.best.expected_profit - 4 * report.best.simulation_error - 100
    assert "found by integer programming" in report.search.words
    assert f"{report.search.bound:,.0f}" in report.search.words


def test_a_small_search_says_how_many_subsets_it_compared(market, plan, as_of):
    report = best_subset(market, plan, as_of)
    assert report.search.words == f"All {report.search.searched} subsets that can be carried out were compared."
    assert report.alternatives[0].differs.startswith(("with ", "without "))


def test_a_plan_without_steps_is_refused(market, plan, as_of):
    with pytest.raises(PlanError, match="has no steps to choose from"):
        best_subset(market, replace(plan, steps=()), as_of)


def test_eighteen_steps_are_searched_one_by_one_and_nineteen_are_not(market, plan, as_of):
    """Steps in one long row leave few subsets, so that the search of the largest plans is quick here."""
    row = tuple(
        Step(f"s{i}", cost=ThreePoint.certain(100), after=(f"s{i - 1}",) if i else (), sets={"paint": "fresh"})
        for i in range(19)
    )
    simulation = Simulation(scenarios=64)
    eighteen = best_subset(market, replace(plan, steps=row[:18]), as_of, simulation=simulation)
    nineteen = best_subset(market, replace(plan, steps=row), as_of, simulation=simulation)
    assert (eighteen.search.exact, eighteen.search.searched) == (True, 19)
    assert not nineteen.search.exact
    assert nineteen.best.steps == eighteen.best.steps == ("s0",)


def test_the_bound_holds_where_three_steps_are_worth_nothing_but_together(market, plan, as_of):
    """No change of one step or two leads to the best choice, so that the bound cannot lean on having found it."""
    sets = {"condition": "driver", "paint": "fresh", "drivetrain": "original"}

    class Together(type(market)):
        def _parts(self, vehicle):
            whole = all(vehicle.attributes.get(name) == level for name, level in sets.items())
            return {**super()._parts(vehicle), **({("together", "yes"): float(np.log(2))} if whole else {})}

    fields = {name: getattr(market, name) for name in market.__dataclass_fields__}
    flat = Together(**{**fields, "factors": {}, "unsure": 0.0, "yearly_percent": 0})
    steps = tuple(Step(name, cost=ThreePoint.certain(900), sets={name: level}) for name, level in sets.items())
    valuer = SubsetValuer(flat, replace(plan, steps=steps, event=None), as_of, 4000, Simulation(scenarios=64))
    every = valuer.figures(allowed_subsets(valuer.needs))
    best = int(every.profit.argmax())
    assert every.price[best] == pytest.approx(2 * every.price.min(), rel=1e-9)
    assert solve_large(valuer, Limits())[1] >= every.profit[best] - 1e-6
