"""Reading and writing rows inside a transaction: seals, chains of corrections, contents."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Any, TypeVar

import sqlalchemy as sa

from valuation.errors import LedgerError
from valuation.ledger.canonical import canonical_json, fingerprint
from valuation.ledger.layout import COLUMNS, CONTENTS, TABLES
from valuation.ledger.records import Record

R = TypeVar("R", bound=Record)


def seal(kind: type[Record], values: Mapping[str, Any], before: str) -> str:
    """Fingerprint over all of a record but its seal, and over the seal of the one before it (empty for the first).

    Parameters
    ----------
    kind : type of Record
    values : mapping
        Values by field.
    before : str
        Seal of the record before; empty for the first.
    """
    plain = {
        name: value.isoformat() if isinstance(value, date | datetime) else value
        for name, value in values.items()
        if name != "seal"
    }
    return fingerprint(canonical_json({"before": before, "kind": kind.stored_in, "record": plain}, kind.noun))


def select(
    connection: sa.Connection, kind: type[R], *where: sa.ColumnElement[bool], last: int | None = None
) -> list[R]:
    """Records as they stand, in the order in which they were written, without their histories; or the ``last`` few.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    kind : type of Record
    *where : ColumnElement
        Conditions that all hold.
    last : int or None
        Only so many of the newest.
    """
    table = TABLES[kind]
    statement = sa.select(table).where(*where).order_by(table.c.id.desc()).limit(last)
    try:
        return [kind(**row._mapping) for row in connection.execute(statement)][::-1]
    except (ValueError, TypeError) as error:  # such as a text that is not a date: the file was changed by another hand
        raise LedgerError(
            f"Cannot read a {kind.noun} in the ledger: {error}. Run the ledger's check, then restore a backup."
        ) from error


def newest(
    connection: sa.Connection,
    kind: type[R],
    *where: sa.ColumnElement[bool],
    withdrawn: bool = False,
    last: int | None = None,
) -> list[R]:
    """The last record of each chain with its history, in order; without the chains that end in a withdrawal.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    kind : type of Record
    *where : ColumnElement
        Conditions that all hold.
    withdrawn : bool
        Also the chains that end in a withdrawal.
    last : int or None
        Only so many of the newest.
    """
    table = TABLES[kind]
    later = table.alias()
    stands = [~sa.exists().where(later.c.corrects == table.c.id)]
    if not withdrawn:
        stands.append(table.c.withdrawn.is_(False))
    return with_histories(connection, kind, select(connection, kind, *stands, *where, last=last))


def with_histories(connection: sa.Connection, kind: type[R], records: list[R]) -> list[R]:
    """The same records, each with those it corrects.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    kind : type of Record
    records : list of Record
        Of that kind.
    """
    if all(record.corrects is None for record in records):
        return records
    table = TABLES[kind]
    corrected = sa.select(table.c.corrects).where(table.c.corrects.is_not(None))
    older = {record.id: record for record in select(connection, kind, table.c.id.in_(corrected))}
    return [replace(record, history=_chain(record, older)) for record in records]


def _chain(record: R, older: Mapping[int, R]) -> tuple[R, ...]:
    chain: list[R] = []
    current = record
    while current.corrects is not None:
        before = older.get(current.corrects)
        if before is None or before.id >= current.id:  # only another hand can have done this
            raise LedgerError(
                f"Cannot follow the corrections of {record.noun} {record.id} in the ledger: record {current.corrects} "
                "is missing or out of order. Run the ledger's check, then restore a backup."
            )
        chain.insert(0, before)
        current = before
    return tuple(chain)


def one(connection: sa.Connection, kind: type[R], number: int) -> R:
    """The record of that number, with its history.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    kind : type of Record
    number : int
        Its number within the kind.

    Raises
    ------
    LedgerError
        If there is none.
    """
    table = TABLES[kind]
    found = select(connection, kind, table.c.id == number)
    if not found:
        last = connection.scalar(sa.select(sa.func.max(table.c.id)))
        there = f"the numbers go from 1 to {last}" if last else f"there is no {kind.noun} yet"
        raise LedgerError(f"Cannot find {kind.noun} {number!r} in the ledger: {there}. Check the number.")
    return with_histories(connection, kind, found)[0]


def content(connection: sa.Connection, digest: str) -> bytes:
    """The bytes kept under a fingerprint.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    digest : str
        The fingerprint.

    Raises
    ------
    LedgerError
        If there are none, or they no longer match their fingerprint.
    """
    found: bytes | None = connection.scalar(sa.select(CONTENTS.c.content).where(CONTENTS.c.fingerprint == digest))
    if found is None:
        raise LedgerError(
            f"Cannot find the content {digest[:12]}... in the ledger: no file or text with that fingerprint is kept. "
            "Check the fingerprint."
        )
    if fingerprint(found) != digest:
        raise LedgerError(
            f"Cannot use the content {digest[:12]}... of the ledger: its bytes no longer match their fingerprint, so "
            "they were changed or damaged. Restore the newest backup."
        )
    return found


class Transaction:
    """One write transaction, and what may be written in it.

    Parameters
    ----------
    connection : Connection
        In a write transaction: no other writer comes between.
    now : datetime
        What each record says of when it was written.
    """

    def __init__(self, connection: sa.Connection, now: datetime) -> None:
        self.connection = connection
        self.now = now

    def keep(self, raw: bytes | str) -> str:
        """Keep a file or a text, once, and give its fingerprint."""
        digest = fingerprint(raw)
        there = self.connection.scalar(sa.select(CONTENTS.c.fingerprint).where(CONTENTS.c.fingerprint == digest))
        if there is None:
            data = raw.encode() if isinstance(raw, str) else raw
            self.connection.execute(sa.insert(CONTENTS).values(fingerprint=digest, content=data))
        return digest

    def newest(self, kind: type[R], values: Mapping[str, object], withdrawn: bool = False) -> R | None:
        """The newest record with these values that stands (or was withdrawn, too), if there is one.

        Parameters
        ----------
        kind : type of Record
        values : mapping
            Values by field.
        withdrawn : bool
            Also one that was withdrawn.
        """
        table = TABLES[kind]
        where = [table.c[name] == value for name, value in clean(kind, values).items()]
        found = newest(self.connection, kind, *where, withdrawn=withdrawn, last=1)
        return found[0] if found else None

    def append(
        self,
        kind: type[R],
        values: Mapping[str, object],
        corrects: int | None = None,
        reason: str = "",
    ) -> R:
        """Write one record, cleaned, and give it back with its history.

        Parameters
        ----------
        kind : type of Record
        values : mapping
            Values by field.
        corrects : int or None
            Number of the record that it corrects.
        reason : str
            Why; needed for a correction.
        """
        return self._write(kind, clean(kind, values), corrects, reason)

    def withdraw(self, kind: type[R], number: int, reason: str) -> R:
        """Write a record once more as withdrawn, which ends its chain.

        Parameters
        ----------
        kind : type of Record
        number : int
            Of the newest record of its chain.
        reason : str
            Why, in a few words.
        """
        old = one(self.connection, kind, number)
        return self._write(kind, own_values(old), number, reason, withdrawn=True)

    def _write(
        self, kind: type[R], own: Mapping[str, Any], corrects: int | None, reason: str, withdrawn: bool = False
    ) -> R:
        if corrects is not None:
            self._check_correction(kind, corrects, reason)
        table = TABLES[kind]
        last = self.connection.execute(sa.select(table.c.id, table.c.seal).order_by(table.c.id.desc()).limit(1)).first()
        whole: dict[str, Any] = {
            "id": 1 if last is None else last.id + 1,
            "written_at": self.now,
            "corrects": corrects,
            **clean(kind, {"reason": reason, "withdrawn": withdrawn}),
            **own,
        }
        whole["seal"] = seal(kind, whole, "" if last is None else last.seal)
        self._check_references(kind, whole)
        self.connection.execute(sa.insert(table).values(whole))
        return with_histories(self.connection, kind, [kind(**whole)])[0]

    def _check_correction(self, kind: type[R], corrects: int, reason: str) -> None:
        old = one(self.connection, kind, corrects)
        later = TABLES[kind].c
        by = self.connection.scalar(sa.select(later.id).where(later.corrects == corrects))
        if by is not None:
            raise LedgerError(
                f"Cannot correct {kind.noun} {corrects}: it was already corrected by {by}. Correct the newest instead."
            )
        if old.withdrawn:
            raise LedgerError(f"Cannot correct {kind.noun} {corrects}: it was withdrawn. Write a new {kind.noun}.")
        if not reason.strip():
            raise LedgerError(f"Cannot correct {kind.noun} {corrects} without a reason. Say in a few words why.")

    def _check_references(self, kind: type[R], values: Mapping[str, Any]) -> None:
        for name, column in COLUMNS[kind].items():
            for target in TABLES:
                if column.rule and column.rule.refers_to == target.stored_in and values[name] is not None:
                    one(self.connection, target, values[name])


def holds(record: Record, values: Mapping[str, object]) -> bool:
    """Whether a record holds these values, once they are cleaned.

    Parameters
    ----------
    record : Record
    values : mapping
        Values by field.
    """
    return all(getattr(record, name) == value for name, value in clean(type(record), values).items())


def clean(kind: type[Record], values: Mapping[str, object]) -> dict[str, Any]:
    """The values as they are kept, each by its field's rule.

    Parameters
    ----------
    kind : type of Record
    values : mapping
        Values by field.

    Raises
    ------
    LedgerError
        If one is not what its field holds.
    """
    cleaned: dict[str, Any] = {}
    for name, value in values.items():
        column = COLUMNS[kind][name]
        empty = value is None and column.optional
        cleaned[name] = value if empty or column.rule is None else column.rule.clean(name, value)
    return cleaned


def own_values(record: Record) -> dict[str, Any]:
    """What a record holds beside what every record holds, by field."""
    return {name: getattr(record, name) for name in record.own_fields()}


def changed_values(record: Record, changes: Mapping[str, object]) -> dict[str, Any]:
    """What a record would hold after a change, by field.

    Parameters
    ----------
    record : Record
    changes : mapping
        New values by field; what is left out stays.

    Raises
    ------
    LedgerError
        If it has no such field, or nothing would change.
    """
    kind, own = type(record), own_values(record)
    unknown = sorted(changes.keys() - own.keys())
    if unknown:
        raise LedgerError(
            f"Cannot correct {kind.noun} {record.id}: it has no {unknown[0]!r}. Name one of {', '.join(own)}."
        )
    if all(own[name] == value for name, value in clean(kind, changes).items()):
        raise LedgerError(
            f"Cannot correct {kind.noun} {record.id}: nothing would change. Give the figure or word that is right."
        )
    return {**own, **changes}
