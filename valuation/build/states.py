"""The vehicle after a build: what the steps make of it, and what an award at the show may add."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from valuation.build.network import working_order
from valuation.build.plan import BuildPlan, Step
from valuation.build.terms import Event
from valuation.errors import PlanError
from valuation.notes import Note
from valuation.schema.schema import Schema
from valuation.schema.vehicle import Vehicle


@dataclass(frozen=True, slots=True)
class FinishedStates:
    """What the vehicle may be when it is sold.

    Attributes
    ----------
    vehicles : tuple of Vehicle
        First the finished vehicle without an award, then one for each award that it may win.
    chances : tuple of float
        Chance of each given that the event is made; sums to 1.
    notes : tuple of Note
    enters_event : bool
        Whether the event is worth entering: its chances name the condition after the build (or no chances are given).
    """

    vehicles: tuple[Vehicle, ...]
    chances: tuple[float, ...]
    notes: tuple[Note, ...] = ()
    enters_event: bool = False


def finished(plan: BuildPlan, done: Sequence[bool] | None = None) -> Vehicle:
    """The vehicle after the steps that are done; where two set one attribute, the one worked on later counts.

    Parameters
    ----------
    plan : BuildPlan
    done : sequence of bool or None
        Which steps are done, in the plan's order; all unless given.
    """
    before = {step.id: step.after for step in plan.steps}
    by_id: dict[str, Step] = {step.id: step for step in plan.steps}
    kept = {step.id for i, step in enumerate(plan.steps) if done is None or done[i]}
    attributes = dict(plan.found.attributes)
    for step in working_order(before):
        if step in kept:
            attributes.update(by_id[step].sets)
    return Vehicle(plan.found.name, attributes)


def finished_states(plan: BuildPlan, schema: Schema, done: Sequence[bool] | None = None) -> FinishedStates:
    """The finished vehicle with and without the awards that it may win at the plan's event.

    Parameters
    ----------
    plan : BuildPlan
    schema : Schema
    done : sequence of bool or None
        Which steps are done, in the plan's order; all unless given.
    """
    return award_states(finished(plan, done), plan.event, schema)


def as_entered(plan: BuildPlan, states: FinishedStates) -> BuildPlan:
    """The plan, without its event where that is not worth entering.

    Parameters
    ----------
    plan : BuildPlan
    states : FinishedStates
        The finished vehicle with each award.
    """
    return plan if states.enters_event or plan.event is None else replace(plan, event=None)


def award_states(vehicle: Vehicle, event: Event | None, schema: Schema) -> FinishedStates:
    """A vehicle with and without the awards that it may win at an event.

    Parameters
    ----------
    vehicle : Vehicle
        As it is finished.
    event : Event or None
    schema : Schema
    """
    if event is None or not event.chances:
        return FinishedStates((vehicle,), (1.0,), enters_event=event is not None)
    condition = vehicle.attributes.get(event.condition)
    vehicles, odds = [vehicle], [1.0]
    for award, chance in event.chances.get(str(condition), {}).items():
        won = _better_award(vehicle, award, event, schema)
        if won is not vehicle:
            vehicles.append(won)
            odds.append(chance)
            odds[0] -= chance
    if len(vehicles) == 1:
        text = (
            f"'{event.name}' gives no chance of a better award at {event.condition} '{condition}', the condition after "
            "the build; it is not entered and not waited for."
        )
        return FinishedStates((vehicle,), (1.0,), (Note("event_not_entered", text),))
    return FinishedStates(tuple(vehicles), tuple(max(chance, 0.0) for chance in odds), enters_event=True)


def _better_award(vehicle: Vehicle, award: str, event: Event, schema: Schema) -> Vehicle:
    """The vehicle with the award, unless it has a higher one already."""
    levels = schema.attribute(event.award).level_names
    held = vehicle.attributes.get(event.award)
    if isinstance(held, str) and held in levels and levels.index(held) >= levels.index(award):
        return vehicle
    return Vehicle(vehicle.name, {**vehicle.attributes, event.award: award})


def check_states(plan: BuildPlan, schema: Schema) -> None:
    """Refuse a plan whose steps or event speak of attributes or levels that the schema does not have.

    Parameters
    ----------
    plan : BuildPlan
    schema : Schema

    Raises
    ------
    PlanError
        Naming the step or the event, what was found and what is accepted.
    """
    for step in plan.steps:
        for name in step.sets:
            if name not in schema.names:
                raise PlanError(
                    f"Plan '{plan.name}': step '{step.id}' sets '{name}', which the schema '{schema.name}' does not "
                    f"have. Its attributes are: {', '.join(schema.names)}.",
                    where=f"step '{step.id}'.sets",
                )
    if plan.event is None or not plan.event.chances:
        return
    for name in (plan.event.condition, plan.event.award):
        if name not in schema.names or not schema.attribute(name).levels:
            raise PlanError(
                f"Plan '{plan.name}': the event '{plan.event.name}' speaks of '{name}', which is not a scale of levels "
                f"in the schema '{schema.name}'. Name the attributes under 'condition_attribute' and 'award_attribute'."
            )
    conditions = schema.attribute(plan.event.condition).level_names
    awards = schema.attribute(plan.event.award).level_names
    for level, chances in plan.event.chances.items():
        _known_level(plan, plan.event.condition, level, conditions)
        for award in chances:
            _known_level(plan, plan.event.award, award, awards)


def _known_level(plan: BuildPlan, attribute: str, level: str, levels: Sequence[str]) -> None:
    if level not in levels:
        raise PlanError(
            f"Plan '{plan.name}': the event's chances name the {attribute} level '{level}', which does not exist. "
            f"The levels are: {', '.join(levels)}."
        )
