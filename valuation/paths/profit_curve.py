"""The distribution of a path's profit as a handful of points, for pictures and tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.paths.deal_path import as_found, at_price, prepare, standing
from valuation.paths.pricer import Pricer
from valuation.regression.price_curve import CurvePoint

POINTS = 61
"""Of the curve that is drawn: smooth to the eye at the width of a page."""
CURVE_SIMULATION = Simulation(scenarios=1024)
"""Enough for a picture; figures that are printed come from the full simulation."""


@dataclass(frozen=True, slots=True)
class ProfitCurve:
    """How likely each profit of one path is.

    Parameters
    ----------
    name : str
        The path.
    points : tuple of CurvePoint
        ``amount`` is the profit, money.
    """

    name: str
    points: tuple[CurvePoint, ...]


def profit_curves(
    pricer: Pricer, plans: Sequence[BuildPlan], as_of: date, *, price: float | None = None
) -> tuple[ProfitCurve, ...]:
    """Profit curves of each plan and of selling as found; see ``evaluate_paths`` for the arguments.

    Parameters
    ----------
    pricer : Pricer
    plans : sequence of BuildPlan
        Of one find.
    as_of : date
        Day of the purchase.
    price : float or None
        Purchase price, money; ``None`` where it is not known.
    """
    rest = [standing(pricer, at_price(plan, price), as_of)[0] for plan in plans]
    paths = [*(plan for plan in rest if plan.steps), as_found(rest[0])]
    return tuple(_curve(pricer, plan, as_of, plan.purchase.asked or 0.0) for plan in paths)


def _curve(pricer: Pricer, plan: BuildPlan, as_of: date, price: float) -> ProfitCurve:
    deal = prepare(pricer, plan, as_of, CURVE_SIMULATION).deal
    low, high = (deal.profit_quantile(p, price).value for p in (0.01, 0.99))
    amounts = np.linspace(low, high, POINTS)
    half = (high - low) / 40
    odds = [deal.odds_below(float(amount), price).value for amount in amounts]
    rise = [
        deal.odds_below(float(amount + half), price).value - deal.odds_below(float(amount - half), price).value
        for amount in amounts
    ]
    heights = np.asarray(rise) / max(rise)
    return ProfitCurve(plan.name, tuple(CurvePoint(*map(float, p)) for p in zip(amounts, odds, heights, strict=True)))
