"""Scores of one fit on its test rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

COVERAGE = 0.8
THIRDS = ("low", "middle", "high")


@dataclass(frozen=True)
class Forecast:
    """Median and bounds of the 80 % interval for each test row, in money, shape (n_test,) each."""

    median: np.ndarray
    low: np.ndarray
    high: np.ndarray


def interval_score(low: np.ndarray, high: np.ndarray, truth: np.ndarray, alpha: float) -> np.ndarray:
    """Width plus 2 / alpha times the miss, row by row; smaller is better.

    Gneiting and Raftery (2007), Strictly proper scoring rules, prediction, and estimation, JASA 102, 359-378, eq. 43.
    """
    low, high, truth = (np.asarray(values, dtype=float) for values in (low, high, truth))
    missed = np.maximum(low - truth, 0) + np.maximum(truth - high, 0)
    return (high - low) + 2 / alpha * missed


def mdape(median: np.ndarray, truth: np.ndarray) -> float:
    """Median absolute error as a percentage of the true price."""
    return float(100 * np.median(np.abs(np.asarray(median) - truth) / truth))


def price_thirds(prices: np.ndarray) -> np.ndarray:
    """Bounds (2,) that part a whole data set's prices into thirds."""
    return np.quantile(prices, [1 / 3, 2 / 3])


def score(forecast: Forecast, truth: np.ndarray, thirds: np.ndarray) -> dict[str, float]:
    """All scores of one fit: MdAPE in percent, interval score on log price, coverage, and counts by third.

    Parameters
    ----------
    forecast : Forecast
        In money; a bound may be 0 or infinite only at the cost of an infinite score.
    truth : ndarray of shape (n_test,)
        True prices of the test rows, in money.
    thirds : ndarray of shape (2,)
        From ``price_thirds`` over the whole data set.
    """
    with np.errstate(divide="ignore"):
        log_low, log_high = np.log(forecast.low), np.log(forecast.high)
    inside = (forecast.low <= truth) & (truth <= forecast.high)
    third = np.searchsorted(thirds, truth)
    row = {
        "mdape": mdape(forecast.median, truth),
        "interval_score": float(np.mean(interval_score(log_low, log_high, np.log(truth), 1 - COVERAGE))),
        "tests": float(len(truth)),
        "inside": float(inside.sum()),
    }
    for code, name in enumerate(THIRDS):
        row[f"tests_{name}"] = float((third == code).sum())
        row[f"inside_{name}"] = float(inside[third == code].sum())
    return row
