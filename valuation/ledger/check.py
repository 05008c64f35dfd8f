"""The check of a ledger: every seal and fingerprint, and whether each estimate repeats to the bit."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from typing import Any

import sqlalchemy as sa

from valuation.errors import LedgerError, ValuationError
from valuation.ledger import head, rows
from valuation.ledger.canonical import fingerprint
from valuation.ledger.database import Database
from valuation.ledger.layout import COLUMNS, CONTENTS
from valuation.ledger.records import KINDS, EstimateRecord, Record
from valuation.text.spelling import counted

Repeat = Callable[[EstimateRecord], str]
"""Makes a stored estimate again and gives its summary as canonical JSON."""


@dataclass(frozen=True, slots=True)
class LedgerFault:
    """One thing that is not as it was written.

    Parameters
    ----------
    kind : str
        Where: ``estimate``, ``sale``, ``content`` or ``database``.
    id : int or str
        Which record, or which content by its fingerprint; 0 for the database as a whole.
    what : str
        What is wrong, in one sentence.
    changed : bool
        Whether the ledger is no longer what was written; False for an estimate that only comes out differently now.
    """

    kind: str
    id: int | str
    what: str
    changed: bool = True

    def __str__(self) -> str:
        number = f" {self.id if isinstance(self.id, int) else self.id[:12]}" if self.id else ""
        return f"{self.kind.capitalize()}{number}: {self.what}"


@dataclass(frozen=True)
class CheckReport:
    """What a check found.

    Attributes
    ----------
    version : str
        The database's last migration.
    records : dict of str to int
        How many records of each kind there are, corrected ones too.
    contents : int
        Files and texts kept.
    repeated : int or None
        Estimates that came out equal to the bit; ``None`` when they were not made again.
    problems : tuple of LedgerFault
        Empty when all is sound.
    """

    version: str
    records: dict[str, int]
    contents: int
    repeated: int | None
    problems: tuple[LedgerFault, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing was found."""
        return not self.problems

    def words(self) -> str:
        """The outcome in a sentence or two."""
        count = sum(self.records.values())
        kept = counted(self.contents, "file or text", "files and texts")
        looked = f"{counted(count, 'record')} and {kept} were checked against their fingerprints"
        if self.repeated is not None:
            made = counted(self.records["estimate"], "estimate")
            looked += f", and {self.repeated} of {made} came out the same to the last bit"
        if self.sound:
            return f"The ledger is sound: {looked}."
        if any(problem.changed for problem in self.problems):
            found = len(self.problems)
            return f"The ledger is not sound: {looked}; {counted(found, 'problem')} found. Restore the newest backup."
        return (
            f"Nothing in the ledger was changed since it was written: {looked}. The others come out differently "
            "with this version of the program; what was written stands. Keep the older version to make them again."
        )


def check(database: Database, version: str, repeat: Repeat | None = None) -> CheckReport:
    """Verify a ledger; see `Ledger.check`.

    Parameters
    ----------
    database : Database
    version : str
        The database's last migration.
    repeat : Repeat or None
        Makes an estimate again; without it none is.
    """
    problems: list[LedgerFault] = []
    counts: dict[str, int] = {}
    estimates: list[EstimateRecord] = []
    with database.reading() as connection:
        problems.extend(_file(connection))
        problems.extend(_head(database, connection))
        kept = _contents(connection, problems)
        for kind in KINDS:
            try:
                records = rows.select(connection, kind)
            except LedgerError as error:
                problems.append(LedgerFault(kind.noun, 0, str(error)))
                records = []
            counts[kind.noun] = len(records)
            problems.extend(_seals(kind, records))
            problems.extend(_pointers(kind, records, kept))
            estimates.extend(record for record in records if isinstance(record, EstimateRecord))
    repeated = None
    if repeat is not None:
        found = [_repeat(database, estimate, repeat) for estimate in estimates]
        problems.extend(problem for problem in found if problem)
        repeated = found.count(None)
    return CheckReport(version, counts, len(kept), repeated, tuple(problems))


