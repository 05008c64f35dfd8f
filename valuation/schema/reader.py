"""Reading a schema: the file (TOML) that a shop wrote or edited, or the plain data of a saved one."""

from __future__ import annotations

import datetime as dt
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any, cast, get_args

from valuation.errors import SchemaError, shown
from valuation.schema.attributes import Attribute, Difference, Direction, Expectation, Level, MissingRule, Role
from valuation.schema.checks import check_schema, refusal
from valuation.schema.entries import Entries
from valuation.schema.schema import OUTCOMES, OWN_PURCHASE, SALE_COLUMNS, Schema
from valuation.text.files import read_text_file
from valuation.text.toml import read_toml

VINTAGE_FILE = Path(__file__).with_name("vintage.toml")
"""The schema of vintage trucks and cars that ships with the project; a shop can copy and edit it."""

_TOP = ("name", "title", "currency", "day_first", "decimal_mark", "date_required", "earliest_sale", "default_outcome",
        "left_out", "sheet", "rates", "venue_premiums", "venue_fees", "venue_gaps", "columns", "outcomes", "for_buyers",
        "attributes")  # fmt: skip
_ATTRIBUTE = tuple(field.name for field in fields(Attribute))[1:]
_MISSPELT = {"attribute": "attributes", "aliases": "columns", "sale": "columns", "outcome": "outcomes"}


def read_schema(path: str | Path) -> Schema:
    """Read a schema file.

    Parameters
    ----------
    path : str or Path
        A TOML file laid out as the shipped ``vintage.toml``.

    Raises
    ------
    SchemaError
        If the file is not there or not text, or for the reasons of :func:`parse_schema`.
    """
    file = Path(path)
    try:
        text = read_text_file(file)
    except ValueError as problem:
        raise SchemaError(
            f"Cannot read the schema file {file}: {problem}. Check the path and that it is plain text in UTF-8, or "
            "write a schema to start from with 'valuation start'."
        ) from problem
    return parse_schema(text, file.name)


@cache
def default_schema() -> Schema:
    """The vintage-vehicle schema that ships with the project; the same object at every call."""
    return read_schema(VINTAGE_FILE)


def parse_schema(text: str, name: str = "schema.toml") -> Schema:
    """The schema that a TOML text describes.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        The file's name, for messages.

    Raises
    ------
    SchemaError
        If the text is not TOML, has an unknown or ill-typed entry, or contradicts itself. The message names the file,
        the table, the key, what was found, and what to do.
    """
    try:
        data = read_toml(text)
    except ValueError as problem:
        raise SchemaError(
            f"Cannot use the schema {name}: it {problem}. Mend that line; text stands in quotes, as in label = "
            '"Model year".'
        ) from problem
    top = Entries(name, "", data)
    top.refuse_unknown(_TOP, _MISSPELT)
    for_buyers = top.table("for_buyers")
    for_buyers.refuse_unknown(("print_sources", "leave_out"), {"sources": "print_sources", "withhold": "leave_out"})
    schema = Schema(
        name=top.text("name") or Path(name).stem,
        title=top.text("title"),
        attributes=_attributes(name, top),
        sale_aliases=_text_lists(top, "columns", SALE_COLUMNS),
        outcome_aliases=_text_lists(top, "outcomes", OUTCOMES),
        default_outcome=top.text("default_outcome"),
        currency=top.text("currency"),
        rates=top.table("rates").numbers(),
        venue_premiums=top.table("venue_premiums").numbers(),
        venue_fees=top.table("venue_fees").numbers(),
        venue_gaps=top.table("venue_gaps").numbers(),
        day_first=top.flag("day_first"),
        decimal_mark=top.choice("decimal_mark", (".", ",")),
        date_required=top.flag("date_required"),
        earliest_sale=_earliest(top),
        print_sources=for_buyers.texts("print_sources"),
        leave_out=for_buyers.texts("leave_out") if "leave_out" in for_buyers.data else OWN_PURCHASE,
        left_out=top.texts("left_out"),
        sheet=top.text("sheet"),
        source_text=text,
    )
    check_schema(schema, name)
    return schema


