"""Schema text: the TOML file of a drafted schema, in the owner's words, with what is still to be filled in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import PurePath
from typing import Any

from valuation.drafting.question import Question
from valuation.drafting.understanding import Column, Understanding
from valuation.schema.attributes import Attribute, Level, Role
from valuation.schema.schema import OUTCOMES
from valuation.text.spelling import counted, header_key, level_key
from valuation.text.toml import toml_text

_MOST_VENUES = 5
"""Venues that are named for a premium to be filled in; chosen."""

_MOST_TO_FILL_IN = 20
"""Lines of the list of what is to be filled in; the rest is counted. Chosen, for a page that is read."""


def draft_schema(understanding: Understanding) -> str:
    """A schema file for a table as it is understood; :func:`valuation.schema.parse_schema` reads it as it stands.

    What was guessed has a remark beside it, and what could not be told stands in a list at the top.

    Parameters
    ----------
    understanding : Understanding
    """
    parts = [
        _head(understanding),
        _settings(understanding),
        _money(understanding),
        _sale_columns(understanding),
        _outcomes(understanding),
        *(_attribute(column, understanding) for column in understanding.columns if column.attribute is not None),
    ]
    return "\n".join("\n".join(lines) + "\n" for part in parts if (lines := list(part)))


def _head(u: Understanding) -> Iterator[str]:
    sheet = f", sheet '{u.sheet}'" if u.sheet else ""
    yield _remark(f"What the columns of {u.table_name}{sheet} mean, drafted from the table itself.")
    yield "# Change what is wrong: headers and words are listed as aliases. Lines that start with # are remarks."
    if not u.questions:
        return
    yield "#"
    yield "# TO FILL IN"
    for question in u.questions[:_MOST_TO_FILL_IN]:
        yield _remark(f"* {question.text} {_where(question)}", indent=2)
    if len(u.questions) > _MOST_TO_FILL_IN:
        yield f"#   and {counted(len(u.questions) - _MOST_TO_FILL_IN, 'question')} more of the kind"


def _where(question: Question) -> str:
    """How an answer is written into the file by hand."""
    kind, _, about = question.key.partition("/")
    if kind == "column":
        return f"Until then it is '{question.suggestion}'; another goes under [columns] {about} in its place."
    if kind == "level":
        return f"Add it to the aliases of its level under [attributes.{about.partition('/')[0]}]."
    return {
        "default_outcome": f"Until then default_outcome = {question.suggestion!r}.",
        "outcome": "Add it to sold, bid_not_met or asking under [outcomes].",
        "order": f"The remark under [attributes.{about}] says what to write.",
        "day_first": f"Until then day_first = {question.suggestion}.",
        "rate": "Write it under [rates].",
        "currency": "Write currency at the top.",
    }[kind]


def _settings(u: Understanding) -> Iterator[str]:
    stem = "".join(c if c.isalnum() else "-" for c in PurePath(u.table_name).stem.casefold()).strip("-")[:40]
    yield _entry("name", stem or "sales")
    yield _entry("title", f"Sales of {u.table_name[:100]}")
    yield ""
    yield _entry("currency", u.currency) + ("" if u.currency else "   # none is named, or not for every price")
    told = "" if u.dates.is_told or "day_first" in u.told else "   # a guess: no date tells"
    yield _entry("day_first", u.dates.day_first) + told
    if u.decimal_mark:
        yield _entry("decimal_mark", u.decimal_mark)
    yield _entry("date_required", bool(u.base.date_required and u.of("date")))
    yield _entry("earliest_sale", u.base.earliest_sale)
    if u.default_outcome:
        yield _entry("default_outcome", u.default_outcome) + "   # of every row: no column says how a price came about"
    if names := _left_out(u):
        yield _entry("left_out", names) + "   # kept and not used"


def _left_out(u: Understanding) -> list[str]:
    """Headers of columns that are not used, without those that a schema cannot name apart from one that is."""
    used = {header_key(word) for column in u.columns if column.part != "left out" for word in (column.header,)}
    names: dict[str, str] = {}
    for column in u.columns:
        key = header_key(column.header)
        if column.part == "left out" and column.why and key and key not in used and _is_writable(column.header):
            names.setdefault(key, column.header)
    return list(names.values())


def _is_writable(text: str) -> bool:
    return len(text) <= 300 and text.encode("utf-8", "replace").decode("utf-8").strip() == text  # a file's header


def _money(u: Understanding) -> Iterator[str]:
    if u.currency and (u.rates or u.other_currencies):
        yield f"# How many {u.currency} one unit of another currency buys."
        yield "[rates]"
        for name in u.other_currencies:
            rate = u.rates.get(name)
            yield _entry(name, rate) if rate else f"# {_entry(name, 1.0)}.0   # TO FILL IN"
        yield ""
    if u.of("venue") is None or u.of("premium"):
        return
    yield "# Buyer's premium in percent by venue, where your prices are before it. Take away the # and write it."
    yield "[venue_premiums]"
    for name, percent in u.premiums.items():
        yield _entry(name, percent)
    for name in venues_of(u):
        if name not in u.premiums:
            yield _remark(_entry(name, 10))


def venues_of(u: Understanding) -> list[str]:
    """The venues where a premium may be paid, the commonest few; none where the table says what was paid."""
    venue = u.of("venue")
    if venue is None or u.of("premium"):
        return []
    words = [word for word in venue.words if "private" not in word.word.casefold()]
    return [word.word for word in sorted(words, key=lambda word: -word.rows)[:_MOST_VENUES]]


def _sale_columns(u: Understanding) -> Iterator[str]:
    yield "# Which column of yours is which column of a sale."
    yield "[columns]"
    for column in u.columns:
        if column.part == "sale":
            yield _entry(column.name, _alias(column)) + _doubt(column)


def _alias(column: Column) -> list[str]:
    return [column.header] if header_key(column.header) != header_key(column.name) else []


def _doubt(column: Column) -> str:
    return f"   # {column.sure}, by {_plain(column.why)}" if column.sure == "a guess" else ""


def _outcomes(u: Understanding) -> Iterator[str]:
    column = u.of("outcome")
    own = words_by_level(column) if column else {}
    moved = {level_key(word) for words in own.values() for word in words}
    yield "# Words that say how a price came about."
    yield "[outcomes]"
    for outcome in OUTCOMES:
        known = [word for word in u.base.outcome_aliases.get(outcome, ()) if level_key(word) not in moved]
        yield _entry(outcome, [*known, *own.get(outcome, ())])


def words_by_level(column: Column) -> dict[str, list[str]]:
    """Words of the owner's by level; misspelt ones stay what they are, since they are to be mended."""
    found: dict[str, list[str]] = {}
    seen: set[str] = set()
    for word in column.words:
        key = level_key(word.word)
        if word.level and word.how != "spelling" and key and key not in seen:
            seen.add(key)
            if key != level_key(word.level):
                found.setdefault(word.level, []).append(word.word)
    return found


