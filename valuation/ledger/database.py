"""One database, spoken to in two ways: short read transactions, and one writer at a time."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError

from valuation.errors import LedgerError

WAIT_SECONDS = 30.0
"""How long a writer waits for the one before it; chosen, since one write takes a fraction of a second."""
WRITE_LOCK = 0x76616C75
"""Number (arbitrary) of the advisory lock that gives a PostgreSQL ledger its one writer, as SQLite has."""

PLAIN_WORDS = {
    "not a database": "it is neither a ledger nor any other SQLite database. Name the ledger's own file",
    "malformed": "the file is damaged. Keep it, and restore the newest backup under another name",
    "append-only": "a record once written is never changed or removed. Write a correction as a new record",
    "locked": "another program has been writing to it for too long. Close that program or try again",
    "lock timeout": "another program has been writing to it for too long. Close that program or try again",
    "readonly": "the file, or the folder it lies in, does not allow writing. Allow it, or name another place",
    "unable to open": "the file cannot be opened or made there. Check that the folder exists and allows writing",
    "disk is full": "the disk is full; nothing of this was written. Make room and try again",
    "disk i/o error": "the disk did not accept it: it is full, damaged or gone. Make room and try again",
    "connection refused": "no database server answers there. Start it, or check the host and port in the address",
    "does not exist": "the server has no such database or user. Make it first, or check the address",
    "password authentication": "the server refused the user or the password. Check both in the address",
}
"""What a database's own message means for the reader, by a part of that message."""


@contextmanager
def in_words(doing: str) -> Iterator[None]:
    """Turn whatever the database raises inside into a ``LedgerError`` that begins with what could not be done."""
    try:
        yield
    except UnicodeDecodeError as error:
        raise LedgerError(f"{doing}: {PLAIN_WORDS['malformed']}. (A text in it is damaged: {error}.)") from error
    except (SQLAlchemyError, sqlite3.Error) as error:
        origin = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
        found = str(origin).strip().splitlines()[0] if str(origin).strip() else type(origin).__name__
        for part, words in PLAIN_WORDS.items():
            if part in str(origin).lower():
                raise LedgerError(f"{doing}: {words}. (The database says: {found}.)") from error
        raise LedgerError(
            f"{doing}: the database says {found!r}. Run the ledger's check to see what is sound."
        ) from error


def parse_address(address: str | Path) -> sa.URL:
    """URL of the ledger from a file path or a URL.

    Raises
    ------
    LedgerError
        If it is neither a path nor a URL of SQLite or PostgreSQL, or is a database in memory only.
    """
    if isinstance(address, Path) or "://" not in address:
        return sa.URL.create("sqlite", database=str(address))
    try:
        url = sa.make_url(address)
    except (ArgumentError, ValueError):  # the message of either could show a password
        raise LedgerError(
            "Cannot read the ledger's address: it has '://' but is not a complete URL. Name a file path, "
            "sqlite:///path or postgresql://user@host/name."
        ) from None
    backend = url.drivername.split("+")[0]
    if backend in ("postgres", "postgresql"):
        return url.set(drivername="postgresql+psycopg")
    if backend != "sqlite":
        raise LedgerError(
            f"Cannot keep a ledger in {backend!r}. Name a file path, sqlite:///path or postgresql://user@host/name."
        )
    return url


