"""Pricing bands: floor, target and ask for the sale, and what to pay at most for the purchase."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from scipy.special import ndtri

from valuation.build.figures import money
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.build.terms import Goal, SaleTerms
from valuation.notes import Note
from valuation.paths.deal_path import DealPath, check_plan, prepare, purchase_price
from valuation.paths.most_to_pay import most_to_pay
from valuation.paths.pricer import Pricer
from valuation.regression.distribution import PriceDistribution
from valuation.sell.asking import AskOutcome, ask_table, best_ask
from valuation.sell.waiting import PricedOffers, expected_wait, reservation_by_week, reservation_price
from valuation.view import View, Viewed, as_money
from valuation.year import DAYS_PER_WEEK, WEEKS_PER_YEAR

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class UsualSettlement:
    """Where talks would end by common practice: so many percent under the ask."""

    price: float
    under_ask_percent: float
    source: str = NO_SOURCE


@dataclass(frozen=True, slots=True)
class WeekFloor:
    """The floor with so many weeks left until the deadline."""

    weeks_left: float
    floor: float


@dataclass(frozen=True, slots=True, repr=False)
class PriceBands(Viewed):
    """Where to stop, what to expect and what to ask; what the buyer pays, money.

    Attributes
    ----------
    estimate : float
        Median price on the expected sale date.
    floor : float
        Under this, waiting is worth more. What was spent does not move it.
    target : float
        Price expected after talks when ``ask`` is asked.
    ask : float
    break_even : float or None
        Price at which the expected outlay comes back; None when no purchase price is known.
    expected_weeks : float or None
        From being for sale until sold, when ``ask`` is asked and no offer under the floor taken; None: no buyer comes.
    buy_at_or_below : float
        Most to pay for the goal.
    walk_away_above : float
        Above this the goal is not met even on average.
    most_to_pay_proof : str
    multiple_at_target : float or None
        Proceeds at the target over the expected outlay.
    outlay : float or None
        Expected, money; None when no purchase price is known.
    target_under_ask_percent : float
        How far the target lies under the ask.
    usual_settlement : UsualSettlement
    asks : tuple of AskOutcome
        What other asks would lead to.
    floor_by_week : tuple of WeekFloor
        Empty without a deadline.
    goal : Goal
    currency : str
    sale_date : date
    notes : tuple of Note
    """

    estimate: float
    floor: float
    target: float
    ask: float
    break_even: float | None
    expected_weeks: float | None
    buy_at_or_below: float
    walk_away_above: float
    most_to_pay_proof: str
    multiple_at_target: float | None
    outlay: float | None
    target_under_ask_percent: float
    usual_settlement: UsualSettlement
    asks: tuple[AskOutcome, ...]
    floor_by_week: tuple[WeekFloor, ...]
    goal: Goal
    currency: str
    sale_date: date
    notes: tuple[Note, ...]

    def _view(self) -> View:
        named = ("floor", "target", "ask", "break_even", "estimate", "buy_at_or_below", "walk_away_above")
        return View(
            title="What to ask",
            facts=tuple(f"{name} {as_money(getattr(self, name), self.currency)}" for name in named[:3]),
            header=("band", "price"),
            rows=[(name.replace("_", " "), as_money(getattr(self, name), self.currency)) for name in named],
            notes=self.notes,
        )

    def floor_at(self, weeks_left: float) -> float:
        """The floor with so many weeks left until the deadline; ``floor`` without one."""
        if not self.floor_by_week:
            return self.floor
        weeks, floors = zip(*((one.weeks_left, one.floor) for one in self.floor_by_week), strict=True)
        return float(np.interp(weeks_left, weeks, floors))


def price_bands(
    pricer: Pricer,
    plan: BuildPlan,
    as_of: date,
    *,
    price: float | None = None,
    goal: Goal | None = None,
    simulation: Simulation | None = None,
) -> PriceBands:
    """Floor, target and ask for a plan's finished vehicle, or for a vehicle as it stands (a plan without steps).

    Parameters
    ----------
    pricer, plan, as_of, simulation
        As for ``evaluate_paths``.
    price : float, optional
        Purchase price; the plan's ``purchase.asked`` unless given.
    goal : Goal, optional
        The plan's unless given.

    Raises
    ------
    PlanError
        The plan contradicts itself, or waiting costs nothing.
    """
    check_plan(plan, pricer, as_of)
    price = purchase_price(plan, price)
    goal = goal or plan.goal
    path = prepare(pricer, plan, as_of, simulation or Simulation())
    estimate = path.deal.price_quantile(0.5)
    offers = expected_offers(estimate, plan.sale)
    floor, by_week, notes = _floor(plan, path, offers)
    wish, wish_notes = _wish_factor(path)
    room = plan.sale.settle_under_ask_percent / 100
    wished = offers.times(wish)
    ask = best_ask(wished, floor, room, plan.sale.offers_per_week)
    sure, average = most_to_pay(path.deal, goal), most_to_pay(path.deal, replace(goal, sure_percent=None))
    outlay = None if price is None else float(path.deal.outlay(price).mean())
    return PriceBands(
        estimate=estimate,
        floor=floor,
        target=ask.expected_price,
        ask=ask.ask,
        break_even=None if outlay is None else outlay / plan.sale.kept,
        expected_weeks=ask.expected_weeks,
        buy_at_or_below=sure.price,
        walk_away_above=max(sure.price, average.price),
        most_to_pay_proof=sure.proof,
        multiple_at_target=plan.sale.kept * ask.expected_price / outlay if outlay else None,
        outlay=outlay,
        target_under_ask_percent=100 * (1 - ask.expected_price / ask.ask),
        usual_settlement=UsualSettlement(ask.ask * (1 - room), plan.sale.settle_under_ask_percent),
        asks=tuple(ask_table(wished, floor, ask.ask, room, plan.sale.offers_per_week)),
        floor_by_week=tuple(WeekFloor(*one) for one in by_week),
        goal=goal,
        currency=pricer.currency,
        sale_date=path.sale_date,
        notes=(
            *path.notes,
            *notes,
            *wish_notes,
            _assumed_offers(plan.sale, offers, floor),
            *pricer.notes_on(path.states.vehicles[0], path.sale_date),
        ),
    )


def expected_offers(estimate: float, terms: SaleTerms) -> PricedOffers:
    """Offers for one vehicle that sells at ``estimate`` when it takes the usual time to sell.

    The table holds sales, that is offers that were taken: the better ones. With so many offers a week, a seller who
    takes the usual weeks takes the best share p = 1 / (rate x weeks) of offers, half of which lie above the 1 - p / 2
    quantile. The offers are centred such that this quantile is the estimate; they scatter by ``offer_spread_percent``.

    Parameters
    ----------
    estimate : float
        Money.
    terms : SaleTerms
        Terms of the sale.
    """
    weeks = terms.weeks_to_sell.mean()
    share_taken = min(1.0, 1 / (terms.offers_per_week * weeks)) if weeks > 0 else 1.0
    spread = math.log1p(terms.offer_spread_percent / 100)
    centre = math.log(estimate) - spread * float(ndtri(1 - share_taken / 2))
    return PricedOffers(PriceDistribution.log_normal(centre, spread))


def _floor(
    plan: BuildPlan, path: DealPath, offers: PricedOffers
) -> tuple[float, tuple[tuple[float, float], ...], list[Note]]:
    terms, holding = plan.sale, plan.shop.holding_per_week
    if terms.deadline is None:
        weekly = math.log1p(terms.discount_percent / 100) / WEEKS_PER_YEAR
        rate = terms.offers_per_week
        discount = rate / (rate + weekly)  # expected worth now of money at the next offer, offers coming at random
        return reservation_price(offers, holding * discount / rate, discount, terms.kept), (), []
    for_sale = path.first_day + timedelta(
        days=round(float((path.outcome.weeks_until_sold - path.draws.weeks_to_sell).mean()) * DAYS_PER_WEEK)
    )
    weeks = (terms.deadline - for_sale).days / DAYS_PER_WEEK
    last = offers.quantile(0.1) if terms.last_resort is None else terms.last_resort
    if weeks <= 0:
        text = (
            f"The deadline, {terms.deadline}, comes before the vehicle is expected to be for sale ({for_sale}): the "
            f"floor is what it brings then, {money(last)}."
        )
        return last, ((0.0, last),), [Note("deadline_before_sale", text)]
    by_week = reservation_by_week(
        offers,
        per_week=terms.offers_per_week,
        holding=holding,
        yearly_discount=terms.discount_percent,
        weeks=weeks,
        last=last,
        kept=terms.kept,
    )
    return by_week[-1][1], tuple(by_week[:: max(len(by_week) // 60, 1)]), []


def _wish_factor(path: DealPath) -> tuple[float, list[Note]]:
    """What a buyer's wish multiplies target and ask by, on average."""
    wish = path.plan.sale.wish
    if wish is None:
        return 1.0, []
    has = path.states.vehicles[0].attributes.get(wish.attribute)
    if str(has).casefold() != wish.level.casefold():
        text = (
            f"A buyer wishes {wish.attribute} '{wish.level}', and the vehicle will have {has!r}: the wish is left out. "
            "Add a step that sets it to see what it would bring."
        )
        return 1.0, [Note("wish_not_met", text)]
    factor = 1 + wish.premium_percent / 100 * wish.sure_percent / 100
    text = (
        f"A buyer's wish for {wish.attribute} '{wish.level}' {'raises' if factor >= 1 else 'lowers'} target and ask by "
        f"{abs(100 * (factor - 1)):.1f} % ({wish.premium_percent:g} % premium, {wish.sure_percent:g} % sure). It does "
        "not touch the estimate or the floor."
    )
    return factor, [Note("buyers_wish", text)]


def _assumed_offers(terms: SaleTerms, offers: PricedOffers, floor: float) -> Note:
    wait = expected_wait(offers, terms.offers_per_week, floor)
    return Note(
        "offers_assumed",
        f"Offers are taken to come {terms.offers_per_month:g} a month, to scatter by {terms.offer_spread_percent:g} % "
        f"and to lie so that a seller who takes {terms.weeks_to_sell.mean():.0f} weeks gets the estimate. One over the "
        f"floor is then {wait:.0f} weeks away on average.",
    )
