"""What is wrong with a table, by cause and row by row, how it is mended, and what to do next."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from valuation.comparables.mend import Group
from valuation.comparables.table import Comparables, Fault
from valuation.errors import TableError
from valuation.notes import Note
from valuation.schema.reader import default_schema
from valuation.schema.schema import Schema
from valuation.text.spelling import header_key
from valuation.view import View, Viewed

HABITS = frozenset({"dates_by_rule", "premium_by_venue"})
"""Notes that ``read_as`` says in short."""
Next = Literal["start", "mend", "by hand", "add sales", "estimate"]


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class TableCheck(Viewed):
    """A table as it was understood, and its faults.

    Attributes
    ----------
    source_name, sheet : str
        Of the file; the sheet is empty where there is none.
    rows, usable : int
        Data rows in the file, and those that enter a fit.
    usable_after : int
        Rows that enter a fit after every mend that has one answer: the table is read again with them.
    stays_out : int
        Rows that are set aside for good.
    currency : str
        Of all prices; empty when the table names none.
    outcomes : mapping of str to int
        Rows by outcome: ``sold``, ``bid_not_met``, ``asking``, ``set_aside``.
    faults : tuple of Fault
        In row order.
    groups : tuple of Group
        The faults by cause: those of the whole table, then those that free most rows.
    read_as : tuple of str
        Habits by which the table was read: what columns were taken for, the order of dates, premiums added.
    next : {"start", "mend", "by hand", "add sales", "estimate"}
        What to do next: draft a schema from the table, mend it with the program or by hand, add sales, or ask.
    notes : tuple of Note
        How the table was read, and the one or two sales that a fit of it finds doubtful.
    """

    source_name: str
    sheet: str
    rows: int
    usable: int
    usable_after: int
    stays_out: int
    currency: str
    outcomes: Mapping[str, int]
    faults: tuple[Fault, ...]
    groups: tuple[Group, ...]
    read_as: tuple[str, ...]
    next: Next
    notes: tuple[Note, ...]

    def _view(self) -> View:
        return View(
            title="Faults of the table",
            facts=(f"{self.usable} of {self.rows} rows can be used", f"{len(self.faults)} found"),
            header=("row", "column", "found", "why", "mend"),
            rows=[(str(one.row or ""), one.column, one.value, one.why, one.mend) for one in self.faults],
            notes=self.notes,
        )


def check(comparables: Comparables) -> TableCheck:
    """Every fault of a table with its mend.

    Examples
    --------
    >>> import valuation as v
    >>> v.check(v.read_comparables("data/comparables.csv", v.read_schema("data/schema.toml"))).rows
    182
    """
    from valuation.comparables.suggestions import STAYS_OUT, grouped, mended_as_agreed
    from valuation.regression.model import doubts_in

    groups = grouped(comparables)
    usable_after = mended_as_agreed(comparables)[0].n_usable
    stays_out = len({fault.row for fault in comparables.faults if fault.code in STAYS_OUT})
    return TableCheck(
        source_name=comparables.source_name,
        sheet=comparables.origin.sheet if comparables.origin else "",
        rows=comparables.rows,
        usable=comparables.n_usable,
        usable_after=usable_after,
        stays_out=stays_out,
        currency=comparables.currency,
        outcomes=comparables.outcome_counts(),
        faults=comparables.faults,
        groups=groups,
        read_as=_read_as(comparables),
        next=_next(comparables, groups, usable_after, stays_out),
        notes=(*comparables.notes, *doubts_in(comparables)),
    )


def _next(table: Comparables, groups: tuple[Group, ...], usable_after: int, stays_out: int) -> Next:
    from valuation.regression.regressor import LEAST_SALES

    nothing = any(group.frees and not group.rows for group in groups)
    few = 2 * usable_after < table.rows - stays_out
    if (nothing or few) and is_default(table.schema):
        return "start"
    if not nothing and any(group.how in ("one answer", "ask") for group in groups):
        return "mend"
    if any(group.how == "by hand" and group.frees for group in groups):
        return "by hand"
    return "estimate" if table.n_usable >= LEAST_SALES else "add sales"


def is_default(schema: Schema) -> bool:
    """Whether a schema knows no columns but those of the default one: the owner has not told his own."""
    return schema.attributes == default_schema().attributes


def refused(
    refusal: TableError, table: Path, schema: Schema, way_on: Sequence[str], sheet: str | None = None
) -> TableError:
    """Why a table cannot be checked; where only its columns are not known, with the way to a schema that knows them.

    Parameters
    ----------
    refusal : TableError
    table : Path
    schema : Schema
        By which it was read.
    way_on : sequence of str
        The words of the command that drafts a schema.
    sheet : str or None
        The sheet asked for.
    """
    from valuation.comparables.reader import choose_table

    if not is_default(schema):
        return refusal
    try:
        choose_table(table, schema, sheet=sheet)
    except TableError:
        return refusal
    return TableError(f"{refusal} Or have a schema drafted from the table: {shlex.join(way_on)}")


def _read_as(table: Comparables) -> tuple[str, ...]:
    """Habits by which a table was read, for those that leave a trace in it."""
    told = {note.code for note in table.notes}
    habits: list[str] = []
    if "dates_by_rule" in told:
        habits.append(f"dates {'day' if table.schema.day_first else 'month'} first")
    headers = table.origin.headers if table.origin else {}
    titles = {one.name: one.title for one in table.schema.attributes}
    habits += [
        f"'{header}' is {titles.get(name, name.replace('_', ' '))}"
        for name, header in headers.items()
        if header_key(header) not in (header_key(name), header_key(titles.get(name, "")))
    ]
    if "premium_by_venue" in told:
        seen = set(table.sales["venue"])
        raised = [
            f"{venue} by {percent:g} %"
            for venue, percent in table.schema.venue_premiums.items()
            if percent and venue in seen
        ]
        habits += [f"prices raised by the venue's premium: {', '.join(raised)}"] if raised else []
    return tuple(habits)
