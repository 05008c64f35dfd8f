"""The deal room's pieces of work: bands made again, answers written down, records put right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from api.desk import Desk
from api.jobs import Job
from api.problems import Refusal
from valuation.answers import kept
from valuation.answers.bands import bands as answer
from valuation.answers.given import PlanData
from valuation.answers.plans import PlanReader, shop_settings, whole_plans

if TYPE_CHECKING:
    from valuation.answers.build import BuildAnswer
    from valuation.answers.kept import KeptBands
    from valuation.ledger import OfferRecord, SaleRecord, TableRecord, VehicleRecord
    from valuation.paths.compare import PathsReport
    from valuation.sell.bands import PriceBands

R = TypeVar("R", "OfferRecord", "SaleRecord")


def shop_of(desk: Desk) -> Mapping[str, Any]:
    """What holds for every plan of the shop: the ledger's settings, else ``shop.toml`` beside it."""
    return shop_settings(desk.ledger, desk.folder)


def plan_reader(desk: Desk, vehicle: VehicleRecord) -> PlanReader:
    """What the plans of a vehicle are read with: the table to go on with, and the shop's settings.

    Parameters
    ----------
    desk : Desk
    vehicle : VehicleRecord
    """
    schema = desk.schema(desk.table_for(vehicle.subject, vehicle.currency))
    return PlanReader(desk.ledger, vehicle, schema, shop_of(desk))


def with_shop(desk: Desk, plans: Sequence[PlanData], subject: str = "") -> list[PlanData]:
    """Plans with what they leave to the shop, and to the record of their vehicle.

    Parameters
    ----------
    desk : Desk
    plans : sequence of PlanData
        Of one find.
    subject : str
        The find, where it is one of the ledger.
    """
    return whole_plans(plans, shop_of(desk), desk.ledger.vehicle_of(subject) if subject else None)


def keep_deal(
    desk: Desk,
    table: TableRecord,
    subject: str,
    kind: str,
    inputs: Mapping[str, Any],
    found: PathsReport | PriceBands | BuildAnswer,
) -> int:
    """Write an answer of the deal room to the ledger; bands are at hand from then on.

    Parameters
    ----------
    desk : Desk
    table : TableRecord
    subject : str
        The shop's name for the vehicle.
    kind : str
        What was asked.
    inputs : mapping
        What it was computed from.
    found : PathsReport, PriceBands or BuildAnswer
    """
    number = kept.keep_deal(desk.ledger, desk.model_number(table), subject, kind, inputs, found)
    if kind == "bands":
        desk.remember(kept.bands_key(number), lambda: found)
    return number


def bands_again(desk: Desk, job: Job, bands: KeptBands) -> PriceBands:
    """Inside a job: kept bands made again from what the ledger holds.

    Parameters
    ----------
    desk : Desk
    job : Job
        The job that the work is done in.
    bands : KeptBands
    """
    desk.fit_first(job, bands.table)
    model = desk.model_kept(bands.model)
    job.report("setting the price", 0.7)
    return desk.remember(
        bands.key,
        lambda: job.compute(answer, model, bands.plan, bands.as_of, price=bands.price, goal=bands.goal),
    )


def corrected(desk: Desk, record: R, reason: str, changes: Mapping[str, Any], *, withdraw: bool, confirmed: bool) -> R:
    """Write what was wrong in a sale or an offer, or that it never was.

    Parameters
    ----------
    desk : Desk
    record : Record
    reason : str
        Why, in a few words.
    changes : mapping
        New values by field.
    withdraw : bool
        Whether it never happened.
    confirmed : bool
        Whether an unlikely figure or day was asked about and is right.
    """
    if withdraw and changes:
        raise Refusal(
            422, "service.request", "Cannot both withdraw and change a record. Leave out the changes, or 'withdraw'."
        )
    if withdraw:
        return desk.ledger.withdraw(record, reason)
    return desk.ledger.correct(record, reason, changes, confirmed=confirmed)