class Database:
    """The engine behind a ledger.

    Parameters
    ----------
    address : str or Path
        File path, or URL of SQLite or PostgreSQL.
    wait : float
        Seconds that a writer waits for another before it gives up.

    Attributes
    ----------
    path : Path or None
        The file, for SQLite.
    where : str
        The ledger's name in messages, never with a password.
    """

    def __init__(self, address: str | Path, wait: float = WAIT_SECONDS) -> None:
        url = parse_address(address)
        self.wait = wait
        self.path: Path | None = None
        self.where = f"the ledger at {url.render_as_string(hide_password=True)}"
        if url.get_backend_name() == "sqlite":
            if url.database in (None, "", ":memory:"):
                raise LedgerError("Cannot keep a ledger in memory: it would be lost. Name a file.")
            self.path = Path(str(url.database))
            self.where = f"the ledger '{self.path}'"
            _check_place(self.path)
        self._engine = _engine(url, wait)
        # The readers' and the writers' options lie on one pool of connections.
        level = {} if self.path else {"isolation_level": "REPEATABLE READ"}
        self._reader = self._engine.execution_options(**level)
        self._writer = self._engine.execution_options(ledger_writes=True)
        self._turn = threading.Lock()

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A short transaction that sees one state of the ledger and waits for nobody."""
        with in_words(f"Cannot read {self.where}"), self._reader.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """The one write transaction: kept when the block ends well, gone without a trace when it does not."""
        with in_words(f"Cannot write to {self.where}"):
            # Threads queue here, in turn; programs queue at the database's own lock.
            if not self._turn.acquire(timeout=self.wait):
                raise LedgerError(
                    f"Cannot write to {self.where}: another request has been writing for too long. Try again."
                )
            try:
                with self._writer.begin() as connection:
                    if self.path is None:
                        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(WRITE_LOCK)))
                    yield connection
            finally:
                self._turn.release()

    def use_write_ahead_log(self) -> None:
        """Make a SQLite file keep its changes in a log beside it, so that readers and the writer never wait."""
        if self.path is None:
            return
        end = time.monotonic() + self.wait
        with in_words(f"Cannot open {self.where}"):
            while True:
                try:
                    with self._engine.connect() as connection:
                        raw = connection.connection.driver_connection
                        assert isinstance(raw, sqlite3.Connection)
                        raw.execute("PRAGMA journal_mode = WAL")
                    return
                except sqlite3.OperationalError as error:
                    # This one switch does not wait by itself while another program makes it at the same moment.
                    if "locked" not in str(error) or time.monotonic() > end:
                        raise
                    time.sleep(0.05)

    def checkpoint(self) -> None:
        """Bring the log of a SQLite file into the file, as far as no reader holds it back; waits for nobody."""
        with self._engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert isinstance(raw, sqlite3.Connection)
            raw.execute("PRAGMA wal_checkpoint(PASSIVE)")

    def close(self) -> None:
        """Let go of every connection."""
        self._engine.dispose()


def _check_place(path: Path) -> None:
    if path.is_dir():
        raise LedgerError(f"Cannot open the ledger '{path}': it is a folder. Name a file in it, such as ledger.sqlite.")
    if not path.parent.is_dir():
        raise LedgerError(
            f"Cannot open the ledger '{path}': the folder '{path.parent}' does not exist. Make it, or name "
            "another place."
        )


def _engine(url: sa.URL, wait: float) -> sa.Engine:
    if url.get_backend_name() != "sqlite":
        return _postgresql_engine(url, wait)
    engine = sa.create_engine(url, connect_args={"timeout": wait, "isolation_level": None})

    @sa.event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _: Any) -> None:
        connection.execute("PRAGMA foreign_keys = ON")
        # Without this, INSERT OR REPLACE would remove a record without asking the triggers.
        connection.execute("PRAGMA recursive_triggers = ON")

    @sa.event.listens_for(engine, "begin")
    def begin(connection: sa.Connection) -> None:
        # BEGIN IMMEDIATE takes the write lock at once: a writer waits at its start and never fails half-way.
        writes = connection.get_execution_options().get("ledger_writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _postgresql_engine(url: sa.URL, wait: float) -> sa.Engine:
    try:
        engine = sa.create_engine(url, pool_pre_ping=True)
    except ImportError as error:
        raise LedgerError(
            "Cannot open a ledger on PostgreSQL: its driver 'psycopg' is not installed. "
            "Install valuation with the extra 'postgres'."
        ) from error

    @sa.event.listens_for(engine, "connect")
    def prepare(connection: Any, _: Any) -> None:
        connection.execute(f"SET lock_timeout = {int(wait * 1000)}")
        connection.commit()

    return engine
