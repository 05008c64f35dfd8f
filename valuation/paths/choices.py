"""Which of a plan's steps to do: every way of reaching a result, compared under the same luck.

The price rests on what the finished vehicle is, and each attribute is settled by the step that sets it last. Whatever
steps are done, doing only those with all that they need gives the same vehicle for less. So the ways to choose from
are: for each attribute, the step that settles it or none, each with all that it needs. That holds for every plan.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from valuation.build.crew import BoolArray
from valuation.build.interest import growth
from valuation.build.network import working_order
from valuation.build.plan import BuildPlan
from valuation.build.scenarios import BuildOutcome, Draws, carry_out, draw, plan_rules
from valuation.build.simulation import Simulation
from valuation.build.states import award_states
from valuation.paths.deal_path import prepare, spent
from valuation.paths.pricer import Pricer
from valuation.regression.distribution import FloatArray
from valuation.schema.vehicle import Vehicle
from valuation.year import DAYS_PER_WEEK

MOST_COMPARED = 4_096
"""Ways that are compared one by one: some seconds."""
LONG_PLAN = 40
"""Steps beyond which fewer scenarios are drawn, so that the answer comes within a minute."""
CHUNK = 1 << 16
"""Scenarios times choices worked out at once, so that the arrays of a round stay within some megabytes."""
NONE = -1
"""In place of the step that settles an attribute: it stays as found."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a choice of steps must keep.

    Parameters
    ----------
    budget : float or None
        Most money for the steps, parts and labour as expected.
    weeks : float or None
        Largest expected weeks until finished.
    """

    budget: float | None = None
    weeks: float | None = None

    def kept_by(self, cost: FloatArray, weeks: FloatArray) -> BoolArray:
        """Whether each choice keeps them, shape of ``cost``.

        Parameters
        ----------
        cost : FloatArray
            Parts and labour of each choice as expected, money.
        weeks : FloatArray
            Until each is finished, expected.
        """
        budget, latest = (math.inf if limit is None else limit for limit in (self.budget, self.weeks))
        return np.asarray((cost <= budget * (1 + 1e-12)) & (weeks <= latest))


def with_needs(plan: BuildPlan) -> BoolArray:
    """For each step (row) the steps that it cannot be done without, itself among them; shape (n, n)."""
    place = {step.id: i for i, step in enumerate(plan.steps)}
    needs = np.eye(len(plan.steps), dtype=bool)
    for name in working_order({step.id: step.after for step in plan.steps}):
        for before in plan.steps[place[name]].after:
            needs[place[name]] |= needs[place[before]]
    return needs


def settlers(plan: BuildPlan) -> dict[str, list[int]]:
    """For each attribute the steps that set it, in the order of the plan."""
    found: dict[str, list[int]] = {}
    for i, step in enumerate(plan.steps):
        for name in step.sets:
            found.setdefault(name, []).append(i)
    return found


def ways(plan: BuildPlan, needs: BoolArray) -> BoolArray | None:
    """All ways of reaching a result, none of them twice, shape (m, n); None where they are too many to compare.

    Parameters
    ----------
    plan : BuildPlan
        As checked by ``check_plan``.
    needs : BoolArray
        As by ``with_needs``, shape (n, n).
    """
    columns = [[NONE, *steps] for steps in settlers(plan).values()]
    if math.prod(len(column) for column in columns) > 8 * MOST_COMPARED:
        return None
    rows = {tuple(one.tolist()) for one in (way(chosen, needs) for chosen in itertools.product(*columns))}
    return np.array(sorted(rows), dtype=bool) if len(rows) <= MOST_COMPARED else None


def way(chosen: Iterable[int], needs: BoolArray) -> BoolArray:
    """Some steps with all that they need, shape (n,).

    Parameters
    ----------
    chosen : iterable of int
        Places of steps in the plan, or ``NONE``.
    needs : BoolArray
        As by ``with_needs``, shape (n, n).
    """
    return np.asarray(needs[[i for i in chosen if i != NONE]].any(axis=0))


def climb(screen: Screen, needs: BoolArray, limits: Limits) -> BoolArray:
    """Good ways among very many: one attribute settled otherwise at a time while that helps, from nothing and from all.

    Parameters
    ----------
    screen : Screen
        Values the ways that are looked at.
    needs : BoolArray
        As by ``with_needs``, shape (n, n).
    limits : Limits
        What a way must keep.

    Returns
    -------
    ndarray of bool, shape (m, n)
        Every way that was looked at, none of them twice.
    """
    columns = [[NONE, *steps] for steps in settlers(screen.plan).values()]
    seen: dict[tuple[bool, ...], float] = {}
    for start in ([NONE] * len(columns), [column[-1] for column in columns]):
        best, here = -math.inf, tuple(start)
        while True:
            near = [(*here[:a], i, *here[a + 1 :]) for a, column in enumerate(columns) for i in column]
            rows = np.array([way(chosen, needs) for chosen in near])
            figures = screen.figures(rows)
            profit = np.where(limits.kept_by(figures.steps_cost, figures.weeks), figures.profit, -math.inf)
            seen.update(zip(map(tuple, rows.tolist()), profit.tolist(), strict=True))
            if not profit.max() > best:
                break
            best, here = float(profit.max()), near[int(profit.argmax())]
    return np.array(list(seen), dtype=bool)


@dataclass(frozen=True, slots=True)
class Figures:
    """Expected figures of m choices, each of shape (m,): money, money, weeks, money."""

    profit: FloatArray
    steps_cost: FloatArray
    weeks: FloatArray
    price: FloatArray


class Screen:
    """Values many choices of one plan's steps at once, all under the same luck.

    Parameters
    ----------
    pricer : Pricer
    plan : BuildPlan
        As checked by ``check_plan``, with all that has passed taken out.
    first_day : date
    simulation : Simulation, optional
        Luck under which all are compared; the best are then simulated in full.
    """

    def __init__(self, pricer: Pricer, plan: BuildPlan, first_day: date, simulation: Simulation | None = None) -> None:
        simulation = simulation or Simulation(scenarios=32 if len(plan.steps) <= LONG_PLAN else 4, shifts=2)
        self.pricer, self.plan, self.first_day = pricer, plan, first_day
        self.rules = plan_rules(plan)
        place = {step.id: i for i, step in enumerate(plan.steps)}
        self.order = [place[name] for name in working_order({step.id: step.after for step in plan.steps})]
        self.draws = draw(plan, simulation)
        full = prepare(pricer, plan, first_day, simulation, draws=self.draws, rules=self.rules)
        self.sale_date = full.sale_date
        money = self.draws.cost + self.draws.hours * plan.shop.labour_rate
        self.step_costs = (money * self.draws.overrun[:, None]).mean(axis=0)
        self.drift_per_week = self._drift()
        self._known: dict[tuple[tuple[str, int], ...], tuple[float, float, float]] = {}

    def figures(self, done: BoolArray) -> Figures:
        """Expected figures of choices, ``done`` of shape (m, n); a show is made where that is the better way."""
        at_once = max(CHUNK // len(self.draws.overrun), 1)
        parts = [self._figures(done[i : i + at_once]) for i in range(0, len(done), at_once)]
        profit, weeks, price = (np.concatenate([part[i] for part in parts]) for i in range(3))
        return Figures(profit, done @ self.step_costs, weeks, price)

    def _figures(self, done: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        m, s = len(done), len(self.draws.overrun)
        draws = Draws(*(np.concatenate([getattr(self.draws, name)] * m) for name in Draws.__slots__))
        outcome = carry_out(self.plan, draws, self.first_day, self.rules, np.repeat(done, s, axis=0))
        at_once = replace(outcome, on_time=np.zeros(m * s), weeks_until_sold=outcome.weeks + draws.weeks_to_sell)
        plain, at_show, enters = self._prices(done)
        profit, price = self._profit(replace(self.plan, event=None), at_once, plain, plain, m)
        if enters.any():
            shown_profit, shown_price = self._profit(self.plan, outcome, plain, at_show, m)
            better = enters & (shown_profit > profit)
            profit, price = np.where(better, shown_profit, profit), np.where(better, shown_price, price)
        return profit, outcome.weeks.reshape(m, s).mean(axis=1), price

    def _profit(
        self, plan: BuildPlan, outcome: BuildOutcome, plain: FloatArray, at_show: FloatArray, m: int
    ) -> tuple[FloatArray, FloatArray]:
        paid = plan.purchase.paid(plan.purchase.stake)
        outlay = spent(plan, outcome, self.first_day)
        outlay = outlay + paid * growth(outcome.weeks_until_sold, plan.shop.interest_percent)
        made, until_sold, cost = (
            column.reshape(m, -1).mean(axis=1) for column in (outcome.on_time, outcome.weeks_until_sold, outlay)
        )
        weeks = (self.sale_date - self.first_day).days / DAYS_PER_WEEK
        drift = np.exp(self.drift_per_week * (until_sold - weeks))
        price = drift * (plain + made * (at_show - plain))
        return plan.sale.kept * price - cost, price

    def settled(self, done: BoolArray) -> dict[str, int]:
        """The step that settles each attribute which some step sets; ``done`` of shape (n,)."""
        return {name: i for i in self.order if done[i] for name in self.plan.steps[i].sets}

    def best_price(self, settled: Mapping[str, int]) -> float:
        """Expected price as found but for what some steps settle, with the show where that is better."""
        plain, at_show, _ = self._priced([settled])[0]
        return max(plain, at_show)

    def _prices(self, done: BoolArray) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Expected price without the show and with it, and whether it is entered, shape (m,) each."""
        table = np.array(self._priced([self.settled(row) for row in done]))
        return table[:, 0], table[:, 1], table[:, 2] > 0

    def _priced(self, settled: Sequence[Mapping[str, int]]) -> list[tuple[float, float, float]]:
        """Each distinct vehicle is priced once."""
        keys = [tuple(sorted(one.items())) for one in settled]
        new = [key for key in dict.fromkeys(keys) if key not in self._known]
        found, steps = self.plan.found, self.plan.steps
        vehicles = [
            Vehicle(found.name, {**found.attributes, **{name: steps[i].sets[name] for name, i in key}}) for key in new
        ]
        states = [award_states(vehicle, self.plan.event, self.pricer.schema) for vehicle in vehicles]
        priced = [vehicle for state in states for vehicle in state.vehicles]
        means = self.pricer.distribution(priced, self.sale_date).mean() if priced else np.empty(0)
        at = 0
        for key, state in zip(new, states, strict=True):
            own = means[at : at + len(state.vehicles)]
            at += len(state.vehicles)
            self._known[key] = (float(own[0]), float(own @ np.asarray(state.chances)), float(state.enters_event))
        return [self._known[key] for key in keys]

    def _drift(self) -> float:
        """Log of what a week's wait multiplies the price by, between the first day and the full build's sale."""
        days = (self.sale_date - self.first_day).days
        if days <= 0:
            return 0.0
        ends = [self.first_day, self.first_day + timedelta(days=days)]
        early, late = (float(self.pricer.distribution([self.plan.found], day).median()[0]) for day in ends)
        return float(np.log(late / early)) / (days / DAYS_PER_WEEK)
