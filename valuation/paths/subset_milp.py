"""The best subset of many steps by integer programming, with a bound that no subset can pass.

The price is the exponential of a sum of effects. Between breakpoints the exponential lies below its chord, so a
piecewise linear form with chords never values a subset too low; time is bounded from below by the network and by the
crew's hours, so waiting is never charged too high. The optimum of that form is therefore a bound on every subset's
expected profit.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from valuation.build.crew import BoolArray
from valuation.errors import PlanError
from valuation.paths.subset_value import Limits, SubsetValuer
from valuation.regression.distribution import FloatArray
from valuation.year import DAYS_PER_WEEK, WEEKS_PER_YEAR

PIECES = 24
SAMPLED_STATES = 200
TIME_LIMIT_SECONDS = 20.0


def solve_large(valuer: SubsetValuer, limits: Limits) -> tuple[BoolArray, float]:
    """Good subsets, and a bound on the expected profit of all.

    Parameters
    ----------
    valuer : SubsetValuer
    limits : Limits

    Returns
    -------
    candidates : ndarray of bool, shape (m, n)
        The solution of the integer programme, its improvements by single steps and pairs, and their neighbours.
    bound : float
        Money. Rests on effects that multiply; the largest departure from that among sampled states is added to it.
    """
    start, bound = _solve(valuer, limits)
    seen = {tuple(start)}
    candidates = [start]
    best, best_profit = start, limits.apply(valuer.figures(start[None]))[0]
    while True:
        neighbours = [row for row in _neighbours(best, valuer.needs) if tuple(row) not in seen]
        seen.update(tuple(row) for row in neighbours)
        if not neighbours:
            break
        candidates.extend(neighbours)
        profits = limits.apply(valuer.figures(np.array(neighbours)))
        if not profits.max() > best_profit:
            break
        best, best_profit = neighbours[int(profits.argmax())], float(profits.max())
    return np.array(candidates), max(bound, float(best_profit))


def _neighbours(done: BoolArray, needs: BoolArray) -> list[BoolArray]:
    """Subsets that differ by one step (with what it needs, or without what needs it) or by a swap of two."""
    rows = []
    for i in range(len(done)):
        one = _with_consequences(done, i, needs)
        rows.append(one)
        rows.extend(_with_consequences(one, j, needs) for j in range(i + 1, len(done)) if one[j] == done[i])
    return rows


def _with_consequences(done: BoolArray, step: int, needs: BoolArray) -> BoolArray:
    answer = done.copy()
    answer[step] = not answer[step]
    if answer[step]:
        waiting = [step]
        while waiting:
            for j in np.flatnonzero(needs[waiting.pop()] & ~answer):
                answer[j] = True
                waiting.append(int(j))
    else:
        while (broken := answer & (needs & ~answer).any(axis=1)).any():
            answer &= ~broken
    return answer


@dataclass(slots=True)
class _Programme:
    """Rows of a linear programme while it is written down."""

    size: int
    rows: list[FloatArray] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(self, terms: dict[int, float], low: float, high: float) -> None:
        row = np.zeros(self.size)
        for column, factor in terms.items():
            row[column] += factor
        self.rows.append(row)
        self.low.append(low)
        self.high.append(high)


def _solve(valuer: SubsetValuer, limits: Limits) -> tuple[BoolArray, float]:
    from scipy.optimize import Bounds, LinearConstraint, milp

    plan, shop, n = valuer.plan, valuer.plan.shop, len(valuer.plan.steps)
    base, effects, departure, most_drift = _additive_form(valuer)
    lowest = base + sum(min(0.0, min(row.values())) for row in effects)
    highest = base + sum(max(0.0, max(row.values())) for row in effects)
    knots = np.linspace(lowest - 1e-9, highest + 1e-9, PIECES + 1)
    # Columns: steps, their starts, the finish, the setter of each attribute, piece chosen, place within the piece.
    setters = [(a, i) for a, row in enumerate(effects) for i in row]
    starts, finish, first_setter = n, 2 * n, 2 * n + 1
    first_piece = first_setter + len(setters)
    first_place = first_piece + PIECES
    size = first_place + PIECES
    programme = _Programme(size)
    _precedence(programme, valuer, starts, finish)
    log_price: dict[int, float] = {}
    for a, row in enumerate(effects):
        columns = {i: first_setter + setters.index((a, i)) for i in row}
        programme.add(dict.fromkeys(columns.values(), 1.0), 0.0, 1.0)
        for i, column in columns.items():
            programme.add({column: 1.0, i: -1.0}, -np.inf, 0.0)
            log_price[column] = row[i]
        for i in row:  # a step that is done leaves the attribute to itself or to a step worked on later
            later = [columns[j] for j in row if list(row).index(j) >= list(row).index(i)]
            programme.add({i: 1.0, **dict.fromkeys(later, -1.0)}, -np.inf, 0.0)
    pieces = range(PIECES)
    programme.add({first_piece + k: 1.0 for k in pieces}, 1.0, 1.0)
    for k in pieces:
        programme.add({first_place + k: 1.0, first_piece + k: -1.0}, -np.inf, 0.0)
    widths = np.diff(knots)
    programme.add(
        {
            **{first_piece + k: -knots[k] for k in pieces},
            **{first_place + k: -widths[k] for k in pieces},
            **log_price,
        },
        -base,
        -base,
    )
    heights = np.exp(knots + departure + most_drift)
    per_week = (
        shop.holding_per_week
        + shop.overhead_per_week / shop.bays
        + valuer.paid * shop.interest_percent / 100 / WEEKS_PER_YEAR
    ) * float(valuer.stretch.mean())
    cost = np.zeros(size)
    cost[:n] = valuer.step_costs
    cost[finish] = per_week
    gain = np.zeros(size)
    gain[first_piece : first_piece + PIECES] = plan.sale.kept * heights[:-1]
    gain[first_place : first_place + PIECES] = plan.sale.kept * np.diff(heights)
    if limits.budget is not None:
        programme.add({i: float(c) for i, c in enumerate(valuer.step_costs)}, -np.inf, limits.budget)
    if limits.weeks is not None:
        programme.add({finish: float(valuer.stretch.mean())}, -np.inf, limits.weeks)
    whole = np.ones(size, dtype=np.int64)
    whole[starts : finish + 1] = 0
    whole[first_place:] = 0
    top = np.ones(size)
    top[starts : finish + 1] = np.inf
    answer = milp(
        cost - gain,
        integrality=whole,
        bounds=Bounds(np.zeros(size), top),
        constraints=LinearConstraint(np.array(programme.rows), np.array(programme.low), np.array(programme.high)),
        options={"time_limit": TIME_LIMIT_SECONDS, "mip_rel_gap": 1e-6},
    )
    if answer.x is None:
        raise PlanError(
            f"Plan '{plan.name}': no choice among its {n} steps was found within {TIME_LIMIT_SECONDS:.0f} seconds. Put "
            "steps together that are done together."
        )
    dual = answer.mip_dual_bound if answer.mip_dual_bound is not None else answer.fun
    return answer.x[:n] > 0.5, float(-dual - _fixed(valuer))


def _fixed(valuer: SubsetValuer) -> float:
    """Outlay that no choice of steps changes; the event's entry is left out, since it need not be entered."""
    plan = valuer.plan
    interest = plan.shop.interest_percent / 100 * valuer.selling_weeks / WEEKS_PER_YEAR
    return (
        plan.purchase.fixed
        + plan.sale.fixed
        + plan.shop.holding_per_week * valuer.selling_weeks
        + valuer.paid * (1 + interest)
    )


