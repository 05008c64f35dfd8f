"""Least squares with the penalties off, by Householder QR of the columns brought to equal length.

Normal equations square the condition number and lose half the digits; QR on scaled columns keeps them (Longley 1967,
*JASA* 62, 819-841; Golub and Van Loan, *Matrix Computations*, ch. 5). Columns that say nothing new are named, not
silently dropped.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from valuation.errors import RegressionError
from valuation.regression.terms import FloatArray

_RANK_TOLERANCE = 1e-14


@dataclass(frozen=True, slots=True)
class LeastSquares:
    """A least-squares fit.

    Attributes
    ----------
    coefficients : ndarray, shape (p,)
        Estimates.
    covariance : ndarray, shape (p, p)
        s^2 (X'X)^-1; zero when there are no degrees of freedom left.
    noise : float
        s^2 = residual sum of squares / (n - p).
    freedom : int
        n - p.
    """

    coefficients: FloatArray
    covariance: FloatArray
    noise: float
    freedom: int


def least_squares(matrix: FloatArray, response: FloatArray) -> LeastSquares:
    """Fit by QR.

    Parameters
    ----------
    matrix : ndarray, shape (n, p)
        Columns, an intercept among them where one is wanted; n >= p.
    response : ndarray, shape (n,)
        Responses.

    Raises
    ------
    RegressionError
        If there are fewer rows than columns or the columns are not independent; names the places of the columns.
    """
    n, p = matrix.shape
    if n < p:
        raise RegressionError(
            f"Cannot fit {p} coefficients without penalties to {n} sales. Leave the penalties on or add sales."
        )
    length = np.sqrt((matrix**2).sum(axis=0))
    if not np.all(length > 0):
        empty = np.flatnonzero(length == 0).tolist()
        raise RegressionError(f"Cannot fit without penalties: the columns at {empty} are all zero. Leave them out.")
    q, r = np.linalg.qr(matrix / length)
    pivot = np.abs(np.diag(r))
    weak = np.flatnonzero(pivot < _RANK_TOLERANCE * pivot.max() * max(n, p))
    if len(weak):
        raise RegressionError(
            f"Cannot fit without penalties: the columns at {weak.tolist()} repeat the others. "
            "Leave the penalties on or leave those columns out."
        )
    scaled = np.linalg.solve(r, q.T @ response)
    # One step of iterative refinement recovers the digits that the right-hand side lost.
    scaled = scaled + np.linalg.solve(r, q.T @ (response - (matrix / length) @ scaled))
    coefficients = scaled / length
    freedom = n - p
    residual = response - matrix @ coefficients
    noise = float(residual @ residual) / freedom if freedom else 0.0
    inverse = np.linalg.inv(r) / length[:, None]
    return LeastSquares(coefficients, noise * (inverse @ inverse.T), noise, freedom)
