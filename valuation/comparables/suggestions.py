"""Suggestions: faults grouped by cause, as an owner would say them, with how each is mended.

How a fault is mended follows from its code and from whether it suggests a text for its cell:

=======================  ==========================================================================================
code                     mend
=======================  ==========================================================================================
ambiguous_currency       by hand: the currency is written beside the price, or told in the schema
ambiguous_dates          one answer: the order that the other dates prove; by hand where that day has not come yet
column_twice             by hand: one of the two is renamed
currency_conflict        by hand: only the owner knows which of the two is right
currency_without_rate    by hand: a rate in the schema
doubtful_premium         asked where it looks like a percentage without its sign, or a share; else by hand
duplicate_sale           stays out; leaving the row out of the new file, or confirming it, is asked
early_date               by hand
extra_cells              by hand: which cells belong together cannot be told
future_date              asked where day and month in the other order have passed; else by hand
impossible_date          one answer where a month is misspelt; else by hand
impossible_number        by hand
likely_misspelling       asked: they may be two makes or lines
merged_price             by hand: it may have been paid for all of the vehicles that it is merged over
missing_column           by hand: a header or the schema is changed
missing_date             by hand
missing_outcome          by hand
missing_price            by hand
missing_value            by hand
not_a_count              by hand
not_a_flag               one answer where yes or no is misspelt; else by hand
not_a_number             one answer where letters stand for digits (l95O); else by hand
not_arms_length          stays out
note_row                 stays out
price_infinite           by hand
price_negative           asked: without the sign it may be a price, or money that went back
price_not_a_number       one answer where letters stand for digits; else by hand
price_range              by hand: which of the two was paid only the owner knows
price_zero               by hand
repeated_header          stays out
section_row              stays out
slipped_digit            asked one by one, never in a group: the price may be right, and is then confirmed
spreadsheet_error        by hand
totals_row               stays out
unknown_column           by hand, and only if the column matters
unknown_level            one answer where one level alone is near; else by hand
unknown_outcome          one answer where one outcome alone is near; else by hand
=======================  ==========================================================================================
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import replace
from typing import get_args

from valuation.comparables.mend import Group, How, Mend
from valuation.comparables.mending import CONFIRMED
from valuation.comparables.mends import put_in
from valuation.comparables.reader import from_text_table
from valuation.comparables.table import Comparables, Fault
from valuation.errors import shortlist

_HOWS = get_args(How)

ASKED = frozenset({"doubtful_premium", "future_date", "likely_misspelling", "price_negative", "slipped_digit"})
"""Faults whose suggestion may be wrong, so that it is never taken without a yes."""
NO_SALE = frozenset({"note_row", "repeated_header", "section_row", "totals_row"})
"""Faults of rows that are no sales at all."""
STAYS_OUT = NO_SALE | {"duplicate_sale", "not_arms_length"}
"""Faults of rows that are set aside for good, unless the owner says otherwise."""
ONE_BY_ONE = frozenset({"slipped_digit", "duplicate_sale"})
"""Faults that are agreed to row by row, and rows that can be confirmed as right instead."""
_SAYS_ENOUGH = NO_SALE | {"duplicate_sale", "extra_cells"}
"""Faults of whole rows, whose text would say nothing more."""
_WORDS = frozenset({"likely_misspelling", "not_a_flag", "unknown_level", "unknown_outcome"})
"""Faults of words: those meant as the same word are one cause."""

_MENDABLE = {
    "ambiguous_dates": ("date with day and month turned round", "dates with day and month turned round"),
    "doubtful_premium": ("premium that looks like a percentage", "premiums that look like percentages"),
    "future_date": ("date in the future as it was read", "dates in the future as they were read"),
    "impossible_date": ("date with a misspelt month", "dates with a misspelt month"),
    "not_a_number": ("figure with a letter for a digit", "figures with letters for digits"),
    "price_negative": ("price below zero", "prices below zero"),
    "price_not_a_number": ("price with a letter for a digit", "prices with letters for digits"),
    "slipped_digit": ("price far from its neighbours", "prices far from their neighbours"),
}
"""What one fault, and what several faults of a kind are called where there is a suggestion; an example follows."""

_BY_HAND = {
    "ambiguous_currency": ("price without a currency", "prices without a currency"),
    "ambiguous_dates": ("date with day and month turned round", "dates with day and month turned round"),
    "column_twice": ("column that means the same as another", "columns that mean the same as others"),
    "currency_conflict": ("price in another currency than its row", "prices in another currency than their rows"),
    "currency_without_rate": ("price in a currency without a rate", "prices in a currency without a rate"),
    "doubtful_premium": ("premium or fee that cannot be right", "premiums or fees that cannot be right"),
    "duplicate_sale": ("sale that is in an earlier row", "sales that are in earlier rows"),
    "early_date": ("date before the earliest of the schema", "dates before the earliest of the schema"),
    "extra_cells": ("row with more cells than headers", "rows with more cells than headers"),
    "future_date": ("date in the future", "dates in the future"),
    "impossible_date": ("date that cannot be read", "dates that cannot be read"),
    "impossible_number": ("figure in '{column}' out of range", "figures in '{column}' out of range"),
    "merged_price": ("price merged with others", "prices merged with others"),
    "missing_date": ("row without a date", "rows without a date"),
    "missing_outcome": ("row without an outcome", "rows without an outcome"),
    "missing_price": ("row without a price", "rows without a price"),
    "missing_value": ("row without '{column}'", "rows without '{column}'"),
    "not_a_count": ("cell of '{column}' that is no whole number", "cells of '{column}' that are no whole numbers"),
    "not_a_flag": ("cell of '{column}' that is neither yes nor no", "cells of '{column}' that are neither yes nor no"),
    "not_a_number": ("cell of '{column}' that is no number", "cells of '{column}' that are no numbers"),
    "not_arms_length": ("sale that was not open", "sales that were not open"),
    "note_row": ("note below the table", "notes below the table"),
    "price_infinite": ("infinite price", "infinite prices"),
    "price_negative": ("price below zero", "prices below zero"),
    "price_not_a_number": ("price that is no amount", "prices that are no amounts"),
    "price_range": ("price given as two amounts", "prices given as two amounts"),
    "price_zero": ("price of zero", "prices of zero"),
    "repeated_header": ("line that repeats the headers", "lines that repeat the headers"),
    "section_row": ("heading amid the sales", "headings amid the sales"),
    "spreadsheet_error": ("cell with an error of the spreadsheet", "cells with errors of the spreadsheet"),
    "totals_row": ("line of totals", "lines of totals"),
    "unknown_column": ("column that the schema does not know", "columns that the schema does not know"),
    "unknown_level": ("row whose '{column}' is no level", "rows whose '{column}' is no level"),
    "unknown_outcome": ("row whose '{column}' is no outcome", "rows whose '{column}' is no outcome"),
}
"""The same where there is none; what was found follows."""


def how_mended(fault: Fault) -> How:
    """How one fault is mended."""
    if fault.code in STAYS_OUT:
        return "stays out"
    if not fault.suggestion:
        return "by hand"
    return "ask" if fault.code in ASKED else "one answer"


def grouped(found: Comparables) -> tuple[Group, ...]:
    """The faults of a table by cause: those of the whole table, then those that free most rows, then the rest.

    Of a row that stays out for good nothing else is said.
    """
    out = {fault.row for fault in found.faults if fault.code in STAYS_OUT}
    causes: dict[Hashable, list[Fault]] = {}
    for fault in found.faults:
        if fault.row not in out or fault.code in STAYS_OUT:
            causes.setdefault(_cause_of(fault), []).append(fault)
    groups = [_group(faults, found) for faults in causes.values()]
    return tuple(sorted(groups, key=_weight))


def _weight(group: Group) -> tuple[bool, bool, bool, int, int]:
    """What a list of groups is sorted by, the smallest first."""
    return group.how == "stays out", not group.frees, bool(group.rows), -group.frees, _HOWS.index(group.how)


def _cause_of(fault: Fault) -> Hashable:
    """What faults of one cause have in common."""
    if fault.code in _WORDS and fault.suggestion:
        return fault.code, fault.column, fault.suggestion
    if fault.code == "currency_without_rate":
        return fault.code, fault.value
    if fault.code == "unknown_column":
        return fault.code
    return fault.code, fault.column, bool(fault.suggestion)


def _group(faults: Sequence[Fault], found: Comparables) -> Group:
    first = faults[0]
    rows = tuple(dict.fromkeys(fault.row for fault in faults if fault.row))
    aside = first.sets_aside and not first.row
    headers = found.origin.headers if found.origin else {}
    return Group(
        code=first.code,
        how=how_mended(first),
        count=len(rows) or len(faults),
        cause=_cause(faults, len(rows) or len(faults)),
        rows=rows,
        mends=tuple(_mend(fault, found) for fault in faults if fault.suggestion or fault.code == "duplicate_sale"),
        frees=found.rows if aside else len({fault.row for fault in faults if fault.sets_aside}),
        todo=first.mend,
        confirms=headers.get(CONFIRMED, CONFIRMED) if first.code in ONE_BY_ONE else "",
    )


def _mend(fault: Fault, found: Comparables) -> Mend:
    if not fault.suggestion:
        return Mend(fault.row, "")
    text = found.origin.text if found.origin else None
    old = fault.value if text is None else str(text.cells.at[fault.row, fault.column])
    return Mend(fault.row, fault.column, old, fault.suggestion)


def _cause(faults: Sequence[Fault], count: int) -> str:
    first = faults[0]
    found = _quoted(fault.value for fault in faults)
    if first.code == "missing_column":
        return first.why[0].lower() + first.why[1:].rstrip(".")
    if first.code in _WORDS and first.suggestion:
        several = len({fault.value for fault in faults}) > 1
        verb = "may be" if first.code in ASKED else ("are" if several else "is")
        return f"{found} {verb} {first.suggestion} in '{first.column}'"
    if first.suggestion:
        verb = "may be" if first.code in ASKED else "is"
        return f"{_MENDABLE[first.code][count > 1]} ({_short(first.value)} {verb} {first.suggestion})"
    what = _BY_HAND[first.code][count > 1].format(column=first.column)
    if not first.row:
        found = _quoted(fault.column for fault in faults)
    if found and first.code not in _SAYS_ENOUGH:
        what += f" ({found})"
    return f"{what}: {'stay' if count > 1 else 'stays'} out" if first.code in STAYS_OUT else what


def _quoted(values: Iterable[str]) -> str:
    """Distinct texts in quotation marks, the first three of them."""
    return shortlist([f"'{_short(value)}'" for value in dict.fromkeys(map(str.strip, values)) if value], 3)


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 30 else f"{text[:29]}…"


Agree = Callable[[Group], Iterable[Mend]]
"""Which mends of a group are to be made: its own, or confirmations of its rows."""


def sure(group: Group) -> tuple[Mend, ...]:
    """The mends of a group that has one answer; none of any other."""
    return group.mends if group.how == "one answer" else ()


def mended_as_agreed(found: Comparables, agree: Agree = sure) -> tuple[Comparables, tuple[tuple[Mend, str], ...]]:
    """A table with the mends that are agreed to, read again until there is nothing more to agree to.

    Each mend is offered once. What a mend brings to light, such as a row that now gives the same sale as another, is
    offered in its turn.

    Parameters
    ----------
    found : Comparables
    agree : callable
        Which mends of a group are to be made.

    Returns
    -------
    Comparables
    tuple of (Mend, str)
        What was mended, one after another, and why.
    """
    made: list[tuple[Mend, str]] = []
    offered: set[Mend] = set()
    while found.origin is not None and found.origin.text is not None:
        agreed: list[tuple[Mend, str]] = []
        for group in grouped(found):
            fresh = tuple(mend for mend in group.mends if mend not in offered)
            offered.update(fresh)
            if fresh:
                agreed += [(mend, group.cause) for mend in agree(replace(group, mends=fresh))]
        if not agreed:
            break
        text = put_in(found.origin.text, [mend for mend, _ in agreed])
        made += agreed
        found = from_text_table(text, found.schema, found.origin.today)
    return found, tuple(made)
