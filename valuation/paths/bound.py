"""What no choice among a plan's steps can expect more than, where the choices are too many to compare."""

from __future__ import annotations

import math

import numpy as np

from valuation.build.crew import BoolArray
from valuation.paths.choices import NONE, Limits, Screen, settlers, way
from valuation.year import DAYS_PER_WEEK

STEPS_OF_LOG = 4_000
"""Cells into which the range of the log price is cut; each effect is rounded up to one."""
SAMPLED = 200
"""Ways looked at for how far the price departs from effects that multiply."""


def profit_bound(screen: Screen, needs: BoolArray, limits: Limits) -> float:
    """An expected profit that no choice of steps passes, money.

    Parameters
    ----------
    screen : Screen
    needs : ndarray of bool, shape (n, n)
        As by ``with_needs``.
    limits : Limits
        The budget is kept; the date is not.

    Notes
    -----
    A relaxation: each attribute is settled for itself, the cost of a step that serves several attributes is shared
    evenly among them (so that no choice costs less than the sum of the shares), waiting and interest cost nothing. The
    cheapest way to each log price is then found attribute by attribute (dynamic programming; Bellman 1957, Dynamic
    Programming). Rests on effects that multiply; the largest departure among sampled ways is added.
    """
    plan, n = screen.plan, len(screen.plan.steps)
    columns = list(settlers(plan).values())
    one_each = [(a, i) for a, column in enumerate(columns) for i in column]
    serves = np.array([[needs[i, j] for _, i in one_each] for j in range(n)])
    attribute = np.array([a for a, _ in one_each])
    sharers = np.array([len(set(attribute[row])) for row in serves])
    share = np.divide(screen.step_costs, sharers, out=np.zeros(n), where=sharers > 0)
    effects, base, departure = _effects(screen, needs, columns)
    cell = max(sum(max(row.values()) - min(row.values()) for row in effects), 1e-9) / STEPS_OF_LOG
    cheapest, low = np.zeros(1), 0
    for row, column in zip(effects, columns, strict=True):
        options = [(0, 0.0), *((math.ceil(row[i] / cell), float(share[needs[i]].sum())) for i in column)]
        first, last = (end(at for at, _ in options) for end in (min, max))
        reached = np.full(len(cheapest) + last - first, math.inf)
        for at, cost in options:
            part = slice(at - first, at - first + len(cheapest))
            reached[part] = np.minimum(reached[part], cheapest + cost)
        cheapest, low = reached, low + first
    if limits.budget is not None:
        cheapest = np.where(cheapest <= limits.budget * (1 + 1e-12), cheapest, math.inf)
    weeks = (screen.sale_date - screen.first_day).days / DAYS_PER_WEEK
    log_price = base + departure + cell * (low + np.arange(len(cheapest))) + abs(screen.drift_per_week) * weeks
    selling = plan.shop.holding_per_week * float(screen.draws.weeks_to_sell.mean())
    fixed = plan.purchase.fixed + plan.sale.fixed + plan.purchase.paid(plan.purchase.stake) + selling
    return float((plan.sale.kept * np.exp(log_price) - cheapest).max()) - fixed


def _effects(screen: Screen, needs: BoolArray, columns: list[list[int]]) -> tuple[list[dict[int, float]], float, float]:
    """Log of the expected price as a sum: effect of each settler by attribute, base, and the largest departure."""
    plan = screen.plan
    names = list(settlers(plan))
    base = float(np.log(screen.best_price({})))
    effects = [
        {i: float(np.log(screen.best_price({name: i}))) - base for i in column} | {NONE: 0.0}
        for name, column in zip(names, columns, strict=True)
    ]
    rng = np.random.default_rng(1)
    departure = 0.0
    for _ in range(SAMPLED):
        share = rng.random()
        chosen = [int(rng.choice(column)) if rng.random() < share else NONE for column in columns]
        settled = screen.settled(way(chosen, needs))
        summed = base + sum(effects[names.index(name)][i] for name, i in settled.items())
        departure = max(departure, float(np.log(screen.best_price(settled))) - summed)
    return effects, base, departure
