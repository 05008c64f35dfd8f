"""Uneven scatter: rough vehicles may scatter more than finished ones, expensive ones less than cheap, or the other way.

The log of one sale's scatter is a straight line in the estimate and in the place on each ordered scale, learned from
left-out sales by a penalised Student-t likelihood (Lange, Little and Taylor 1989, *JASA* 84, 881-896, with a modelled
scale). Each slope is shrunk towards none and held level outside the middle of the table, so that it can widen or narrow
an interval by a bounded factor only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from valuation.regression.cells import FloatArray
from valuation.regression.terms import Encoded

SLOPE_WIDTH, PLACE_WIDTH = 0.2, 0.3
"""Prior standard deviations of a slope: log scatter per standard deviation of the estimates, of places on a scale."""

_NU = 4.0
"""Degrees of freedom of the t distribution of the errors: few, so that a wild sale does not set a slope."""

_LIMIT = 1.75
"""Standard deviations past which the factor stays as it is: the middle 92 % of a normal table. At slopes of one prior
standard deviation, scatter then changes by at most exp((0.2 + 0.3) x 1.75) = 2.4 either way for one ordered scale."""

_ROUNDS = 20
"""Of Fisher scoring, all of them each time: every table gets the same number of steps."""


@dataclass(frozen=True, slots=True)
class Heteroscedasticity:
    """Factor of one sale's scatter as a function of the log price estimated and of ordered attributes.

    Attributes
    ----------
    slope : float
        Change of the log scatter over one ``width`` of the estimate.
    centre, width : float
        Mean and standard deviation of the estimates in the table, log units, as the core counts them.
    by_attribute : mapping of str to float
        Change of the log scatter over one standard deviation of the place on each ordered scale.
    level : float
        Log of the factor in the middle of the table, such that the factor's mean square over the table is 1.
    """

    slope: float
    centre: float
    width: float
    by_attribute: Mapping[str, float] = field(default_factory=dict)
    level: float = 0.0

    def factor(self, estimate: FloatArray, encoded: Mapping[str, Encoded]) -> FloatArray:
        """What to multiply the standard deviation of one sale by, shape (m,).

        Parameters
        ----------
        estimate : ndarray, shape (m,)
            Log price, as the core counts it.
        encoded : mapping of str to Encoded
            The same rows by attribute.
        """
        line = self.level + self.slope * _bounded((estimate - self.centre) / self.width)
        for name, slope in self.by_attribute.items():
            line = line + slope * _bounded(encoded[name].coordinates[:, 0])
        return np.asarray(np.exp(line))


HOMOSCEDASTIC = Heteroscedasticity(0.0, 0.0, 1.0)
"""The scatter is the same everywhere: no centre, no slope."""


def learn_heteroscedasticity(
    errors: FloatArray, doubt: FloatArray, scatter: float, estimates: FloatArray, places: Mapping[str, FloatArray]
) -> Heteroscedasticity:
    """Slopes from left-out sales.

    Parameters
    ----------
    errors, estimates : ndarray, shape (n,)
        Log price less the estimate made without the sale, and that estimate.
    doubt : ndarray, shape (n,)
        Standard deviation of what is not known of the median.
    scatter : float
        Standard deviation of one sale around it, on average.
    places : mapping of str to ndarray, shape (n,)
        Standardised places on the ordered scales.
    """
    centre, width = (float(estimates.mean()), float(estimates.std())) if len(estimates) else (0.0, 0.0)
    if not width > 1e-9 or not np.abs(errors).mean() > 0:
        return HOMOSCEDASTIC
    lines = [np.ones(len(errors)), _bounded((estimates - centre) / width), *map(_bounded, places.values())]
    slopes, level = _fit(errors, doubt, scatter, np.column_stack(lines))
    return Heteroscedasticity(slopes[0], centre, width, dict(zip(places, slopes[1:], strict=True)), level)


def _fit(errors: FloatArray, doubt: FloatArray, scatter: float, lines: FloatArray) -> tuple[list[float], float]:
    """Slopes of all lines but the first, which is constant, by Fisher scoring; and the level that goes with them."""
    penalty = np.full(lines.shape[1], PLACE_WIDTH**-2)
    penalty[:2] = 0.0, SLOPE_WIDTH**-2
    found = np.zeros(lines.shape[1])
    for _ in range(_ROUNDS):
        own = (scatter * np.exp(np.clip(lines @ found, -5, 5))) ** 2
        total = own + doubt**2
        square = np.minimum(errors**2 / total, 1e6)
        felt = lines * (own / total)[:, None]
        slope = felt.T @ ((_NU + 1) * square / (_NU + square) - 1) - penalty * found
        # The information of a t distribution on its log scale is 2 nu / (nu + 3).
        curvature = 2 * _NU / (_NU + 3) * felt.T @ felt + np.diag(penalty + 1e-3)
        found = found + np.linalg.solve(curvature, slope)
    level = -0.5 * np.log(np.exp(2 * lines[:, 1:] @ found[1:]).mean())
    return found[1:].tolist(), float(level)


def _bounded(place: FloatArray) -> FloatArray:
    return np.clip(place, -_LIMIT, _LIMIT)
