"""The work on a vehicle, worked out once for the page and its JSON twin."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING, cast

from api.desk import Desk
from api.jobs import Job
from valuation.answers.work import Work, work
from valuation.day import day_of
from valuation.ledger.canonical import canonical_json

if TYPE_CHECKING:
    from valuation.answers.plans import PlanReader
    from valuation.ledger import PlanRecord


def work_at_hand(desk: Desk, reader: PlanReader, record: PlanRecord) -> Work | None:
    """The work by a plan, where it was worked out already.

    Parameters
    ----------
    desk : Desk
    reader : PlanReader
    record : PlanRecord
        The plan that is followed.
    """
    return cast("Work | None", desk.remembered(_key(desk, reader, record)))


def look_at_work(desk: Desk, reader: PlanReader, record: PlanRecord, then: str = "") -> Job:
    """Work out where the work by a plan stands; refused where the vehicle is not bought.

    Parameters
    ----------
    desk : Desk
    reader : PlanReader
    record : PlanRecord
        The plan that is followed.
    then : str
        Address of the page that follows.
    """
    table = desk.table_for(reader.vehicle.subject, reader.vehicle.currency)
    plan, day, key = reader.read(record.text), day_of(), _key(desk, reader, record)

    def look(job: Job) -> str:
        model = desk.fit_first(job, table)
        job.report("looking at the choice today", 0.6)
        desk.remember(key, lambda: job.compute(work, model, plan, day))
        return then

    return desk.join(f"Looking at the work on {reader.vehicle.subject}, {record.name}", look, then)


def _key(desk: Desk, reader: PlanReader, record: PlanRecord) -> Hashable:
    """Under which the work is remembered: all that it rests on."""
    table = desk.table_for(reader.vehicle.subject, reader.vehicle.currency)
    return "work", record.id, reader.vehicle.id, table.id, day_of(), canonical_json(reader.shop)
