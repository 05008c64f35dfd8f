"""What each result of a build is worth with all that it needs, and which steps to do."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from valuation.build.figures import about, at_least, listed, money, odds_words
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.errors import PlanError
from valuation.notes import Note, each_once
from valuation.paths.bound import profit_bound
from valuation.paths.choices import LONG_PLAN, Limits, Screen, climb, settlers, way, ways, with_needs
from valuation.paths.deal_path import at_price, check_plan, standing, start_of
from valuation.paths.pricer import Pricer
from valuation.paths.worths import Choice, Done, Weighed, Worth
from valuation.text.language import say
from valuation.text.rounding import told
from valuation.view import View, Viewed
from valuation.year import DAYS_PER_WEEK

FINALISTS = 12
"""Best subsets of the quick search that are weighed once more in full."""
SHOWN = 5
"""Subsets that the answer lists, the best first."""
MOST_NAMED = 4
"""Steps left out that a sentence names; more are counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle(Worth):
    """A result of the build with all the steps that it needs.

    Attributes
    ----------
    name : str
        What the vehicle then is, such as ``condition driver``.
    needs : tuple of str
        All steps without which it is not reached, in the order of the plan.
    of_these : tuple of str
        Those that the figures are of: the others are done for another result as well.
    do : bool
        Whether it belongs to the best choice. ``net`` is then what the best choice loses without it, and otherwise what
        the best choice with it would bring more: never above 0 within the limits.
    why_not : str
        Why it is left out; empty where it is done.
    """

    name: str
    needs: tuple[str, ...]
    of_these: tuple[str, ...]
    do: bool
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWorth(Worth):
    """One step, seen from the best choice.

    Attributes
    ----------
    id, what : str
    do : bool
        Whether it belongs to the best choice. ``net`` is then what is lost where it is left out together with all that
        hangs on it, and otherwise what doing it with all that it needs would bring.
    needed_by : tuple of str
        Steps that cannot be done without it.
    """

    id: str
    what: str
    do: bool
    needed_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ChoiceSearch:
    """How the best choice was searched, and how good the answer is.

    Attributes
    ----------
    exact : bool
        Whether every way of reaching a result was looked at.
    bound : float
        No choice's expected profit is above this; the best one's own where the search was exact.
    searched : int
        Ways looked at.
    words : str
        The same in a sentence.
    """

    exact: bool
    bound: float
    searched: int
    words: str


@dataclass(frozen=True, slots=True, repr=False)
class StepsReport(Viewed):
    """What the results of a build are worth, and which steps to do.

    Attributes
    ----------
    plan : str
    why : str
        The decision in one sentence.
    results : tuple of Bundle
        The most worth having first.
    steps : tuple of StepWorth
        In the order of the plan.
    best_subset : Choice
    alternatives : tuple of Choice
        The next best, at most four.
    search : ChoiceSearch
    currency : str
    notes : tuple of Note
    """

    plan: str
    why: str
    results: tuple[Bundle, ...]
    steps: tuple[StepWorth, ...]
    best_subset: Choice
    alternatives: tuple[Choice, ...]
    search: ChoiceSearch
    currency: str
    notes: tuple[Note, ...] = field(default=())

    def _view(self) -> View:
        return View(
            title=f"Steps of {self.plan}",
            facts=(self.why,),
            header=("result", "needs", "adds", "costs", "net", "pays"),
            rows=[
                (
                    one.name,
                    ", ".join(one.needs),
                    told(one.adds, self.currency),
                    told(one.costs),
                    told(one.net),
                    odds_words(one.odds_it_pays),
                )
                for one in self.results
            ],
            notes=self.notes,
        )


