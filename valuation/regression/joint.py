"""Prices of several states of one vehicle, with the uncertainty that they share.

A truck as found and the same truck finished are valued from the same table: where the table is wrong about the family
or the year it is wrong about both. Treating the two prices as independent would count that uncertainty twice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import RegressionError
from valuation.regression.distribution import FloatArray, PriceDistribution, ScoreCurve


@dataclass(frozen=True, slots=True)
class JointPrices:
    """Joint predictive distribution of m states of one vehicle.

    The log price of state j is location_j + scale_j * q(T_j), where the standard-normal T_j are correlated: they share
    the error of the fitted effects (``effect_covariance``) and the vehicle's own scatter (``residual``).

    Parameters
    ----------
    location : ndarray, shape (m,)
        Log of each median.
    effect_covariance : ndarray, shape (m, m)
        Covariance of the error of the fitted log medians.
    residual : float or ndarray, shape (m,)
        Standard deviation in log units of one sale around the median of each state; > 0. The states move together.
    curve : ScoreCurve
        Shape of the standardised log error.
    """

    location: FloatArray
    effect_covariance: FloatArray
    residual: float | FloatArray
    curve: ScoreCurve

    def __post_init__(self) -> None:
        m = len(self.location)
        if self.effect_covariance.shape != (m, m):
            raise RegressionError(f"{m} states need a {m} x {m} covariance of their effects.")
        if not np.all(np.asarray(self.residual) > 0):
            raise RegressionError("The scatter of one sale must be above 0.")

    def __len__(self) -> int:
        return len(self.location)

    @property
    def scale(self) -> FloatArray:
        """Standard deviation of each log price before the score curve, shape (m,)."""
        return np.asarray(np.sqrt(np.diag(self.effect_covariance) + self.residual**2))

    @property
    def distribution(self) -> PriceDistribution:
        """The m distributions taken one by one."""
        return PriceDistribution(self.location, self.scale, self.curve)

    def normal_scores(self, effect_scores: npt.ArrayLike, residual_scores: npt.ArrayLike) -> FloatArray:
        """Correlated standard-normal scores T of the states.

        Parameters
        ----------
        effect_scores : array_like, shape (draws, m)
            Independent standard normals that move the fitted effects.
        residual_scores : array_like, shape (draws,)
            Independent standard normals that move the vehicle's own scatter.

        Returns
        -------
        ndarray, shape (draws, m)
        """
        values, vectors = np.linalg.eigh(self.effect_covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        effect = np.asarray(effect_scores, dtype=float) @ root.T
        own = self.residual * np.asarray(residual_scores, dtype=float)[:, None]
        return np.asarray((effect + own) / self.scale)

    def sample(self, effect_scores: npt.ArrayLike, residual_scores: npt.ArrayLike) -> FloatArray:
        """Prices of the states, draw by draw, shape (draws, m); each column has its own distribution exactly."""
        scores = self.normal_scores(effect_scores, residual_scores)
        return np.asarray(np.exp(self.location + self.scale * self.curve.score(scores)))

    def ratio(self, numerator: int, denominator: int) -> PriceDistribution:
        """Distribution of what going from one state to another multiplies the price by (the effects' error only)."""
        c = self.effect_covariance
        variance = c[numerator, numerator] + c[denominator, denominator] - 2 * c[numerator, denominator]
        scale = np.array([np.sqrt(max(float(variance), 1e-16))])
        location = np.array([self.location[numerator] - self.location[denominator]])
        return PriceDistribution(location, scale, ScoreCurve.normal())
