"""The ledger: what a shop's table, estimates, plans, offers and sales were, kept for good."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from valuation.ledger import check as checking
from valuation.ledger import files
from valuation.ledger.database import WAIT_SECONDS, Database
from valuation.ledger.head import check_head
from valuation.ledger.migrate import migrate, steps
from valuation.ledger.sell_side import SellSide
from valuation.ledger.shop_side import ShopSide
from valuation.ledger.writer import Clock


def _wall_clock() -> datetime:
    return datetime.now().astimezone()


class Ledger(SellSide, ShopSide):
    """An append-only database of vehicles, tables, models, estimates, plans, offers and realised sales.

    Nothing is ever changed or removed, and the database itself refuses it: a correction is a new record that points at
    the old one. Threads and programs may share a ledger; they write one at a time and nobody waits to read. What can be
    read and written stands in `Reader`, `Writer`, `SellSide` and `ShopSide`.

    Use `Ledger.open`; the constructor is for a database already brought up to date.

    Parameters
    ----------
    database : Database
    clock : callable
        Gives the present moment, with its offset.
    """

    def __init__(self, database: Database, clock: Clock = _wall_clock) -> None:
        super().__init__(database, clock)

    @classmethod
    def open(
        cls, address: str | Path, *, wait: float = WAIT_SECONDS, clock: Clock = _wall_clock, incomplete: bool = False
    ) -> Self:
        """Open a ledger, making it when it is not there, and bring it up to this program's version.

        Parameters
        ----------
        address : str or Path
            A file, ``sqlite:///path``, or ``postgresql://user@host/name`` of a database that exists.
        wait : float
            Seconds to wait for another writer before giving up.
        clock : callable
            Gives the present moment with its offset; for tests and for making demonstrations.
        incomplete : bool
            Whether to open it also when records are missing that were acknowledged, to look at what is left.

        Raises
        ------
        LedgerError
            If it cannot be opened or written, is not a ledger, holds less than was written to it, or was written by a
            newer program.
        """
        database = Database(address, wait)
        try:
            database.use_write_ahead_log()
            migrate(database)
            if not incomplete:
                check_head(database)
        except BaseException:
            database.close()
            raise
        return cls(database, clock)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()

    @property
    def version(self) -> str:
        """Name of the last migration."""
        return steps()[-1]

    def backup(self, target: str | Path) -> Path:
        """Copy the ledger to a new file, while others go on reading and writing it.

        The copy is one sound state, proved by the database's own check, and appears under its name only when it is
        whole.

        Raises
        ------
        LedgerError
            If the file exists, cannot be written, or the ledger lives on a PostgreSQL server (the message names the
            tool to use there).
        """
        return files.backup(self._database, target)

    @classmethod
    def restore(
        cls,
        backup: str | Path,
        target: str | Path,
        *,
        repeat: Callable[[Self], checking.Repeat] | None = None,
        accept_loss: bool = False,
        replace: bool = False,
    ) -> Path:
        """Make a ledger from a backup that passes the check.

        Parameters
        ----------
        backup, target : str or Path
        repeat : callable, optional
            Given the ledger as restored, gives what `check` asks for, so that the estimates are made again too.
        accept_loss : bool
            Whether to take a backup also when the check finds problems.
        replace : bool
            Whether a ledger of that name may be replaced; it is kept beside the new one, as ``NAME.replaced-1``.

        Raises
        ------
        LedgerError
            If the backup is not a ledger, is newer than this program or does not pass the check, or the target exists.
        """

        def verify(copy: Path) -> checking.CheckReport:
            with cls.open(copy) as ledger:
                return ledger.check(repeat(ledger) if repeat else None)

        return files.restore(backup, target, verify, accept_loss=accept_loss, replace=replace)

    def check(self, repeat: checking.Repeat | None = None) -> checking.CheckReport:
        """Verify every seal and fingerprint, and with ``repeat`` that each estimate comes out the same to the bit.

        Parameters
        ----------
        repeat : callable, optional
            Given an ``EstimateRecord``, makes the estimate again and gives its summary as `canonical_json` text.

        Returns
        -------
        CheckReport
            What is not sound is reported, never raised, so that one damaged record does not hide another.
        """
        return checking.check(self._database, self.version, repeat)
