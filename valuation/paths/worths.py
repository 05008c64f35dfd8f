"""Choices of a plan's steps simulated in full, each once, and what one brings over another."""

from __future__ import annotations

from collections.abc import Collection, ItemsView
from dataclasses import dataclass, fields
from datetime import date
from typing import Any

import numpy as np
from scipy.special import ndtri

from valuation.build.figures import money
from valuation.build.plan import BuildPlan
from valuation.build.scenarios import draw, plan_rules
from valuation.build.simulation import Simulation, shift_error
from valuation.paths.deal_path import DealPath, prepare
from valuation.paths.pricer import Pricer
from valuation.paths.profit import Simulated
from valuation.regression.distribution import FloatArray

Done = tuple[bool, ...]
"""Which steps of a plan are done, in the plan's order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What one choice of steps brings over another; money, odds from 0 to 1.

    Attributes
    ----------
    adds : float
        Expected sale price more (awards and the odds of the show included).
    costs : float
        Expected outlay more (labour, waiting and interest included).
    net : float
        Expected profit more.
    percent : float
        What it does to the price of the finished vehicle, without any award, percent.
    odds_it_pays : float
        Probability that the profit is larger.
    weeks : float
        Expected weeks by which the build is longer.
    change_of_event_odds : float or None
        Change of the odds of making the show; None without one.
    simulation_error : float
        Standard error of ``net``, money.
    """

    adds: float
    costs: float
    net: float
    percent: float
    odds_it_pays: float
    weeks: float
    change_of_event_odds: float | None
    simulation_error: float

    def fields(self) -> dict[str, Any]:
        """The figures by name."""
        return {one.name: getattr(self, one.name) for one in fields(Worth)}


@dataclass(frozen=True, slots=True)
class Choice:
    """Some of a plan's steps, carried out; money, weeks, odds.

    Attributes
    ----------
    steps, left_out : tuple of str
    expected_profit, outlay, sale_price : float
    steps_cost : float
        Expected parts and labour of the steps alone: what a budget limits.
    weeks : float
        Expected, until finished.
    odds_of_event : float or None
        None where no show is made.
    simulation_error : float
        Standard error of the expected profit.
    differs : str
        What differs from the best choice, in words; empty for the best.
    """

    steps: tuple[str, ...]
    left_out: tuple[str, ...]
    expected_profit: float
    outlay: float
    sale_price: float
    steps_cost: float
    weeks: float
    odds_of_event: float | None
    simulation_error: float
    differs: str


@dataclass(frozen=True, slots=True)
class Played:
    """One choice, simulated."""

    path: DealPath
    profit: Simulated
    cost: FloatArray
    weeks: FloatArray


