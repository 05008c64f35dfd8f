"""In the barn: what a find is worth as it stands and the most to pay for it, from tables made beforehand.

``answers/barn_answer.py`` says what they tell of a find.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from valuation.answers.given import PlanData, read_plans
from valuation.day import day_of
from valuation.errors import PlanError, VehicleError
from valuation.notes import Note, each_once
from valuation.paths.barn_grid import (
    COVERAGE,
    FIELDS,
    LINE,
    YEAR,
    BarnGrid,
    Field,
    LineAsked,
    LineTable,
    barn_grid,
    left_out_note,
)
from valuation.schema.attributes import Attribute, Role
from valuation.schema.vehicle import Vehicle
from valuation.view import View, Viewed

if TYPE_CHECKING:
    from valuation.build.plan import BuildPlan
    from valuation.comparables import Comparables
    from valuation.regression.model import PriceModel
    from valuation.schema.schema import Schema
    from valuation.schema.values import Value

MOST_LINES = 24
"""Lines with tables of their own, the most frequent first: each takes some 20 kB and half a second to make."""
MOST_LEVELS = 8
"""Levels of a scale that the schema leaves open, the most frequent first: what a telephone has room for."""
BEYOND = 3
"""Model years by which a line's table goes beyond the oldest and the newest of its sales."""
LIKELY = (0.1, 0.9)
"""Shares of the table's sales between which a number is taken to lie when its weight is told."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A level of a field, with its meaning."""

    name: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A field of the barn's screen.

    Attributes
    ----------
    name, title, meaning : str
        Of the attribute.
    choices : tuple of Choice
        In the order of the tables.
    """

    name: str
    title: str
    meaning: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class LookAt:
    """Something to look at before paying.

    Attributes
    ----------
    name, title, meaning : str
        Of the attribute.
    choices : tuple of Choice
        Its levels; empty for a number.
    moves_percent : float
        By how much the best is worth more than the worst, all else the same.
    moves : str
        The same in words.
    """

    name: str
    title: str
    meaning: str
    choices: tuple[Choice, ...]
    moves_percent: float
    moves: str = field(init=False, default="")

    def __post_init__(self) -> None:
        times = 1 + self.moves_percent / 100
        words = f"up to {times:.1f} times" if times >= 2 else f"up to {self.moves_percent:.0f} %"
        object.__setattr__(self, "moves", words)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class BarnTables(Viewed):
    """Everything that the barn's screen answers from; money in ``currency``.

    Attributes
    ----------
    as_of : date
        The day on which the tables were made and for which they hold.
    currency : str
        Empty when the table of sales names none.
    table : str
        The table of sales behind them.
    coverage : float
        Of the range of a worth.
    fields : tuple of Asked
        What is told of a find, besides its line and year.
    grid : BarnGrid
    look_at : tuple of LookAt
        What moves the price most first.
    """

    as_of: date
    currency: str
    table: str
    coverage: float
    fields: tuple[Asked, ...]
    grid: BarnGrid
    look_at: tuple[LookAt, ...]

    @property
    def years(self) -> tuple[int, int]:
        """The first and the last model year that any line's table holds."""
        return min(one.years[0] for one in self.grid.lines), max(one.years[-1] for one in self.grid.lines)

    def line(self, name: str) -> LineTable:
        """The table of a line; that of all others where it has none of its own."""
        return next(one for one in self.grid.lines if one.name == name)

    def _view(self) -> View:
        lines, builds = self.grid.lines, self.grid.builds
        return View(
            title="Tables for the barn",
            facts=(f"{len(lines)} lines", f"{len(builds)} builds", f"as of {self.as_of}"),
            header=("line", "model years", "builds"),
            rows=[
                (
                    one.name or "any other line",
                    f"{one.years[0]} to {one.years[-1]}",
                    ", ".join(build.name for build in builds if build.line == one.name),
                )
                for one in lines
            ],
            notes=self.grid.notes,
        )


