"""Paths side by side: for each way to go with a find, what goes in, what comes out, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from valuation.build.figures import Spread, about, at_most, listed, money, named, odds_said, odds_words, percent
from valuation.build.plan import AS_FOUND, BuildPlan
from valuation.build.simulation import Simulation
from valuation.build.terms import Goal
from valuation.notes import Note, each_once
from valuation.paths.deal_path import (
    AS_IT_STANDS,
    DealPath,
    FinishDays,
    as_found,
    check_plan,
    finish_days,
    prepare,
    priced,
    same_vehicle,
    standing,
)
from valuation.paths.most_to_pay import MostToPay, most_to_pay
from valuation.paths.pricer import Pricer
from valuation.paths.today import Today, evaluate_today
from valuation.regression.distribution import FloatArray
from valuation.text.language import english_day, say
from valuation.text.rounding import told
from valuation.view import Said, View, Viewed
from valuation.year import WEEKS_PER_YEAR

RULE_OF_THUMB = 2.0
"""Sell for about twice what went in: common practice, no source."""

TAIL = 0.1
"""A bad and a good outcome are the one in ten at each end: the ends of the usual range of 80 percent."""


@dataclass(frozen=True, slots=True, repr=False)
class PathResult(Said):
    """One path's figures; money in the table's currency, odds from 0 to 1.

    Attributes
    ----------
    name : str
    price : float or None
        Purchase price at which outlay, profit and odds hold; None when none is known (they then leave it out).
    outlay, sale_price : Spread
        All money put in, with interest until the sale; buyer-pays price.
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
    weeks, build_weeks : Spread
        Until paid; until finished.
    finish : FinishDays or None
        When the build is finished; None for a path without one.
    sale_date : date
        Expected day of payment.
    odds_of_event : float or None
        None where no show is made.
    ready : str
        The finish and the odds of the show in a sentence; empty for a path without a build.
    odds_better_than_as_found : float or None
        Probability that this path ends better than selling as found; None for that path itself.
    most_to_pay : float
        The price of ``most_to_pay_proof``.
    most_to_pay_proof : MostToPay
    counted_as_nothing : tuple of str
        What the plan does not tell and the figures therefore leave out.
    simulation_errors : dict of str to float
        Standard error of each simulated figure, in its unit.
    notes : tuple of Note
    """

    name: str
    price: float | None
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
    weeks: Spread
    build_weeks: Spread
    finish: FinishDays | None
    sale_date: date
    odds_of_event: float | None
    ready: str
    odds_better_than_as_found: float | None
    most_to_pay: float = field(init=False, default=0.0)
    most_to_pay_proof: MostToPay
    counted_as_nothing: tuple[str, ...]
    simulation_errors: dict[str, float]
    notes: tuple[Note, ...]

    def _said(self) -> str:
        most, expected = told(self.most_to_pay, limit="down"), told(self.expected_profit)
        return f"{self.name}: pay at most {most}, expect {expected}, {odds_words(self.odds_of_loss)} lose money"

    def __post_init__(self) -> None:
        object.__setattr__(self, "most_to_pay", self.most_to_pay_proof.price)


@dataclass(frozen=True, slots=True, repr=False)
class PathsReport(Viewed):
    """All paths of one find, side by side.

    Attributes
    ----------
    paths : tuple of PathResult
        In the order of the plans, with selling as found last.
    best : str or None
        The path with the largest expected profit among those that meet the goal at their price; None: pass.
    why : str
        The decision in one or two sentences.
    rule_of_thumb : str
        The trade's rule of thumb beside the path to go, or the nearest.
    goal : Goal
    price : float or None
        The purchase price given, else the one that the first plan's owner asks.
    as_of : date
    currency : str
    simulation : Simulation
    notes : tuple of Note
        What must be known of the estimates behind all paths; a path's own notes stand with it.
    today : tuple of Today
        For each plan that is under way: where it stands and what to do. The paths then start from today, with all that
        went in so far as their purchase price.
    """

    paths: tuple[PathResult, ...]
    best: str | None
    why: str
    rule_of_thumb: str
    goal: Goal
    price: float | None
    as_of: date
    currency: str
    simulation: Simulation
    notes: tuple[Note, ...] = ()
    today: tuple[Today, ...] = ()

    def _view(self) -> View:
        return View(
            title=f"Paths as of {self.as_of}",
            facts=(self.why,),
            header=("path", "pay at most", "outlay", "sale price", "expected profit", "odds of a loss", "weeks"),
            rows=[
                (
                    one.name,
                    told(one.most_to_pay, self.currency, limit="down"),
                    one.outlay.words,
                    one.sale_price.words,
                    told(one.expected_profit),
                    percent(one.odds_of_loss),
                    f"{one.weeks.mean:.0f}",
                )
                for one in self.paths
            ],
            notes=self.all_notes,
        )

    def path(self, name: str) -> PathResult:
        """The path of that name; ``KeyError`` when there is none."""
        for path in self.paths:
            if path.name == name:
                return path
        raise KeyError(name)

    @property
    def nearest(self) -> PathResult:
        """The path to go, or the one that comes nearest to the goal."""
        return self.path(self.best) if self.best else max(self.paths, key=lambda path: path.most_to_pay)

    @property
    def all_notes(self) -> tuple[Note, ...]:
        """Notes of the path to go, of the other paths and of the comparison, each once."""
        ranked = sorted(self.paths, key=lambda path: path is not self.nearest)
        return each_once((*(note for path in ranked for note in path.notes), *self.notes))


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
        For one and the same vehicle; one without steps stands for selling it as found. The first plan's settings also
        serve for that.
    as_of : date
        Day of the purchase.
    price : float, optional
        Purchase price; each plan's own ``purchase.asked`` unless given, and the first known for one that names none.
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
    own = priced(plans, price)
    for plan in own:
        check_plan(plan, pricer, as_of)
    rest = [standing(pricer, plan, as_of) for plan in own]
    all_plans = [plan for plan, _ in rest if plan.steps] + [as_found(rest[0][0])]
    passed = {plan.name: notes for plan, notes in rest}
    prepared = [prepare(pricer, plan, as_of, simulation) for plan in all_plans]
    unchanged = prepared[-1]
    results = [
        path_result(path, goal, None if path is unchanged else _odds_better(pricer, path, unchanged, simulation))
        for path in prepared
    ]
    known = [pricer.notes_on(path.states.vehicles[0], path.sale_date) for path in prepared]
    common = tuple(note for note in known[0] if all(note in notes for notes in known))
    paths = tuple(
        replace(result, notes=(*passed.get(result.name, ()), *result.notes, *(n for n in notes if n not in common)))
        for result, notes in zip(results, known, strict=True)
    )
    best, why = _decide(paths)
    today = tuple(one for plan in own if (one := evaluate_today(pricer, plan, as_of)) is not None)
    if today:
        first = max(today, key=lambda one: one.ways[0].better_by)
        stands = first.ways[0].name == AS_IT_STANDS or len(all_plans) == 1
        best, why = AS_IT_STANDS if stands else first.state.plan, first.why
    paid = None if own[0].progress is None else own[0].progress.paid
    asked = own[0].purchase.asked if paid is None else paid
    report = PathsReport(paths, best, why, "", goal, asked, as_of, pricer.currency, simulation, common, today)
    return replace(report, rule_of_thumb=_rule_of_thumb(report.nearest))


def path_result(path: DealPath, goal: Goal, odds_better: float | None = None) -> PathResult:
    """The figures of one prepared path at the price of its plan (0 where none is known).

    Parameters
    ----------
    path : DealPath
    goal : Goal
    price : float or None
        Purchase price, money; ``None`` where it is not known.
    odds_better : float or None
        Probability that it beats selling as found.
    """
    deal, outcome, price = path.deal, path.outcome, path.plan.purchase.asked
    bought_at = price or 0.0
    outlay, proceeds = deal.outlay(bought_at), deal.expected_proceeds()
    profit, loss = deal.expected_profit(bought_at), deal.odds_of_loss(bought_at)
    bad = deal.profit_quantile(TAIL, bought_at)
    twice = deal.odds_of_goal(Goal.times_outlay(RULE_OF_THUMB), deal.purchase.paid(bought_at))
    mean_outlay, weeks = float(outlay.mean()), float(outcome.weeks_until_sold.mean())
    return_share = profit.value / mean_outlay if mean_outlay > 0 else 0.0
    bay_weeks = float(outcome.weeks.mean())
    best_price = most_to_pay(deal, goal)
    event, shifts = path.plan.event, deal.shifts
    return PathResult(
        name=path.plan.name,
        price=price,
        outlay=_spread(outlay),
        sale_price=Spread(deal.expected_price(), deal.price_quantile(TAIL), deal.price_quantile(1 - TAIL)),
        weeks=_spread(outcome.weeks_until_sold),
        build_weeks=_spread(outcome.weeks),
        finish=finish_days(path) if path.plan.steps else None,
        expected_profit=profit.value,
        bad_tenth=bad.value,
        odds_of_loss=loss.value,
        return_percent=100 * return_share,
        yearly_percent=100 * return_share * WEEKS_PER_YEAR / weeks if weeks > 0 else 0.0,
        profit_per_bay_week=profit.value / bay_weeks if bay_weeks > 0 else None,
        multiple_of_outlay=float(proceeds.mean()) / mean_outlay if mean_outlay > 0 else 0.0,
        odds_of_twice=twice.value,
        odds_of_event=float(outcome.on_time.mean()) if event is not None else None,
        ready=_ready(path),
        odds_better_than_as_found=odds_better,
        most_to_pay_proof=best_price,
        counted_as_nothing=_counted_as_nothing(path),
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
        notes=(*path.notes, *_notes(path)),
    )


def _spread(values: FloatArray) -> Spread:
    low, high = np.quantile(values, [TAIL, 1 - TAIL])
    return Spread(float(values.mean()), float(low), float(high))


def _error(values: FloatArray, shifts: int) -> float:
    return float(values.reshape(shifts, -1).mean(axis=1).std(ddof=1) / np.sqrt(shifts))


def _ready(path: DealPath) -> str:
    if not path.plan.steps:
        return ""
    day, event = finish_days(path).likely, path.plan.event
    if event is None:
        left_out = any(note.code == "event_left_out" for note in path.notes)
        if left_out:
            return say("Ready about {day}; sold at once, without the show.", day=day)
        return say("Ready about {day}.", day=day)
    odds = odds_said(float(path.outcome.on_time.mean()))
    return say(
        "Ready about {day}; {odds} that it makes '{event}' of {date}.",
        day=day,
        odds=odds,
        event=event.name,
        date=event.date,
    )


def _counted_as_nothing(path: DealPath) -> tuple[str, ...]:
    """Labour and holding, where the plan does not say what they cost."""
    shop, draws = path.plan.shop, path.draws
    hours = float((draws.hours.sum(axis=1) * draws.overrun).mean())
    untold = []
    if shop.labour_rate == 0 and hours > 0:
        untold.append(say("your own labour (about {n} hours)", n=f"{hours:,.0f}"))
    if shop.holding_per_week == 0:
        untold.append(say("holding"))
    return tuple(untold)


def _notes(path: DealPath) -> list[Note]:
    notes: list[Note] = []
    if path.plan.purchase.asked is None:
        text = "No purchase price was given: outlay, profit and odds leave it out. Most to pay does not need it."
        notes.append(Note("no_purchase_price", text))
    if _counted_as_nothing(path):
        keys = [key for key in ("labour_rate", "holding_per_week") if getattr(path.plan.shop, key) == 0]
        text = (
            f"What is not told counts as nothing: set {named(keys)} under [shop], in the plan or once for all plans in "
            "shop.toml."
        )
        notes.append(Note("counted_as_nothing", text))
    if path.plan.event is not None and float(path.outcome.on_time.mean()) < 0.5:
        odds = percent(float(path.outcome.on_time.mean()))
        event = path.plan.event
        text = (
            f"The path '{path.plan.name}' makes '{event.name}' on {english_day(event.date)} in only {odds} of the "
            "scenarios."
        )
        notes.append(Note("event_unlikely", text))
    return notes


def _odds_better(pricer: Pricer, path: DealPath, unchanged: DealPath, simulation: Simulation) -> float:
    """Probability that a build ends better than selling as found, each at its purchase price.

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
    built, sold_now = (
        deal.kept * price - deal.outlay(plan.purchase.asked or 0.0)
        for deal, price, plan in (
            (path.deal, prices[np.arange(len(u)), state], path.plan),
            (unchanged.deal, prices[:, -1] * own_date, unchanged.plan),
        )
    )
    return float((built > sold_now).mean())


