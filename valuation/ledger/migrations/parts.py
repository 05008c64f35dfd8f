"""What steps are made of. Steps of old rest on it, so it is added to and never changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

WORDS = "the ledger is append-only: write a correction instead"


def records(name: str, *columns: sa.Column[object]) -> None:
    """Make the table of one kind of record.

    Parameters
    ----------
    name : str
        Of the table.
    *columns : Column
        What the kind holds beside what every record holds.
    """
    op.create_table(
        name,
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        text("written_at"),
        # One correction at most for each record, so that a chain never forks.
        refers("corrects", f"{name}.id", may_be_empty=True, unique=True),
        text("reason"),
        sa.Column("withdrawn", sa.Boolean, nullable=False),
        text("seal"),
        *columns,
        sa.CheckConstraint("corrects < id", name=f"{name}_correct_an_older_one"),
    )


def text(name: str) -> sa.Column[object]:
    """A column of text."""
    return sa.Column(name, sa.Text, nullable=False)


def whole(name: str) -> sa.Column[object]:
    """A column of whole numbers."""
    return sa.Column(name, sa.Integer, nullable=False)


def figure(name: str, may_be_empty: bool = False) -> sa.Column[object]:
    """A column of figures.

    Parameters
    ----------
    name : str
    may_be_empty : bool
    """
    return sa.Column(name, sa.Double, nullable=may_be_empty)


def day(name: str, may_be_empty: bool = False) -> sa.Column[object]:
    """A column of days.

    Parameters
    ----------
    name : str
    may_be_empty : bool
    """
    return sa.Column(name, sa.Date, nullable=may_be_empty)


def refers(
    name: str, target: str, plain: type = sa.Integer, may_be_empty: bool = False, unique: bool = False
) -> sa.Column[object]:
    """A column that names a row of another table.

    Parameters
    ----------
    name : str
    target : str
        The other table and its column.
    plain : type
        Of that column.
    may_be_empty, unique : bool
    """
    return sa.Column(name, plain, sa.ForeignKey(target), nullable=may_be_empty, unique=unique or None)


def append_only(table: str, key: str = "id") -> None:
    """Refuse every change and removal in a table, in the dialect of the database.

    Parameters
    ----------
    table : str
    key : str
        The column that tells its rows apart.
    """
    if op.get_context().dialect.name == "sqlite":
        _sqlite(table, key)
    else:
        _postgresql(table)


def _sqlite(table: str, key: str) -> None:
    for action in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
        )
    # INSERT OR REPLACE removes a row without a DELETE trigger unless the connection asks for one.
    same = f"{key} = NEW.{key}" if key == "fingerprint" else "id = NEW.id OR corrects = NEW.corrects"
    op.execute(
        f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
    )


def _postgresql(table: str) -> None:
    op.execute(
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION ledger_append_only()"
    )
    op.execute(
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION ledger_append_only()"
    )
