"""Fitting with penalties chosen: growth with the table, and against one plain least-squares fit of the same columns."""

from __future__ import annotations

import warnings

import numpy as np

from benchmarks.measure import cpu_seconds
from benchmarks.speed.figures import Figure
from benchmarks.speed.tables import sales
from valuation.schema import Attribute, default_schema

SIZES = (40, 200, 2000, 20_000, 200_000)
PEER_ROWS = 20_000
ONE_SIDED = 0.12


def roles() -> dict[str, str | Attribute]:
    """The vintage schema's attributes, with their levels, directions and expectations."""
    return {**{a.name: a for a in default_schema().attributes}, "sale_date": "date"}


def measure() -> list[Figure]:
    """Seconds by size, slope of log time on log n, and the ratio to statsmodels."""
    from valuation.regression import PriceRegressor

    figures, seconds = [], {}
    for n in SIZES:
        frame, pairs = sales(n, seed=n)
        used = {name: role for name, role in roles().items() if name in frame}
        for share, prices in (("all sold", pairs[:, 0]), ("12 % unsold bids", sales(n, n, ONE_SIDED)[1])):
            fitted = PriceRegressor(used)
            repeats = 5 if n <= 2000 else 3 if n <= 20_000 else 1
            seconds[share, n] = cpu_seconds(lambda f=fitted, x=frame, y=prices: f.fit(x, y), repeats)
            figures.append(Figure(f"fit of {n:,} rows, {share}", seconds[share, n], "s"))
            if n == PEER_ROWS and share == "all sold":
                peer = least_squares(fitted.fit_.rows.matrix, np.log(prices))
    for share in ("all sold", "12 % unsold bids"):
        large = [n for n in SIZES if n >= 2000]
        slope = np.polyfit(np.log(large), np.log([seconds[share, n] for n in large]), 1)[0]
        figures.append(Figure(f"slope of log time on log n from 2,000 up, {share}", float(slope), "", "at most 1"))
    figures.append(Figure(f"statsmodels OLS on the fit's own columns, {PEER_ROWS:,} rows", peer, "s"))
    figures.append(
        Figure("fit with penalties chosen over that OLS", seconds["all sold", PEER_ROWS] / peer, "times", "at most 10")
    )
    return figures


def least_squares(matrix: np.ndarray, response: np.ndarray) -> float:
    """Seconds of statsmodels' plain fit (pseudo-inverse, its default) of a design."""
    import statsmodels.api as sm

    # A column for each level and an intercept repeat each other; the pseudo-inverse copes, and says so each time.
    warnings.filterwarnings("ignore", "The design matrix is rank-deficient")
    return cpu_seconds(lambda: sm.OLS(response, matrix).fit(), 5)
