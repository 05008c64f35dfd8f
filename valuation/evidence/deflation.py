"""Prices moved to one date by an outside index, in place of the drift that the table itself shows."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from valuation.errors import EvidenceError, shortlist
from valuation.notes import Note

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables
    from valuation.evidence.price_index import PriceIndex

SOLD_ON = "sold_on"
INDEX_FACTOR = "index_factor"
MOVED = "prices_moved"

_MONEY = ("price", "premium", "fees", "low", "high")


def deflate(comparables: Comparables, index: PriceIndex, as_of: dt.date) -> Comparables:
    """Comparables with every price moved to ``as_of`` by an index, ready to fit.

    Parameters
    ----------
    comparables : Comparables
        The table; each usable row needs a date.
    index : PriceIndex
        What prices of one month are worth at the level of another; a month that it lacks is read between neighbours.
    as_of : date
        The date to whose level prices are moved.

    Returns
    -------
    Comparables
        A new table: money multiplied by the index factor of each row's month, every sale dated ``as_of`` so that a fit
        finds no drift of its own, the day of the sale kept in ``sales["sold_on"]`` and the factor in
        ``sales["index_factor"]``. Its notes say so and carry the index's own.

    Raises
    ------
    EvidenceError
        If a row has no date, or the prices were moved before.
    """
    from valuation.comparables.fingerprint import table_fingerprint

    sales = comparables.sales
    if INDEX_FACTOR in sales:
        raise EvidenceError(
            f"Cannot move prices by the index '{index.name}': they were moved by an index before. A table with the "
            "prices as paid is needed. Start from the table as it was read."
        )
    undated = sales.loc[sales["date"].isna(), "sale"].astype(str).tolist()
    if undated:
        raise EvidenceError(
            f"Cannot move prices by the index '{index.name}': {shortlist(undated)} without a date. Every sale needs "
            "one. Fill it in or leave these rows out."
        )
    found = index.factor(sales["date"].to_numpy(), as_of)
    moved = sales.copy()
    for name in _MONEY:
        moved[name] = sales[name] * found.factors
    moved[SOLD_ON] = sales["date"]
    moved[INDEX_FACTOR] = found.factors
    moved["date"] = np.full(len(sales), np.datetime64(as_of, "ns"))
    whence = f" ({index.source})" if index.source else ""
    note = Note(
        MOVED,
        f"Every price was moved to {as_of:%Y-%m} by the index '{index.name}'{whence}, so the table's own drift is not "
        "used: if the market for these vehicles moved otherwise than the index, the estimate is off by as much.",
    )
    return replace(
        comparables,
        sales=moved,
        notes=(*comparables.notes, note, *found.notes),
        fingerprint=table_fingerprint(comparables.schema, comparables.attributes, moved, comparables.currency),
    )


def sale_dates(comparables: Comparables) -> pd.Series[pd.Timestamp]:
    """Day of each usable sale, also where prices were moved by an index; NaT where unknown."""
    return comparables.sales.get(SOLD_ON, comparables.sales["date"])


def index_factors(comparables: Comparables) -> npt.NDArray[np.float64]:
    """What an index multiplied each usable price by; ones where none was used, shape (n,)."""
    if INDEX_FACTOR not in comparables.sales:
        return np.ones(comparables.n_usable)
    return comparables.sales[INDEX_FACTOR].to_numpy(dtype=float)


def index_notes(comparables: Comparables | None) -> tuple[Note, ...]:
    """The notes of a table whose prices were moved by an index; none otherwise."""
    if comparables is None or INDEX_FACTOR not in comparables.sales:
        return ()
    start = next(place for place, note in enumerate(comparables.notes) if note.code == MOVED)
    return comparables.notes[start:]
