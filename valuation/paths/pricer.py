"""What this room needs of a price model; the fitted one in the regression room is one of this kind."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Protocol

from valuation.notes import Note
from valuation.regression.distribution import PriceDistribution
from valuation.regression.joint import JointPrices
from valuation.schema.schema import Schema
from valuation.schema.vehicle import Vehicle


class Pricer(Protocol):
    """Predictive distributions of buyer-pays prices."""

    @property
    def schema(self) -> Schema:
        """The schema that its vehicles follow."""

    @property
    def currency(self) -> str:
        """Currency of its prices; empty when the table names none."""

    def distribution(self, vehicles: Sequence[Vehicle], as_of: date) -> PriceDistribution:
        """Prices of the vehicles one by one, on a date.

        Parameters
        ----------
        vehicles : sequence of Vehicle
        as_of : date
            Day of the prices.
        """

    def joint(self, vehicles: Sequence[Vehicle], as_of: date) -> JointPrices:
        """Prices of several states of one vehicle together, on a date.

        Parameters
        ----------
        vehicles : sequence of Vehicle
        as_of : date
            Day of the prices.
        """

    def notes_on(self, vehicle: Vehicle, as_of: date) -> tuple[Note, ...]:
        """What must be known of the estimate of one vehicle.

        Parameters
        ----------
        vehicle : Vehicle
        as_of : date
            Day of the price.
        """
