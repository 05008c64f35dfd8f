"""Leave-one-out and jackknife+ in closed form against MAPIE's refits of the same linear estimator."""

from __future__ import annotations

import time

import numpy as np

from benchmarks.measure import cpu_seconds
from benchmarks.speed.figures import Figure

ROWS, COLUMNS, NEW_ROWS = 2000, 20, 200
COVERAGE = 0.8


def measure() -> list[Figure]:
    """Same bounds, and how many times faster."""
    rng = np.random.default_rng(20)
    x, new = rng.normal(size=(ROWS, COLUMNS)), rng.normal(size=(NEW_ROWS, COLUMNS))
    y = x @ rng.normal(size=COLUMNS) + rng.standard_t(4, ROWS)
    ours = closed_form(x, y, new)
    seconds = cpu_seconds(lambda: closed_form(x, y, new), 7)
    refits(x[:30], y[:30], new)  # pays for the imports
    began = time.process_time()
    theirs = refits(x, y, new)
    peer = time.process_time() - began
    worst = float(np.max(np.abs(ours - theirs) / np.abs(theirs)))
    return [
        Figure(
            f"largest relative difference of the jackknife+ bounds (n = {ROWS:,}, p = {COLUMNS})",
            worst,
            "",
            "at most 1e-10",
        ),
        Figure("closed form: leave-one-out and bounds for 200 new rows", 1000 * seconds, "ms"),
        Figure("MAPIE, leave-one-out over scikit-learn's LinearRegression, the same rows", 1000 * peer, "ms"),
        Figure("MAPIE over closed form", peer / seconds, "times", "at least 300"),
    ]


def closed_form(x: np.ndarray, y: np.ndarray, new: np.ndarray) -> np.ndarray:
    """Bounds by one QR decomposition."""
    from valuation.regression.leave_one_out import jackknife_plus, linear_leave_one_out

    matrix, wanted = (np.column_stack([np.ones(len(rows)), rows]) for rows in (x, new))
    left_out = linear_leave_one_out(matrix, y)
    return jackknife_plus(left_out, wanted @ np.linalg.lstsq(matrix, y, rcond=None)[0], wanted, COVERAGE)


def refits(x: np.ndarray, y: np.ndarray, new: np.ndarray) -> np.ndarray:
    """Bounds by one refit for each row left out."""
    from mapie.regression import CrossConformalRegressor
    from sklearn.linear_model import LinearRegression
    from sklearn.model_selection import LeaveOneOut

    regressor = CrossConformalRegressor(
        LinearRegression(), confidence_level=COVERAGE, method="plus", cv=LeaveOneOut()
    ).fit_conformalize(x, y)
    return np.asarray(regressor.predict_interval(new)[1][:, :, 0])
