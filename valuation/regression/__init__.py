"""Regression: from sales to a predictive distribution of a price, with everything in closed form that can be."""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "PriceRegressor": "regressor",
    "PriceModel": "model",
    "Valuation": "model",
    "Factor": "factors",
    "PriceDistribution": "distribution",
    "ScatterMix": "distribution",
    "JointPrices": "joint",
    "load_model": "saved",
    "save_model": "saved",
}

__all__ = [
    "Factor",
    "JointPrices",
    "PriceDistribution",
    "PriceModel",
    "PriceRegressor",
    "ScatterMix",
    "Valuation",
    "load_model",
    "save_model",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
