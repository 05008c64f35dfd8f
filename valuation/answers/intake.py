"""From a table that somebody brings, or mends that somebody makes, to the next version in the ledger."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from valuation.errors import LedgerError, SchemaError
from valuation.schema import Schema, default_schema, parse_schema

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.comparables.mend import Mend
    from valuation.comparables.mends import Reapplied
    from valuation.ledger import TableRecord

DEMO_NAME = "Thistlewick Motor Works (invented demo)"
"""The name of the demo's table."""


@dataclass(frozen=True)
class Draft:
    """A table that was brought and is not in the ledger yet.

    Attributes
    ----------
    name, source_name : str
    source : bytes
    schema : Schema
    """

    name: str
    source: bytes
    source_name: str
    schema: Schema


@dataclass(frozen=True)
class Brought:
    """A table that was brought.

    Attributes
    ----------
    table : TableRecord
        The version to go on with.
    as_it_came : TableRecord
        The version that holds the file itself.
    before : TableRecord or None
        The version whose headers, words and mends were remembered, where there was one.
    reapplied : Reapplied
        Its mends: which were made again, which the file holds already, and which no longer fit.
    """

    table: TableRecord
    as_it_came: TableRecord
    before: TableRecord | None
    reapplied: Reapplied


@dataclass(frozen=True)
class Mended:
    """What became of mends that somebody made on a page.

    Attributes
    ----------
    table : TableRecord
        The version that holds them; where they clash the newest, and nothing was written.
    shown : TableRecord
        The version that the page showed.
    meanwhile : tuple of Mend
        What was mended between the two by another hand.
    reapplied : Reapplied
        The mends as they stand in the newest version.
    headers : tuple of (str, str, str, str)
        Headers that clash: header, what it meant on the page, what it means by now, what is wanted.
    """

    table: TableRecord
    shown: TableRecord
    meanwhile: tuple[Mend, ...]
    reapplied: Reapplied
    headers: tuple[tuple[str, str, str, str], ...] = ()

    @property
    def clashes(self) -> bool:
        """Whether the owner has to choose, because both hands were at the same cells."""
        return bool(self.reapplied.clashes or self.headers)


