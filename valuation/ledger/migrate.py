"""Bringing a database up to the version of this program, one named step at a time."""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa

from valuation.errors import LedgerError
from valuation.ledger.database import Database

VERSION_TABLE = "ledger_version"
"""Where the database keeps the name of its last step; a name of its own, so that no other program's is mistaken."""
FOLDER = Path(__file__).parent / "migrations"


def steps() -> tuple[str, ...]:
    """Names of all steps in order; the last is this program's version."""
    return tuple(sorted(path.stem for path in (FOLDER / "versions").glob("m[0-9]*.py")))


def version(connection: sa.Connection) -> str | None:
    """Name of the last step taken; ``None`` for an empty database.

    Raises
    ------
    LedgerError
        If the database holds something else than a ledger.
    """
    found = sa.inspect(connection).get_table_names()
    if VERSION_TABLE in found:
        name = connection.scalar(sa.text(f"SELECT version_num FROM {VERSION_TABLE}"))
        return None if name is None else str(name)
    if found:
        raise LedgerError(
            f"This database is not a ledger: it holds the tables {', '.join(sorted(found)[:10])} of some other "
            "program. Name an empty database or the ledger's own."
        )
    return None


def migrate(database: Database) -> None:
    """Take every step that the database has not taken yet.

    Each step runs in a write transaction of its own together with the note that it was taken: it is there wholly or
    not at all. The version is read again inside, so that two programs may open a new ledger at the same moment.

    Raises
    ------
    LedgerError
        If the database was written by a newer program or is not a ledger.
    """
    known = steps()
    with database.reading() as connection:
        current = version(connection)
    while current != known[-1]:
        with database.writing() as connection:
            current = version(connection)
            if current is not None and current not in known:
                raise LedgerError(
                    f"Cannot open {database.where}: its version is {current!r}, which this program does not know (its "
                    f"own is {known[-1]!r}). It was written by a newer one. Update this program."
                )
            left = known if current is None else known[known.index(current) + 1 :]
            if left:
                _take(connection, left[0])
                current = left[0]


def _take(connection: sa.Connection, step: str) -> None:
    from alembic.operations import Operations
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory(FOLDER)
    context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
    with Operations.context(context):
        scripts.get_revision(step).module.upgrade()
    context.stamp(scripts, step)
