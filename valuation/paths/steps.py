"""The worth of each step with the others in place: what it adds to the price against what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy.special import ndtri

from valuation.build.figures import percent
from valuation.build.plan import BuildPlan
from valuation.build.scenarios import carry_out, draw, plan_rules
from valuation.build.simulation import Simulation
from valuation.build.states import as_entered, finished_states
from valuation.errors import PlanError
from valuation.notes import Note, each_once
from valuation.paths.deal_path import award_weights, check_plan, make_deal, prepare, purchase_price, still_ahead
from valuation.paths.pricer import Pricer
from valuation.paths.profit import Deal
from valuation.paths.subset import Subset, SubsetSearch, best_subset
from valuation.regression.distribution import FloatArray
from valuation.regression.joint import JointPrices
from valuation.view import View, Viewed, as_money


@dataclass(frozen=True, slots=True)
class StepWorth:
    """What one step is worth when all the others are done; money, odds from 0 to 1.

    Attributes
    ----------
    id, what : str
    adds : float
        Expected sale price with the step, less that without it (awards and the odds of the event included).
    costs : float
        Expected outlay with the step, less that without it (its labour and the waiting it causes included).
    net : float
        Expected profit with the step, less that without it.
    percent : float
        What the step does to the price of the finished vehicle, without any award, percent.
    odds_it_pays : float
        Probability that the profit with the step is above that without it.
    weeks : float
        Expected weeks by which it lengthens the build.
    change_of_event_odds : float or None
        Change of the odds of making the event.
    simulation_error : float
        Standard error of ``net``, money.
    needed_by : tuple of str
        Steps that cannot be done without it.
    """

    id: str
    what: str
    adds: float
    costs: float
    net: float
    percent: float
    odds_it_pays: float
    weeks: float
    change_of_event_odds: float | None
    simulation_error: float
    needed_by: tuple[str, ...]


@dataclass(frozen=True, slots=True, repr=False)
class StepsReport(Viewed):
    """The worth of each step, and the best subset.

    Attributes
    ----------
    plan : str
    steps : tuple of StepWorth
        In the order of the plan.
    best_subset : Subset
    alternatives : tuple of Subset
        The next best, at most four.
    search : SubsetSearch
    currency : str
    notes : tuple of Note
    """

    plan: str
    steps: tuple[StepWorth, ...]
    best_subset: Subset
    alternatives: tuple[Subset, ...]
    search: SubsetSearch
    currency: str
    notes: tuple[Note, ...]

    def _view(self) -> View:
        return View(
            title=f"Steps of {self.plan}",
            facts=(f"best subset: {', '.join(self.best_subset.steps) or 'no step'}",),
            header=("step", "adds", "costs", "net", "odds it pays", "weeks"),
            rows=[
                (
                    one.what or one.id,
                    as_money(one.adds, self.currency),
                    as_money(one.costs),
                    f"{one.net:+,.0f}",
                    percent(one.odds_it_pays),
                    f"{one.weeks:.1f}",
                )
                for one in self.steps
            ],
            notes=self.notes,
        )


def evaluate_steps(
    pricer: Pricer,
    plan: BuildPlan,
    as_of: date,
    *,
    price: float | None = None,
    budget: float | None = None,
    finish_by: date | None = None,
    simulation: Simulation | None = None,
) -> StepsReport:
    """What each step adds and costs, and which steps to leave out.

    Parameters
    ----------
    pricer, plan, as_of, price, budget, finish_by, simulation
        As for ``best_subset``.

    Raises
    ------
    PlanError
        The plan contradicts itself or has no steps, or no subset keeps budget and date.
    """
    subsets = best_subset(pricer, plan, as_of, price=price, budget=budget, finish_by=finish_by, simulation=simulation)
    worths = step_worths(pricer, plan, as_of, price=price, simulation=simulation)
    return StepsReport(
        plan=plan.name,
        steps=worths,
        best_subset=subsets.best,
        alternatives=subsets.alternatives,
        search=subsets.search,
        currency=pricer.currency,
        notes=each_once(subsets.notes),
    )


def step_worths(
    pricer: Pricer,
    plan: BuildPlan,
    as_of: date,
    *,
    price: float | None = None,
    simulation: Simulation | None = None,
) -> tuple[StepWorth, ...]:
    """The worth of each step with the others in place.

    Every scenario is played with and without the step, with the same luck. All states of the vehicle are priced
    together, on the full build's sale date: what the table does not know about the family moves both prices alike.

    Parameters
    ----------
    pricer : Pricer
    plan : BuildPlan
    as_of : date
        Day of the purchase.
    price : float or None
        Purchase price, money; ``None`` where it is not known.
    simulation : Simulation or None
        The usual one unless given.
    """
    check_plan(plan, pricer, as_of)
    if not plan.steps:
        raise PlanError(f"Plan '{plan.name}' has no steps. Add one that starts with a line [[steps]].")
    price = purchase_price(plan, price) or 0.0
    plan, _ = still_ahead(plan, as_of)
    simulation = simulation or Simulation(scenarios=1024)
    n = len(plan.steps)
    draws, rules = draw(plan, simulation), plan_rules(plan)
    full = prepare(pricer, plan, as_of, simulation, draws=draws, rules=rules)
    choices = [np.ones(n, dtype=bool), *(~np.eye(n, dtype=bool))]
    states = [finished_states(plan, pricer.schema, [bool(one) for one in done]) for done in choices]
    joint = pricer.joint([vehicle for state in states for vehicle in state.vehicles], full.sale_date)
    alone = joint.distribution
    drawn, state_luck = _draw_prices(joint, simulation, 2 + 3 * n)
    deals, profits, outcomes, at = [], [], [], 0
    for done, state in zip(choices, states, strict=True):
        rows = slice(at, at + len(state.vehicles))
        at += len(state.vehicles)
        entered = as_entered(plan, state)
        outcome = carry_out(entered, draws, full.first_day, rules, done)
        deal = make_deal(entered, outcome, state, alone[rows], simulation.shifts)
        sold_as = (state_luck[:, None] > np.cumsum(award_weights(outcome, state), axis=1)[:, :-1]).sum(axis=1)
        sold_at = drawn[:, rows][np.arange(len(drawn)), sold_as]
        outcomes.append(outcome)
        deals.append(deal)
        profits.append(deal.kept * sold_at - deal.outlay(price))
    medians = [float(deal.prices.median()[0]) for deal in deals]
    answers = []
    for i, step in enumerate(plan.steps):
        net = _expected(deals[0], price) - _expected(deals[i + 1], price)
        by_shift = net.reshape(simulation.shifts, -1).mean(axis=1)
        odds = float(outcomes[0].on_time.mean() - outcomes[i + 1].on_time.mean())
        answers.append(
            StepWorth(
                id=step.id,
                what=step.what,
                adds=deals[0].expected_price() - deals[i + 1].expected_price(),
                costs=float((deals[0].outlay(price) - deals[i + 1].outlay(price)).mean()),
                net=float(net.mean()),
                percent=percent_effect(np.log(medians[0] / medians[i + 1])),
                odds_it_pays=float((profits[0] > profits[i + 1]).mean()),
                weeks=float((outcomes[0].weeks - outcomes[i + 1].weeks).mean()),
                change_of_event_odds=odds if plan.event else None,
                simulation_error=float(by_shift.std(ddof=1) / np.sqrt(simulation.shifts)),
                needed_by=_needed_by(step.id, {other.id: other.after for other in plan.steps}),
            )
        )
    return tuple(answers)


def percent_effect(log_effect: float) -> float:
    """What an effect on the log of the price does to the price, percent: 100 (exp(b) - 1), not 100 b."""
    return 100 * float(np.expm1(log_effect))


def _expected(deal: Deal, price: float) -> FloatArray:
    return np.asarray(deal.expected_proceeds() - deal.outlay(price))


def _draw_prices(joint: JointPrices, simulation: Simulation, first: int) -> tuple[FloatArray, FloatArray]:
    """Joint prices of all states, shape (s, m), and the luck at the event, shape (s,), on dimensions not yet used."""
    u = simulation.uniforms(first + len(joint) + 2)[:, first:]
    return joint.sample(ndtri(u[:, 2:]), ndtri(u[:, 0])), u[:, 1]


def _needed_by(step: str, after: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """The steps that cannot be done without this one, near and far."""
    needing = {step}
    while more := {other for other, names in after.items() if other not in needing and needing & set(names)}:
        needing |= more
    return tuple(other for other in after if other in needing and other != step)
