"""Which way to go with a find, and what to pay for it at most."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from valuation.build.plan import BuildPlan
from valuation.build.terms import Goal
from valuation.day import day_of
from valuation.paths.compare import PathsReport, evaluate_paths
from valuation.paths.pricer import Pricer


def paths(
    model: Pricer,
    plans: Sequence[BuildPlan],
    as_of: date | None = None,
    *,
    price: float | None = None,
    goal: Goal | None = None,
) -> PathsReport:
    """Build plans of one find side by side, with selling it as found among them; bought today unless told.

    See ``evaluate_paths`` for the arguments and what is refused.

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
    """
    return evaluate_paths(model, plans, day_of(as_of), price=price, goal=goal)
