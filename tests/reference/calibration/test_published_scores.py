"""Interval score, CRPS and exact intervals against published figures and an independent program."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ndtr
from statsmodels.stats.proportion import proportion_confint

from valuation.evidence.intervals import median_interval, share_interval
from valuation.evidence.scores import crps_normal, interval_score


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


def test_crps_of_the_standard_normal_at_zero():
    assert crps_normal(0, 1, 0)[0] == pytest.approx(0.2336949773, abs=5e-11)


@pytest.mark.parametrize(("mean", "spread", "value"), [(0, 1, 0.7), (10, 0.4, 9.1), (-3, 2.5, 4)])
def test_crps_is_the_integral_of_its_definition(mean, spread, value):
    below, _ = quad(lambda x: ndtr((x - mean) / spread) ** 2, mean - 40 * spread, value, limit=200)
    above, _ = quad(lambda x: (1 - ndtr((x - mean) / spread)) ** 2, value, mean + 40 * spread, limit=200)
    assert crps_normal(mean, spread, value)[0] == pytest.approx(below + above, rel=1e-7)


@pytest.mark.parametrize(("n", "low", "high", "reached"), [(10, 2, 9, 0.9785), (20, 6, 15, 0.9586)])
def test_order_statistics_of_a_median(n, low, high, reached):
    found = median_interval(np.arange(1, n + 1))
    assert (found.low, found.high) == (low, high)
    assert found.coverage == pytest.approx(reached, abs=0.00005)


@pytest.mark.parametrize(("inside", "n"), [(0, 7), (7, 7), (33, 40), (1, 200), (150, 200)])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_share_interval_of_clopper_and_pearson(inside, n, confidence):
    theirs = proportion_confint(inside, n, alpha=1 - confidence, method="beta")
    assert share_interval(inside, n, confidence) == pytest.approx(theirs, abs=1e-12)
