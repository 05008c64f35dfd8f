"""Interval score and exact intervals against published figures and an independent program."""

import numpy as np
import pytest
from scipy.stats import binom
from statsmodels.stats.proportion import proportion_confint

from valuation.evidence.intervals import median_interval, share_interval
from valuation.evidence.scores import interval_score


@pytest.mark.parametrize(
    ("low", "high", "value", "coverage", "score"),
    [
        (0, 0.4, 0.1, 0.5, 0.4),  # Gneiting and Raftery (2007)
        (10, 20, 8, 0.9, 50),  # by hand: 10 + 2 / .1 * 2
        (10, 20, 23, 0.8, 40),  # by hand: 10 + 2 / .2 * 3
    ],
)
def test_interval_score(low, high, value, coverage, score):
    assert interval_score(low, high, value, coverage)[0] == pytest.approx(score, abs=1e-9)


@pytest.mark.parametrize(("n", "low", "high", "reached"), [(10, 2, 9, 0.9785), (20, 6, 15, 0.9586)])
def test_order_statistics_of_a_median(n, low, high, reached):
    found = median_interval(np.arange(1, n + 1))
    assert (found.low, found.high) == (low, high)
    assert found.coverage == pytest.approx(reached, abs=0.00005)
    assert found.coverage == pytest.approx(1 - 2 * binom.cdf(low - 1, n, 0.5), rel=1e-12)


@pytest.mark.parametrize(("inside", "n"), [(0, 7), (7, 7), (33, 40), (1, 200), (150, 200)])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_share_interval_of_clopper_and_pearson(inside, n, confidence):
    theirs = proportion_confint(inside, n, alpha=1 - confidence, method="beta")
    assert share_interval(inside, n, confidence) == pytest.approx(theirs, abs=1e-12)
