"""Pricing bands: floor, target and ask for the sale, and what to pay at most for the purchase."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from valuation.build.figures import about, money
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.build.terms import Goal, SaleTerms
from valuation.notes import Note
from valuation.paths.deal_path import DealPath, check_plan, prepare, purchase_price
from valuation.paths.most_to_pay import most_to_pay
from valuation.paths.pricer import Pricer
from valuation.sell.asking import HARDLY_WEEKS, AskOutcome, Callers, Manner, ask_table, best_ask
from valuation.sell.prospect import Prospect, in_words, prospect
from valuation.sell.sentences import bands_sentence
from valuation.sell.waiting import Waiting, wait
from valuation.sell.ways import Markdown, WayToSell, markdown, ways_to_sell
from valuation.text.language import english_day
from valuation.text.rounding import told
from valuation.view import View, Viewed
from valuation.year import DAYS_PER_WEEK

NO_SOURCE = "common practice, no source"
OWN_FIGURE = "the shop's own figure"
LEAST_FALL = 0.02
"""Share of the floor by which it must have fallen before a new one is said."""


@dataclass(frozen=True, slots=True)
class UsualSettlement:
    """Where talks would end by common practice: so many percent under the ask."""

    price: float
    under_ask_percent: float
    source: str = NO_SOURCE


@dataclass(frozen=True, slots=True)
class FloorFrom:
    """The floor from a day on, if nothing was sold or learned until then."""

    day: date
    floor: float


@dataclass(frozen=True, slots=True, repr=False)
class PriceBands(Viewed):
    """Where to stop, what to expect and what to ask; what the buyer pays, money.

    Attributes
    ----------
    sentence : str
        The answer as one would say it.
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
        From being for sale until sold; None: it would hardly sell within two years.
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
    floors : tuple of FloorFrom
        How the floor falls, from the listing to the last day.
    ways : tuple of WayToSell
        Where to sell, the most money first.
    markdown : tuple of Markdown
        Asks for a vehicle that must go; empty without a deadline.
    prospect : Prospect
        What is believed of the worth and of buyers: what the answer to an offer rests on.
    goal : Goal
    currency : str
    sale_date : date
    notes : tuple of Note
    """

    sentence: str
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
    floors: tuple[FloorFrom, ...]
    ways: tuple[WayToSell, ...]
    markdown: tuple[Markdown, ...]
    prospect: Prospect
    goal: Goal
    currency: str
    sale_date: date
    notes: tuple[Note, ...]

    def _view(self) -> View:
        prices = {
            "floor": told(self.floor, self.currency, limit="up"),
            "target": told(self.target, self.currency),
            "ask": told(self.ask, self.currency),
            "break even": told(self.break_even, self.currency, limit="up"),
            "estimate": told(self.estimate, self.currency),
            "buy at or below": told(self.buy_at_or_below, self.currency, limit="down"),
            "walk away above": told(self.walk_away_above, self.currency, limit="down"),
        }
        return View(
            title="What to ask",
            facts=tuple(f"{name} {prices[name]}" for name in ("floor", "target", "ask")),
            header=("band", "price"),
            rows=list(prices.items()),
            notes=self.notes,
        )


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
        The plan contradicts itself.
    """
    check_plan(plan, pricer, as_of)
    price = purchase_price(plan, price)
    goal = goal or plan.goal
    path = prepare(pricer, plan, as_of, simulation or Simulation())
    terms, holding = plan.sale, plan.shop.holding_per_week
    sale, sale_notes = _prospect(pricer, plan, path)
    waiting = wait(sale.sale)
    wish, wish_notes = _wish_factor(path)
    floor = sale.worth * math.exp(float(waiting.value[0, 0]))
    target = max(sale.worth * math.exp(float(waiting.price[0, 0])) * wish, floor)
    weeks = float(waiting.weeks[0, 0])
    expected_weeks = weeks if weeks <= HARDLY_WEEKS else None
    buyers, manner = sale.sale.buyers, Manner(terms.settle_under_ask_percent, terms.buyers_lost_percent)
    callers = Callers(
        sale.belief.mean + buyers.centre + math.log(wish), math.hypot(sale.sale.doubt, buyers.spread), math.log(floor)
    )
    ask = best_ask(callers, manner, target)
    floors = _floors(sale, waiting)
    sure, average = most_to_pay(path.deal, goal), most_to_pay(path.deal, replace(goal, sure_percent=None))
    outlay = None if price is None else float(path.deal.outlay(price).mean())
    return PriceBands(
        sentence=bands_sentence(
            ask, target, floor, expected_weeks, sale.for_sale, floors[1].day if len(floors) > 1 else sale.last_day,
            waits=sale.for_sale > as_of,
        ),
        estimate=sale.worth,
        floor=floor,
        target=target,
        ask=ask,
        break_even=None if outlay is None else outlay / terms.kept,
        expected_weeks=expected_weeks,
        buy_at_or_below=sure.price,
        walk_away_above=max(sure.price, average.price),
        most_to_pay_proof=sure.proof,
        multiple_at_target=terms.kept * target / outlay if outlay else None,
        outlay=outlay,
        target_under_ask_percent=100 * (1 - target / ask),
        usual_settlement=_usual_settlement(ask, manner.room_percent),
        asks=ask_table(callers, manner, ask, target, weeks),
        floors=floors,
        ways=ways_to_sell(sale, waiting, terms, holding, expected_weeks),
        markdown=markdown(sale, target, ask),
        prospect=sale,
        goal=goal,
        currency=pricer.currency,
        sale_date=path.sale_date,
        notes=(
            *path.notes,
            *sale_notes,
            *wish_notes,
            _assumed_offers(terms, sale),
            *pricer.notes_on(path.states.vehicles[0], path.sale_date),
        ),
    )  # fmt: skip


