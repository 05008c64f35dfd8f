"""What the residuals of a log-price regression show: spread that changes with the price, tails, two humps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError, TooFewSalesError

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SpreadTest:
    """A test of equal spread: Lagrange multiplier and F form, each with its probability under equal spread."""

    statistic: float
    probability: float
    f: float
    f_probability: float


@dataclass(frozen=True, slots=True)
class Tails:
    """Shape of the residuals.

    Attributes
    ----------
    skewness, excess_kurtosis : float
        0 for a normal distribution; a positive kurtosis means more sales far out than a normal would have.
    jarque_bera, probability : float
        Statistic of normality and its probability under normality (large samples; at 20 sales it is cautious).
    """

    skewness: float
    excess_kurtosis: float
    jarque_bera: float
    probability: float


@dataclass(frozen=True, slots=True)
class Humps:
    """One normal against a mixture of two for the log residuals.

    Attributes
    ----------
    two : bool
        Whether the residuals fall into two humps by all four criteria of `humps`.
    bic_gain : float
        BIC of one normal less BIC of two; above 6 is strong evidence for two.
    separation : float
        Ashman's D: distance of the means over their root mean square spread; above 2 is a clean separation.
    dip : float
        How far the mixed density falls between its two tops, as a share of the lower top; 0 when it does not.
    centres, shares : tuple of float
        Centre of each hump as a log residual, lower first, and the share of the sales in it.
    """

    two: bool
    bic_gain: float
    separation: float
    dip: float
    centres: tuple[float, float]
    shares: tuple[float, float]


def breusch_pagan(residuals: npt.ArrayLike, explanatory: npt.ArrayLike) -> SpreadTest:
    """Breusch-Pagan test of whether the squared residuals depend on the explanatory columns.

    Parameters
    ----------
    residuals : array_like of float, shape (n_sales,)
        Log residuals.
    explanatory : array_like of float, shape (n_sales,) or (n_sales, n_columns)
        Without an intercept: the design, or the fitted log price alone.

    Returns
    -------
    SpreadTest
        In Koenker's form (n times R2), which does not lean on normality.

    Raises
    ------
    TooFewSalesError
        If there are no more sales than coefficients.
    EvidenceError
        If lengths differ, a cell is not finite, or a column does not vary.

    References
    ----------
    .. [1] T. S. Breusch and A. R. Pagan (1979), Econometrica 47, 1287-1294; R. Koenker (1981), Journal of
       Econometrics 17, 107-112.
    """
    from statsmodels.stats.diagnostic import het_breuschpagan  # type: ignore[import-untyped]

    residual = _vector(residuals)
    columns = np.asarray(explanatory, dtype=float)
    columns = columns[:, None] if columns.ndim == 1 else columns
    if columns.shape[0] != residual.size:
        raise EvidenceError(
            f"Cannot test whether the spread is even: {residual.size} residuals and {columns.shape[0]} rows found. One "
            "row for each residual is needed. Check that both come from the same sales."
        )
    if not np.isfinite(columns).all() or (np.ptp(columns, axis=0) == 0).any():
        raise EvidenceError(
            "Cannot test whether the spread is even: an explanatory column is constant or not finite. Every column "
            "must vary. Leave out constant columns."
        )
    if len(residual) < columns.shape[1] + 2:
        raise TooFewSalesError(
            f"Cannot test whether the spread is even: {len(residual)} sales found, {columns.shape[1] + 2} needed for "
            f"{columns.shape[1]} columns. Test against the fitted price alone."
        )
    largest = float(np.abs(residual).max())
    if np.ptp(np.abs(residual)) <= 1e-9 * largest:
        return SpreadTest(0.0, 1.0, 0.0, 1.0)  # misses of one size: the spread is even to the last digit
    # Scaling changes no figure and keeps powers of large numbers well conditioned.
    scaled = (columns - columns.mean(axis=0)) / columns.std(axis=0)
    found = het_breuschpagan(residual / largest, np.column_stack([np.ones(len(residual)), scaled]))
    return SpreadTest(*(float(figure) for figure in found))


def white_special(residuals: npt.ArrayLike, fitted: npt.ArrayLike) -> SpreadTest:
    """White's test in its special form: squared residuals on the fitted value and its square.

    Parameters
    ----------
    residuals, fitted : array_like of float, shape (n_sales,)
        Log residuals and fitted log prices.

    Returns
    -------
    SpreadTest

    Raises
    ------
    TooFewSalesError, EvidenceError
        As for `breusch_pagan`.

    References
    ----------
    .. [1] J. M. Wooldridge, Introductory Econometrics, section 8.3 (special case of the White test);
       H. White (1980), Econometrica 48, 817-838.
    """
    fit = _vector(fitted)
    centred = fit - fit.mean()
    return breusch_pagan(residuals, np.column_stack([centred, centred**2]))


def tails(residuals: npt.ArrayLike) -> Tails:
    """Skewness, kurtosis and the Jarque-Bera test of the residuals.

    Parameters
    ----------
    residuals : array_like of float, shape (n_sales,)
        Log residuals, not all equal; at least 3.

    Returns
    -------
    Tails

    References
    ----------
    .. [1] C. M. Jarque and A. K. Bera (1987), International Statistical Review 55, 163-172.
    """
    from statsmodels.stats.stattools import jarque_bera  # type: ignore[import-untyped]

    statistic, probability, skewness, kurtosis = jarque_bera(_spread_out(residuals))
    return Tails(float(skewness), float(kurtosis) - 3, float(statistic), float(probability))


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
    residual = np.sort(_spread_out(residuals))
    centre, scale = float(residual.mean()), float(residual.std())
    z = (residual - centre) / scale
    n = z.size
    weights, means, variances, log_likelihood = two_normals(z)
    one = -0.5 * n * (np.log(2 * np.pi * (1 + VARIANCE_FLOOR)) + 1 / (1 + VARIANCE_FLOOR))
    gain = 2 * (log_likelihood - one) - 3 * np.log(n)  # two more means and variances, and a share: 3 parameters
    separation = np.sqrt(2) * abs(means[1] - means[0]) / np.sqrt(variances.sum())
    dip = _dip(weights, means, variances)
    low, high = np.argsort(means)
    return Humps(
        two=bool(gain > 6 and separation > 2 and weights.min() > 0.1 and dip > 0.3),
        bic_gain=float(gain),
        separation=float(separation),
        dip=dip,
        centres=(float(centre + scale * means[low]), float(centre + scale * means[high])),
        shares=(float(weights[low]), float(weights[high])),
    )


VARIANCE_FLOOR = 0.01
"""Added to each variance of the mixture (in units of the whole variance), so that no hump shrinks onto one sale."""


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


def _vector(values: npt.ArrayLike) -> Array:
    vector = np.asarray(values, dtype=float).ravel()
    if not np.isfinite(vector).all():
        raise EvidenceError(
            f"Cannot look at residuals: {int((~np.isfinite(vector)).sum())} of {vector.size} are not finite. Finite "
            "log residuals are needed. Leave out sales without a price."
        )
    return vector


def _spread_out(values: npt.ArrayLike) -> Array:
    vector = _vector(values)
    if vector.size < 3 or np.ptp(vector) <= 1e-12:
        raise TooFewSalesError(
            f"Cannot look at the shape of the residuals: {vector.size} found, all equal or fewer than 3. At least 3 "
            "that differ are needed. Add sales."
        )
    return vector
