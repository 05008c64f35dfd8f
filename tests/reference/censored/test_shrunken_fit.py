"""Censored rows with penalties: the fit is the maximum of the penalised censored likelihood, found by brute force."""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import approx_fprime, minimize
from scipy.stats import norm

from valuation.regression import PriceRegressor
from valuation.regression.censored import pseudo_observations


def messy_sales(seed, n=50):
    """Log price bounds: a fifth each of bids, asks and rows with both, the rest sold."""
    rng = np.random.default_rng(seed)
    columns = pd.DataFrame({"size": rng.normal(size=n), "body": rng.choice(["x", "y", "z"], n)})
    log_price = 9 + 0.3 * columns["size"] - 0.2 * (columns["body"] == "y") + rng.normal(0, 0.4, n)
    low, high = log_price.to_numpy().copy(), log_price.to_numpy().copy()
    kind = rng.integers(0, 5, n)
    low[kind == 0] -= rng.exponential(0.3, int((kind == 0).sum()))
    high[kind == 1] += rng.exponential(0.3, int((kind == 1).sum()))
    low[kind == 2] -= 0.2
    high[kind == 2] += 0.3
    high[kind == 0], low[kind == 1] = np.inf, -np.inf
    return columns, low, high


@pytest.mark.parametrize("seed", range(2))
def test_coefficients_and_their_covariance(seed):
    columns, low, high = messy_sales(seed)
    regressor = PriceRegressor(interaction=False, tails=False, lattice_points=1)
    regressor.fit(columns, np.exp(np.column_stack([low, high])))
    core, matrix = regressor.core_, regressor.fit_.rows.matrix
    noise_sd = np.exp(regressor.fit_.mixture.log_sd[0, 0])
    precision = 1 / core.prior_variance()
    sold = low == high

    def badness(coefficients):
        """-log likelihood of sales, bids and asks, and the penalty, at the variances that the fit chose."""
        fitted = core.centre + matrix @ coefficients
        a, b = (low - fitted) / noise_sd, (high - fitted) / noise_sd
        log_likelihood = norm.logpdf(a[sold]).sum() + np.log(norm.cdf(b[~sold]) - norm.cdf(a[~sold])).sum()
        return -log_likelihood + 0.5 * (precision * (coefficients - core.prior_mean) ** 2).sum()

    def slope(coefficients):
        fitted = core.centre + matrix @ coefficients
        a, b = (low - fitted) / noise_sd, (high - fitted) / noise_sd
        mass = np.where(sold, 1.0, norm.cdf(b) - norm.cdf(a))
        pull = np.where(sold, a, (norm.pdf(a) - norm.pdf(b)) / mass) / noise_sd
        return -matrix.T @ pull + precision * (coefficients - core.prior_mean)

    start = np.zeros(matrix.shape[1])
    assert slope(start) == pytest.approx(approx_fprime(start, badness, 1e-7), abs=1e-3)
    best = minimize(badness, start, jac=slope, method="BFGS", options={"gtol": 1e-10, "maxiter": 2000})
    assert np.abs(slope(core.coefficients)).max() < 1e-4
    assert core.coefficients == pytest.approx(best.x, abs=1e-6)
    step = 1e-5 * np.eye(matrix.shape[1])
    curvature = np.array([(slope(best.x + s) - slope(best.x - s)) / 2e-5 for s in step])
    assert core.covariance == pytest.approx(np.linalg.inv(curvature), abs=1e-6)


def test_stand_ins_have_the_slope_the_curvature_and_the_likelihood_of_their_rows():
    low = np.array([-1.0, -np.inf, -0.4, 2.5, -np.inf, 30.0])
    high = np.array([np.inf, 0.3, 0.9, np.inf, -6.0, np.inf])
    fitted, noise_sd = np.array([0.1, 0.2, -0.3, 0.0, 0.0, 0.0]), 0.7
    pseudo = pseudo_observations(low, high, fitted, noise_sd)

    def log_likelihood(m, s=noise_sd):
        a, b = (low - m) / s, (high - m) / s
        flip = a > 0
        a, b = np.where(flip, -b, a), np.where(flip, -a, b)
        return norm.logcdf(b) + np.log1p(-np.exp(norm.logcdf(a) - norm.logcdf(b)))

    assert pseudo.log_likelihood == pytest.approx(log_likelihood(fitted).sum(), rel=1e-12)
    h = 1e-4
    slope = (log_likelihood(fitted + h) - log_likelihood(fitted - h)) / (2 * h)
    curvature = -(log_likelihood(fitted + h) - 2 * log_likelihood(fitted) + log_likelihood(fitted - h)) / h**2
    assert pseudo.weight * (pseudo.response - fitted) / noise_sd**2 == pytest.approx(slope, rel=1e-6)
    assert pseudo.weight / noise_sd**2 == pytest.approx(curvature, rel=1e-4, abs=1e-6)

    # Slope of -2 log likelihood in log s^2: that of the pseudo-observations and the shift together.
    def minus_two(log_variance):
        return -2 * log_likelihood(fitted, np.exp(log_variance / 2)).sum()

    at = 2 * np.log(noise_sd)
    exact = (minus_two(at + h) - minus_two(at - h)) / (2 * h)
    squares = (pseudo.weight * (pseudo.response - fitted) ** 2).sum() / noise_sd**2
    assert len(low) + pseudo.noise_shift - squares == pytest.approx(exact, rel=1e-6)
