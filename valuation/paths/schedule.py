"""The schedule of a build: when it ends, what it waits for, whether the show is made, and what a delay costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from valuation.build.crew import CrewRules, Schedule
from valuation.build.figures import Spread
from valuation.build.network import CriticalPath, critical_path
from valuation.build.plan import BuildPlan
from valuation.build.scenarios import average_draws, carry_out, draw, plan_rules
from valuation.build.simulation import Simulation
from valuation.errors import PlanError
from valuation.notes import Note
from valuation.paths.deal_path import DealPath, FinishDays, check_plan, finish_days, make_deal, prepare, standing
from valuation.paths.pricer import Pricer
from valuation.regression.distribution import FloatArray
from valuation.year import DAYS_PER_WEEK


@dataclass(frozen=True, slots=True)
class StepTiming:
    """When one step is worked on; weeks from the first day.

    Attributes
    ----------
    id : str
    start, finish : Spread
        Simulated.
    slack_weeks : float
        By how much it may slip at expected durations without moving the end, the crew's hands included.
    odds_critical : float
        How often it lies on the chain that fixes the end.
    delay_costs_per_week : float
        Fall of the expected profit if it takes a week longer without more work, money.
    """

    id: str
    start: Spread
    finish: Spread
    slack_weeks: float
    odds_critical: float
    delay_costs_per_week: float


@dataclass(frozen=True, slots=True)
class ScheduleReport:
    """The schedule of a build plan.

    Attributes
    ----------
    plan : str
    steps : tuple of StepTiming
        In the order of the plan.
    weeks : Spread
        Until finished.
    finish : FinishDays
    odds_of_event : float or None
        None without an event.
    odds_error : float
        Standard error of the odds.
    delay_costs_per_week : float
        Fall of the expected profit if the whole build ends a week later, money.
    crew_waits_weeks : float
        By how much the crew's size is expected to lengthen the build.
    notes : tuple of Note
    """

    plan: str
    steps: tuple[StepTiming, ...]
    weeks: Spread
    finish: FinishDays
    odds_of_event: float | None
    odds_error: float
    delay_costs_per_week: float
    crew_waits_weeks: float
    notes: tuple[Note, ...]


def evaluate_schedule(
    pricer: Pricer, plan: BuildPlan, as_of: date, *, simulation: Simulation | None = None
) -> ScheduleReport:
    """When a build ends, what it waits for, and what a week costs.

    Parameters
    ----------
    pricer, plan, as_of, simulation
        As for ``evaluate_paths``.

    Raises
    ------
    PlanError
        The plan contradicts itself or has no steps.
    """
    check_plan(plan, pricer, as_of)
    plan, passed = standing(pricer, plan, as_of)
    if not plan.steps:
        raise PlanError(f"Plan '{plan.name}' has no steps to schedule. Add one that starts with a line [[steps]].")
    simulation = simulation or Simulation(scenarios=2048)
    draws, rules = draw(plan, simulation), plan_rules(plan)
    price = plan.purchase.asked or 0.0
    path = prepare(pricer, plan, as_of, simulation, draws=draws, rules=rules)
    later = prepare(pricer, plan, as_of, simulation, draws=draws, rules=rules, delay_weeks=1.0)
    schedule, weeks = path.outcome.schedule, path.outcome.weeks
    critical = schedule.critical().mean(axis=0)
    slack = crew_slack(plan, rules)
    unlimited = replace(rules, crew=max(int(rules.people.sum()), 1))
    free = carry_out(plan, draws, path.first_day, unlimited)
    steps = tuple(
        StepTiming(
            id=step.id,
            start=_spread(schedule.start[:, i]),
            finish=_spread(schedule.finish[:, i]),
            slack_weeks=slack.times[step.id].slack,
            odds_critical=float(critical[i]),
            delay_costs_per_week=_delay_costs(path, rules, i, price),
        )
        for i, step in enumerate(plan.steps)
    )
    event = plan.event  # whether or not waiting for it pays
    days = 0 if event is None else (event.date - path.first_day).days
    in_time = (weeks * DAYS_PER_WEEK <= days).astype(float)
    return ScheduleReport(
        plan=plan.name,
        steps=steps,
        weeks=_spread(weeks),
        finish=finish_days(path),
        odds_of_event=None if event is None else float(in_time.mean()),
        odds_error=simulation.error(in_time),
        delay_costs_per_week=path.deal.expected_profit(price).value - later.deal.expected_profit(price).value,
        crew_waits_weeks=float((weeks - free.weeks).mean()),
        notes=(*passed, *path.notes),
    )


def crew_slack(plan: BuildPlan, rules: CrewRules) -> CriticalPath:
    """Critical path at expected durations when each pair of hands does its steps in the order of the schedule.

    Parameters
    ----------
    plan : BuildPlan
    rules : CrewRules
    """
    average = average_draws(plan)
    schedule = carry_out(replace(plan, event=None), average, date.min, rules).schedule
    ids = [step.id for step in plan.steps]
    before: dict[str, list[str]] = {
        step: [ids[j] for j in np.flatnonzero(rules.before[i])] for i, step in enumerate(ids)
    }
    durations = dict(zip(ids, (schedule.finish - schedule.start)[0].tolist(), strict=True))
    not_before = {}
    for i, step in enumerate(plan.steps):
        waits = float(average.parts_weeks[0, i])
        if step.order_when_ready:  # the wait is part of the step, as the network sees it
            durations[step.id] += waits if before[step.id] else 0.0
            not_before[step.id] = 0.0 if before[step.id] else waits
        else:
            not_before[step.id] = waits
    for earlier, later in hand_overs(schedule, rules):
        if ids[earlier] not in before[ids[later]]:
            before[ids[later]].append(ids[earlier])
    return critical_path(durations, before, not_before)


def hand_overs(schedule: Schedule, rules: CrewRules) -> Sequence[tuple[int, int]]:
    """Which step's people go on to which step, in the first scenario of a schedule.

    Parameters
    ----------
    schedule : Schedule
    rules : CrewRules
    """
    start, finish = schedule.start[0], schedule.finish[0]
    free = [(0.0, -1)] * rules.crew
    links: list[tuple[int, int]] = []
    for step in sorted(range(len(start)), key=lambda i: (start[i], rules.rank[i])):
        needed = int(rules.people[step])
        free.sort()
        links.extend((held, step) for _, held in free[:needed] if held >= 0)
        free[:needed] = [(float(finish[step]), step)] * needed
    return links


def _delay_costs(path: DealPath, rules: CrewRules, step: int, price: float) -> float:
    """Fall of the expected profit when one step takes a week longer: its people wait, and no more is paid for hours."""
    plan = path.plan
    week = np.arange(len(plan.steps)) == step
    outcome = carry_out(plan, path.draws, path.first_day, rules, idle_weeks=week.astype(float))
    delayed = make_deal(plan, outcome, path.states, path.deal.prices, path.deal.shifts, path.first_day)
    return path.deal.expected_profit(price).value - delayed.expected_profit(price).value


def _spread(values: FloatArray) -> Spread:
    low, high = np.quantile(values, [0.1, 0.9])
    return Spread(float(values.mean()), float(low), float(high))
