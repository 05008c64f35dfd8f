"""Reading what the commands of the ledger were given: the ledger, a table, a vehicle."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from valuation.answers.given import table_near
from valuation.answers.tables import LEDGER_NAME, Tables
from valuation.errors import LedgerError, TableError

if TYPE_CHECKING:
    from valuation.ledger import TableRecord


@contextmanager
def the_tables(arguments: argparse.Namespace, *, begun: bool = False) -> Iterator[Tables]:
    """The shop's ledger with its tables: the one named, else the desk's.

    Parameters
    ----------
    arguments : Namespace
    begun : bool
        Whether the ledger must be there already, since nothing is to be written.

    Raises
    ------
    LedgerError
        It must be there and is not.
    """
    place = ledger_place(arguments)
    if begun and not ledger_is_there(place):
        raise LedgerError(
            f"Cannot look into the ledger: there is none at {place}. Begin one with 'valuation keep table TABLE', or "
            "name yours with --ledger."
        )
    with closing(Tables(place, currency=os.environ.get("VALUATION_CURRENCY", ""))) as tables:
        yield tables


def ledger_place(arguments: argparse.Namespace) -> str:
    """File or URL of the ledger: the one named, else the desk's."""
    return str(arguments.ledger or os.environ.get("VALUATION_LEDGER") or LEDGER_NAME)


def ledger_is_there(place: str) -> bool:
    """Whether a ledger is there to be looked into; of a server nobody can say before asking it."""
    return "://" in place or Path(place).exists()


def table_here(named: str | None) -> Path | None:
    """The table's file: the one named, else one of a usual name in this folder; None where there is neither.

    Parameters
    ----------
    named : str or None
    """
    if named:
        return Path(named)
    try:
        return table_near()
    except TableError:
        return None


def newest_table(tables: Tables, name: str | None = None) -> TableRecord:
    """The newest version of a table of the ledger, of any unless named.

    Parameters
    ----------
    tables : Tables
    name : str or None

    Raises
    ------
    TableError
        There is none.
    """
    found = tables.newest_of(tables.key_of(name)) if name else tables.newest_table()
    if found is not None:
        return found
    known = ", ".join(repr(one.name) for one in tables.newest_tables())
    what = f"no table '{name}' is in the ledger; it has {known or 'none'}" if name else "no table is in the ledger yet"
    raise TableError(f"Cannot go on: {what}. Keep one first: valuation keep table TABLE.")
