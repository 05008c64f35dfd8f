"""Two humps: whether the misses of a fit fall into two groups, as where something that parts the sales is unknown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import TooFewSalesError

Array = npt.NDArray[np.float64]

LEAST_BIC_GAIN, LEAST_SEPARATION, LEAST_SHARE, LEAST_DIP = 6.0, 2.0, 0.1, 0.3
"""What `humps` asks of two groups. The first two are the sources' (Kass and Raftery 1995; Ashman, Bird and Zepf 1994);
the others keep heavy tails and plain skewness from being taken for humps, see the notes of `humps`."""

VARIANCE_FLOOR = 0.01
"""Added to each variance of the mixture (in units of the whole variance), so that no hump shrinks onto one sale."""


@dataclass(frozen=True, slots=True)
class Humps:
    """One normal against a mixture of two for the log residuals.

    Attributes
    ----------
    two : bool
        Whether the residuals fall into two humps by all four criteria of `humps`.
    bic_gain : float
        BIC of one normal less BIC of two; above 6 is strong evidence for two.
    centres, shares : tuple of float
        Centre of each hump as a log residual, lower first, and the share of the sales in it.
    """

    two: bool
    bic_gain: float
    centres: tuple[float, float]
    shares: tuple[float, float]


def humps(residuals: npt.ArrayLike) -> Humps:
    """Whether the residuals fall into two humps.

    Parameters
    ----------
    residuals : array_like of float, shape (n_sales,)
        Log residuals, not all equal; at least 3.

    Returns
    -------
    Humps
        ``two`` when a mixture of two normals gains more than 6 in BIC over one normal, its means lie more than 2 apart
        by Ashman's D, each hump holds more than a tenth of the sales, and the density dips by more than 0.3 between
        them. The last two keep heavy tails and plain skewness from being taken for humps: in simulation with 30, 60
        and 200 residuals two humps were seen in at most 1 % of normal, t(3) and Laplace samples and 4 % of gamma(3)
        samples; two equal humps 4 standard deviations apart were found in 40, 76 and 100 % of cases.

    References
    ----------
    .. [1] K. M. Ashman, C. M. Bird and S. E. Zepf (1994), "Detecting bimodality in astronomical datasets",
       Astronomical Journal 108, 2348-2361 (D > 2).
    .. [2] R. E. Kass and A. E. Raftery (1995), "Bayes factors", Journal of the American Statistical Association 90,
       773-795 (a BIC difference of 6 to 10 is strong).
    """
    residual = np.sort(np.asarray(residuals, dtype=float).ravel())
    if residual.size < 3 or np.ptp(residual) <= 1e-12:
        raise TooFewSalesError(
            f"Cannot look at the shape of the misses: {residual.size} found, all equal or fewer than 3. "
            "At least 3 that differ are needed. Add sales."
        )
    centre, scale = float(residual.mean()), float(residual.std())
    z = (residual - centre) / scale
    n = z.size
    weights, means, variances, log_likelihood = two_normals(z)
    one = -0.5 * n * (np.log(2 * np.pi * (1 + VARIANCE_FLOOR)) + 1 / (1 + VARIANCE_FLOOR))
    gain = 2 * (log_likelihood - one) - 3 * np.log(n)  # two more means and variances, and a share: 3 parameters
    separation = np.sqrt(2) * abs(means[1] - means[0]) / np.sqrt(variances.sum())
    low, high = np.argsort(means)
    return Humps(
        two=bool(
            gain > LEAST_BIC_GAIN
            and separation > LEAST_SEPARATION
            and weights.min() > LEAST_SHARE
            and _dip(weights, means, variances) > LEAST_DIP
        ),
        bic_gain=float(gain),
        centres=(float(centre + scale * means[low]), float(centre + scale * means[high])),
        shares=(float(weights[low]), float(weights[high])),
    )


def two_normals(ordered: Array, steps: int = 300) -> tuple[Array, Array, Array, float]:
    """Mixture of two normals for standardised, sorted values, by expectation-maximisation.

    Parameters
    ----------
    ordered : ndarray of float, shape (n,)
        Mean 0, standard deviation 1, rising. Being sorted, the answer cannot depend on the order of the sales.
    steps : int
        Most iterations.

    Returns
    -------
    weights, means, variances : ndarray of float, shape (2,)
    log_likelihood : float
    """
    n = ordered.size
    # Start from the cut that parts the values into the two most compact groups.
    below, count = np.cumsum(ordered)[:-1], np.arange(1, n)
    cut = 1 + int(np.argmax(below**2 / count + (ordered.sum() - below) ** 2 / (n - count)))
    share = (np.arange(n) < cut).astype(float)
    previous = -np.inf
    for _ in range(steps):
        member = np.stack([share, 1 - share])
        mass = np.maximum(member.sum(axis=1), 1e-300)
        weights, means = mass / n, member @ ordered / mass
        variances = (member * (ordered - means[:, None]) ** 2).sum(axis=1) / mass + VARIANCE_FLOOR
        densities = _densities(ordered, weights, means, variances)
        total = densities.sum(axis=0)
        log_likelihood = float(np.log(total).sum())
        share = densities[0] / total
        if abs(log_likelihood - previous) < 1e-7 * n:  # the floor can make a step fall, so either way
            break
        previous = log_likelihood
    return weights, means, variances, log_likelihood


def _densities(at: Array, weights: Array, means: Array, variances: Array) -> Array:
    scaled = (at - means[:, None]) ** 2 / variances[:, None]
    return np.asarray(weights[:, None] * np.exp(-scaled / 2) / np.sqrt(2 * np.pi * variances[:, None]))


def _dip(weights: Array, means: Array, variances: Array) -> float:
    """Depth of the valley between the two means, as a share of the lower top."""
    grid = np.linspace(means.min(), means.max(), 201)
    density = _densities(grid, weights, means, variances).sum(axis=0)
    valley = int(np.argmin(density))
    return float(1 - density[valley] / min(density[: valley + 1].max(), density[valley:].max()))
