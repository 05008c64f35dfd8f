"""A build under way: what went in so far, what is left to do, and what the overrun so far says of the rest."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from valuation.build.figures import about, money
from valuation.build.interest import flow, growth
from valuation.build.plan import BuildPlan, Step
from valuation.build.progress import BegunStep, Progress, check_progress, progress_in_words
from valuation.build.scenarios import own_scatter, shared_overrun
from valuation.build.states import finished
from valuation.build.terms import Purchase
from valuation.build.three_point import Overrun
from valuation.errors import PlanError
from valuation.text.language import say
from valuation.year import DAYS_PER_WEEK

WAITING = "holding and the bay"
"""What a vehicle costs by the week, among the sums that went in."""
LEAST_SCATTER = 0.05
"""How far one step's overrun lies from the whole build's at the least, log units: common practice, no source."""


@dataclass(frozen=True, slots=True)
class SpentSoFar:
    """Money that went in already; without interest."""

    what: str
    on: date
    amount: float


@dataclass(frozen=True, slots=True)
class UnderWay:
    """Where a build stands.

    Attributes
    ----------
    plan : str
    done, to_do : tuple of str
        Steps by their ids.
    spent : tuple of SpentSoFar
        In order of time.
    spent_in_all : float
        Their sum, money.
    tied_up : float
        The same with interest until today. What a sale must bring for the money to come back, before what is still to
        go in.
    planned, actual : float
        Likely cost of the steps that are done, labour included, and what they and the costs that no step planned came
        to; money.
    overrun_so_far : float or None
        Actual over planned; None where nothing was planned for what is done.
    overrun_to_go : Overrun
        What it says of the rest, beside the overrun that the plan states.
    words : str
        The same in a sentence or two.
    begun, left_out : tuple of str
        Steps by their ids; what is begun is among those to do.
    over : tuple of str
        A sentence for each figure of a begun step that is over its likely one already.
    """

    plan: str
    done: tuple[str, ...]
    to_do: tuple[str, ...]
    spent: tuple[SpentSoFar, ...]
    spent_in_all: float = field(init=False, default=0.0)
    tied_up: float
    planned: float
    actual: float
    overrun_so_far: float | None
    overrun_to_go: Overrun
    words: str = field(init=False, default="")
    begun: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    over: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "spent_in_all", sum(one.amount for one in self.spent))
        object.__setattr__(self, "words", " ".join((self._in_words(), *self.over)))

    def _in_words(self) -> str:
        spent = money(self.spent_in_all)
        if self.overrun_so_far is None:
            return say("{spent} went in so far.", spent=spent)
        so_far = say(
            "{spent} went in so far; the steps done came to {actual} where {planned} was likely",
            spent=spent,
            actual=money(self.actual),
            planned=money(self.planned),
        )
        if not self.to_do:
            return say(
                "{so_far}. Every step is done: write [{low}, {high}] among past_jobs under [overrun], so that the next "
                "plan knows.",
                so_far=so_far,
                low=f"{self.planned:.0f}",
                high=f"{self.actual:.0f}",
            )
        share = 100 * (self.overrun_to_go.typical - 1)
        end = say("{percent} over", percent=f"{share:.0f} %")
        if share < 0:
            end = say("{percent} under", percent=f"{-share:.0f} %")
        return say("{so_far}, and the rest is now expected to end {end} its likely figures.", so_far=so_far, end=end)


def from_today(plan: BuildPlan, today: date) -> tuple[BuildPlan, UnderWay | None]:
    """What is left of a plan on a day, and where the build stands; the plan itself where it is not under way then.

    The vehicle is found as the steps that are done have left it, and stands in the books with all that went in. Of a
    step that is begun its rest is to do: what it comes to, given that it exceeds what it took so far, less that.

    Parameters
    ----------
    plan : BuildPlan
        As checked by ``check_plan``.
    today : date
        Day from which the rest is counted.
    """
    progress = None if plan.progress is None else plan.progress.until(today)
    if progress is None:
        return replace(plan, progress=None), None
    done, gone = {one.step for one in progress.done}, set(progress.left_out)
    begun = {one.step: one for one in progress.begun}
    whole = tuple(
        replace(
            step,
            after=tuple(name for name in step.after if name not in done),
            after_if_done=tuple(name for name in step.after_if_done if name not in done | gone),
        )
        for step in plan.steps
        if step.id not in done | gone
    )
    spent, tied_up = _spent(plan, progress, today)
    finished_steps = [step for step in plan.steps if step.id in done]
    planned, actual = _planned(plan, finished_steps), _actual(plan, progress)
    overrun = _overrun_to_go(plan, finished_steps, whole, planned, actual)
    left = _rests(replace(plan, steps=whole, shop=replace(plan.shop, overrun=overrun)), begun)
    overrun = _overrun_to_go(plan, finished_steps, left, planned, actual)
    state = UnderWay(
        plan=plan.name,
        done=tuple(step.id for step in finished_steps),
        to_do=tuple(step.id for step in left),
        spent=spent,
        tied_up=tied_up,
        planned=planned,
        actual=actual,
        overrun_so_far=actual / planned if planned > 0 else None,
        overrun_to_go=overrun,
        begun=tuple(one.step for one in progress.begun),
        left_out=progress.left_out,
        over=tuple(_over(plan, left, begun)),
    )
    rest = replace(
        plan,
        found=finished(plan, [step.id in done for step in plan.steps]),
        steps=left,
        purchase=Purchase(asked=tied_up),
        shop=replace(plan.shop, overrun=overrun),
        start=None,
        progress=None,
    )
    return rest, state


def with_progress(
    plans: Sequence[BuildPlan], bought: str | None, done: Sequence[str], currency: str
) -> list[BuildPlan]:
    """Plans of one vehicle with the progress that a command line says; each takes the steps that it has.

    Parameters
    ----------
    plans : sequence of BuildPlan
    bought : str or None
        ``PRICE@DATE``; None: the plans as they are.
    done : sequence of str
        ``STEP=DATE:COST:HOURS``.
    currency : str

    Raises
    ------
    PlanError
        A word cannot be read, no plan has a step, or steps are done without a purchase.
    """
    if bought is None:
        if done:
            raise PlanError(
                "Cannot take a step as done of a vehicle that is not bought. Say when and for what price with --bought "
                "PRICE@DATE."
            )
        return list(plans)
    told = progress_in_words(bought, done, currency)
    known = {step.id for plan in plans for step in plan.steps}
    for one in told.done:
        if one.step not in known:
            raise PlanError(
                f"Cannot take '{one.step}' as done: no plan has such a step. The steps are: {', '.join(sorted(known))}."
            )
    answer = []
    for plan in plans:
        own = {step.id for step in plan.steps}
        progress = replace(told, done=tuple(one for one in told.done if one.step in own))
        check_progress(progress, plan.steps, plan.source_name or plan.name)
        answer.append(replace(plan, progress=progress))
    return answer


def _rests(plan: BuildPlan, begun: Mapping[str, BegunStep]) -> tuple[Step, ...]:
    """The steps to do, those that are begun without what they took so far.

    What was spent holds its share of the overrun, so it stands for less of the plan's own figures.
    """
    shared, shape = shared_overrun(plan), plan.shop.spread
    per_cost, per_hour = (scale * shared.factor.mean for scale in (shared.cost_scale, shared.hours_scale))

    def rest(step: Step) -> Step:
        if (took := begun.get(step.id)) is None:
            return step
        return replace(
            step,
            cost=step.cost.after(took.cost / per_cost, shape, shared.cost_scale),
            hours=step.hours.after(took.hours / per_hour, shape, shared.hours_scale),
        )

    return tuple(map(rest, plan.steps))


def _over(plan: BuildPlan, left: Sequence[Step], begun: Mapping[str, BegunStep]) -> Iterator[str]:
    """Where a begun step has taken more than was likely, and what is counted for its rest."""
    rests, shape = {step.id: step for step in left}, plan.shop.spread
    for step in plan.steps:
        if step.id not in begun:
            continue
        so_far, rest, what = begun[step.id], rests[step.id], step.what or step.id
        if so_far.cost > step.cost.likely:
            yield say(
                "'{step}' has cost {spent} so far where {likely} was likely; {more} more is counted for it.",
                step=what,
                spent=money(so_far.cost),
                likely=money(step.cost.likely),
                more=about(rest.cost.mean(shape)),
            )
        if so_far.hours > step.hours.likely:
            yield say(
                "'{step}' has taken {took} hours so far where {likely} were likely; {more} more are counted for it.",
                step=what,
                took=f"{so_far.hours:g}",
                likely=f"{step.hours.likely:g}",
                more=f"{rest.hours.mean(shape):.0f}",
            )
        if step.cost.high > rest.cost.high == 0 or step.hours.high > rest.hours.high == 0:
            yield say("That is all its plan allows for: write new figures into its card.")


def _planned(plan: BuildPlan, steps: list[Step]) -> float:
    return sum(step.cost.likely + plan.shop.labour_rate * step.hours.likely for step in steps)


def _actual(plan: BuildPlan, progress: Progress) -> float:
    rate = plan.shop.labour_rate
    steps = sum(one.cost + rate * one.hours for one in progress.done)
    return steps + sum(one.cost + rate * one.hours for one in progress.extra)


def _spent(plan: BuildPlan, progress: Progress, today: date) -> tuple[tuple[SpentSoFar, ...], float]:
    """What went in, and what it stands at with interest until today."""
    shop, rate, bought = plan.shop, plan.shop.interest_percent, progress.bought_on
    weeks = (today - bought).days / DAYS_PER_WEEK
    paid = [
        SpentSoFar("the vehicle, with fees and tax", bought, plan.purchase.paid(progress.paid)),
        SpentSoFar("title, inspection, transport", bought, plan.purchase.fixed),
        *(
            SpentSoFar(f"{one.step}: parts, and {one.hours:g} hours", one.on, one.cost + shop.labour_rate * one.hours)
            for one in progress.done
        ),
        *(
            SpentSoFar(
                f"{one.step}, begun: parts, and {one.hours:g} hours", one.on, one.cost + shop.labour_rate * one.hours
            )
            for one in progress.begun
        ),
        *(SpentSoFar(one.what, one.on, one.cost + shop.labour_rate * one.hours) for one in progress.extra),
    ]
    per_week = shop.holding_per_week + (shop.overhead_per_week / shop.bays if plan.steps else 0.0)
    waiting = SpentSoFar(WAITING, today, per_week * weeks)
    tied_up = sum(one.amount * float(growth((today - one.on).days / DAYS_PER_WEEK, rate)) for one in paid)
    tied_up += per_week * float(flow(weeks, rate))
    return tuple(sorted((one for one in (*paid, waiting) if one.amount), key=lambda one: one.on)), tied_up


def _overrun_to_go(plan: BuildPlan, done: list[Step], left: tuple[Step, ...], planned: float, actual: float) -> Overrun:
    """The overrun of the steps that are left, after those that are done.

    Notes
    -----
    The shared factor is log-normal; what the steps done came to is one observation of it, blurred by their own ranges.
    Conjugate normal update on the log (Gelman et al. 2013, Bayesian Data Analysis, 2.5).
    """
    stated = plan.shop.overrun
    if stated == Overrun.none() or planned <= 0 or actual <= 0:
        return stated
    prior = shared_overrun(plan).factor
    mean, variance = math.log(prior.typical), prior.log_spread**2
    own = own_scatter(plan, done)
    blur = max(own, LEAST_SCATTER**2)
    weight = variance / (variance + blur)
    mean += weight * (math.log(actual / planned) + own / 2 - mean)
    rest = own_scatter(plan, left)
    return Overrun.of_log(mean - rest / 2, math.sqrt(variance * (1 - weight) + rest))
