"""Changes of a table taken back one after another, and put back again: each time as the table's next version."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.answers.sales_of_table import added_rows
from valuation.errors import LedgerError

if TYPE_CHECKING:
    from valuation.answers.tables import Tables
    from valuation.ledger import TableRecord


@dataclass(frozen=True)
class Undoable:
    """What can be done about the newest version of a table.

    Attributes
    ----------
    stand : tuple of TableRecord
        The versions whose changes stand, oldest first, the newest last.
    forward : TableRecord or None
        The version as which it stands once what was taken back last is put back; None where nothing was.
    """

    stand: tuple[TableRecord, ...]
    forward: TableRecord | None

    @property
    def back(self) -> bool:
        """Whether there is a change to be taken back."""
        return len(self.stand) > 1


def undoable(tables: Tables, name: str) -> Undoable:
    """Where the newest version of a table stands among the changes that were made, taken back and put back.

    A version that is as an earlier one was takes back all that came between; the next change of another kind ends the
    way forward.

    Parameters
    ----------
    tables : Tables
    name : str
    """
    stand: list[TableRecord] = []
    undone: list[list[TableRecord]] = []
    for one in reversed(tables.versions(name)):
        at = next((place for place, older in enumerate(stand) if _same(older, one)), None)
        if at is not None:
            undone += [stand[at + 1 :]] if stand[at + 1 :] else []
            stand = [*stand[:at], one]
        elif undone and _same(undone[-1][-1], one):
            stand += [*undone.pop()[:-1], one]
        else:
            stand, undone = [*stand, one], []
    return Undoable(tuple(stand), undone[-1][-1] if undone else None)


def take_back(tables: Tables, table: TableRecord) -> TableRecord:
    """The next version of a table: as it was before its last change that is not taken back yet.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
        The version that the page showed.

    Raises
    ------
    LedgerError
        If there is nothing to take back, or another hand wrote a newer version.
    """
    can = _newest(tables, table, "take the last change")
    if not can.back:
        raise LedgerError(f"Cannot take anything back: '{table.name}' stands as it was first brought.")
    return _again(tables, table, _before(tables, can.stand))


def put_back(tables: Tables, table: TableRecord) -> TableRecord:
    """The next version of a table: with the change that was taken back last.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
        The version that the page showed.

    Raises
    ------
    LedgerError
        If nothing was taken back, or another hand wrote a newer version.
    """
    forward = _newest(tables, table, "put the change").forward
    if forward is None:
        raise LedgerError(f"Cannot put anything back: no change of '{table.name}' was taken back last.")
    return _again(tables, table, forward)


def _newest(tables: Tables, table: TableRecord, doing: str) -> Undoable:
    newest = tables.versions(table.name)[0]
    if newest.id != table.id:
        raise LedgerError(
            f"Cannot {doing} of '{table.name}' back: version {newest.version} is newer than the page. Look at that one "
            "first."
        )
    return undoable(tables, table.name)


def _again(tables: Tables, table: TableRecord, as_it_was: TableRecord) -> TableRecord:
    source = tables.ledger.content(as_it_was.source)
    return tables.bring(table.name, source, as_it_was.source_name, tables.schema(as_it_was), follows=table.id)


def _same(one: TableRecord, other: TableRecord) -> bool:
    return (one.source, one.schema) == (other.source, other.schema)


def _before(tables: Tables, stand: Sequence[TableRecord]) -> TableRecord:
    """How the table stood before the last thing that was done to it; versions that stand, oldest first.

    A sale that is added to a mended table makes two versions: the file with the row, and the mends made again.
    """
    if len(stand) > 2 and added_rows(tables, stand[-3], stand[-1]):
        between = added_rows(tables, stand[-2], stand[-1]) or added_rows(tables, stand[-3], stand[-2])
        return stand[-2] if between else stand[-3]
    return stand[-2]
