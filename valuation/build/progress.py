"""How far a build is: the purchase, which steps are done, begun or left out, and the costs that no step planned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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

TABLES = {"done": "step that is done", "begun": "step that is begun", "left_out": "step that is left out",
          "extra": "cost that no step planned"}  # fmt: skip
"""Tables of a plan that say how far it is, and what one row of each is."""


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
class BegunStep:
    """A step that is begun and not done; what it took so far counts as spent, and its rest is to do.

    Parameters
    ----------
    step : str
        Its id in the plan.
    on : date
        Day on which it was begun.
    cost : float
        What parts and outside work came to so far, money.
    hours : float
        Hours that the shop's own people took so far.
    """

    step: str
    on: date
    cost: float = 0.0
    hours: float = 0.0


@dataclass(frozen=True, slots=True)
class ExtraCost:
    """A cost that no step planned.

    Parameters
    ----------
    what : str
        What it was for.
    on : date
        Day on which it was spent.
    cost : float
        Parts and outside work, money.
    hours : float
        Hours of the shop's own people.
    """

    what: str
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
    begun : tuple of BegunStep
    left_out : tuple of str
        Steps that will not be done after all, by their ids.
    extra : tuple of ExtraCost
    """

    bought_on: date
    paid: float
    done: tuple[DoneStep, ...] = ()
    begun: tuple[BegunStep, ...] = ()
    left_out: tuple[str, ...] = ()
    extra: tuple[ExtraCost, ...] = ()

    def until(self, day: date) -> Progress | None:
        """What had happened by a day; None when the vehicle was not bought yet."""
        if day < self.bought_on:
            return None
        done, begun, extra = (
            tuple(one for one in dated if one.on <= day) for dated in (self.done, self.begun, self.extra)
        )
        return replace(self, done=done, begun=begun, extra=extra)  # type: ignore[arg-type]


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
    rows = {name: _rows(top, name) for name in TABLES}
    table = top.table("bought")
    if table is None:
        for name in TABLES:
            if rows[name]:
                raise top.refusal(
                    name, "stands without [bought].", "Say under [bought] on which day the vehicle was bought, and for "
                    "what price.",
                )  # fmt: skip
        return None
    table.only("on", "price")
    day = table.day("on")
    if day is None or "price" not in table.data:
        raise table.refusal("", "needs a day and a price.", "Write on = 2026-05-30 and price = 9500.")
    progress = Progress(
        day,
        table.number("price", 0.0, "money"),
        done=tuple(map(_done, rows["done"])),
        begun=tuple(map(_begun, rows["begun"])),
        left_out=tuple(map(_left_out, rows["left_out"])),
        extra=tuple(map(_extra, rows["extra"])),
    )
    check_progress(progress, steps, top.file)
    return progress


