"""When each step is done with a limited crew, for many scenarios at once.

The rule is that of a shop floor: nobody stands idle while a step could begin; of the steps that could begin first,
the one with the longest tail of work behind it goes first (parallel list scheduling, the steps' network and the people
being the only limits).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.build.network import critical_path
from valuation.errors import PlanError
from valuation.regression.distribution import FloatArray

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.intp]
NO_STEP = -1
"""Stands where a number of a step would; numbers of steps start at 0."""


@dataclass(frozen=True, slots=True)
class CrewRules:
    """What limits the schedule.

    Parameters
    ----------
    before : ndarray of bool, shape (n, n)
        Whether step j (column) comes before step i (row).
    people : ndarray of int, shape (n,)
        People needed by each step; 0 for work done elsewhere.
    crew : int
        People there are.
    rank : ndarray of int, shape (n,)
        Order in which steps go first where several could begin at the same time; 0 first.
    order_when_ready : ndarray of bool, shape (n,)
        Whether parts are ordered only when the steps before are done.
    """

    before: BoolArray
    people: IntArray
    crew: int
    rank: IntArray
    order_when_ready: BoolArray


@dataclass(frozen=True, slots=True)
class Schedule:
    """Times of n steps in s scenarios.

    Attributes
    ----------
    start, finish : ndarray, shape (s, n)
        In the unit of the durations, from the first day.
    waited_for : ndarray of int, shape (s, n)
        The step that this one had to wait for last (a step before it, or one that held the people); -1 where it waited
        for its parts or for nothing.
    """

    start: FloatArray
    finish: FloatArray
    waited_for: IntArray

    @property
    def length(self) -> FloatArray:
        """Time until everything is done, shape (s,)."""
        return np.asarray(self.finish.max(axis=1, initial=0.0))

    def critical(self) -> BoolArray:
        """Whether each step lies on the chain that fixed the end, shape (s, n).

        Walks back from the step that ended last, each time to the step that was waited for.
        """
        scenarios, steps = self.finish.shape
        on_chain = np.zeros((scenarios, steps), dtype=bool)
        if steps == 0:
            return on_chain
        rows = np.arange(scenarios)
        here = self.finish.argmax(axis=1)
        for _ in range(steps):
            on_chain[rows, here] = True
            back = self.waited_for[rows, here]
            going_on = back != NO_STEP
            rows, here = rows[going_on], back[going_on]
            if len(rows) == 0:
                break
        return on_chain


def crew_schedule(
    durations: FloatArray, parts: FloatArray, rules: CrewRules, done: BoolArray | None = None
) -> Schedule:
    """Schedule n steps in each of s scenarios.

    Parameters
    ----------
    durations : ndarray, shape (s, n)
        Time that each step takes with its people, >= 0.
    parts : ndarray, shape (s, n)
        Time until its parts are there.
    rules : CrewRules
    done : ndarray of bool, shape (s, n), optional
        Steps that are part of the scenario; the others take no time and no people.

    Notes
    -----
    n rounds; in each, every scenario begins the one step that can begin first. O(s n^2) array work.
    """
    if durations.shape[1] == 0:
        nothing = np.zeros(durations.shape)
        return Schedule(nothing, nothing, nothing.astype(np.intp))
    floor = _ShopFloor(durations, parts, rules, done)
    for _ in range(durations.shape[1]):
        floor.begin_next()
    return floor.schedule()


class _ShopFloor:
    """The state of all scenarios while their steps are begun one by one.

    Arrays lie step by step, shape (n, s), with the steps in order of rank, so that the first smallest entry of a column
    is the step that goes first.
    """

    def __init__(self, durations: FloatArray, parts: FloatArray, rules: CrewRules, done: BoolArray | None) -> None:
        self.order = np.argsort(rules.rank)
        self.done = None if done is None else np.ascontiguousarray(done.T[self.order])
        self.durations = self._kept(durations)
        parts = self._kept(parts)
        when_ready = rules.order_when_ready[self.order][:, None]
        self.parts_first = np.where(when_ready, 0.0, parts)
        self.parts_after = np.where(when_ready, parts, 0.0)
        before = rules.before[np.ix_(self.order, self.order)]
        self.followers = [np.flatnonzero(before[:, step]) for step in range(len(before))]
        self.people = rules.people[self.order]
        shape = self.durations.shape
        self.waiting = np.repeat(before.sum(axis=1)[:, None], shape[1], axis=1)
        self.ready = np.where(self.waiting == 0, parts, np.inf)
        self.ended_before = np.zeros(shape)
        self.last_before = np.full(shape, NO_STEP)
        # One row for each of the crew, soonest free first, and a last row for steps that need nobody.
        self.free = np.zeros((rules.crew + 1, shape[1]))
        self.held_by = np.full((rules.crew + 1, shape[1]), NO_STEP)
        self.gate = np.where(self.people > 0, self.people - 1, rules.crew)
        self.columns = np.arange(shape[1])
        self.start, self.finish = np.zeros(shape), np.zeros(shape)
        self.waited_for = np.full(shape, NO_STEP)

    def _kept(self, figures: FloatArray) -> FloatArray:
        by_step = np.ascontiguousarray(figures.T[self.order])
        return by_step if self.done is None else np.where(self.done, by_step, 0.0)

    def begin_next(self) -> None:
        """Begin in every scenario the step that can begin first."""
        people_free = self.free[self.gate]
        if self.done is not None:
            people_free = np.where(self.done, people_free, 0.0)
        could = np.maximum(self.ready, people_free)
        first = could.argmin(axis=0)
        for step in np.flatnonzero(np.bincount(first)):
            self._begin(int(step), np.flatnonzero(first == step), could)
        self._soonest_free_first()

    def _begin(self, step: int, where: IntArray, could: FloatArray) -> None:
        begins = could[step, where]
        ends = begins + self.durations[step, where]
        held_up = begins > self.ready[step, where]
        self.start[step, where], self.finish[step, where] = begins, ends
        self.waited_for[step, where] = np.where(
            held_up, self.held_by[self.gate[step], where], self.last_before[step, where]
        )
        self.ready[step, where] = np.inf
        if self.people[step]:
            busy = where if self.done is None else where[self.done[step, where]]
            self.free[: self.people[step], busy] = self.finish[step, busy]
            self.held_by[: self.people[step], busy] = step
        for follower in self.followers[step]:
            self._let_follow(int(follower), step, where, ends)

    def _let_follow(self, follower: int, step: int, where: IntArray, ends: FloatArray) -> None:
        ended = self.ended_before[follower, where]
        last = np.where(ends >= ended, step, self.last_before[follower, where])
        ended = np.maximum(ended, ends)
        left = self.waiting[follower, where] - 1
        works_on = ended + self.parts_after[follower, where]
        has_parts = self.parts_first[follower, where]
        last = np.where((left == 0) & (has_parts > works_on), NO_STEP, last)
        self.ended_before[follower, where] = ended
        self.last_before[follower, where] = last
        self.waiting[follower, where] = left
        self.ready[follower, where] = np.where(left == 0, np.maximum(has_parts, works_on), np.inf)

    def _soonest_free_first(self) -> None:
        """Put the people just taken back into order; the others are in order already."""
        crew = len(self.free) - 1
        for taken in range(min(int(self.people.max()), crew) - 1, -1, -1):
            for i in range(taken, crew - 1):
                swap = self.free[i] > self.free[i + 1]
                if not swap.any():
                    break
                for rows in (self.free, self.held_by):
                    rows[i], rows[i + 1] = np.where(swap, rows[i + 1], rows[i]), np.where(swap, rows[i], rows[i + 1])

    def schedule(self) -> Schedule:
        """The times in the order of the plan's steps."""
        back = np.argsort(self.order)
        name = np.append(self.order, NO_STEP)  # the entry for -1 is the last one
        return Schedule(self.start[back].T, self.finish[back].T, name[self.waited_for[back]].T)


