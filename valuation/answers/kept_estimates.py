"""The one way of writing an estimate, and of making it again from what the ledger keeps, to prove that it repeats."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass, fields
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

from valuation.answers.estimate import Estimate, estimate
from valuation.answers.vehicle_file import vehicle_kept
from valuation.ledger.canonical import canonical_json
from valuation.regression.price_curve import curve_at
from valuation.schema import parse_vehicle
from valuation.text.plain import plain

if TYPE_CHECKING:
    from valuation.ledger.ledger import Ledger
    from valuation.ledger.records import EstimateRecord
    from valuation.regression.model import PriceModel
    from valuation.schema import Vehicle


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class KeptEstimate(Estimate):
    """An estimate with its place in the ledger.

    Attributes
    ----------
    id : int or None
        Number in the ledger; None when it was not written.
    table : int
        Number of the table version that it rests on.
    """

    id: int | None
    table: int

    @classmethod
    def of(cls, found: Estimate, id: int | None, table: int) -> KeptEstimate:
        """An estimate with its place.

        Parameters
        ----------
        found : Estimate
        id : int or None
        table : int
        """
        return cls(id=id, table=table, **{field.name: getattr(found, field.name) for field in fields(Estimate)})


def write_estimate(
    ledger: Ledger,
    model: PriceModel,
    model_id: int,
    vehicle: Vehicle,
    as_of: dt.date | None,
    coverage: float,
    **told: Any,
) -> tuple[EstimateRecord, Estimate]:
    """Value a vehicle and write the estimate with its adjustment grid to the ledger, and a new vehicle before it.

    Parameters
    ----------
    ledger : Ledger
    model : PriceModel
        The fit.
    model_id : int
        Number of the same model in the ledger (``Ledger.add_model``).
    vehicle, as_of, coverage
        As for ``estimate``.
    **told : Any
        What else is known of the vehicle where it is new, as for ``vehicle_kept``.

    Returns
    -------
    record : EstimateRecord
    found : Estimate
        The ledger keeps it as its JSON.
    """
    found = estimate(model, vehicle, as_of, coverage)
    attributes = vehicle.as_dict()["attributes"]
    vehicle_kept(ledger, vehicle.name, number=vehicle.number, found=attributes, currency=found.currency, **told)
    record = ledger.add_estimate(
        subject=vehicle.name,
        vehicle=vehicle.kept(),
        model_id=model_id,
        summary=plain(found),
        settings={"version": version("valuation")},
    )
    return record, found


def repeat_estimate(ledger: Ledger) -> Callable[[EstimateRecord], str]:
    """What ``Ledger.check`` asks for: a stored summary with all that its model says made again, as canonical JSON.

    The model says everything but the adjustment grid, its reconciled figure and its notes: those rest on how each sale
    stood to the fit, which a saved model does not hold. They are taken as they stand; their fingerprint proves them.
    What summaries did not hold when this one was kept is not asked of it. Each model is read once.
    """
    from valuation.regression.saved import model_from_text

    models: dict[int, PriceModel] = {}

    def repeat(record: EstimateRecord) -> str:
        if record.model_id not in models:
            text = ledger.model_text(record.model_id)
            models[record.model_id] = model_from_text(text, f"model {record.model_id} of the ledger")
        model = models[record.model_id]
        vehicle = parse_vehicle(json.loads(record.vehicle), model.schema, record.subject)
        found, stored = model.value(vehicle, record.as_of, record.coverage), ledger.estimate_summary(record.id)
        again = {name: plain(getattr(found, name)) for name in stored if hasattr(found, name)}
        again["vehicle"] = {name: again["vehicle"][name] for name in stored["vehicle"]}  # old ones lack its number
        if "notes" in again:
            again["notes"] += stored["notes"][len(again["notes"]) :]
        if "curve" in stored:
            amounts = [point["amount"] for point in stored["curve"]]  # where an older program put them, too
            again["curve"] = plain(curve_at(found.distribution, amounts))
        return canonical_json({**stored, **again}, "the summary of an estimate")

    return repeat
