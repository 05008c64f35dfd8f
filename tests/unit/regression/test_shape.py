"""The shape of the error and the heteroscedasticity of its scatter."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from valuation.regression.heteroscedasticity import HOMOSCEDASTIC, learn_heteroscedasticity
from valuation.regression.shape import OPTIMISM, OWN_SHAPE_SALES, learn_curve


def half_width(curve, coverage=0.8):
    return float(curve.score(stats.norm.ppf(0.5 + coverage / 2)))


def test_without_scores_the_t_distribution_stands_alone():
    assert half_width(learn_curve(np.empty(0), 11.0)) == pytest.approx(stats.t.ppf(0.9, 11), abs=1e-4)


def test_own_scores_enter_as_conformal_prediction_takes_them():
    scores = np.arange(1, 100) / 50.0  # 99 scores: the 80th smallest stands for 80 in 100
    n, own = 99, 1.6 * (1 + OPTIMISM / np.sqrt(99))
    share = n / (n + OWN_SHAPE_SALES)
    expected = (1 - share) * stats.t.ppf(0.9, 60) + share * own
    assert half_width(learn_curve(scores, 60.0)) == pytest.approx(expected, abs=1e-4)


@given(
    st.lists(st.floats(-50, 50), min_size=1, max_size=60),
    st.floats(-5, 500),
)
def test_the_curve_rises_and_is_symmetric_whatever_the_scores(scores, degrees_of_freedom):
    curve = learn_curve(np.array(scores), degrees_of_freedom)
    assert np.all(np.diff(curve.q) > 0)
    assert curve.q == pytest.approx(-curve.q[::-1])


def fan(slope, n=400, seed=2):
    rng = np.random.default_rng(seed)
    estimate = rng.normal(10, 0.5, n)
    place = np.clip((estimate - estimate.mean()) / estimate.std(), -1.75, 1.75)
    return rng.normal(size=n) * np.exp(slope * place), estimate


@pytest.mark.parametrize("slope", [-0.4, 0.0, 0.3])
def test_the_slope_of_the_scatter_is_found_and_shrunk(slope):
    scores, estimate = fan(slope)
    found = learn_heteroscedasticity(scores, estimate)
    assert found.slope == pytest.approx(slope, abs=0.11)


def test_few_sales_say_little_about_the_scatter():
    scores, estimate = fan(-0.6)
    few, many = learn_heteroscedasticity(scores[:12], estimate[:12]), learn_heteroscedasticity(scores, estimate)
    assert abs(few.slope) < abs(many.slope)


def test_the_factor_is_bounded():
    found = learn_heteroscedasticity(*fan(0.4))
    far = found.factor(np.array([-1e6, 1e6]))
    inside = found.factor(np.array([found.centre - 2 * found.width, found.centre + 2 * found.width]))
    assert far == pytest.approx(inside)
    assert far.max() < np.exp(0.6 * 1.75)


@pytest.mark.parametrize("scores", [np.empty(0), np.zeros(9)])
def test_no_scatter_is_even_scatter(scores):
    assert learn_heteroscedasticity(scores, np.linspace(9, 10, len(scores))) == HOMOSCEDASTIC


def test_alike_estimates_say_nothing():
    assert learn_heteroscedasticity(np.array([0.1, -1.0, 2.0]), np.full(3, 9.0)) == HOMOSCEDASTIC
