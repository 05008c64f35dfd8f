"""One path from as found to sold: its deal, put together from the plan, the simulation and the price model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from valuation.build.bounds import HORIZON, HORIZON_YEARS, MONEY, MOST_MONEY
from valuation.build.crew import BoolArray, CrewRules
from valuation.build.figures import money
from valuation.build.interest import flow, growth
from valuation.build.plan import AS_FOUND, BuildPlan
from valuation.build.scenarios import BuildOutcome, Draws, carry_out, draw, plan_rules
from valuation.build.simulation import Simulation
from valuation.build.states import FinishedStates, as_entered, check_states, finished_states
from valuation.build.terms import Event
from valuation.build.under_way import from_today
from valuation.errors import PlanError, shown
from valuation.notes import Note
from valuation.paths.pricer import Pricer
from valuation.paths.profit import Deal
from valuation.regression.distribution import FloatArray, PriceDistribution
from valuation.schema.vehicle import Vehicle
from valuation.text.dates import EARLIEST, LATEST
from valuation.text.language import english_day
from valuation.year import DAYS_PER_WEEK, WEEKS_PER_YEAR

AS_IT_STANDS = "sell as it stands"
AS_IT_STANDS_SIMULATION = Simulation(scenarios=1024)
"""Fewer scenarios than a plan gets: without steps little is drawn by chance."""
CLEAR_OF_CHANCE = 4
"""Standard errors of the simulation beyond which one way is taken to be better than another."""


@dataclass(frozen=True, slots=True)
class DealPath:
    """A plan carried out in every scenario and priced on its expected sale date.

    Attributes
    ----------
    plan : BuildPlan
    deal : Deal
    outcome : BuildOutcome
    states : FinishedStates
    draws : Draws
    first_day, sale_date : date
        First day of the build, and the expected day of payment.
    notes : tuple of Note
    """

    plan: BuildPlan
    deal: Deal
    outcome: BuildOutcome
    states: FinishedStates
    draws: Draws
    first_day: date
    sale_date: date
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class FinishDays:
    """Days by which one build in ten, half, and nine in ten are finished."""

    early: date
    likely: date
    late: date


def as_found(plan: BuildPlan) -> BuildPlan:
    """The path that sells the vehicle as it was found, or as it stands, with the plan's settings."""
    bought = plan.purchase.stands_at is not None or plan.progress is not None
    return replace(plan, name=AS_IT_STANDS if bought else AS_FOUND, steps=(), event=None, source_name="")


def check_plan(plan: BuildPlan, pricer: Pricer, as_of: date) -> None:
    """Refuse a plan that contradicts the table's currency, the schema, the calendar or itself.

    Parameters
    ----------
    plan : BuildPlan
    pricer : Pricer
    as_of : date
        Day of the purchase.

    Raises
    ------
    PlanError
        Naming the plan, what was found and the mend.
    """
    if plan.currency and pricer.currency and plan.currency.casefold() != pricer.currency.casefold():
        raise PlanError(
            f"Plan '{plan.name}' is in {plan.currency!r} and the table's prices are in {pricer.currency!r}. Write all "
            f'money of the plan in {pricer.currency} and set currency = "{pricer.currency}".'
        )
    if not EARLIEST <= as_of <= LATEST:
        raise PlanError(
            f"Cannot weigh plan '{plan.name}' on {as_of}: days from {EARLIEST} to {LATEST} are accepted. Give the "
            "day of the purchase."
        )
    last = min(as_of + HORIZON, LATEST)
    event_day = None if plan.event is None else plan.event.date
    named = (("start", plan.start), ("deadline", plan.sale.deadline), ("day of the event", event_day))
    for name, day in named:
        if day is not None and day > last:
            raise PlanError(
                f"Plan '{plan.name}': the {name}, {day}, is too far ahead of {as_of}: at most {HORIZON_YEARS} years "
                f"are accepted. Write a day up to {last}."
            )
    if plan.sale.deadline is not None and plan.sale.deadline <= as_of:
        raise PlanError(
            f"Plan '{plan.name}': the deadline of the sale, {plan.sale.deadline}, is not after {as_of}. Write a later "
            "date, or take the deadline out."
        )
    check_states(plan, pricer.schema)
    plan_rules(plan)


