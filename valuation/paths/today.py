"""A build under way: what to do today, with what was spent left out of the choice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from valuation.build.figures import about, listed, odds_said
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.build.under_way import UnderWay, from_today
from valuation.paths.deal_path import AS_IT_STANDS, DealPath, FinishDays, as_found, finish_days, prepare, without_event
from valuation.paths.pricer import Pricer
from valuation.paths.steps import evaluate_steps
from valuation.text.language import say

SIMULATION = Simulation(scenarios=1024)
"""Fewer scenarios than a comparison gets: each way on is simulated, and what is done no longer varies."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to go on from today; money, odds from 0 to 1.

    Attributes
    ----------
    name : str
    steps : tuple of str
        Still to be done.
    to_go : float
        Expected outlay from today on.
    brings : float
        Expected proceeds.
    better_by : float
        Expected gain over selling the vehicle as it stands, waiting and interest paid for. What was spent is not in it.
    profit_in_all : float
        Expected profit with all that went in so far.
    odds_of_loss : float
        Probability of a loss in all.
    finish : FinishDays or None
        None where nothing is left to do.
    odds_of_event : float or None
        None where no show is made.
    """

    name: str
    steps: tuple[str, ...]
    to_go: float
    brings: float
    better_by: float
    profit_in_all: float
    odds_of_loss: float
    finish: FinishDays | None
    odds_of_event: float | None


@dataclass(frozen=True, slots=True)
class Today:
    """Where a build stands, and what to do.

    Attributes
    ----------
    state : UnderWay
    stands_at : float
        What the vehicle is expected to bring as it stands, selling and waiting paid for, money.
    ways : tuple of Way
        The best first.
    why : str
        The decision in a sentence or two.
    """

    state: UnderWay
    stands_at: float
    ways: tuple[Way, ...]
    why: str


def evaluate_today(pricer: Pricer, plan: BuildPlan, as_of: date) -> Today | None:
    """The choice today for a plan under way: carry on, leave steps out, skip the show, or sell as it stands.

    Parameters
    ----------
    pricer : Pricer
        The price model.
    plan : BuildPlan
        As checked by ``check_plan``.
    as_of : date
        Day of the question.

    Returns
    -------
    Today or None
        None where the vehicle was not bought yet on that day.
    """
    _, state = from_today(plan, as_of)
    if state is None:
        return None
    path = prepare(pricer, plan, as_of, SIMULATION, event_decided=True)
    rest = path.plan
    stake = rest.purchase.stake
    ways = [_way(AS_IT_STANDS, prepare(pricer, as_found(rest), as_of, SIMULATION), stake)]
    if rest.steps or rest.event is not None:
        ways.append(_way(say("carry on"), path, stake))
    if rest.event is not None:
        ways.append(_way(say("skip the show"), without_event(pricer, path), stake))
    if rest.steps:
        best = evaluate_steps(pricer, plan, as_of, simulation=SIMULATION).best_subset
        if best.left_out and best.steps:
            kept = [step.id in best.steps for step in rest.steps]
            fewer = prepare(pricer, rest, as_of, SIMULATION, done=kept)
            ways.append(_way(say("leave out {steps}", steps=listed(best.left_out)), fewer, stake, best.steps))
    ways.sort(key=lambda one: -one.better_by)
    return Today(state, stake, tuple(ways), _decision(ways, stake))


def _way(name: str, path: DealPath, stake: float, steps: Sequence[str] | None = None) -> Way:
    deal, in_books = path.deal, path.plan.purchase.asked or 0.0
    left = tuple(step.id for step in path.plan.steps) if steps is None else tuple(steps)
    return Way(
        name=name,
        steps=left,
        to_go=float(deal.spent.mean()),
        brings=float(deal.expected_proceeds().mean()),
        better_by=deal.expected_profit(stake).value,
        profit_in_all=deal.expected_profit(in_books).value,
        odds_of_loss=deal.odds_of_loss(in_books).value,
        finish=finish_days(path) if left else None,
        odds_of_event=None if path.plan.event is None else float(path.outcome.on_time.mean()),
    )


def _decision(ways: Sequence[Way], stake: float) -> str:
    best = ways[0]
    if best.name == AS_IT_STANDS:
        others = ways[1:]
        if not others:
            return say("Sell it as it stands: it is worth {stake} to you so.", stake=about(stake))
        return say(
            "Sell it as it stands: it is worth {stake} to you so; the next best way, to {way}, is {less} worse.",
            stake=about(stake),
            way=others[0].name,
            less=about(-others[0].better_by),
        )
    words = say(
        "{way}: {more} more goes in and {back} comes back, {better} better than selling it as it stands.",
        way=f"{best.name[0].upper()}{best.name[1:]}",
        more=about(best.to_go),
        back=about(best.brings),
        better=about(best.better_by),
    )
    if best.finish is None:
        return words
    day = best.finish.likely
    if best.odds_of_event is None:
        return f"{words} {say('Ready about {day}.', day=day)}"
    ready = say("Ready about {day}; {odds} that it makes the show.", day=day, odds=odds_said(best.odds_of_event))
    return f"{words} {ready}"
