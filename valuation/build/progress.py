"""How far a build is: what was paid for the vehicle and when, which steps are done, on which day and at what cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Protocol

from valuation.build.toml_table import TomlTable
from valuation.errors import PlanError, shown
from valuation.text.dates import read_day
from valuation.text.money import read_amount
from valuation.text.numbers import read_number
from valuation.text.reading import Reading
from valuation.text.spelling import did_you_mean


@dataclass(frozen=True, slots=True)
class DoneStep:
    """A step that is done.

    Parameters
    ----------
    step : str
        Its id in the plan.
    on : date
        Day on which it was finished.
    cost : float
        What parts and outside work came to, money.
    hours : float
        Hours that the shop's own people took.
    """

    step: str
    on: date
    cost: float = 0.0
    hours: float = 0.0


@dataclass(frozen=True, slots=True)
class Progress:
    """A build under way.

    Parameters
    ----------
    bought_on : date
    paid : float
        Purchase price, money; fees and transport are the plan's.
    done : tuple of DoneStep
    """

    bought_on: date
    paid: float
    done: tuple[DoneStep, ...] = ()

    def until(self, day: date) -> Progress | None:
        """What had happened by a day; None when the vehicle was not bought yet."""
        if day < self.bought_on:
            return None
        return Progress(self.bought_on, self.paid, tuple(one for one in self.done if one.on <= day))


class Planned(Protocol):
    """What this module needs of a step."""

    @property
    def id(self) -> str:
        """Its short name."""

    @property
    def after(self) -> tuple[str, ...]:
        """Steps that must be done before."""


def read_progress(top: TomlTable, steps: Sequence[Planned]) -> Progress | None:
    """Progress from the tables [bought] and [[done]] of a plan.

    Parameters
    ----------
    top : TomlTable
        The whole plan.
    steps : sequence of Planned
        Of the plan.

    Raises
    ------
    PlanError
        A table contradicts itself or the plan's steps; table, key, value and mend are named.
    """
    rows = top.data.get("done", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise top.refusal("done", f"is {shown(rows)}.", "Start each step that is done with a line [[done]].")
    table = top.table("bought")
    if table is None:
        if rows:
            raise top.refusal(
                "done", "stands without [bought].", "Say under [bought] on which day the vehicle was bought, and for "
                "what price.",
            )  # fmt: skip
        return None
    table.only("on", "price")
    day = table.day("on")
    if day is None or "price" not in table.data:
        raise table.refusal("", "needs a day and a price.", "Write on = 2026-05-30 and price = 9500.")
    done = tuple(
        _done(TomlTable(top.file, f"[[done]] {i + 1}", row, currency=top.currency)) for i, row in enumerate(rows)
    )
    progress = Progress(day, table.number("price", 0.0, "money"), done)
    check_progress(progress, steps, top.file)
    return progress


def _done(table: TomlTable) -> DoneStep:
    table.only("step", "on", "cost", "hours")
    day = table.day("on")
    if day is None:
        raise table.refusal("on", "is missing.", "Write the day on which it was finished: on = 2026-06-30.")
    for key in ("cost", "hours"):
        if key not in table.data:
            raise table.refusal(key, "is missing.", f"Write what it came to; {key} = 0 where it took none.")
    return DoneStep(table.text("step"), day, table.number("cost", 0.0, "money"), table.number("hours", 0.0, "hours"))


def check_progress(progress: Progress, steps: Sequence[Planned], file: str) -> None:
    """Refuse progress that the plan's steps contradict.

    Parameters
    ----------
    progress : Progress
        What was bought and done.
    steps : sequence of Planned
        Of the plan.
    file : str
        The plan's name, for messages.

    Raises
    ------
    PlanError
        Naming the step, what was found and the mend.
    """
    known = {step.id: step for step in steps}
    done: set[str] = set()
    for one in progress.done:
        where = f"Cannot use the plan {file}: the step '{one.step}' under [[done]]"
        if one.step not in known:
            hint = did_you_mean(one.step, list(known))
            raise PlanError(
                f"{where} is not a step of this plan.{hint} The steps are: {', '.join(known)}.", where="done"
            )
        if one.step in done:
            raise PlanError(f"{where} stands there twice. Keep one, with all that the step cost.", where="done")
        if one.on < progress.bought_on or min(one.cost, one.hours) < 0 or progress.paid < 0:
            raise PlanError(
                f"{where} must not be done before {progress.bought_on}, the day of the purchase, and money and hours "
                f"must be 0 or more; found {one.on}, cost {one.cost:g}, hours {one.hours:g}. Correct it.",
                where="done",
            )
        done.add(one.step)
    for name in sorted(done):
        for before in known[name].after:
            if before not in done:
                raise PlanError(
                    f"Cannot use the plan {file}: '{name}' is done and '{before}', which comes before it, is not. "
                    f"Write '{before}' under [[done]] too, or take it out of 'after'.",
                    where="done",
                )


def progress_in_words(bought: str, done: Sequence[str], currency: str = "") -> Progress:
    """Progress as a command line says it.

    Parameters
    ----------
    bought : str
        ``PRICE@DATE``.
    done : sequence of str
        ``STEP=DATE:COST:HOURS``, one for each step that is done.
    currency : str
        Of the table.

    Raises
    ------
    PlanError
        A word is none such.

    Examples
    --------
    >>> progress_in_words("9000@2026-05-01", ["engine=2026-07-10:5200:110"]).done[0].hours
    110.0
    """
    form = "PRICE@DATE, such as 9000@2026-05-01"
    try:
        price, _, day = bought.partition("@")
        progress = Progress(read_day(day, Reading()), read_amount(price, currency))
        form = "STEP=DATE:COST:HOURS, such as engine=2026-07-10:5200:110"
        steps = []
        for bought in done:
            name, _, rest = bought.partition("=")
            day, cost, hours = rest.split(":")
            took = DoneStep(name.strip(), read_day(day, Reading()), read_amount(cost, currency), read_number(hours))
            steps.append(took)
    except ValueError:
        raise PlanError(f"Cannot read {shown(bought)} as progress of a build. Write it as {form}.") from None
    return replace(progress, done=tuple(steps))
