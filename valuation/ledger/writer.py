"""What can be written to a ledger: one record in one short transaction, never changed afterwards."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any, TypeVar

from valuation.errors import LedgerError
from valuation.ledger.canonical import canonical_json
from valuation.ledger.database import Database
from valuation.ledger.head import settle
from valuation.ledger.reader import Reader
from valuation.ledger.records import (
    DealRecord,
    EstimateRecord,
    ModelRecord,
    PlanRecord,
    Record,
    SheetRecord,
    TableRecord,
)
from valuation.ledger.rows import Transaction, holds

R = TypeVar("R", bound=Record)
Clock = Callable[[], datetime]
"""Gives the present moment, with its offset."""


class Writer(Reader):
    """The writing half of a ledger.

    Each ``add_...`` writes one record and gives it back. Where it takes ``corrects`` (the number of an older record of
    the same kind) and a ``reason``, it writes a correction: the older record stays, as the new one's ``history``. A
    table is corrected by its next version. Every method raises `LedgerError` when a value is not what its field holds,
    a record it names is not there, or the ledger cannot be written.

    Parameters
    ----------
    database : Database
    clock : callable
    """

    def __init__(self, database: Database, clock: Clock) -> None:
        super().__init__(database)
        self._clock = clock

    def add_table(
        self,
        *,
        name: str,
        schema: Mapping[str, object],
        source: bytes,
        source_name: str,
        fingerprint: str,
        rows: int,
        faults: int,
        follows: int | None = None,
    ) -> TableRecord:
        """Write a version of a table of comparables with its original file.

        The newest version brought once more (same name, file, schema and content) stays one version, and its record
        is given back. Anything else is the next version: a table is corrected by bringing it again.

        Parameters
        ----------
        name : str
            The shop's name for the table.
        schema : mapping
            The schema that it was read with, as plain values.
        source : bytes
            The original file, or canonical CSV where there was none.
        source_name : str
            File name that it came by.
        fingerprint : str
            The table's own fingerprint (``Comparables.fingerprint``).
        rows, faults : int
            Data rows in the file and faults found.
        follows : int, optional
            Number of the version that it was made from; refused when a newer one is there, so that two who mend one
            table at once cannot undo each other unseen.
        """
        with self._writing() as transaction:
            values = {"name": name, "schema": schema, "source": transaction.keep(source), "fingerprint": fingerprint}
            last = transaction.newest(TableRecord, {"name": name}, withdrawn=True)
            if last is not None and not last.withdrawn and holds(last, values):
                return last
            if follows is not None and (last is None or last.id != follows):
                raise LedgerError(
                    f"Cannot write the next version of table {name!r}: it was made from table {follows}, and "
                    f"{f'table {last.id} is newer' if last else 'there is no table of that name'}. Make it from the "
                    "newest."
                )
            version = 1 if last is None else last.version + 1
            more = {"version": version, "source_name": source_name, "rows": rows, "faults": faults}
            return transaction.append(TableRecord, {**values, **more})

    def add_model(self, *, text: str, table_id: int) -> ModelRecord:
        """Write a saved model, letter for letter; one that is there already is given back.

        Parameters
        ----------
        text : str
            The saved model's JSON text.
        table_id : int
            The table version that it was fitted to.
        """
        with self._writing() as transaction:
            values = {"table_id": table_id, "fingerprint": transaction.keep(_encoded("a model", text))}
            return transaction.newest(ModelRecord, values) or transaction.append(ModelRecord, values)

    def add_estimate(
        self,
        *,
        subject: str,
        vehicle: Mapping[str, object],
        model_id: int,
        summary: Mapping[str, Any],
        settings: Mapping[str, object] | None = None,
        corrects: int | None = None,
        reason: str = "",
    ) -> EstimateRecord:
        """Write an estimate.

        Parameters
        ----------
        subject : str
            The shop's name for the vehicle; the same for all its estimates.
        vehicle : mapping
            Its attributes as plain values.
        model_id : int
            The model that made it.
        summary : mapping
            The whole summary as the JSON answers show it: ``as_of``, ``currency``, ``median`` and ``interval`` with
            ``coverage``, ``low`` and ``high`` (``None`` for an open side) are read from it; all of it is kept.
        settings : mapping, optional
            What else the estimate depends on (options, versions), as plain values.
        corrects, reason
            See the class.

        Raises
        ------
        LedgerError
            If the summary lacks one of these, holds NaN or infinity, or the model is not in the ledger.
        """
        try:
            interval = summary["interval"]
            figures = {name: summary[name] for name in ("as_of", "median")}
            figures |= {name: interval[name] for name in ("coverage", "low", "high")}
        except (KeyError, TypeError) as error:
            raise LedgerError(
                f"Cannot write the estimate of {subject!r} to the ledger: its summary lacks {error}. It needs as_of, "
                "median and interval with coverage, low and high. Give the whole summary."
            ) from error
        text = canonical_json(dict(summary), "the summary of an estimate")
        with self._writing() as transaction:
            values = {
                "subject": subject,
                "vehicle": vehicle,
                "model_id": model_id,
                "currency": summary.get("currency") or "",
                "settings": settings or {},
                "summary": transaction.keep(text),
                **figures,
            }
            return transaction.append(EstimateRecord, values, corrects, reason)

    def add_plan(
        self, *, subject: str, name: str, text: str, corrects: int | None = None, reason: str = ""
    ) -> PlanRecord:
        """Write a build plan's TOML text; the newest of that name brought once more is given back.

        Parameters
        ----------
        subject, name : str
            The vehicle that it is for, and the plan's own name.
        text : str
            The file, letter for letter.
        corrects, reason
            See the class.
        """
        values = {"subject": subject, "name": name, "text": text}
        with self._writing() as transaction:
            last = transaction.newest(PlanRecord, {"subject": subject, "name": name})
            if corrects is None and last is not None and holds(last, values):
                return last
            return transaction.append(PlanRecord, values, corrects, reason)

    def add_deal(
        self,
        *,
        subject: str,
        kind: str,
        inputs: Mapping[str, object],
        result: Mapping[str, object],
        plan_id: int | None = None,
        model_id: int | None = None,
        corrects: int | None = None,
        reason: str = "",
    ) -> DealRecord:
        """Write a result of the deal room.

        Parameters
        ----------
        subject, kind : str
            The vehicle, and what was asked (for example ``paths``).
        inputs, result : mapping
            What it was computed from beside plan and model, and the whole result, as plain values.
        plan_id, model_id : int, optional
            What it rests on.
        corrects, reason
            See the class.
        """
        text = canonical_json(dict(result), f"the result of {kind!r}")
        with self._writing() as transaction:
            values = {
                "subject": subject,
                "kind": kind,
                "plan_id": plan_id,
                "model_id": model_id,
                "inputs": inputs,
                "result": transaction.keep(text),
            }
            return transaction.append(DealRecord, values, corrects, reason)

    def add_sheet(
        self,
        *,
        kind: str,
        file_name: str,
        fingerprint: str,
        inputs: Mapping[str, object],
        subject: str = "",
        estimate_id: int | None = None,
        deal_id: int | None = None,
    ) -> SheetRecord:
        """Write that a sheet was made.

        Parameters
        ----------
        kind : str
            Which sheet.
        file_name, fingerprint : str
            Name and SHA-256 of the finished file.
        inputs : mapping
            What else is needed to make it again, as plain values.
        subject : str
            The vehicle, where it is about one.
        estimate_id, deal_id : int, optional
            What it shows.
        """
        values = {
            "kind": kind,
            "subject": subject,
            "estimate_id": estimate_id,
            "deal_id": deal_id,
            "file_name": file_name,
            "fingerprint": fingerprint,
            "inputs": inputs,
        }
        with self._writing() as transaction:
            return transaction.append(SheetRecord, values)

    def withdraw(self, record: R, reason: str) -> R:
        """End a record's chain, because what it says did not happen; lists leave it out from then on.

        Parameters
        ----------
        record : Record
            The newest of its chain.
        reason : str
            Why, in a few words.
        """
        kind = type(record)
        with self._writing() as transaction:
            return transaction.withdraw(kind, record.id, reason)

    @contextmanager
    def _writing(self) -> Iterator[Transaction]:
        with self._database.writing() as connection:
            now = self._clock()
            if now.utcoffset() is None:
                raise LedgerError("Cannot write to the ledger: its clock gives a time without an offset. Give it one.")
            yield Transaction(connection, now)
        settle(self._database)


def _encoded(what: str, text: str) -> bytes:
    try:
        return text.encode()
    except UnicodeEncodeError as error:
        raise LedgerError(
            f"Cannot keep {what} in the ledger: it holds a broken character ({error}). Mend it."
        ) from error
