"""Paths side by side: for each way to go with a find, what goes in, what comes out, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from valuation.build.figures import Spread, money, odds_words, percent
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.build.terms import Goal
from valuation.notes import Note
from valuation.paths.deal_path import (
    DealPath,
    as_found,
    check_plan,
    prepare,
    purchase_price,
    same_vehicle,
    without_event,
)
from valuation.paths.most_to_pay import MostToPay, most_to_pay
from valuation.paths.pricer import Pricer
from valuation.regression.distribution import FloatArray
from valuation.view import View, Viewed, as_money
from valuation.year import WEEKS_PER_YEAR

RULE_OF_THUMB = 2.0
"""Sell for about twice what went in: common practice, no source."""

TAIL = 0.1


@dataclass(frozen=True, slots=True)
class PathResult:
    """One path's figures; money in the table's currency, odds from 0 to 1.

    Attributes
    ----------
    name : str
    outlay, sale_price : Spread
        All money put in; buyer-pays price.
    expected_profit : float
    odds_of_loss : float
    bad_tenth : float
        One deal in ten ends below it.
    return_percent, yearly_percent : float
        Expected profit over expected outlay, and that for a year (without compounding).
    profit_per_bay_week : float or None
        Expected profit over the weeks in the bay; None for a path without a build.
    multiple_of_outlay : float
        Expected proceeds over expected outlay.
    odds_of_twice : float
        Probability of proceeds of at least twice the outlay, the rule of thumb.
    rule_of_thumb : str
        The multiple of outlay beside the trade's rule of thumb.
    weeks, build_weeks : Spread
        Until paid; until finished.
    sale_date : date
        Expected day of payment.
    odds_of_event : float or None
        None without an event.
    odds_better_than_as_found : float or None
        Probability that this path ends better than selling as found; None for that path itself.
    most_to_pay : float
        The price of ``most_to_pay_proof``.
    most_to_pay_proof : MostToPay
    simulation_errors : dict of str to float
        Standard error of each simulated figure, in its unit.
    notes : tuple of Note
    """

    name: str
    outlay: Spread
    sale_price: Spread
    expected_profit: float
    odds_of_loss: float
    bad_tenth: float
    return_percent: float
    yearly_percent: float
    profit_per_bay_week: float | None
    multiple_of_outlay: float
    odds_of_twice: float
    rule_of_thumb: str = field(init=False, default="")
    weeks: Spread
    build_weeks: Spread
    sale_date: date
    odds_of_event: float | None
    odds_better_than_as_found: float | None
    most_to_pay: float = field(init=False, default=0.0)
    most_to_pay_proof: MostToPay
    simulation_errors: dict[str, float]
    notes: tuple[Note, ...]

    def __post_init__(self) -> None:
        rule = (
            f"{self.multiple_of_outlay:.2f} times what went in is expected back; the rule of thumb 'about twice what "
            f"went in' (common practice, no source) has {odds_words(self.odds_of_twice)} here."
        )
        object.__setattr__(self, "rule_of_thumb", rule)
        object.__setattr__(self, "most_to_pay", self.most_to_pay_proof.price)


@dataclass(frozen=True, slots=True, repr=False)
class PathsReport(Viewed):
    """All paths of one find, side by side.

    Attributes
    ----------
    paths : tuple of PathResult
        In the order of the plans, with selling as found last.
    best : str or None
        The path with the largest expected profit among those that meet the goal at the price; None: pass.
    why : str
        The decision in one or two sentences.
    goal : Goal
    price : float or None
        Purchase price at which outlay, profit and odds hold; None when none was given (they then leave it out).
    as_of : date
    currency : str
    simulation : Simulation
    notes : tuple of Note
        What must be known of the estimates behind all paths; a path's own notes stand with it.
    """

    paths: tuple[PathResult, ...]
    best: str | None
    why: str
    goal: Goal
    price: float | None
    as_of: date
    currency: str
    simulation: Simulation
    notes: tuple[Note, ...] = ()

    def _view(self) -> View:
        return View(
            title=f"Paths as of {self.as_of}",
            facts=(self.why,),
            header=("path", "most to pay", "outlay", "sale price", "expected profit", "odds of a loss", "weeks"),
            rows=[
                (
                    one.name,
                    as_money(one.most_to_pay, self.currency),
                    as_money(one.outlay.mean),
                    as_money(one.sale_price.mean),
                    as_money(one.expected_profit),
                    percent(one.odds_of_loss),
                    f"{one.weeks.mean:.0f}",
                )
                for one in self.paths
            ],
            notes=(*self.notes, *(note for one in self.paths for note in one.notes)),
        )

    def path(self, name: str) -> PathResult:
        """The path of that name; ``KeyError`` when there is none."""
        for path in self.paths:
            if path.name == name:
                return path
        raise KeyError(name)


def evaluate_paths(
    pricer: Pricer,
    plans: Sequence[BuildPlan],
    as_of: date,
    *,
    price: float | None = None,
    goal: Goal | None = None,
    simulation: Simulation | None = None,
) -> PathsReport:
    """Compare build plans for one find, with selling it as found always among them.

    Parameters
    ----------
    pricer : Pricer
        The price model.
    plans : sequence of BuildPlan
        For one and the same vehicle. The first plan's settings also serve for selling as found.
    as_of : date
        Day of the purchase.
    price : float, optional
        Purchase price; the first plan's ``purchase.asked`` unless given.
    goal : Goal, optional
        The first plan's unless given.
    simulation : Simulation, optional

    Raises
    ------
    PlanError
        A plan contradicts itself, the table's currency, the schema or the calendar, or the plans are for different
        vehicles.
    """
    same_vehicle(list(plans))
    simulation = simulation or Simulation()
    goal = goal or plans[0].goal
    price = purchase_price(plans[0], price)
    all_plans = [plan for plan in plans if plan.steps] + [as_found(plans[0])]
    for plan in all_plans:
        check_plan(plan, pricer, as_of)
    prepared = [prepare(pricer, plan, as_of, simulation) for plan in all_plans]
    unchanged = prepared[-1]
    results = [
        path_result(path, goal, price, None if path is unchanged else _odds_better(pricer, path, unchanged, simulation))
        for path in prepared
    ]
    priced = [pricer.notes_on(path.states.vehicles[0], path.sale_date) for path in prepared]
    common = tuple(note for note in priced[0] if all(note in notes for notes in priced))
    paths = tuple(
        replace(
            result, notes=(*result.notes, *_event_note(pricer, path, price), *(n for n in notes if n not in common))
        )
        for path, result, notes in zip(prepared, results, priced, strict=True)
    )
    best, why = _decide(paths, goal, price)
    return PathsReport(paths, best, why, goal, price, as_of, pricer.currency, simulation, common)


def path_result(path: DealPath, goal: Goal, price: float | None, odds_better: float | None = None) -> PathResult:
    """The figures of one prepared path at a purchase price (0 where none is given).

    Parameters
    ----------
    path : DealPath
    goal : Goal
    price : float or None
        Purchase price, money; ``None`` where it is not known.
    odds_better : float or None
        Probability that it beats selling as found.
    """
    deal, outcome, bought_at = path.deal, path.outcome, price or 0.0
    outlay, proceeds = deal.outlay(bought_at), deal.expected_proceeds()
    profit, loss = deal.expected_profit(bought_at), deal.odds_of_loss(bought_at)
    bad = deal.profit_quantile(TAIL, bought_at)
    twice = deal.odds_of_goal(Goal.times_outlay(RULE_OF_THUMB), deal.purchase.paid(bought_at))
    mean_outlay, weeks = float(outlay.mean()), float(outcome.weeks_until_sold.mean())
    return_share = profit.value / mean_outlay if mean_outlay > 0 else 0.0
    bay_weeks = float(outcome.weeks.mean())
    best_price = most_to_pay(deal, goal)
    has_event = path.plan.event is not None
    shifts = deal.shifts
    return PathResult(
        name=path.plan.name,
        outlay=_spread(outlay),
        sale_price=Spread(deal.expected_price(), deal.price_quantile(TAIL), deal.price_quantile(1 - TAIL)),
        weeks=_spread(outcome.weeks_until_sold),
        build_weeks=_spread(outcome.weeks),
        expected_profit=profit.value,
        bad_tenth=bad.value,
        odds_of_loss=loss.value,
        return_percent=100 * return_share,
        yearly_percent=100 * return_share * WEEKS_PER_YEAR / weeks if weeks > 0 else 0.0,
        profit_per_bay_week=profit.value / bay_weeks if bay_weeks > 0 else None,
        multiple_of_outlay=float(proceeds.mean()) / mean_outlay if mean_outlay > 0 else 0.0,
        odds_of_twice=twice.value,
        odds_of_event=float(outcome.on_time.mean()) if has_event else None,
        odds_better_than_as_found=odds_better,
        most_to_pay_proof=best_price,
        sale_date=path.sale_date,
        simulation_errors={
            "expected_profit": profit.error,
            "odds_of_loss": loss.error,
            "bad_tenth": bad.error,
            "most_to_pay": best_price.error,
            "odds_of_twice": twice.error,
            "outlay": _error(outlay, shifts),
            "weeks": _error(outcome.weeks_until_sold, shifts),
            "odds_of_event": _error(outcome.on_time, shifts),
        },
        notes=(*path.notes, *_notes(path, price)),
    )


def _spread(values: FloatArray) -> Spread:
    low, high = np.quantile(values, [TAIL, 1 - TAIL])
    return Spread(float(values.mean()), float(low), float(high))


def _error(values: FloatArray, shifts: int) -> float:
    return float(values.reshape(shifts, -1).mean(axis=1).std(ddof=1) / np.sqrt(shifts))


def _notes(path: DealPath, price: float | None) -> list[Note]:
    notes: list[Note] = []
    if price is None:
        text = "No purchase price was given: outlay, profit and odds leave it out. Most to pay does not need it."
        notes.append(Note("no_purchase_price", text))
    if path.plan.event is not None and float(path.outcome.on_time.mean()) < 0.5:
        odds = percent(float(path.outcome.on_time.mean()))
        event = path.plan.event
        text = f"The path '{path.plan.name}' makes '{event.name}' on {event.date} in only {odds} of the scenarios."
        notes.append(Note("event_unlikely", text))
    return notes


def _event_note(pricer: Pricer, path: DealPath, price: float | None) -> list[Note]:
    """Say so when the event costs more, in waiting and entry, than its awards bring."""
    if path.plan.event is None:
        return []
    with_event = path.deal.expected_profit(price or 0.0)
    gain = without_event(pricer, path).expected_profit(price or 0.0).value - with_event.value
    if gain <= 4 * with_event.error:
        return []
    text = (
        f"On the path '{path.plan.name}' the show '{path.plan.event.name}' costs more than it brings: sold without "
        f"waiting for it, the expected profit is {money(gain, error=with_event.error)} higher."
    )
    return [Note("event_not_worth_it", text)]


def _odds_better(pricer: Pricer, path: DealPath, unchanged: DealPath, simulation: Simulation) -> float:
    """Probability that a build ends better than selling as found at the same purchase price.

    Both prices of one scenario come from one joint distribution: where the table is wrong about the family, it is wrong
    about both.
    """
    states = [*path.states.vehicles, unchanged.states.vehicles[0]]
    joint = pricer.joint(states, path.sale_date)
    n = len(states)
    u = simulation.uniforms(2 + 3 * len(path.plan.steps) + n + 2)[:, -(n + 2) :]
    from scipy.special import ndtri

    prices = joint.sample(ndtri(u[:, :n]), ndtri(u[:, n]))
    own_date = unchanged.deal.prices.median()[0] / joint.distribution.median()[-1]
    state = (u[:, n + 1, None] > np.cumsum(path.deal.weights, axis=1)[:, :-1]).sum(axis=1)
    built = path.deal.kept * prices[np.arange(len(u)), state] - path.deal.spent
    sold_now = unchanged.deal.kept * prices[:, -1] * own_date - unchanged.deal.spent
    return float((built > sold_now).mean())


def _decide(results: Sequence[PathResult], goal: Goal, price: float | None) -> tuple[str | None, str]:
    """The best path, and the decision in words."""
    dearest = max(results, key=lambda result: result.most_to_pay)
    if dearest.most_to_pay_proof.walk_away:
        return None, (
            f"Walk away: no path meets the goal ({goal.words}) at any price above 0. Nearest comes '{dearest.name}', "
            f"short by {money(-dearest.most_to_pay)}. Lower the goal, or find a cheaper build."
        )
    if price is None:
        return dearest.name, (
            f"Pay at most {money(dearest.most_to_pay)}, and go the path '{dearest.name}': at that price the goal "
            f"({goal.words}) is just met."
        )
    good = [result for result in results if result.most_to_pay >= price]
    if not good:
        return None, (
            f"Pass at {money(price)}: no path meets the goal ({goal.words}). Offer at most "
            f"{money(dearest.most_to_pay)}, for the path '{dearest.name}'."
        )
    best = max(good, key=lambda result: result.expected_profit)
    return best.name, (
        f"Buy at {money(price)}: the path '{best.name}' meets the goal ({goal.words}) up to "
        f"{money(best.most_to_pay)}. Expected profit "
        f"{money(best.expected_profit, error=best.simulation_errors['expected_profit'])}, odds of a loss "
        f"{percent(best.odds_of_loss)}."
    )