def _rows(top: TomlTable, name: str) -> list[TomlTable]:
    rows = top.data.get(name, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise top.refusal(name, f"is {shown(rows)}.", f"Start each {TABLES[name]} with a line [[{name}]].")
    return [TomlTable(top.file, f"[[{name}]] {i + 1}", row, currency=top.currency) for i, row in enumerate(rows)]


def _done(table: TomlTable) -> DoneStep:
    table.only("step", "on", "cost", "hours")
    return DoneStep(table.text("step"), _day(table, "finished"), *_came_to(table))


def _begun(table: TomlTable) -> BegunStep:
    table.only("step", "on", "cost", "hours")
    so_far = table.number("cost", 0.0, "money"), table.number("hours", 0.0, "hours")
    return BegunStep(table.text("step"), _day(table, "begun"), *so_far)


def _left_out(table: TomlTable) -> str:
    table.only("step")
    return table.text("step")


def _extra(table: TomlTable) -> ExtraCost:
    table.only("what", "on", "cost", "hours")
    return ExtraCost(table.text("what"), _day(table, "spent"), *_came_to(table))


def _day(table: TomlTable, happened: str) -> date:
    day = table.day("on")
    if day is None:
        raise table.refusal("on", "is missing.", f"Write the day on which it was {happened}: on = 2026-06-30.")
    return day


def _came_to(table: TomlTable) -> tuple[float, float]:
    """Money and hours that something took."""
    for key in ("cost", "hours"):
        if key not in table.data:
            raise table.refusal(key, "is missing.", f"Write what it came to; {key} = 0 where it took none.")
    return table.number("cost", 0.0, "money"), table.number("hours", 0.0, "hours")


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
    known, bought = {step.id: step for step in steps}, progress.bought_on
    done = [one.step for one in progress.done]
    for name, told in (
        ("done", done),
        ("begun", [one.step for one in progress.begun]),
        ("left_out", progress.left_out),
    ):
        _each_once(name, told, list(known), file)
    for one in progress.done:
        if one.on < bought or min(one.cost, one.hours) < 0 or progress.paid < 0:
            raise PlanError(
                f"Cannot use the plan {file}: the step '{one.step}' under [[done]] must not be done before {bought}, "
                f"the day of the purchase, and money and hours must be 0 or more; found {one.on}, cost {one.cost:g}, "
                f"hours {one.hours:g}. Correct it.",
                where="done",
            )
    for begun in progress.begun:
        if begun.on < bought or min(begun.cost, begun.hours) < 0:
            raise PlanError(
                f"Cannot use the plan {file}: the step '{begun.step}' under [[begun]] must not be begun before "
                f"{bought}, the day of the purchase, and money and hours so far must be 0 or more; found {begun.on}, "
                f"cost {begun.cost:g}, hours {begun.hours:g}. Correct it.",
                where="begun",
            )
    for extra in progress.extra:
        if extra.on < bought or min(extra.cost, extra.hours) < 0:
            raise PlanError(
                f"Cannot use the plan {file}: '{extra.what}' under [[extra]] must not be spent before {bought}, the "
                f"day of the purchase, and money and hours must be 0 or more; found {extra.on}, cost {extra.cost:g}, "
                f"hours {extra.hours:g}. Correct it.",
                where="extra",
            )
    _one_state_each(progress, file)
    _in_order(steps, done, progress.left_out, file)


def _each_once(table: str, told: Sequence[str], known: Sequence[str], file: str) -> None:
    """Refuse names that no step has, and a step told twice."""
    for i, name in enumerate(told):
        where = f"Cannot use the plan {file}: the step '{name}' under [[{table}]]"
        if name not in known:
            hint = did_you_mean(name, known)
            raise PlanError(
                f"{where} is not a step of this plan.{hint} The steps are: {', '.join(known)}.", where=table
            )
        if name in told[:i]:
            mend = "Keep one, with all that the step cost." if table == "done" else "Keep one."
            raise PlanError(f"{where} stands there twice. {mend}", where=table)


def _one_state_each(progress: Progress, file: str) -> None:
    """Refuse a step that is done, begun or left out at once."""
    state: dict[str, str] = {}
    told: Iterable[tuple[str, str]] = (
        *(("done", one.step) for one in progress.done),
        *(("begun", one.step) for one in progress.begun),
        *(("left_out", name) for name in progress.left_out),
    )
    for table, name in told:
        if name in state:
            raise PlanError(
                f"Cannot use the plan {file}: the step '{name}' stands under [[{state[name]}]] and under [[{table}]]. "
                "Keep the one that holds.",
                where=table,
            )
        state[name] = table


def _in_order(steps: Sequence[Planned], done: Sequence[str], left_out: Sequence[str], file: str) -> None:
    """Refuse steps that are done, or still to be done, without what must be done before them."""
    for step in sorted(steps, key=lambda one: one.id):
        for before in step.after:
            if step.id in done and before not in done:
                raise PlanError(
                    f"Cannot use the plan {file}: '{step.id}' is done and '{before}', which comes before it, is not. "
                    f"Write '{before}' under [[done]] too, or take it out of 'after'.",
                    where="done",
                )
            if before in left_out and step.id not in left_out:
                raise PlanError(
                    f"Cannot use the plan {file}: '{before}' is left out, and '{step.id}', which comes after it, is "
                    f"not. Leave '{step.id}' out too, or take '{before}' out of its 'after'.",
                    where="left_out",
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
