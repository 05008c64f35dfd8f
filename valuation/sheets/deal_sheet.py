"""The deal sheet: the private paper with everything. No page of it is for the buyer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from valuation.errors import SheetError
from valuation.sheets.plain import LATER, to_plain
from valuation.text.money import read_amount
from valuation.text.rounding import told
from valuation.view import View, Viewed
from valuation.year import DAYS_PER_WEEK

if TYPE_CHECKING:
    from valuation.answers.plan import Telling
    from valuation.build.plan import BuildPlan
    from valuation.build.terms import Event, Goal
    from valuation.regression.model import PriceModel
    from valuation.sell.bands import PriceBands
    from valuation.sell.offer_log import OfferLog

MOST_WORDS = 4
"""Attributes that stand for a vehicle without a name."""


@dataclass(frozen=True, slots=True)
class Spent:
    """Money that went in already."""

    what: str
    amount: float


@dataclass(frozen=True, slots=True)
class ToGo:
    """What is still to go into one plan, line by line; the lines add up to its expected outlay."""

    plan: str
    lines: tuple[Spent, ...]


@dataclass(frozen=True, slots=True, repr=False)
class DealSheet(Viewed):
    """Everything that a deal sheet shows, before it is laid out; answers as plain data.

    Parameters
    ----------
    vehicle, shop : str
    as_of : date
    currency : str
        Empty when the table names none.
    price : float or None
        Purchase price, paid or asked.
    spent : tuple of Spent
        Outlay so far, the purchase among it when it was paid.
    paths : dict
        ``PathsReport``.
    builds : tuple of dict
        ``PlanAnswer`` for each plan with steps, with the name of the ``plan`` and its ``event``.
    bands : dict
        ``PriceBands`` of the path named ``bands_for``: the best, or the first plan's where none meets the goal.
    bands_for : str
    offers : tuple of dict
        Each ``Offer`` so far, with its ``answer`` (``OfferAnswer``).
    to_go : tuple of ToGo
        For each plan with steps.
    terms : dict or None
        ``SaleTerms`` and ``ShopSettings`` that the three prices and the outlay assume; older sheets have none.
    standing : tuple of str
        How the talks with each buyer stand, as the ledger has them; empty where no ledger keeps the talks.
    """

    vehicle: str
    shop: str
    as_of: dt.date
    currency: str
    price: float | None
    spent: tuple[Spent, ...]
    paths: dict[str, Any]
    builds: tuple[dict[str, Any], ...]
    bands: dict[str, Any]
    bands_for: str
    offers: tuple[dict[str, Any], ...]
    to_go: tuple[ToGo, ...] = field(default=(), metadata=LATER)
    terms: dict[str, Any] | None = field(default=None, metadata=LATER)
    standing: tuple[str, ...] = field(default=(), metadata=LATER)

    def _view(self) -> View:
        return View(
            title=f"Deal sheet of {self.vehicle}",
            facts=(str(self.paths["why"]), "valuation.draw(sheet) makes its PDF"),
            header=("path", "pay at most", "expected profit"),
            rows=[
                (one["name"], told(one["most_to_pay"], self.currency, limit="down"), told(one["expected_profit"]))
                for one in self.paths["paths"]
            ],
        )

    @property
    def spent_in_all(self) -> float:
        """Outlay so far, money."""
        return sum(entry.amount for entry in self.spent)

    @property
    def shown_builds(self) -> tuple[dict[str, Any], ...]:
        """The builds as the sheet shows them: a show that is left out has no odds."""
        left_out = {path["name"] for path in self.paths["paths"] for note in path["notes"]
                    if note["code"] == "event_left_out"}  # fmt: skip
        return tuple({**build, "event": None} if build["plan"] in left_out else build for build in self.builds)


def read_spent(entries: Sequence[str], currency: str = "") -> tuple[Spent, ...]:
    """Outlay so far from texts such as ``Transport=350``.

    Parameters
    ----------
    entries : sequence of str
        Each WHAT=AMOUNT.
    currency : str
        Of the amounts; may be empty.

    Raises
    ------
    SheetError
        If a text is not one.
    """
    found = []
    for entry in entries:
        what, sign, amount = entry.rpartition("=")
        try:
            if not sign:
                raise ValueError("names no amount")
            found.append(Spent(what.strip(), read_amount(amount, currency)))
        except ValueError as problem:
            raise SheetError(
                f"Cannot read what was spent from {entry[:60]!r}: it {problem}. Write it as WHAT=AMOUNT, such as "
                "Transport=350."
            ) from None
    return tuple(found)


def deal_sheet(
    model: PriceModel,
    plans: Sequence[BuildPlan],
    as_of: dt.date,
    *,
    price: float | None = None,
    goal: Goal | None = None,
    spent: Sequence[Spent] = (),
    log: OfferLog | None = None,
    shop: str = "",
    found: Mapping[str, Any] | None = None,
    priced: tuple[BuildPlan, PriceBands] | None = None,
    standing: Sequence[str] = (),
    tell: Telling | None = None,
) -> DealSheet:
    """Everything about the deal of one vehicle: worked out, or as it was kept.

    Parameters
    ----------
    model : PriceModel
    plans : sequence of BuildPlan
        For one and the same vehicle.
    as_of : date
    price : float, optional
        Purchase price; the first plan's ``purchase.asked`` unless given.
    goal : Goal, optional
        The first plan's unless given.
    spent : sequence of Spent
        What went in already; unless told what the plan's own progress says.
    log : OfferLog, optional
        The talks so far.
    shop : str
    found : mapping, optional
        A ``BuildAnswer`` of the same plans, day, price and goal as plain data, such as the ledger keeps; worked out
        unless given.
    priced : tuple of (BuildPlan, PriceBands), optional
        Bands that were kept, with the plan that they are for; worked out for the best plan unless given.
    standing : sequence of str
        How the talks with each buyer stand, with what was answered, where a ledger knows it.
    tell : callable, optional
        Told how far the work is.

    Raises
    ------
    PlanError
        The plans contradict themselves or each other.
    OfferError
        An offer is in another currency.
    """
    from valuation.answers.bands import bands
    from valuation.answers.offer import offer
    from valuation.answers.paths import paths
    from valuation.answers.plan import plan_answers
    from valuation.paths.deal_path import priced as at_their_prices
    from valuation.paths.outlay import outlay_lines

    own = at_their_prices(plans, price)
    parts = 2 + sum(1 for plan in own if plan.steps)
    if not found and tell is not None:
        tell("comparing the paths", 0, parts)
    report = found["paths"] if found else to_plain(paths(model, own, as_of, goal=goal))
    if priced is None:
        chosen = next((plan for plan in own if plan.name == report["best"]), own[0])
        if tell is not None:
            tell("setting the price", 1, parts)
        priced = chosen, bands(model, chosen, as_of, goal=goal)
    behind = found["plans"] if found else to_plain(plan_answers(model, own, as_of, tell=tell, before=2))
    for_sale, three = priced
    talks = [] if log is None else [replace(log, offers=log.offers[: i + 1]) for i in range(len(log.offers))]
    told = [offer(three, for_sale.sale, each) for each in talks]
    events = {plan.name: plan.event for plan in own}
    built = [plan for plan in own if plan.name in behind]
    return DealSheet(
        vehicle=described(own[0], model),
        shop=shop,
        as_of=as_of,
        currency=model.currency,
        price=report["price"],
        spent=tuple(spent) or _went_in(report),
        paths=dict(report),
        builds=tuple(
            {"plan": name, **answer, "event": _event(events.get(name), own, name, as_of)}
            for name, answer in behind.items()
        ),
        bands=to_plain(three),
        bands_for=for_sale.name,
        offers=tuple({**to_plain(answer.so_far[-1]), "answer": to_plain(answer)} for answer in told),
        to_go=tuple(
            ToGo(plan.name, tuple(Spent(one.what, one.amount) for one in outlay_lines(model, plan, as_of)))
            for plan in built
        ),
        terms={"sale": to_plain(for_sale.sale), "shop": to_plain(for_sale.shop)},
        standing=tuple(standing),
    )


def _went_in(report: Mapping[str, Any]) -> tuple[Spent, ...]:
    """What went into a build under way; nothing before the purchase."""
    states = [way["state"] for way in report.get("today", [])[:1]]
    return tuple(Spent(one["what"], one["amount"]) for state in states for one in state["spent"])


def described(plan: BuildPlan, model: PriceModel) -> str:
    """The vehicle's own name, or its first attributes where the plan gives it none.

    Parameters
    ----------
    plan : BuildPlan
    model : PriceModel
    """
    if plan.found.name != plan.name:
        return plan.found.name
    values = [plan.found.attributes.get(name) for name in model.schema.names[:MOST_WORDS]]
    said = [f"{value:g}" if isinstance(value, float) else str(value) for value in values if value is not None]
    return ", ".join(said) or plan.name


def _event(event: Event | None, plans: Sequence[BuildPlan], name: str, as_of: dt.date) -> dict[str, Any] | None:
    """A plan's show, with the weeks to it from the first day of the build."""
    if event is None:
        return None
    start = next((plan.start for plan in plans if plan.name == name), None)
    weeks = (event.date - max(start or as_of, as_of)).days / DAYS_PER_WEEK
    return {"name": event.name, "date": event.date.isoformat(), "weeks": weeks}
