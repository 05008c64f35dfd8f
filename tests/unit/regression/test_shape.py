"""The shape of the error and the heteroscedasticity of its scatter."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from valuation.regression import PriceRegressor
from valuation.regression.heteroscedasticity import HOMOSCEDASTIC, learn_heteroscedasticity
from valuation.regression.shape import OPTIMISM, OWN_SHAPE_SALES, SCALES, grid_weights, learn_mix
from valuation.regression.terms import Encoded
from valuation.schema import Attribute, Level, Role


def half_width(mix, coverage=0.8):
    return float(mix.score(stats.norm.ppf(0.5 + coverage / 2)))


def learned(errors, freedom, doubt=0.0, scatter=1.0):
    n = len(errors)
    return learn_mix(np.array(errors, dtype=float), np.full(n, doubt), np.full(n, scatter), freedom)


@pytest.mark.parametrize("freedom", [4.0, 11.0, 60.0, 500.0])
def test_without_sales_the_grid_stands_for_the_t_distribution(freedom):
    for coverage, near in ((0.5, 0.005), (0.8, 0.01), (0.95, 0.02), (0.99, 0.03)):
        expected = stats.t.ppf(0.5 + coverage / 2, freedom)
        assert half_width(learned([], freedom), coverage) == pytest.approx(expected, rel=near)


def test_own_sales_count_as_much_as_the_t_distribution_when_they_are_as_many():
    """Errors of one size only: the weights are where the posterior of a Dirichlet prior of 80 sales is stationary."""
    errors = np.full(80, 2.0)
    mix = learned(errors, 60.0)
    density = stats.norm.pdf(2.0 * (1 + OPTIMISM / np.sqrt(80)), 0, SCALES)
    share = density * mix.weight / (density @ mix.weight)
    assert mix.weight == pytest.approx((OWN_SHAPE_SALES * grid_weights(60.0) + 80 * share) / 160, abs=1e-6)
    assert half_width(mix) > 1.2 * half_width(learned([], 60.0))


def test_heavy_and_light_tails_are_found():
    rng = np.random.default_rng(5)
    heavy, light = learned(rng.standard_t(3, 900), 500.0), learned(rng.normal(size=900), 500.0)
    assert half_width(heavy, 0.99) == pytest.approx(stats.t.ppf(0.995, 3), rel=0.15)
    assert half_width(heavy) == pytest.approx(stats.t.ppf(0.9, 3), rel=0.07)
    assert half_width(light, 0.99) == pytest.approx(stats.norm.ppf(0.995), rel=0.08)


def test_what_is_not_known_of_the_median_is_not_mistaken_for_scatter():
    """The same wide errors: of sales whose median is well known they are scatter, of others they are not."""
    errors = np.random.default_rng(6).normal(0, 2.0, 300)
    known, unknown = learned(errors, 60.0), learned(errors, 60.0, doubt=np.sqrt(3.0))
    assert half_width(known) > 1.5 * half_width(unknown)
    assert half_width(unknown) == pytest.approx(stats.norm.ppf(0.9), rel=0.1)


def test_what_is_not_known_is_raised_the_more_the_fewer_the_sales():
    """Reckoned from the same sales, it comes out small: by 8 % at 25 sales, hardly at many."""
    few, many = learned(np.zeros(25), 9.0), learned(np.zeros(2500), 9.0)
    assert few.caution == pytest.approx(1.08)
    assert many.caution == pytest.approx(1.008)
    assert few.spread(0.3, 1e-9)[0, 0] == pytest.approx(0.3 * few.caution)


@given(st.lists(st.floats(-50, 50), max_size=60), st.floats(-5, 500))
def test_weights_are_a_distribution_whatever_the_errors(errors, freedom):
    mix = learned(errors, freedom)
    assert mix.weight.sum() == pytest.approx(1)
    assert mix.weight.min() >= 0
    assert np.isfinite(half_width(mix, 0.99))


N = 400


def fan(slope, by_grade=0.0, n=N, seed=2):
    """Errors, estimates and standardised grades where the log scatter is a line in both."""
    rng = np.random.default_rng(seed)
    estimate, grade = rng.normal(10, 0.5, n), rng.choice([-1.4, -0.7, 0.0, 0.7, 1.4], n)
    place = np.clip((estimate - estimate.mean()) / estimate.std(), -1.75, 1.75)
    return 0.2 * rng.normal(size=n) * np.exp(slope * place + by_grade * grade), estimate, grade


def found(errors, estimate, grade, doubt=0.0):
    return learn_heteroscedasticity(errors, np.full(len(errors), doubt), 0.2, estimate, {"grade": grade})


def at(estimate, grade):
    """Cells of vehicles at these places on the scale, as a fit encodes them; and their estimates."""
    n = len(grade)
    nothing = np.zeros(n, dtype=bool)
    return estimate, {"grade": Encoded(np.zeros((n, 0)), nothing, nothing, np.zeros(n), np.array(grade)[:, None])}


@pytest.mark.parametrize("slope", [-0.4, 0.0, 0.3])
@pytest.mark.parametrize("by_grade", [-0.3, 0.0])
def test_the_slopes_of_the_scatter_are_found(slope, by_grade):
    learned = found(*fan(slope, by_grade))
    assert learned.slope == pytest.approx(slope, abs=0.11)
    assert learned.by_attribute["grade"] == pytest.approx(by_grade, abs=0.11)


def test_few_sales_say_little_about_the_scatter():
    errors, estimate, grade = fan(-0.6, -0.3)
    few, many = found(errors[:12], estimate[:12], grade[:12]), found(errors, estimate, grade)
    assert abs(few.slope) < abs(many.slope)


def test_a_spread_that_is_mostly_doubt_about_the_median_says_little_about_the_scatter():
    """The same fan of errors, of sales whose medians are hardly known: it may be the medians' doing."""
    fanned = fan(0.0, -0.4)
    assert abs(found(*fanned, doubt=1.0).by_attribute["grade"]) < 0.5 * abs(found(*fanned).by_attribute["grade"])


