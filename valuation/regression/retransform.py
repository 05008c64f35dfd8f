"""Back from logs: what the mean price is above the median, and how well a log fit explains money."""

from __future__ import annotations

import numpy as np

from valuation.regression.terms import FloatArray


def smearing_factor(log_residuals: FloatArray) -> float:
    """Mean of the exponentials of the log residuals: mean over median price without a law for the errors.

    Source: Duan 1983, *JASA* 78, 605-610.

    Parameters
    ----------
    log_residuals : ndarray, shape (n,)
        Log price less fitted log price.
    """
    return float(np.exp(log_residuals).mean())


def normal_factor(noise: float) -> float:
    """Mean over median price for normal errors of variance ``noise`` (log units squared): exp(noise / 2)."""
    return float(np.exp(noise / 2))


def level_r_squared(prices: FloatArray, fitted: FloatArray) -> float:
    """Squared correlation of prices with fitted prices, in money, so that it can be set beside a fit made in money.

    Source: Wooldridge, *Introductory Econometrics*, section 6.4.
    """
    return float(np.corrcoef(prices, fitted)[0, 1] ** 2)
