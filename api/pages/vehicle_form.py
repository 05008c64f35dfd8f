"""The fields of a vehicle on a form: made from the schema of the table in use, and read back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.schema import Vehicle, parse_vehicle
from valuation.schema.attributes import Attribute

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.ledger import TableRecord
    from valuation.schema import Schema


@dataclass(frozen=True)
class Field:
    """One field of the form.

    Attributes
    ----------
    attribute : Attribute
    value : str
        What it holds.
    choices : list of (str, str)
        Levels with their meanings; empty for a number.
    proposals : list of str
        Levels of an open scale that the table holds.
    """

    attribute: Attribute
    value: str
    choices: list[tuple[str, str]]
    proposals: list[str]


def vehicle_fields(desk: Desk, table: TableRecord, vehicle: Vehicle | None) -> list[Field]:
    """A field for each attribute of a table's schema.

    Parameters
    ----------
    desk : Desk
    table : TableRecord
    vehicle : Vehicle or None
        What the fields hold.
    """
    seen = desk.levels_seen(table)
    fields = []
    for attribute in desk.schema(table).attributes:
        held = vehicle.attributes.get(attribute.name) if vehicle else None
        value = {True: "yes", False: "no"}.get(held, "") if isinstance(held, bool) else value_text(held)
        choices = [(level.name, level.meaning) for level in attribute.levels]
        if attribute.role == "flag":
            choices = [("yes", ""), ("no", "")]
        fields.append(Field(attribute, value, choices, seen.get(attribute.name, [])))
    return fields


def vehicle_typed(form: Mapping[str, str], schema: Schema, name: str) -> Vehicle:
    """The vehicle that a form describes.

    Parameters
    ----------
    form : mapping of str to str
        Fields as they were typed, by name.
    schema : Schema
    name : str
        Of the vehicle.

    Raises
    ------
    VehicleError
        A field cannot be read.
    """
    attributes = {key.removeprefix("a."): text for key, text in form.items() if key.startswith("a.") and text.strip()}
    told = {"name": name, "number": form.get("number", "").strip()[:100], "attributes": attributes}
    return parse_vehicle(told, schema)


def value_text(value: object) -> str:
    """A value as a form field holds it."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return "" if value is None else str(value)
