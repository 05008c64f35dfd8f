"""The predictive distribution of a price: one object answers every question asked of an estimate.

A price P is written log P = location + scale * q(Z), with Z standard normal and q a rising, piecewise straight *score
curve* through the origin. With q the identity the price is log-normal; a steeper end is a heavier tail. Because q is
piecewise straight in Z, the cdf, quantiles, mean and partial expectations all have closed forms (each straight piece
is a piece of a log-normal), and even the heaviest tail that the curve can hold leaves the mean finite.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import RegressionError
from valuation.regression.normal import ndtr, ndtri

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ScoreCurve:
    """A rising, piecewise straight map q from a standard normal score to the standardised log error.

    Parameters
    ----------
    z : ndarray, shape (k,)
        Knots on the normal-score axis, strictly rising; k >= 2.
    q : ndarray, shape (k,)
        Values there, strictly rising. Beyond the last knots the end pieces go on straight.
    """

    z: FloatArray
    q: FloatArray

    def __post_init__(self) -> None:
        if self.z.shape != self.q.shape or self.z.ndim != 1 or len(self.z) < 2:
            raise RegressionError("A score curve needs two or more knots and as many values as knots.")
        if not (np.all(np.diff(self.z) > 0) and np.all(np.diff(self.q) > 0)):
            raise RegressionError("A score curve must rise strictly from knot to knot.")

    @classmethod
    def normal(cls) -> ScoreCurve:
        """The identity: log-normal prices."""
        return cls(z=np.array([-1.0, 0.0, 1.0]), q=np.array([-1.0, 0.0, 1.0]))

    @property
    def slopes(self) -> FloatArray:
        """Slope of each of the k - 1 pieces, in standardised log error per normal score."""
        return np.diff(self.q) / np.diff(self.z)

    def score(self, z: npt.ArrayLike) -> FloatArray:
        """q at the given normal scores, same shape."""
        return _straight(np.asarray(z, dtype=float), self.z, self.q)

    def inverse(self, q: npt.ArrayLike) -> FloatArray:
        """The normal scores at which the curve takes the given values, same shape."""
        return _straight(np.asarray(q, dtype=float), self.q, self.z)


def _straight(x: FloatArray, knots: FloatArray, values: FloatArray) -> FloatArray:
    """Piecewise straight interpolation whose end pieces go on straight; keeps infinities."""
    piece = np.clip(np.searchsorted(knots, x, side="right") - 1, 0, len(knots) - 2)
    slope = np.diff(values) / np.diff(knots)
    return values[piece] + slope[piece] * (x - knots[piece])


@dataclass(frozen=True, slots=True)
class PriceDistribution:
    """Predictive distributions of n buyer-pays prices.

    Parameters
    ----------
    location : ndarray, shape (n,)
        Log of the median price.
    scale : ndarray, shape (n,)
        Standard deviation of the log price before the score curve is applied (log units); > 0.
    curve : ScoreCurve
        Shared shape of the standardised log error.

    Notes
    -----
    All money is in the currency of the table that the estimate came from. Methods return shape (n,) unless said
    otherwise. Log units appear in this class only.
    """

    location: FloatArray
    scale: FloatArray
    curve: ScoreCurve

    def __post_init__(self) -> None:
        if self.location.shape != self.scale.shape or self.location.ndim != 1:
            raise RegressionError("A price distribution needs one location and one scale for each vehicle.")
        if not np.all(self.scale > 0):
            raise RegressionError("The scale of a price distribution must be above 0 for every vehicle.")

    def __len__(self) -> int:
        return len(self.location)

    def __getitem__(self, row: int) -> PriceDistribution:
        """The distribution of one vehicle, as a distribution of length one."""
        return PriceDistribution(self.location[[row]], self.scale[[row]], self.curve)

    def median(self) -> FloatArray:
        """Median price; the estimate."""
        return np.asarray(np.exp(self.location + self.scale * self.curve.score(0.0)))

    def quantile(self, probability: npt.ArrayLike) -> FloatArray:
        """Price below which the sale falls with the given probability.

        Parameters
        ----------
        probability : float or array_like, broadcastable against (n,)
            Strictly between 0 and 1.
        """
        p = np.asarray(probability, dtype=float)
        if not np.all((p > 0) & (p < 1)):
            raise RegressionError(f"A probability must lie strictly between 0 and 1; found {probability!r}.")
        return np.asarray(np.exp(self.location + self.scale * self.curve.score(ndtri(p))))

    def interval(self, coverage: float = 0.8) -> tuple[FloatArray, FloatArray]:
        """Equal-tailed interval of the price of one such sale."""
        if not 0 < coverage < 1:
            raise RegressionError(f"A coverage must lie strictly between 0 and 1; found {coverage!r}.")
        tail = (1 - coverage) / 2
        return self.quantile(tail), self.quantile(1 - tail)

    def cdf(self, price: npt.ArrayLike) -> FloatArray:
        """Probability that the price is at or below ``price`` (broadcastable against (n,))."""
        return np.asarray(ndtr(self._normal_score(price)))

    def odds_above(self, price: npt.ArrayLike) -> FloatArray:
        """Probability that the price is above ``price``."""
        return np.asarray(ndtr(-self._normal_score(price)))

    def mean(self) -> FloatArray:
        """Expected price: above the median, since prices scatter by percentages."""
        return self._partial_mean(np.full(len(self), -np.inf))

    def expected_above(self, price: npt.ArrayLike) -> FloatArray:
        """E[max(P - price, 0)]: what a seller who may refuse ``price`` expects to gain over it."""
        threshold = np.broadcast_to(np.asarray(price, dtype=float), self.location.shape)
        z = self._normal_score(threshold)
        return self._partial_mean(z) - threshold * ndtr(-z)

    def sample(self, normal_scores: npt.ArrayLike) -> FloatArray:
        """Prices at given standard-normal scores.

        Parameters
        ----------
        normal_scores : array_like, shape (m,) or (m, n)
            Draws of Z, for example from a quasi-Monte Carlo sequence; (m,) moves all vehicles together.

        Returns
        -------
        ndarray, shape (m, n)
        """
        z = np.asarray(normal_scores, dtype=float)
        if z.ndim == 1:
            z = z[:, None]
        return np.asarray(np.exp(self.location + self.scale * self.curve.score(z)))

    def shifted(self, factor: npt.ArrayLike) -> PriceDistribution:
        """The distribution of ``factor`` times the price; factor > 0."""
        ratio = np.asarray(factor, dtype=float)
        if not np.all(ratio > 0):
            raise RegressionError(f"A price can only be multiplied by a factor above 0; found {factor!r}.")
        return PriceDistribution(self.location + np.log(ratio), self.scale, self.curve)

    def _normal_score(self, price: npt.ArrayLike) -> FloatArray:
        with np.errstate(divide="ignore"):
            log_price = np.log(np.maximum(np.asarray(price, dtype=float), 0.0))
        return self.curve.inverse((log_price - self.location) / self.scale)

    def _partial_mean(self, from_z: FloatArray) -> FloatArray:
        """E[P; Z > from_z], summed over the straight pieces of the curve.

        On a piece q(z) = a + b z, so P = exp(m + s a) exp(s b Z) and
        E[exp(t Z); l < Z < u] = exp(t^2 / 2) (Phi(u - t) - Phi(l - t)) with t = s b.
        """
        slopes = self.curve.slopes
        left = np.concatenate([[-np.inf], self.curve.z[1:-1]])
        right = np.concatenate([self.curve.z[1:-1], [np.inf]])
        intercepts = self.curve.q[:-1] - slopes * self.curve.z[:-1]
        t = self.scale[:, None] * slopes
        low = np.maximum(left, from_z[:, None])
        mass = np.where(right > low, _normal_mass(low - t, right - t), 0.0)
        terms = np.exp(self.location[:, None] + self.scale[:, None] * intercepts + t**2 / 2) * mass
        return np.asarray(terms.sum(axis=1))


def _normal_mass(low: FloatArray, high: FloatArray) -> FloatArray:
    """Phi(high) - Phi(low) without losing digits in the upper tail."""
    flip = low > 0
    return np.asarray(np.where(flip, ndtr(-low) - ndtr(-high), ndtr(high) - ndtr(low)))
