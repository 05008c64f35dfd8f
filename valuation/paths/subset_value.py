"""Expected profit of many subsets of a plan's steps at once.

Simulating each of thousands of subsets would take minutes. Here each subset is scheduled once, at expected durations,
and the finish is spread around that in proportion as the full build's simulated finish is spread around its own
expected schedule. For the full build the answer equals the simulation's; the best subsets are simulated afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from valuation.build.crew import BoolArray
from valuation.build.network import working_order
from valuation.build.plan import BuildPlan
from valuation.build.scenarios import average_draws, carry_out, plan_rules
from valuation.build.simulation import Simulation
from valuation.build.states import FinishedStates, award_states
from valuation.paths.deal_path import prepare, start_of, still_ahead
from valuation.paths.pricer import Pricer
from valuation.regression.distribution import FloatArray
from valuation.schema.vehicle import Vehicle
from valuation.year import DAYS_PER_WEEK, WEEKS_PER_YEAR

CHUNK = 4096


@dataclass(frozen=True, slots=True)
class SubsetFigures:
    """Expected figures of m subsets, each of shape (m,).

    Attributes
    ----------
    profit, outlay, price : ndarray
        Money.
    steps_cost : ndarray
        Parts and labour of the steps alone, money.
    weeks : ndarray
        Until finished.
    odds_of_event : ndarray
    """

    profit: FloatArray
    outlay: FloatArray
    price: FloatArray
    steps_cost: FloatArray
    weeks: FloatArray
    odds_of_event: FloatArray


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

    def apply(self, figures: SubsetFigures) -> FloatArray:
        """Profit, with minus infinity where a limit is broken."""
        kept = np.ones(len(figures.profit), dtype=bool)
        if self.budget is not None:
            kept &= figures.steps_cost <= self.budget
        if self.weeks is not None:
            kept &= figures.weeks <= self.weeks
        return np.where(kept, figures.profit, -np.inf)


class SubsetValuer:
    """Values subsets of one plan's steps.

    Parameters
    ----------
    pricer : Pricer
    plan : BuildPlan
        As checked by ``check_plan``.
    as_of : date
    price : float
        Purchase price, money.
    simulation : Simulation
        For the spread of the full build's finish.
    """

    def __init__(self, pricer: Pricer, plan: BuildPlan, as_of: date, price: float, simulation: Simulation) -> None:
        self.pricer, self.paid = pricer, plan.purchase.paid(price)
        plan, passed = still_ahead(plan, as_of)
        self.plan = plan
        self.rules = plan_rules(plan)
        full = prepare(pricer, plan, as_of, simulation, rules=self.rules)
        self.notes = (*passed, *full.notes, *pricer.notes_on(full.states.vehicles[0], full.sale_date))
        self.first_day, _ = start_of(plan, as_of)
        self.sale_date = full.sale_date
        average = average_draws(plan)
        planned = float(carry_out(plan, average, self.first_day, self.rules).weeks[0])
        self.stretch = np.sort(full.outcome.weeks / planned) if planned > 0 else np.ones(1)
        """Finish over expected schedule, scenario by scenario, in rising order."""
        self.late_sums = np.concatenate([np.cumsum(self.stretch[::-1])[::-1], [0.0]])
        self.selling_weeks = float(full.draws.weeks_to_sell.mean())
        hours = full.draws.hours * full.draws.overrun[:, None] * plan.shop.labour_rate
        self.step_costs = (full.draws.cost * full.draws.overrun[:, None] + hours).mean(axis=0)
        self.drift_per_week = self._drift()
        self._prices: dict[tuple[int, ...], tuple[float, float, float]] = {}

    @property
    def needs(self) -> BoolArray:
        """Whether step i (row) cannot be done without step j (column), shape (n, n)."""
        ids = [step.id for step in self.plan.steps]
        return np.array([[name in step.after for name in ids] for step in self.plan.steps], dtype=bool)

    @property
    def order(self) -> list[int]:
        """Steps in the order in which they are worked on."""
        place = {step.id: i for i, step in enumerate(self.plan.steps)}
        return [place[name] for name in working_order({step.id: step.after for step in self.plan.steps})]

    def expected_price_of(self, attribute: int, step: int) -> float:
        """Expected price as found but for one attribute as one step sets it, with the event where that is better.

        Parameters
        ----------
        attribute : int
            Its number.
        step : int
            Its number.
        """
        settled = np.full((1, len(self.attributes)), -1, dtype=np.int16)
        settled[0, attribute] = step
        self._price_distinct(settled)
        return max(self._prices[tuple(int(i) for i in settled[0])][:2])

    @property
    def attributes(self) -> list[str]:
        """Attributes that steps set, by name."""
        return sorted({name for step in self.plan.steps for name in step.sets})

    def figures(self, done: BoolArray) -> SubsetFigures:
        """Expected figures of subsets, ``done`` of shape (m, n)."""
        plan, shop = self.plan, self.plan.shop
        planned = np.concatenate(
            [self._planned_weeks(done[i : i + CHUNK]) for i in range(0, len(done), CHUNK)] or [np.empty(0)]
        )
        weeks = planned * float(self.stretch.mean())
        on_time, for_sale = self._event(planned)
        plain, at_event, enters = self.expected_prices(done)
        on_time, for_sale = np.where(enters, on_time, 0.0), np.where(enters, for_sale, weeks)
        until_sold = for_sale + self.selling_weeks
        full_weeks = (self.sale_date - self.first_day).days / DAYS_PER_WEEK
        drift = np.exp(self.drift_per_week * (until_sold - full_weeks))
        price = drift * (plain + on_time * (at_event - plain))
        entry = plan.event.entry_cost if plan.event else 0.0
        steps_cost = done @ self.step_costs
        outlay = (
            steps_cost
            + shop.holding_per_week * until_sold
            + shop.overhead_per_week / shop.bays * weeks
            + (plan.purchase.fixed + plan.sale.fixed + entry * enters)
            + self.paid * (1 + shop.interest_percent / 100 * until_sold / WEEKS_PER_YEAR)
        )
        return SubsetFigures(plan.sale.kept * price - outlay, outlay, price, steps_cost, weeks, on_time)

    def _planned_weeks(self, done: BoolArray) -> FloatArray:
        draws = average_draws(self.plan, len(done))
        return carry_out(self.plan, draws, self.first_day, self.rules, done).weeks

    def _event(self, planned: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Odds of making the event, and expected weeks until the vehicle is for sale."""
        weeks = planned * float(self.stretch.mean())
        if self.plan.event is None:
            return np.zeros(len(planned)), weeks
        until_event = (self.plan.event.date - self.first_day).days / DAYS_PER_WEEK
        with np.errstate(divide="ignore"):
            in_time = np.searchsorted(self.stretch, until_event / planned, side="right")
        on_time = in_time / len(self.stretch)
        late = planned * self.late_sums[in_time] / len(self.stretch)
        return on_time, on_time * until_event + late

    def expected_prices(self, done: BoolArray) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Expected price without the event and with it, and whether it is entered; shape (m,) each.

        Each distinct vehicle is priced once.
        """
        settled = self.last_setters(done)
        distinct, which = np.unique(settled, axis=0, return_inverse=True)
        self._price_distinct(distinct)
        table = np.array([self._prices[tuple(int(i) for i in row)] for row in distinct])
        chosen = table[which.ravel()]
        return chosen[:, 0], chosen[:, 1], chosen[:, 2] > 0

    def last_setters(self, done: BoolArray) -> np.ndarray[tuple[int, int], np.dtype[np.int16]]:
        """For each attribute that steps set, the step that settles it (-1: as found), shape (m, attributes)."""
        names = self.attributes
        settled = np.full((len(done), len(names)), -1, dtype=np.int16)
        for column, name in enumerate(names):
            for i in self.order:
                if name in self.plan.steps[i].sets:
                    settled[done[:, i], column] = i
        return settled

    def _price_distinct(self, distinct: np.ndarray[tuple[int, int], np.dtype[np.int16]]) -> None:
        new = [key for row in distinct if (key := tuple(int(i) for i in row)) not in self._prices]
        states: list[FinishedStates] = []
        for key in new:
            changes = {
                name: self.plan.steps[i].sets[name] for name, i in zip(self.attributes, key, strict=True) if i >= 0
            }
            vehicle = Vehicle(self.plan.found.name, {**self.plan.found.attributes, **changes})
            states.append(award_states(vehicle, self.plan.event, self.pricer.schema))
        vehicles = [vehicle for state in states for vehicle in state.vehicles]
        if not vehicles:
            return
        means = self.pricer.distribution(vehicles, self.sale_date).mean()
        at = 0
        for key, state in zip(new, states, strict=True):
            own = means[at : at + len(state.vehicles)]
            at += len(state.vehicles)
            at_event = float(own @ np.asarray(state.chances))
            self._prices[key] = (float(own[0]), at_event, float(state.enters_event))

    def _drift(self) -> float:
        """Log of what a week's wait multiplies the price by, between the first day and the full build's sale."""
        days = (self.sale_date - self.first_day).days
        if days <= 0:
            return 0.0
        ends = [self.first_day, self.first_day + timedelta(days=days)]
        early, late = (float(self.pricer.distribution([self.plan.found], day).median()[0]) for day in ends)
        return float(np.log(late / early)) / (days / DAYS_PER_WEEK)