def standing(pricer: Pricer, plan: BuildPlan, as_of: date) -> tuple[BuildPlan, tuple[Note, ...]]:
    """What is left of a plan on a day: without steps that are done and without a show that has passed.

    The vehicle of a build under way stands in the books at what went in so far; decisions weigh it at what it would
    bring as it stands, since what was spent is gone whatever is done.

    Parameters
    ----------
    pricer : Pricer
        The price model.
    plan : BuildPlan
        As checked by ``check_plan``.
    as_of : date
        Day of the question.
    """
    rest, state = from_today(plan, as_of)
    if state is not None:
        deal = prepare(pricer, as_found(rest), as_of, AS_IT_STANDS_SIMULATION).deal
        stands_at = max(float(deal.expected_proceeds().mean() - deal.spent.mean()) / float(deal.carry.mean()), 0.0)
        rest = replace(rest, purchase=replace(rest.purchase, stands_at=stands_at))
    return still_ahead(rest, as_of)


def still_ahead(plan: BuildPlan, as_of: date) -> tuple[BuildPlan, tuple[Note, ...]]:
    """The plan without its show where that has passed, with a note that says so.

    Parameters
    ----------
    plan : BuildPlan
    as_of : date
        Day of the purchase.
    """
    event = plan.event
    if event is None or event.date > as_of:
        return plan, ()
    text = (
        f"The show '{event.name}' has passed, on {english_day(event.date)}: it is left out, with its entry and its "
        "awards. Take it out of the plan, and if the vehicle won an award there, write that among its attributes."
    )
    return replace(plan, event=None), (Note("event_passed", text),)


def start_of(plan: BuildPlan, as_of: date) -> tuple[date, tuple[Note, ...]]:
    """First day of the build, with a note where the plan's own lies in the past.

    Parameters
    ----------
    plan : BuildPlan
    as_of : date
        Day of the purchase.
    """
    if plan.start is None:
        return as_of, ()
    if plan.start < as_of:
        text = (
            f"The plan starts on {english_day(plan.start)}; it is counted from {english_day(as_of)} instead, with no "
            "step taken as done. Write the purchase under [bought], and each step that is done under [[done]]."
        )
        return as_of, (Note("start_in_past", text),)
    return plan.start, ()


def prepare(
    pricer: Pricer,
    plan: BuildPlan,
    as_of: date,
    simulation: Simulation,
    *,
    draws: Draws | None = None,
    rules: CrewRules | None = None,
    done: Sequence[bool] | BoolArray | None = None,
    delay_weeks: float = 0.0,
    event_decided: bool = False,
) -> DealPath:
    """Carry out a plan in every scenario and price what comes of it.

    A show that costs more than it brings, in waiting and entry, is left out, with a note.

    Parameters
    ----------
    pricer : Pricer
    plan : BuildPlan
        As checked by ``check_plan``; a show that has passed is left out, with a note.
    as_of : date
        On which the vehicle is bought, unless the plan starts later.
    simulation : Simulation
    draws, rules : optional
        Of the same plan as it is ``standing``, when at hand.
    done : ndarray of bool, shape (n,), optional
        Steps that are carried out; all of them unless told.
    delay_weeks : float
        Weeks by which the finish slips.
    event_decided : bool
        Whether the plan's show stays in it whatever it brings.
    """
    plan, passed = standing(pricer, plan, as_of)
    first_day, started = start_of(plan, as_of)
    assumed = tuple(Note("default_setting", text) for text in plan.defaults)
    draws = draws or draw(plan, simulation)
    states = finished_states(plan, pricer.schema, None if done is None else [bool(kept) for kept in done])
    plan = as_entered(plan, states)
    chosen = None if done is None else np.asarray(done, dtype=bool)
    outcome = carry_out(plan, draws, first_day, rules, chosen, delay_weeks)
    sale_date = expected_sale_date(first_day, outcome)
    prices = pricer.distribution(states.vehicles, sale_date)
    deal = make_deal(plan, outcome, states, prices, simulation.shifts, first_day)
    notes = (*passed, *started, *states.notes, *assumed)
    path = DealPath(plan, deal, outcome, states, draws, first_day, sale_date, notes)
    return path if event_decided or plan.event is None else _worth_the_show(pricer, path, plan.event)


