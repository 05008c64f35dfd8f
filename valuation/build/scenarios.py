"""Carrying out a build in many scenarios: what it costs, how long it takes, and whether the show is made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy.special import ndtri

from valuation.build.crew import BoolArray, CrewRules, Schedule, crew_rules, crew_schedule
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.errors import PlanError
from valuation.regression.distribution import FloatArray
from valuation.year import DAYS_PER_WEEK


@dataclass(frozen=True, slots=True)
class Draws:
    """Everything about a build that chance decides, before any step is left out.

    Attributes
    ----------
    cost, hours, parts_weeks : ndarray, shape (s, n)
        Money, hours and weeks of each step; cost and hours without the shared overrun.
    overrun : ndarray, shape (s,)
        Shared factor on cost and hours.
    weeks_to_sell : ndarray, shape (s,)
    """

    cost: FloatArray
    hours: FloatArray
    parts_weeks: FloatArray
    overrun: FloatArray
    weeks_to_sell: FloatArray


@dataclass(frozen=True, slots=True)
class BuildOutcome:
    """What came of a build, scenario by scenario; weeks count from the first day.

    Attributes
    ----------
    parts, labour : ndarray, shape (s,)
        Money for parts and outside work, and for the shop's own hours, with the overrun.
    weeks : ndarray, shape (s,)
        Until the build is finished.
    on_time : ndarray of float, shape (s,)
        1 where the event's date is met, else 0; all 0 without an event.
    weeks_until_sold : ndarray, shape (s,)
        Until the buyer has paid; a vehicle that makes its event is for sale from the event on.
    schedule : Schedule
    """

    parts: FloatArray
    labour: FloatArray
    weeks: FloatArray
    on_time: FloatArray
    weeks_until_sold: FloatArray
    schedule: Schedule


def draw(plan: BuildPlan, simulation: Simulation) -> Draws:
    """Draw costs, hours, waits and the shared overrun of a plan.

    The first dimensions of the point set, which are spread best, go to what moves most: the shared overrun and the
    weeks to sell.

    Parameters
    ----------
    plan : BuildPlan
    simulation : Simulation
    """
    n, shape = len(plan.steps), plan.shop.spread
    u = simulation.uniforms(2 + 3 * n)
    cost, hours, parts = np.empty((3, simulation.scenarios, n))
    for i, step in enumerate(plan.steps):
        cost[:, i] = step.cost.quantile(u[:, 2 + i], shape)
        hours[:, i] = step.hours.quantile(u[:, 2 + n + i], shape)
        parts[:, i] = step.parts_weeks.quantile(u[:, 2 + 2 * n + i], shape)
    overrun = plan.shop.overrun.factor(np.asarray(ndtri(u[:, 0])))
    return Draws(cost, hours, parts, overrun, plan.sale.weeks_to_sell.quantile(u[:, 1], shape))


def average_draws(plan: BuildPlan, times: int = 1) -> Draws:
    """All expected figures, ``times`` times over: the build as planned, without chance.

    Parameters
    ----------
    plan : BuildPlan
    times : int
        Scenarios, all alike.
    """
    shape = plan.shop.spread
    rows = [[getattr(step, name).mean(shape) for step in plan.steps] for name in ("cost", "hours", "parts_weeks")]
    cost, hours, parts = (np.tile(np.asarray(row, dtype=float), (times, 1)) for row in rows)
    overrun = np.full(times, plan.shop.overrun.mean)
    return Draws(cost, hours, parts, overrun, np.full(times, plan.sale.weeks_to_sell.mean(shape)))


def plan_rules(plan: BuildPlan) -> CrewRules:
    """The limits on the schedule of a plan.

    Raises
    ------
    PlanError
        Two steps of one id, a circle, an unknown predecessor, or a step that needs more people than there are.
    """
    ids = [step.id for step in plan.steps]
    twice = sorted({name for name in ids if ids.count(name) > 1})
    if twice:
        raise PlanError(f"Plan '{plan.name}' has more than one step '{twice[0]}'. Give each step an id of its own.")
    known = set(ids)
    before = {
        step.id: tuple(dict.fromkeys([*step.after, *(name for name in step.after_if_done if name in known)]))
        for step in plan.steps
    }
    likely = [_weeks(plan, i, step.hours.mean(plan.shop.spread)) for i, step in enumerate(plan.steps)]
    people = [step.people for step in plan.steps]
    when_ready = [step.order_when_ready for step in plan.steps]
    try:
        return crew_rules(ids, before, people, plan.shop.crew, likely, when_ready)
    except PlanError as problem:
        raise PlanError(f"Plan '{plan.name}': {problem}", where=problem.where) from None


def _weeks(plan: BuildPlan, step: int, hours: float) -> float:
    return hours / (plan.shop.hours_per_week * max(plan.steps[step].people, 1))


def carry_out(
    plan: BuildPlan,
    draws: Draws,
    first_day: date,
    rules: CrewRules | None = None,
    done: BoolArray | None = None,
    delay_weeks: float = 0.0,
) -> BuildOutcome:
    """Carry out a plan, or some of its steps, in every scenario.

    Parameters
    ----------
    plan : BuildPlan
    draws : Draws
    first_day : date
        On which the build begins.
    rules : CrewRules, optional
        Of ``plan_rules``, when they are at hand.
    done : ndarray of bool, shape (s, n) or (n,), optional
        Steps that are carried out; all of them unless told.
    delay_weeks : float
        Weeks by which the finish slips for no reason within the plan.
    """
    scenarios, steps = draws.cost.shape
    people = np.array([max(step.people, 1) for step in plan.steps], dtype=float)
    hours = draws.hours * draws.overrun[:, None]
    costs = draws.cost * draws.overrun[:, None]
    kept = None if done is None else np.broadcast_to(done, (scenarios, steps))
    schedule = crew_schedule(
        hours / (people * plan.shop.hours_per_week), draws.parts_weeks, rules or plan_rules(plan), kept
    )
    if kept is not None:
        hours, costs = np.where(kept, hours, 0.0), np.where(kept, costs, 0.0)
    weeks = schedule.length + delay_weeks
    on_time, for_sale = np.zeros(scenarios), weeks
    if plan.event is not None:
        until_event = (plan.event.date - first_day).days / DAYS_PER_WEEK
        on_time = (weeks <= until_event).astype(float)
        for_sale = np.where(on_time > 0, until_event, weeks)
    return BuildOutcome(
        parts=costs.sum(axis=1),
        labour=hours.sum(axis=1) * plan.shop.labour_rate,
        weeks=weeks,
        on_time=on_time,
        weeks_until_sold=for_sale + draws.weeks_to_sell,
        schedule=schedule,
    )
