"""The outlay of a plan line by line: what goes into what, adding up to the outlay that the comparison of paths says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.paths.deal_path import DealPath, at_price, prepare
from valuation.paths.pricer import Pricer

HALF_A_CENT = 0.005
"""Less than this is nothing: what is left of sums of floats."""


@dataclass(frozen=True, slots=True)
class OutlayLine:
    """Money that is still to go in, expected, without interest unless it is the line of the interest."""

    what: str
    amount: float


def outlay_lines(
    pricer: Pricer,
    plan: BuildPlan,
    as_of: date,
    *,
    price: float | None = None,
    simulation: Simulation | None = None,
) -> tuple[OutlayLine, ...]:
    """The expected outlay of a plan, line by line.

    Parameters
    ----------
    pricer : Pricer
    plan : BuildPlan
    as_of : date
        Day of the purchase.
    price : float or None
        Purchase price, money; the plan's own unless given.
    simulation : Simulation, optional
        That of the comparison, with which the lines add up to its outlay.

    Returns
    -------
    tuple of OutlayLine
        Lines of nothing are left out. Of a build under way the first line is what the vehicle stands at in the books.
    """
    path = prepare(pricer, at_price(plan, price), as_of, simulation or Simulation())
    total = float(path.deal.outlay(path.plan.purchase.asked or 0.0).mean())
    lines = _before_interest(path, "the vehicle, and what went in so far" if plan.progress else "the vehicle")
    interest = total - sum(amount for _, amount in lines)
    whole = [*lines, ("interest until the sale", interest)]
    return tuple(OutlayLine(what, amount) for what, amount in whole if abs(amount) >= HALF_A_CENT)


def _before_interest(path: DealPath, vehicle: str) -> list[tuple[str, float]]:
    plan, outcome, draws = path.plan, path.outcome, path.draws
    shop, price = plan.shop, plan.purchase.asked or 0.0
    parts = (draws.cost * draws.overrun[:, None]).mean(axis=0)
    hours = (draws.hours * draws.overrun[:, None]).mean(axis=0)
    lines = [
        (vehicle, price),
        ("fee and tax of the purchase", plan.purchase.paid(price) - price),
        ("title, inspection, transport", plan.purchase.fixed),
    ]
    for step, cost, work in zip(plan.steps, parts, hours, strict=True):
        lines.append((f"{step.what or step.id}: parts", float(cost)))
        lines.append((f"{step.what or step.id}: labour, {work:.0f} hours", float(work) * shop.labour_rate))
    lines.append(("holding", shop.holding_per_week * float(outcome.weeks_until_sold.mean())))
    lines.append(("the bay", shop.overhead_per_week / shop.bays * float(outcome.weeks.mean())))
    if plan.event is not None:
        lines.append((f"entry, {plan.event.name}", plan.event.entry_cost))
    lines.append(("fixed costs of the sale", plan.sale.fixed))
    return lines
