"""What is behind each build plan: its steps, its schedule, and what drives its profit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from valuation.build.plan import BuildPlan
from valuation.paths.deal_path import standing
from valuation.paths.drivers import Driver, profit_drivers
from valuation.paths.pricer import Pricer
from valuation.paths.schedule import ScheduleReport, evaluate_schedule
from valuation.paths.steps import StepsReport, evaluate_steps

Telling = Callable[[str, int, int], None]
"""Told what comes next, how many parts of the work are done, and of how many."""


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """Everything about one build plan.

    Attributes
    ----------
    steps : StepsReport
    schedule : ScheduleReport
    drivers : tuple of Driver
        Largest swing first.
    """

    steps: StepsReport
    schedule: ScheduleReport
    drivers: tuple[Driver, ...]


def plan_answers(
    model: Pricer,
    plans: Sequence[BuildPlan],
    as_of: date,
    *,
    price: float | None = None,
    tell: Telling | None = None,
    before: int = 0,
) -> dict[str, PlanAnswer]:
    """Worth of the steps, schedule and drivers of each plan that has steps, by its name.

    Parameters
    ----------
    model, plans, as_of, price
        As for ``evaluate_paths``.
    tell : callable, optional
        Told how far the work is.
    before : int
        Parts of the work that were done before this.
    """
    built = [plan for plan in plans if standing(model, plan, as_of)[0].steps]
    answers = {}
    for done, plan in enumerate(built, before):
        if tell is not None:
            tell(f"the steps of '{plan.name}'", done, before + len(built))
        answers[plan.name] = PlanAnswer(
            steps=evaluate_steps(model, plan, as_of, price=price),
            schedule=evaluate_schedule(model, plan, as_of),
            drivers=profit_drivers(model, plan, as_of, price=price),
        )
    return answers
