"""Leave-one-out in closed form: each sale priced as if it had not been in the table.

For a linear smoother with leverage h_i the fit without row i misses it by r_i / (1 - h_i) (Allen 1974, *Technometrics*
16, 125-127; for penalised fits Golub, Heath and Wahba 1979, *Technometrics* 21, 215-223). For an average over several
sets of variances, the weight of each set without row i is its weight with row i divided by the density that it gave
row i: the marginal likelihood of the rest is the whole divided by that density. The result equals refitting without
row i, the weights of the sets included.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from valuation.errors import TooFewSalesError
from valuation.regression.terms import FloatArray

if TYPE_CHECKING:
    from valuation.regression.mixture import Mixture

_MOST_LEVERAGE = 1 - 1e-9


@dataclass(frozen=True)
class LeftOut:
    """Each row as the others see it.

    Attributes
    ----------
    mean : ndarray, shape (n,)
        Fitted response without the row, log units, on the scale of the responses given.
    scale : ndarray, shape (n,)
        Standard deviation of a new sale there without the row, log units.
    log_density : ndarray, shape (n,)
        Log density that the fit without the row gives the row.
    leverage : ndarray, shape (n,)
        Share of the row in its own fitted value.
    """

    mean: FloatArray
    scale: FloatArray
    log_density: FloatArray
    leverage: FloatArray


def leave_one_out(matrix: FloatArray, response: FloatArray, weight: FloatArray, mixture: Mixture) -> LeftOut:
    """Leave each row out of a fitted mixture.

    Parameters
    ----------
    matrix : ndarray, shape (n, p)
        Columns.
    response : ndarray, shape (n,)
        Responses less the prior means' part.
    weight : ndarray, shape (n,)
        Row weights w; the noise variance of row i is s^2 / w_i. A new sale is taken to have weight 1.
    mixture : Mixture
        The fit with all rows.
    """
    parts = parts_left_out(matrix, response, weight, mixture)
    mean = (parts.share * parts.mean).sum(axis=0)
    variance = (parts.share * (parts.variance + (parts.mean - mean) ** 2)).sum(axis=0)
    most = parts.log_density.max(axis=0)
    log_density = np.log((parts.share * np.exp(parts.log_density - most)).sum(axis=0)) + most
    return LeftOut(mean, np.sqrt(variance), log_density, mixture.weight @ parts.leverage)


@dataclass(frozen=True)
class PartsLeftOut:
    """Each row as the others see it, for each set of variances of a mixture; every array has shape (k, n).

    Attributes
    ----------
    mean, variance : ndarray
        Fitted response without the row, and variance of a new sale there.
    log_density : ndarray
        Log density that the fit without the row gives the row.
    leverage : ndarray
        Share of the row in its own fitted value.
    share : ndarray
        Weight of each set of variances without the row; columns sum to 1.
    """

    mean: FloatArray
    variance: FloatArray
    log_density: FloatArray
    leverage: FloatArray
    share: FloatArray


def parts_left_out(matrix: FloatArray, response: FloatArray, weight: FloatArray, mixture: Mixture) -> PartsLeftOut:
    """Leave each row out of each part of a mixture; parameters as for ``leave_one_out``."""
    n, k = len(response), len(mixture.parts)
    means, scales, densities, leverage = (np.empty((k, n)) for _ in range(4))
    for row, part in enumerate(mixture.parts):
        spread = np.einsum("ij,ij->i", matrix @ part.covariance, matrix)
        h = np.minimum(spread * weight / part.noise, _MOST_LEVERAGE)
        means[row] = response - (response - matrix @ part.mean) / (1 - h)
        around = spread / (1 - h)
        own = around + part.noise / weight
        scales[row] = around + part.noise
        densities[row] = -0.5 * (np.log(2 * np.pi * own) + (response - means[row]) ** 2 / own)
        leverage[row] = h
    log_share = np.log(mixture.weight)[:, None] - densities
    log_share -= log_share.max(axis=0)
    share = np.exp(log_share)
    return PartsLeftOut(means, scales, densities, leverage, share / share.sum(axis=0))


@dataclass(frozen=True)
class LinearLeftOut:
    """Leave-one-out of least squares or ridge with a fixed penalty.

    Attributes
    ----------
    residual : ndarray, shape (n,)
        Response less the fit without the row.
    leverage : ndarray, shape (n,)
        Diagonal of the hat matrix.
    reach : ndarray, shape (p, n)
        Column i times ``residual[i]`` is what the coefficients lose when row i is left out.
    """

    residual: FloatArray
    leverage: FloatArray
    reach: FloatArray

    @property
    def press(self) -> float:
        """Sum of squared leave-one-out residuals (Allen's PRESS)."""
        return float(self.residual @ self.residual)


def linear_leave_one_out(matrix: FloatArray, response: FloatArray, penalty: FloatArray | float = 0.0) -> LinearLeftOut:
    """Leave-one-out of a linear fit with a fixed quadratic penalty, by one QR decomposition.

    Parameters
    ----------
    matrix : ndarray, shape (n, p)
        Columns, an intercept among them where one is wanted.
    response : ndarray, shape (n,)
        Responses.
    penalty : float or ndarray, shape (p,)
        Added to the diagonal of the normal equations; 0 for least squares.
    """
    p = matrix.shape[1]
    lift = np.sqrt(np.broadcast_to(np.asarray(penalty, dtype=float), (p,)))
    stacked = np.vstack([matrix, np.diag(lift)]) if lift.any() else matrix
    q, r = np.linalg.qr(stacked)
    q = q[: len(response)]
    leverage = np.einsum("ij,ij->i", q, q)
    residual = (response - q @ (q.T @ response)) / (1 - np.minimum(leverage, _MOST_LEVERAGE))
    reach = np.linalg.solve(r, q.T)
    return LinearLeftOut(residual, leverage, reach)


def jackknife_plus(left_out: LinearLeftOut, fitted: FloatArray, new: FloatArray, coverage: float) -> FloatArray:
    """Jackknife+ bounds of Barber, Candes, Ramdas and Tibshirani (2021), *Annals of Statistics* 49, 486-507.

    Parameters
    ----------
    left_out : LinearLeftOut
        Of the n training rows.
    fitted : ndarray, shape (m,)
        Fit of all rows at the new rows.
    new : ndarray, shape (m, p)
        Columns of the new rows.
    coverage : float
        1 - alpha. The guarantee is 1 - 2 alpha; near 1 - alpha in practice.

    Returns
    -------
    ndarray, shape (m, 2)
        The floor(alpha (n + 1))-th smallest of mu_-i(x) - |R_i| and the ceil((1 - alpha)(n + 1))-th smallest of
        mu_-i(x) + |R_i|.

    Raises
    ------
    TooFewSalesError
        If so few rows leave a bound infinite.
    """
    n = len(left_out.residual)
    alpha = 1 - coverage
    high = int(np.ceil(round((1 - alpha) * (n + 1), 9)))
    low = n + 1 - high
    if high > n:
        needed = int(np.ceil(round(coverage / alpha, 9)))
        raise TooFewSalesError(
            f"Cannot give a {100 * coverage:g} % jackknife+ interval: {n} sales found, {needed} needed. "
            "Ask for less coverage or add sales."
        )
    size = np.abs(left_out.residual)
    bounds = np.empty((len(new), 2))
    for start in range(0, len(new), 256):
        rows = slice(start, start + 256)
        without = fitted[rows, None] - (new[rows] @ left_out.reach) * left_out.residual
        bounds[rows, 0] = np.partition(without - size, low - 1, axis=1)[:, low - 1]
        bounds[rows, 1] = np.partition(without + size, high - 1, axis=1)[:, high - 1]
    return bounds
