"""Heavy tails: weights, densities, and when they are used."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from valuation.regression.design import attributes_of
from valuation.regression.fit import TAIL_DEGREES_OF_FREEDOM, Options, fit_core
from valuation.regression.tails import log_density, tail_weights


@pytest.mark.parametrize("degrees_of_freedom", [3.0, 8.0])
def test_density_is_students(degrees_of_freedom):
    x = np.linspace(-6, 6, 25)
    assert log_density(x, degrees_of_freedom) == pytest.approx(stats.t.logpdf(x, degrees_of_freedom))


def test_density_without_freedom_is_the_normal():
    x = np.linspace(-6, 6, 25)
    assert log_density(x, None) == pytest.approx(stats.norm.logpdf(x))


def test_a_weight_makes_the_normal_slope_that_of_the_t_distribution():
    error, noise, degrees_of_freedom = np.array([-1.2, 0.1, 0.5, 3.0]), 0.04, 5.0
    step = 1e-6
    scale = np.sqrt(noise)
    slope = (
        log_density((error + step) / scale, degrees_of_freedom)
        - log_density((error - step) / scale, degrees_of_freedom)
    ) / (2 * step)
    assert -tail_weights(error**2, noise, degrees_of_freedom) * error / noise == pytest.approx(slope, rel=1e-6)


def sales(wild, n=80):
    rng = np.random.default_rng(5)
    X = pd.DataFrame({"size": rng.uniform(1, 3, n), "body": rng.choice(["a", "b", "c"], n)})
    y = 9 + 0.3 * X["size"].to_numpy() + 0.2 * (X["body"] == "b").to_numpy() + rng.normal(0, 0.1, n)
    y[:wild] += np.where(np.arange(wild) % 2, 1.5, -1.2)
    return X, y


def fitted(wild, tails=True):
    X, y = sales(wild)
    return fit_core(X, y, y, attributes_of(X, None), Options(tails=tails))


def test_wild_sales_call_for_heavy_tails_and_count_for_less():
    heavy = fitted(4)
    assert heavy.core.degrees_of_freedom == TAIL_DEGREES_OF_FREEDOM
    assert heavy.weight[:4].max() < 0.25 * np.median(heavy.weight)


def test_heavy_tails_bring_the_fit_nearer_to_what_most_sales_say():
    X, _ = sales(0)
    truth = 9 + 0.3 * X["size"].to_numpy() + 0.2 * (X["body"] == "b").to_numpy()
    off = [np.abs(fit.core.location(fit.rows) - truth).mean() for fit in (fitted(4), fitted(4, tails=False))]
    assert off[0] < 0.8 * off[1]


def test_tails_stay_normal_where_leave_one_out_does_not_ask():
    rng = np.random.default_rng(8)
    X = pd.DataFrame({"size": rng.uniform(1, 3, 60)})
    scatter = stats.norm.ppf((rng.permutation(60) + 0.5) / 60)
    y = 9 + 0.3 * X["size"].to_numpy() + 0.1 * np.clip(scatter, -1.7, 1.7)
    fit = fit_core(X, y, y, attributes_of(X, None), Options())
    assert fit.core.degrees_of_freedom is None
    assert np.all(fit.weight == 1.0)
