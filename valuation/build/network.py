"""The network of steps: what must come before what, the critical path, and the slack of each step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

from valuation.errors import PlanError
from valuation.text.spelling import did_you_mean


def working_order(before: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """The steps in an order in which they can be done; among those that could come next, the first named.

    Parameters
    ----------
    before : mapping of str to sequence of str
        For each step, the steps that come before it.

    Raises
    ------
    PlanError
        A predecessor is not a step, or steps wait for each other in a circle; both are named.
    """
    for step, predecessors in before.items():
        for name in predecessors:
            if name not in before:
                raise PlanError(
                    f"Step '{step}' comes after '{name}', which is not a step of this plan.{did_you_mean(name, before)}"
                    f" The steps are: {', '.join(before)}.",
                    where=f"step '{step}'.after",
                )
    sorter = TopologicalSorter(before)
    try:
        sorter.prepare()
    except CycleError as error:
        circle = error.args[1][::-1]
        raise PlanError(
            f"Steps wait for each other in a circle: {' after '.join(circle)}. Take one of these out of 'after'.",
            where=f"step '{circle[0]}'.after",
        ) from error
    place = {step: i for i, step in enumerate(before)}
    order: list[str] = []
    ready: list[str] = []
    while sorter.is_active():
        ready += sorter.get_ready()
        first = min(ready, key=place.__getitem__)
        ready.remove(first)
        sorter.done(first)
        order.append(first)
    return tuple(order)


@dataclass(frozen=True, slots=True)
class StepTimes:
    """When a step can and must be done; all in the unit of the durations, counted from the start."""

    earliest_start: float
    earliest_finish: float
    latest_start: float
    latest_finish: float

    @property
    def slack(self) -> float:
        """How much later the step may be without moving the end."""
        return self.latest_start - self.earliest_start


@dataclass(frozen=True, slots=True)
class CriticalPath:
    """Result of the forward and backward pass.

    Attributes
    ----------
    times : mapping of str to StepTimes
    length : float
        Time until everything is done.
    critical : tuple of str
        Steps without slack, in working order.
    """

    times: Mapping[str, StepTimes]
    length: float
    critical: tuple[str, ...]


def critical_path(
    durations: Mapping[str, float],
    before: Mapping[str, Sequence[str]],
    not_before: Mapping[str, float] | None = None,
) -> CriticalPath:
    """Earliest and latest times of each step (critical path method), without regard to the crew.

    Parameters
    ----------
    durations : mapping of str to float
        Any one unit of time, >= 0.
    before : mapping of str to sequence of str
        For each step, the steps that come before it.
    not_before : mapping of str to float, optional
        Earliest start of a step by itself, for example because of its parts.
    """
    order = working_order(before)
    earliest: dict[str, float] = {}
    for step in order:
        own = (not_before or {}).get(step, 0.0)
        earliest[step] = max([own, *(earliest[name] + durations[name] for name in before[step])])
    length = max((earliest[step] + durations[step] for step in order), default=0.0)
    latest = dict.fromkeys(order, length)
    for step in reversed(order):
        for name in before[step]:
            latest[name] = min(latest[name], latest[step] - durations[step])
    times = {
        step: StepTimes(earliest[step], earliest[step] + durations[step], latest[step] - durations[step], latest[step])
        for step in before
    }
    nearly_nothing = 1e-9 * max(length, 1.0)
    return CriticalPath(times, length, tuple(step for step in order if times[step].slack <= nearly_nothing))
