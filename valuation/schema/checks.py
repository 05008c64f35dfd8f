"""Whether a schema contradicts itself: every refusal names the file, the entry, what was found and the mend."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable

from valuation.errors import SchemaError
from valuation.schema.attributes import Attribute, Role
from valuation.schema.schema import OUTCOMES, SALE_COLUMNS, Schema
from valuation.text.spelling import counted, did_you_mean, header_key, level_key

NUMERIC = frozenset({Role.NUMBER, Role.SMOOTH, Role.COUNT})
"""Roles whose values are numbers with a smallest and a largest possible value."""

_WITH_DIRECTION = NUMERIC | {Role.ORDINAL, Role.FLAG}
_WITH_EXPECTATION = frozenset({Role.NUMBER, Role.COUNT, Role.ORDINAL, Role.FLAG})
_RESERVED = frozenset({*SALE_COLUMNS, "sale_date", "reason"})


def refusal(file: str, place: str, why: str, mend: str) -> SchemaError:
    """The error for one entry of a schema file: where, what was found, and what to do.

    Parameters
    ----------
    file : str
        The file's name, for the message.
    place : str
        The entry, such as ``[attributes.paint] levels``.
    why : str
        What was found.
    mend : str
        What to do about it.
    """
    return SchemaError(f"Cannot use the schema {file}: {place} {why} {mend}".rstrip())


def check_schema(schema: Schema, file: str) -> None:
    """Refuse a schema that contradicts itself.

    Parameters
    ----------
    schema : Schema
    file : str
        The file's name, for the message.

    Raises
    ------
    SchemaError
        At the first contradiction, naming ``file``, the entry, what was found and the mend.
    """
    if not schema.attributes:
        raise refusal(file, "[attributes]", "is empty.", "Add at least one attribute that moves the price.")
    for attribute in schema.attributes:
        _check_attribute(attribute, file)
    _check_headers(schema, file)
    _check_sale_settings(schema, file)
    _check_money(schema, file)


def _check_attribute(attribute: Attribute, file: str) -> None:
    place, role = f"[attributes.{attribute.name}]", attribute.role
    if attribute.name in _RESERVED or not attribute.name.strip():
        raise refusal(
            file,
            place,
            "uses a name that is reserved for the sale itself.",
            f"Give it another name and list '{attribute.name}' as an alias.",
        )
    if role is Role.ORDINAL and len(attribute.levels) < 2:
        raise refusal(
            file,
            f"{place} levels",
            f"has {counted(len(attribute.levels), 'entry', 'entries')}; an ordinal scale needs at least two.",
            'List the levels from the lowest to the highest, or use role = "nominal".',
        )
    if attribute.levels and role not in (Role.ORDINAL, Role.NOMINAL):
        raise refusal(
            file,
            f"{place} levels",
            f'is given, but role = "{role}" has no levels.',
            'Remove the levels, or use role = "ordinal" or "nominal".',
        )
    words = ((level.name, word) for level in attribute.levels for word in (level.name, *level.aliases))
    _refuse_shared_words(words, level_key, file, f"{place} levels", "level")
    _check_expectation(attribute, place, file)
    _check_range(attribute, place, file)


def _check_expectation(attribute: Attribute, place: str, file: str) -> None:
    role, expected = attribute.role, attribute.expected
    if attribute.direction and role not in _WITH_DIRECTION:
        raise refusal(
            file,
            f"{place} direction",
            f'= "{attribute.direction}" has no meaning for role = "{role}".',
            "Remove it: unordered levels and dates have no direction.",
        )
    if attribute.levels_differ and role is not Role.NOMINAL:
        raise refusal(
            file,
            f"{place} levels_differ",
            f'= "{attribute.levels_differ}" has no meaning for role = "{role}".',
            "Remove it: only unordered levels are expected to differ much or little.",
        )
    if expected is None:
        return
    if role not in _WITH_EXPECTATION:
        raise refusal(
            file,
            f"{place} expected",
            f'has no meaning for role = "{role}".',
            "Remove it: an expected effect belongs to an ordinal scale, a number, a count or a flag.",
        )
    wanted = {"up": expected.percent >= 0, "down": expected.percent <= 0}
    if attribute.direction and not wanted[attribute.direction]:
        raise refusal(
            file,
            f"{place} expected",
            f'is {expected.percent:g} percent, but direction = "{attribute.direction}".',
            "Change the sign of the percentage, or the direction.",
        )


def _check_range(attribute: Attribute, place: str, file: str) -> None:
    low, high = attribute.minimum, attribute.maximum
    if (low is not None or high is not None) and attribute.role not in NUMERIC:
        raise refusal(
            file, place, f'has a minimum or maximum, but role = "{attribute.role}" holds no numbers.', "Remove it."
        )
    if low is not None and high is not None and not low < high:
        raise refusal(file, place, f"has minimum {low:g} and maximum {high:g}.", "The minimum must be the smaller.")
    if attribute.missing == "lowest" and lowest_value(attribute) is None:
        raise refusal(
            file,
            f"{place} missing",
            '= "lowest", but this attribute has no lowest value.',
            'Use "average" or "refuse", or give a number its minimum.',
        )


def lowest_value(attribute: Attribute) -> str | float | bool | None:
    """What a missing cell stands for under ``missing = "lowest"``; ``None`` where there is no lowest value."""
    if attribute.role is Role.ORDINAL:
        return attribute.levels[0].name
    if attribute.role is Role.FLAG:
        return False
    if attribute.role is Role.COUNT and attribute.minimum is None:
        return 0.0
    return attribute.minimum if attribute.role in NUMERIC else None


def _check_headers(schema: Schema, file: str) -> None:
    names = list(schema.names)
    for name in names:
        if names.count(name) > 1:
            raise refusal(file, f"[attributes.{name}]", "appears twice.", "Keep one of the two.")
    for column in schema.sale_aliases:
        if column not in SALE_COLUMNS:
            raise refusal(
                file,
                f"[columns] {column}",
                "is not a column of a sale.",
                f"The columns are {', '.join(SALE_COLUMNS)}.{did_you_mean(column, SALE_COLUMNS)}",
            )
    owners = [(a.name, word) for a in schema.attributes for word in (a.name, *a.aliases)]
    owners += [(column, word) for column, words in schema.sale_aliases.items() for word in (column, *words)]
    _refuse_shared_words(owners, header_key, file, "the headers", "column")
    # A name may be left out, since a column can go by an alias instead; a word that was written as its alias may not.
    aliases = {header_key(word): owner for owner, word in owners if word != owner}
    for word in schema.left_out:
        if header_key(word) in aliases:
            raise refusal(
                file, "left_out", f"has '{word}', which '{aliases[header_key(word)]}' goes by.", "Keep it in one place."
            )


def _refuse_shared_words(
    owners: Iterable[tuple[str, str]], key: Callable[[str], str], file: str, place: str, kind: str
) -> None:
    seen: dict[str, str] = {}
    for owner, word in owners:
        spelled = key(word)
        if not spelled:
            raise refusal(file, place, f"give the {kind} '{owner}' the name {word!r}.", "Write a word.")
        if seen.setdefault(spelled, owner) != owner:
            raise refusal(
                file,
                place,
                f"use '{word}' both for the {kind} '{seen[spelled]}' and for '{owner}'.",
                "Keep it for one of the two.",
            )


def _check_sale_settings(schema: Schema, file: str) -> None:
    if schema.default_outcome and schema.default_outcome not in OUTCOMES:
        raise refusal(
            file,
            "default_outcome",
            f"= {schema.default_outcome!r}.",
            f"Write one of {', '.join(OUTCOMES)}.{did_you_mean(schema.default_outcome, OUTCOMES)}",
        )
    for outcome in schema.outcome_aliases:
        if outcome not in OUTCOMES:
            raise refusal(
                file,
                f"[outcomes] {outcome}",
                "is not an outcome.",
                f"The outcomes are {', '.join(OUTCOMES)}.{did_you_mean(outcome, OUTCOMES)}",
            )
    words = [(outcome, word) for outcome in OUTCOMES for word in (outcome, *schema.outcome_aliases.get(outcome, ()))]
    _refuse_shared_words(words, level_key, file, "[outcomes]", "outcome")
    try:
        dt.date.fromisoformat(schema.earliest_sale)
    except ValueError:
        raise refusal(
            file, "earliest_sale", f"= {schema.earliest_sale!r} is not a date.", 'Write it as "1990-01-01".'
        ) from None


def _check_money(schema: Schema, file: str) -> None:
    if schema.rates and not schema.currency:
        raise refusal(
            file,
            "[rates]",
            "is given, but the schema names no currency to convert to.",
            'Add currency = "..." at the top: a rate is how many units of it one unit of the other buys.',
        )
    for currency, rate in schema.rates.items():
        if not (math.isfinite(rate) and rate > 0):
            raise refusal(file, f"[rates] {currency}", f"= {rate:g}.", "A rate is a number above 0.")
    for venue, percent in schema.venue_premiums.items():
        if not 0 <= percent < 100:
            raise refusal(
                file, f"[venue_premiums] {venue}", f"= {percent:g}.", "Write percent from 0 to below 100; 10 is 10 %."
            )
    for venue, percent in schema.venue_gaps.items():
        if not 0 <= percent <= 300:
            raise refusal(
                file,
                f"[venue_gaps] {venue}",
                f"= {percent:g}.",
                "Write percent from 0 to 300; 10 is 10 % over the bid.",
            )
    for venue, fee in schema.venue_fees.items():
        if not (math.isfinite(fee) and fee >= 0):
            raise refusal(file, f"[venue_fees] {venue}", f"= {fee:g}.", "Write an amount of 0 or more.")
