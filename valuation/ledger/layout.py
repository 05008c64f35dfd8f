"""The database's tables as the program sees them now, derived from the records (how they came to be: migrations/)."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

import sqlalchemy as sa

from valuation.ledger.records import KINDS, Record
from valuation.ledger.values import Rule

METADATA = sa.MetaData()

CONTENTS = sa.Table(
    "contents",
    METADATA,
    sa.Column("fingerprint", sa.Text, primary_key=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
)
"""Files and long texts, each kept once under its own SHA-256."""


class Moment(sa.types.TypeDecorator[datetime]):
    """A point in time as ISO text, with the offset of the clock that wrote it (SQLite's own type drops it)."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> str | None:
        """To the database.

        Parameters
        ----------
        value : datetime or None
        dialect : Dialect
        """
        return None if value is None else value.isoformat()

    def process_result_value(self, value: Any | None, dialect: sa.Dialect) -> datetime | None:
        """From the database.

        Parameters
        ----------
        value : Any or None
        dialect : Dialect
        """
        return None if value is None else datetime.fromisoformat(value)


COLUMN_TYPES: dict[type, type[sa.types.TypeEngine[Any]]] = {
    str: sa.Text,
    int: sa.Integer,
    float: sa.Double,
    bool: sa.Boolean,
    date: sa.Date,
    datetime: Moment,
}


@dataclass(frozen=True, slots=True)
class Column:
    """How one field of a record is stored: its plain type, its rule, and whether it may be empty (``None``)."""

    plain: type
    rule: Rule | None = None
    optional: bool = False


def _columns(kind: type[Record]) -> dict[str, Column]:
    hints = get_type_hints(kind, include_extras=True)
    return {field.name: _column(hints[field.name]) for field in fields(kind) if field.name != "history"}


def _column(hint: Any) -> Column:
    if get_origin(hint) in (Union, UnionType):
        (inner,) = (part for part in get_args(hint) if part is not type(None))
        return replace(_column(inner), optional=True)
    if get_origin(hint) is Annotated:
        return Column(*get_args(hint))
    return Column(hint)


def _table(kind: type[Record]) -> sa.Table:
    columns = [
        sa.Column(name, COLUMN_TYPES[part.plain], primary_key=name == "id", nullable=part.optional, autoincrement=False)
        for name, part in COLUMNS[kind].items()
    ]
    return sa.Table(kind.stored_in, METADATA, *columns)


COLUMNS: dict[type[Record], dict[str, Column]] = {kind: _columns(kind) for kind in KINDS}
"""The stored fields of each kind, in order."""
TABLES: dict[type[Record], sa.Table] = {kind: _table(kind) for kind in KINDS}
"""The table of each kind."""
