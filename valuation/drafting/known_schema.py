"""A schema that is known already: what it answers about a newer table, and what that table adds to it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from valuation.comparables.headers import header_owners, map_headers, without_brackets
from valuation.comparables.mending import with_headers
from valuation.comparables.texttable import TextTable
from valuation.drafting.schema_text import levels_with, words_by_level
from valuation.drafting.understanding import LEFT_OUT, Column, Understanding
from valuation.errors import TableError
from valuation.schema.attributes import Attribute
from valuation.schema.schema import OUTCOMES, Schema
from valuation.text.spelling import header_key, level_key


def recalled(table: TextTable, schema: Schema) -> dict[str, str]:
    """What a schema answers about a table, as its owner would: each header that it knows, and how dates are written.

    Parameters
    ----------
    table : TextTable
    schema : Schema
        By which an earlier version was read.
    """
    told = {"day_first": str(schema.day_first).lower()}
    if schema.default_outcome:
        told["default_outcome"] = schema.default_outcome
    told |= {f"rate/{name}": f"{rate!r}" for name, rate in schema.rates.items()}
    told |= {f"premium/{venue}": f"{percent:g}" for venue, percent in schema.venue_premiums.items()}
    return told | {f"header/{header}": name for header, name in _known_headers(table, schema).items()}


def new_headers(table: TextTable, schema: Schema) -> list[str]:
    """Headers of a table that a schema does not know, and whose columns hold something.

    Parameters
    ----------
    table : TextTable
    schema : Schema
    """
    known = _known_headers(table, schema)
    return [one for one in table.headers if one not in known and table.cells[one].astype(str).str.strip().any()]


def _known_headers(table: TextTable, schema: Schema) -> dict[str, str]:
    try:
        found = map_headers(table, schema)
    except TableError:
        owners = header_owners(schema)
        means = {header: owners.get(header_key(header)) for header in table.headers}
        return {header: name or LEFT_OUT for header, name in means.items() if name is not None}
    named = {header: name for name, header in {**found.attributes, **found.sale}.items()}
    return named | dict.fromkeys((*found.left_out, *found.twice), LEFT_OUT)


def with_what_is_new(found: Understanding) -> Schema:
    """The schema that a table was understood by, with the headers, columns and words that the table adds.

    What the table does not hold stays as it was; of a table that adds nothing, the schema is the very same.
    """
    schema, base = found.base, found.base
    own = {one.name: one.attribute for one in found.columns if one.part == "own" and one.attribute is not None}
    schema = replace(schema, attributes=(*schema.attributes, *own.values()))
    owners = header_owners(base)
    named = {
        one.header: one.name
        for one in found.columns
        if one.name and owners.get(header_key(one.header)) != one.name and not _is_known(one.header, one.name, base)
    }
    schema = with_headers(schema, named) if named else schema
    schema = _without(schema, [one for one in found.columns if one.part == "left out" and one.why], found)
    attributes = [_attribute(one, found.of(one.name), base) for one in schema.attributes]
    outcome = found.of("outcome")
    return replace(
        schema,
        attributes=tuple(attributes),
        outcome_aliases=_outcomes(schema, words_by_level(outcome)) if outcome else schema.outcome_aliases,
        default_outcome=found.default_outcome or schema.default_outcome,
        currency=found.currency or schema.currency,
        day_first=found.dates.day_first,
        rates={**schema.rates, **found.rates},
        venue_premiums={**schema.venue_premiums, **found.premiums},
    )


def _is_known(header: str, name: str, schema: Schema) -> bool:
    """Whether a header is read as a column once what it says in brackets is taken off."""
    return header_owners(schema).get(header_key(without_brackets(header))) == name


def _without(schema: Schema, columns: Iterable[Column], found: Understanding) -> Schema:
    """The schema with further columns that are kept and not used."""
    used = {header_key(one.header) for one in found.columns if one.part != "left out"}
    owners = header_owners(schema)
    more: dict[str, str] = {}
    for column in columns:
        key = header_key(column.header)
        if key and key not in used and owners.get(key) != "":
            more.setdefault(key, column.header)
    if not more:
        return schema

    def others(words: Iterable[str]) -> tuple[str, ...]:
        return tuple(word for word in words if header_key(word) not in more)

    return replace(
        schema,
        left_out=(*schema.left_out, *more.values()),
        attributes=tuple(replace(one, aliases=others(one.aliases)) for one in schema.attributes),
        sale_aliases={name: kept for name, words in schema.sale_aliases.items() if (kept := others(words))},
    )


def _attribute(attribute: Attribute, column: Column | None, base: Schema) -> Attribute:
    """An attribute with the owner's new words; in his own order where he agreed to one."""
    if column is None or column.attribute is None or attribute.name not in base.names:
        return attribute
    if column.attribute.levels and column.attribute.level_names != base.attribute(attribute.name).level_names:
        return replace(column.attribute, aliases=attribute.aliases)
    new = words_by_level(column) if attribute.levels else {}
    return replace(attribute, levels=levels_with(attribute.levels, new)) if new else attribute


def _outcomes(schema: Schema, own: Mapping[str, list[str]]) -> dict[str, tuple[str, ...]]:
    known = {word: name for name in OUTCOMES for word in map(level_key, schema.outcome_aliases.get(name, ()))}
    new = {name: [w for w in words if known.get(level_key(w)) != name] for name, words in own.items()}
    moved = {level_key(word) for words in new.values() for word in words}
    if not moved:
        return schema.outcome_aliases
    kept = {name: [w for w in schema.outcome_aliases.get(name, ()) if level_key(w) not in moved] for name in OUTCOMES}
    return {name: tuple(words) for name in OUTCOMES if (words := [*kept[name], *new.get(name, ())])}
