"""The work on a vehicle: its steps as they stand, the money and the days against the plan, and the choice today."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from valuation.build.figures import about, apart, money, odds_words
from valuation.build.plan import BuildPlan, Step
from valuation.build.progress import ExtraCost, Progress
from valuation.build.ticks import State
from valuation.build.under_way import WAITING, UnderWay
from valuation.day import day_of
from valuation.errors import PlanError
from valuation.paths.deal_path import DealPath, FinishDays, check_plan, finish_days, prepare
from valuation.paths.pricer import Pricer
from valuation.paths.today import SIMULATION, Today, evaluate_today
from valuation.text.language import english_day
from valuation.year import DAYS_PER_WEEK


@dataclass(frozen=True, slots=True)
class StepAtWork:
    """One step of the plan as it stands.

    Attributes
    ----------
    id, what : str
    state : {"done", "begun", "left_out", "to_do"}
    on : date or None
        Day on which it was done or begun.
    planned_cost, planned_hours : float
        Likely, money and hours.
    cost, hours : float or None
        What it came to, or took so far while it is begun; None before.
    planned, actual : float or None
        The same with labour, money; actual is None while it is not done.
    """

    id: str
    what: str
    state: State
    on: date | None
    planned_cost: float
    planned_hours: float
    cost: float | None
    hours: float | None
    planned: float
    actual: float | None


@dataclass(frozen=True, slots=True)
class MoneyPoint:
    """Money that had gone in by a day; without interest.

    Attributes
    ----------
    on : date
    weeks : float
        From the purchase.
    money : float
    """

    on: date
    weeks: float
    money: float


@dataclass(frozen=True, slots=True)
class Work:
    """The work on one vehicle; money in the table's currency, odds from 0 to 1.

    Attributes
    ----------
    plan : str
    as_of, bought_on : date
    paid : float
        Purchase price.
    steps : tuple of StepAtWork
    extra : tuple of ExtraCost
        Costs that no step planned.
    state : UnderWay
    went_in : float
        So far, without interest.
    interest : float
        On that, until the sale.
    to_go : float
        Expected from today on if the plan is carried on.
    all_in : float
        The sum of the three.
    planned_all_in : float
        As the plan stood on the day of the purchase.
    finish : FinishDays or None
        None where nothing is left to do.
    event : str
        The show; empty without one.
    event_on : date or None
    odds_of_event : float or None
    today : Today
        The choice.
    planned, actual, expected : tuple of MoneyPoint
        Money over time until the vehicle is finished: as planned, as it went, and from today on.
    words : str
        Where it stands, in two sentences.
    """

    plan: str
    as_of: date
    bought_on: date
    paid: float
    steps: tuple[StepAtWork, ...]
    extra: tuple[ExtraCost, ...]
    state: UnderWay
    went_in: float
    interest: float
    to_go: float
    all_in: float
    planned_all_in: float
    finish: FinishDays | None
    event: str
    event_on: date | None
    odds_of_event: float | None
    today: Today
    planned: tuple[MoneyPoint, ...]
    actual: tuple[MoneyPoint, ...]
    expected: tuple[MoneyPoint, ...]
    words: str = field(init=False, default="")

    def __post_init__(self) -> None:
        object.__setattr__(self, "words", self._in_words())

    def _in_words(self) -> str:
        planned = f"{about(self.planned_all_in)} was planned"
        if about(self.all_in) != about(self.planned_all_in) and self.planned_all_in > 0:
            planned += f" ({apart(self.all_in, self.planned_all_in, 'the plan')})"
        words = (
            f"{money(self.went_in)} went in so far and {about(self.to_go)} is to go: with interest all in "
            f"{about(self.all_in)}, where {planned}."
        )
        words = " ".join((words, *self.state.over))
        if self.finish is None:
            return f"{words} Every step is done or left out."
        words += f" Ready about {self.finish.likely:%-d %B %Y}"
        if self.odds_of_event is not None:
            words += f"; {odds_words(self.odds_of_event)} that it makes '{self.event}'"
        return f"{words}."


def work(model: Pricer, plan: BuildPlan, as_of: date | None = None) -> Work:
    """Where the work on a vehicle stands, against the plan as it was on the day of the purchase.

    Parameters
    ----------
    model : Pricer
    plan : BuildPlan
        Of a vehicle that is bought.
    as_of : date or None
        Day of the question; today unless given.

    Raises
    ------
    PlanError
        The vehicle is not bought on that day, or the plan contradicts itself.
    """
    day, progress = day_of(as_of), plan.progress
    if progress is None or day < progress.bought_on:
        raise PlanError(
            f"Cannot show the work on '{plan.name}' on {english_day(day)}: its vehicle is not bought by then. Say on "
            "its page when it was bought and for what."
        )
    check_plan(plan, model, day)
    today = evaluate_today(model, plan, day)
    assert today is not None
    path = prepare(model, plan, day, SIMULATION, event_decided=True)
    as_bought = replace(plan, progress=None, start=None, purchase=replace(plan.purchase, asked=progress.paid))
    first = prepare(model, as_bought, progress.bought_on, SIMULATION, event_decided=True)
    went_in, to_go = today.state.spent_in_all, float(path.deal.spent.mean())
    interest = today.state.tied_up * float(path.deal.carry.mean()) - went_in
    event = path.plan.event
    return Work(
        plan=plan.name,
        as_of=day,
        bought_on=progress.bought_on,
        paid=progress.paid,
        steps=tuple(_step(step, plan, progress) for step in plan.steps),
        extra=progress.extra,
        state=today.state,
        went_in=went_in,
        interest=interest,
        to_go=to_go,
        all_in=went_in + interest + to_go,
        planned_all_in=float(first.deal.outlay(progress.paid).mean()),
        finish=finish_days(path) if path.plan.steps else None,
        event=event.name if event else "",
        event_on=event.date if event else None,
        odds_of_event=None if event is None else float(path.outcome.on_time.mean()),
        today=today,
        planned=_planned(first, progress.bought_on),
        actual=_actual(plan, today.state, progress.bought_on, day),
        expected=_expected(path, went_in, progress.bought_on, day),
    )


def _step(step: Step, plan: BuildPlan, progress: Progress) -> StepAtWork:
    rate = plan.shop.labour_rate
    done = next((one for one in progress.done if one.step == step.id), None)
    begun = next((one for one in progress.begun if one.step == step.id), None)
    took = done or begun
    state: State = "left_out" if step.id in progress.left_out else "to_do"
    return StepAtWork(
        id=step.id,
        what=step.what or step.id,
        state="done" if done else "begun" if begun else state,
        on=took.on if took else None,
        planned_cost=step.cost.likely,
        planned_hours=step.hours.likely,
        cost=took.cost if took else None,
        hours=took.hours if took else None,
        planned=step.cost.likely + rate * step.hours.likely,
        actual=done.cost + rate * done.hours if done else None,
    )


def _point(bought_on: date, weeks: float, amount: float) -> MoneyPoint:
    return MoneyPoint(bought_on + timedelta(days=round(weeks * DAYS_PER_WEEK)), weeks, amount)


def _per_week(plan: BuildPlan) -> float:
    shop = plan.shop
    return shop.holding_per_week + (shop.overhead_per_week / shop.bays if plan.steps else 0.0)


def _planned(path: DealPath, bought_on: date) -> tuple[MoneyPoint, ...]:
    """Purchase, then each step on the day on which it was expected to be done, at what it was expected to come to."""
    plan, draws = path.plan, path.draws
    cost = (draws.cost * draws.overrun[:, None]).mean(axis=0)
    labour = plan.shop.labour_rate * (draws.hours * draws.overrun[:, None]).mean(axis=0)
    weeks = path.outcome.schedule.finish.mean(axis=0)
    spent = plan.purchase.paid(plan.purchase.asked or 0.0) + plan.purchase.fixed
    points, per_week = [_point(bought_on, 0.0, spent)], _per_week(plan)
    for i in np.argsort(weeks, kind="stable"):
        spent += float(cost[i] + labour[i])
        points.append(_point(bought_on, float(weeks[i]), spent + per_week * float(weeks[i])))
    return tuple(points)


def _actual(plan: BuildPlan, state: UnderWay, bought_on: date, day: date) -> tuple[MoneyPoint, ...]:
    """Each sum on the day on which it was spent; what a week costs grows evenly."""
    per_week, spent, points = _per_week(plan), 0.0, []
    weeks = (day - bought_on).days / DAYS_PER_WEEK
    for one in state.spent:
        if one.what == WAITING:
            continue
        at = (one.on - bought_on).days / DAYS_PER_WEEK
        spent += one.amount
        points.append(MoneyPoint(one.on, at, spent + per_week * at))
    return (*points, MoneyPoint(day, weeks, state.spent_in_all))


def _expected(path: DealPath, went_in: float, bought_on: date, day: date) -> tuple[MoneyPoint, ...]:
    """From today to the day on which it is expected to be finished."""
    start = (day - bought_on).days / DAYS_PER_WEEK
    if not path.plan.steps:
        return ()
    outcome = path.outcome
    weeks = float(outcome.weeks.mean())
    more = float((outcome.parts + outcome.labour).mean()) + _per_week(path.plan) * weeks
    return MoneyPoint(day, start, went_in), _point(bought_on, start + weeks, went_in + more)
