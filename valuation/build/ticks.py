"""What became of the steps, written into a plan's data as its file says it: a tick, one taken back, a cost on top."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Literal

from valuation.build.plan import BuildPlan, Step
from valuation.build.progress import ExtraCost
from valuation.errors import PlanError
from valuation.text.language import english_day

State = Literal["done", "begun", "left_out", "to_do"]
"""Where a step stands: a table of the plan of that name lists it, or it is still to be done."""


@dataclass(frozen=True, slots=True)
class Tick:
    """What became of a step.

    Parameters
    ----------
    step : str
        Its id.
    state : {"done", "begun", "left_out", "to_do"}
    on : date or None
        Day on which it was done or begun.
    cost, hours : float
        What a step that is done came to, or took so far while it is begun; money and hours.
    """

    step: str
    state: State
    on: date | None = None
    cost: float = 0.0
    hours: float = 0.0


def ticked(plan: Mapping[str, Any], tick: Tick) -> dict[str, Any]:
    """The plan with one step in another state; what it said of that step before is taken out.

    A step that goes on keeps the day on which it was begun.

    Parameters
    ----------
    plan : mapping
        As its file holds it.
    tick : Tick
    """
    changed = dict(plan)
    for table in ("done", "begun", "left_out"):
        changed[table] = [row for row in plan.get(table, []) if row.get("step") != tick.step]
    begun = next((row["on"] for row in plan.get("begun", []) if row.get("step") == tick.step), tick.on)
    took = {"cost": tick.cost, "hours": tick.hours}
    so_far = {name: figure for name, figure in took.items() if figure}
    rows: dict[State, dict[str, Any]] = {
        "done": {"step": tick.step, "on": tick.on, **took},
        "begun": {"step": tick.step, "on": begun, **so_far},
        "left_out": {"step": tick.step},
    }
    if tick.state in rows:
        changed[tick.state] = [*changed[tick.state], rows[tick.state]]
    return _without_empty(changed)


def check_tick(plan: BuildPlan, tick: Tick, today: date) -> None:
    """Refuse a tick that the order of the steps or the calendar contradicts.

    Parameters
    ----------
    plan : BuildPlan
        Before the tick.
    tick : Tick
    today : date

    Raises
    ------
    PlanError
        Naming the step, what stands against it and what to do first.
    """
    by_id, step, state = {one.id: one for one in plan.steps}, tick.step, tick.state
    if step not in by_id:
        raise PlanError(f"Cannot tick '{step}': the plan '{plan.name}' has no such step by now. Reload the page.")
    own, progress = by_id[step], plan.progress
    assert progress is not None, "only a vehicle that is bought is worked on"
    done, gone = {one.step for one in progress.done}, set(progress.left_out)
    check_day(f"tick '{_called(own)}'", tick.on, progress.bought_on, today)
    after = [one for one in plan.steps if step in one.after]
    if state == "done":
        _refuse(own, "as done", [by_id[one] for one in own.after if one not in done], "comes before it and is not done",
                "Tick that first")  # fmt: skip
    else:
        what = {"begun": "as begun", "left_out": "as left out", "to_do": "as still to do"}[state]
        _refuse(own, what, [one for one in after if one.id in done], "comes after it and is done",
                "Take that back first")  # fmt: skip
    if state == "left_out":
        _refuse(own, "as left out", [one for one in after if one.id not in gone], "comes after it and is still to do",
                "Leave that out first")  # fmt: skip
    else:
        _refuse(own, "like this", [by_id[one] for one in own.after if one in gone], "comes before it and is left out",
                "Take that back first")  # fmt: skip


def check_day(doing: str, on: date | None, bought_on: date, today: date) -> None:
    """Refuse a day before the purchase or ahead of today.

    Parameters
    ----------
    doing : str
        What is done, as the message says it.
    on : date or None
    bought_on, today : date

    Raises
    ------
    PlanError
        Naming the day and what is accepted.
    """
    if on is not None and not bought_on <= on <= today:
        raise PlanError(
            f"Cannot {doing} on {english_day(on)}: days from the purchase, {english_day(bought_on)}, to today, "
            f"{english_day(today)}, are accepted. Give the day on which it was.",
            where="on",
        )


def _refuse(own: Step, what: str, against: list[Step], why: str, mend: str) -> None:
    if against:
        raise PlanError(
            f"Cannot tick '{_called(own)}' {what}: '{_called(against[0])}' {why}. {mend}, or change what comes after "
            "what in the plan.",
            where="step",
        )


def _called(step: Step) -> str:
    return step.what or step.id


def with_extra(plan: Mapping[str, Any], extra: ExtraCost) -> dict[str, Any]:
    """The plan with a cost that no step planned.

    Parameters
    ----------
    plan : mapping
        As its file holds it.
    extra : ExtraCost
    """
    return {**plan, "extra": [*plan.get("extra", []), asdict(extra)]}


def without_extra(plan: Mapping[str, Any], place: int) -> dict[str, Any]:
    """The plan without one of its unplanned costs.

    Parameters
    ----------
    plan : mapping
        As its file holds it.
    place : int
        Of the cost, from 0.
    """
    return _without_empty({**plan, "extra": [row for i, row in enumerate(plan.get("extra", [])) if i != place]})


def _without_empty(plan: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in plan.items() if value != [] or key == "steps"}
