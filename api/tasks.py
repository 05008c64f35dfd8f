"""What worker processes do: the library's long questions, from values to values. Nothing here touches the ledger."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

from api.workers import Report

if TYPE_CHECKING:
    from valuation.answers.build import BuildAnswer
    from valuation.answers.explain import Evidence
    from valuation.build.plan import BuildPlan
    from valuation.build.terms import Goal
    from valuation.comparables import Comparables
    from valuation.evidence.backtest import BackTest
    from valuation.paths.compare import PathsReport
    from valuation.paths.steps import StepsReport
    from valuation.regression import PriceModel
    from valuation.schema import Vehicle
    from valuation.sell.bands import PriceBands
    from valuation.sell.offer_log import OfferLog
    from valuation.sheets.records import AnySheet
    from valuation.text.locale import Locale

Drawn = tuple[dict[str, Any], bytes]
"""What a sheet is made of, as the ledger keeps it, and the finished PDF."""


def fit(report: Report, comparables: Comparables) -> PriceModel:
    """The model of a table, with its sales: the adjustment grid and the influence of each sale need them."""
    from valuation.regression import PriceModel

    return PriceModel.fit(comparables)


def back_test(report: Report, comparables: Comparables) -> BackTest:
    """Each sale priced from earlier ones only."""
    from valuation.answers.backtest import backtest

    def progress(done: int, of: int) -> None:
        report(f"{done} of {of} sales", 0.1 + 0.9 * done / of)

    return backtest(comparables, progress=progress)


def explain(
    report: Report,
    model: PriceModel,
    vehicle: Vehicle,
    as_of: dt.date,
    coverage: float,
    comparables: Comparables | None,
) -> Evidence:
    """Everything behind an estimate; ``comparables`` for a model that holds no sales."""
    from valuation.answers.explain import explain

    return explain(model, vehicle, as_of, coverage, comparables=comparables)


def paths(
    report: Report,
    model: PriceModel,
    plans: Sequence[BuildPlan],
    as_of: dt.date,
    price: float | None,
    goal: Goal | None,
) -> PathsReport:
    """Paths side by side."""
    from valuation.answers.paths import paths

    return paths(model, plans, as_of, price=price, goal=goal)


def steps(
    report: Report,
    model: PriceModel,
    plan: BuildPlan,
    as_of: dt.date,
    price: float | None,
    budget: float | None,
    finish_by: dt.date | None,
) -> StepsReport:
    """Worth of each step."""
    from valuation.answers.steps import steps

    return steps(model, plan, as_of, price=price, budget=budget, finish_by=finish_by)


def bands(
    report: Report, model: PriceModel, plan: BuildPlan, as_of: dt.date, price: float | None, goal: Goal | None
) -> PriceBands:
    """Floor, target and ask."""
    from valuation.answers.bands import bands

    return bands(model, plan, as_of, price=price, goal=goal)


def whole_build(
    report: Report,
    model: PriceModel,
    plans: Sequence[BuildPlan],
    as_of: dt.date,
    price: float | None,
    goal: Goal | None,
) -> BuildAnswer:
    """All that the build page shows."""
    from valuation.answers.build import build

    def tell(what: str, done: int, parts: int) -> None:
        report(what, 0.6 + 0.4 * done / parts)

    return build(model, plans, as_of, price=price, goal=goal, tell=tell)


def buyer_sheet(
    report: Report,
    model: PriceModel,
    fitted: PriceModel,
    vehicle: Vehicle,
    as_of: dt.date,
    coverage: float,
    shop: str,
    remark: str,
    locale: Locale,
) -> Drawn:
    """The sheet for the buyer of a vehicle: the valuation alone, nothing private.

    ``model`` is the one that the estimate was made with; ``fitted``, the table's own fit, has its sales at hand.
    """
    from valuation.answers.explain import explain
    from valuation.evidence import left_out_check
    from valuation.sheets.buyer import buyer_sheet

    sales = fitted.comparables
    found = explain(model, vehicle, as_of, coverage, comparables=sales)
    tried = left_out_check(fitted, coverage)
    made = buyer_sheet(model, found, comparables=sales, tried=tried, shop=shop, remark=remark)
    return _drawn(report, made, locale)


def deal_sheet(
    report: Report,
    model: PriceModel,
    plans: Sequence[BuildPlan],
    as_of: dt.date,
    log: OfferLog | None,
    shop: str,
    locale: Locale,
) -> Drawn:
    """The private sheet of everything about a find or build."""
    from valuation.sheets.deal_sheet import deal_sheet

    return _drawn(report, deal_sheet(model, plans, as_of, log=log, shop=shop), locale)


def field_card(
    report: Report, model: PriceModel, plans: Sequence[BuildPlan], as_of: dt.date, shop: str, locale: Locale
) -> Drawn:
    """The field card: most to pay by condition and model year."""
    from valuation.sheets.field_card import field_card

    return _drawn(report, field_card(model, plans, as_of, shop=shop), locale)


def draw_again(report: Report, inputs: Mapping[str, Any], face: Literal["pdf", "html"]) -> bytes:
    """The finished file of a sheet from what the ledger keeps; the PDF is proved against its fingerprint."""
    from valuation.sheets.records import make_again

    return make_again(inputs, face)


def workbook(
    report: Report,
    model: PriceModel,
    comparables: Comparables,
    vehicle: Vehicle,
    as_of: dt.date,
    coverage: float,
) -> bytes:
    """The table and the evidence of an estimate as a workbook that is safe to open."""
    from valuation.answers.explain import explain
    from valuation.sheets.workbook import workbook

    return workbook(comparables, explain(model, vehicle, as_of, coverage, comparables=comparables))


def _drawn(report: Report, sheet: AnySheet, locale: Locale) -> Drawn:
    from valuation.sheets.records import draw, sheet_inputs

    report("drawing the sheet", 0.8)
    return sheet_inputs(sheet, locale), draw(sheet, locale)