def barn(
    model: PriceModel,
    comparables: Comparables,
    plans: Sequence[PlanData],
    usual: PlanData,
    as_of: date | None = None,
    *,
    tell: Callable[[int, int], None] | None = None,
) -> BarnTables:
    """Tables to carry into the barn, as of today unless told.

    Parameters
    ----------
    model : PriceModel
    comparables : Comparables
        The table that it is a fit of.
    plans : sequence of str or mapping
        The shop's builds, each as text or data; one that cannot be read is left out, and a note says so.
    usual : str or mapping
        A plan without steps, whose terms hold for selling a line as found of which there is no plan.
    as_of : date or None
    tell : callable, optional
        Told how many tables are done, and of how many.
    """
    day, used = day_of(as_of), {one.name: one for one in model.attributes}
    (terms,) = read_plans([usual], model.schema, steps_needed=False)
    builds, notes = _readable(plans, model.schema)
    asked = [_asked(used[name], model) for name in FIELDS if name in used]
    fields = [Field(one.name, tuple(choice.name for choice in one.choices)) for one in asked if one.choices]
    grid = barn_grid(model, builds, terms, day, _lines(comparables, used), fields, tell)
    return BarnTables(
        as_of=day,
        currency=model.currency,
        table=model.table_name,
        coverage=COVERAGE,
        fields=tuple(one for one in asked if one.choices),
        grid=replace(grid, notes=each_once((*notes, *grid.notes))),
        look_at=_look_at(model, comparables, grid, day),
    )


def _readable(plans: Sequence[PlanData], schema: Schema) -> tuple[list[BuildPlan], list[Note]]:
    """The plans that the schema can read, and a note for each of the others."""
    found: list[BuildPlan] = []
    notes: list[Note] = []
    for plan in plans:
        try:
            found += read_plans([plan], schema, steps_needed=False)
        except (PlanError, VehicleError) as error:
            notes.append(left_out_note(str(error)))
    return found, notes


def _asked(attribute: Attribute, model: PriceModel) -> Asked:
    levels = [Choice(one.name, one.meaning) for one in attribute.levels]
    seen = [Choice(str(one), "") for one in model.levels_seen().get(attribute.name, ())[:MOST_LEVELS]]
    return Asked(attribute.name, attribute.title, attribute.meaning, tuple(levels or seen))


def _lines(comparables: Comparables, used: Mapping[str, Attribute]) -> list[LineAsked]:
    """Lines with the model years of their sales and some beyond, the most frequent first, and one for all others."""
    cells = comparables.features()
    if YEAR not in used:
        raise VehicleError("Cannot make tables for the barn: the table of sales has no model year. Add that column.")
    least, most = used[YEAR].minimum or -math.inf, used[YEAR].maximum or math.inf
    years = cells[YEAR].dropna()

    def span(name: str, low: float, high: float) -> LineAsked:
        return LineAsked(name, int(max(low - BEYOND, least)), int(min(high + BEYOND, most)))

    lines = []
    if LINE in used:
        names = cells[LINE].dropna().astype(str)
        for name in names.value_counts().index[:MOST_LINES]:
            own = years[names.index[names == name].intersection(years.index)]
            if len(own):
                lines.append(span(str(name), float(own.min()), float(own.max())))
    return [*lines, span("", float(years.min()), float(years.max()))]


def _look_at(model: PriceModel, comparables: Comparables, grid: BarnGrid, day: date) -> tuple[LookAt, ...]:
    """What a buyer should look at, by how far it moves the price of an ordinary find of the most frequent line."""
    line, cells = grid.lines[0], comparables.features()
    middle: dict[str, Value] = {one.name: one.levels[len(one.levels) // 2] for one in grid.fields}
    middle |= {YEAR: float(line.years[len(line.years) // 2]), **({LINE: line.name} if line.name else {})}
    seen, found = model.levels_seen(), []
    for one in model.attributes:
        if one.name in (LINE, YEAR) or one.role in (Role.DATE, Role.SMOOTH):
            continue
        ends: list[Value] = [level.name for level in one.levels] or list(seen.get(one.name, ()))
        if one.role is Role.FLAG:
            ends = [False, True]
        elif one.role in (Role.NUMBER, Role.COUNT):
            ends = [float(end) for end in cells[one.name].dropna().astype(float).quantile(list(LIKELY))]
        if len(ends) < 2:
            continue
        worths = model.distribution([Vehicle("find", {**middle, one.name: end}) for end in ends], day).median()
        moves = 100 * (float(worths.max() / worths.min()) - 1)
        choices = tuple(Choice(level.name, level.meaning) for level in one.levels)
        found.append(LookAt(one.name, one.title, one.meaning, choices, moves))
    return tuple(sorted(found, key=lambda one: -one.moves_percent))