def finish_days(path: DealPath) -> FinishDays:
    """When the build of a path is finished, over the scenarios."""
    ends = np.quantile(path.outcome.weeks, [0.1, 0.5, 0.9])
    return FinishDays(*(path.first_day + timedelta(days=round(float(end) * DAYS_PER_WEEK)) for end in ends))


def expected_sale_date(first_day: date, outcome: BuildOutcome) -> date:
    """Day on which the buyer is expected to have paid.

    Parameters
    ----------
    first_day : date
        Of the build.
    outcome : BuildOutcome
        What the build costs and when it is done, by scenario.

    Raises
    ------
    PlanError
        If build and sale last longer than a plan may look ahead.
    """
    weeks = float(outcome.weeks_until_sold.mean())
    if not weeks * DAYS_PER_WEEK <= HORIZON.days:
        raise PlanError(
            f"Cannot weigh a plan whose vehicle is expected to be sold {weeks / WEEKS_PER_YEAR:,.0f} years after its "
            f"start: at most {HORIZON_YEARS} years are accepted. Look at hours, parts_weeks, hours_per_week and "
            "weeks_to_sell."
        )
    return first_day + timedelta(days=round(weeks * DAYS_PER_WEEK))


def _worth_the_show(pricer: Pricer, path: DealPath, event: Event) -> DealPath:
    """The path, or the one without its show where that is better by more than chance in the simulation."""
    sold_at_once = without_event(pricer, path)
    price = path.plan.purchase.stake
    with_show = path.deal.expected_profit(price)
    gain = sold_at_once.deal.expected_profit(price).value - with_show.value
    if gain <= CLEAR_OF_CHANCE * with_show.error:
        return path
    text = (
        f"The show '{event.name}' is left out of '{path.plan.name}': waiting and entry cost "
        f"{money(gain, error=with_show.error)} more than its awards bring."
    )
    return replace(sold_at_once, notes=(*path.notes, Note("event_left_out", text)))


def without_event(pricer: Pricer, path: DealPath) -> DealPath:
    """The path if the finished vehicle were sold at once instead of waiting for the event.

    Parameters
    ----------
    pricer : Pricer
    path : DealPath
    """
    plan = replace(path.plan, event=None)
    outcome = replace(
        path.outcome,
        on_time=np.zeros_like(path.outcome.on_time),
        weeks_until_sold=path.outcome.weeks + path.draws.weeks_to_sell,
    )
    states = FinishedStates(path.states.vehicles[:1], (1.0,))
    sale_date = expected_sale_date(path.first_day, outcome)
    prices = pricer.distribution(states.vehicles, sale_date)
    deal = make_deal(plan, outcome, states, prices, path.deal.shifts, path.first_day)
    return replace(path, plan=plan, deal=deal, outcome=outcome, states=states, sale_date=sale_date)


def make_deal(
    plan: BuildPlan,
    outcome: BuildOutcome,
    states: FinishedStates,
    prices: PriceDistribution,
    shifts: int,
    first_day: date,
) -> Deal:
    """Put outlay and prices of a carried-out plan together.

    Parameters
    ----------
    plan : BuildPlan
    outcome : BuildOutcome
        What the build costs and when it is done, by scenario.
    states : FinishedStates
    prices : PriceDistribution
        Of each finished state.
    shifts : int
        Of the simulation.
    first_day : date
        Of the build.
    """
    return Deal(
        prices=prices,
        weights=award_weights(outcome, states),
        kept=plan.sale.kept,
        spent=spent(plan, outcome, first_day),
        carry=growth(outcome.weeks_until_sold, plan.shop.interest_percent),
        purchase=plan.purchase,
        shifts=shifts,
    )


def award_weights(outcome: BuildOutcome, states: FinishedStates) -> FloatArray:
    """Probability of each finished state in each scenario, shape (s, a): no show, no award.

    Parameters
    ----------
    outcome : BuildOutcome
        What the build costs and when it is done, by scenario.
    states : FinishedStates
    """
    weights = outcome.on_time[:, None] * np.asarray(states.chances)
    weights[:, 0] += 1 - outcome.on_time
    return np.asarray(weights)


