"""What drives a path's profit: the swing of each uncertain input, largest first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from valuation.build.plan import BuildPlan
from valuation.build.scenarios import Draws, draw, plan_rules, shared_overrun
from valuation.build.simulation import Simulation
from valuation.build.three_point import ThreePoint
from valuation.paths.deal_path import DealPath, at_price, check_plan, prepare, standing
from valuation.paths.pricer import Pricer
from valuation.regression.distribution import FloatArray

LOW, HIGH = 0.1, 0.9
"""Each driver is set to its one in ten at either end, as the range of a figure is said everywhere."""


@dataclass(frozen=True, slots=True)
class Driver:
    """One uncertain input and what it does to the expected profit, all else as it may fall.

    Attributes
    ----------
    name : str
        In plain words.
    low, high : float
        The input at the end that one case in ten is under, and over.
    unit : str
    profit_at_low, profit_at_high : float
        Expected profit with the input held there, money.
    swing : float
        Difference of the expected profits, money, >= 0.
    """

    name: str
    low: float
    high: float
    unit: str
    profit_at_low: float
    profit_at_high: float
    swing: float = field(init=False, default=0.0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "swing", abs(self.profit_at_high - self.profit_at_low))


def profit_drivers(
    pricer: Pricer,
    plan: BuildPlan,
    as_of: date,
    *,
    price: float | None = None,
    simulation: Simulation | None = None,
) -> tuple[Driver, ...]:
    """Hold each uncertain input at its low and high end, and order the inputs by the swing of the expected profit.

    Parameters
    ----------
    pricer, plan, as_of, price
        As for ``evaluate_paths``.
    simulation : Simulation, optional
        512 scenarios unless told; all inputs are compared under the same luck.

    Raises
    ------
    PlanError
        The plan contradicts itself.
    """
    check_plan(plan, pricer, as_of)
    simulation = simulation or Simulation(scenarios=512)
    plan, _ = standing(pricer, at_price(plan, price), as_of)
    bought_at = plan.purchase.asked or 0.0
    draws, rules = draw(plan, simulation), plan_rules(plan)
    path = prepare(pricer, plan, as_of, simulation, draws=draws, rules=rules)

    def profit(changed: Draws) -> float:
        other = prepare(pricer, plan, as_of, simulation, draws=changed, rules=rules)
        return other.deal.expected_profit(bought_at).value

    drivers = [_price_driver(path, bought_at), *_shared_drivers(plan, draws, profit), *_event_driver(path, bought_at)]
    for i, step in enumerate(plan.steps):
        for name, unit, label in (
            ("cost", "money", "cost"),
            ("hours", "hours", "hours"),
            ("parts_weeks", "weeks", "wait for parts"),
        ):
            figure: ThreePoint = getattr(step, name)
            if not figure.is_certain:
                drivers.append(_step_driver(plan, draws, profit, i, name, f"{step.id}: {label}", unit))
    return tuple(sorted(drivers, key=lambda driver: -driver.swing))


def _price_driver(path: DealPath, bought_at: float) -> Driver:
    low, high = (path.deal.price_quantile(q) for q in (LOW, HIGH))
    outlay = float(path.deal.outlay(bought_at).mean())
    kept = path.deal.kept
    return Driver("sale price", low, high, "money", kept * low - outlay, kept * high - outlay)


def _shared_drivers(plan: BuildPlan, draws: Draws, profit: Callable[[Draws], float]) -> list[Driver]:
    drivers = []
    overrun = plan.shop.overrun
    if overrun.log_spread > 0 and plan.steps:
        ends = [float(np.quantile(draws.overrun, q)) for q in (LOW, HIGH)]
        results = [profit(replace(draws, overrun=np.full_like(draws.overrun, end))) for end in ends]
        drivers.append(Driver("overrun of the whole build", ends[0], ends[1], "times the plan", *results))
    if not plan.sale.weeks_to_sell.is_certain:
        ends = [float(np.quantile(draws.weeks_to_sell, q)) for q in (LOW, HIGH)]
        results = [profit(replace(draws, weeks_to_sell=np.full_like(draws.weeks_to_sell, end))) for end in ends]
        drivers.append(Driver("weeks to sell", ends[0], ends[1], "weeks", *results))
    return drivers


def _event_driver(path: DealPath, bought_at: float) -> list[Driver]:
    """The award: none won, against the best one won whenever the event is made."""
    if len(path.states.vehicles) == 1:
        return []
    ends = []
    for state in (0, int(np.argmax(path.deal.prices.mean()))):
        weights = np.zeros_like(path.deal.weights)
        weights[:, state] = path.outcome.on_time
        weights[:, 0] += 1 - weights.sum(axis=1)
        ends.append(replace(path.deal, weights=weights).expected_profit(bought_at).value)
    return [Driver("award at the event", 0.0, 1.0, "none, or the best", ends[0], ends[1])]


def _step_driver(
    plan: BuildPlan,
    draws: Draws,
    profit: Callable[[Draws], float],
    step: int,
    field: str,
    name: str,
    unit: str,
) -> Driver:
    figure: ThreePoint = getattr(plan.steps[step], field)
    ends = figure.quantile(np.array([LOW, HIGH]), plan.shop.spread)
    shared = shared_overrun(plan)
    scale = {"cost": shared.cost_scale, "hours": shared.hours_scale}.get(field, 1.0)
    results = []
    for end in ends:
        column: FloatArray = getattr(draws, field).copy()
        column[:, step] = end * scale
        results.append(profit(replace(draws, **{field: column})))
    return Driver(name, float(ends[0]), float(ends[1]), unit, results[0], results[1])
