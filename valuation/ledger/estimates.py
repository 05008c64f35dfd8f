"""The one way of writing an estimate, and of making it again from what the ledger keeps, to prove that it repeats."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from importlib.metadata import version
from typing import Any

from valuation.evidence.summary import estimate
from valuation.ledger.canonical import canonical_json
from valuation.ledger.ledger import Ledger
from valuation.ledger.records import EstimateRecord
from valuation.regression.model import PriceModel
from valuation.regression.saved import model_from_text
from valuation.schema import Vehicle, parse_vehicle
from valuation.text.plain import plain


def write_estimate(
    ledger: Ledger, model: PriceModel, model_id: int, vehicle: Vehicle, as_of: dt.date | None, coverage: float
) -> tuple[EstimateRecord, dict[str, Any]]:
    """Value a vehicle and write the estimate with its adjustment grid to the ledger.

    Parameters
    ----------
    ledger : Ledger
    model : PriceModel
        The fit.
    model_id : int
        Number of the same model in the ledger (``Ledger.add_model``).
    vehicle, as_of, coverage
        As for ``estimate``.

    Returns
    -------
    record : EstimateRecord
    summary : dict
        What the JSON of an estimate shows; an open end is infinite here and ``None`` in the ledger.
    """
    summary = estimate(model, vehicle, as_of, coverage).as_dict()
    record = ledger.add_estimate(
        subject=vehicle.name,
        vehicle=vehicle.as_dict()["attributes"],
        model_id=model_id,
        summary=plain(summary),
        settings={"version": version("valuation")},
    )
    return record, summary


def repeat_estimate(ledger: Ledger) -> Callable[[EstimateRecord], str]:
    """What ``Ledger.check`` asks for: a stored summary with all that its model says made again, as canonical JSON.

    The model says everything but the adjustment grid, its reconciled figure and its notes: those rest on how each sale
    stood to the fit, which a saved model does not hold. They are taken as they stand; their fingerprint proves them.
    Each model is read once.
    """
    models: dict[int, PriceModel] = {}

    def repeat(estimate: EstimateRecord) -> str:
        if estimate.model_id not in models:
            text = ledger.model_text(estimate.model_id)
            models[estimate.model_id] = model_from_text(text, f"model {estimate.model_id} of the ledger")
        model = models[estimate.model_id]
        vehicle = parse_vehicle(json.loads(estimate.vehicle), model.schema, estimate.subject)
        again = plain(model.value(vehicle, estimate.as_of, estimate.coverage).as_dict())
        stored = ledger.estimate_summary(estimate.id)
        again["notes"] += stored.get("notes", [])[len(again["notes"]) :]
        return canonical_json({**stored, **again}, "the summary of an estimate")

    return repeat