def spent(plan: BuildPlan, outcome: BuildOutcome, first_day: date) -> FloatArray:
    """Outlay beside the vehicle itself with interest until the sale, money, shape (s,).

    Fees to buy are paid on the first day, the entry on the event's, fees to sell out of the proceeds.

    Parameters
    ----------
    plan : BuildPlan
    outcome : BuildOutcome
        What the build costs and when it is done, by scenario.
    first_day : date
        Of the build.
    """
    shop, rate, sold = plan.shop, plan.shop.interest_percent, outcome.weeks_until_sold
    bay = shop.overhead_per_week / shop.bays * flow(outcome.weeks, rate)
    total = (outcome.at_finish + bay) * growth(sold - outcome.weeks, rate)
    total += shop.holding_per_week * flow(sold, rate) + plan.purchase.fixed * growth(sold, rate) + plan.sale.fixed
    if plan.event is not None:
        until_event = (plan.event.date - first_day).days / DAYS_PER_WEEK
        total += plan.event.entry_cost * growth(np.maximum(sold - until_event, 0.0), rate)
    return np.asarray(total)


def purchase_price(plan: BuildPlan, given: float | None) -> float | None:
    """The purchase price: the one given, else the one the owner asks; None when neither is known.

    Parameters
    ----------
    plan : BuildPlan
    given : float or None
        Money.

    Raises
    ------
    PlanError
        The price is not an amount of 0 or more.
    """
    price = plan.purchase.asked if given is None else given
    if price is not None and not MONEY.holds(price):
        raise PlanError(
            f"Cannot weigh plan '{plan.name}' at a purchase price of {shown(price)}: money of 0 or more is accepted, "
            f"at most {MOST_MONEY:,.0f}. Give what the owner asks, or leave it out."
        )
    return price


def at_price(plan: BuildPlan, given: float | None) -> BuildPlan:
    """The plan bought at the price given, else at the one that its owner asks; see ``purchase_price``.

    Parameters
    ----------
    plan : BuildPlan
        As checked by ``check_plan``.
    given : float or None
        Purchase price, money; None: the plan's own.

    Raises
    ------
    PlanError
        The vehicle was bought already, for another price.
    """
    if plan.progress is not None and given not in (None, plan.progress.paid, plan.purchase.asked):
        raise PlanError(
            f"Cannot weigh plan '{plan.name}' at a purchase price of {shown(given)}: its vehicle was bought on "
            f"{plan.progress.bought_on} for {money(plan.progress.paid)}. Leave the price out, or correct [bought]."
        )
    return replace(plan, purchase=replace(plan.purchase, asked=purchase_price(plan, given)))


def priced(plans: Sequence[BuildPlan], given: float | None) -> list[BuildPlan]:
    """Plans of one find at the price given, else each at its own; one that names none is bought at the first known.

    Parameters
    ----------
    plans : sequence of BuildPlan
        Of one find.
    given : float or None
        Purchase price, money; None: the plan's own.
    """
    known = next((plan.purchase.asked for plan in plans if plan.purchase.asked is not None), None)
    return [at_price(plan, known if given is None and plan.purchase.asked is None else given) for plan in plans]


def same_vehicle(plans: list[BuildPlan]) -> Vehicle:
    """The vehicle that all plans are for; their names must differ.

    Raises
    ------
    PlanError
        There is no plan, two have one name, or two are for different vehicles; the attributes that differ are named.
    """
    if not plans:
        raise PlanError("Cannot compare paths: no build plan was given. Write one with 'valuation start'.")
    first = plans[0]
    taken = {AS_FOUND}
    for plan in plans:
        if plan.name in taken:
            raise PlanError(
                f"Two paths are called '{plan.name}', so their figures could not be told apart. Give each plan a "
                f"'name' of its own; '{AS_FOUND}' is always one of the paths."
            )
        taken.add(plan.name)
    for plan in plans[1:]:
        names = {*first.found.attributes, *plan.found.attributes}
        differing = sorted(n for n in names if first.found.attributes.get(n) != plan.found.attributes.get(n))
        if differing:
            raise PlanError(
                f"Plans '{first.name}' and '{plan.name}' are for different vehicles: as found they differ in "
                f"{', '.join(differing)}. Compare plans for one vehicle at a time."
            )
    return first.found
