"""Schema: what each column means, the default vintage-vehicle schema, and vehicles checked against it."""

from valuation.schema.attributes import Attribute, Expectation, Level, Role
from valuation.schema.checks import check_schema, lowest_value
from valuation.schema.frame import typed_column
from valuation.schema.reader import VINTAGE_FILE, default_schema, parse_schema, read_schema, schema_from_dict
from valuation.schema.schema import OUTCOMES, SALE_COLUMNS, Schema
from valuation.schema.vehicle import (
    Vehicle,
    parse_vehicle,
    read_vehicle,
    read_words,
    vehicle_from_words,
    vehicles_frame,
)

__all__ = [
    "OUTCOMES",
    "SALE_COLUMNS",
    "VINTAGE_FILE",
    "Attribute",
    "Expectation",
    "Level",
    "Role",
    "Schema",
    "Vehicle",
    "check_schema",
    "default_schema",
    "lowest_value",
    "parse_schema",
    "parse_vehicle",
    "read_schema",
    "read_vehicle",
    "read_words",
    "schema_from_dict",
    "typed_column",
    "vehicle_from_words",
    "vehicles_frame",
]
