"""Sales whose ratio of estimate to price stands far from the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True, slots=True)
class Outlier:
    """A sale whose ratio of estimate to price stands far from the rest."""

    name: str
    ratio: float


def ratio_outliers(ratios: npt.ArrayLike, names: Sequence[str]) -> tuple[Outlier, ...]:
    """Ratios beyond 3 interquartile ranges outside the quartiles, farthest first.

    Parameters
    ----------
    ratios : array_like of float, shape (n_sales,)
        Estimate over price, finite.
    names : sequence of str, shape (n_sales,)
        Name of each sale.

    Returns
    -------
    tuple of Outlier

    Notes
    -----
    Three interquartile ranges are the bound for extreme outliers in IAAO, Standard on Ratio Studies, 2013, Appendix B
    (as the documentation of assesspy, its open implementation, quotes it). Quartiles stand at the positions (n + 1) / 4
    and 3 (n + 1) / 4 of the sorted ratios.

    Examples
    --------
    >>> ratio_outliers([0.9, 0.95, 1.0, 1.05, 1.1, 1.0, 3.0], ["a", "b", "c", "d", "e", "f", "g"])
    (Outlier(name='g', ratio=3.0),)
    """
    ratio = np.asarray(ratios, dtype=float)
    first, third = np.quantile(ratio, [0.25, 0.75], method="weibull")
    fence = 3 * (third - first)
    distance = np.maximum(first - fence - ratio, ratio - third - fence)
    far = [i for i in np.argsort(-distance, kind="stable") if distance[i] > 1e-12 * abs(third)]
    return tuple(Outlier(names[i], float(ratio[i])) for i in far)
