"""One path from as found to sold: its deal, put together from the plan, the simulation and the price model."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from valuation.build.bounds import HORIZON, HORIZON_YEARS, MONEY, MOST_MONEY
from valuation.build.crew import BoolArray, CrewRules
from valuation.build.plan import AS_FOUND, BuildPlan
from valuation.build.scenarios import BuildOutcome, Draws, carry_out, draw, plan_rules
from valuation.build.simulation import Simulation
from valuation.build.states import FinishedStates, as_entered, check_states, finished_states
from valuation.errors import PlanError, shown
from valuation.notes import Note
from valuation.paths.pricer import Pricer
from valuation.paths.profit import Deal
from valuation.regression.distribution import FloatArray, PriceDistribution
from valuation.schema.vehicle import Vehicle
from valuation.text.dates import EARLIEST, LATEST
from valuation.year import DAYS_PER_WEEK, WEEKS_PER_YEAR


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


def as_found(plan: BuildPlan) -> BuildPlan:
    """The path that sells the vehicle as it was found, with the plan's settings."""
    return replace(plan, name=AS_FOUND, steps=(), event=None, source_name="")


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
        f"The show '{event.name}' has passed, on {event.date}: it is left out, with its entry and its awards. Take it "
        "out of the plan, and if the vehicle won an award there, write that among its attributes."
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
            f"The plan starts on {plan.start}; it is counted from {as_of} instead, with no step taken as done. Take "
            "out the steps that are done, and write what they did among the vehicle's attributes."
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
    done: BoolArray | None = None,
    delay_weeks: float = 0.0,
) -> DealPath:
    """Carry out a plan in every scenario and price what comes of it.

    Parameters
    ----------
    pricer : Pricer
    plan : BuildPlan
        As checked by ``check_plan``; a show that has passed is left out, with a note.
    as_of : date
        On which the vehicle is bought, unless the plan starts later.
    simulation : Simulation
    draws, rules : optional
        Of the same plan, when at hand.
    done : ndarray of bool, shape (n,), optional
        Steps that are carried out; all of them unless told.
    delay_weeks : float
        Weeks by which the finish slips.
    """
    plan, passed = still_ahead(plan, as_of)
    first_day, started = start_of(plan, as_of)
    assumed = tuple(Note("default_setting", text) for text in plan.defaults)
    draws = draws or draw(plan, simulation)
    states = finished_states(plan, pricer.schema, None if done is None else [bool(kept) for kept in done])
    plan = as_entered(plan, states)
    outcome = carry_out(plan, draws, first_day, rules, done, delay_weeks)
    sale_date = expected_sale_date(first_day, outcome)
    prices = pricer.distribution(states.vehicles, sale_date)
    deal = make_deal(plan, outcome, states, prices, simulation.shifts)
    notes = (*passed, *started, *states.notes, *assumed)
    return DealPath(plan, deal, outcome, states, draws, first_day, sale_date, notes)


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


def without_event(pricer: Pricer, path: DealPath) -> Deal:
    """The deal if the finished vehicle were sold at once instead of waiting for the event.

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
    prices = pricer.distribution(states.vehicles, expected_sale_date(path.first_day, outcome))
    return make_deal(plan, outcome, states, prices, path.deal.shifts)


def make_deal(
    plan: BuildPlan, outcome: BuildOutcome, states: FinishedStates, prices: PriceDistribution, shifts: int
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
    """
    return Deal(
        prices=prices,
        weights=award_weights(outcome, states),
        kept=plan.sale.kept,
        spent=spent(plan, outcome),
        carry=1 + plan.shop.interest_percent / 100 * outcome.weeks_until_sold / WEEKS_PER_YEAR,
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


def spent(plan: BuildPlan, outcome: BuildOutcome) -> FloatArray:
    """Outlay beside the vehicle itself, money, shape (s,).

    Parameters
    ----------
    plan : BuildPlan
    outcome : BuildOutcome
        What the build costs and when it is done, by scenario.
    """
    shop = plan.shop
    entry = plan.event.entry_cost if plan.event else 0.0
    fixed = plan.purchase.fixed + plan.sale.fixed + entry
    holding = shop.holding_per_week * outcome.weeks_until_sold
    bay = shop.overhead_per_week / shop.bays * outcome.weeks
    return np.asarray(outcome.parts + outcome.labour + holding + bay + fixed)


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
