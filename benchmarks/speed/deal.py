"""The deal: one path, the best subset of steps and the field table, each beside a plain loop that does the same.

The loops take one scenario (or one subset) at a time in Python, as somebody would write them who needs an answer and no
speed. They are held against the library's answers in the same run, so that both do the same work.
"""

from __future__ import annotations

import datetime as dt
import time
from dataclasses import replace
from typing import Any

import numpy as np

from benchmarks.measure import cpu_seconds
from benchmarks.speed.figures import Figure
from benchmarks.speed.tables import sales
from valuation.build.crew import CrewRules
from valuation.build.plan import BuildPlan, Purchase, SaleTerms, ShopSettings, Step
from valuation.build.scenarios import Draws, draw, plan_rules
from valuation.build.simulation import Simulation
from valuation.build.three_point import ThreePoint
from valuation.paths.compare import path_result
from valuation.paths.deal_path import at_price, prepare
from valuation.paths.field_table import FIELD_SIMULATION, field_table
from valuation.paths.most_to_pay import most_to_pay
from valuation.paths.steps import evaluate_steps
from valuation.schema import Vehicle, default_schema

AS_OF = dt.date(2026, 11, 2)
YEARS = tuple(range(1948, 1957))
LOOP_SCENARIOS, LOOP_SUBSETS = 256, 256
"""The loops run over a part, and their time is scaled up: the whole would take minutes."""


def measure() -> list[Figure]:
    """Milliseconds, and ratios to the loops."""
    model, plan = price_model(), fifteen_steps()
    simulation = Simulation(4096)
    path_result(prepare(model, at_price(plan, 4000.0), AS_OF, simulation), plan.goal)  # loads what loads late
    whole = cpu_seconds(lambda: path_result(prepare(model, at_price(plan, 4000.0), AS_OF, simulation), plan.goal), 5)
    subset = cpu_seconds(lambda: evaluate_steps(model, plan, AS_OF, price=4000.0), 3)
    field = cpu_seconds(lambda: field_table(model, _one_for_each_condition(plan), AS_OF, years=YEARS), 3)
    path_loop, path_error = loop_over_scenarios(model, plan, simulation)
    subset_loop, searched = loop_over_subsets(model, plan)
    field_loop, field_error = loop_over_cells(model, plan)
    return [
        Figure("one path, 4,096 scenarios, 15 steps", 1000 * whole, "ms", "at most 100"),
        Figure("plain loop over scenarios, the same path (scaled up from a part)", 1000 * path_loop, "ms"),
        Figure("loop over path", path_loop / whole, "times"),
        Figure("largest relative difference of outlay and weeks, loop against path", path_error, "", "at most 1e-9"),
        Figure("steps of a build of 15, every result weighed", subset, "s", "at most 1"),
        Figure("subsets compared", searched, ""),
        Figure("plain loop: simulating each of those subsets (scaled up from a part)", subset_loop, "s"),
        Figure("loop over subset search", subset_loop / subset, "times"),
        Figure(f"field table, 5 conditions by {len(YEARS)} years", field, "s", "at most 1"),
        Figure("plain loop: each cell as a find of its own", field_loop, "s"),
        Figure("loop over field table", field_loop / field, "times"),
        Figure("largest relative difference of a cell, loop against table", field_error, "", "at most 0.02"),
    ]


def price_model() -> Any:
    """A fit of a simulated table of 120 sales."""
    from valuation.comparables.table import Comparables
    from valuation.regression import PriceModel

    frame, prices = sales(120, seed=3)
    low_high = {"low": prices[:, 0], "high": prices[:, 1]}
    table = Comparables(
        schema=default_schema(),
        attributes=frame.drop(columns="sale_date"),
        sales=frame[["sale_date"]].rename(columns={"sale_date": "date"}).assign(outcome="sold", **low_high),
        set_aside=frame.iloc[:0],
        faults=(),
        rows=len(frame),
        currency="USD",
        source_name="simulated",
    )
    return PriceModel.fit(table)


def fifteen_steps() -> BuildPlan:
    """A build of fifteen steps, some of which need others."""
    sets: dict[int, dict[str, str]] = {
        2: {"condition": "runner"}, 5: {"drivetrain": "rebuilt-original"}, 8: {"paint": "fresh"},
        11: {"condition": "driver"}, 13: {"documentation": "full"}, 14: {"condition": "show"},
    }  # fmt: skip
    after = {2: (0,), 5: (3,), 8: (6,), 11: (2, 5), 14: (11, 8)}
    steps = tuple(
        Step(
            f"step {i}",
            cost=ThreePoint(200.0 + 60 * i, 300.0 + 80 * i, 600.0 + 150 * i),
            hours=ThreePoint(8.0 + i, 14.0 + 2 * i, 30.0 + 4 * i),
            parts_weeks=ThreePoint(0.5, 1.0 + i % 3, 3.0 + i % 3),
            after=tuple(f"step {j}" for j in after.get(i, ())),
            sets=sets.get(i, {}),
        )
        for i in range(15)
    )
    found = {
        "family": "Penhurrow Haywain", "model_year": 1952.0, "body": "pickup", "condition": "derelict",
        "drivetrain": "missing", "paint": "bare", "awards": "none", "mileage": 60_000.0, "documentation": "none",
    }  # fmt: skip
    shop = ShopSettings(labour_rate=20, crew=2, hours_per_week=20, holding_per_week=25, interest_percent=0)
    return BuildPlan(
        "fifteen steps", Vehicle("find", found), steps, shop, Purchase(asked=4000, fees=150), SaleTerms(fee_percent=4)
    )


