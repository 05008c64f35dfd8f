"""The work on a vehicle in the ledger: the plan that is followed, and ticks written into it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from valuation.answers.plans import PlanReader, keep_plan
from valuation.build.plan import BuildPlan
from valuation.build.progress import TABLES, ExtraCost
from valuation.build.ticks import Tick, check_day, check_tick, ticked, with_extra, without_extra
from valuation.day import day_of
from valuation.errors import LedgerError, PlanError
from valuation.text.toml import read_toml, toml_text

if TYPE_CHECKING:
    from valuation.ledger import PlanRecord

TRIES = 10
"""How often a tick is put into the newest version of a plan that others are writing to at the same time."""


def followed(reader: PlanReader, number: int = 0) -> PlanRecord | None:
    """The plan by which a vehicle is worked on; None where there is none, or none can be read.

    That is the one that is wanted, else the one that is furthest on; before the first tick that which the last
    comparison found best, else the newest.

    Parameters
    ----------
    reader : PlanReader
    number : int
        Of the plan that is wanted; 0: none in particular.
    """
    if number:
        return reader.plans.find(number)
    deals = [deal for deal in reader.ledger.deals(reader.vehicle.subject) if deal.kind == "build"]
    best = reader.ledger.deal_result(deals[-1].id)["paths"]["best"] if deals else None
    plans = [plan for plan in reversed(reader.plans.standing) if _reads(reader, plan)]
    return max(plans, key=lambda plan: (_ticks(plan), plan.name == best), default=None)


def _reads(reader: PlanReader, plan: PlanRecord) -> bool:
    try:
        reader.read(plan.text)
    except (PlanError, ValueError):
        return False  # its own page says what is wrong with it
    return True


def _ticks(plan: PlanRecord) -> int:
    data = read_toml(plan.text)
    return sum(len(data.get(table, [])) for table in TABLES)


def keep_tick(reader: PlanReader, record: PlanRecord, tick: Tick) -> PlanRecord:
    """Write what became of a step into the newest version of its plan.

    Parameters
    ----------
    reader : PlanReader
    record : PlanRecord
        Any version of the plan.
    tick : Tick

    Raises
    ------
    PlanError
        The order of the steps or the calendar contradicts it.
    """

    def change(data: Mapping[str, Any], plan: BuildPlan) -> dict[str, Any]:
        check_tick(plan, tick, day_of())
        return ticked(data, tick)

    return _changed(reader, record, change)


def keep_extra(reader: PlanReader, record: PlanRecord, extra: ExtraCost) -> PlanRecord:
    """Write a cost that no step planned into the newest version of a plan.

    Parameters
    ----------
    reader : PlanReader
    record : PlanRecord
        Any version of the plan.
    extra : ExtraCost

    Raises
    ------
    PlanError
        Its day is before the purchase or ahead.
    """

    def change(data: Mapping[str, Any], plan: BuildPlan) -> dict[str, Any]:
        assert plan.progress is not None
        check_day(f"keep the cost of '{extra.what}'", extra.on, plan.progress.bought_on, day_of())
        return with_extra(data, extra)

    return _changed(reader, record, change)


def take_extra_back(reader: PlanReader, record: PlanRecord, place: int, what: str) -> PlanRecord:
    """Take an unplanned cost out of the newest version of a plan.

    Parameters
    ----------
    reader : PlanReader
    record : PlanRecord
        Any version of the plan.
    place : int
        Of the cost, from 0.
    what : str
        What it was for, so that none is taken for another that moved into its place meanwhile.

    Raises
    ------
    PlanError
        No such cost stands there.
    """

    def change(data: Mapping[str, Any], plan: BuildPlan) -> dict[str, Any]:
        rows = data.get("extra", [])
        if place >= len(rows) or rows[place].get("what") != what:
            raise PlanError(f"Cannot take back the cost of '{what}': it is not there any more. Reload the page.")
        return without_extra(data, place)

    return _changed(reader, record, change)


def _changed(
    reader: PlanReader, record: PlanRecord, change: Callable[[Mapping[str, Any], BuildPlan], dict[str, Any]]
) -> PlanRecord:
    """The plan with a change made to its newest version, whoever else writes to it meanwhile."""
    for _ in range(TRIES):
        newest = reader.plans.find(record.first) or record
        plan = reader.read(newest.text)
        if plan.progress is None:
            raise PlanError(
                f"Cannot write to the work of '{plan.name}': its vehicle is not bought yet. Say first when it was "
                "bought and for what."
            )
        text = toml_text(change(read_toml(newest.text), plan))
        reader.read(text)
        try:
            return keep_plan(reader.ledger, reader.vehicle, text, newest.name, newest)
        except LedgerError:
            latest = reader.plans.find(record.first)
            if latest is None or latest.id == newest.id:
                raise
    raise LedgerError(f"Cannot write to the plan '{record.name}': others keep writing to it. Try again in a moment.")
