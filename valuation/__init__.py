"""What a found truck or car is worth, and what to do about it, from a shop's own table of comparable sales.

From Python (docs/python.md goes on from here)::

    import valuation as v

    schema = v.read_schema("data/schema.toml")
    model = v.PriceModel.fit(v.read_comparables("data/comparables.csv", schema))
    print(v.estimate(model, v.read_vehicle("data/vehicles/haywain-pickup.toml", schema)))

The names below are the public surface; each loads on first use. Everything else may move. Where a day is not given,
today is meant, as on the command line and on the desk.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from valuation.answers.backtest import backtest
    from valuation.answers.bands import bands
    from valuation.answers.check import check
    from valuation.answers.draft import Draft, draft
    from valuation.answers.estimate import Estimate, estimate
    from valuation.answers.explain import Evidence, explain
    from valuation.answers.field import field
    from valuation.answers.frame import frame
    from valuation.answers.mend import mend
    from valuation.answers.offer import offer
    from valuation.answers.paths import paths as compare_paths
    from valuation.answers.steps import steps
    from valuation.build.plan import BuildPlan
    from valuation.build.plan_file import read_plan
    from valuation.build.terms import Goal
    from valuation.comparables.reader import from_frame, read_comparables
    from valuation.comparables.table import Comparables
    from valuation.errors import ValuationError
    from valuation.evidence.deflation import deflate
    from valuation.evidence.grid import adjustment_grid
    from valuation.evidence.price_index import consumer_price_index, read_price_index
    from valuation.evidence.unseen import BackTest
    from valuation.regression.batch import value_frame, value_partitions
    from valuation.regression.fleet import value_file, value_folder
    from valuation.regression.model import PriceModel, Valuation
    from valuation.regression.regressor import PriceRegressor
    from valuation.regression.saved import load_model, save_model
    from valuation.schema.reader import default_schema, read_schema
    from valuation.schema.schema import Schema
    from valuation.schema.vehicle import Vehicle, parse_vehicle, read_vehicle
    from valuation.sell.offer_log import OfferLog, read_offer_log
    from valuation.sell.offers import Offer
    from valuation.sheets.buyer import buyer_sheet
    from valuation.sheets.deal_sheet import deal_sheet
    from valuation.sheets.field_card import field_card
    from valuation.sheets.notebook import chart
    from valuation.sheets.records import draw
    from valuation.sheets.workbook import paths_workbook, workbook
    from valuation.text.locale import Locale

_HOMES = {
    "BackTest": "valuation.evidence.unseen",
    "BuildPlan": "valuation.build.plan",
    "Comparables": "valuation.comparables.table",
    "Draft": "valuation.answers.draft",
    "Estimate": "valuation.answers.estimate",
    "Evidence": "valuation.answers.explain",
    "Goal": "valuation.build.terms",
    "Locale": "valuation.text.locale",
    "Offer": "valuation.sell.offers",
    "OfferLog": "valuation.sell.offer_log",
    "PriceModel": "valuation.regression.model",
    "PriceRegressor": "valuation.regression.regressor",
    "Schema": "valuation.schema.schema",
    "Valuation": "valuation.regression.model",
    "ValuationError": "valuation.errors",
    "Vehicle": "valuation.schema.vehicle",
    "adjustment_grid": "valuation.evidence.grid",
    "backtest": "valuation.answers.backtest",
    "bands": "valuation.answers.bands",
    "buyer_sheet": "valuation.sheets.buyer",
    "chart": "valuation.sheets.notebook",
    "check": "valuation.answers.check",
    "compare_paths": "valuation.answers.paths:paths",
    "consumer_price_index": "valuation.evidence.price_index",
    "deal_sheet": "valuation.sheets.deal_sheet",
    "default_schema": "valuation.schema.reader",
    "deflate": "valuation.evidence.deflation",
    "draft": "valuation.answers.draft",
    "draw": "valuation.sheets.records",
    "estimate": "valuation.answers.estimate",
    "explain": "valuation.answers.explain",
    "field": "valuation.answers.field",
    "field_card": "valuation.sheets.field_card",
    "frame": "valuation.answers.frame",
    "from_frame": "valuation.comparables.reader",
    "load_model": "valuation.regression.saved",
    "mend": "valuation.answers.mend",
    "offer": "valuation.answers.offer",
    "parse_vehicle": "valuation.schema.vehicle",
    "paths_workbook": "valuation.sheets.workbook",
    "read_comparables": "valuation.comparables.reader",
    "read_offer_log": "valuation.sell.offer_log",
    "read_plan": "valuation.build.plan_file",
    "read_price_index": "valuation.evidence.price_index",
    "read_schema": "valuation.schema.reader",
    "read_vehicle": "valuation.schema.vehicle",
    "save_model": "valuation.regression.saved",
    "steps": "valuation.answers.steps",
    "value_file": "valuation.regression.fleet",
    "value_folder": "valuation.regression.fleet",
    "value_frame": "valuation.regression.batch",
    "value_partitions": "valuation.regression.batch",
    "workbook": "valuation.sheets.workbook",
}
"""Where each public name lives: a module, with ``:`` and the name there where that is another one."""

__all__ = [
    "BackTest",
    "BuildPlan",
    "Comparables",
    "Draft",
    "Estimate",
    "Evidence",
    "Goal",
    "Locale",
    "Offer",
    "OfferLog",
    "PriceModel",
    "PriceRegressor",
    "Schema",
    "Valuation",
    "ValuationError",
    "Vehicle",
    "adjustment_grid",
    "backtest",
    "bands",
    "buyer_sheet",
    "chart",
    "check",
    "compare_paths",
    "consumer_price_index",
    "deal_sheet",
    "default_schema",
    "deflate",
    "draft",
    "draw",
    "estimate",
    "explain",
    "field",
    "field_card",
    "frame",
    "from_frame",
    "load_model",
    "mend",
    "offer",
    "parse_vehicle",
    "paths_workbook",
    "read_comparables",
    "read_offer_log",
    "read_plan",
    "read_price_index",
    "read_schema",
    "read_vehicle",
    "save_model",
    "steps",
    "value_file",
    "value_folder",
    "value_frame",
    "value_partitions",
    "workbook",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, _, inner = _HOMES[name].partition(":")
    return getattr(import_module(module), inner or name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
