"""What a vehicle is worth."""

from __future__ import annotations

from datetime import date

from valuation.comparables.table import Comparables
from valuation.evidence import summary
from valuation.evidence.summary import Estimate
from valuation.regression.model import PriceModel
from valuation.schema.vehicle import Vehicle


def estimate(
    model: PriceModel,
    vehicle: Vehicle,
    as_of: date | None = None,
    coverage: float = 0.8,
    *,
    comparables: Comparables | None = None,
) -> Estimate:
    """The price of one vehicle, its range, its factors and the nearest sales adjusted to it; as of today unless told.

    Parameters
    ----------
    model : PriceModel
        The fit.
    vehicle : Vehicle
        The subject.
    as_of : date, optional
        The day on which the estimate holds.
    coverage : float
        Of the intervals; strictly between 0 and 1.
    comparables : Comparables, optional
        The table, for a model that was loaded without its sales.

    Raises
    ------
    EvidenceError, RegressionError
        If the coverage does not lie strictly between 0 and 1.

    Examples
    --------
    >>> import datetime as dt
    >>> import valuation as v
    >>> schema = v.read_schema("data/schema.toml")
    >>> model = v.PriceModel.fit(v.read_comparables("data/comparables.csv", schema))
    >>> vehicle = v.read_vehicle("data/vehicles/haywain-pickup.toml", schema)
    >>> found = v.estimate(model, vehicle, dt.date(2026, 7, 1))
    >>> found.valuation.interval.low < found.valuation.median < found.valuation.interval.high
    True
    """
    return summary.estimate(model, vehicle, as_of, coverage, comparables=comparables)
