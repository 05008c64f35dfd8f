"""A vehicle in work: which plan is followed, how it stands, what went in so far and what is still to go in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from valuation.answers.vehicle_file import VehicleFile, found_as_told, vehicle_file
from valuation.build.shop_file import SHOP_FILE
from valuation.day import day_of
from valuation.errors import VehicleError
from valuation.schema import parse_vehicle

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.build.plan import BuildPlan
    from valuation.build.under_way import UnderWay
    from valuation.schema import Schema, Vehicle


@dataclass(frozen=True)
class WorkSoFar:
    """Where the work on a vehicle stands.

    Attributes
    ----------
    plan : str
        The plan that is followed.
    done, to_do : int
        Steps.
    spent, to_go : float
        Money: all that went in, and what the steps to do are likely to come to with the overrun that is expected.
    """

    plan: str
    done: int
    to_do: int
    spent: float
    to_go: float


def schema_for(tables: Tables, file: VehicleFile) -> Schema | None:
    """What the words of a vehicle mean: the schema of the table to go on with; None where there is no table.

    Parameters
    ----------
    tables : Tables
    file : VehicleFile
    """
    if tables.newest_table() is None:
        return None
    table = tables.table_for(file.subject, file.currency)
    return None if table is None else tables.schema(table)


def plan_followed(tables: Tables, file: VehicleFile) -> BuildPlan | None:
    """The plan by which a vehicle is worked on, with its purchase; None where there is none, or none can be read.

    Parameters
    ----------
    tables : Tables
    file : VehicleFile
    """
    from valuation.answers.plans import PlanReader, shop_settings
    from valuation.answers.work_kept import followed

    schema = schema_for(tables, file)
    if schema is None:
        return None
    reader = PlanReader(tables.ledger, file.vehicle, schema, shop_settings(tables.ledger, tables.folder))
    record = followed(reader)
    return None if record is None else reader.read(record.text)


def as_it_stands(tables: Tables, subject: str) -> Vehicle:
    """A vehicle as it stands today: as found, with what the steps that are done have made of it.

    Parameters
    ----------
    tables : Tables
    subject : str
        The vehicle's key.

    Raises
    ------
    VehicleError
        There is no table of sales, or that in use does not know what it was found as.
    """
    from valuation.build.states import finished

    file = vehicle_file(tables, subject)
    schema = schema_for(tables, file)
    if schema is None:
        raise VehicleError(
            f"Cannot tell how '{subject}' stands: there is no table of sales yet that says what its words mean. Bring "
            "one first."
        )
    found = parse_vehicle(found_as_told(file.vehicle), schema)
    plan = plan_followed(tables, file)
    if plan is None or plan.progress is None:
        return found
    done = {one.step for one in plan.progress.done}
    stands = finished(replace(plan, found=found), [step.id in done for step in plan.steps])
    return replace(stands, number=found.number)


def outlay_so_far(tables: Tables, subject: str, day: dt.date | None = None) -> float | None:
    """All the money that went into a vehicle: purchase, steps done, labour, holding; None before it is bought.

    Parameters
    ----------
    tables : Tables
    subject : str
        The vehicle's key.
    day : date or None
        Until which it is counted; today unless told.
    """
    file = vehicle_file(tables, subject)
    state = _under_way(tables, file, day_of(day))
    return file.vehicle.bought_for if state is None else state[1].spent_in_all


def work_so_far(tables: Tables, file: VehicleFile, day: dt.date | None = None) -> WorkSoFar | None:
    """Where the work on a vehicle stands; None where it is not bought or has no plan.

    Parameters
    ----------
    tables : Tables
    file : VehicleFile
    day : date or None
        On which it is looked at; unless told today, or the day on which it was sold.
    """
    on = day or (file.sales[-1].sold_on if file.sales else day_of())
    return tables.figures.get(_rests_on(tables, file, on), lambda: _so_far(tables, file, on))


def _rests_on(tables: Tables, file: VehicleFile, day: dt.date) -> Hashable:
    """All that the work so far follows from, by the numbers of its records."""
    deal, newest, shop = file.newest_deal("build"), tables.newest_table(), tables.ledger.shop()
    settings = tables.folder / SHOP_FILE
    return (
        "work",
        file.vehicle.id,
        tuple(one.id for one in file.plans),
        deal and deal.id,
        file.estimate and file.estimate.id,
        newest and newest.id,
        shop.id if shop else settings.is_file() and settings.stat().st_mtime_ns,
        day,
    )


def _so_far(tables: Tables, file: VehicleFile, day: dt.date) -> WorkSoFar | None:
    found = _under_way(tables, file, day)
    if found is None:
        return None
    rest, state = found
    likely = sum(step.cost.likely + rest.shop.labour_rate * step.hours.likely for step in rest.steps)
    return WorkSoFar(
        plan=state.plan,
        done=len(state.done),
        to_do=len(rest.steps),
        spent=state.spent_in_all,
        to_go=likely * rest.shop.overrun.typical,
    )


def _under_way(tables: Tables, file: VehicleFile, day: dt.date) -> tuple[BuildPlan, UnderWay] | None:
    from valuation.build.under_way import from_today

    plan = plan_followed(tables, file)
    if plan is None or plan.progress is None:
        return None
    rest, state = from_today(plan, max(day, plan.progress.bought_on))
    return None if state is None else (rest, state)


@dataclass(frozen=True)
class MostToPay:
    """What the last comparison of paths says of a find.

    Attributes
    ----------
    deal : int
        Number of the comparison in the ledger.
    path : str
        The path to go, or the one that comes nearest to the goal.
    most : float
        The most to pay for it on that path, money in ``currency``.
    currency : str
    met : bool
        Whether a path meets the goal at the price that is asked.
    as_of : date
    ready : str
        When the build is finished, in a sentence; empty without one.
    ready_on : date or None
        The day on which half of such builds are finished.
    """

    deal: int
    path: str
    most: float
    currency: str
    met: bool
    as_of: dt.date
    ready: str
    ready_on: dt.date | None


def most_to_pay(tables: Tables, file: VehicleFile) -> MostToPay | None:
    """What the last comparison of paths says; None where none was made.

    Parameters
    ----------
    tables : Tables
    file : VehicleFile
    """
    deal = file.newest_deal("build", "paths")
    if deal is None:
        return None

    def read() -> MostToPay:
        result = tables.ledger.deal_result(deal.id)
        report = result["paths"] if deal.kind == "build" else result
        best = next((one for one in report["paths"] if one["name"] == report["best"]), None)
        path = best or max(report["paths"], key=lambda one: float(one["most_to_pay"]))
        finish = path.get("finish")
        return MostToPay(
            deal=deal.id,
            path=path["name"],
            most=path["most_to_pay"],
            currency=report["currency"],
            met=best is not None,
            as_of=dt.date.fromisoformat(report["as_of"]),
            ready=path.get("ready", ""),
            ready_on=dt.date.fromisoformat(finish["likely"]) if finish else None,
        )

    return tables.figures.get(("most to pay", deal.id), read)


@dataclass(frozen=True)
class Asked:
    """Floor, target and ask as they were last set, money in ``currency``."""

    deal: int
    floor: float
    target: float
    ask: float
    currency: str


def asked_for(tables: Tables, file: VehicleFile) -> Asked | None:
    """Floor, target and ask as they were last set; None where they were not.

    Parameters
    ----------
    tables : Tables
    file : VehicleFile
    """
    deal = file.newest_deal("bands")
    if deal is None:
        return None

    def read() -> Asked:
        found = tables.ledger.deal_result(deal.id)
        return Asked(deal.id, found["floor"], found["target"], found["ask"], found["currency"])

    return tables.figures.get(("asked", deal.id), read)
