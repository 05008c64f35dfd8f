"""The deal sheet: the private paper with everything. No page of it is for the buyer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from valuation.errors import SheetError
from valuation.sheets.plain import fingerprint, to_plain
from valuation.text.money import read_amount

if TYPE_CHECKING:
    from valuation.build.plan import BuildPlan
    from valuation.regression.model import PriceModel
    from valuation.sell.offer_log import OfferLog

MOST_WORDS = 4
"""Attributes that stand for a vehicle without a name."""

Telling = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Spent:
    """Money that went in already."""

    what: str
    amount: float


@dataclass(frozen=True, slots=True)
class DealSheet:
    """Everything that a deal sheet shows, before it is laid out; reports as their JSON shows them.

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
        As ``PathsReport.as_dict``.
    builds : tuple of dict
        For each plan with steps: ``plan``, ``steps`` (``StepsReport.as_dict``), ``schedule``
        (``ScheduleReport.as_dict``) and ``drivers`` (``Driver.as_dict``, largest swing first).
    bands : dict
        As ``PriceBands.as_dict``, of the path named ``bands_for``.
    bands_for : str
    offers : tuple of dict
        Offers so far, as ``Offer.as_dict``, each with its ``answer`` as ``OfferAnswer.as_dict``.
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

    @property
    def spent_in_all(self) -> float:
        """Outlay so far, money."""
        return sum(entry.amount for entry in self.spent)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of all that stands above: equal sheets, equal fingerprints."""
        return fingerprint(to_plain(self))


def read_spent(entries: Sequence[str], currency: str = "") -> tuple[Spent, ...]:
    """Outlay so far from texts such as ``Transport=350``.

    Raises
    ------
    SheetError
        If a text is none such.
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
    spent: Sequence[Spent] = (),
    log: OfferLog | None = None,
    shop: str = "",
    tell: Telling | None = None,
) -> DealSheet:
    """Work out everything about the deal of one vehicle.

    Parameters
    ----------
    model : PriceModel
    plans : sequence of BuildPlan
        For one and the same vehicle.
    as_of : date
    price : float, optional
        Purchase price; the first plan's ``purchase.asked`` unless given.
    spent : sequence of Spent
        What went in already.
    log : OfferLog, optional
        The talks so far.
    shop : str
    tell : callable, optional
        Told how many parts of the work are done, and of how many.

    Raises
    ------
    PlanError
        The plans contradict themselves or each other.
    OfferError
        An offer is in another currency.
    """
    from valuation.paths.compare import evaluate_paths
    from valuation.sell.bands import price_bands

    building = [plan for plan in plans if plan.steps]
    parts, done = 2 + 3 * len(building), 0

    def step(count: int = 1) -> None:
        nonlocal done
        done += count
        if tell is not None:
            tell(done, parts)

    paths = evaluate_paths(model, plans, as_of, price=price)
    step()
    chosen = next((plan for plan in plans if plan.name == paths.best), plans[0])
    bands = price_bands(model, chosen, as_of, price=paths.price)
    step()
    builds = []
    for plan in building:
        builds.append(_build(model, plan, as_of, paths.price))
        step(3)
    return DealSheet(
        vehicle=described(plans[0], model),
        shop=shop,
        as_of=as_of,
        currency=model.currency,
        price=paths.price,
        spent=tuple(spent),
        paths=to_plain(paths.as_dict()),
        builds=tuple(to_plain(build) for build in builds),
        bands=to_plain(bands.as_dict()),
        bands_for=chosen.name,
        offers=() if log is None else tuple(_answers(bands, log)),
    )


def described(plan: BuildPlan, model: PriceModel) -> str:
    """The vehicle's own name, or its first attributes where the plan gives it none."""
    if plan.found.name != plan.name:
        return plan.found.name
    values = [plan.found.attributes.get(name) for name in model.schema.names[:MOST_WORDS]]
    said = [f"{value:g}" if isinstance(value, float) else str(value) for value in values if value is not None]
    return ", ".join(said) or plan.name


def _build(model: PriceModel, plan: BuildPlan, as_of: dt.date, price: float | None) -> dict[str, Any]:
    from valuation.paths.drivers import profit_drivers
    from valuation.paths.schedule import evaluate_schedule
    from valuation.paths.steps import evaluate_steps

    event = plan.event
    return {
        "plan": plan.name,
        "steps": evaluate_steps(model, plan, as_of, price=price).as_dict(),
        "schedule": evaluate_schedule(model, plan, as_of).as_dict(),
        "drivers": [driver.as_dict() for driver in profit_drivers(model, plan, as_of, price=price)],
        "event": None if event is None else {"name": event.name, "date": event.date.isoformat()},
    }


def _answers(bands: Any, log: OfferLog) -> list[dict[str, Any]]:
    from valuation.sell.offers import answer_offer

    told = []
    for number, offer in enumerate(log.offers):
        answer = answer_offer(
            bands, offer, earlier=log.offers[:number], asked=log.asked, currency=log.currency, today=offer.day
        )
        told.append(to_plain({**offer.as_dict(), "answer": answer.as_dict()}))
    return told
