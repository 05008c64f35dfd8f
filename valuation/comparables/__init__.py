"""Comparables: reading a table of sales, finding its faults row by row, and putting its prices on one basis."""

from valuation.comparables.faults import FAULT_CODES
from valuation.comparables.reader import from_frame, read_comparables
from valuation.comparables.table import SALE_DATE, Comparables, Fault
from valuation.comparables.template import data_dictionary, write_template

__all__ = [
    "FAULT_CODES",
    "SALE_DATE",
    "Comparables",
    "Fault",
    "data_dictionary",
    "from_frame",
    "read_comparables",
    "write_template",
]
