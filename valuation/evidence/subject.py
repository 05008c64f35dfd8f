"""The subject of a piece of evidence: a vehicle on a date, encoded once and shared by all that is said about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from valuation.day import day_of

if TYPE_CHECKING:
    from valuation.regression.cells import Cells
    from valuation.regression.core import Rows
    from valuation.regression.model import PriceModel
    from valuation.schema.vehicle import Vehicle

SALE_DATE = "sale_date"
"""The attribute under which a fit knows the day of the sale."""


@dataclass(frozen=True)
class Subject:
    """A vehicle as a fitted model sees it.

    Attributes
    ----------
    model : PriceModel
        The fit.
    as_of : date
        The date on which evidence holds.
    cells : mapping of str to ndarray, shape (1,) each
        The vehicle's raw cells by attribute.
    rows : Rows
        The same encoded; one row.
    """

    model: PriceModel
    as_of: dt.date
    cells: Mapping[str, Cells]
    rows: Rows

    @classmethod
    def of(cls, model: PriceModel, vehicle: Vehicle, as_of: dt.date | None = None) -> Subject:
        """Encode a vehicle through the model's frozen design, as of today unless told.

        Parameters
        ----------
        model : PriceModel
        vehicle : Vehicle
        as_of : date or None
            Day of the price; today unless given.
        """
        cells = model.plain_cells([vehicle], as_of)
        return cls(model, day_of(as_of), cells, model.core.rows(cells))

    @property
    def columns(self) -> npt.NDArray[np.float64]:
        """The vehicle's columns, shape (p,)."""
        return np.asarray(self.rows.matrix[0])

    @property
    def location(self) -> float:
        """Log of the estimate."""
        return float(self.model.core.location(self.rows)[0])

    @property
    def estimate(self) -> float:
        """Median buyer-pays price; money."""
        return float(np.exp(self.location))
