"""Writing a schema as TOML that :func:`valuation.schema.parse_schema` reads back as the same schema."""

from __future__ import annotations

import json
from collections.abc import Mapping

from valuation.errors import SchemaError
from valuation.schema.attributes import Attribute, Level
from valuation.schema.schema import Schema


def schema_to_toml(schema: Schema) -> str:
    """The text of a schema file; the one that it was read from where that still says the same, comments and all."""
    from valuation.schema.reader import parse_schema

    if schema.source_text:
        try:
            if parse_schema(schema.source_text).fingerprint() == schema.fingerprint():
                return schema.source_text
        except SchemaError:  # the text was replaced by hand: what the object says counts
            pass
    return "\n".join([*_top(schema), *(line for a in schema.attributes for line in _attribute(a))]) + "\n"


def _top(schema: Schema) -> list[str]:
    lines = [
        f"name = {_text(schema.name)}",
        f"title = {_text(schema.title)}",
        f"currency = {_text(schema.currency)}",
        f"day_first = {_flag(schema.day_first)}",
        f"date_required = {_flag(schema.date_required)}",
        f"earliest_sale = {_text(schema.earliest_sale)}",
        f"default_outcome = {_text(schema.default_outcome)}",
    ]
    for table, numbers in (
        ("rates", schema.rates),
        ("venue_premiums", schema.venue_premiums),
        ("venue_fees", schema.venue_fees),
    ):
        lines += _table(table, {name: _number(value) for name, value in numbers.items()})
    for table, words in (("columns", schema.sale_aliases), ("outcomes", schema.outcome_aliases)):
        lines += _table(table, {name: _words(value) for name, value in words.items()})
    return lines


def _table(name: str, entries: Mapping[str, str]) -> list[str]:
    if not entries:
        return []
    return ["", f"[{name}]", *(f"{_text(key)} = {value}" for key, value in entries.items())]


def _attribute(attribute: Attribute) -> list[str]:
    lines = ["", f"[attributes.{_text(attribute.name)}]", f'role = "{attribute.role}"']
    for key in ("label", "meaning", "unit", "direction"):
        if value := getattr(attribute, key):
            lines.append(f"{key} = {_text(value)}")
    if attribute.missing != "average":
        lines.append(f'missing = "{attribute.missing}"')
    if attribute.required:
        lines.append("required = true")
    for key in ("minimum", "maximum"):
        if (number := getattr(attribute, key)) is not None:
            lines.append(f"{key} = {_number(number)}")
    if attribute.aliases:
        lines.append(f"aliases = {_words(attribute.aliases)}")
    if expected := attribute.expected:
        parts = (("percent", expected.percent), ("give_or_take", expected.give_or_take), ("per", expected.per))
        lines.append("expected = { " + ", ".join(f"{key} = {_number(number)}" for key, number in parts) + " }")
    if attribute.levels:
        lines += ["levels = [", *(f"    {_level(level)}," for level in attribute.levels), "]"]
    return lines


def _level(level: Level) -> str:
    aliases = f", aliases = {_words(level.aliases)}" if level.aliases else ""
    meaning = f", meaning = {_text(level.meaning)}" if level.meaning else ""
    return f"{{ name = {_text(level.name)}{meaning}{aliases} }}"


def _text(text: str) -> str:
    # A TOML basic string has the escapes of a JSON string; DEL alone must be escaped in addition.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _words(words: tuple[str, ...]) -> str:
    return "[" + ", ".join(_text(word) for word in words) + "]"


def _number(number: float) -> str:
    return repr(float(number))


def _flag(flag: bool) -> str:
    return "true" if flag else "false"
