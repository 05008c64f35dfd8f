"""Why an estimate is what it is."""

from __future__ import annotations

from datetime import date

from valuation.comparables.table import Comparables
from valuation.evidence.summary import Evidence, evidence
from valuation.regression.model import PriceModel
from valuation.schema.vehicle import Vehicle


def explain(
    model: PriceModel,
    vehicle: Vehicle,
    as_of: date | None = None,
    coverage: float = 0.8,
    *,
    comparables: Comparables | None = None,
) -> Evidence:
    """An estimate with its reasons: effects, single sales, the drift of prices, and which sale would help most.

    Parameters
    ----------
    model, vehicle, as_of, coverage, comparables
        As for ``estimate``; as of today unless told.

    Raises
    ------
    EvidenceError
        If the coverage does not lie strictly between 0 and 1.

    Examples
    --------
    >>> import valuation as v
    >>> schema = v.read_schema("data/schema.toml")
    >>> model = v.PriceModel.fit(v.read_comparables("data/comparables.csv", schema))
    >>> reasons = v.explain(model, v.read_vehicle("data/vehicles/haywain-pickup.toml", schema), model.last_sale)
    >>> reasons.influence[0].sale in v.frame(model.comparables)["sale"].tolist()
    True
    """
    return evidence(model, vehicle, as_of, coverage, comparables=comparables)