def _decide(results: Sequence[PathResult]) -> tuple[str | None, str]:
    """The best path, and the decision in words."""
    highest = max(results, key=lambda result: result.most_to_pay)
    if highest.most_to_pay_proof.walk_away:
        return None, say(
            "Walk away: no path meets the goal at any price above 0. The nearest is '{path}', short by {amount}. Lower "
            "the goal, or find a cheaper build.",
            path=highest.name,
            amount=about(-highest.most_to_pay),
        )
    if all(result.price is None for result in results):
        return (
            highest.name,
            say("Pay no more than {limit}: at that price the goal is just met.", limit=_limit(highest, _way(highest))),
        )
    good = [result for result in results if result.price is not None and result.most_to_pay >= result.price]
    if not good:
        return None, say(
            "Pass at {price}: no path meets the goal. Offer no more than {limit}.",
            price=money(highest.price) if highest.price is not None else say("the price asked"),
            limit=_limit(highest, _way(highest)),
        )
    best = max(good, key=lambda result: result.expected_profit)
    return best.name, say(
        "Buy it at {price}{way}: expect {profit}, and {odds} lose money. Pay no more than {limit}.",
        price=money(best.price or 0.0),
        way=_way(best),
        profit=about(best.expected_profit, error=best.simulation_errors["expected_profit"]),
        odds=odds_said(best.odds_of_loss),
        limit=_limit(best),
    )


def _way(result: PathResult) -> str:
    return say(" and sell it as found") if result.name == AS_FOUND else say(" for '{path}'", path=result.name)


def _limit(result: PathResult, way: str = "") -> str:
    """The most to pay, for which way, and what it leaves out."""
    most = at_most(result.most_to_pay)
    if not result.counted_as_nothing:
        return say("{most}{way}", most=most, way=way)
    return say(
        "{most}{way}, with {what} counted as nothing", most=most, way=way, what=listed(result.counted_as_nothing)
    )


def _rule_of_thumb(result: PathResult) -> str:
    return say(
        "Rule of thumb (about twice what went in; common practice, no source): {times} times here, with {odds} of "
        "twice.",
        times=f"{result.multiple_of_outlay:.1f}",
        odds=odds_said(result.odds_of_twice),
    )
