"""The estimator by scikit-learn's own checks; those left out are named with the reason."""

import numpy as np
import pytest
from sklearn.base import clone, is_regressor
from sklearn.exceptions import NotFittedError
from sklearn.model_selection import GridSearchCV, KFold
from sklearn.utils.estimator_checks import parametrize_with_checks

from valuation.errors import RegressionError
from valuation.regression import PriceRegressor

LEFT_OUT = {
    "check_regressors_no_decision_function": "It fits 10 rows; under 12 usable sales a fit is refused on purpose.",
    "check_fit2d_1feature": "It fits 10 rows; under 12 usable sales a fit is refused on purpose.",
}


def left_out(estimator):
    return LEFT_OUT


@parametrize_with_checks([PriceRegressor(lattice_points=4)], expected_failed_checks=left_out)
def test_scikit_learns_checks(estimator, check):
    check(estimator)


def test_parameters_are_kept_as_given_and_cloned():
    roles = {"x0": "smooth"}
    regressor = PriceRegressor(roles, 0.9, lattice_points=7)
    assert regressor.get_params() == {
        "roles": roles,
        "coverage": 0.9,
        "interaction": True,
        "tails": True,
        "lattice_points": 7,
    }
    again = clone(regressor)
    assert again is not regressor
    assert again.get_params() == regressor.get_params()
    assert again.set_params(coverage=0.5).coverage == 0.5
    assert is_regressor(regressor)


def test_what_is_not_fitted_says_so():
    for question in ("predict", "predict_interval", "predict_distribution", "predict_mean_distribution"):
        with pytest.raises(NotFittedError, match="not fitted yet"):
            getattr(PriceRegressor(), question)(np.zeros((1, 1)))


def test_settings_are_judged_at_the_fit_not_before():
    regressor = PriceRegressor(coverage=1.0)
    with pytest.raises(RegressionError, match=r"A coverage must lie strictly between 0 and 1; found 1\.0\."):
        regressor.fit(np.arange(12.0)[:, None], np.ones(12))
    with pytest.raises(RegressionError, match=r"lattice_points must be 1 or more; found 0\."):
        PriceRegressor(lattice_points=0).fit(np.arange(12.0)[:, None], np.ones(12))


def test_it_serves_in_a_search_over_its_settings():
    rng = np.random.default_rng(0)
    X = rng.normal(size=(36, 2))
    price = np.exp(9 + 0.3 * X[:, 0] + rng.normal(0, 0.1, 36))
    search = GridSearchCV(PriceRegressor(lattice_points=1, tails=False), {"interaction": [True, False]}, cv=KFold(2))
    assert search.fit(X, price).best_score_ > 0.7
