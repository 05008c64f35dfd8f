"""Comparables: reading a table of sales, finding its faults row by row, and putting its prices on one basis."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from valuation.comparables.faults import FAULT_CODES
    from valuation.comparables.read_as import ReadAs
    from valuation.comparables.reader import from_frame, read_comparables
    from valuation.comparables.table import SALE_DATE, Comparables, Fault
    from valuation.comparables.template import data_dictionary, write_template

_HOMES = {
    "FAULT_CODES": "faults",
    "SALE_DATE": "table",
    "Comparables": "table",
    "Fault": "table",
    "ReadAs": "read_as",
    "data_dictionary": "template",
    "from_frame": "reader",
    "read_comparables": "reader",
    "write_template": "template",
}

__all__ = [
    "FAULT_CODES",
    "SALE_DATE",
    "Comparables",
    "Fault",
    "ReadAs",
    "data_dictionary",
    "from_frame",
    "read_comparables",
    "write_template",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
