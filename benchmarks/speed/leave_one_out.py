"""Leave-one-out in closed form against scikit-learn's refits of the same shrunken fit, one for each sale left out."""

from __future__ import annotations

import time

import numpy as np

from benchmarks.measure import cpu_seconds
from benchmarks.speed.figures import Figure

ROWS, COLUMNS = 2000, 20
NOISE, EFFECT = 1.2, 0.9
"""Standard deviations of one sale and of a coefficient, both held: ridge with the penalty (NOISE / EFFECT)^2."""


def measure() -> list[Figure]:
    """Same left-out estimates, and how many times faster."""
    rng = np.random.default_rng(20)
    x = rng.normal(size=(ROWS, COLUMNS))
    y = x @ rng.normal(size=COLUMNS) + rng.standard_t(4, ROWS)
    ours = closed_form(x, y)
    seconds = cpu_seconds(lambda: closed_form(x, y), 7)
    refits(x[:30], y[:30])  # pays for the imports
    began = time.process_time()
    theirs = refits(x, y)
    peer = time.process_time() - began
    worst = float(np.max(np.abs(ours - theirs)) / np.ptp(y))
    return [
        Figure(
            f"largest difference of a left-out estimate, as a share of their range (n = {ROWS:,}, p = {COLUMNS})",
            worst,
            "",
            "at most 1e-10",
        ),
        Figure("closed form: fit and leave-one-out", 1000 * seconds, "ms"),
        Figure("scikit-learn, leave-one-out over its Ridge, the same rows", 1000 * peer, "ms"),
        Figure("scikit-learn over closed form", peer / seconds, "times", "at least 300"),
    ]


def closed_form(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Each row's estimate without it, by the code that every fit runs."""
    from valuation.regression.leave_one_out import leave_one_out
    from valuation.regression.mixed import Sums, solve
    from valuation.regression.mixture import Mixture

    matrix = np.column_stack([np.ones(len(x)), x])
    block = np.r_[-1, np.zeros(x.shape[1], dtype=int)]
    sums = Sums(matrix.T @ matrix, matrix.T @ y, float(y @ y), 0.0, len(y), block)
    log_sd = np.log([NOISE, EFFECT])
    mixture = Mixture(np.ones(1), log_sd[None, :], (solve(sums, log_sd)[2],))
    return leave_one_out(matrix, y, np.ones(len(y)), mixture).mean


def refits(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The same by one refit for each row left out."""
    from sklearn.linear_model import Ridge
    from sklearn.model_selection import LeaveOneOut, cross_val_predict

    return np.asarray(cross_val_predict(Ridge(alpha=(NOISE / EFFECT) ** 2), x, y, cv=LeaveOneOut()))
