"""The barn's pieces of work: its tables made and remembered, and finds that come from a telephone."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING

from api import tasks
from api.dealing import with_shop
from api.desk import Desk
from api.jobs import Job
from valuation.answers.barn_finds import Find, FindKept, keep_find
from valuation.answers.given import PlanData
from valuation.answers.plans import kept_plans
from valuation.build.shop_file import SHOP_FILE
from valuation.day import day_of
from valuation.errors import SheetError
from valuation.sheets.kept_photos import keep_photos

if TYPE_CHECKING:
    from valuation.answers.barn import BarnTables
    from valuation.ledger import TableRecord

AS_FOUND = 'name = "as found"\n[vehicle]\n'
"""A plan without steps: whose terms are the shop's own."""
COVERAGE = 0.8
"""Of the estimate that a find gets: what every estimate has unless told."""


def state(desk: Desk, table: TableRecord) -> Hashable:
    """What the tables follow from, by the numbers of its records: where any of it changes they are made anew.

    Parameters
    ----------
    desk : Desk
    table : TableRecord
        The table of sales.
    """
    ledger, shop_file = desk.ledger, desk.folder / SHOP_FILE
    plans = ledger.plans()
    built = {plan.subject for plan in plans}
    shop = ledger.shop()
    return (
        table.id,
        day_of(),
        tuple(plan.id for plan in plans),
        tuple(one.id for one in ledger.vehicles() if one.subject in built),
        tuple(one.id for one in ledger.shown("plan").values()),
        shop.id if shop else shop_file.read_bytes() if shop_file.is_file() else None,
    )


def at_hand(desk: Desk, table: TableRecord) -> BarnTables | None:
    """The tables to carry into the barn, if they were made already.

    Parameters
    ----------
    desk : Desk
    table : TableRecord
        The table of sales.
    """
    found: BarnTables | None = desk.remembered(("barn", state(desk, table)))
    return found


def making(desk: Desk, table: TableRecord) -> Job:
    """The work that makes them, once for all who wait for it.

    Parameters
    ----------
    desk : Desk
    table : TableRecord
        The table of sales.
    """

    def make(job: Job) -> str:
        key = "barn", state(desk, table)
        plans, usual = _usual_builds(desk), with_shop(desk, [AS_FOUND])[0]
        model, sales = desk.fit_first(job, table), desk.comparables(table)
        job.report("making the tables", 0.3)
        desk.remember(key, lambda: job.compute(tasks.barn_tables, model, sales, plans, usual, day_of()))
        return "/barn"

    return desk.join(f"Making the barn's tables from {table.name}", make, "/barn")


def _usual_builds(desk: Desk) -> list[PlanData]:
    """The plans that stand, as they were last written, with what the shop and their vehicle's record tell."""
    return [
        plan
        for subject in dict.fromkeys(plan.subject for plan in desk.ledger.plans())
        for plan in with_shop(desk, [one.text for one in kept_plans(desk.ledger, subject).standing], subject)
    ]


def keep(desk: Desk, job: Job, table: TableRecord, find: Find, photo: bytes) -> FindKept:
    """Inside a job: a find as a vehicle of the ledger, with its estimate and its photograph.

    Parameters
    ----------
    desk : Desk
    job : Job
    table : TableRecord
        Whose model values it.
    find : Find
    photo : bytes
        A picture as the telephone took it; empty without one.
    """
    desk.fit_first(job, table)
    kept = keep_find(desk, table, find, lambda vehicle: desk.keep_estimate(table, vehicle, day_of(), COVERAGE))
    why_not = _keep_photo(desk, find.subject, photo) if photo else ""
    return FindKept(kept.vehicle, kept.subject, kept.again, " ".join(filter(None, (kept.without, why_not))))


def _keep_photo(desk: Desk, subject: str, photo: bytes) -> str:
    """Keep a photograph; why not, where it cannot be used."""
    try:
        keep_photos(desk.ledger, subject, [("of the find", photo)])
    except SheetError as error:
        return str(error)
    return ""
