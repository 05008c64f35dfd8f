"""Making a stored estimate again from the model that the ledger keeps, to prove that it repeats to the bit."""

from __future__ import annotations

import json
from collections.abc import Callable

from valuation.ledger.canonical import canonical_json
from valuation.ledger.ledger import Ledger
from valuation.ledger.records import EstimateRecord
from valuation.regression.model import PriceModel
from valuation.regression.saved import model_from_text
from valuation.schema import parse_vehicle


def repeat_estimate(ledger: Ledger) -> Callable[[EstimateRecord], str]:
    """What ``Ledger.check`` asks for: an estimate's summary (``Valuation.as_dict``) made again, as canonical JSON.

    Each model is read once. The summaries that are stored must be ``Valuation.as_dict()`` of a valuation by the stored
    model, without figures that depend on the moment.
    """
    models: dict[int, PriceModel] = {}

    def repeat(estimate: EstimateRecord) -> str:
        if estimate.model_id not in models:
            text = ledger.model_text(estimate.model_id)
            models[estimate.model_id] = model_from_text(text, f"model {estimate.model_id} of the ledger")
        model = models[estimate.model_id]
        vehicle = parse_vehicle(json.loads(estimate.vehicle), model.schema, estimate.subject)
        valuation = model.value(vehicle, estimate.as_of, estimate.coverage)
        return canonical_json(valuation.as_dict(), "the summary of an estimate")

    return repeat
