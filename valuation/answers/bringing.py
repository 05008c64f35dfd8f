"""A table that was brought and is talked about: what is kept of the talk, and how it is understood by now.

Nothing of it is in the ledger. Each answer gives the next state; the one before stays as it was.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import reduce
from typing import TYPE_CHECKING

from valuation.answers.draft import best_understood
from valuation.answers.intake import Brought, Draft, bring, draft_of
from valuation.comparables.headers import known_headers
from valuation.comparables.mend import Mend
from valuation.comparables.mends import Clash, Reapplied, mends_since, one_after_another, put_in, reapply
from valuation.comparables.reader import from_text_table
from valuation.comparables.reading import read_text_tables
from valuation.comparables.table import Comparables
from valuation.comparables.texttable import TextTable
from valuation.drafting.known_schema import recalled, with_what_is_new
from valuation.drafting.questions import agreed
from valuation.drafting.reader import known_somehow
from valuation.drafting.schema_text import draft_schema
from valuation.drafting.understanding import Understanding
from valuation.errors import TableError
from valuation.schema.reader import parse_schema
from valuation.schema.schema import Schema

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import TableRecord


@dataclass(frozen=True, kw_only=True, eq=False)
class Waiting:
    """A table that waits for its owner's answers.

    Attributes
    ----------
    name, source_name : str
        The shop's name for it, and the file's.
    source : bytes
        The file.
    tables : tuple of TextTable
        Its cells; of a workbook each sheet that may be meant.
    schema : Schema
        To understand it by: of the version before or of a file that came with it, else the trade's.
    is_known : bool
        Whether that is the owner's, so that what it says of the table stands.
    before : TableRecord or None
        The version before, whose schema and mends are remembered.
    sheets : tuple of str
        Of the workbook that hold something; empty where there is no choice.
    told : mapping of str to str
        His answers, by their keys; see ``understand``.
    made : tuple of tuple of Mend
        Mends, step by step.
    remembered : tuple of Mend
        Those of the version before, the first step of all as long as it is not taken back.
    clashes : tuple of Clash
        Mends of the version before that no longer fit.
    """

    name: str
    source_name: str
    source: bytes
    tables: tuple[TextTable, ...]
    schema: Schema
    is_known: bool = False
    before: TableRecord | None = None
    sheets: tuple[str, ...] = ()
    told: Mapping[str, str] = field(default_factory=dict)
    made: tuple[tuple[Mend, ...], ...] = ()
    remembered: tuple[Mend, ...] = ()
    clashes: tuple[Clash, ...] = ()

    @property
    def mends(self) -> tuple[Mend, ...]:
        """All steps as one."""
        return reduce(one_after_another, self.made, ())


@dataclass(frozen=True, eq=False)
class Seen:
    """A waiting table as it is understood by now.

    Attributes
    ----------
    text : TextTable
        With its mends.
    found : Understanding or None
        None where no column can be told to be the price.
    schema : Schema or None
        That says so.
    read : Comparables or None
        The table read by that schema.
    why_not : str
        Why it cannot be read yet.
    """

    text: TextTable
    found: Understanding | None = None
    schema: Schema | None = None
    read: Comparables | None = None
    why_not: str = ""


def begin(
    tables: Tables,
    name: str,
    source: bytes,
    source_name: str,
    *,
    schema_text: bytes | None = None,
    currency: str = "",
    day_first: bool | None = None,
) -> Waiting:
    """A table to talk about: what is known of it from an earlier version, or from a schema that came with it.

    Parameters
    ----------
    tables : Tables
    name : str
        The shop's name for the table.
    source : bytes
        The file.
    source_name : str
        The file's name.
    schema_text : bytes or None
        A schema file brought with it.
    currency : str
        Where the table names none.
    day_first : bool or None
        Whether 03/04/2025 is 3 April.

    Raises
    ------
    TableError
        If the file is not a table, or larger than the limits.
    """
    draft = draft_of(tables, name, source, source_name, schema_text=schema_text, currency=currency)
    name, schema = draft.name, draft.schema
    before = tables.newest_of(name)
    waiting = Waiting(
        name=name,
        source_name=source_name,
        source=source,
        tables=(),
        schema=schema,
        is_known=bool(schema_text) or before is not None,
        before=before,
        told={} if day_first is None else {"day_first": str(day_first).lower()},
    )
    waiting = _on_sheet(waiting, None)
    tables.refuse_large(name, len(waiting.tables[0].cells), waiting.tables[0].cells.size)
    if before is None:
        return waiting
    versions = tables.versions(name)
    back, mends = mends_since((tables.text_table(one), tables.ledger.content(one.source)) for one in versions)
    again = reapply(mends, tables.text_table(versions[back]), look(waiting, dt.date.today()).text)
    made = (again.fits,) if again.fits else ()
    return replace(waiting, made=made, remembered=again.fits, clashes=again.clashes)


def _on_sheet(waiting: Waiting, sheet: str | None) -> Waiting:
    is_known = known_headers(waiting.schema) if waiting.is_known else known_somehow(waiting.schema)
    tables, others = read_text_tables(
        waiting.source, is_known, name=waiting.source_name, sheet=sheet, usual_sheet=waiting.schema.sheet
    )
    sheets = waiting.sheets or (*(one.sheet for one in tables), *others)
    return replace(waiting, tables=tuple(tables), sheets=sheets if len(sheets) > 1 else ())


def look(waiting: Waiting, today: dt.date) -> Seen:
    """A waiting table as it is understood by now.

    Parameters
    ----------
    waiting : Waiting
    today : date
        Later days lie in the future.

    Raises
    ------
    SchemaError
        If answers contradict each other.
    """

    def told(table: TextTable) -> Mapping[str, str]:
        return {**recalled(table, waiting.schema), **waiting.told} if waiting.is_known else waiting.told

    try:
        table, found = best_understood(waiting.tables, waiting.schema, told, today)
    except TableError as refusal:
        return Seen(put_in(waiting.tables[0], waiting.mends), why_not=str(refusal))
    schema = with_what_is_new(found) if waiting.is_known else parse_schema(draft_schema(found), waiting.source_name)
    schema = replace(schema, sheet=table.sheet) if waiting.sheets else schema
    text = put_in(table, waiting.mends) if waiting.made else table
    return Seen(text, found, schema, from_text_table(text, schema, today))


def answered(waiting: Waiting, told: Mapping[str, str]) -> Waiting:
    """The state after answers; an empty one takes an earlier answer back.

    Parameters
    ----------
    waiting : Waiting
    told : mapping of str to str
        By the keys of questions; see ``understand``.
    """
    kept = {**waiting.told}
    for key, answer in told.items():
        kind, _, about = key.partition("/")
        if kind == "header":  # one column of a kind: an earlier answer about it gives way
            kept.pop(f"column/{answer}", None)
            for other in [one for one, said in kept.items() if one.startswith("header/") and said == answer]:
                if answer not in ("own", "left out"):
                    del kept[other]
        elif kind == "column":
            for other in [one for one, said in kept.items() if one.startswith("header/") and said == about]:
                del kept[other]
            key, answer = f"header/{answer}", about
        kept[key] = answer
    kept = {key: answer for key, answer in kept.items() if answer}
    return waiting if kept == waiting.told else replace(waiting, told=kept)


def with_suggestions(waiting: Waiting, seen: Seen) -> Waiting:
    """The state after every suggested answer is taken.

    Parameters
    ----------
    waiting : Waiting
    seen : Seen
    """
    found = seen.found
    return answered(waiting, agreed(found.questions)) if found else waiting


def on_sheet(waiting: Waiting, sheet: str) -> Waiting:
    """The state after another sheet was chosen; answers and mends were about the other one.

    Parameters
    ----------
    waiting : Waiting
    sheet : str

    Raises
    ------
    TableError
        If there is no such sheet, or no table on it.
    """
    return replace(_on_sheet(waiting, sheet), told={}, made=(), remembered=(), clashes=())


def with_mends(waiting: Waiting, mends: Iterable[Mend]) -> Waiting:
    """The state after one more step of mends.

    Parameters
    ----------
    waiting : Waiting
    mends : iterable of Mend
    """
    step = tuple(mends)
    return replace(waiting, made=(*waiting.made, step)) if step else waiting


def without_last_mends(waiting: Waiting) -> Waiting:
    """The state before the last step of mends."""
    left = waiting.made[:-1]
    return replace(waiting, made=left, remembered=waiting.remembered if left else ())


def use(tables: Tables, waiting: Waiting, seen: Seen) -> Brought:
    """Write the table to the ledger: as it came, and after it the version with its mends.

    Parameters
    ----------
    tables : Tables
    waiting : Waiting
    seen : Seen
        How it is understood.

    Raises
    ------
    TableError
        If no column is the price yet, or the table is larger than the limits.
    """
    if seen.schema is None:
        raise TableError(f"Cannot use '{waiting.name}' yet: say which column is the price.")
    draft = Draft(waiting.name, waiting.source, waiting.source_name, seen.schema)
    return bring(tables, draft, mends=Reapplied(waiting.mends, (), waiting.clashes))
