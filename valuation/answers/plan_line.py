"""A build plan in one line: all money in, when it is ready, the odds of the show, and the most to pay."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from valuation.build.figures import about, at_most, listed, odds_words
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.day import day_of
from valuation.paths.compare import path_result
from valuation.paths.deal_path import as_found, check_plan, prepare
from valuation.paths.pricer import Pricer


@dataclass(frozen=True, slots=True)
class PlanLine:
    """What a plan comes to; money in the table's currency, odds from 0 to 1.

    Attributes
    ----------
    name : str
    bought : bool
        Whether the vehicle is the shop's already: the line then counts from today, and nothing is to be paid.
    all_in : float
        All money put in, with the price paid or asked and with interest until the sale.
    price : float or None
        The price in it; None while none is known, and it is then left out.
    ready : date or None
        Most likely day; None for a plan without steps.
    odds_of_event : float or None
        None where no show is made.
    expected_profit : float
    most_to_pay : float
    counted_as_nothing : tuple of str
        What the plan and the shop do not tell.
    words : str
        The line as it stands below the cards.
    """

    name: str
    bought: bool
    all_in: float
    price: float | None
    ready: date | None
    odds_of_event: float | None
    expected_profit: float
    most_to_pay: float
    counted_as_nothing: tuple[str, ...]
    words: str = field(init=False, default="")

    def __post_init__(self) -> None:
        object.__setattr__(self, "words", self._in_words())

    def _in_words(self) -> str:
        without = "" if self.price is not None else ", the purchase not counted"
        parts = [f"All in {about(self.all_in)}{without}"]
        if self.ready is not None:
            parts.append(f"ready about {self.ready:%-d %B %Y}")
        if self.odds_of_event is not None:
            parts.append(f"{odds_words(self.odds_of_event)} that it makes the show")
        if self.bought:
            parts.append(f"expect {about(self.expected_profit)} in the end")
        elif self.most_to_pay > 0:
            parts.append(f"pay at most {at_most(self.most_to_pay)}")
        else:
            parts.append("walk away: no price meets the goal")
        line = "; ".join(parts) + "."
        if self.counted_as_nothing:
            line += f" Counted as nothing, since not told: {listed(self.counted_as_nothing)}."
        return line


def plan_line(model: Pricer, plan: BuildPlan, as_of: date | None = None) -> PlanLine:
    """What a plan comes to, in the very figures of a comparison, and quickly enough to follow its cards as they change.

    Parameters
    ----------
    model : Pricer
    plan : BuildPlan
        May have no steps yet: the vehicle is then sold as found.
    as_of : date or None
        Day of the purchase, or of the question where it is bought; today unless given.

    Raises
    ------
    PlanError
        The plan contradicts itself, the table's currency, the schema or the calendar.
    """
    day = day_of(as_of)
    check_plan(plan, model, day)
    result = path_result(prepare(model, plan if plan.steps else as_found(plan), day, Simulation()), plan.goal)
    return PlanLine(
        name=plan.name,
        bought=plan.progress is not None and plan.progress.until(day) is not None,
        all_in=result.outlay.mean,
        price=result.price,
        ready=None if result.finish is None else result.finish.likely,
        odds_of_event=result.odds_of_event,
        expected_profit=result.expected_profit,
        most_to_pay=result.most_to_pay,
        counted_as_nothing=result.counted_as_nothing,
    )


def still_needed(name: str, steps: bool) -> str:
    """What a plan that is being written lacks, in a sentence; empty where it is whole.

    Parameters
    ----------
    name : str
    steps : bool
        Whether it has any.

    Examples
    --------
    >>> still_needed("", steps=False)
    'Give the plan a name and a first step; then this line says what it comes to.'
    >>> still_needed("", steps=True), still_needed("driver", steps=True)
    ('Give the plan a name to keep it.', '')
    """
    if steps:
        return "" if name.strip() else "Give the plan a name to keep it."
    wanted = "a first step" if name.strip() else "a name and a first step"
    return f"Give the plan {wanted}; then this line says what it comes to."
