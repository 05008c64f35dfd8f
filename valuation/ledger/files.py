"""Copies of a SQLite ledger: a backup while it is in use, and a ledger made anew from a backup."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from valuation.errors import LedgerError
from valuation.ledger.database import Database, in_words, parse_address
from valuation.ledger.migrate import VERSION_TABLE, steps


def backup(database: Database, target: str | Path) -> Path:
    """Copy the ledger to a new file while others read and write it; see `Ledger.backup`."""
    if database.path is None:
        raise LedgerError(
            f"Cannot back up {database.where} from here: it lives on a PostgreSQL server. Use the server's own tool: "
            "pg_dump --format=custom --file=ledger.dump followed by the database's name."
        )
    return _copy(database.path, Path(target), "back up")


def restore(source: str | Path, target: str | Path) -> Path:
    """Make a ledger from a backup; see `Ledger.restore`."""
    if parse_address(target).get_backend_name() != "sqlite":
        raise LedgerError(
            "Cannot restore to a PostgreSQL server from here. Use the server's own tool: pg_restore --dbname= with the "
            "name of a new, empty database, then the file that pg_dump made."
        )
    source = Path(source)
    if not source.is_file():
        raise LedgerError(f"Cannot restore from '{source}': there is no such file. Name a backup of a ledger.")
    with in_words(f"Cannot restore from '{source}'"), closing(sqlite3.connect(_read_only(source), uri=True)) as there:
        found = there.execute("SELECT name FROM sqlite_master WHERE name = ?", (VERSION_TABLE,)).fetchone()
        step = there.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone() if found else None
    if step is None or step[0] not in steps():
        raise LedgerError(
            f"Cannot restore from '{source}': "
            + ("it is no ledger. " if step is None else f"its version {step[0]!r} is newer than this program. ")
            + "Name a backup made by this program's version or an older one."
        )
    return _copy(source, Path(str(parse_address(target).database)), "restore")


def _copy(source: Path, target: Path, doing: str) -> Path:
    """Copy page by page beside the target, prove the copy sound, then give it its name in one step."""
    if target.exists():
        raise LedgerError(
            f"Cannot {doing} to '{target}': a file of that name exists, and it is left as it is. Name a new file."
        )
    if not target.parent.is_dir():
        raise LedgerError(f"Cannot {doing} to '{target}': the folder '{target.parent}' does not exist. Make it first.")
    unfinished = target.with_name(f"{target.name}.unfinished-{os.getpid()}")
    try:
        with (
            in_words(f"Cannot {doing} to '{target}'"),
            closing(sqlite3.connect(_read_only(source), uri=True)) as old,
            closing(sqlite3.connect(unfinished)) as new,
        ):
            old.backup(new)
            # One file that opens anywhere, without a log beside it.
            new.execute("PRAGMA journal_mode = DELETE")
            verdict = new.execute("PRAGMA integrity_check").fetchone()[0]
        if verdict != "ok":
            raise LedgerError(
                f"Cannot {doing} to '{target}': the copy of '{source}' is not sound ({verdict}). Keep the damaged file "
                "and use an older backup."
            )
        _name(unfinished, target)
    finally:
        unfinished.unlink(missing_ok=True)
    return target


def _name(unfinished: Path, target: Path) -> None:
    try:
        target.hardlink_to(unfinished)  # unlike a renaming, never puts itself over a file made in the meantime
    except FileExistsError as error:
        raise LedgerError(
            f"Cannot write '{target}': a file of that name was just made by another. Name a new one."
        ) from error
    except OSError:  # a file system without links
        unfinished.rename(target)


def _read_only(path: Path) -> str:
    return f"{path.absolute().as_uri()}?mode=ro"
