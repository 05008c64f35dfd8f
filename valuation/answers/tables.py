"""The tables of a ledger, each version read once: which one to work from, what it holds, and a new one brought."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from valuation.answers.shelf import Shelf
from valuation.errors import LedgerError, TableError
from valuation.schema import Schema, parse_vehicle, schema_from_dict
from valuation.text.spelling import level_key

if TYPE_CHECKING:
    from valuation.comparables import Comparables
    from valuation.comparables.texttable import TextTable
    from valuation.ledger import DealRecord, EstimateRecord, Ledger, TableRecord
    from valuation.ledger.writer import Clock
    from valuation.schema import Vehicle

LEDGER_NAME = "valuation.sqlite"
"""The shop's ledger unless told otherwise: a file in the folder where one works, the same for the desk and commands."""
FRESH_SECONDS = 1.0
"""How long the newest table is taken to be the newest without asking the ledger, which other programs write too."""


class Tables:
    """A ledger with its tables at hand.

    Parameters
    ----------
    ledger : str
        File or database URL; opened at the first use, not before.
    limits : mapping of str to int, optional
        Most ``rows`` and ``cells`` of a table that is brought.
    currency : str
        Of new tables that name none; empty: none is assumed.

    Attributes
    ----------
    figures : Shelf
        The few figures of kept answers that lists show, so that no answer is read twice for them.
    """

    def __init__(self, ledger: str, limits: Mapping[str, int] | None = None, currency: str = "") -> None:
        self._place, self._limits, self.usual_currency = ledger, limits or {}, currency
        self._ledger: Ledger | None = None
        self._opening = threading.Lock()
        self._read: Shelf[Any] = Shelf(8)
        self.figures: Shelf[Any] = Shelf(2000)
        self._newest: tuple[float, TableRecord | None] = (0.0, None)

    @property
    def ledger(self) -> Ledger:
        """The ledger, opened."""
        with self._opening:
            if self._ledger is None:
                from valuation.ledger import Ledger

                self._ledger = Ledger.open(self._place)
            return self._ledger

    def ledger_at(self, clock: Clock) -> Ledger:
        """The same ledger by another clock, to be closed by whoever asks: for the past of a demonstration.

        Parameters
        ----------
        clock : callable
            Gives the moment that stands on what is written.
        """
        from valuation.ledger import Ledger

        return Ledger.open(self._place, clock=clock)

    @property
    def folder(self) -> Path:
        """Where the shop's own files lie: beside the ledger; where one works when that lives on a server."""
        return Path() if "://" in self._place else Path(self._place).parent

    def close(self) -> None:
        """Let go of the ledger."""
        if self._ledger is not None:
            self._ledger.close()

    # Which table

    def tables(self, *, archived: bool = True) -> list[TableRecord]:
        """Every table version, newest first; those of tables that are put away only where asked for."""
        away = set() if archived else self._archived()
        return [one for one in reversed(self.ledger.tables()) if one.name not in away]

    def newest_table(self) -> TableRecord | None:
        """The newest version of all tables that are not put away, if there is any."""
        from valuation.ledger import TableRecord

        seen, newest = self._newest
        if newest is None or time.monotonic() - seen > FRESH_SECONDS:
            newest = next(iter(self.ledger.records(TableRecord, last=1)), None)
            if newest is not None and newest.name in self._archived():
                newest = next(iter(self.newest_tables()), None)
            self._newest = time.monotonic(), newest
        return newest

    def newest_tables(self, *, archived: bool = False) -> list[TableRecord]:
        """The newest version of every table that is not put away, or of those that are, newest first."""
        away = self._archived()
        newest = {one.name: one for one in self.ledger.tables() if (one.name in away) == archived}
        return sorted(newest.values(), key=lambda one: -one.id)

    def archive_table(self, name: str, *, back: bool = False) -> None:
        """Put a table with all its versions away, or bring it back.

        Parameters
        ----------
        name : str
            The shop's name for it, under which the ledger keeps it.
        back : bool
        """
        self.ledger.show_as("table", name, archived=not back)
        self._newest = 0.0, None

    def call_table(self, name: str, called: str) -> None:
        """Call a table otherwise; the ledger keeps it under its name as before, and so does the terminal.

        Parameters
        ----------
        name : str
            Under which the ledger keeps it.
        called : str
            What pages call it from now on.

        Raises
        ------
        LedgerError
            Another table is called so, or the new name is empty.
        """
        if (key := self.key_of(called)) != name and self.newest_of(key) is not None:
            raise LedgerError(
                f"Cannot call it '{called.strip()}': another table of the shop is called so. Choose another name.",
                where="name",
            )
        self.ledger.show_as("table", name, name=called)

    def called(self, table: TableRecord) -> str:
        """What a table is called on pages: its name in the ledger unless it was called otherwise."""
        shown = self.ledger.shown("table").get(table.name)
        return table.name if shown is None else shown.name

    def key_of(self, name: str) -> str:
        """The name in the ledger of the table that is called so; the same where there is none."""
        keys = {one.name: one.name for one in self.ledger.tables()}
        keys |= {key: one.name for key, one in self.ledger.shown("table").items()}
        wanted = level_key(name)
        known = (key for key, called in keys.items() if wanted in (level_key(key), level_key(called)))
        return name if name in keys else next(known, name)

    def is_archived(self, table: TableRecord) -> bool:
        """Whether a table was put away."""
        return table.name in self._archived()

    def _archived(self) -> set[str]:
        return {key for key, one in self.ledger.shown("table").items() if one.archived}

    def versions(self, name: str) -> list[TableRecord]:
        """Every version of a table, newest first."""
        return [one for one in self.tables() if one.name == name]

    def newest_of(self, name: str) -> TableRecord | None:
        """The newest version of a table, if there is one of that name."""
        return next(iter(self.versions(name)), None)

    def table_of(self, estimate: EstimateRecord) -> TableRecord:
        """The table version behind an estimate."""
        return self.ledger.table(self.ledger.model(estimate.model_id).table_id)

    def table_behind(self, deal: DealRecord) -> TableRecord | None:
        """The table version that a result of the deal room rests on, if it rests on one."""
        return None if deal.model_id is None else self.ledger.table(self.ledger.model(deal.model_id).table_id)

    def table_for(self, subject: str, currency: str = "") -> TableRecord | None:
        """The table to go on with for a vehicle: that of its last estimate or deal, else the newest in its currency.

        Parameters
        ----------
        subject, currency : str
        """
        if subject:
            for estimate in self.ledger.estimates(subject, last=1):
                return self.table_of(estimate)
            for deal in self.ledger.deals(subject, last=1):
                if (table := self.table_behind(deal)) is not None:
                    return table
        alike = (one for one in self.newest_tables() if not currency or self.comparables(one).currency == currency)
        return next(alike, None) or self.newest_table()

    # What it holds

    def schema(self, table: TableRecord) -> Schema:
        """The schema that a table version is read with."""
        return self._read.get(("schema", table.id), lambda: schema_from_dict(json.loads(table.schema)))

    def text_table(self, table: TableRecord) -> TextTable:
        """The cells of a table version as text."""
        from valuation.comparables.mending import text_table

        def read() -> TextTable:
            found = text_table(self.ledger.content(table.source), self.schema(table), table.source_name)
            for labels in (found.cells.index, found.cells.columns):
                labels.get_loc(labels[0])  # pandas sets up its look-up at the first use, and not safely for two threads
            return found

        return self._read.get(("text", table.id), read)

    def comparables(self, table: TableRecord) -> Comparables:
        """A table version, read and checked."""
        from valuation.comparables import read_comparables

        def read() -> Comparables:
            source = self.ledger.content(table.source)
            return read_comparables(source, self.schema(table), name=table.source_name)

        return self._read.get(("sales", table.id), read)

    def levels_seen(self, table: TableRecord) -> dict[str, list[str]]:
        """Levels that a table holds of each open scale, most frequent first."""
        attributes = self.comparables(table).attributes
        return {
            one.name: [str(level) for level in attributes[one.name].value_counts().index]
            for one in self.schema(table).attributes
            if one.role == "nominal" and not one.levels and one.name in attributes
        }

    def known(self, table: TableRecord | None = None) -> list[EstimateRecord]:
        """The newest estimate of each vehicle, newest first; of those valued from one table unless all are wanted."""
        found = self.ledger.estimates(last=200)
        if table is not None:
            own = {one.id for one in self.ledger.tables() if one.name == table.name}
            models = {one.id for one in self.ledger.models() if one.table_id in own}
            found = tuple(one for one in found if one.model_id in models)
        return sorted({one.subject: one for one in found}.values(), key=lambda one: -one.id)

    def vehicle_of(self, estimate: EstimateRecord) -> Vehicle:
        """The vehicle as it stood in an estimate."""
        return parse_vehicle(json.loads(estimate.vehicle), self.schema(self.table_of(estimate)), estimate.subject)

    # A new one

    def refuse_large(self, name: str, rows: int, cells: int) -> None:
        """Refuse a table that is larger than the limits.

        Parameters
        ----------
        name : str
            The shop's name for it.
        rows, cells : int
        """
        for what, found in (("rows", rows), ("cells", cells)):
            limit = self._limits.get(what, found)
            if found > limit:
                raise TableError(
                    f"Cannot keep '{name}': found {found:,} {what}; this service takes {limit:,}. Bring a smaller "
                    f"table, or raise VALUATION_MAX_{what.upper()}."
                )

    def bring(
        self, name: str, source: bytes, source_name: str, schema: Schema, *, follows: int | None = None
    ) -> TableRecord:
        """Read a table, check it and write it to the ledger as the next version of its name.

        Parameters
        ----------
        name : str
            The shop's name for it.
        source : bytes
            The file.
        source_name : str
            The file's name; the shop's unless told.
        schema : Schema
            To read it with.
        follows : int, optional
            See ``Ledger.add_table``.

        Raises
        ------
        TableError
            It cannot be read, or is larger than the limits.
        """
        from valuation.comparables import read_comparables

        table = read_comparables(source, schema, name=source_name or name)
        self.refuse_large(name, table.rows, table.rows * (len(table.set_aside.columns) or 1))
        kept = self.ledger.add_table(
            name=name,
            schema=schema.as_dict(),
            source=source,
            source_name=source_name or name,
            fingerprint=table.fingerprint,
            rows=table.rows,
            faults=len(table.faults),
            follows=follows,
        )
        self._newest = 0.0, None
        return kept
