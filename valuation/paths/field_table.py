"""The most to pay over condition as found and model year: one table to take to a barn."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from valuation.build.figures import at_most
from valuation.build.plan import BuildPlan
from valuation.build.simulation import Simulation
from valuation.build.states import FinishedStates, finished
from valuation.build.terms import Goal
from valuation.errors import PlanError
from valuation.notes import Note, each_once
from valuation.paths.deal_path import as_found, check_plan, prepare, same_vehicle
from valuation.paths.most_to_pay import most_to_pay
from valuation.paths.pricer import Pricer
from valuation.regression.distribution import PriceDistribution
from valuation.schema.schema import Schema
from valuation.schema.values import Value
from valuation.schema.vehicle import Vehicle
from valuation.text.language import say
from valuation.text.rounding import told
from valuation.view import View, Viewed

FIELD_SIMULATION = Simulation(scenarios=512, shifts=8)
"""Fewer scenarios than for one find: a table in the field is read to the nearest hundred."""


NO_ENGINE = ("drivetrain", "missing")
"""Attribute and level of a vehicle without its engine, in the default schema."""


@dataclass(frozen=True, slots=True)
class FieldCell:
    """Most to pay for one condition and year, and the path that it is for; money.

    ``most_to_pay`` is None, and ``path`` empty, where no plan is given for a vehicle found in that condition.
    """

    condition: str
    model_year: float
    most_to_pay: float | None
    error: float
    path: str


@dataclass(frozen=True, slots=True)
class Assumed:
    """What one row of a field table takes the vehicle to be.

    Attributes
    ----------
    condition : str
        As found.
    as_found, as_built : str
        In words; as built: what the paths make of it that the row's figures are for.
    """

    condition: str
    as_found: str
    as_built: str


@dataclass(frozen=True, slots=True, repr=False)
class FieldTable(Viewed):
    """Most to pay over condition as found (rows) and model year (columns).

    Attributes
    ----------
    why : str
        The decision in one sentence.
    conditions : tuple of str
    years : tuple of float
    cells : tuple of FieldCell
        Row by row.
    without_engine : tuple of FieldCell
        For each row whose vehicle has its engine, the same vehicle without it, at the year of its plan.
    assumed : tuple of Assumed
        One for each row that has a plan.
    goal : Goal
    notes : tuple of Note
        What must be known of the plans and of the estimates behind them.
    """

    why: str
    conditions: tuple[str, ...]
    years: tuple[float, ...]
    cells: tuple[FieldCell, ...]
    without_engine: tuple[FieldCell, ...]
    assumed: tuple[Assumed, ...]
    goal: Goal
    notes: tuple[Note, ...] = ()

    def _view(self) -> View:
        return View(
            title="Most to pay, by condition as found and model year",
            facts=(self.why,),
            header=("condition", *(f"{year:g}" for year in self.years)),
            rows=[
                (condition, *(_shown(self.cell(condition, year)) for year in self.years))
                for condition in self.conditions
            ],
            notes=self.notes,
        )

    def cell(self, condition: str, year: float) -> FieldCell:
        """One cell; ``KeyError`` when it is not in the table.

        Parameters
        ----------
        condition : str
            As found.
        year : float
            Model year.
        """
        for cell in self.cells:
            if cell.condition == condition and cell.model_year == year:
                return cell
        raise KeyError((condition, year))


def _shown(cell: FieldCell) -> str:
    return "" if cell.most_to_pay is None else told(cell.most_to_pay, limit="down")


def field_table(
    pricer: Pricer,
    plans: Sequence[BuildPlan],
    as_of: date,
    *,
    years: Sequence[float],
    goal: Goal | None = None,
    condition: str = "condition",
    year: str = "model_year",
    simulation: Simulation = FIELD_SIMULATION,
) -> FieldTable:
    """Most to pay for one kind of vehicle over condition as found and model year, by the best path for each.

    Each condition as found takes plans of its own: what a project needs is not what a derelict needs. A condition
    without a plan is left blank.

    Parameters
    ----------
    pricer, as_of, goal, simulation
        As for ``evaluate_paths``.
    plans : sequence of BuildPlan
        For one kind of vehicle, found in one condition or several; one without steps stands for selling it as found.
    years : sequence of float
        Model years.
    condition, year : str
        Names of the two attributes.

    Raises
    ------
    PlanError
        The plans contradict themselves or are for different kinds of vehicle, or the schema has no such attributes.
    """
    by_condition = _by_condition(plans, condition)
    levels = _levels(pricer.schema, condition)
    goal = goal or plans[0].goal
    best: dict[tuple[str, float], FieldCell] = {}
    assumed: list[Assumed] = []
    without: list[FieldCell] = []
    notes: list[Note] = []
    for level in levels:
        own = by_condition.get(level, [])
        if not own:
            best |= {(level, float(one)): FieldCell(level, float(one), None, 0.0, "") for one in years}
            continue
        for plan in own:
            notes += (
                *(Note("default_setting", text) for text in plan.defaults),
                *pricer.notes_on(finished(plan), as_of),
            )
        cells = _row(pricer, own, as_of, years, goal, condition, year, simulation, notes)
        best |= {(level, one.model_year): one for one in cells}
        assumed.append(_assumed(own, {one.path for one in cells}, level, condition, year))
        bare = _without_engine(own, pricer.schema)
        if bare:
            its_year = [float(str(own[0].found.attributes.get(year, years[0])))]
            without += _row(pricer, bare, as_of, its_year, goal, condition, year, simulation, notes)
    table = tuple(best[level, float(one)] for level in levels for one in years)
    why = _decision(table, without)
    return FieldTable(
        why, tuple(levels), tuple(map(float, years)), table, tuple(without), tuple(assumed), goal, each_once(notes)
    )


def _by_condition(plans: Sequence[BuildPlan], condition: str) -> dict[str, list[BuildPlan]]:
    """Plans by the condition in which their vehicle was found; each condition's plans are for one vehicle.

    Raises
    ------
    PlanError
        There is no plan, or two are for different kinds of vehicle.
    """
    found: dict[str, list[BuildPlan]] = {}
    for plan in plans:
        found.setdefault(str(plan.found.attributes.get(condition)), []).append(plan)
    for own in found.values() or [[]]:
        same_vehicle(own)
    for name in ("family", "body"):
        kinds = {str(plan.found.attributes.get(name)) for plan in plans}
        if len(kinds) > 1:
            raise PlanError(
                f"Cannot make one field table of plans for different kinds of vehicle: their {name} differs "
                f"({', '.join(sorted(kinds))}). Make a table for each."
            )
    return found


def _row(
    pricer: Pricer,
    plans: Sequence[BuildPlan],
    as_of: date,
    years: Sequence[float],
    goal: Goal,
    condition: str,
    year: str,
    simulation: Simulation,
    notes: list[Note],
) -> list[FieldCell]:
    """The best path for each year of vehicles found in one condition."""
    level, rows = str(plans[0].found.attributes.get(condition)), []
    for plan in [*(one for one in plans if one.steps), as_found(plans[0])]:
        check_plan(plan, pricer, as_of)
        path = prepare(pricer, plan, as_of, simulation)
        notes += [note for note in path.notes if note.code != "default_setting"]
        prices = _prices(pricer, path.states, path.sale_date, year, years)
        answers = [most_to_pay(replace(path.deal, prices=own), goal) for own in prices]
        rows.append(
            [
                FieldCell(level, float(one), answer.price, answer.error, plan.name)
                for one, answer in zip(years, answers, strict=True)
            ]
        )
    return [max(column, key=lambda cell: cell.most_to_pay or 0.0) for column in zip(*rows, strict=True)]


def _without_engine(plans: Sequence[BuildPlan], schema: Schema) -> list[BuildPlan]:
    """The same plans for the vehicle without its engine; none where it has none as found, or the schema no word."""
    name, level = NO_ENGINE
    known = name in schema.names and level in schema.attribute(name).level_names
    if not known or plans[0].found.attributes.get(name) == level:
        return []
    return [replace(plan, found=_with(plan.found, **{name: level})) for plan in plans]


def _assumed(plans: Sequence[BuildPlan], used: Collection[str], level: str, condition: str, year: str) -> Assumed:
    known = plans[0].found.attributes
    built = []
    for plan in (one for one in plans if one.name in used):
        made = finished(plan).attributes
        changed = {name: value for name, value in made.items() if known.get(name) != value}
        built.append(f"{plan.name}: {_words(dict(sorted(changed.items())))}" if changed else "")
    return Assumed(
        condition=level,
        as_found=_words({name: value for name, value in known.items() if name not in ("family", condition, year)}),
        as_built="; ".join(filter(None, built)),
    )


def _words(attributes: Mapping[str, Value]) -> str:
    words = []
    for name, value in attributes.items():
        title = name.replace("_", " ")
        if isinstance(value, bool):
            words.append(title if value else f"no {title}")
        else:
            words.append(f"{title} {value:g}" if isinstance(value, float) else f"{title} {value}")
    return ", ".join(words)


def _decision(cells: Sequence[FieldCell], without: Sequence[FieldCell]) -> str:
    """The decision in a sentence: the limits of each condition that has a plan."""
    told = []
    for condition in dict.fromkeys(cell.condition for cell in cells):
        row = [cell.most_to_pay for cell in cells if cell.condition == condition and cell.most_to_pay is not None]
        if row and max(row) <= 0:
            told.append(say("walk away from one found as {condition}", condition=condition))
        elif row:
            low, high = at_most(max(min(row), 0.0)), at_most(max(row))
            limit = low if low == high else say("{low} to {high} by year", low=low, high=high)
            told.append(say("pay no more than {limit} for one found as {condition}", limit=limit, condition=condition))
        told += [
            say("{limit} without its engine", limit=at_most(bare.most_to_pay))
            for bare in without
            if bare.condition == condition and bare.most_to_pay is not None and bare.most_to_pay > 0
        ]
    words = "; ".join(told)
    return f"{words[:1].upper()}{words[1:]}."


def _prices(
    pricer: Pricer, states: FinishedStates, day: date, year: str, years: Sequence[float]
) -> list[PriceDistribution]:
    """Prices of the finished states for each model year, all asked for at once."""
    vehicles = [_with(vehicle, **{year: float(one)}) for one in years for vehicle in states.vehicles]
    prices = pricer.distribution(vehicles, day)
    each = len(states.vehicles)
    return [prices[i : i + each] for i in range(0, len(vehicles), each)]


def _with(vehicle: Vehicle, **changes: str | float) -> Vehicle:
    return Vehicle(vehicle.name, {**vehicle.attributes, **changes})


def _levels(schema: Schema, condition: str) -> list[str]:
    if condition not in schema.names or not schema.attribute(condition).levels:
        raise PlanError(
            f"Cannot make a table over '{condition}': it is not a scale of levels in the schema '{schema.name}'. "
            f"The attributes are: {', '.join(schema.names)}."
        )
    return list(schema.attribute(condition).level_names)
