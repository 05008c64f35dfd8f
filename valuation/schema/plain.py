"""A schema as plain data, and its fingerprint."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Any

from valuation.errors import SchemaError, shown
from valuation.schema.attributes import Attribute, Expectation, Level, Role
from valuation.schema.checks import check_schema
from valuation.schema.schema import Schema


def schema_as_dict(schema: Schema) -> dict[str, Any]:
    """The schema as dicts, lists, texts and numbers only."""
    data: dict[str, Any] = json.loads(json.dumps(asdict(schema)))
    if not schema.decimal_mark:  # younger than the first files: a schema without it keeps its fingerprint
        del data["decimal_mark"]
    return data


def schema_from_dict(data: dict[str, Any]) -> Schema:
    """The schema of which :func:`schema_as_dict` made ``data``.

    Raises
    ------
    SchemaError
        If an entry is missing, unknown or of the wrong kind, or the schema contradicts itself.
    """
    try:
        schema = Schema(
            **{
                **data,
                "attributes": tuple(_attribute(entry) for entry in data["attributes"]),
                "sale_aliases": {name: tuple(words) for name, words in data.get("sale_aliases", {}).items()},
                "outcome_aliases": {name: tuple(words) for name, words in data.get("outcome_aliases", {}).items()},
            }
        )
    except SchemaError:
        raise
    except (AttributeError, LookupError, OverflowError, TypeError, ValueError) as problem:
        raise SchemaError(
            f"Cannot rebuild a schema from saved data: {shown(problem)} was found where a schema's entries are needed. "
            "Save it anew with Schema.as_dict()."
        ) from problem
    check_schema(schema, schema.name)
    return schema


def _attribute(entry: dict[str, Any]) -> Attribute:
    levels = tuple(Level(level["name"], level["meaning"], tuple(level["aliases"])) for level in entry["levels"])
    expected = Expectation(**entry["expected"]) if entry["expected"] is not None else None
    replaced = {"role": Role(entry["role"]), "levels": levels, "expected": expected, "aliases": tuple(entry["aliases"])}
    return Attribute(**{**entry, **replaced})


def schema_fingerprint(schema: Schema) -> str:
    """SHA-256, in hexadecimal, of the schema's canonical JSON without the text that it was read from."""
    data = schema_as_dict(schema)
    del data["source_text"]
    text = json.dumps(data, sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()
