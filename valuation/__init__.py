"""What a found truck or car is worth, and what to do about it, from a shop's own table of comparable sales.

From Python::

    from valuation import PriceModel, read_comparables, read_schema, read_vehicle

    schema = read_schema("data/schema.toml")
    model = PriceModel.fit(read_comparables("data/comparables.csv", schema))
    valuation = model.value(read_vehicle("data/vehicles/haywain-pickup.toml", schema))
    print(valuation.median, valuation.interval)

The names below are the public surface; each loads on first use. Everything else may move.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "Comparables": "valuation.comparables",
    "PriceModel": "valuation.regression",
    "PriceRegressor": "valuation.regression",
    "Schema": "valuation.schema",
    "Valuation": "valuation.regression",
    "ValuationError": "valuation.errors",
    "Vehicle": "valuation.schema",
    "default_schema": "valuation.schema",
    "estimate_summary": "valuation.evidence",
    "load_model": "valuation.regression",
    "parse_vehicle": "valuation.schema",
    "read_comparables": "valuation.comparables",
    "read_schema": "valuation.schema",
    "read_vehicle": "valuation.schema",
    "save_model": "valuation.regression",
    "value_frame": "valuation.regression.batch",
    "value_partitions": "valuation.regression.batch",
}

__all__ = [
    "Comparables",
    "PriceModel",
    "PriceRegressor",
    "Schema",
    "Valuation",
    "ValuationError",
    "Vehicle",
    "default_schema",
    "estimate_summary",
    "load_model",
    "parse_vehicle",
    "read_comparables",
    "read_schema",
    "read_vehicle",
    "save_model",
    "value_frame",
    "value_partitions",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
