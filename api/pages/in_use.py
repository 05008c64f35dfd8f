"""The table in use: which version a page works from, said on the page, and kept by every link that leaves it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from api.desk import Desk
    from valuation.ledger import TableRecord

LINKS = (
    ("/", "The shop"),
    ("/barn", "In the barn"),
    ("/comparables", "Sales"),
    ("/track-record", "Track record"),
    ("/shop", "Settings"),
)
"""Address and text of each page among the links at the top."""


@dataclass(frozen=True)
class InUse:
    """The table version that a page works from.

    Attributes
    ----------
    table : TableRecord
    currency : str
    newer : TableRecord or None
        The newest version of the same table, when this is an older one.
    others : tuple of TableRecord
        Newest version of every other table.
    switch : str
        Address that takes the number of another table at its end; empty where the table cannot be chosen.
    """

    table: TableRecord
    currency: str
    newer: TableRecord | None
    others: tuple[TableRecord, ...]
    switch: str


def in_use(desk: Desk, table: TableRecord, switch: str = "") -> InUse:
    """What a page says of its table.

    Parameters
    ----------
    desk : Desk
    table : TableRecord
    switch : str
        Address that a table's number is put behind, to go on with that one.
    """
    newest = desk.newest_tables()
    last = desk.newest_of(table.name)
    newer = last if last is not None and last.id != table.id else None
    others = tuple(one for one in newest if one.name != table.name)
    return InUse(table, desk.comparables(table).currency, newer, others, switch)


def links(used: InUse | None) -> tuple[tuple[str, str, str], ...]:
    """Address, text and plain address of each page among the links; the sales stay with the table in use."""
    kept = {} if used is None else {"/comparables": f"/comparables/{used.table.id}"}
    return tuple((kept.get(address, address), text, address) for address, text in LINKS)
