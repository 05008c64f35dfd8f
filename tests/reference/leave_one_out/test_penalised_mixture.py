"""Leave-one-out of the penalised fit, averaged over sets of variances: closed form = refits without each row.

The reference is written out here: for each set of variances the rows but one are solved afresh, and the sets are
weighed afresh by the restricted likelihood of the rows but one.
"""

import numpy as np
import pandas as pd
import pytest
from scipy.linalg import null_space
from scipy.special import logsumexp

from valuation.regression import PriceRegressor
from valuation.regression.leave_one_out import leave_one_out
from valuation.regression.mixed import Sums, solve
from valuation.regression.mixture import Mixture
from valuation.schema import Attribute, Level, Role

BLOCK = np.array([-1, 0, 1, 1, 1, 2, 2])


def sums(matrix, response, weight, block=BLOCK):
    weighted = matrix * weight[:, None]
    return Sums(
        matrix.T @ weighted,
        weighted.T @ response,
        float(response @ (weight * response)),
        float(np.log(weight).sum()),
        len(response),
        block,
    )


@pytest.fixture(params=["all weights 1", "weights of their own"])
def fitted(request):
    """Columns, responses, weights, and a fit at five sets of variances with weights as a likelihood gives them."""
    rng = np.random.default_rng(3)
    matrix = np.column_stack([np.ones(18), rng.normal(size=(18, 6))])
    response = matrix @ rng.normal(0, 0.3, 7) + rng.normal(0, 0.4, 18)
    weight = np.ones(18) if request.param == "all weights 1" else rng.uniform(0.2, 1.5, 18)
    log_sd = rng.normal(-1.0, 0.5, (5, 4))
    values, _, parts = zip(*(solve(sums(matrix, response, weight), row) for row in log_sd), strict=True)
    share = np.exp(-0.5 * (np.array(values) - min(values)))
    return matrix, response, weight, Mixture(share / share.sum(), log_sd, parts)


def brute_force(matrix, response, weight, mixture, i):
    """Weights of the sets, and mean and variance of a new sale of weight 1 in each, from all rows but ``i``."""
    rest = np.arange(len(response)) != i
    log_share, means, variances = [], [], []
    for row, share in zip(mixture.log_sd, mixture.weight, strict=True):
        whole = solve(sums(matrix, response, weight), row)[0]
        value, _, part = solve(sums(matrix[rest], response[rest], weight[rest]), row)
        # Marginal likelihood of the rest over that of the whole table.
        log_share.append(np.log(share) - 0.5 * (value - whole))
        means.append(matrix[i] @ part.mean)
        variances.append(matrix[i] @ part.covariance @ matrix[i] + part.noise)
    share = np.exp(np.array(log_share) - logsumexp(log_share))
    return share, np.array(means), np.array(variances)


def test_each_set_of_variances_alone(fitted):
    matrix, response, weight, mixture = fitted
    for row, part in zip(mixture.log_sd, mixture.parts, strict=True):
        alone = Mixture(np.ones(1), row[None, :], (part,))
        found = leave_one_out(matrix, response, weight, alone)
        for i in range(len(response)):
            _, means, variances = brute_force(matrix, response, weight, alone, i)
            assert found.mean[i] == pytest.approx(means[0], abs=1e-10)
            assert found.scale[i] ** 2 == pytest.approx(variances[0], rel=1e-9)


def test_the_average_with_its_weights_chosen_without_the_row(fitted):
    matrix, response, weight, mixture = fitted
    found = leave_one_out(matrix, response, weight, mixture)
    for i in range(len(response)):
        share, means, variances = brute_force(matrix, response, weight, mixture, i)
        mean = share @ means
        assert found.mean[i] == pytest.approx(mean, abs=1e-10)
        assert found.scale[i] ** 2 == pytest.approx(share @ (variances + (means - mean) ** 2), rel=1e-9)


def test_density_of_each_row_is_the_ratio_of_two_marginal_likelihoods(fitted):
    matrix, response, weight, mixture = fitted
    found = leave_one_out(matrix, response, weight, mixture)
    for i in range(len(response)):
        rest = np.arange(len(response)) != i
        whole = [solve(sums(matrix, response, weight), row)[0] for row in mixture.log_sd]
        less = [solve(sums(matrix[rest], response[rest], weight[rest]), row)[0] for row in mixture.log_sd]
        # The sets count alike before any sale is seen, as the fixture weighed them.
        ratio = logsumexp(-0.5 * np.array(whole)) - logsumexp(-0.5 * np.array(less))
        assert found.log_density[i] == pytest.approx(ratio - 0.5 * np.log(2 * np.pi), abs=1e-9)


