"""Carrying out a build in many scenarios: what it costs, how long it takes, and whether the show is made."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy.special import ndtri

from valuation.build.crew import BoolArray, CrewRules, Schedule, crew_rules, crew_schedule
from valuation.build.interest import flow, growth
from valuation.build.plan import BuildPlan, Step
from valuation.build.simulation import Simulation
from valuation.build.three_point import Overrun, Shape, ThreePoint
from valuation.errors import PlanError
from valuation.regression.distribution import FloatArray
from valuation.year import DAYS_PER_WEEK


@dataclass(frozen=True, slots=True)
class Draws:
    """Everything about a build that chance decides, before any step is left out.

    Attributes
    ----------
    cost, hours, parts_weeks : ndarray, shape (s, n)
        Money, hours and weeks of each step; cost and hours without the shared overrun, and brought to the plan's
        likely total, from which the overrun counts.
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
    at_finish : ndarray, shape (s,)
        Parts and labour together with what that money has cost by the day the build is finished.
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
    at_finish: FloatArray
    weeks: FloatArray
    on_time: FloatArray
    weeks_until_sold: FloatArray
    schedule: Schedule


@dataclass(frozen=True, slots=True)
class SharedOverrun:
    """The overrun of a whole build, less what the steps' own ranges already say.

    Attributes
    ----------
    cost_scale, hours_scale : float
        Bring the mean of all costs, and of all hours, to the sum of the likely figures.
    factor : Overrun
        What is left to be shared, so that the build as a whole runs over its likely figures as the shop's overrun says.
    """

    cost_scale: float
    hours_scale: float
    factor: Overrun


def shared_overrun(plan: BuildPlan) -> SharedOverrun:
    """What all steps of a plan are multiplied by together.

    The stated overrun is that of the whole build over its likely figures. Ranges that reach further up than down run
    over by themselves, and their scatter is part of the stated one: both are counted once. Without an overrun
    (``Overrun.none``) the ranges stand as they are written.

    Notes
    -----
    The sum of the steps is taken to be log-normal: with coefficient of variation c its median is its mean over
    sqrt(1 + c^2) and its log has the variance log(1 + c^2).
    """
    stated, shape = plan.shop.overrun, plan.shop.spread
    if stated == Overrun.none() or not plan.steps:
        return SharedOverrun(1.0, 1.0, stated)
    cost_scale, hours_scale = (
        _to_likely([getattr(step, name) for step in plan.steps], shape) for name in ("cost", "hours")
    )
    own = own_scatter(plan, plan.steps)
    left = math.sqrt(max(stated.log_spread**2 - own, 0.0))
    return SharedOverrun(cost_scale, hours_scale, Overrun.of_log(math.log(stated.typical) + own / 2, left))


def own_scatter(plan: BuildPlan, steps: Sequence[Step]) -> float:
    """Variance of the log of what some steps come to by their own ranges, the shared overrun apart.

    Parameters
    ----------
    plan : BuildPlan
        As checked by ``check_plan``.
    steps : sequence of Step
        Of the plan.
    """
    shape, rate = plan.shop.spread, plan.shop.labour_rate
    costs, hours = ([getattr(step, name) for step in steps] for name in ("cost", "hours"))
    cost_scale, hours_scale = _to_likely(costs, shape), _to_likely(hours, shape)
    per_hour = rate if rate > 0 or any(figure.high > 0 for figure in costs) else 1.0
    mean = sum(one.mean(shape) for one in costs) * cost_scale
    mean += per_hour * hours_scale * sum(one.mean(shape) for one in hours)
    variance = sum(one.variance(shape) for one in costs) * cost_scale**2
    variance += (per_hour * hours_scale) ** 2 * sum(one.variance(shape) for one in hours)
    return math.log1p((math.sqrt(variance) / mean) ** 2) if mean > 0 else 0.0


def _to_likely(figures: Sequence[ThreePoint], shape: Shape) -> float:
    """Sum of the likely figures over that of the means; 1 where nothing is likely to be needed."""
    likely = sum(figure.likely for figure in figures)
    return likely / sum(figure.mean(shape) for figure in figures) if likely > 0 else 1.0


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
    shared = shared_overrun(plan)
    overrun = shared.factor.factor(np.asarray(ndtri(u[:, 0])))
    weeks_to_sell = plan.sale.weeks_to_sell.quantile(u[:, 1], shape)
    return Draws(cost * shared.cost_scale, hours * shared.hours_scale, parts, overrun, weeks_to_sell)


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
    shared = shared_overrun(plan)
    overrun = np.full(times, shared.factor.mean)
    weeks_to_sell = np.full(times, plan.sale.weeks_to_sell.mean(shape))
    return Draws(cost * shared.cost_scale, hours * shared.hours_scale, parts, overrun, weeks_to_sell)


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
    idle_weeks: FloatArray | None = None,
) -> BuildOutcome:
    """Carry out a plan, or some of its steps, in every scenario.

    Parts are paid on the day they come, labour as it is worked.

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
    idle_weeks : ndarray, shape (n,), optional
        Weeks by which a step takes longer without more work.
    """
    scenarios, steps = draws.cost.shape
    people = np.array([max(step.people, 1) for step in plan.steps], dtype=float)
    hours = draws.hours * draws.overrun[:, None]
    costs = draws.cost * draws.overrun[:, None]
    kept = None if done is None else np.broadcast_to(done, (scenarios, steps))
    rules = rules or plan_rules(plan)
    takes = hours / (people * plan.shop.hours_per_week)
    schedule = crew_schedule(takes if idle_weeks is None else takes + idle_weeks, draws.parts_weeks, rules, kept)
    if kept is not None:
        hours, costs = np.where(kept, hours, 0.0), np.where(kept, costs, 0.0)
    weeks = schedule.length + delay_weeks
    labour = hours * plan.shop.labour_rate
    on_time, for_sale = np.zeros(scenarios), weeks
    if plan.event is not None:
        until_event = (plan.event.date - first_day).days / DAYS_PER_WEEK
        on_time = (weeks <= until_event).astype(float)
        for_sale = np.where(on_time > 0, until_event, weeks)
    return BuildOutcome(
        parts=costs.sum(axis=1),
        labour=labour.sum(axis=1),
        at_finish=_at_finish(plan, schedule, draws.parts_weeks, rules, costs, labour, weeks),
        weeks=weeks,
        on_time=on_time,
        weeks_until_sold=for_sale + draws.weeks_to_sell,
        schedule=schedule,
    )


def _at_finish(
    plan: BuildPlan,
    schedule: Schedule,
    parts_weeks: FloatArray,
    rules: CrewRules,
    costs: FloatArray,
    labour: FloatArray,
    weeks: FloatArray,
) -> FloatArray:
    """Parts and labour, each with interest from the day it is paid to the end of the build, shape (s,)."""
    rate, end = plan.shop.interest_percent, weeks[:, None]
    come = np.where(rules.order_when_ready, schedule.start, np.minimum(parts_weeks, schedule.start))
    lasts = schedule.finish - schedule.start
    evenly = np.divide(flow(lasts, rate), lasts, out=np.ones_like(lasts), where=lasts > 0)
    parts = costs * growth(end - come, rate)
    return np.asarray((parts + labour * evenly * growth(end - schedule.finish, rate)).sum(axis=1))
