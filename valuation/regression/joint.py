"""Prices of several states of one vehicle, with the uncertainty that they share.

A truck as found and the same truck finished are valued from the same table: where the table is wrong about the family
or the year it is wrong about both. Treating the two prices as independent would count that uncertainty twice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import RegressionError
from valuation.regression.distribution import FloatArray, PriceDistribution, ScatterMix


@dataclass(frozen=True, slots=True)
class JointPrices:
    """Joint predictive distribution of m states of one vehicle.

    The log price of state j is location_j + E_j + residual_j * T: the E_j, normal, are the error of the fitted effects,
    correlated as the states share them; T, one number for all states, is this very vehicle's own scatter.

    Parameters
    ----------
    location : ndarray, shape (m,)
        Log of each median.
    effect_covariance : ndarray, shape (m, m)
        Covariance of the error of the fitted log medians.
    residual : float or ndarray, shape (m,)
        Standard deviation in log units of one sale around the median of each state; > 0. The states move together.
    mix : ScatterMix
        Distribution of T.
    """

    location: FloatArray
    effect_covariance: FloatArray
    residual: float | FloatArray
    mix: ScatterMix

    def __post_init__(self) -> None:
        m = len(self.location)
        if self.effect_covariance.shape != (m, m):
            raise RegressionError(f"{m} states need a {m} x {m} covariance of their effects.")
        if not np.all(np.asarray(self.residual) > 0):
            raise RegressionError("The scatter of one sale must be above 0.")

    def __len__(self) -> int:
        return len(self.location)

    @property
    def distribution(self) -> PriceDistribution:
        """The m distributions taken one by one."""
        doubt = np.sqrt(np.maximum(np.diag(self.effect_covariance), 0.0))
        return PriceDistribution(self.location, self.mix.spread(doubt, self.residual), self.mix.weight)

    def sample(self, effect_scores: npt.ArrayLike, residual_scores: npt.ArrayLike) -> FloatArray:
        """Prices of the states, draw by draw, shape (draws, m); each column has its own distribution exactly.

        Parameters
        ----------
        effect_scores : array_like, shape (draws, m)
            Independent standard normals that move the fitted effects.
        residual_scores : array_like, shape (draws,)
            Independent standard normals that move the vehicle's own scatter.
        """
        values, vectors = np.linalg.eigh(self.effect_covariance)
        root = self.mix.caution * vectors * np.sqrt(np.maximum(values, 0.0))
        effect = np.asarray(effect_scores, dtype=float) @ root.T
        own = np.asarray(residual_scores, dtype=float)
        return np.asarray(np.exp(self.location + effect + self.residual * self.mix.score(own)[:, None]))

    def ratio(self, numerator: int, denominator: int) -> PriceDistribution:
        """Distribution of what going from one state to another multiplies the price by (the effects' error only).

        Parameters
        ----------
        numerator : int
            Number of the state gone to.
        denominator : int
            Number of the state come from.
        """
        c = self.effect_covariance
        variance = c[numerator, numerator] + c[denominator, denominator] - 2 * c[numerator, denominator]
        doubt = self.mix.caution * np.sqrt(max(float(variance), 1e-16))
        return PriceDistribution.log_normal(self.location[numerator] - self.location[denominator], doubt)