def _usual_settlement(ask: float, percent: float) -> UsualSettlement:
    source = NO_SOURCE if percent == SaleTerms().settle_under_ask_percent else OWN_FIGURE
    return UsualSettlement(ask * (1 - percent / 100), percent, source)


def _prospect(pricer: Pricer, plan: BuildPlan, path: DealPath) -> tuple[Prospect, tuple[Note, ...]]:
    """What is believed and expected of the sale of a path's finished vehicle."""
    middle = path.deal.price_quantile(0.5)
    joint = pricer.joint(path.states.vehicles[:1], path.sale_date)
    unknown = joint.mix.caution * math.sqrt(max(float(joint.effect_covariance[0, 0]), 0.0))
    scatter = float(np.sqrt(joint.mix.weight @ joint.mix.scale**2) * np.ravel(joint.residual)[0])
    built = float((path.outcome.weeks_until_sold - path.draws.weeks_to_sell).mean())
    for_sale = path.first_day + timedelta(days=round(built * DAYS_PER_WEEK))
    found, notes = prospect(middle, unknown, scatter, plan.sale, plan.shop, for_sale)
    deadline = plan.sale.deadline
    if deadline is not None and deadline <= for_sale:
        last = middle * math.exp(found.sale.end)
        text = (
            f"The deadline, {english_day(deadline)}, comes before the vehicle is expected to be for sale "
            f"({english_day(for_sale)}): the floor is "
            f"what it brings then, {money(last)}."
        )
        notes = (*notes, Note("deadline_before_sale", text))
    return found, notes


def _floors(sale: Prospect, waiting: Waiting) -> tuple[FloorFrom, ...]:
    """The floor whenever it has fallen by a share worth saying, and on the last day."""
    found = [FloorFrom(sale.for_sale, sale.worth * math.exp(float(waiting.value[0, 0])))]
    for week in range(1, math.floor(sale.sale.weeks) + 1):
        floor = sale.worth * math.exp(waiting.at(waiting.value, week))
        if floor <= found[-1].floor * (1 - LEAST_FALL):
            found.append(FloorFrom(sale.for_sale + timedelta(weeks=week), floor))
    last = FloorFrom(sale.last_day, sale.worth * math.exp(sale.sale.end))
    return (*found, last) if last.day > found[-1].day else tuple(found)


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


def _assumed_offers(terms: SaleTerms, sale: Prospect) -> Note:
    buyers = sale.sale.buyers
    spread, doubt = (100 * math.expm1(one) for one in (buyers.spread, sale.sale.doubt))
    return Note(
        "offers_assumed",
        f"Offers are taken to come {terms.offers_per_month:g} a month, fewer as the listing ages, and to scatter by "
        f"{spread:.0f} % around {about(sale.worth * math.exp(buyers.centre))}: then a seller who takes "
        f"{in_words(buyers.usual_weeks)} gets the estimate. What this vehicle is worth is known to {doubt:.0f} % "
        "before the first offer; offers, and weeks without one, teach more.",
    )
