"""Reading a build plan from its file (TOML)."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from valuation.build.plan import BuildPlan
from valuation.build.plan_tables import event_of, goal_of, purchase_of, sale_of, shop_of, steps_of
from valuation.build.progress import TABLES, read_progress
from valuation.build.shop_file import shop_near, with_shop
from valuation.build.states import check_states
from valuation.build.toml_table import TomlTable
from valuation.errors import PlanError, VehicleError
from valuation.schema.schema import Schema
from valuation.schema.vehicle import Vehicle, parse_vehicle
from valuation.text.files import read_text_file
from valuation.text.json import is_too_deep, too_deep
from valuation.text.toml import read_toml

TOP_KEYS = (
    "name", "currency", "start", "vehicle", "purchase", "shop", "overrun", "steps", "event", "sale", "goal", "wish",
    "bought", *TABLES,
)  # fmt: skip


def read_plan(path: str | Path, schema: Schema) -> BuildPlan:
    """Read a build plan from a TOML file, with what it leaves to ``shop.toml`` beside it or one folder above.

    Parameters
    ----------
    path : str or Path
    schema : Schema
        Of the table that will price it: attributes and levels are checked against it.

    Raises
    ------
    PlanError
        The file cannot be read or contradicts itself; file, table, key, value and mend are named.
    """
    file = Path(path)
    try:
        text = read_text_file(file)
    except ValueError as problem:
        raise PlanError(
            f"Cannot read the plan {file.name}: {problem}. Check the path and that it is plain text in UTF-8, or write "
            "a plan to start from with 'valuation start'."
        ) from None
    return parse_plan(text, schema, file.name, shop=shop_near(file))


def parse_plan(
    text: str,
    schema: Schema,
    file: str = "plan.toml",
    *,
    steps_needed: bool = True,
    shop: Mapping[str, Any] | None = None,
) -> BuildPlan:
    """Read a build plan from the text of a TOML file; see ``read_plan``.

    Parameters
    ----------
    text : str
    schema : Schema
    file : str
        The file's name, for messages.
    steps_needed : bool
        Whether a plan without steps is refused.
    shop : mapping or None
        The shop's file as plain data, for what the plan leaves to it.
    """
    try:
        data = read_toml(text)
    except ValueError as problem:
        raise PlanError(f"Cannot read the plan {file}: it {problem}. Mend that line; text stands in quotes.") from None
    return plan_from_dict(data, schema, file, steps_needed=steps_needed, shop=shop)


def plan_from_dict(
    data: Mapping[str, Any],
    schema: Schema,
    file: str = "plan",
    *,
    steps_needed: bool = True,
    shop: Mapping[str, Any] | None = None,
) -> BuildPlan:
    """A build plan from plain data laid out as the file is (for example from JSON); see ``read_plan``.

    Without ``steps_needed`` a plan may do without steps: a vehicle that is sold as it stands. What the plan leaves
    to the shop is taken from ``shop``, the shop's file as plain data.

    Parameters
    ----------
    data : mapping
    schema : Schema
    file : str
        The file's name, for messages.
    steps_needed : bool
        Whether a plan without steps is refused.
    shop : mapping or None
        The shop's file as plain data, for what the plan leaves to it.
    """
    if is_too_deep(data):
        raise PlanError(f"Cannot use the plan {file}: it {too_deep()}. Write it as the plan to start from is.")
    top = TomlTable(file, "", with_shop(data, shop or {}, file))
    top.only(*TOP_KEYS)
    top.currency = top.text("currency", "")
    name = top.text("name", Path(file).stem)
    found = _vehicle(top, schema, name)
    steps = steps_of(top, schema, found, steps_needed)
    defaults: list[str] = []
    costs = shop_of(top, defaults)
    plan = BuildPlan(
        name=name,
        found=found,
        steps=steps,
        shop=costs,
        purchase=purchase_of(top),
        sale=sale_of(top, defaults),
        goal=goal_of(top, defaults),
        event=event_of(top),
        start=top.day("start"),
        currency=top.currency,
        source_name=file,
        defaults=tuple(defaults),
        progress=read_progress(top, steps),
    )
    check_states(plan, schema)
    return plan


def _vehicle(top: TomlTable, schema: Schema, name: str) -> Vehicle:
    table = top.table("vehicle")
    if table is None:
        raise top.refusal("vehicle", "is missing.", "Describe the vehicle as found in a table [vehicle].")
    try:
        return parse_vehicle(dict(table.data), schema, name)
    except VehicleError as problem:
        raise PlanError(f"Cannot use the plan {top.file}: [vehicle] {problem}", where=problem.where) from None
