"""Scores of an interval and of a distribution against what happened: smaller is better."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from valuation.errors import EvidenceError
from valuation.evidence.intervals import check_share

Array = npt.NDArray[np.float64]


def interval_score(low: npt.ArrayLike, high: npt.ArrayLike, value: npt.ArrayLike, coverage: float) -> Array:
    """Width of an interval plus a fine for a value outside it, in the unit of the values.

    Parameters
    ----------
    low, high, value : array_like of float, same shape (or broadcast together)
        Interval ends and what happened; ``low <= high``. Give logs to score log prices.
    coverage : float
        Stated coverage of the interval, between 0 and 1.

    Returns
    -------
    ndarray of float
        One score for each value; the fine is 2 / (1 - coverage) for each unit outside. ``inf`` for an open interval.

    Raises
    ------
    EvidenceError
        If ``coverage`` is not a share or an interval has its ends crossed or missing.

    References
    ----------
    .. [1] T. Gneiting and A. E. Raftery (2007), "Strictly proper scoring rules, prediction, and estimation", Journal
       of the American Statistical Association 102, 359-378, section 6.2.

    Examples
    --------
    >>> interval_score(10, 20, [15, 23], coverage=0.8).round(9).tolist()
    [10.0, 40.0]
    """
    check_share("the coverage of an interval", coverage)
    below, above, seen = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(side, dtype=float)) for side in (low, high, value))
    )
    wrong = ~((below <= above) & np.isfinite(seen))
    if wrong.any():
        raise EvidenceError(
            f"Cannot score {int(wrong.sum())} of {wrong.size} intervals: low above high, or a missing end or value. "
            "Each interval needs low <= high and a finite value. Check which column is which."
        )
    fine = 2 / (1 - coverage)
    return np.asarray(above - below + fine * (np.maximum(below - seen, 0) + np.maximum(seen - above, 0)))
