"""What of a table's sales may be shown to a buyer: which are left out, and whose source is printed.

The table is the shop's. A buyer is shown of a sale when and where it was made and what was paid; that is what can be
looked up. A source is the shop's own wording, which may hold names, telephone numbers and prices, so that it stays
private until the schema clears it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from valuation.text.spelling import header_key, level_key

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.schema.schema import Schema

PRINT_ALL = "*"
"""As an entry of ``print_sources``: every source is cleared."""


def rows_of_vehicle(table: Comparables, number: str) -> frozenset[int]:
    """Numbers of the rows of one vehicle, by letters and figures alone: ``PH-290`` is ``ph 290``.

    Parameters
    ----------
    table : Comparables
    number : str
        What identifies the vehicle; no row is its own where it is empty.
    """
    wanted = header_key(number)
    if not wanted or "vehicle" not in table.sales:
        return frozenset()
    return _rows(table, table.sales["vehicle"].map(header_key) == wanted)


def own_affairs(table: Comparables) -> frozenset[int]:
    """Numbers of the rows that the schema keeps from buyers, such as the shop's own purchases."""
    words = [level_key(word) for word in table.schema.leave_out]
    texts = (table.sales["sale"] + "\n" + table.sales["source"] + "\n" + table.sales["venue"]).map(level_key)
    return _rows(table, texts.map(lambda text: any(word in text for word in words)))


def _rows(table: Comparables, chosen: pd.Series[Any]) -> frozenset[int]:
    return frozenset(int(row) for row in table.sales.index[chosen.to_numpy(dtype=bool)])


def printed_source(source: str, venue: str, schema: Schema) -> str:
    """Where a sale is from, as a buyer may read it: the source where the schema clears it, else the venue.

    Parameters
    ----------
    source, venue : str
        As the table has them; either may be empty.
    schema : Schema
    """
    return source if is_cleared(source, schema) else venue


def is_cleared(source: str, schema: Schema) -> bool:
    """Whether a buyer may read the source itself, by which he can look the sale up.

    Parameters
    ----------
    source : str
        As the table has it; may be empty.
    schema : Schema
    """
    key = level_key(source)
    return bool(source) and any(word == PRINT_ALL or key.startswith(level_key(word)) for word in schema.print_sources)
