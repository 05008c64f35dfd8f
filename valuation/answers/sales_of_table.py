"""Sales of a table one by one: what a row says and was read as, setting it aside, and what each version changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.answers.intake import Mended, mend_table
from valuation.errors import LedgerError, TableError

if TYPE_CHECKING:
    from valuation.answers.add import AddedSale, MakeRow
    from valuation.answers.tables import Tables
    from valuation.comparables.appending import ReadCell
    from valuation.comparables.mend import Mend
    from valuation.comparables.table import Fault
    from valuation.comparables.texttable import TextTable
    from valuation.ledger import SaleRecord, TableRecord

MOST_VERSIONS = 20
"""Newest versions whose changes are told; chosen, a page. Older ones stay in the ledger."""
TRIES = 5
"""How often an addition begins anew when another hand was quicker; chosen."""


@dataclass(frozen=True)
class SaleField:
    """A column of a table as a form asks for it.

    Attributes
    ----------
    header, title : str
        The table's header, and what it means; the same where it means nothing.
    says, read : str
        What the row says, and what that was read as where it is something else.
    words : tuple of str
        Words to choose from, lowest first; empty where anything can stand.
    faults : tuple of str
        What is wrong with the cell, and what to do.
    """

    header: str
    title: str
    says: str
    read: str
    words: tuple[str, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True)
class OneSale:
    """A row of a table.

    Attributes
    ----------
    row : int
        As a spreadsheet shows it.
    usable : bool
        Whether it enters a fit.
    reason : str
        Why its owner set it aside; empty where he did not.
    fields : tuple of SaleField
        In the table's order.
    faults : tuple of str
        Of the whole row.
    """

    row: int
    usable: bool
    reason: str
    fields: tuple[SaleField, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True)
class VersionChange:
    """What one version of a table changed in the one before.

    Attributes
    ----------
    id, version : int
        Number of the record, and of the version.
    written_at : datetime
    said : str
        In a sentence.
    changes : tuple of CellChange
    """

    id: int
    version: int
    written_at: dt.datetime
    said: str
    changes: tuple[CellChange, ...]


@dataclass(frozen=True)
class CellChange:
    """One cell written anew, or one row left out or added.

    Attributes
    ----------
    row : int
    column, old, new : str
        Empty column: the whole row.
    reason : str
        What was wrong with it before, or why it was set aside.
    """

    row: int
    column: str
    old: str
    new: str
    reason: str


def empty_sale(tables: Tables, table: TableRecord) -> tuple[SaleField, ...]:
    """The fields of a sale that is to be added.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
    """
    return tuple(_fields(tables, table, {}, {}, ()))


def one_sale(tables: Tables, table: TableRecord, row: int) -> OneSale:
    """A row of a table: what it says, what that was read as, and what is wrong with it.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
    row : int
        As a spreadsheet shows it.

    Raises
    ------
    TableError
        If there is no such row.
    """
    from valuation.comparables.appending import read_cells

    text, found = tables.text_table(table), tables.comparables(table)
    if row not in text.cells.index:
        raise TableError(f"Cannot find row {row} of '{table.name}': it has none of that number. Look at its rows.")
    says = {str(header): str(value) for header, value in text.cells.loc[row].items()}
    usable = row in found.sales.index
    read = {one.header: one for one in read_cells(text, found, row)} if usable else {}
    own = [fault for fault in found.faults if fault.row == row]
    return OneSale(
        row=row,
        usable=usable,
        reason=_reason(own),
        fields=tuple(_fields(tables, table, says, read, own)),
        faults=tuple(f"{one.why} {one.mend}" for one in own if one.column not in text.headers),
    )


def _reason(faults: Sequence[Fault]) -> str:
    return next((one.value.strip() for one in faults if one.code == "not_arms_length"), "")


def _fields(
    tables: Tables, table: TableRecord, says: Mapping[str, str], read: Mapping[str, ReadCell], faults: Sequence[Fault]
) -> list[SaleField]:
    from valuation.comparables.mending import header_choices

    schema, text = tables.schema(table), tables.text_table(table)
    attributes = {one.name: one for one in schema.attributes}
    seen = tables.levels_seen(table)
    fields = []
    for header, name in header_choices(text, schema).items():
        attribute = attributes.get(name)
        words = (*attribute.level_names, *seen.get(name, ())) if attribute else ()
        cell = read.get(header)
        fields.append(
            SaleField(
                header=header,
                title=attribute.title if attribute else name.replace("_", " ").capitalize() or header,
                says=says.get(header, ""),
                read=cell.read if cell and cell.read != cell.written else "",
                words=words,
                faults=tuple(f"{one.why} {one.mend}" for one in faults if one.column == header),
            )
        )
    return fields


def add_sale(tables: Tables, table: TableRecord, row: MakeRow) -> AddedSale:
    """Add a sale to the newest version of a table, whoever wrote that meanwhile.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
        The version that the form showed.
    row : callable
        See ``told``, and ``realised.row_of``.
    """
    from valuation.answers.add import add_to_ledger

    for _ in range(TRIES):
        newest = tables.newest_of(table.name) or table
        try:
            return add_to_ledger(tables, newest, row)
        except LedgerError:
            if tables.newest_of(table.name) == newest:
                raise
    raise LedgerError(f"Cannot add the sale to '{table.name}': others write to it without a pause. Try again.")


def set_aside(tables: Tables, table: TableRecord, row: int, reason: str) -> Mended:
    """Set a sale aside with a reason, which the table itself keeps; an empty one puts it back.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
        The version that the page showed.
    row : int
    reason : str
        In the owner's words.

    Raises
    ------
    TableError
        If there is no such row, or the reason would be read as no reason.
    """
    from valuation.comparables.mending import ARMS_LENGTH, header_choices
    from valuation.comparables.sales import sets_aside

    text = tables.text_table(table)
    choices = header_choices(text, tables.schema(table))
    header = next((one for one, name in choices.items() if name == ARMS_LENGTH), ARMS_LENGTH)
    reason = " ".join(reason.split())
    if reason and not sets_aside(reason):
        raise TableError(
            f"Cannot set row {row} aside for '{reason}': that says that it is an open sale. Say why it is not counted.",
            where="reason",
        )
    return mend_table(tables, table, {(row, header): reason})


def added_rows(tables: Tables, before: TableRecord, after: TableRecord) -> list[int]:
    """Rows that one version has below those of another, which are all the same in both.

    Parameters
    ----------
    tables : Tables
    before, after : TableRecord
    """
    from valuation.comparables.mends import put_in, unmerged

    text, new = tables.text_table(before), tables.text_table(after).cells
    old = put_in(text, unmerged(text, tables.comparables(before).faults, ())).cells
    rows = [int(row) for row in new.index if row > old.index[-1]]
    if not rows or list(old.columns) != list(new.columns):
        return []
    return rows if new.drop(index=rows).equals(old) else []


def what_changed(tables: Tables, name: str) -> tuple[VersionChange, ...]:
    """What each version of a table changed in the one before, newest first.

    Parameters
    ----------
    tables : Tables
    name : str
    """
    versions = tables.versions(name)[: MOST_VERSIONS + 1]
    found = []
    for place, after in enumerate(versions[:MOST_VERSIONS]):
        before = versions[place + 1] if place + 1 < len(versions) else None
        said, changes = _between(tables, before, after)
        found.append(VersionChange(after.id, after.version, after.written_at, said, tuple(changes)))
    return tuple(found)


def _between(tables: Tables, before: TableRecord | None, after: TableRecord) -> tuple[str, list[CellChange]]:
    from valuation.comparables.mends import mends_between
    from valuation.text.spelling import counted

    if before is None:
        return f"Brought as {after.source_name}.", []
    if before.source == after.source:
        return "What its columns and words mean was changed.", []
    old, new = tables.text_table(before), tables.text_table(after)
    if rows := added_rows(tables, before, after):
        return f"{counted(len(rows), 'sale')} added.", [CellChange(row, "", "", _line(new, row), "") for row in rows]
    mends = mends_between(old, new, tables.ledger.content(after.source))
    if mends is None:
        return f"Brought as {after.source_name}.", []
    faults = tables.comparables(before).faults
    changes = [_change(mend, old, faults) for mend in mends]
    return f"{counted(len(changes), 'change')}.", changes


def _change(mend: Mend, old: TextTable, faults: Sequence[Fault]) -> CellChange:
    if mend.leaves_out:
        return CellChange(mend.row, "", _line(old, mend.row), "", "left out")
    why = [one.why for one in faults if (one.row, one.column) == (mend.row, mend.column)]
    return CellChange(mend.row, mend.column, mend.old, mend.new, " ".join(why))


def _line(text: TextTable, row: int) -> str:
    return "; ".join(filter(None, (str(cell).strip() for cell in text.cells.loc[row])))


def sales_to_take_in(tables: Tables, table: TableRecord) -> tuple[SaleRecord, ...]:
    """Realised sales of vehicles valued from a table that the table does not hold yet, newest first.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
    """
    from valuation.answers.realised import is_in

    text, read = tables.text_table(table), tables.comparables(table)
    return tuple(
        sale
        for sale in reversed(tables.ledger.sales())
        if sale.arms_length
        and tables.table_of(tables.ledger.estimate(sale.estimate_id)).name == table.name
        and not is_in(sale, text, read)
    )
