"""The best subset of a plan's steps, respecting what must come before what, the budget and the date."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from valuation.build.crew import BoolArray
from valuation.build.figures import money
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.errors import PlanError
from valuation.notes import Note
from valuation.paths.deal_path import check_plan, prepare, purchase_price
from valuation.paths.pricer import Pricer
from valuation.paths.subset_value import Limits, SubsetValuer
from valuation.year import DAYS_PER_WEEK

MOST_STEPS_SEARCHED = 18
FINALISTS = 12
SHOWN = 5


@dataclass(frozen=True, slots=True)
class Subset:
    """Some of a plan's steps, carried out; money, weeks, odds.

    Attributes
    ----------
    steps, left_out : tuple of str
    expected_profit, outlay, sale_price : float
    steps_cost : float
        Expected parts and labour of the steps alone: what a budget limits.
    weeks : float
        Expected, until finished.
    odds_of_event : float or None
    simulation_error : float
        Standard error of the expected profit.
    differs : str
        What differs from the best subset, in words.
    """

    steps: tuple[str, ...]
    left_out: tuple[str, ...]
    expected_profit: float
    outlay: float
    sale_price: float
    steps_cost: float
    weeks: float
    odds_of_event: float | None
    simulation_error: float
    differs: str


@dataclass(frozen=True, slots=True)
class SubsetSearch:
    """How the best subset was searched, and how good the answer is.

    Attributes
    ----------
    exact : bool
        Whether every allowed subset was looked at.
    bound : float
        No subset's expected profit is above this; the best one's own where the search was exact. Holds for expected
        figures, before the simulation of the finalists.
    searched : int
        Subsets looked at.
    words : str
        The same in a sentence.
    """

    exact: bool
    bound: float
    searched: int
    words: str


@dataclass(frozen=True, slots=True)
class SubsetReport:
    """The best subset and the next best.

    Attributes
    ----------
    best : Subset
    alternatives : tuple of Subset
        The next best, at most four.
    search : SubsetSearch
    notes : tuple of Note
        What must be known of the plan and of the estimate behind it.
    """

    best: Subset
    alternatives: tuple[Subset, ...]
    search: SubsetSearch
    notes: tuple[Note, ...]


def best_subset(
    pricer: Pricer,
    plan: BuildPlan,
    as_of: date,
    *,
    price: float | None = None,
    budget: float | None = None,
    finish_by: date | None = None,
    simulation: Simulation | None = None,
) -> SubsetReport:
    """Find the steps worth doing: those with the largest expected profit.

    Up to 18 steps every subset that respects ``after``, the budget and the date is compared (at expected figures, see
    ``subset_value``); the best dozen are then simulated and ordered by that. With more steps, a piecewise linear form
    is solved by integer programming, which also bounds what any subset could expect.

    Parameters
    ----------
    pricer, plan, as_of, simulation
        As for ``evaluate_paths``.
    price : float, optional
        Purchase price; the plan's ``purchase.asked`` unless given, else 0.
    budget : float, optional
        Most money for the steps: their parts and labour as expected. What the vehicle, its holding and its sale cost
        is not in it.
    finish_by : date, optional
        Day by which the build is expected to be finished.

    Raises
    ------
    PlanError
        The plan contradicts itself or has no steps, the budget is not an amount, or the date has passed.
    """
    check_plan(plan, pricer, as_of)
    if not plan.steps:
        raise PlanError(f"Plan '{plan.name}' has no steps to choose from. Add one that starts with [[steps]].")
    if budget is not None and not (math.isfinite(budget) and budget >= 0):
        raise PlanError(
            f"Cannot choose the steps of plan '{plan.name}' for a budget of {budget!r}: money of 0 or more is "
            "accepted. Give the most that parts and labour may cost, or leave it out."
        )
    price = purchase_price(plan, price) or 0.0
    simulation = simulation or Simulation(scenarios=1024)
    valuer = SubsetValuer(pricer, plan, as_of, price, simulation)
    limits = Limits(budget, None if finish_by is None else (finish_by - valuer.first_day).days / DAYS_PER_WEEK)
    if limits.weeks is not None and limits.weeks < 0:
        raise PlanError(
            f"Plan '{plan.name}': nothing can be finished by {finish_by}, since the build starts on "
            f"{valuer.first_day}. Set a later date, or leave it out."
        )
    exact = len(plan.steps) <= MOST_STEPS_SEARCHED
    if exact:
        candidates = allowed_subsets(valuer.needs)
        figures = valuer.figures(candidates)
        profit = limits.apply(figures)
        bound = float(profit.max())
    else:
        from valuation.paths.subset_milp import solve_large

        candidates, bound = solve_large(valuer, limits)
        profit = limits.apply(valuer.figures(candidates))
    order = np.argsort(-profit, kind="stable")
    finalists = candidates[[i for i in order[:FINALISTS] if np.isfinite(profit[i])]]
    subsets = _simulate(valuer, as_of, price, simulation, finalists)
    searched = len(candidates)
    search = SubsetSearch(exact, bound, searched, _search_words(exact, bound, searched, subsets[0]))
    return SubsetReport(subsets[0], subsets[1:SHOWN], search, valuer.notes)


def _search_words(exact: bool, bound: float, searched: int, best: Subset) -> str:
    if exact:
        return f"All {searched:,} subsets that can be carried out were compared."
    gap = max(bound - best.expected_profit, 0.0)
    return (
        f"Too many subsets to compare one by one: found by integer programming and improved step by step. No "
        f"subset can expect more than {money(bound)}, {money(gap)} above this one."
    )


def allowed_subsets(needs: BoolArray) -> BoolArray:
    """All subsets in which no step is done without those it needs, shape (m, n).

    Parameters
    ----------
    needs : ndarray of bool, shape (n, n)
        Whether step i (row) needs step j (column).
    """
    n = len(needs)
    codes = np.arange(2**n, dtype=np.int64)
    kept = np.ones(len(codes), dtype=bool)
    for i in range(n):
        needed = int(sum(1 << int(j) for j in np.flatnonzero(needs[i])))
        if needed:
            kept &= ((codes >> i) & 1 == 0) | (codes & needed == needed)
    return ((codes[kept, None] >> np.arange(n)) & 1).astype(bool)


def _simulate(
    valuer: SubsetValuer, as_of: date, price: float, simulation: Simulation, finalists: BoolArray
) -> tuple[Subset, ...]:
    """The finalists by simulated expected profit, best first."""
    plan = valuer.plan
    ids = np.array([step.id for step in plan.steps], dtype=object)
    rows: list[tuple[float, Sequence[bool], Subset]] = []
    for done in finalists:
        path = prepare(valuer.pricer, plan, as_of, simulation, done=done)
        profit = path.deal.expected_profit(price)
        subset = Subset(
            steps=tuple(ids[done]),
            left_out=tuple(ids[~done]),
            expected_profit=profit.value,
            outlay=float(path.deal.outlay(price).mean()),
            sale_price=path.deal.expected_price(),
            steps_cost=float(done @ valuer.step_costs),
            weeks=float(path.outcome.weeks.mean()),
            odds_of_event=float(path.outcome.on_time.mean()) if plan.event else None,
            simulation_error=profit.error,
            differs="",
        )
        rows.append((-profit.value, [bool(one) for one in done], subset))
    rows.sort(key=lambda row: row[0])
    best = rows[0][2]
    return (best, *(_with_difference(subset, best) for _, _, subset in rows[1:]))


def _with_difference(subset: Subset, best: Subset) -> Subset:
    more = [name for name in subset.steps if name not in best.steps]
    less = [name for name in best.steps if name not in subset.steps]
    parts = [f"with {', '.join(more)}"] if more else []
    parts += [f"without {', '.join(less)}"] if less else []
    differs = f"{' and '.join(parts)}: {money(best.expected_profit - subset.expected_profit)} less"
    return replace(subset, differs=differs)
