"""Evidence: why a number is what it is, and how far past numbers can be trusted.

A function that is named like its module is imported from there: ``from valuation.evidence.effects import effects``, and
likewise ``calibration`` and ``ratio_study``.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "BackTest": "unseen",
    "Calibration": "calibration",
    "Diagnostics": "diagnostics",
    "Effect": "reasons",
    "Gap": "reasons",
    "Grid": "grid_rows",
    "GridLine": "grid_rows",
    "GridRow": "grid_rows",
    "PriceIndex": "price_index",
    "PriceTrend": "reasons",
    "RatioStudy": "ratio_study",
    "SaleInfluence": "reasons",
    "UnseenSale": "unseen",
    "adjustment_grid": "grid",
    "back_test": "backtest",
    "consumer_price_index": "price_index",
    "deflate": "deflation",
    "diagnose": "diagnostics",
    "diagnose_model": "model_diagnostics",
    "left_out_check": "backtest",
    "read_price_index": "price_index",
}

__all__ = sorted(_HOMES)


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
