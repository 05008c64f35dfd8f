"""Censored (one-sided) sales: a bid that was not met says "at least this", an asking price "at most this".

Each such row enters by its likelihood, P(low < log price < high), normal around the fit. Around the present fit that is
replaced by the normal observation with the same slope and curvature (a Newton step, as in iteratively re-weighted least
squares), so the Gaussian core serves unchanged; at the end of the iteration slope and curvature are exact. Sources:
Tobin 1958, *Econometrica* 26, 24-36; Amemiya 1984, *Journal of Econometrics* 24, 3-61.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr

from valuation.regression.cells import FloatArray

_LEAST_CURVATURE = 1e-10
"""Keeps a row that says next to nothing from dividing by nought."""
_HALF_LOG_TWO_PI = 0.5 * np.log(2 * np.pi)


@dataclass(frozen=True, slots=True)
class PseudoObservations:
    """Normal observations that stand for censored rows near the present fit.

    Attributes
    ----------
    response : ndarray, shape (m,)
        Where the pseudo-observation lies, log units.
    weight : ndarray, shape (m,)
        Its weight: noise variance s^2 / weight; at most 1.
    noise_shift : float
        What to add to the slope of -2 log likelihood in log s^2 so that the noise is the likelihood's own.
    log_likelihood : float
        Sum of the rows' log probabilities.
    """

    response: FloatArray
    weight: FloatArray
    noise_shift: float
    log_likelihood: float


def pseudo_observations(
    low: FloatArray, high: FloatArray, fitted: FloatArray, noise_sd: FloatArray | float
) -> PseudoObservations:
    """Pseudo-observations for rows known to lie between two bounds.

    All arrays have shape (m,); ``noise_sd``, the scatter of each row, may be one number for all.

    Parameters
    ----------
    low, high : ndarray, shape (m,)
        Bounds of the log price; infinite on an open side.
    fitted : ndarray, shape (m,)
        Present fit, log units.
    noise_sd : float or ndarray, shape (m,)
        Scatter of each row, log units; > 0.
    """
    a = (low - fitted) / noise_sd
    b = (high - fitted) / noise_sd
    log_probability = _log_probability(a, b)
    at_low = np.exp(_log_density(a) - log_probability)
    at_high = np.exp(_log_density(b) - log_probability)
    slope = at_low - at_high
    a_part = np.where(np.isfinite(a), np.where(np.isfinite(a), a, 0.0) * at_low, 0.0)
    b_part = np.where(np.isfinite(b), np.where(np.isfinite(b), b, 0.0) * at_high, 0.0)
    curvature = np.clip(slope**2 - a_part + b_part, _LEAST_CURVATURE, 1.0)
    response = fitted + noise_sd * slope / curvature
    noise_slope = a_part - b_part
    shift = float((-noise_slope - 1 + slope**2 / curvature).sum())
    return PseudoObservations(response, curvature, shift, float(log_probability.sum()))


def _log_density(x: FloatArray) -> FloatArray:
    """Log of the standard normal density; -inf at infinity."""
    return np.asarray(-0.5 * x**2 - _HALF_LOG_TWO_PI)


def _log_probability(a: FloatArray, b: FloatArray) -> FloatArray:
    """Log of Phi(b) - Phi(a), in the tail where digits survive."""
    flip = a + b > 0
    lower = np.where(flip, -b, a)
    upper = np.where(flip, -a, b)
    top, bottom = log_ndtr(upper), log_ndtr(lower)
    with np.errstate(divide="ignore"):
        return np.asarray(top + np.log1p(-np.exp(np.minimum(bottom - top, -1e-300))))
