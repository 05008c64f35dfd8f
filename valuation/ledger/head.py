"""The head of a SQLite ledger: a small file beside it that says how far its chains had got.

SQLite keeps new records in a log beside the file until they are brought over. Should that log be lost, what is left is
a sound ledger of an earlier hour, and nothing in it says so. So each write first brings the log into the file, where no
reader holds it back, and then notes the number and seal of the last record of each kind. A crash between the two leaves
the note behind the ledger, which does no harm; a ledger behind its note has lost what was acknowledged.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from valuation.errors import LedgerError
from valuation.files import locked, write_file
from valuation.ledger.canonical import canonical_json, fingerprint
from valuation.ledger.database import Database
from valuation.ledger.layout import TABLES

Heads = Mapping[str, tuple[int, str]]
"""Number and seal of the last record of each kind, by the table that it is stored in."""
TURN_SECONDS = 5.0
"""How long a writer waits for another to note its head before it leaves the note to that one; chosen."""


@dataclass(frozen=True, slots=True)
class Lost:
    """Records of one kind that were acknowledged and are no longer there.

    Attributes
    ----------
    noun : str
        The kind.
    first, last : int
        Their numbers; the same number twice where that record is now another one.
    """

    noun: str
    first: int
    last: int

    def __str__(self) -> str:
        count = self.last - self.first + 1
        return f"{count} {self.noun}{'s' if count > 1 else ''}"


def head_file(path: Path) -> Path:
    """Where the head of a ledger's file is noted."""
    return path.with_name(f"{path.name}-head")


def settle(database: Database) -> None:
    """After a write: bring the log into the file and note the head.

    Neither can fail the write, which is on the disk already: what could not be done now is done after the next one.
    """
    if database.path is None:
        return
    with contextlib.suppress(sqlite3.Error, DBAPIError, OSError, LedgerError):
        database.checkpoint()
        head = head_file(database.path)
        with locked(head, TURN_SECONDS), database.reading() as connection:
            if not lost(connection, noted(database.path) or {}):
                heads = canonical_json({name: list(last) for name, last in _heads(connection).items()})
                write_file(head, canonical_json({"heads": json.loads(heads), "seal": fingerprint(heads)}) + "\n")


def noted(path: Path) -> Heads | None:
    """What the note says; ``None`` where there is none.

    Raises
    ------
    LedgerError
        If the note was damaged.
    """
    file = head_file(path)
    try:
        whole = json.loads(file.read_bytes())
        heads = whole["heads"]
        if fingerprint(canonical_json(heads)) != whole["seal"]:
            raise ValueError("its seal does not match")
        return {str(name): (int(number), str(seal)) for name, (number, seal) in heads.items()}
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError, KeyError, LedgerError) as error:
        raise LedgerError(
            f"Cannot use '{file.name}', which notes how far the ledger had got: it is damaged ({error}). Move it "
            "away: the next write makes a new one."
        ) from error


def lost(connection: sa.Connection, heads: Heads) -> tuple[Lost, ...]:
    """What the note names and the ledger does not hold.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    heads : Heads
        As :func:`noted` gives them.
    """
    found = []
    for kind, table in TABLES.items():
        number, seal = heads.get(table.name, (0, ""))
        there = connection.scalar(sa.select(table.c.seal).where(table.c.id == number)) if number else seal
        if there != seal:
            last = connection.scalar(sa.select(sa.func.max(table.c.id))) or 0
            found.append(Lost(kind.noun, min(last + 1, number), number))
    return tuple(found)


def check_head(database: Database) -> None:
    """Refuse a ledger that is behind its head.

    Raises
    ------
    LedgerError
        With what is missing and where it may be found.
    """
    if database.path is None:
        return
    heads = noted(database.path)
    if heads is None:
        settle(database)
        return
    with database.reading() as connection:
        found = lost(connection, heads)
    if found:
        name = database.path.name
        raise LedgerError(
            f"Cannot open {database.where}: it holds less than was written to it. Missing or changed: "
            f"{', '.join(map(str, found))}, as '{name}-head' beside it notes. Most likely '{name}-wal' was removed or "
            f"not copied along: put it back beside the ledger. Otherwise restore the newest backup; to go on without "
            f"these records, move '{name}-head' away."
        )


def _heads(connection: sa.Connection) -> dict[str, tuple[int, str]]:
    heads = {}
    for table in TABLES.values():
        last = connection.execute(sa.select(table.c.id, table.c.seal).order_by(table.c.id.desc()).limit(1)).first()
        if last is not None:
            heads[table.name] = (last.id, last.seal)
    return heads
