"""Heavy tails: weights that keep one wild auction from moving the rest.

Student-t errors as a normal with a scale of its own for each sale (Lange, Little and Taylor 1989, *JASA* 84, 881-896):
a sale far from the fit gets the weight (nu + 1) / (nu + squared error). Used only where leave-one-out says that it
describes the table better.
"""

from __future__ import annotations

import numpy as np
from scipy.special import gammaln

from valuation.regression.terms import FloatArray


def tail_weights(squared_error: FloatArray, noise: float, freedom: float) -> FloatArray:
    """Weight of each sale.

    Parameters
    ----------
    squared_error : ndarray, shape (n,)
        Expected squared error of each sale around the fit, log units squared.
    noise : float
        Squared scale of the t distribution.
    freedom : float
        Degrees of freedom nu.
    """
    return np.asarray((freedom + 1) / (freedom + squared_error / noise))


def log_density(standard: FloatArray, freedom: float | None) -> FloatArray:
    """Log density of standardised errors: Student's t, or the normal where ``freedom`` is None."""
    if freedom is None:
        return np.asarray(-0.5 * (standard**2 + np.log(2 * np.pi)))
    constant = gammaln((freedom + 1) / 2) - gammaln(freedom / 2) - 0.5 * np.log(freedom * np.pi)
    return np.asarray(constant - (freedom + 1) / 2 * np.log1p(standard**2 / freedom))
