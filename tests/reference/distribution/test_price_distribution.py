"""The predictive distribution against closed forms of the normal law, scipy.stats and numerical integration."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.stats import lognorm, norm

from valuation.errors import RegressionError
from valuation.regression import PriceDistribution, ScoreCurve
from valuation.regression.shape import learn_curve


def log_normal(location, scale):
    return PriceDistribution(np.atleast_1d(location).astype(float), np.atleast_1d(scale).astype(float), NORMAL)


NORMAL = ScoreCurve.normal()
HEAVY = ScoreCurve(np.array([-2.5, -1.0, 0.0, 0.5, 2.0]), np.array([-5.0, -1.1, 0.0, 0.4, 2.6]))


@pytest.mark.parametrize(("z", "loss"), [(0, 0.3989), (0.5, 0.1978), (1, 0.0833), (1.5, 0.0293), (2, 0.0085)])
def test_unit_normal_loss(z, loss):
    # Unit normal loss (Raiffa and Schlaifer, Applied Statistical Decision Theory, 1961): pdf(z) - z sf(z).
    assert norm.pdf(z) - z * norm.sf(z) == pytest.approx(loss, abs=0.00005)
    # A log-normal whose scale is very small is a normal one: what is expected above, in units of the scale.
    scale = 1e-7
    found = log_normal(0, scale).expected_above(np.exp(scale * z)) / scale
    assert found[0] == pytest.approx(loss, abs=0.00005)


def test_a_right_to_buy_at_40():
    # The closed form of Black and Scholes (1973) with S 42, K 40, r .10, sigma .20, T .5, recomputed; read as a price.
    spread = 0.20 * np.sqrt(0.5)
    d1 = (np.log(42 / 40) + (0.10 + 0.20**2 / 2) * 0.5) / spread
    call = 42 * norm.cdf(d1) - 40 * np.exp(-0.05) * norm.cdf(d1 - spread)
    assert call == pytest.approx(4.76, abs=0.005)
    price = log_normal(np.log(42) + (0.10 - 0.20**2 / 2) * 0.5, 0.20 * np.sqrt(0.5))
    assert price.odds_above(40)[0] == pytest.approx(0.7349, abs=0.00005)
    assert price.cdf(40)[0] == pytest.approx(norm.cdf(-0.6278), abs=0.00005)
    assert price.expected_above(40)[0] == pytest.approx(5.00344, abs=0.000005)
    assert np.exp(-0.05) * price.expected_above(40)[0] == pytest.approx(call, rel=1e-9)
    assert np.exp(-0.05) * price.mean()[0] == pytest.approx(42, rel=1e-12)


def test_log_normal_facts():
    # Identities at mu 10, sigma .5.
    price = log_normal(10, 0.5)
    assert price.mean()[0] == pytest.approx(24959.26, abs=0.005)
    assert price.median()[0] == pytest.approx(22026.47, abs=0.005)
    second_moment = log_normal(20, 1.0).mean()[0]  # the square of the price is log-normal with both doubled
    assert np.sqrt(second_moment / price.mean()[0] ** 2 - 1) == pytest.approx(0.53294, abs=0.000005)

    def slope_of_density(at, h=5.0):
        return (price.cdf(at + h) - 2 * price.cdf(at) + price.cdf(at - h))[0]

    assert brentq(slope_of_density, 15000, 20000, xtol=1e-6) == pytest.approx(17154.23, abs=0.005)


def test_every_answer_equals_scipys_log_normal():
    location, scale = np.array([9.0, 10.5, 11.0]), np.array([0.05, 0.4, 1.3])
    price, theirs = log_normal(location, scale), lognorm(scale, scale=np.exp(location))
    at = np.array([8000.0, 60000.0, 10000.0])
    assert price.median() == pytest.approx(theirs.median(), rel=1e-12)
    assert price.mean() == pytest.approx(theirs.mean(), rel=1e-12)
    assert price.cdf(at) == pytest.approx(theirs.cdf(at), rel=1e-10)
    assert price.odds_above(at) == pytest.approx(theirs.sf(at), rel=1e-10)
    assert price.quantile(0.93) == pytest.approx(theirs.ppf(0.93), rel=1e-12)
    assert np.array(price.interval(0.8)) == pytest.approx(np.array(theirs.interval(0.8)), rel=1e-12)


@pytest.mark.parametrize("curve", [NORMAL, HEAVY, learn_curve(np.random.default_rng(0).standard_t(4, 60), 9.0)])
@pytest.mark.parametrize("scale", [0.1, 0.6])
def test_mean_and_expectations_equal_numerical_integration(curve, scale):
    price = PriceDistribution(np.array([2.0]), np.array([scale]), curve)

    def expectation(of_price, from_z):
        knots = [z for z in curve.z if z > from_z]
        pieces = [from_z, *knots, 38.0]
        return sum(
            quad(lambda z: of_price(np.exp(2 + scale * float(curve.score(z)))) * norm.pdf(z), a, b, limit=200)[0]
            for a, b in pairwise(pieces)
        )

    assert price.mean()[0] == pytest.approx(expectation(lambda p: p, -38.0), rel=1e-8)
    for at in (1.0, 7.0, 15.0):
        z = norm.ppf(price.cdf(at)[0])
        assert price.expected_above(at)[0] == pytest.approx(expectation(lambda p, k=at: p - k, z), rel=1e-7)


@pytest.mark.parametrize("curve", [NORMAL, HEAVY])
def test_quantile_undoes_cdf_and_draws_are_quantiles(curve):
    price = PriceDistribution(np.array([9.0, 10.0]), np.array([0.3, 0.7]), curve)
    for probability in (1e-6, 0.04, 0.5, 0.77, 1 - 1e-6):
        assert price.cdf(price.quantile(probability)) == pytest.approx([probability] * 2, rel=1e-8)
        draws = price.sample(np.array([norm.ppf(probability)]))
        assert draws == pytest.approx(price.quantile(probability)[None, :], rel=1e-9)
    apart = price.sample(np.array([[0.0, 1.0], [-1.0, 0.5]]))
    assert apart[1, 0] == pytest.approx(price.quantile(norm.cdf(-1.0))[0], rel=1e-9)


def test_multiplying_the_price_multiplies_every_figure_in_money():
    price = PriceDistribution(np.array([9.0, 10.0]), np.array([0.3, 0.7]), HEAVY)
    more = price.shifted(np.array([2.0, 0.5]))
    assert more.mean() == pytest.approx(price.mean() * [2, 0.5], rel=1e-12)
    assert more.quantile(0.1) == pytest.approx(price.quantile(0.1) * [2, 0.5], rel=1e-12)
    assert price[1].median() == pytest.approx(price.median()[1:], rel=1e-15)
    assert (len(price), len(price[1])) == (2, 1)


def test_ends_of_the_price_line():
    price = PriceDistribution(np.array([9.0]), np.array([0.3]), HEAVY)
    assert price.cdf(0.0).tolist() == price.cdf(-5.0).tolist() == [0.0]
    assert price.odds_above(0.0).tolist() == [1.0]
    assert price.expected_above(0.0) == pytest.approx(price.mean(), rel=1e-12)
    assert price.cdf(np.inf).tolist() == [1.0]


@pytest.mark.parametrize("probability", [0, 1, -0.1, np.nan])
def test_a_probability_outside_0_and_1_is_refused(probability):
    with pytest.raises(RegressionError, match="A probability must lie strictly between 0 and 1"):
        log_normal(9, 0.3).quantile(probability)


def test_what_makes_no_distribution_is_refused():
    with pytest.raises(RegressionError, match="A coverage must lie strictly between 0 and 1; found 1"):
        log_normal(9, 0.3).interval(1)
    with pytest.raises(RegressionError, match="must be above 0 for every vehicle"):
        log_normal([9, 9], [0.3, 0.0])
    with pytest.raises(RegressionError, match="one location and one scale for each vehicle"):
        log_normal([9, 9], 0.3)
    with pytest.raises(RegressionError, match="multiplied by a factor above 0; found 0"):
        log_normal(9, 0.3).shifted(0)
    with pytest.raises(RegressionError, match="must rise strictly from knot to knot"):
        ScoreCurve(np.array([0.0, 1.0]), np.array([0.0, 0.0]))
    with pytest.raises(RegressionError, match="two or more knots and as many values"):
        ScoreCurve(np.array([0.0]), np.array([0.0]))
