"""Facts of the sales as plain arrays, taken out of a table once and read many times."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from valuation.evidence.deflation import index_factors, sale_dates
from valuation.evidence.subject import SALE_DATE

if TYPE_CHECKING:
    from valuation.comparables.table import Comparables


@dataclass(frozen=True)
class SaleFacts:
    """The usable rows of a table.

    Attributes
    ----------
    rows : ndarray of int, shape (n,)
        Number of each row, as a spreadsheet shows it.
    names, outcomes, sources : list of str
        Name of each sale, how its price came about, and where it is from (its venue when no source is given).
    sold : ndarray of bool, shape (n,)
        Sold rows.
    prices : ndarray, shape (n,)
        Buyer-pays price as paid (highest bid, asking price), before any index moved it; money.
    moved : ndarray, shape (n,)
        What an index multiplied it by; 1 without one.
    days : ndarray of datetime64[D], shape (n,)
        Day of the sale; NaT where unknown.
    cells : mapping of str to list
        Raw cells of each attribute, the day of the sale among them.
    """

    rows: npt.NDArray[np.int64]
    names: list[str]
    outcomes: list[str]
    sources: list[str]
    sold: npt.NDArray[np.bool_]
    prices: npt.NDArray[np.float64]
    moved: npt.NDArray[np.float64]
    days: npt.NDArray[np.datetime64]
    cells: dict[str, list[Any]]

    @classmethod
    def of(cls, table: Comparables) -> SaleFacts:
        """Read the facts out of a table."""
        sales = table.sales
        outcomes = sales["outcome"].astype(str).tolist()
        moved = index_factors(table)
        asked = np.array([outcome == "asking" for outcome in outcomes], dtype=bool)
        prices = np.where(asked, sales["high"].to_numpy(dtype=float), sales["low"].to_numpy(dtype=float)) / moved
        days = sale_dates(table)
        cells = {str(name): table.attributes[name].tolist() for name in table.attributes.columns}
        return cls(
            rows=sales.index.to_numpy(dtype=np.int64),
            names=sales["sale"].astype(str).tolist(),
            outcomes=outcomes,
            sources=[str(source or venue) for source, venue in zip(sales["source"], sales["venue"], strict=True)],
            sold=np.array([outcome == "sold" for outcome in outcomes], dtype=bool),
            prices=prices,
            moved=moved,
            days=days.to_numpy().astype("datetime64[D]"),
            cells={**cells, SALE_DATE: days.tolist()},
        )