def test_leverages_sum_to_the_coefficients_spent(fitted):
    matrix, response, weight, mixture = fitted
    alone = Mixture(np.ones(1), mixture.log_sd[:1], mixture.parts[:1])
    found = leave_one_out(matrix, response, weight, alone)
    gram = sums(matrix, response, weight).gram
    spent = np.trace(mixture.parts[0].covariance @ gram) / mixture.parts[0].noise
    assert found.leverage.sum() == pytest.approx(spent, rel=1e-10)


GRADES = ("poor", "fair", "good", "fine")


def graded_sales():
    """Forty sales in which the third grade sold for less than the second, so that its step is held level."""
    rng = np.random.default_rng(11)
    grade = rng.integers(0, 4, 40)
    size = rng.normal(size=40)
    price = np.exp(9 + np.array([0.0, 0.5, 0.2, 0.8])[grade] + 0.2 * size + rng.normal(0, 0.1, 40))
    return pd.DataFrame({"grade": np.array(GRADES)[grade], "size": size}), price


def test_a_whole_fit_with_a_step_held_level():
    columns, price = graded_sales()
    levels = tuple(Level(name) for name in GRADES)
    roles = {"grade": Attribute("grade", Role.ORDINAL, levels=levels, direction="up")}
    regressor = PriceRegressor(roles, tails=False, lattice_points=3).fit(columns, price)
    fit, core = regressor.fit_, regressor.core_
    assert fit.held == ("grade",)
    matrix = fit.rows.matrix
    response = fit.response - core.centre
    # All coefficients that keep the held step level: one of them, plus any mix of the columns of ``free``.
    steps = core.rows(pd.DataFrame({"grade": ["fair", "good"], "size": [0.0, 0.0]})).matrix
    difference = steps[[1]] - steps[[0]]
    difference[0, [j for b in core.blocks if b.attribute != "grade" for j in range(b.start, b.stop)]] = 0.0
    assert difference[0] @ core.coefficients == pytest.approx(0.0, abs=1e-9)
    free = null_space(difference)
    start = -np.linalg.pinv(difference) @ (difference @ core.prior_mean)
    block = np.full(matrix.shape[1], -1)
    for place, one in enumerate(core.blocks):
        block[one.start : one.stop] = place

    def factor(i, mean):
        """What the row's scatter is multiplied by where the others would have it at ``mean``."""
        return core.heteroscedasticity.factor(np.full(40, mean), fit.rows.encoded)[i]

    for i in range(0, 40, 7):
        rest = np.arange(40) != i
        log_share, means, variances, noises = [], [], [], []
        for row, share in zip(fit.mixture.log_sd, fit.mixture.weight, strict=True):
            noise = np.exp(2 * row[0])
            precision = np.where(block >= 0, np.exp(-2 * row[1:])[np.maximum(block, 0)], 0.0) / core.stretch**2

            def solved(rows, noise=noise, precision=precision):
                """Mean and covariance of the coefficients, deviations from their prior means, on the given rows."""
                target = response[rows] - matrix[rows] @ (core.prior_mean + start)
                inner = matrix[rows] @ free
                h = inner.T @ inner / noise + free.T @ (precision[:, None] * free)
                spread = np.linalg.inv(h)
                pull = inner.T @ target / noise - free.T @ (precision * start)
                return start + free @ (spread @ pull), free @ spread @ free.T

            mean, covariance = solved(rest)
            means.append(matrix[i] @ (mean + core.prior_mean))
            noises.append(noise)
            variances.append(matrix[i] @ covariance @ matrix[i] + noise)
            density = -0.5 * (np.log(2 * np.pi * variances[-1]) + (response[i] - means[-1]) ** 2 / variances[-1])
            log_share.append(np.log(share) - density)
        share = np.exp(np.array(log_share) - logsumexp(log_share))
        mean = share @ np.array(means)
        assert fit.left_out.mean[i] - core.centre == pytest.approx(mean, abs=1e-7)
        variance = share @ (np.array(variances) + (np.array(means) - mean) ** 2)
        variance += share @ np.array(noises) * (factor(i, mean) ** 2 - 1)
        assert fit.left_out.scale[i] ** 2 == pytest.approx(variance, rel=1e-6)