def one_scenario(plan: BuildPlan, rules: CrewRules, draws: Draws, row: int, done: list[bool]) -> tuple[float, float]:
    """Outlay beside the vehicle and weeks until finished of one scenario, by plain Python."""
    shop, overrun = plan.shop, float(draws.overrun[row])
    free = [0.0] * rules.crew
    finish: dict[int, float] = {}
    waiting = set(range(len(plan.steps)))
    cost = labour = 0.0
    while waiting:
        best: tuple[float, int, int] | None = None
        for i in waiting:
            before = [j for j in range(len(plan.steps)) if rules.before[i, j]]
            if any(j in waiting for j in before):
                continue
            parts = float(draws.parts_weeks[row, i]) if done[i] else 0.0
            ready = max([parts, *(finish[j] for j in before)])
            begins = max(ready, sorted(free)[int(rules.people[i]) - 1]) if done[i] and rules.people[i] else ready
            key = (begins, int(rules.rank[i]), i)
            best = key if best is None or key < best else best
        assert best is not None
        begins, _, i = best
        hours = float(draws.hours[row, i]) * overrun if done[i] else 0.0
        finish[i] = begins + hours / (max(plan.steps[i].people, 1) * shop.hours_per_week)
        if done[i]:
            cost += float(draws.cost[row, i]) * overrun
            labour += hours * shop.labour_rate
            free = sorted(free)
            free[: int(rules.people[i])] = [finish[i]] * int(rules.people[i])
        waiting.remove(i)
    weeks = max(finish.values())
    held = weeks + float(draws.weeks_to_sell[row])
    bay = shop.overhead_per_week / shop.bays * weeks
    return cost + labour + shop.holding_per_week * held + bay + plan.purchase.fixed + plan.sale.fixed, weeks


def loop_over_scenarios(model: Any, plan: BuildPlan, simulation: Simulation) -> tuple[float, float]:
    """Seconds of the loop for all scenarios, and its largest relative difference from the library's outcome."""
    path = prepare(model, plan, AS_OF, simulation)
    done, rules = [True] * len(plan.steps), plan_rules(plan)
    began = time.process_time()
    found = [one_scenario(plan, rules, path.draws, row, done) for row in range(LOOP_SCENARIOS)]
    seconds = (time.process_time() - began) * simulation.scenarios / LOOP_SCENARIOS
    ours = np.column_stack([path.deal.spent, path.outcome.weeks])[:LOOP_SCENARIOS]
    return seconds, float(np.max(np.abs(np.array(found) / ours - 1)))


def loop_over_subsets(model: Any, plan: BuildPlan) -> tuple[float, int]:
    """Seconds of pricing and simulating every allowed subset by itself, at one scenario of expected figures each."""
    from valuation.build.scenarios import average_draws
    from valuation.build.states import finished
    from valuation.paths.choices import ways, with_needs

    subsets = ways(plan, with_needs(plan))
    assert subsets is not None
    draws, rules = average_draws(plan), plan_rules(plan)
    some = subsets[np.linspace(0, len(subsets) - 1, LOOP_SUBSETS).astype(int)]
    began = time.process_time()
    for chosen in some:
        done = [bool(one) for one in chosen]
        one_scenario(plan, rules, draws, 0, done)
        model.distribution([finished(plan, done)], AS_OF).mean()
    return (time.process_time() - began) * len(subsets) / LOOP_SUBSETS, len(subsets)


def loop_over_cells(model: Any, plan: BuildPlan) -> tuple[float, float]:
    """Seconds of working out each cell as a find of its own, and the largest relative difference from the table."""
    plans = _one_for_each_condition(plan)
    table = field_table(model, plans, AS_OF, years=YEARS)
    worst = 0.0
    began = time.process_time()
    for one in plans:
        for year in YEARS:
            here = replace(one, found=Vehicle("find", {**one.found.attributes, "model_year": float(year)}))
            best = -np.inf
            for way in (here, replace(here, steps=())):
                path = prepare(model, way, AS_OF, FIELD_SIMULATION, draws=draw(way, FIELD_SIMULATION))
                best = max(best, most_to_pay(path.deal, plan.goal).price)
            own = table.cell(str(one.found.attributes["condition"]), float(year)).most_to_pay
            assert own is not None
            worst = max(worst, abs(own - best) / max(abs(own), 1000.0))
    return time.process_time() - began, worst


def _one_for_each_condition(plan: BuildPlan) -> list[BuildPlan]:
    return [
        replace(plan, name=level, found=Vehicle("find", {**plan.found.attributes, "condition": level}))
        for level in default_schema().attribute("condition").level_names
    ]
