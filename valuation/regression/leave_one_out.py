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

from valuation.regression.cells import FloatArray

if TYPE_CHECKING:
    from valuation.regression.mixture import Mixture

_MOST_LEVERAGE = 1 - 1e-9
"""A sale that fixes its own estimate has leverage 1; just below it nothing is divided by nought."""


@dataclass(frozen=True)
class LeftOut:
    """Each row as the others see it.

    Attributes
    ----------
    mean : ndarray, shape (n,)
        Fitted response without the row, log units, on the scale of the responses given.
    doubt, scatter : ndarray, shape (n,)
        Standard deviations, log units: of that mean, and of a new sale around the median there.
    log_density : ndarray, shape (n,)
        Log density that the fit without the row gives the row.
    leverage : ndarray, shape (n,)
        Share of the row in its own fitted value.
    """

    mean: FloatArray
    doubt: FloatArray
    scatter: FloatArray
    log_density: FloatArray
    leverage: FloatArray

    @property
    def scale(self) -> FloatArray:
        """Standard deviation of a new sale, both parts together, shape (n,)."""
        return np.hypot(self.doubt, self.scatter)


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
    noise = np.array([part.noise for part in mixture.parts]) @ parts.share
    variance = (parts.share * (parts.variance + (parts.mean - mean) ** 2)).sum(axis=0)
    most = parts.log_density.max(axis=0)
    log_density = np.log((parts.share * np.exp(parts.log_density - most)).sum(axis=0)) + most
    return LeftOut(mean, np.sqrt(variance - noise), np.sqrt(noise), log_density, mixture.weight @ parts.leverage)


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
    """Leave each row out of each part of a mixture.

    Parameters
    ----------
    matrix, response, weight, mixture
        As for ``leave_one_out``.
    """
    n, k = len(response), len(mixture.parts)
    means, scales, densities, leverage = (np.empty((k, n)) for _ in range(4))
    for row, part in enumerate(mixture.parts):
        uncertain = np.einsum("ij,ij->i", matrix @ part.covariance, matrix)
        h = np.minimum(uncertain * weight / part.noise, _MOST_LEVERAGE)
        means[row] = response - (response - matrix @ part.mean) / (1 - h)
        around = uncertain / (1 - h)
        own = around + part.noise / weight
        scales[row] = around + part.noise
        densities[row] = -0.5 * (np.log(2 * np.pi * own) + (response - means[row]) ** 2 / own)
        leverage[row] = h
    log_share = np.log(mixture.weight)[:, None] - densities
    log_share -= log_share.max(axis=0)
    share = np.exp(log_share)
    return PartsLeftOut(means, scales, densities, leverage, share / share.sum(axis=0))