def _earliest(top: Entries) -> str:
    value = top.data.get("earliest_sale")
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value.isoformat()
    return top.text("earliest_sale") or "1990-01-01"


def _text_lists(top: Entries, key: str, known: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    table = top.table(key)
    table.refuse_unknown(known, {})
    return {name: table.texts(name) for name in table.data}


def _attributes(file: str, top: Entries) -> tuple[Attribute, ...]:
    table = top.table("attributes")
    return tuple(_attribute(file, name, table.table(name)) for name in table.data)


def _attribute(file: str, name: str, entries: Entries) -> Attribute:
    entries.refuse_unknown(_ATTRIBUTE, {"scale": "levels", "type": "role", "description": "meaning"})
    return Attribute(
        name=name,
        role=Role(entries.choice("role", tuple(Role), required=True)),
        label=entries.text("label"),
        levels=tuple(_level(entry) for entry in entries.tables_or_names("levels", "name")),
        direction=cast("Direction | None", entries.choice("direction", get_args(Direction)) or None),
        expected=_expected(file, entries),
        levels_differ=cast("Difference", entries.choice("levels_differ", get_args(Difference)[1:]) or ""),
        missing=cast("MissingRule", entries.choice("missing", get_args(MissingRule)) or "average"),
        required=entries.flag("required"),
        unit=entries.text("unit"),
        minimum=entries.number("minimum"),
        maximum=entries.number("maximum"),
        aliases=entries.texts("aliases"),
        meaning=entries.text("meaning"),
    )


def _level(entries: Entries) -> Level:
    entries.refuse_unknown(("name", "meaning", "aliases"), {})
    if not entries.text("name"):
        raise entries.refusal("name", "is missing.", "Give each level a name.")
    return Level(entries.text("name"), entries.text("meaning"), entries.texts("aliases"))


def _expected(file: str, entries: Entries) -> Expectation | None:
    if "expected" not in entries.data:
        return None
    table = entries.table("expected")
    table.refuse_unknown(("percent", "give_or_take", "per"), {"sure": "give_or_take", "effect": "percent"})
    percent, give_or_take, per = table.number("percent"), table.number("give_or_take"), table.number("per")
    if percent is None or give_or_take is None:
        raise entries.refusal(
            "expected", "needs both percent and give_or_take.", "Write expected = { percent = 8, give_or_take = 10 }."
        )
    try:
        return Expectation(percent, give_or_take, 1.0 if per is None else per)
    except SchemaError as problem:
        raise refusal(file, f"{entries.place} expected:", str(problem), "Change that number.") from problem


def schema_from_dict(data: dict[str, Any]) -> Schema:
    """The schema of which :meth:`Schema.as_dict` made ``data``.

    Raises
    ------
    SchemaError
        If an entry is missing, unknown or of the wrong kind, or the schema contradicts itself.
    """
    try:
        schema = Schema(
            **{
                **data,
                "attributes": tuple(_saved_attribute(entry) for entry in data["attributes"]),
                "sale_aliases": {name: tuple(words) for name, words in data.get("sale_aliases", {}).items()},
                "outcome_aliases": {name: tuple(words) for name, words in data.get("outcome_aliases", {}).items()},
                "print_sources": tuple(data.get("print_sources", ())),
                "leave_out": tuple(data.get("leave_out", OWN_PURCHASE)),
                "left_out": tuple(data.get("left_out", ())),
            }
        )
    except SchemaError:
        raise
    except (AttributeError, LookupError, OverflowError, TypeError, ValueError) as problem:
        raise SchemaError(
            f"Cannot rebuild a schema from saved data: {shown(problem)} was found where a schema's entries are needed. "
            "Save it again with Schema.as_dict()."
        ) from problem
    check_schema(schema, schema.name)
    return schema


def _saved_attribute(entry: dict[str, Any]) -> Attribute:
    levels = tuple(Level(level["name"], level["meaning"], tuple(level["aliases"])) for level in entry["levels"])
    expected = Expectation(**entry["expected"]) if entry["expected"] is not None else None
    replaced = {"role": Role(entry["role"]), "levels": levels, "expected": expected, "aliases": tuple(entry["aliases"])}
    return Attribute(**{**entry, **replaced})