def evaluate_steps(
    pricer: Pricer,
    plan: BuildPlan,
    as_of: date,
    *,
    price: float | None = None,
    budget: float | None = None,
    finish_by: date | None = None,
    simulation: Simulation | None = None,
) -> StepsReport:
    """Which steps to do, what each result is worth with all that it needs, and what each step left out would cost.

    Every way of reaching a result is compared (up to 4,096 of them); the best dozen are then simulated with all that
    stands beside them in the answer, so that no figure contradicts another. Of more ways, good ones are searched step
    by step, and a bound says what none can pass.

    Parameters
    ----------
    pricer, plan, as_of, simulation
        As for ``evaluate_paths``.
    price : float, optional
        Purchase price; the plan's ``purchase.asked`` unless given, else 0.
    budget : float, optional
        Most money for the steps: their parts and labour as expected. What the vehicle, its holding and its sale cost
        is not in it.
    finish_by : date, optional
        Day by which the build is expected to be finished.

    Raises
    ------
    PlanError
        The plan contradicts itself or has no steps, the budget is not an amount of money, or the date has passed.
    """
    check_plan(plan, pricer, as_of)
    if not plan.steps:
        raise PlanError(f"Plan '{plan.name}' has no steps to choose from. Add one that starts with a line [[steps]].")
    if budget is not None and not (math.isfinite(budget) and budget >= 0):
        raise PlanError(
            f"Cannot choose the steps of plan '{plan.name}' for a budget of {budget!r}: money of 0 or more is "
            "accepted. Give the most that parts and labour may cost, or leave it out."
        )
    plan, passed = standing(pricer, at_price(plan, price), as_of)
    first_day, _ = start_of(plan, as_of)
    limits = Limits(budget, None if finish_by is None else (finish_by - first_day).days / DAYS_PER_WEEK)
    if limits.weeks is not None and limits.weeks < 0:
        raise PlanError(
            f"Plan '{plan.name}': nothing can be finished by {finish_by}, since the build starts on "
            f"{first_day}. Set a later date, or leave it out."
        )
    simulation = simulation or Simulation(scenarios=1024 if len(plan.steps) <= LONG_PLAN else 128)
    answer = _Answer(pricer, plan, first_day, limits, simulation)
    full = answer.weighed[tuple([True] * len(plan.steps))]
    known = pricer.notes_on(full.path.states.vehicles[0], full.path.sale_date)
    return answer.report(each_once((*passed, *full.path.notes, *known)))


