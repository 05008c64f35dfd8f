"""Heavy tails: weights that keep one wild auction from moving the rest.

Student-t errors as a normal with a scale of its own for each sale (Lange, Little and Taylor 1989, *JASA* 84, 881-896):
a sale far from the fit gets the weight (nu + 1) / (nu + squared error). Used only where leave-one-out says that it
describes the table better.
"""

from __future__ import annotations

import numpy as np
from scipy.special import gammaln

from valuation.regression.cells import FloatArray


def tail_weights(squared_error: FloatArray, noise: float, degrees_of_freedom: float) -> FloatArray:
    """Weight of each sale.

    Parameters
    ----------
    squared_error : ndarray, shape (n,)
        Expected squared error of each sale around the fit, log units squared.
    noise : float
        Squared scale of the t distribution.
    degrees_of_freedom : float
        Degrees of freedom nu.
    """
    return np.asarray((degrees_of_freedom + 1) / (degrees_of_freedom + squared_error / noise))


def log_density(standard: FloatArray, degrees_of_freedom: float | None) -> FloatArray:
    """Log density of standardised errors: Student's t, or the normal where ``degrees_of_freedom`` is None.

    Parameters
    ----------
    standard : ndarray, shape (n,)
        Errors over their scale.
    degrees_of_freedom : float or None
        Of Student's t.
    """
    if degrees_of_freedom is None:
        return np.asarray(-0.5 * (standard**2 + np.log(2 * np.pi)))
    nu = degrees_of_freedom
    constant = gammaln((nu + 1) / 2) - gammaln(nu / 2) - 0.5 * np.log(nu * np.pi)
    return np.asarray(constant - (nu + 1) / 2 * np.log1p(standard**2 / nu))
