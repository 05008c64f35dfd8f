"""Everything about a find: its paths, the profit of each as a curve, and what is behind each plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from valuation.answers.paths import paths
from valuation.answers.plan import PlanAnswer, Telling, plan_answers
from valuation.build.plan import BuildPlan
from valuation.build.terms import Goal
from valuation.paths.compare import PathsReport
from valuation.paths.deal_path import priced
from valuation.paths.pricer import Pricer
from valuation.paths.profit_curve import ProfitCurve, profit_curves


def goal_wanted(plans: Sequence[BuildPlan], margin_percent: float | None, sure_percent: float | None) -> Goal:
    """What is wanted of a find: the first plan's goal, or with it another margin or another certainty.

    Parameters
    ----------
    plans : sequence of BuildPlan
        Of one find, at least one.
    margin_percent : float or None
        Of the outlay; the plan's own unless given.
    sure_percent : float or None
        With what probability; beside a margin None means on average.
    """
    own = plans[0].goal
    if margin_percent is None and sure_percent is None:
        return own
    return Goal(own.margin_percent if margin_percent is None else margin_percent, own.profit, sure_percent)


@dataclass(frozen=True, slots=True)
class BuildAnswer:
    """Everything about the plans of one find.

    Attributes
    ----------
    paths : PathsReport
    curves : tuple of ProfitCurve
        In the order of the paths.
    plans : dict of str to PlanAnswer
        By the name of each plan with steps.
    """

    paths: PathsReport
    curves: tuple[ProfitCurve, ...]
    plans: dict[str, PlanAnswer]


def build(
    model: Pricer,
    plans: Sequence[BuildPlan],
    as_of: date | None = None,
    *,
    price: float | None = None,
    goal: Goal | None = None,
    tell: Telling | None = None,
) -> BuildAnswer:
    """Everything about the plans of one find, bought today unless told; see ``evaluate_paths`` for the arguments.

    Each plan is weighed at the price given, else at the one that its own owner asks.

    Parameters
    ----------
    model : Pricer
    plans : sequence of BuildPlan
        Of one find.
    as_of : date or None
        Day of the purchase; today unless given.
    price : float or None
        Purchase price, money; the plan's own unless given.
    goal : Goal or None
        The plan's own unless given.
    tell : Telling or None
        Told how far the work is.
    """
    parts = 2 + sum(1 for plan in plans if plan.steps)
    if tell is not None:
        tell("comparing the paths", 0, parts)
    plans = priced(plans, price)
    report = paths(model, plans, as_of, goal=goal)
    if tell is not None:
        tell("drawing the profit", 1, parts)
    curves = profit_curves(model, plans, report.as_of)
    answers = plan_answers(model, plans, report.as_of, tell=tell, before=2)
    return BuildAnswer(report, curves, answers)