class _Answer:
    """The best choice, and what stands beside it, each choice of steps simulated once."""

    def __init__(
        self, pricer: Pricer, plan: BuildPlan, first_day: date, limits: Limits, simulation: Simulation
    ) -> None:
        self.pricer, self.plan, self.limits = pricer, plan, limits
        self.needs = with_needs(plan)
        screen = Screen(pricer, plan, first_day)
        found = ways(plan, self.needs)
        self.exact = found is not None
        candidates = climb(screen, self.needs, limits) if found is None else found
        figures = screen.figures(candidates)
        allowed = limits.kept_by(figures.steps_cost, figures.weeks)
        order = sorted(range(len(candidates)), key=lambda i: (not allowed[i], -figures.profit[i]))
        self.candidates: list[Done] = [tuple(candidates[i].tolist()) for i in order]
        self.weighed = Weighed(pricer, plan, first_day, simulation, screen.step_costs)
        for done in self.candidates[:FINALISTS]:
            self.weighed[done]
        self.best = self._best()
        while True:
            self.bundles, self.losses = self._bundles(), self._losses()
            for pair in (*self.bundles.values(), *self.losses.values()):
                for done in pair:
                    self.weighed[done]
            if self._best() == self.best:
                break
            self.best = self._best()
        self.bound = self.weighed[self.best].profit.value if self.exact else profit_bound(screen, self.needs, limits)

    def _best(self) -> Done:
        return self._ranked()[0]

    def _ranked(self) -> list[Done]:
        """Choices within the limits by expected profit; of equals the one with fewer steps."""
        known = [done for done, one in self.weighed.items() if self.limits.kept_by(one.cost, one.weeks)]
        return sorted(known, key=lambda done: (-self.weighed[done].profit.value, sum(done), done))

    def _bundles(self) -> dict[int, tuple[Done, Done]]:
        """For the step that completes each result to be shown: the choices with it and without it."""
        tops = sorted({i for steps in settlers(self.plan).values() for i in steps})
        kept = [i for i in tops if self.best[i]]
        whole = [i for i in kept if not any(self.needs[j, i] for j in kept if j != i)]
        pairs = {i: (self.best, self._rest(i, kept)) for i in whole}
        for i in tops:
            if not self.best[i]:
                pairs[i] = self._instead(i, kept), self.best
        return pairs

    def _rest(self, top: int, kept: Iterable[int]) -> Done:
        """The best choice less a result, and less what only that result needs."""
        others = [i for i in kept if not self.needs[i, top] and not self.needs[top, i]]
        return tuple(way(others, self.needs).tolist())

    def _instead(self, top: int, kept: Iterable[int]) -> Done:
        """The best choice with a result that it leaves out, in place of what settles the same attributes."""
        steps = self.plan.steps
        others = [i for i in kept if not steps[i].sets.keys() & steps[top].sets.keys()]
        return tuple(way([*others, top], self.needs).tolist())

    def _joined(self, step: int) -> Done:
        return tuple((self.needs[step] | self.best).tolist())

    def _losses(self) -> dict[int, tuple[Done, Done]]:
        """For each step the choices with it and without it and all that hangs on it."""
        pairs = {}
        for i, kept in enumerate(self.best):
            without = tuple(one and not self.needs[j, i] for j, one in enumerate(self.best))
            pairs[i] = (self.best, tuple(map(bool, without))) if kept else (self._joined(i), self.best)
        return pairs

    def report(self, notes: tuple[Note, ...]) -> StepsReport:
        plan, best = self.plan, self.best
        ranked = [done for done in self._ranked() if done in set(self.candidates)][:SHOWN]
        choices = [self.weighed.choice(done, best) for done in (best, *(one for one in ranked if one != best))][:SHOWN]
        pairs = {*self.bundles.values(), *self.losses.values()}
        worths = self.weighed.worths(pairs)
        ids = [step.id for step in plan.steps]
        results = [
            Bundle(
                **worths[pair].fields(),
                name=_reached(plan, top),
                needs=tuple(name for i, name in enumerate(ids) if self.needs[top, i]),
                of_these=tuple(name for i, name in enumerate(ids) if pair[0][i] and not pair[1][i]),
                do=best[top],
                why_not="" if best[top] else self._why_not(pair[0], worths[pair]),
            )
            for top, pair in self.bundles.items()
        ]
        steps = tuple(
            StepWorth(
                **worths[pair].fields(),
                id=ids[i],
                what=plan.steps[i].what,
                do=best[i],
                needed_by=tuple(name for j, name in enumerate(ids) if j != i and self.needs[j, i]),
            )
            for i, pair in self.losses.items()
        )
        full = self.weighed.choice(tuple([True] * len(ids)), best)
        return StepsReport(
            plan=plan.name,
            why=_decision(choices[0], full),
            results=tuple(sorted(results, key=lambda one: (not one.do, -one.net))),
            steps=steps,
            best_subset=choices[0],
            alternatives=tuple(choices[1:]),
            search=self._search(choices[0]),
            currency=self.pricer.currency,
            notes=notes,
        )

    def _why_not(self, done: Done, worth: Worth) -> str:
        one = self.weighed[done]
        if not self.limits.kept_by(one.cost, one.weeks):
            over = self.limits.budget is not None and one.cost > self.limits.budget
            return "over the budget" if over else "not ready by the day"
        return f"costs {money(worth.costs)} and adds {money(worth.adds)}" if worth.net < 0 else "brings nothing more"

    def _search(self, best: Choice) -> ChoiceSearch:
        searched = len(self.candidates)
        if self.exact:
            words = say("All {n} ways of reaching a result were compared.", n=f"{searched:,}")
        else:
            gap = max(self.bound - best.expected_profit, 0.0)
            words = say(
                "Too many ways to compare one by one: {n} were, searched step by step. No choice can expect more than "
                "{bound}, {gap} above this one.",
                n=f"{searched:,}",
                bound=at_least(self.bound),
                gap=about(gap),
            )
        return ChoiceSearch(self.exact, self.bound, searched, words)


def _reached(plan: BuildPlan, top: int) -> str:
    """What a step makes of the vehicle, in words."""
    words = []
    for name, value in plan.steps[top].sets.items():
        title = name.replace("_", " ")
        words.append(f"{'' if value else 'no '}{title}" if isinstance(value, bool) else f"{title} {value}")
    return ", ".join(words)


def _decision(best: Choice, full: Choice) -> str:
    expect, with_all = _expect(best), _profit(full)
    if not best.left_out:
        return say("Do every step: {expect}. No choice of fewer steps is expected to bring more.", expect=expect)
    if not best.steps:
        return say(
            "Do none of the steps: {expect} sold as it stands, against {all} with all.", expect=expect, all=with_all
        )
    left = listed(best.left_out)
    if len(best.left_out) > MOST_NAMED:
        left = say("the other {n}", n=len(best.left_out))
    return say(
        "Do {steps}; leave out {left}: {expect}, against {all} with every step.",
        steps=listed(best.steps),
        left=left,
        expect=expect,
        all=with_all,
    )


def _expect(one: Choice) -> str:
    return say("expect {profit}", profit=_profit(one))


def _profit(one: Choice) -> str:
    profit = about(abs(one.expected_profit), error=one.simulation_error)
    return profit if one.expected_profit >= 0 else say("a loss of {amount}", amount=profit)
