"""Laws of the regression that hold for any table: what must not matter does not, and the parts fit together."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.regression import PriceDistribution, PriceRegressor, ScatterMix
from valuation.regression.factors import factors
from valuation.regression.mixed import Sums, VariancePriors, choose_variances, objective, solve
from valuation.schema import Attribute, Level, Role

GRADES = ("poor", "fair", "good", "fine")
LEVELS = tuple(Level(grade) for grade in GRADES)
ROLES = {"grade": Attribute("grade", Role.ORDINAL, levels=LEVELS, direction="up")}
FITS = settings(max_examples=6)
QUICK = settings(max_examples=25)


def sales(seed, least=14):
    """A random table: size, noise, effects, empty cells, bids and asks all depend on the seed."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(least, 45))
    place = rng.integers(0, 4, n)
    columns = pd.DataFrame(
        {
            "grade": np.array(GRADES, dtype=object)[place],
            "family": rng.choice(["heron", "tern", "wren"], n).astype(object),
            "year": rng.integers(1925, 1975, n).astype(float),
        }
    )
    worth = rng.normal(0, 0.3, 4)[place] + 0.2 * (columns["family"] == "tern") + 0.01 * (columns["year"] - 1950)
    price = np.exp(9 + worth + rng.normal(0, rng.uniform(0.05, 0.4), n)).to_numpy()
    low, high = price.copy(), price.copy()
    kind = rng.random(n)
    kind[:9] = 1.0  # enough of them sold
    high[kind < 0.12] = np.inf
    low[(kind >= 0.12) & (kind < 0.2)] = 0.0
    columns.loc[rng.random(n) < 0.1, "year"] = np.nan
    columns.loc[rng.random(n) < 0.1, "family"] = None
    return columns, np.column_stack([low, high])


def fit(columns, price, roles=ROLES, **more):
    return PriceRegressor(roles, lattice_points=3, **more).fit(columns, price)


def answers(regressor, columns):
    return np.log([regressor.predict(columns), *regressor.predict_interval(columns)])


seeds = st.integers(0, 10_000)


@FITS
@given(seeds, st.floats(1e-6, 1e6))
def test_another_currency_multiplies_every_figure(seed, rate):
    columns, price = sales(seed)
    ours, theirs = answers(fit(columns, price), columns), answers(fit(columns, price * rate), columns)
    assert theirs == pytest.approx(ours + np.log(rate), abs=1e-5)


@FITS
@given(seeds)
def test_the_order_of_the_rows_does_not_matter(seed):
    columns, price = sales(seed)
    order = np.random.default_rng(seed).permutation(len(columns))
    shuffled = fit(columns.iloc[order], price[order])
    assert answers(shuffled, columns) == pytest.approx(answers(fit(columns, price), columns), abs=1e-5)


@FITS
@given(seeds)
def test_the_order_of_the_columns_does_not_matter(seed):
    columns, price = sales(seed)
    turned = columns[columns.columns[::-1]]
    assert answers(fit(turned, price), turned) == pytest.approx(answers(fit(columns, price), columns), abs=1e-5)


@FITS
@given(seeds)
def test_a_pair_of_equal_ends_is_a_sale(seed):
    columns, price = sales(seed)
    sold = price[:, 0] == price[:, 1]
    columns, price = columns[sold], price[sold]
    assert answers(fit(columns, price), columns).tolist() == answers(fit(columns, price[:, 0]), columns).tolist()


@FITS
@given(seeds)
def test_a_better_grade_is_never_worth_less(seed):
    columns, price = sales(seed)
    regressor = fit(columns, price)
    by_grade = np.log([regressor.predict(columns.assign(grade=grade)) for grade in GRADES])
    assert np.diff(by_grade, axis=0).min() > -1e-7


@FITS
@given(seeds)
def test_base_and_factors_multiply_to_the_median(seed):
    columns, price = sales(seed)
    regressor = fit(columns, price)
    attributes = {attribute.name: attribute for attribute in regressor.attributes_}
    for row in range(3):
        cells = columns.iloc[[row]]
        base, lines = factors(regressor.core_, regressor.core_.rows(cells), cells, attributes, 0.8)
        product = base * np.prod([line.factor for line in lines])
        assert product == pytest.approx(regressor.predict(cells)[0], rel=1e-10)
        assert all(line.low <= line.factor <= line.high for line in lines)


