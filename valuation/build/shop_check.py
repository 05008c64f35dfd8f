"""The shop's settings held to what a plan could take."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from valuation.build.plan_tables import goal_of, purchase_of, sale_of, shop_of, steps_of
from valuation.build.toml_table import TomlTable
from valuation.errors import PlanError
from valuation.schema.schema import Schema
from valuation.schema.values import Value
from valuation.schema.vehicle import Vehicle


def check_shop(data: Mapping[str, Any], schema: Schema, called: str) -> None:
    """Refuse settings of a shop that no plan could take.

    Parameters
    ----------
    data : mapping
        As the shop's file holds them.
    schema : Schema
        By which the steps of the book are checked.
    called : str
        What they are called in messages.

    Raises
    ------
    PlanError
        Table, key, value and mend are named.
    """
    top = TomlTable(called, "", data)
    try:
        shop_of(top, [])
        purchase_of(top)
        sale_of(top, [])
        if "goal" in data:
            goal_of(top, [])
        steps = steps_of(top, schema, Vehicle("", _indispensable(schema)), needed=False)
        paper = top.table("paper")
        if paper is not None:
            paper.only("name", "contact")
            paper.text("name", "")
            paper.text("contact", "")
    except PlanError as problem:
        words = str(problem).replace(f"the plan {called}", called, 1)
        raise PlanError(words, where=problem.where) from None
    for i, step in enumerate(steps):
        if step.id in [one.id for one in steps[:i]]:
            raise PlanError(
                f"Cannot use {called}: two steps of the book have the id '{step.id}'. Give one another.",
                where=f"step '{step.id}'",
            )


def _indispensable(schema: Schema) -> dict[str, Value]:
    """Any value for each attribute that a vehicle cannot do without."""
    needed = [one for one in schema.attributes if one.missing == "refuse"]
    return {one.name: one.level_names[0] if one.levels else one.minimum or "any" for one in needed}
