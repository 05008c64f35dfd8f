"""What can be read from a ledger: for each kind the standing records, and one by its number."""

from __future__ import annotations

import json
from typing import Any, TypeVar

from valuation.ledger import rows
from valuation.ledger.database import Database
from valuation.ledger.layout import TABLES
from valuation.ledger.records import (
    DealRecord,
    EstimateRecord,
    ModelRecord,
    OfferRecord,
    PhotoRecord,
    PlanRecord,
    Record,
    SaleRecord,
    SheetRecord,
    ShopRecord,
    ShownRecord,
    TableRecord,
    VehicleRecord,
)

R = TypeVar("R", bound=Record)


class Reader:
    """The reading half of a ledger.

    A list holds the newest record of each chain of corrections, oldest first, each with its ``history``; chains that
    end in a withdrawal are left out unless asked for. One record by its number is given as it was written, also when
    it was corrected since. Every call is one short transaction.

    Parameters
    ----------
    database : Database
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    def records(
        self, kind: type[R], *, subject: str | None = None, last: int | None = None, withdrawn: bool = False
    ) -> tuple[R, ...]:
        """Standing records of any kind.

        Parameters
        ----------
        kind : type of Record
        subject : str, optional
            Only those about this vehicle.
        last : int, optional
            Only so many of the newest.
        withdrawn : bool
            Also the chains that end in a withdrawal.
        """
        where = [] if subject is None else [TABLES[kind].c.subject == subject]
        with self._database.reading() as connection:
            return tuple(rows.newest(connection, kind, *where, withdrawn=withdrawn, last=last))

    def record(self, kind: type[R], number: int) -> R:
        """One record of any kind as it was written; `LedgerError` when there is none of that number.

        Parameters
        ----------
        kind : type of Record
        number : int
            Its number within the kind.
        """
        with self._database.reading() as connection:
            return rows.one(connection, kind, number)

    def all_written(self, kind: type[R]) -> tuple[R, ...]:
        """Every record ever written, corrected and withdrawn ones too, without histories."""
        with self._database.reading() as connection:
            return tuple(rows.select(connection, kind))

    def content(self, fingerprint: str) -> bytes:
        """The file or text kept under a fingerprint, proved against it; `LedgerError` when there is none."""
        with self._database.reading() as connection:
            return rows.content(connection, fingerprint)

    def tables(self) -> tuple[TableRecord, ...]:
        """Every version of every table of comparables."""
        return self.records(TableRecord)

    def table(self, number: int) -> TableRecord:
        """One table version."""
        return self.record(TableRecord, number)

    def models(self) -> tuple[ModelRecord, ...]:
        """Every fitted model."""
        return self.records(ModelRecord)

    def model(self, number: int) -> ModelRecord:
        """One fitted model."""
        return self.record(ModelRecord, number)

    def model_text(self, number: int) -> str:
        """The saved model, letter for letter."""
        return self.content(self.model(number).fingerprint).decode()

    def estimates(self, subject: str | None = None, *, last: int | None = None) -> tuple[EstimateRecord, ...]:
        """Estimates, of one vehicle or of all.

        Parameters
        ----------
        subject : str or None
            The vehicle; all unless given.
        last : int or None
            Only so many of the newest.
        """
        return self.records(EstimateRecord, subject=subject, last=last)

    def estimate(self, number: int) -> EstimateRecord:
        """One estimate."""
        return self.record(EstimateRecord, number)

    def estimate_summary(self, number: int) -> dict[str, Any]:
        """The whole summary of an estimate."""
        return self._object(self.estimate(number).summary)

    def plans(self, subject: str | None = None) -> tuple[PlanRecord, ...]:
        """Build plans, for one vehicle or for all."""
        return self.records(PlanRecord, subject=subject)

    def plan(self, number: int) -> PlanRecord:
        """One build plan."""
        return self.record(PlanRecord, number)

    def deals(self, subject: str | None = None, *, last: int | None = None) -> tuple[DealRecord, ...]:
        """Deal results, for one vehicle or for all.

        Parameters
        ----------
        subject : str or None
            The vehicle; all unless given.
        last : int or None
            Only so many of the newest.
        """
        return self.records(DealRecord, subject=subject, last=last)

    def deal(self, number: int) -> DealRecord:
        """One deal result."""
        return self.record(DealRecord, number)

    def deal_result(self, number: int) -> dict[str, Any]:
        """The whole result of a deal record."""
        return self._object(self.deal(number).result)

    def offers(self, subject: str | None = None) -> tuple[OfferRecord, ...]:
        """Offers, for one vehicle or for all."""
        return self.records(OfferRecord, subject=subject)

    def offer(self, number: int) -> OfferRecord:
        """One offer."""
        return self.record(OfferRecord, number)

    def sales(self, subject: str | None = None) -> tuple[SaleRecord, ...]:
        """Realised sales, of one vehicle or of all."""
        return self.records(SaleRecord, subject=subject)

    def sale(self, number: int) -> SaleRecord:
        """One realised sale."""
        return self.record(SaleRecord, number)

    def sheets(self, subject: str | None = None) -> tuple[SheetRecord, ...]:
        """Sheets made, about one vehicle or all."""
        return self.records(SheetRecord, subject=subject)

    def sheet(self, number: int) -> SheetRecord:
        """One sheet made."""
        return self.record(SheetRecord, number)

    def vehicles(self) -> tuple[VehicleRecord, ...]:
        """Vehicles of the shop, archived ones too."""
        return self.records(VehicleRecord)

    def vehicle(self, number: int) -> VehicleRecord:
        """One record of a vehicle."""
        return self.record(VehicleRecord, number)

    def vehicle_of(self, subject: str) -> VehicleRecord | None:
        """The vehicle of that key, if the ledger has it."""
        return next(iter(self.records(VehicleRecord, subject=subject, last=1)), None)

    def shown(self, thing: str) -> dict[str, ShownRecord]:
        """What vehicles, tables or plans are called and which are put away, by key; most are called by their key."""
        return {one.key: one for one in self.records(ShownRecord) if one.thing == thing}

    def photos(self, subject: str | None = None) -> tuple[PhotoRecord, ...]:
        """Photographs of one vehicle or of all, in the order in which they came."""
        return tuple(sorted(self.records(PhotoRecord, subject=subject), key=lambda one: one.first))

    def shop(self) -> ShopRecord | None:
        """The shop's settings, if the ledger has any."""
        return next(iter(self.records(ShopRecord, last=1)), None)

    def _object(self, fingerprint: str) -> dict[str, Any]:
        value: dict[str, Any] = json.loads(self.content(fingerprint))
        return value
