"""The most to pay over condition as found and model year: one table to take to a barn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from valuation.build.plan import BuildPlan
from valuation.build.scenarios import carry_out, draw, plan_rules
from valuation.build.simulation import Simulation
from valuation.build.states import FinishedStates, as_entered, finished, finished_states
from valuation.build.terms import Goal
from valuation.errors import PlanError
from valuation.notes import Note, each_once
from valuation.paths.deal_path import (
    as_found,
    check_plan,
    expected_sale_date,
    make_deal,
    same_vehicle,
    start_of,
    still_ahead,
)
from valuation.paths.most_to_pay import most_to_pay
from valuation.paths.pricer import Pricer
from valuation.regression.distribution import PriceDistribution
from valuation.schema.attributes import Role
from valuation.schema.schema import Schema
from valuation.schema.values import Value
from valuation.schema.vehicle import Vehicle
from valuation.view import View, Viewed, as_money

FIELD_SIMULATION = Simulation(scenarios=512, shifts=8)
"""Fewer scenarios than for one find: a table in the field is read to the nearest hundred."""


@dataclass(frozen=True, slots=True)
class FieldCell:
    """Most to pay for one condition and year, and the path that it is for; money."""

    condition: str
    model_year: float
    most_to_pay: float
    error: float
    path: str


@dataclass(frozen=True, slots=True, repr=False)
class FieldTable(Viewed):
    """Most to pay over condition as found (rows) and model year (columns).

    Attributes
    ----------
    conditions : tuple of str
    years : tuple of float
    cells : tuple of FieldCell
        Row by row.
    goal : Goal
    notes : tuple of Note
        What must be known of the plans and of the estimates behind them.
    """

    conditions: tuple[str, ...]
    years: tuple[float, ...]
    cells: tuple[FieldCell, ...]
    goal: Goal
    notes: tuple[Note, ...] = ()

    def _view(self) -> View:
        return View(
            title="Most to pay, by condition as found and model year",
            facts=(
                f"{len(self.conditions)} conditions, {len(self.years)} years",
                f"{as_money(min(one.most_to_pay for one in self.cells))} to "
                f"{as_money(max(one.most_to_pay for one in self.cells))}",
            ),
            header=("condition", *(f"{year:g}" for year in self.years)),
            rows=[
                (condition, *(as_money(self.cell(condition, year).most_to_pay) for year in self.years))
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


def field_table(
    pricer: Pricer,
    plans: Sequence[BuildPlan],
    as_of: date,
    *,
    years: Sequence[float],
    conditions: Sequence[str] | None = None,
    goal: Goal | None = None,
    condition: str = "condition",
    year: str = "model_year",
    simulation: Simulation = FIELD_SIMULATION,
) -> FieldTable:
    """Most to pay for the plans' vehicle in every condition and model year, by the best path for each.

    A step whose attributes the vehicle has already as found is left out of the build.

    Parameters
    ----------
    pricer, plans, as_of, goal, simulation
        As for ``evaluate_paths``.
    years : sequence of float
        Model years.
    conditions : sequence of str, optional
        Levels; all of the schema's unless given.
    condition, year : str
        Names of the two attributes.

    Raises
    ------
    PlanError
        The plans contradict themselves, or the schema has no such attributes or levels.
    """
    same_vehicle(list(plans))
    levels = _levels(pricer.schema, condition, conditions)
    goal = goal or plans[0].goal
    all_plans = [plan for plan in plans if plan.steps] + [as_found(plans[0])]
    best: dict[tuple[str, float], FieldCell] = {}
    notes: list[Note] = []
    for wanted in all_plans:
        check_plan(wanted, pricer, as_of)
        plan, passed = still_ahead(wanted, as_of)
        first_day, started = start_of(plan, as_of)
        notes += (*passed, *started, *(Note("default_setting", text) for text in plan.defaults))
        notes += pricer.notes_on(finished(plan), first_day)
        draws, rules = draw(plan, simulation), plan_rules(plan)
        for level in levels:
            here = replace(plan, found=_with(plan.found, **{condition: level}))
            done = np.array([not _has_already(here.found, step.sets, pricer.schema) for step in plan.steps], dtype=bool)
            states = finished_states(here, pricer.schema, [bool(one) for one in done])
            here = as_entered(here, states)
            outcome = carry_out(here, draws, first_day, rules, done)
            prices = _prices(pricer, states, expected_sale_date(first_day, outcome), year, years)
            for one, own in zip(years, prices, strict=True):
                answer = most_to_pay(make_deal(here, outcome, states, own, simulation.shifts), goal)
                known = best.get((level, float(one)))
                if known is None or answer.price > known.most_to_pay:
                    best[level, float(one)] = FieldCell(level, float(one), answer.price, answer.error, plan.name)
    cells = tuple(best[level, float(one)] for level in levels for one in years)
    return FieldTable(tuple(levels), tuple(float(one) for one in years), cells, goal, each_once(notes))


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


def _has_already(vehicle: Vehicle, sets: Mapping[str, Value], schema: Schema) -> bool:
    """Whether every attribute that a step sets is an ordered scale on which the vehicle stands as high already."""
    if not sets:
        return False
    for name, level in sets.items():
        attribute = schema.attribute(name)
        if attribute.role is not Role.ORDINAL:
            return False
        levels, held = attribute.level_names, vehicle.attributes.get(name)
        if held not in levels or levels.index(str(held)) < levels.index(str(level)):
            return False
    return True


def _levels(schema: Schema, condition: str, wanted: Sequence[str] | None) -> list[str]:
    if condition not in schema.names or not schema.attribute(condition).levels:
        raise PlanError(
            f"Cannot make a table over '{condition}': it is not a scale of levels in the schema '{schema.name}'. "
            f"The attributes are: {', '.join(schema.names)}."
        )
    known = schema.attribute(condition).level_names
    for level in wanted or ():
        if level not in known:
            raise PlanError(
                f"Cannot make a table for {condition} '{level}': there is no such level. The levels are: "
                f"{', '.join(known)}."
            )
    return list(wanted or known)
