"""A price model whose effects are stated instead of fitted: for examples, and for tests against a known truth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from valuation.notes import Note
from valuation.regression.distribution import FloatArray, PriceDistribution, ScoreCurve
from valuation.regression.joint import JointPrices
from valuation.schema.schema import Schema
from valuation.schema.vehicle import Vehicle
from valuation.year import DAYS_PER_YEAR

BASE = ("", "")


@dataclass(frozen=True)
class StatedPrices:
    """Prices that multiply from stated factors.

    Parameters
    ----------
    schema : Schema
    base : float
        Median price of a vehicle of which nothing is known, on the base date; money.
    factors : mapping of str to mapping of str to float
        What each level of an attribute multiplies the price by; a level that is not named is worth 1.
    per_unit : mapping of str to (float, float)
        For a number: percent per unit, and the number at which the factor is 1.
    scatter : float
        Standard deviation of one sale around its median, log units; > 0.
    unsure : float
        Standard deviation of each stated effect, log units; 0: the truth is known.
    yearly_percent : float
        How prices drift.
    base_date : date
    curve : ScoreCurve
    currency : str
    """

    schema: Schema
    base: float
    factors: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    per_unit: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    scatter: float = 0.2
    unsure: float = 0.0
    yearly_percent: float = 0.0
    base_date: date = date(2026, 1, 1)
    curve: ScoreCurve = field(default_factory=ScoreCurve.normal)
    currency: str = "USD"

    def distribution(self, vehicles: Sequence[Vehicle], as_of: date) -> PriceDistribution:
        """Prices of the vehicles one by one."""
        location = np.array([sum(self._parts(vehicle).values()) for vehicle in vehicles]) + self._drift(as_of)
        parts = np.array([len(self._parts(vehicle)) for vehicle in vehicles], dtype=float)
        return PriceDistribution(location, np.sqrt(self.scatter**2 + self.unsure**2 * parts), self.curve)

    def joint(self, vehicles: Sequence[Vehicle], as_of: date) -> JointPrices:
        """Prices of several states of one vehicle; two states share the error of each effect that they share."""
        parts = [self._parts(vehicle) for vehicle in vehicles]
        location = np.array([sum(one.values()) for one in parts]) + self._drift(as_of)
        shared = np.array([[len(one.keys() & other.keys()) for other in parts] for one in parts], dtype=float)
        covariance: FloatArray = self.unsure**2 * shared
        return JointPrices(location, covariance, self.scatter, self.curve)

    def notes_on(self, vehicle: Vehicle, as_of: date) -> tuple[Note, ...]:
        """None: stated effects hold for every vehicle."""
        return ()

    def _drift(self, as_of: date) -> float:
        return float(np.log1p(self.yearly_percent / 100) * (as_of - self.base_date).days / DAYS_PER_YEAR)

    def _parts(self, vehicle: Vehicle) -> dict[tuple[str, str], float]:
        """Log of each factor that applies, by attribute and level."""
        parts = {BASE: float(np.log(self.base))}
        for name, value in vehicle.attributes.items():
            if name in self.factors and str(value) in self.factors[name]:
                parts[name, str(value)] = float(np.log(self.factors[name][str(value)]))
            elif name in self.per_unit and isinstance(value, int | float):
                percent, at = self.per_unit[name]
                parts[name, str(value)] = float(np.log1p(percent / 100) * (value - at))
        return parts
