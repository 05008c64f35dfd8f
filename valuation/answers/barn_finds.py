"""A find that was kept in the barn becomes a vehicle of the shop: once, however often it is sent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from valuation.errors import ValuationError
from valuation.paths.barn_grid import LINE, YEAR
from valuation.schema import parse_vehicle
from valuation.text.locale import HARD, LOCALES

if TYPE_CHECKING:
    from collections.abc import Callable

    from valuation.answers.tables import Tables
    from valuation.ledger import TableRecord, VehicleRecord
    from valuation.schema import Vehicle
    from valuation.schema.values import Value


@dataclass(frozen=True, slots=True)
class Find:
    """A find as it was kept on a telephone.

    Attributes
    ----------
    key : str
        Made where it was kept; the same find sent twice has the same.
    attributes : mapping of str to value
        As found.
    found_on : date
    asked : float or None
        Money, in the table's currency.
    remark : str
    """

    key: str
    attributes: Mapping[str, Value]
    found_on: dt.date
    asked: float | None = None
    remark: str = ""

    @property
    def subject(self) -> str:
        """What the vehicle is filed under, for ever: line, year and the key."""
        return f"{self._told}, find {self.key}"

    @property
    def name(self) -> str:
        """What the vehicle is called at first."""
        return f"{self._told}, found {LOCALES['international'].date(self.found_on).replace(HARD, ' ')}"

    @property
    def _told(self) -> str:
        year = self.attributes.get(YEAR, "")
        named = str(self.attributes.get(LINE) or "Find"), f"{year:g}" if isinstance(year, int | float) else str(year)
        return " ".join(filter(None, named))


@dataclass(frozen=True, slots=True)
class FindKept:
    """Where a find is kept.

    Attributes
    ----------
    vehicle : int
        Number of the vehicle in the ledger.
    subject : str
        What it is filed under.
    again : bool
        Whether it was there already.
    without : str
        What could not be kept with it and why; empty when all was.
    """

    vehicle: int
    subject: str
    again: bool
    without: str = ""


def keep_find(tables: Tables, table: TableRecord, find: Find, value: Callable[[Vehicle], object]) -> FindKept:
    """Write a find to the ledger and, where it can be made, its estimate.

    What was written before is left as it is, and what is missing of it is made up for: the same find can be sent again
    and again.

    Parameters
    ----------
    tables : Tables
    table : TableRecord
        Whose schema says what its attributes are.
    find : Find
    value : callable
        Keeps the estimate of a vehicle.

    Raises
    ------
    VehicleError
        An attribute is not what the schema accepts.
    """
    vehicle = parse_vehicle({"attributes": dict(find.attributes)}, tables.schema(table), find.subject)
    there = tables.ledger.vehicle_of(find.subject)
    record = there or _written(tables, table, find, vehicle)
    without = ""
    if not tables.ledger.estimates(find.subject, last=1):
        try:
            value(vehicle)
        except ValuationError as error:
            without = f"No estimate was made. {error}"
    return FindKept(record.first, find.subject, there is not None, without)


def _written(tables: Tables, table: TableRecord, find: Find, vehicle: Vehicle) -> VehicleRecord:
    written = tables.ledger.add_vehicle(
        subject=find.subject,
        found=vehicle.kept(),
        asked=find.asked,
        currency=tables.comparables(table).currency,
        found_on=find.found_on,
        remark=find.remark,
    )
    tables.ledger.show_as("vehicle", find.subject, name=find.name)
    return written