def _file(connection: sa.Connection) -> Iterator[LedgerFault]:
    """What SQLite itself finds wrong with the file (a PostgreSQL server looks after its own files)."""
    if connection.dialect.name == "sqlite":
        for (line,) in connection.exec_driver_sql("PRAGMA integrity_check"):
            if line != "ok":
                yield LedgerFault("database", 0, f"The file is damaged: {line}.")


def _head(database: Database, connection: sa.Connection) -> Iterator[LedgerFault]:
    """Records that were acknowledged and are gone from the end, where no later seal can miss them."""
    if database.path is None:
        return
    try:
        missing = head.lost(connection, head.noted(database.path) or {})
    except LedgerError as error:
        yield LedgerFault("database", 0, str(error))
        return
    for one in missing:
        what = f"Records {one.first} to {one.last} are missing or were replaced."
        yield LedgerFault(one.noun, one.first, what)


def _contents(connection: sa.Connection, problems: list[LedgerFault]) -> set[str]:
    """Fingerprints of all contents, one content in memory at a time."""
    kept = set(connection.scalars(sa.select(CONTENTS.c.fingerprint)))
    for digest in sorted(kept):
        raw = connection.scalar(sa.select(CONTENTS.c.content).where(CONTENTS.c.fingerprint == digest))
        if raw is None or fingerprint(raw) != digest:
            problems.append(LedgerFault("content", digest, "Its bytes no longer match their fingerprint."))
    return kept


def _seals(kind: type[Record], records: list[Record] | list[EstimateRecord]) -> Iterator[LedgerFault]:
    before = ""
    for position, record in enumerate(records, start=1):
        values = {field.name: getattr(record, field.name) for field in fields(record) if field.name != "history"}
        if record.id != position and (position == 1 or records[position - 2].id != record.id - 1):
            yield LedgerFault(kind.noun, record.id, "The record before it is missing.")
        elif rows.seal(kind, values, before) != record.seal:
            yield LedgerFault(kind.noun, record.id, "It was changed since it was written: its seal does not match.")
        before = record.seal


def _pointers(
    kind: type[Record], records: list[Record] | list[EstimateRecord], kept: set[str]
) -> Iterator[LedgerFault]:
    """Fingerprints in records whose content is not kept."""
    pointing = [
        name for name, column in COLUMNS[kind].items() if column.rule and column.rule.refers_to == CONTENTS.name
    ]
    for record in records:
        for name in pointing:
            if getattr(record, name) not in kept:
                yield LedgerFault(kind.noun, record.id, f"The content that its {name} points at is missing.")


def _repeat(database: Database, estimate: EstimateRecord, repeat: Repeat) -> LedgerFault | None:
    try:
        with database.reading() as connection:
            stored = rows.content(connection, estimate.summary).decode()
        again = repeat(estimate)
    except (ValuationError, ValueError, TypeError, KeyError) as error:
        return LedgerFault("estimate", estimate.id, f"It could not be made again: {error}", changed=False)
    if again == stored:
        return None
    by = json.loads(estimate.settings).get("version")
    found = _difference(stored, again) + (f"; it was written by version {by}" if by else "")
    return LedgerFault(
        "estimate", estimate.id, f"It does not come out the same to the last bit: {found}.", changed=False
    )


def _difference(stored: str, again: str) -> str:
    """The first part that differs, named."""
    old, new = json.loads(stored), _object(again)
    for name in sorted(old.keys() | new.keys()):
        if old.get(name) != new.get(name):
            return f"{name} was {_short(old.get(name))} and is now {_short(new.get(name))}"
    return "the same values are written differently"


def _object(text: str) -> dict[str, Any]:
    try:
        value = json.loads(text)
    except ValueError:
        return {}
    return value if isinstance(value, dict) else {}


def _short(value: object) -> str:
    text = json.dumps(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
