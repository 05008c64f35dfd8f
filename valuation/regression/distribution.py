"""The predictive distribution of a price: one object answers every question asked of an estimate.

A log price is its location plus an error that is a finite mixture of normals with one centre (West 1987, *Biometrika*
74, 646-648: heavy tails as a mixture of scales). What is not known of the effects and of empty cells is near normal and
lies inside every component; only the scatter of sales has heavy tails. The density is smooth and has one peak on the
log scale; the cdf, the mean and partial expectations have closed forms, quantiles take a few steps of Newton's, and
since the widest component is a normal the mean is finite.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import RegressionError
from valuation.regression.normal import ndtr, ndtri

FloatArray = npt.NDArray[np.float64]

_ROOT_TWO_PI = float(np.sqrt(2 * np.pi))
_MOST_STEPS = 80
"""A guard: halving alone settles in some 45."""
_SETTLED = 1e-13
"""Relative change under which a quantile is found; near the precision of a float."""


@dataclass(frozen=True, slots=True)
class ScatterMix:
    """How sales scatter: ``scale[k]`` times as much as is usual with probability ``weight[k]``.

    Parameters
    ----------
    scale : ndarray, shape (k,)
        Above 0.
    weight : ndarray, shape (k,)
        At least 0, with sum 1.
    caution : float
        What to multiply the standard deviation of what is not known by, since it was estimated from the same sales.
    """

    scale: FloatArray
    weight: FloatArray
    caution: float = 1.0

    def __post_init__(self) -> None:
        if self.scale.shape != self.weight.shape or self.scale.ndim != 1 or not len(self.scale):
            raise RegressionError("A mixture needs as many weights as scales, one or more.")
        if not (np.all(self.scale > 0) and np.all(self.weight >= 0) and abs(self.weight.sum() - 1) < 1e-9):
            raise RegressionError("The scales of a mixture must be above 0, its weights at least 0 with sum 1.")

    def spread(self, doubt: npt.ArrayLike, scatter: npt.ArrayLike) -> FloatArray:
        """Standard deviation of each component, shape (n, k).

        Parameters
        ----------
        doubt, scatter : float or array_like, broadcastable to (n,)
            Standard deviations of what is not known of the median, and of one sale around it.
        """
        doubt, scatter = (np.atleast_1d(np.asarray(part, dtype=float))[:, None] for part in (doubt, scatter))
        return np.hypot(self.caution * doubt, scatter * self.scale)

    def score(self, z: npt.ArrayLike) -> FloatArray:
        """Quantile of the mixture of unit scatter at the probability below the normal score ``z``, same shape."""
        return _offset(np.asarray(z, dtype=float), self.scale, self.weight)


def _offset(z: FloatArray, spread: FloatArray, weight: FloatArray) -> FloatArray:
    """Where the mixture's cdf is Phi(z); ``spread`` has shape (k,), or (n, k) against z of shape (..., n).

    Newton's steps on the log of the tail's probability, between bounds that close in on the answer.
    """
    if spread.shape[-1] == 1:
        return np.asarray(z * spread[..., 0])
    size = np.abs(z)
    tail = ndtr(-size)
    low, high = size * spread.min(axis=-1), size * spread.max(axis=-1)
    x = np.clip(size * np.sqrt(spread**2 @ weight), low, high)
    for _ in range(_MOST_STEPS):
        standard = x[..., None] / spread
        odds = (ndtr(-standard) * weight).sum(axis=-1)
        density = (np.exp(-(standard**2) / 2) / spread * weight).sum(axis=-1) / _ROOT_TWO_PI
        low, high = np.where(odds >= tail, x, low), np.where(odds <= tail, x, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            moved = x + odds * np.log(odds / tail) / density
        moved = np.where((moved >= low) & (moved <= high), moved, (low + high) / 2)
        settled = np.all(np.abs(moved - x) <= _SETTLED * high)
        x = moved
        if settled:
            break
    return np.asarray(np.sign(z) * x)


@dataclass(frozen=True, slots=True)
class PriceDistribution:
    """Predictive distributions of n buyer-pays prices.

    Parameters
    ----------
    location : ndarray, shape (n,)
        Log of the median price.
    spread : ndarray, shape (n, k)
        Standard deviation of the log price in each component; > 0.
    weight : ndarray, shape (k,)
        Probability of each component; sums to 1.

    Notes
    -----
    All money is in the currency of the table that the estimate came from. Methods return shape (n,) unless said
    otherwise. Log units appear in this class only.
    """

    location: FloatArray
    spread: FloatArray
    weight: FloatArray

    def __post_init__(self) -> None:
        if self.location.ndim != 1 or self.spread.shape != (len(self.location), len(self.weight)):
            raise RegressionError("A price distribution needs one location and one scale for each vehicle.")
        if not np.all(self.spread > 0):
            raise RegressionError("The scale of a price distribution must be above 0 for every vehicle.")

    @classmethod
    def log_normal(cls, location: npt.ArrayLike, scale: npt.ArrayLike) -> PriceDistribution:
        """Log-normal prices.

        Parameters
        ----------
        location, scale : array_like, shape (n,)
            Mean and standard deviation of the log.
        """
        spread = np.atleast_1d(np.asarray(scale, dtype=float))[:, None]
        return cls(np.atleast_1d(np.asarray(location, dtype=float)), spread, np.ones(1))

    def __len__(self) -> int:
        return len(self.location)

    def __getitem__(self, rows: int | slice) -> PriceDistribution:
        """The distributions of some vehicles; of one, as a distribution of length one."""
        kept = [rows] if isinstance(rows, int) else rows
        return PriceDistribution(self.location[kept], self.spread[kept], self.weight)

    @property
    def scale(self) -> FloatArray:
        """Standard deviation of the log price."""
        return np.asarray(np.sqrt(self._mixed(self.spread**2)))

    def median(self) -> FloatArray:
        """Median price; the estimate."""
        return np.asarray(np.exp(self.location))

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
        return np.asarray(np.exp(self.location + self._offset(ndtri(p))))

    def interval(self, coverage: float = 0.8) -> tuple[FloatArray, FloatArray]:
        """Equal-tailed interval of the price of one such sale."""
        if not 0 < coverage < 1:
            raise RegressionError(f"A coverage must lie strictly between 0 and 1; found {coverage!r}.")
        half = self._offset(ndtri(0.5 + coverage / 2))
        return np.exp(self.location - half), np.exp(self.location + half)

    def cdf(self, price: npt.ArrayLike) -> FloatArray:
        """Probability that the price is at or below ``price`` (broadcastable against (n,))."""
        return self._mixed(ndtr(self._standard(price)))

    def odds_above(self, price: npt.ArrayLike) -> FloatArray:
        """Probability that the price is above ``price``."""
        return self._mixed(ndtr(-self._standard(price)))

    def density(self, price: npt.ArrayLike) -> FloatArray:
        """Slope of the cdf at ``price`` (broadcastable against (n,)), per unit of money; 0 at or below 0."""
        amount = np.asarray(price, dtype=float)
        heights = self._mixed(np.exp(-(self._standard(amount) ** 2) / 2) / (_ROOT_TWO_PI * self.spread))
        return np.asarray(np.divide(heights, amount, out=np.zeros_like(heights), where=amount > 0))

    def mean(self) -> FloatArray:
        """Expected price: above the median, since prices scatter by percentages."""
        return np.asarray(np.exp(self.location) * self._mixed(np.exp(self.spread**2 / 2)))

    def expected_above(self, price: npt.ArrayLike) -> FloatArray:
        """E[max(P - price, 0)]: what a seller who may refuse ``price`` expects to gain over it."""
        standard = self._standard(price)
        whole = np.exp(self.location[:, None] + self.spread**2 / 2) * ndtr(self.spread - standard)
        return np.asarray(self._mixed(whole) - np.asarray(price, dtype=float) * self._mixed(ndtr(-standard)))

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
        return np.asarray(np.exp(self.location + self._offset(z)))

    def shifted(self, factor: npt.ArrayLike) -> PriceDistribution:
        """The distribution of ``factor`` times the price; factor > 0."""
        ratio = np.asarray(factor, dtype=float)
        if not np.all(ratio > 0):
            raise RegressionError(f"A price can only be multiplied by a factor above 0; found {factor!r}.")
        return PriceDistribution(self.location + np.log(ratio), self.spread, self.weight)

    def _offset(self, z: FloatArray) -> FloatArray:
        shape = np.broadcast_shapes(z.shape, self.location.shape)
        return _offset(np.broadcast_to(z, shape), self.spread, self.weight)

    def _mixed(self, values: FloatArray) -> FloatArray:
        """Average over the components, which lie along the last axis; the same to the bit for one vehicle and many."""
        return np.asarray((values * self.weight).sum(axis=-1))

    def _standard(self, price: npt.ArrayLike) -> FloatArray:
        """Log price less the location in standard deviations of each component, shape (..., n, k)."""
        with np.errstate(divide="ignore"):
            log_price = np.log(np.maximum(np.asarray(price, dtype=float), 0.0))
        return np.asarray((log_price - self.location)[..., None] / self.spread)