class Weighed:
    """Choices of the steps of one plan by what is done, simulated when first asked for."""

    def __init__(
        self, pricer: Pricer, plan: BuildPlan, as_of: date, simulation: Simulation, step_costs: FloatArray
    ) -> None:
        self.pricer, self.plan, self.as_of, self.simulation = pricer, plan, as_of, simulation
        self.step_costs = step_costs
        self.price = plan.purchase.stake
        self.draws, self.rules = draw(plan, simulation), plan_rules(plan)
        self._played: dict[Done, Played] = {}

    def __getitem__(self, done: Done) -> Played:
        if done not in self._played:
            chosen = np.array(done, dtype=bool)
            path = prepare(
                self.pricer, self.plan, self.as_of, self.simulation, draws=self.draws, rules=self.rules, done=chosen
            )
            cost, weeks = np.asarray(chosen @ self.step_costs), np.asarray(path.outcome.weeks.mean())
            self._played[done] = Played(path, path.deal.expected_profit(self.price), cost, weeks)
        return self._played[done]

    def items(self) -> ItemsView[Done, Played]:
        """All choices simulated so far."""
        return self._played.items()

    def choice(self, done: Done, best: Done) -> Choice:
        """One choice as it is shown beside the best one.

        Parameters
        ----------
        done : Done
            What is done, in the plan's order.
        best : Done
            The best choice.
        """
        one, ids = self[done], [step.id for step in self.plan.steps]
        more = [name for name, a, b in zip(ids, done, best, strict=True) if a and not b]
        less = [name for name, a, b in zip(ids, done, best, strict=True) if b and not a]
        parts = [f"with {', '.join(more)}"] if more else []
        parts += [f"without {', '.join(less)}"] if less else []
        short = self[best].profit.value - one.profit.value
        return Choice(
            steps=tuple(name for name, kept in zip(ids, done, strict=True) if kept),
            left_out=tuple(name for name, kept in zip(ids, done, strict=True) if not kept),
            expected_profit=one.profit.value,
            outlay=float(one.path.deal.outlay(self.price).mean()),
            sale_price=one.path.deal.expected_price(),
            steps_cost=float(one.cost),
            weeks=float(one.weeks),
            odds_of_event=float(one.path.outcome.on_time.mean()) if one.path.plan.event else None,
            simulation_error=one.profit.error,
            differs=f"{' and '.join(parts)}: {money(short)} less" if parts else "",
        )

    def worths(self, pairs: Collection[tuple[Done, Done]]) -> dict[tuple[Done, Done], Worth]:
        """What the first choice of each pair brings over the second.

        Every scenario is played with both, with the same luck, and all states of the vehicle are priced together: what
        the table does not know about the family moves both prices alike.
        """
        profits = self._profits({done for pair in pairs for done in pair})
        return {pair: self._worth(*pair, float((profits[pair[0]] > profits[pair[1]]).mean())) for pair in pairs}

    def _worth(self, with_it: Done, without: Done, odds: float) -> Worth:
        one, other = self[with_it], self[without]
        a, b = one.path, other.path
        net = _expected(a, self.price) - _expected(b, self.price)
        made = [float(path.outcome.on_time.mean()) for path in (a, b)]
        medians = [float(path.deal.prices.median()[0]) for path in (a, b)]
        return Worth(
            adds=a.deal.expected_price() - b.deal.expected_price(),
            costs=float((a.deal.outlay(self.price) - b.deal.outlay(self.price)).mean()),
            net=one.profit.value - other.profit.value,
            percent=percent_effect(float(np.log(medians[0] / medians[1]))),
            odds_it_pays=odds,
            weeks=float(one.weeks - other.weeks),
            change_of_event_odds=made[0] - made[1] if self.plan.event else None,
            simulation_error=shift_error(self.simulation.by_shift(net)),
        )

    def _profits(self, choices: Collection[Done]) -> dict[Done, FloatArray]:
        """The profit of each choice, scenario by scenario, with prices drawn together."""
        paths = {done: self[done].path for done in sorted(choices)}
        keys = {done: [_key(vehicle) for vehicle in path.states.vehicles] for done, path in paths.items()}
        vehicles = {
            key: vehicle
            for done, path in paths.items()
            for key, vehicle in zip(keys[done], path.states.vehicles, strict=True)
        }
        place = {key: i for i, key in enumerate(vehicles)}
        day = max(path.sale_date for path in paths.values())
        joint = self.pricer.joint(list(vehicles.values()), day)
        first = 2 + 3 * len(self.plan.steps)
        u = self.simulation.uniforms(first + len(joint) + 2)[:, first:]
        drawn, luck = joint.sample(ndtri(u[:, 2:]), ndtri(u[:, 0])), u[:, 1]
        medians = joint.distribution.median()
        found = {}
        for done, path in paths.items():
            columns = [place[key] for key in keys[done]]
            state = (luck[:, None] > np.cumsum(path.deal.weights, axis=1)[:, :-1]).sum(axis=1)
            own_day = path.deal.prices.median()[0] / medians[columns[0]]
            sold_at = drawn[:, columns][np.arange(len(drawn)), state] * own_day
            found[done] = path.deal.kept * sold_at - path.deal.outlay(self.price)
        return found


def percent_effect(log_effect: float) -> float:
    """What an effect on the log of the price does to the price, percent: 100 (exp(b) - 1), not 100 b."""
    return 100 * float(np.expm1(log_effect))


def _expected(path: DealPath, price: float) -> FloatArray:
    return np.asarray(path.deal.expected_proceeds() - path.deal.outlay(price))


def _key(vehicle: Any) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((name, str(value)) for name, value in vehicle.attributes.items()))
