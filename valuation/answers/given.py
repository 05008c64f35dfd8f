"""What a question is given, as any face hands it over: plans as texts or data, a file of what is for sale, years."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from valuation.build.plan import BuildPlan
from valuation.build.plan_file import parse_plan, plan_from_dict, read_plan
from valuation.errors import PlanError, shown
from valuation.regression.model import PriceModel
from valuation.schema.schema import Schema
from valuation.schema.vehicle import read_vehicle
from valuation.text.dates import EARLIEST, LATEST
from valuation.text.files import read_text_file
from valuation.text.numbers import read_number
from valuation.text.toml import read_toml

PlanData = str | Mapping[str, Any]
"""A build plan as the text of its TOML file, or as data laid out as that file is."""
MOST_YEARS = 60
_PLAN_TABLES = {"vehicle", "steps", "shop", "purchase", "sale", "goal", "event"}


def read_plans(plans: Sequence[PlanData], schema: Schema, *, steps_needed: bool = True) -> list[BuildPlan]:
    """Plans that came as text or data.

    Parameters
    ----------
    plans : sequence of str or mapping
        Each as the text of its TOML file, or as data laid out as that file is.
    schema : Schema
        Of the table that will price them.
    steps_needed : bool
        Without it also vehicles that are sold as they stand.

    Raises
    ------
    PlanError
        A plan contradicts itself or the schema; it is named by its place, from 1.
    """
    return [
        parse_plan(plan, schema, f"plan {i}", steps_needed=steps_needed)
        if isinstance(plan, str)
        else plan_from_dict(plan, schema, f"plan {i}", steps_needed=steps_needed)
        for i, plan in enumerate(plans, 1)
    ]


def plan_of_file(file: str | Path, model: PriceModel) -> BuildPlan:
    """A build plan, or a vehicle as it stands as a plan without steps, told apart by what the file holds.

    Parameters
    ----------
    file : str or Path
        Of a plan or a vehicle.
    model : PriceModel
        That will price it: its schema reads the file, and its currency is the vehicle's.

    Raises
    ------
    PlanError, VehicleError
        The file cannot be read or contradicts itself.
    """
    path = Path(file)
    try:
        told = read_toml(read_text_file(path)) if path.suffix.casefold() == ".toml" else {}
    except ValueError:
        told = {}  # the reader below says what is wrong, by name
    if _PLAN_TABLES & set(told):
        return read_plan(path, model.schema)
    vehicle = read_vehicle(path, model.schema)
    return BuildPlan(name=vehicle.name, found=vehicle, currency=model.currency, source_name=path.name)


def model_years(text: str) -> list[float]:
    """Model years from ``FROM-TO``, or one year; ``PlanError`` for anything else."""
    first, _, last = text.partition("-")
    try:
        low, high = (read_number(year) for year in (first, last or first))
    except ValueError:
        low, high = 0.0, 0.0
    whole = low.is_integer() and high.is_integer()
    if not (whole and EARLIEST.year <= low <= high <= LATEST.year) or high - low >= MOST_YEARS:
        raise PlanError(
            f"Cannot read the model years {shown(text)}. Write the first and the last, such as 1948-1956: at most "
            f"{MOST_YEARS}, from {EARLIEST.year} to {LATEST.year}."
        )
    return [low + step for step in range(int(high - low) + 1)]