def test_the_factor_is_bounded_and_leaves_the_tables_average_scatter_alone():
    errors, estimate, grade = fan(0.4, -0.2)
    learned = found(errors, estimate, grade)
    far = learned.factor(*at(np.array([-1e6, 1e6]), [-9.0, 9.0]))
    ends = learned.centre + 2 * learned.width * np.array([-1, 1])
    assert far == pytest.approx(learned.factor(*at(ends, [-1.75, 1.75])))
    assert far.max() < np.exp(0.9 * 1.75)
    assert (learned.factor(*at(estimate, grade)) ** 2).mean() == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize("errors", [np.empty(0), np.zeros(9)])
def test_no_scatter_is_even_scatter(errors):
    assert found(errors, np.linspace(9, 10, len(errors)), np.zeros(len(errors))) == HOMOSCEDASTIC


def test_alike_estimates_say_nothing():
    assert found(np.array([0.1, -1.0, 2.0]), np.full(3, 9.0), np.zeros(3)) == HOMOSCEDASTIC


def test_rough_vehicles_scatter_more_and_their_range_says_so():
    """Half of the sales rough with three times the scatter: each half's 80 % range holds about 80 %."""
    rng = np.random.default_rng(8)
    grades = [Level("rough"), Level("plain"), Level("fine")]
    attribute = Attribute("grade", Role.ORDINAL, levels=tuple(grades), direction="up")

    def draw(n):
        place = rng.integers(0, 3, n)
        cells = pd.DataFrame({"grade": [grades[k].name for k in place], "year": rng.integers(1930, 1970, n) * 1.0})
        return cells, np.exp(9 + 0.3 * place + np.array([0.36, 0.21, 0.12])[place] * rng.normal(size=n)), place

    cells, price, _ = draw(150)
    new, brought, place = draw(3000)
    low, high = PriceRegressor(roles={"grade": attribute}).fit(cells, price).predict_interval(new)
    inside = (low <= brought) & (brought <= high)
    for k in range(3):
        # A table of 150 knows each group's scatter to about a tenth, which is 3 to 4 points of coverage.
        assert inside[place == k].mean() == pytest.approx(0.8, abs=0.07)
