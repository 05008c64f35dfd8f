"""The shape of the error: leave-one-out scores shrunk towards Student's t.

A score is a sale's leave-one-out error over the spread that the fit without it claimed. Were the model right, scores
would follow a t distribution; the table's own scores correct that, the more the more sales there are. Their order
statistics are taken as conformal prediction takes them (the k-th smallest of n stands for probability k / (n + 1);
Vovk, Gammerman and Shafer 2005; Barber et al. 2021), on absolute scores, so both sides lend each other strength.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri, stdtrit

from valuation.regression.cells import FloatArray
from valuation.regression.distribution import ScoreCurve

OWN_SHAPE_SALES = 80.0
"""Sales at which the table's own scores and the t distribution count alike; chosen on the work tables, see
benchmarks/accuracy/TRIED.md."""

OPTIMISM = 1.2
"""Own scores are raised by this over the root of the number of sales: the variances were chosen with the sale left out
still among the others, which makes scores a little too small (about a point of coverage on the development tables)."""

_COVERAGES = np.array([0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.98, 0.99, 0.998])
_LEAST_DEGREES_OF_FREEDOM = 4.0
"""Fewer would give a t distribution whose fourth moment does not exist."""


def learn_curve(scores: FloatArray, degrees_of_freedom: float, own_sales: float = OWN_SHAPE_SALES) -> ScoreCurve:
    """Score curve of a fit.

    Parameters
    ----------
    scores : ndarray, shape (n,)
        Standardised leave-one-out errors of the sold rows; may be empty, then the t distribution stands alone.
    degrees_of_freedom : float
        Degrees of freedom of the t distribution that they are shrunk towards.
    own_sales : float
        Sales at which both count alike; infinity leaves the t distribution alone.
    """
    student = np.asarray(stdtrit(max(degrees_of_freedom, _LEAST_DEGREES_OF_FREEDOM), 0.5 + _COVERAGES / 2), dtype=float)
    half = student
    n = len(scores)
    if n and np.isfinite(own_sales):
        own = _conformal_quantiles(np.abs(scores), _COVERAGES, student)
        own = own * (1 + OPTIMISM / np.sqrt(n))
        share = n / (n + own_sales)
        half = (1 - share) * student + share * own
    half = np.asarray(np.maximum.accumulate(half) + 1e-6 * np.arange(1, len(half) + 1), dtype=float)
    z = ndtri(0.5 + _COVERAGES / 2)
    return ScoreCurve(np.concatenate([-z[::-1], [0.0], z]), np.concatenate([-half[::-1], [0.0], half]))


def _conformal_quantiles(size: FloatArray, coverages: FloatArray, student: FloatArray) -> FloatArray:
    """Quantiles of absolute scores at k / (n + 1); past the largest, t quantiles raised to meet it."""
    ordered = np.sort(size)
    n = len(ordered)
    levels = np.arange(1, n + 1) / (n + 1)
    own = np.interp(coverages, np.concatenate([[0.0], levels]), np.concatenate([[0.0], ordered]))
    past = coverages > levels[-1]
    if past.any():
        at_end = np.interp(levels[-1], coverages, student)
        own[past] = student[past] * max(ordered[-1] / at_end, 1e-3)
    return np.asarray(own)
