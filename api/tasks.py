"""What worker processes do beyond one question: those that tell how far they are, and sheets with all behind them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from api.workers import tell

if TYPE_CHECKING:
    from valuation.answers.barn import BarnTables
    from valuation.answers.build import BuildAnswer
    from valuation.answers.given import PlanData
    from valuation.build.plan import BuildPlan
    from valuation.build.terms import Goal
    from valuation.comparables import Comparables
    from valuation.evidence.unseen import BackTest
    from valuation.regression import PriceModel
    from valuation.schema import Vehicle
    from valuation.sell.bands import PriceBands
    from valuation.sell.offer_log import OfferLog
    from valuation.sheets.on_paper import DealKept, ForBuyer
    from valuation.sheets.photos import Photo
    from valuation.sheets.records import AnySheet
    from valuation.text.locale import Locale, Paper

Drawn = tuple[dict[str, Any], bytes]
"""What a sheet is made of, as the ledger keeps it, and the finished file."""


def back_test(comparables: Comparables) -> BackTest:
    """Each sale priced from earlier ones only."""
    from valuation.answers.backtest import backtest

    return backtest(comparables, progress=lambda done, of: tell(f"{done} of {of} sales", 0.1 + 0.9 * done / of))


def whole_build(
    model: PriceModel, plans: Sequence[BuildPlan], as_of: dt.date, price: float | None, goal: Goal | None
) -> BuildAnswer:
    """All that the build page shows.

    Parameters
    ----------
    model : PriceModel
    plans : sequence of BuildPlan
        Of one find.
    as_of : date
        Day of the purchase.
    price : float or None
        Purchase price, money; the first plan's unless given.
    goal : Goal or None
        The plan's own unless given.
    """
    from valuation.answers.build import build

    def telling(what: str, done: int, parts: int) -> None:
        tell(what, 0.6 + 0.4 * done / parts)

    return build(model, plans, as_of, price=price, goal=goal, tell=telling)


def barn_tables(
    model: PriceModel, comparables: Comparables, plans: Sequence[PlanData], usual: PlanData, as_of: dt.date
) -> BarnTables:
    """The tables that are carried into the barn.

    Parameters
    ----------
    model : PriceModel
    comparables : Comparables
        The table that it is a fit of.
    plans : sequence of str or mapping
        The shop's builds.
    usual : str or mapping
        A plan without steps, whose terms hold where there is no plan.
    as_of : date
        Day of the purchase.
    """
    from valuation.answers.barn import barn

    def telling(done: int, parts: int) -> None:
        tell(f"{done} of {parts} tables", 0.3 + 0.7 * done / parts)

    return barn(model, comparables, plans, usual, as_of, tell=telling)


def buyer_sheet(
    model: PriceModel,
    fitted: PriceModel,
    vehicle: Vehicle,
    as_of: dt.date,
    coverage: float,
    told: ForBuyer,
    photos: tuple[Photo, ...],
    locale: Locale,
) -> Drawn:
    """Paper for the buyer of a vehicle: the valuation alone, nothing private.

    ``model`` is the one that the estimate was made with; ``fitted``, the table's own fit, has its sales at hand.

    Parameters
    ----------
    model : PriceModel
    fitted : PriceModel
        The same model with its sales.
    vehicle : Vehicle
    as_of : date
        Day of the estimate.
    coverage : float
        Share of such sales inside the interval.
    told : ForBuyer
        What stands on it beside the estimate, and what is made.
    photos : tuple of Photo
    locale : Locale
    """
    from valuation.answers.explain import explain
    from valuation.evidence import left_out_check
    from valuation.sheets.buyer import buyer_sheet
    from valuation.sheets.records import FOR_BUYERS

    sales = fitted.comparables
    found = explain(model, vehicle, as_of, coverage, comparables=sales)
    tried = left_out_check(fitted, coverage)
    made = buyer_sheet(
        model, found, comparables=sales, tried=tried, shop=told.shop, remark=told.remark, seller=told.seller
    )
    return _drawn(FOR_BUYERS[told.kind](made), locale, photos)


def deal_sheet(
    model: PriceModel,
    asked: DealKept,
    priced: tuple[BuildPlan, PriceBands] | None,
    log: OfferLog,
    standing: tuple[str, ...],
    shop: str,
    locale: Locale,
) -> Drawn:
    """The private sheet of everything about a find or build.

    Parameters
    ----------
    model : PriceModel
    asked : DealKept
        The comparison of paths that its page shows; what was found is worked out where it is empty.
    priced : tuple of (BuildPlan, PriceBands) or None
        The bands that its page shows.
    log : OfferLog
        The talks so far.
    standing : tuple of str
        How those with each buyer stand.
    shop : str
        Who hands it out; may be empty.
    locale : Locale
    """
    from valuation.sheets.deal_sheet import deal_sheet

    made = deal_sheet(
        model,
        asked.plans,
        asked.as_of,
        price=asked.price,
        goal=asked.goal,
        log=log,
        shop=shop,
        found=asked.found,
        priced=priced,
        standing=standing,
    )
    return _drawn(made, locale)


def field_card(model: PriceModel, plans: Sequence[BuildPlan], as_of: dt.date, shop: str, locale: Locale) -> Drawn:
    """The field card: most to pay by condition and model year.

    Parameters
    ----------
    model : PriceModel
    plans : sequence of BuildPlan
        Of one find.
    as_of : date
        Day of the card.
    shop : str
        Who hands it out; may be empty.
    locale : Locale
    """
    from valuation.sheets.field_card import field_card

    return _drawn(field_card(model, plans, as_of, shop=shop), locale)


def workbook(
    model: PriceModel, comparables: Comparables, vehicle: Vehicle, as_of: dt.date, coverage: float, paper: Paper
) -> bytes:
    """The table and the evidence of an estimate as a workbook that is safe to open.

    Parameters
    ----------
    model : PriceModel
    comparables : Comparables
    vehicle : Vehicle
    as_of : date
        Day of the estimate.
    coverage : float
        Share of such sales inside the interval.
    paper : {"a4", "us-letter"}
    """
    from valuation.answers.explain import explain
    from valuation.sheets.workbook import workbook

    return workbook(comparables, explain(model, vehicle, as_of, coverage, comparables=comparables), paper)


def _drawn(sheet: AnySheet, locale: Locale, photos: tuple[Photo, ...] = ()) -> Drawn:
    from valuation.sheets.records import FACES, draw, sheet_inputs

    tell("drawing the sheet", 0.8)
    inputs = sheet_inputs(sheet, locale, photos, in_ledger=True)
    return inputs, draw(sheet, locale, photos, FACES[inputs["kind"]][0], in_ledger=True)