def read_schema_file(text: bytes) -> Schema:
    """The schema of an upload.

    Raises
    ------
    SchemaError
        If the file is not text or contradicts itself.
    """
    try:
        return parse_schema(text.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        message = "Cannot read the schema file: it is not UTF-8 text. Save it as plain text."
        raise SchemaError(message, where="schema_file") from error


def draft_of(
    tables: Tables,
    name: str,
    source: bytes,
    source_name: str,
    *,
    schema_text: bytes | None = None,
    currency: str = "",
    day_first: bool | None = None,
) -> Draft:
    """A table to be brought, with the schema to read it by.

    That is its own file's, else that of the newest version of its name, else the default. A currency or an order of
    dates that is told goes before the remembered one.

    Parameters
    ----------
    tables : Tables
    name : str
        The shop's name for the table, or what it is called by now.
    source : bytes
        The file.
    source_name : str
        The file's name.
    schema_text : bytes or None
        A schema file brought with it.
    currency : str
        Where the table names none.
    day_first : bool or None
        Whether 03/04/2025 is 3 April; as last time unless given.
    """
    name = tables.key_of(name)
    newest = tables.newest_of(name)
    currency = currency.strip()
    if schema_text:
        schema = read_schema_file(schema_text)
        if currency and not schema.currency:
            schema = replace(schema, currency=currency)
    elif newest is not None:
        known = tables.schema(newest)
        order = known.day_first if day_first is None else day_first
        schema = replace(known, currency=currency or known.currency, day_first=order)
    else:
        currency = currency or tables.usual_currency
        schema = replace(default_schema(), currency=currency, day_first=bool(day_first), source_text="")
    return Draft(name, source, source_name, schema)


def bring(
    tables: Tables,
    draft: Draft,
    *,
    mend_again: bool = True,
    follows: int | None = None,
    mends: Reapplied | None = None,
) -> Brought:
    """Write a table to the ledger as it came, and after it the version with its mends.

    Parameters
    ----------
    tables : Tables
    draft : Draft
    mend_again : bool
        Whether the mends of the version before are made again.
    follows : int or None
        Number of the version that the table was made from, where it was; see ``Ledger.add_table``.
    mends : Reapplied or None
        The mends to make, those of the version before among them, and which of these no longer fit; else the remembered
        ones alone.
    """
    from valuation.comparables.mends import Reapplied, mends_since, reapply, unmerged, written

    nothing = Reapplied((), (), ())
    before = tables.newest_of(draft.name)
    again = mends or nothing
    if before is not None and mend_again:
        versions = tables.versions(draft.name)
        back, behind = mends_since((tables.text_table(one), tables.ledger.content(one.source)) for one in versions)
        base = versions[back]
        same = draft.schema.as_dict() == tables.schema(before).as_dict()
        as_mended = mends is None or set(mends.fits) == set(behind)
        if same and as_mended and tables.ledger.content(base.source) == draft.source:
            return Brought(before, base, before, nothing)  # the file is here already, and mended
    came = tables.bring(draft.name, draft.source, draft.source_name, draft.schema, follows=follows)
    text = tables.text_table(came)
    if before is not None and mend_again and mends is None:
        again = reapply(behind, tables.text_table(base), text)
    if not again.fits:
        return Brought(came, came, before, again)
    again = replace(again, fits=(*again.fits, *unmerged(text, tables.comparables(came).faults, again.fits)))
    table = tables.bring(came.name, written(text, again.fits), as_csv(came.source_name), draft.schema, follows=came.id)
    return Brought(table, came, before, again)


def mend_table(
    tables: Tables,
    shown: TableRecord,
    cells: Mapping[tuple[int, str], str],
    *,
    left_out: Collection[int] = (),
    confirmed: Collection[int] = (),
    headers: Mapping[str, str] | None = None,
) -> Mended:
    """Mends made on a page that showed one version, put into the newest; nothing is written where they clash.

    Parameters
    ----------
    tables : Tables
    shown : TableRecord
        The version that the page showed.
    cells, left_out, confirmed
        As for ``mended``.
    headers : mapping of str to str, optional
        Headers and the columns that they mean.
    """
    from valuation.comparables.mend import Mend
    from valuation.comparables.mending import CONFIRMED, mended, with_headers
    from valuation.comparables.mends import Reapplied, reapply, unmerged, written

    text = tables.text_table(shown)
    mended(text, cells, left_out=left_out, confirmed=confirmed)  # refuses what is not there
    mends = [
        *(Mend(row, column, text.cell(row, column), new) for (row, column), new in cells.items()),
        *(Mend(row, CONFIRMED, "", "yes") for row in confirmed),
        *(Mend(row, "") for row in left_out),
    ]
    while True:
        newest = tables.newest_of(shown.name) or shown
        descends, meanwhile = _since(tables, shown, newest)
        now = tables.text_table(newest)
        reapplied = Reapplied(tuple(mends), (), ())
        if newest.id != shown.id:
            reapplied = reapply(mends, text, now, same_rows=descends)
        apart = _headers_apart(tables, shown, newest, headers or {})
        if reapplied.clashes or apart:
            return Mended(newest, shown, meanwhile, reapplied, apart)
        schema = with_headers(tables.schema(newest), headers) if headers else tables.schema(newest)
        source, name = tables.ledger.content(newest.source), newest.source_name
        if reapplied.fits:
            blanked = unmerged(now, tables.comparables(newest).faults, reapplied.fits)
            source, name = written(now, (*reapplied.fits, *blanked)), as_csv(name)
        try:
            table = tables.bring(shown.name, source, name, schema, follows=newest.id)
        except LedgerError:
            if tables.newest_of(shown.name) == newest:
                raise
            continue  # another hand was quicker: begin again from what it wrote
        return Mended(table, shown, meanwhile, reapplied)


def as_it_came(tables: Tables, table: TableRecord) -> TableRecord:
    """The next version of a table: the file that it was brought as, without any mends.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
    """
    base = brought_as(tables, table)
    return tables.bring(table.name, tables.ledger.content(base.source), base.source_name, tables.schema(table))


def brought_as(tables: Tables, table: TableRecord) -> TableRecord:
    """The version of a table that holds the file which it was brought as, before any mends.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
    """
    from valuation.comparables.mends import mends_since

    versions = [one for one in tables.versions(table.name) if one.id <= table.id]
    back, _ = mends_since((tables.text_table(one), tables.ledger.content(one.source)) for one in versions)
    return versions[back]


def known_as(tables: Tables, source: bytes, source_name: str) -> TableRecord | None:
    """The newest version of the table that a file is one of: by its content, else by its name; None if by neither.

    Parameters
    ----------
    tables : Tables
    source : bytes
        The file.
    source_name : str
        Its name.
    """
    from valuation.ledger import fingerprint

    print_of = fingerprint(source)
    newest = tables.newest_tables()
    alike = [one.name for one in tables.tables() if one.source == print_of]
    return next((one for one in newest if one.name in alike[:1]), None) or next(
        (one for one in newest if source_name in (one.source_name, one.name)), None
    )


def _since(tables: Tables, shown: TableRecord, newest: TableRecord) -> tuple[bool, tuple[Mend, ...]]:
    """Whether one version came about from another by mends alone, and these mends."""
    from valuation.comparables.mends import mends_since

    between = [one for one in tables.versions(shown.name) if shown.id <= one.id <= newest.id]
    back, mends = mends_since((tables.text_table(one), tables.ledger.content(one.source)) for one in between)
    return back == len(between) - 1, mends if back == len(between) - 1 else ()


def _headers_apart(
    tables: Tables, shown: TableRecord, newest: TableRecord, wanted: Mapping[str, str]
) -> tuple[tuple[str, str, str, str], ...]:
    """Headers that another hand mapped otherwise since the page was shown."""
    from valuation.comparables.mending import header_choices

    before = header_choices(tables.text_table(shown), tables.schema(shown))
    now = header_choices(tables.text_table(newest), tables.schema(newest))
    return tuple(
        (header, before.get(header, ""), now[header], mine)
        for header, mine in wanted.items()
        if header in now and now[header] not in (before.get(header, ""), mine)
    )


def as_csv(name: str) -> str:
    """The file name of a table written anew: CSV, whatever it came as."""
    return name.rpartition(".")[0] + ".csv" if "." in name else name