def _attribute(column: Column, u: Understanding) -> Iterator[str]:
    attribute = column.attribute
    assert attribute is not None
    if column.part == "own":
        yield _remark(f"A column of your own: {column.why}. Delete this table if it does not move the price.")
    elif column.open_scale:
        yield "# Your own words, taken without an order: too few of them are those of the trade."
        if u.base.attribute(column.name).role is Role.ORDINAL:
            yield from _order_to_fill_in(column)
    elif column.sure == "a guess":
        yield _remark(f"A guess, by {column.why}.")
    yield from toml_text({"attributes": {attribute.name: _entries(attribute, column, u)}}).rstrip("\n").split("\n")


def _order_to_fill_in(column: Column) -> Iterator[str]:
    words = [word.word for word in column.words]
    yield '# TO FILL IN: if they have an order, write role = "ordinal", direction = "up" and, lowest first:'
    yield _remark(_entry("levels", words))


def _entries(attribute: Attribute, column: Column, u: Understanding) -> dict[str, Any]:
    base_levels = _levels(attribute.levels, words_by_level(column))
    expected = attribute.expected
    return {
        "role": str(attribute.role),
        "label": attribute.label or None,
        "meaning": attribute.meaning or None,
        "aliases": _aliases_of_attribute(attribute, column, u) or None,
        "direction": attribute.direction,
        "expected": _expectation(expected) if expected else None,
        "levels_differ": attribute.levels_differ or None,
        "missing": attribute.missing if attribute.missing != "average" else None,
        "required": attribute.required or None,
        "unit": attribute.unit or None,
        "minimum": attribute.minimum,
        "maximum": attribute.maximum,
        "levels": base_levels or None,
    }


def _aliases_of_attribute(attribute: Attribute, column: Column, u: Understanding) -> list[str]:
    """The owner's header and the trade's words for it, since a vehicle is told in both; no word of another column."""
    own = [column.header] if header_key(column.header) != header_key(attribute.name) else []
    taken = {header_key(name) for one in u.columns for name in (one.header, one.name)}
    return [*own, *(word for word in attribute.aliases if header_key(word) not in taken)]


def _expectation(expected: Any) -> dict[str, float | None]:
    return {
        "percent": expected.percent,
        "give_or_take": expected.give_or_take,
        "per": expected.per if expected.per != 1.0 else None,
    }


def levels_with(levels: Sequence[Level], own: Mapping[str, list[str]]) -> tuple[Level, ...]:
    """Levels with the owner's words beside those that they have.

    Parameters
    ----------
    levels : sequence of Level
    own : mapping of str to list of str
        Words by level; each is taken from the level that had it.
    """
    known = {(level.name, level_key(word)) for level in levels for word in level.aliases}
    new = {name: [word for word in words if (name, level_key(word)) not in known] for name, words in own.items()}
    moved = {level_key(word) for words in new.values() for word in words}
    return tuple(
        Level(
            level.name,
            level.meaning,
            (*(word for word in level.aliases if level_key(word) not in moved), *new.get(level.name, ())),
        )
        for level in levels
    )


def _levels(levels: Sequence[Level], own: Mapping[str, list[str]]) -> list[dict[str, Any]]:
    return [
        {"name": level.name, "meaning": level.meaning or None, "aliases": list(level.aliases) or None}
        for level in levels_with(levels, own)
    ]


def _entry(key: str, value: object) -> str:
    return toml_text({key: value}).rstrip("\n")


def _remark(text: str, indent: int = 0) -> str:
    return f"# {' ' * indent}{_plain(text)}"


def _plain(text: str) -> str:
    """A text on one line, without characters that a remark cannot hold."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
