"""The network of steps: what must come before what, the critical path, and the slack of each step."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scipy.special import ndtr

from valuation.deal.three_point import ThreePoint
from valuation.errors import PlanError
from valuation.schema.spelling import did_you_mean


def working_order(before: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """The steps in an order in which they can be done; among those that could come next, the first named.

    Parameters
    ----------
    before : mapping of str to sequence of str
        For each step, the steps that come before it.

    Raises
    ------
    PlanError
        A predecessor is no step, or steps wait for each other in a circle; both are named.
    """
    for step, predecessors in before.items():
        for name in predecessors:
            if name not in before:
                raise PlanError(
                    f"Step '{step}' comes after '{name}', which is no step of this plan.{did_you_mean(name, before)} "
                    f"The steps are: {', '.join(before)}.",
                    where=f"step '{step}'.after",
                )
    done: list[str] = []
    left = list(before)
    while left:
        ready = next((step for step in left if all(name in done for name in before[step])), None)
        if ready is None:
            circle = _circle(before, left)
            raise PlanError(
                f"Steps wait for each other in a circle: {' after '.join(circle)}. Take one of these out of 'after'.",
                where=f"step '{circle[0]}'.after",
            )
        done.append(ready)
        left.remove(ready)
    return tuple(done)


def _circle(before: Mapping[str, Sequence[str]], left: Sequence[str]) -> list[str]:
    """One circle among steps of which each waits for another one left."""
    walk = [left[0]]
    while True:
        waits_for = next(name for name in before[walk[-1]] if name in left)
        if waits_for in walk:
            return [*walk[walk.index(waits_for) :], waits_for]
        walk.append(waits_for)


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


@dataclass(frozen=True, slots=True)
class HandbookEstimate:
    """The handbook's answer to how long a network takes: the critical path of the mean times, taken as normal.

    It looks at one path only and so says a little too much (merge bias); the simulation does not.

    Attributes
    ----------
    path : CriticalPath
    standard_deviation : float
        Root of the summed variances along the critical path.
    """

    path: CriticalPath
    standard_deviation: float

    def odds_by(self, time: float) -> float:
        """Probability that everything is done by ``time``."""
        if self.standard_deviation == 0:
            return float(time >= self.path.length)
        return float(ndtr((time - self.path.length) / self.standard_deviation))

    def expected_lateness(self, time: float) -> float:
        """Expected time by which ``time`` is missed: the standard deviation times the unit normal loss."""
        if self.standard_deviation == 0:
            return max(self.path.length - time, 0.0)
        return self.standard_deviation * unit_normal_loss((time - self.path.length) / self.standard_deviation)


def handbook_estimate(durations: Mapping[str, ThreePoint], before: Mapping[str, Sequence[str]]) -> HandbookEstimate:
    """The three-point network estimate: means (a + 4 m + b) / 6, variances ((b - a) / 6)^2 along the critical path."""
    path = critical_path({step: figure.mean("pert") for step, figure in durations.items()}, before)
    return HandbookEstimate(path, math.sqrt(sum(durations[step].handbook_variance for step in path.critical)))


def unit_normal_loss(z: float) -> float:
    """E[max(Z - z, 0)] for a standard normal Z (Raiffa and Schlaifer's unit normal loss)."""
    density = math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    return density - z * float(ndtr(-z))
