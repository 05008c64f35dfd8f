"""What to ask, where talks will end, and where to stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from valuation.build.plan import BuildPlan
from valuation.build.terms import Goal
from valuation.day import day_of
from valuation.paths.deal_path import at_price, standing
from valuation.paths.pricer import Pricer
from valuation.sell.bands import PriceBands, price_bands
from valuation.sell.experience import FinishedTalks, learned_terms


def bands(
    model: Pricer,
    plan: BuildPlan,
    as_of: date | None = None,
    *,
    price: float | None = None,
    goal: Goal | None = None,
) -> PriceBands:
    """Floor, target and ask for a plan's finished vehicle, or for one as it stands; as of today unless told.

    See ``price_bands`` for the arguments and what is refused.

    Parameters
    ----------
    model : Pricer
    plan : BuildPlan
    as_of : date or None
        Day of the purchase; today unless given.
    price : float or None
        Purchase price, money; the plan's own unless given.
    goal : Goal or None
        The plan's own unless given.
    """
    day = day_of(as_of)
    rest, _ = standing(model, at_price(plan, price), day)
    return price_bands(model, rest, day, goal=goal)


def with_own_talks(plan: BuildPlan, talks: Sequence[FinishedTalks]) -> BuildPlan:
    """The plan with its terms of sale as the shop's own finished talks show them, where there are enough; and a note.

    Parameters
    ----------
    plan : BuildPlan
    talks : sequence of FinishedTalks
    """
    terms, told = learned_terms(plan.sale, talks)
    return replace(plan, sale=terms, defaults=(*plan.defaults, *told))