@FITS
@given(seeds, st.floats(0.05, 0.9), st.floats(0.01, 0.09))
def test_more_coverage_gives_an_interval_that_holds_the_other(seed, coverage, more):
    columns, price = sales(seed)
    regressor = fit(columns, price)
    low, high = regressor.predict_interval(columns, coverage)
    wider_low, wider_high = regressor.predict_interval(columns, coverage + more)
    median = regressor.predict(columns)
    assert np.all((wider_low < low) & (low < median) & (median < high) & (high < wider_high))


def mixes():
    parts = st.lists(st.tuples(st.floats(0.1, 6.0), st.floats(0.0, 1.0)), min_size=1, max_size=7)
    return parts.filter(lambda found: sum(w for _, w in found) > 0.01).map(_mix)


def _mix(parts):
    scale, weight = np.array(parts).T
    return ScatterMix(scale, weight / weight.sum())


@QUICK
@given(mixes(), st.floats(5, 15), st.floats(0.0, 0.8), st.floats(0.02, 0.8), st.floats(0.001, 0.999))
def test_cdf_and_quantile_undo_each_other(mix, location, doubt, scatter, probability):
    price = PriceDistribution(np.array([location]), mix.spread(doubt, scatter), mix.weight)
    at = price.quantile(probability)
    assert price.cdf(at)[0] == pytest.approx(probability, abs=1e-9)
    assert price.odds_above(at)[0] == pytest.approx(1 - probability, abs=1e-9)
    assert price.quantile(price.cdf(at))[0] == pytest.approx(at[0], rel=1e-6)
    assert price.mean()[0] - at[0] == pytest.approx(
        price.expected_above(at)[0] - (at - price.mean() + price.expected_above(at))[0], rel=1e-6, abs=1e-6
    )
    assert price.expected_above(at)[0] >= max(price.mean()[0] - at[0], 0) * (1 - 1e-9)


def random_sums(seed):
    rng = np.random.default_rng(seed)
    n, p = int(rng.integers(8, 30)), int(rng.integers(3, 9))
    matrix = np.column_stack([np.ones(n), rng.normal(size=(n, p))])
    weight = rng.uniform(0.3, 1.5, n)
    response = matrix @ rng.normal(0, 0.4, p + 1) + rng.normal(0, 0.3, n)
    block = np.r_[-1, np.sort(rng.integers(0, 2, p))]
    block[1], block[-1] = 0, 1
    weighted = matrix * weight[:, None]
    square, shift = float(response @ (weight * response)), float(rng.uniform(-3, 0))
    return Sums(
        matrix.T @ weighted, weighted.T @ response, square, float(np.log(weight).sum()), n, block, noise_shift=shift
    )


@QUICK
@given(seeds)
def test_gradient_of_the_restricted_likelihood_is_its_finite_difference(seed):
    sums = random_sums(seed)
    log_sd = np.random.default_rng(seed).normal(-1, 0.5, 3)
    _, gradient, _ = solve(sums, log_sd)
    step = 1e-5
    for j in range(3):
        up, down = log_sd.copy(), log_sd.copy()
        up[j] += step
        down[j] -= step
        difference = (solve(sums, up)[0] - solve(sums, down)[0]) / (2 * step)
        assert gradient[j] == pytest.approx(difference, rel=1e-5, abs=1e-4)


@QUICK
@given(seeds)
def test_the_coefficients_solve_the_penalised_normal_equations(seed):
    sums = random_sums(seed)
    log_sd = np.random.default_rng(seed).normal(-1, 0.5, 3)
    _, _, posterior = solve(sums, log_sd)
    precision = np.where(sums.block >= 0, np.exp(-2 * log_sd[1:])[np.maximum(sums.block, 0)], 0.0)
    left = sums.gram / posterior.noise + np.diag(precision)
    assert left @ posterior.mean == pytest.approx(sums.cross / posterior.noise, rel=1e-8, abs=1e-8)
    assert left @ posterior.covariance == pytest.approx(np.eye(len(left)), abs=1e-8)


@QUICK
@given(seeds)
def test_at_the_chosen_variances_nothing_is_left_to_gain(seed):
    sums = random_sums(seed)
    priors = VariancePriors(np.full(3, -1.0), np.array([0.7, 0.9, 0.7]))
    log_sd, least = choose_variances(sums, priors)
    value, gradient = objective(sums, priors)(log_sd)
    assert value == pytest.approx(least, rel=1e-9)
    assert np.abs(gradient).max() < 1e-2
    for step in 0.02 * np.vstack([np.eye(3), -np.eye(3)]):
        assert objective(sums, priors)(log_sd + step)[0] > least - 1e-9
