"""Uneven scatter: expensive vehicles may sell closer to their estimate, in percent, than cheap ones, or the other way.

The log of one sale's scatter is a straight line in the estimate, learned from the leave-one-out scores by a penalised
Student-t likelihood (Lange, Little and Taylor 1989, *JASA* 84, 881-896, with a modelled scale), shrunk towards no slope
and held level outside the middle of the table, so that it can widen or narrow an interval by a bounded factor only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from valuation.regression.cells import FloatArray

SLOPE_WIDTH = 0.2
"""Prior standard deviation of the slope, in log scatter per standard deviation of the estimates; chosen on the work
tables, see benchmarks/accuracy/TRIED.md."""

_NU = 4.0
"""Degrees of freedom of the t distribution of the scores: few, so that a wild sale does not set the slope."""

_LIMIT = 1.75
"""Standard deviations of the estimates past which the factor stays as it is: the middle 92 % of a normal table. At a
slope of one prior standard deviation, scatter then changes by at most exp(0.2 x 1.75) = 1.42 either way."""

_ROUNDS = 20


@dataclass(frozen=True, slots=True)
class Heteroscedasticity:
    """Factor of one sale's scatter as a function of the log price estimated.

    Attributes
    ----------
    slope : float
        Change of the log scatter over one ``width`` of the estimate.
    centre, width : float
        Mean and standard deviation of the estimates in the table, log units, as the core counts them.
    """

    slope: float
    centre: float
    width: float

    def factor(self, estimate: FloatArray) -> FloatArray:
        """What to multiply the standard deviation of one sale by, shape of ``estimate``."""
        return np.asarray(np.exp(self.slope * np.clip((estimate - self.centre) / self.width, -_LIMIT, _LIMIT)))


HOMOSCEDASTIC = Heteroscedasticity(0.0, 0.0, 1.0)


def learn_heteroscedasticity(scores: FloatArray, estimates: FloatArray) -> Heteroscedasticity:
    """Learn how scatter changes with the estimate.

    Parameters
    ----------
    scores : ndarray, shape (n,)
        Standardised leave-one-out errors.
    estimates : ndarray, shape (n,)
        Log medians made without the sale.
    """
    centre, width = (float(estimates.mean()), float(estimates.std())) if len(estimates) else (0.0, 0.0)
    size = np.abs(scores)
    if not width > 1e-9 or not size.mean() > 0:
        return HOMOSCEDASTIC
    place = np.clip((estimates - centre) / width, -_LIMIT, _LIMIT)
    lines = np.column_stack([np.ones_like(place), place])
    penalty = np.diag([0.0, SLOPE_WIDTH**-2])
    # Fisher scoring: the information of a t distribution on its log scale is 2 nu / (nu + 3).
    curvature = 2 * _NU / (_NU + 3) * lines.T @ lines + penalty
    line = np.array([np.log(size.mean()), 0.0])
    for _ in range(_ROUNDS):
        square = np.minimum((size * np.exp(-lines @ line)) ** 2, 1e6)
        slope = lines.T @ ((_NU + 1) * square / (_NU + square) - 1) - penalty @ line
        line = line + np.linalg.solve(curvature, slope)
    return Heteroscedasticity(float(line[1]), centre, width)
