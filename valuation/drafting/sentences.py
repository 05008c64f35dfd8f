"""Sentences: what was understood of a table, in the few words that a person reads."""

from __future__ import annotations

from collections.abc import Iterable

from valuation.drafting.understanding import Column, Understanding
from valuation.errors import shortlist
from valuation.text.language import say, say_count
from valuation.text.spelling import header_key, level_key

_MOST_WORDS = 8
"""Words of one column that are named; chosen, two lines of a terminal."""


def taken_for(u: Understanding) -> dict[str, tuple[str, ...]]:
    """What columns were taken for, under "The sale", "The vehicle" and "Your own"."""
    parts = {"sale": say("The sale"), "trade": say("The vehicle"), "own": say("Your own")}
    found = {
        title: tuple(_taken(column) for column in u.columns if column.part == part) for part, title in parts.items()
    }
    return {title: columns for title, columns in found.items() if columns}


def _taken(column: Column) -> str:
    header = column.header[:40]
    if column.part == "own":
        return say("'{header}' ({why})", header=header, why=column.why)
    same = header_key(header) == header_key(column.name)
    said = column.name if same else say("{name} '{header}'", name=column.name, header=header)
    return said if column.sure != "a guess" else say("{said} (a guess, by {why})", said=said, why=column.why)


def words_taken(u: Understanding) -> tuple[str, ...]:
    """What words of the owner's were taken for that the trade's schema does not have."""
    found: list[str] = []
    for column in u.columns:
        if column.open_scale:
            words = shortlist([word.word[:30] for word in column.words], _MOST_WORDS)
            found.append(say("{name}: your own words, without an order ({words})", name=column.name, words=words))
            continue
        by_level: dict[str, list[str]] = {}
        for word in column.words:
            if word.level and word.how not in ("schema", "spelling") and level_key(word.word) != level_key(word.level):
                by_level.setdefault(word.level, []).append(f"'{word.word[:30]}'")
        said = [say("{words} is {level}", words=_or(words), level=level) for level, words in by_level.items()]
        if said:
            found.append(say("{name}: {words}", name=column.name, words=", ".join(said)))
    return tuple(found)


def _or(words: list[str]) -> str:
    shown = words[:3]
    more = len(words) - len(shown)
    listed = " or ".join(shown)
    return say("{words} or {n} more", words=", ".join(shown), n=more) if more else listed


def habits_of(u: Understanding) -> tuple[str, ...]:
    """What holds for whole columns."""
    return tuple(_habits(u))


def _habits(u: Understanding) -> Iterable[str]:
    if u.currency:
        yield say("prices in {currency}", currency=u.currency)
    for name, rows in u.other_currencies.items():
        yield say_count("{n} row in {currency}", "{n} rows in {currency}", rows, currency=name)
    dates = u.dates
    if dates.proofs or dates.either:
        first = say("dates with the day first") if dates.day_first else say("dates with the month first")
        if dates.proofs:
            yield say("{dates}, as {n} of them show", dates=first, n=dates.proofs)
        else:
            yield say("{dates}, a guess", dates=first)
    if u.decimal_mark == ",":
        yield say("12.500 is read as 12500")
    for column in u.columns:
        if column.part == "trade" and column.attribute is not None and column.attribute.unit:
            yield say("{name} in {unit}", name=column.name, unit=column.attribute.unit)
    if u.default_outcome:
        outcomes = {"sold": say("sold"), "bid_not_met": say("bids that were not met"), "asking": say("asking prices")}
        yield say("every price taken as {outcome}", outcome=outcomes[u.default_outcome])


def left_out_of(u: Understanding) -> tuple[str, ...]:
    """Columns that are not used, and why."""
    left = [column for column in u.columns if column.part == "left out" and column.why != say("empty")]
    return tuple(say("'{header}' ({why})", header=column.header[:40], why=column.why) for column in left)


def passed_over_of(u: Understanding) -> tuple[str, ...]:
    """Rows that are no sales, by what they are."""
    kinds = {
        "totals_row": say("totals"),
        "section_row": say("a heading"),
        "repeated_header": say("the headers again"),
        "note_row": say("a note"),
    }
    by_kind: dict[str, list[str]] = {}
    for row, code in u.asides.items():
        by_kind.setdefault(kinds.get(code, code), []).append(str(row))
    return tuple(
        say("row {rows} ({kind})", rows=shortlist(rows, 5), kind=kind)
        if len(rows) == 1
        else say("rows {rows} ({kind})", rows=shortlist(rows, 5), kind=kind)
        for kind, rows in by_kind.items()
    )
