"""The whole deal of one vehicle, for the shop alone: what to pay, what to build, what to ask, what was offered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from valuation.answers.bands import bands
from valuation.answers.offer import offer
from valuation.answers.paths import paths
from valuation.answers.plan import PlanAnswer, Telling, plan_answers
from valuation.build.plan import BuildPlan
from valuation.paths.compare import PathsReport
from valuation.paths.pricer import Pricer
from valuation.sell.bands import PriceBands
from valuation.sell.offer_log import OfferLog
from valuation.sell.offers import OfferAnswer


@dataclass(frozen=True, slots=True)
class DealAnswer:
    """Everything about the deal of one vehicle.

    Attributes
    ----------
    paths : PathsReport
    plans : dict of str to PlanAnswer
        By the name of each plan with steps.
    bands : PriceBands
        Of the path named ``bands_for``: the best, or the first plan's where none meets the goal.
    bands_for : str
    offers : tuple of OfferAnswer
        One for each offer so far, oldest first.
    """

    paths: PathsReport
    plans: dict[str, PlanAnswer]
    bands: PriceBands
    bands_for: str
    offers: tuple[OfferAnswer, ...]


def deal(
    model: Pricer,
    plans: Sequence[BuildPlan],
    as_of: date | None = None,
    *,
    price: float | None = None,
    log: OfferLog | None = None,
    tell: Telling | None = None,
) -> DealAnswer:
    """Everything about the deal of one vehicle, as of today unless told.

    Parameters
    ----------
    model, plans, as_of, price
        As for ``evaluate_paths``.
    log : OfferLog, optional
        The talks so far.
    tell : callable, optional
        Told how far the work is.

    Raises
    ------
    PlanError
        The plans contradict themselves or each other.
    OfferError
        An offer is in another currency.
    """
    parts = 2 + sum(1 for plan in plans if plan.steps)
    if tell is not None:
        tell("comparing the paths", 0, parts)
    report = paths(model, plans, as_of, price=price)
    chosen = next((plan for plan in plans if plan.name == report.best), plans[0])
    if tell is not None:
        tell("setting the price", 1, parts)
    priced = bands(model, chosen, report.as_of, price=report.price)
    answers = plan_answers(model, plans, report.as_of, price=report.price, tell=tell, before=2)
    talks = [] if log is None else [replace(log, offers=log.offers[: i + 1]) for i in range(len(log.offers))]
    return DealAnswer(report, answers, priced, chosen.name, tuple(offer(priced, chosen.sale, each) for each in talks))