def crew_rules(
    ids: Sequence[str],
    before: Mapping[str, Sequence[str]],
    people: Sequence[int],
    crew: int,
    likely: Sequence[float],
    order_when_ready: Sequence[bool] | None = None,
) -> CrewRules:
    """The rules of a plan; the longest tail at likely durations goes first.

    Parameters
    ----------
    ids : sequence of str
        The steps.
    before : mapping of str to sequence of str
        For each step those that come before it.
    people : sequence of int
        How many each step needs at once.
    crew : int
        People in the shop.
    likely : sequence of float
        Likely durations, weeks.
    order_when_ready : sequence of bool or None
        Whether each step's parts are ordered only when it may begin.

    Raises
    ------
    PlanError
        A step needs more people than there are, or the network is faulty.
    """
    for step, needed in zip(ids, people, strict=True):
        if needed > crew:
            raise PlanError(
                f"Step '{step}' needs {needed} people at once and the crew is {crew}. Raise 'crew' or lower 'people'."
            )
    path = critical_path(dict(zip(ids, likely, strict=True)), before)
    place = {step: i for i, step in enumerate(ids)}
    matrix = np.zeros((len(ids), len(ids)), dtype=bool)
    for step in ids:
        matrix[place[step], [place[name] for name in before[step]]] = True
    latest_start = np.array([path.times[step].latest_start for step in ids])
    rank = np.empty(len(ids), dtype=np.intp)
    rank[np.argsort(latest_start, kind="stable")] = np.arange(len(ids))
    when_ready = np.asarray(order_when_ready or [False] * len(ids), dtype=bool)
    return CrewRules(matrix, np.asarray(people, dtype=np.intp), crew, rank, when_ready)
