"""The Gaussian core: a linear mixed model with one variance for each block of coefficients.

    y = D b + e,   e_i ~ N(0, s^2 / w_i),   b_j ~ N(m_j, t_block(j)^2),   intercept flat.

Everything works on the p x p matrix A = D'WD, so that the cost of trying another set of variances does not grow with
the number of sales. Variances are chosen by the restricted marginal likelihood (Patterson and Thompson 1971,
*Biometrika* 58, 545-554; Harville 1977, *JASA* 72, 320-338) times a log-normal prior for each kind of block.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg.lapack import dpotrf, dpotri

from valuation.regression.cells import FloatArray

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class VariancePriors:
    """Log-normal priors of the standard deviations.

    Parameters
    ----------
    log_mean, log_sd : ndarray, shape (blocks + 1,)
        Of the log standard deviation of the noise (first) and of each block; a block whose ``log_sd`` is 0 is held.
    """

    log_mean: FloatArray
    log_sd: FloatArray


@dataclass(frozen=True, slots=True)
class Sums:
    """Sufficient statistics of weighted data with the prior means taken out.

    Attributes
    ----------
    gram : ndarray, shape (p, p)
        D'WD.
    cross : ndarray, shape (p,)
        D'W(y - Dm).
    square : float
        (y - Dm)'W(y - Dm).
    log_weight : float
        Sum of log w.
    n : int
        Rows.
    block : ndarray of int, shape (p,)
        Block of each column; -1 for the intercept.
    noise_shift : float
        Correction to the slope of -2 log likelihood in log s^2 that censored rows ask for; 0 without them.
    """

    gram: FloatArray
    cross: FloatArray
    square: float
    log_weight: float
    n: int
    block: IntArray
    noise_shift: float = 0.0


@dataclass(frozen=True, slots=True)
class Posterior:
    """Coefficients given the variances.

    Attributes
    ----------
    mean : ndarray, shape (p,)
        Deviation of the coefficients from their prior means.
    covariance : ndarray, shape (p, p)
        Posterior covariance.
    noise : float
        s^2, log units squared.
    """

    mean: FloatArray
    covariance: FloatArray
    noise: float


def solve(sums: Sums, log_sd: FloatArray) -> tuple[float, FloatArray, Posterior]:
    """-2 log restricted likelihood (up to a constant), its gradient in the log standard deviations, the posterior.

    Parameters
    ----------
    sums : Sums
        The data.
    log_sd : ndarray, shape (blocks + 1,)
        Log standard deviation of the noise, then of each block.
    """
    noise = float(np.exp(2 * log_sd[0]))
    precision = np.where(sums.block >= 0, np.exp(-2 * log_sd[1:])[np.maximum(sums.block, 0)], 0.0)
    h = sums.gram / noise
    places = np.arange(len(h))
    h[places, places] += precision
    # A symmetric matrix is its own transpose: in that layout LAPACK works in place.
    factor, info = dpotrf(h.T, lower=1, clean=1)
    if info != 0:
        h[places, places] += 1e-10 * h.diagonal().max()
        factor, info = dpotrf(h.T, lower=1, clean=1)
    log_root = np.log(factor.diagonal()).sum()
    inverse, _ = dpotri(factor, lower=1, overwrite_c=1)
    covariance = inverse + inverse.T
    covariance[places, places] = inverse.diagonal()
    mean = covariance @ sums.cross / noise
    penalised = sums.block >= 0
    log_det = 2 * log_root - np.log(precision[penalised]).sum()
    value = (
        sums.n * np.log(noise)
        - sums.log_weight
        + log_det
        + sums.square / noise
        - mean @ sums.cross / noise
        + sums.noise_shift * np.log(noise)
    )
    residual_square = sums.square - 2 * mean @ sums.cross + mean @ sums.gram @ mean
    used = float(np.vdot(covariance, sums.gram)) / noise
    gradient = np.empty_like(log_sd)
    gradient[0] = 2 * (sums.n + sums.noise_shift - used - residual_square / noise)
    blocks = len(log_sd) - 1
    spent = precision * (covariance.diagonal() + mean**2)
    where = sums.block[penalised]
    counts = np.bincount(where, minlength=blocks)
    gradient[1:] = 2 * (counts - np.bincount(where, weights=spent[penalised], minlength=blocks))
    return float(value), gradient, Posterior(mean, covariance, noise)


def objective(sums: Sums, priors: VariancePriors) -> Callable[[FloatArray], tuple[float, FloatArray]]:
    """-log posterior density of the log standard deviations and its gradient, as a function of the free ones.

    Parameters
    ----------
    sums : Sums
        The data.
    priors : VariancePriors
        Of the standard deviations.
    """
    free = priors.log_sd > 0

    def minus_log_posterior(x: FloatArray) -> tuple[float, FloatArray]:
        log_sd = priors.log_mean.copy()
        log_sd[free] = x
        value, gradient, _ = solve(sums, log_sd)
        off = (x - priors.log_mean[free]) / priors.log_sd[free]
        return 0.5 * value + 0.5 * float(off @ off), 0.5 * gradient[free] + off / priors.log_sd[free]

    return minus_log_posterior


def choose_variances(sums: Sums, priors: VariancePriors, start: FloatArray | None = None) -> tuple[FloatArray, float]:
    """The most probable log standard deviations and -log posterior density there.

    Parameters
    ----------
    sums : Sums
        The data.
    priors : VariancePriors
        Of the standard deviations.
    start : ndarray, shape (blocks + 1,), optional
        Log standard deviations to begin from; the prior means unless given.

    Returns
    -------
    ndarray, shape (blocks + 1,)
        Log standard deviations.
    float
        -log posterior density.
    """
    from scipy.optimize import minimize

    free = priors.log_sd > 0
    x0 = (priors.log_mean if start is None else start)[free]
    bounds = [(m - 6 * s - 2, m + 6 * s + 2) for m, s in zip(priors.log_mean[free], priors.log_sd[free], strict=True)]
    found = minimize(
        objective(sums, priors),
        x0,
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": 200, "ftol": 1e-10, "gtol": 1e-6},
    )
    log_sd = priors.log_mean.copy()
    log_sd[free] = found.x
    return log_sd, float(found.fun)
