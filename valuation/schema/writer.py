"""Writing a schema as TOML that :func:`valuation.schema.parse_schema` reads back as the same schema."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from valuation.errors import SchemaError
from valuation.schema.attributes import Attribute, Level
from valuation.schema.reader import parse_schema
from valuation.schema.schema import Schema
from valuation.text.toml import toml_text


def schema_to_toml(schema: Schema) -> str:
    """The text of a schema file; the one that it was read from where that still says the same, comments and all."""
    if schema.source_text:
        try:
            if parse_schema(schema.source_text).fingerprint() == schema.fingerprint():
                return schema.source_text
        except SchemaError:  # the text was replaced by hand: what the object says counts
            pass
    return toml_text(
        {
            "name": schema.name,
            "title": schema.title,
            "currency": schema.currency,
            "day_first": schema.day_first,
            "decimal_mark": schema.decimal_mark or None,
            "date_required": schema.date_required,
            "earliest_sale": schema.earliest_sale,
            "default_outcome": schema.default_outcome,
            "rates": schema.rates or None,
            "venue_premiums": schema.venue_premiums or None,
            "venue_fees": schema.venue_fees or None,
            "venue_gaps": schema.venue_gaps or None,
            "columns": schema.sale_aliases or None,
            "outcomes": schema.outcome_aliases or None,
            "attributes": {attribute.name: _attribute(attribute) for attribute in schema.attributes},
        }
    )


def _attribute(attribute: Attribute) -> dict[str, Any]:
    return {
        "role": attribute.role,
        "label": attribute.label or None,
        "meaning": attribute.meaning or None,
        "unit": attribute.unit or None,
        "direction": attribute.direction,
        "missing": attribute.missing if attribute.missing != "average" else None,
        "required": attribute.required or None,
        "minimum": attribute.minimum,
        "maximum": attribute.maximum,
        "aliases": attribute.aliases or None,
        "expected": asdict(attribute.expected) if attribute.expected else None,
        "levels_differ": attribute.levels_differ or None,
        "levels": [_level(level) for level in attribute.levels] or None,
    }


def _level(level: Level) -> dict[str, Any]:
    return {"name": level.name, "meaning": level.meaning or None, "aliases": level.aliases or None}