def _precedence(programme: _Programme, valuer: SubsetValuer, starts: int, finish: int) -> None:
    """What must be kept with what, and lower bounds on the finish from the network and the crew's hours."""
    plan, rules = valuer.plan, valuer.rules
    shape = plan.shop.spread
    hours = np.array([step.hours.mean(shape) for step in plan.steps]) * plan.shop.overrun.mean
    people = np.array([max(step.people, 1) for step in plan.steps])
    takes = hours / (people * plan.shop.hours_per_week)
    for i, step in enumerate(plan.steps):
        for j in np.flatnonzero(valuer.needs[i]):
            programme.add({i: 1.0, int(j): -1.0}, -np.inf, 0.0)
        waits = step.parts_weeks.mean(shape)
        before = np.flatnonzero(rules.before[i])
        if len(before) == 0 or not step.order_when_ready:
            programme.add({starts + i: 1.0, i: -waits}, 0.0, np.inf)
        own_wait = waits if step.order_when_ready else 0.0
        for j in before:
            programme.add({starts + i: 1.0, starts + int(j): -1.0, int(j): -takes[j], i: -own_wait}, 0.0, np.inf)
        programme.add({finish: 1.0, starts + i: -1.0, i: -takes[i]}, 0.0, np.inf)
    crew_weeks = {
        i: -hours[i] / (plan.shop.hours_per_week * plan.shop.crew) for i, step in enumerate(plan.steps) if step.people
    }
    programme.add({finish: 1.0, **crew_weeks}, 0.0, np.inf)


def _additive_form(valuer: SubsetValuer) -> tuple[float, list[dict[int, float]], float, float]:
    """Log of the expected price as a sum: base, effect of each setter by attribute, departure, most drift.

    Setters of an attribute stand in working order. Awards count as if the event were always made.
    """
    n = len(valuer.plan.steps)
    nothing = np.zeros((1, n), dtype=bool)
    base = float(np.log(_best_price(valuer, nothing)[0]))
    settled = valuer.last_setters(np.eye(n, dtype=bool))
    effects: list[dict[int, float]] = []
    for column in range(len(valuer.attributes)):
        row = {}
        for i in valuer.order:
            if settled[i, column] == i:
                row[i] = float(np.log(valuer.expected_price_of(column, i))) - base
        effects.append(row)
    rng = np.random.default_rng(1)
    sample = rng.random((SAMPLED_STATES, n)) < rng.random((SAMPLED_STATES, 1))
    actual = np.log(_best_price(valuer, sample))
    last = valuer.last_setters(sample)
    summed = np.array(
        [base + sum(row[int(i)] for row, i in zip(effects, chosen, strict=True) if i >= 0) for chosen in last]
    )
    departure = max(float((actual - summed).max()), 0.0)
    longest = (valuer.sale_date - valuer.first_day).days / DAYS_PER_WEEK
    return base, effects, departure, abs(valuer.drift_per_week) * longest


def _best_price(valuer: SubsetValuer, done: BoolArray) -> FloatArray:
    """Expected price of each subset if its event is made whenever that is better."""
    plain, at_event, _ = valuer.expected_prices(done)
    return np.maximum(plain, at_event)
