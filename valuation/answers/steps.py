"""What each step of a build is worth, and which are better left out."""

from __future__ import annotations

from datetime import date

from valuation.build.plan import BuildPlan
from valuation.day import day_of
from valuation.paths.pricer import Pricer
from valuation.paths.steps import StepsReport, evaluate_steps


def steps(
    model: Pricer,
    plan: BuildPlan,
    as_of: date | None = None,
    *,
    price: float | None = None,
    budget: float | None = None,
    finish_by: date | None = None,
) -> StepsReport:
    """What each result adds and costs with all that it needs, and which steps to do; begun today unless told.

    See ``evaluate_steps`` for the arguments and what is refused.

    Parameters
    ----------
    model : Pricer
    plan : BuildPlan
    as_of : date or None
        Day of the purchase; today unless given.
    price : float or None
        Purchase price, money; the plan's own unless given.
    budget : float or None
        Most that the steps may cost, money.
    finish_by : date or None
        Day by which the build must be done.
    """
    return evaluate_steps(model, plan, day_of(as_of), price=price, budget=budget, finish_by=finish_by)
