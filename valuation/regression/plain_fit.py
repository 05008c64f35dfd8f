"""The textbook fit: penalties off, straight lines, one column for each level but the first.

For tables of many sales whose owner wants the plain regression, and for holding the core against published figures.
Sold rows alone give least squares and its t interval; one-sided rows give the maximum of the likelihood of Tobin 1958.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from valuation.errors import RegressionError
from valuation.regression.leastsquares import LeastSquares, least_squares
from valuation.regression.onesided import normal_sites
from valuation.regression.terms import FloatArray

_ROUNDS = 500
_SETTLED = 1e-11


def fit_plain(matrix: FloatArray, low: FloatArray, high: FloatArray) -> tuple[LeastSquares, float]:
    """Fit without penalties.

    Parameters
    ----------
    matrix : ndarray, shape (n, p)
        Columns, an intercept among them where one is wanted.
    low, high : ndarray, shape (n,)
        Responses; equal where exact, infinite on an open side.

    Returns
    -------
    LeastSquares
        Estimates, their covariance and the noise variance: s^2 for exact rows alone, the maximum-likelihood noise
        and the inverse of the expected curvature otherwise.
    float
        Log likelihood at the estimates (normal density for exact rows, log probability for the others).

    Raises
    ------
    RegressionError
        If the columns are not independent on the rows, or the likelihood has no maximum within reach.
    """
    exact = low == high
    start = least_squares(matrix[exact], low[exact])
    if exact.all():
        n = len(low)
        residual = low - matrix @ start.coefficients
        ml_noise = float(residual @ residual) / n
        log_likelihood = -0.5 * n * (np.log(2 * np.pi * ml_noise) + 1) if ml_noise > 0 else np.inf
        return start, float(log_likelihood)
    return _censored(matrix, low, high, exact, start)


def _censored(
    matrix: FloatArray, low: FloatArray, high: FloatArray, exact: npt.NDArray[np.bool_], start: LeastSquares
) -> tuple[LeastSquares, float]:
    """Newton steps for the coefficients, moment steps for the noise, until neither moves."""
    coefficients = start.coefficients
    noise = max(start.noise, 1e-12)
    n = len(low)
    response, weight = low.copy(), np.ones(n)
    for _ in range(_ROUNDS):
        fitted = matrix @ coefficients
        sites = normal_sites(low[~exact], high[~exact], fitted[~exact], float(np.sqrt(noise)))
        response[~exact], weight[~exact] = sites.response, sites.weight
        root = np.sqrt(weight)
        step = least_squares(matrix * root[:, None], response * root)
        squares = weight * (response - fitted) ** 2
        moved = float(squares.sum()) / (n + sites.noise_shift)
        change = max(float(np.max(np.abs(matrix @ (step.coefficients - coefficients)))), abs(moved / noise - 1))
        coefficients, noise = step.coefficients, moved
        if change < _SETTLED:
            break
    else:
        raise RegressionError(
            "Cannot fit the one-sided sales without penalties: the likelihood did not settle. "
            "Leave the penalties on, or leave out the columns that the one-sided rows alone decide."
        )
    fitted = matrix @ coefficients
    sites = normal_sites(low[~exact], high[~exact], fitted[~exact], float(np.sqrt(noise)))
    residual = low[exact] - fitted[exact]
    log_likelihood = sites.log_likelihood - 0.5 * float((np.log(2 * np.pi * noise) + residual**2 / noise).sum())
    weight[~exact] = sites.weight
    curvature = (matrix * weight[:, None]).T @ matrix / noise
    fit = LeastSquares(coefficients, np.asarray(np.linalg.inv(curvature), dtype=np.float64), noise, n - matrix.shape[1])
    return fit, log_likelihood
