"""Exact small-sample intervals: for a median by order statistics, for a share by the binomial law."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError


@dataclass(frozen=True, slots=True)
class Measure:
    """One figure with its interval.

    Parameters
    ----------
    value, low, high : float
        The figure and the ends of its interval; ``low`` may be ``-inf`` (or 0 for a ratio) and ``high`` ``inf``
        where the sales are too few to close that side.
    coverage : float
        Stated coverage of the interval, between 0 and 1; for the exact interval of a median, the coverage that the
        order statistics reach, at or above the one asked for.
    method : str
        How the interval was found, in a few words.
    """

    value: float
    low: float
    high: float
    coverage: float
    method: str


def check_share(name: str, value: float) -> float:
    """Give ``value`` back when it lies strictly between 0 and 1.

    Parameters
    ----------
    name : str
        For the message.
    value : float

    Raises
    ------
    EvidenceError
        When it does not.
    """
    if not 0 < value < 1:
        raise EvidenceError(
            f"Cannot use {value!r} as {name}: a share strictly between 0 and 1 is needed. Give 0.95 for 95 %."
        )
    return value


def median_interval(values: npt.ArrayLike, confidence: float = 0.95) -> Measure:
    """Exact interval of a median from order statistics, whatever the shape of the distribution.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        At least one finite value.
    confidence : float
        Least coverage wanted, between 0 and 1.

    Returns
    -------
    Measure
        The sample median; ``low`` is the k-th smallest and ``high`` the k-th largest value for the largest k with
        P(Binomial(n, 1/2) < k) at most (1 - confidence) / 2. When no k serves (n below 6 at 95 %) the interval is
        the whole line and its coverage 1.

    Raises
    ------
    EvidenceError
        If there is no value, one is not finite, or ``confidence`` is not a share.

    References
    ----------
    .. [1] W. J. Conover, Practical Nonparametric Statistics, 3rd ed., 1999, section 3.2 (interval for a quantile).

    Examples
    --------
    >>> found = median_interval([1, 2, 3, 4, 5, 6, 7, 8, 9, 10])
    >>> found.low, found.value, found.high, round(found.coverage, 4)
    (2.0, 5.5, 9.0, 0.9785)
    """
    from scipy.special import bdtr

    check_share("the confidence of an interval", confidence)
    ordered = np.sort(np.asarray(values, dtype=float).ravel())
    n = ordered.size
    if n == 0 or not np.isfinite(ordered).all():
        raise EvidenceError(
            f"Cannot find the median of {n} values: at least one is needed and all must be finite. "
            "Leave out missing values first."
        )
    centre = float(np.median(ordered))
    # tails[k] is the chance that fewer than k + 1 of n values fall below the true median.
    tails = bdtr(np.arange(n), n, 0.5)
    k = int(np.searchsorted(tails, (1 - confidence) / 2, side="right"))
    if k == 0:
        return Measure(centre, -np.inf, np.inf, 1.0, "order statistics: too few values to close the interval")
    reached = float(1 - 2 * tails[k - 1])
    method = f"order statistics {k} and {n + 1 - k} of {n}"
    return Measure(centre, float(ordered[k - 1]), float(ordered[n - k]), reached, method)


def share_interval(inside: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact (Clopper-Pearson) interval of a share when ``inside`` of ``n`` were counted.

    Parameters
    ----------
    inside, n : int
        Count and number of trials, 0 <= inside <= n, n >= 1.
    confidence : float
        Least coverage, between 0 and 1.

    Returns
    -------
    low, high : float
        Shares between 0 and 1.

    Raises
    ------
    EvidenceError
        If the counts are impossible or ``confidence`` is not a share.

    References
    ----------
    .. [1] C. J. Clopper and E. S. Pearson (1934), "The use of confidence or fiducial limits illustrated in the case
       of the binomial", Biometrika 26, 404-413.

    Examples
    --------
    >>> low, high = share_interval(33, 40)
    >>> round(low, 3), round(high, 3)
    (0.672, 0.927)
    """
    from scipy.special import betaincinv

    check_share("the confidence of an interval", confidence)
    if n < 1 or not 0 <= inside <= n:
        raise EvidenceError(
            f"Cannot give a share of {inside!r} in {n!r}: a count from 0 to the number of sales is needed, and at "
            "least one sale. Check the counts."
        )
    tail = (1 - confidence) / 2
    low = 0.0 if inside == 0 else float(betaincinv(inside, n - inside + 1, tail))
    high = 1.0 if inside == n else float(betaincinv(inside + 1, n - inside, 1 - tail))
    return low, high
