"""Laws that the evidence figures keep for any table."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.evidence.collinearity import overlaps
from valuation.evidence.humps import humps
from valuation.evidence.intervals import median_interval, share_interval
from valuation.evidence.price_index import PriceIndex
from valuation.evidence.ratio_study import (
    coefficient_of_dispersion,
    median_ratio,
    price_related_bias,
    price_related_differential,
)
from valuation.evidence.scores import interval_score

AMOUNT = st.floats(100, 1e6)
SALES = st.lists(st.tuples(AMOUNT, AMOUNT), min_size=3, max_size=30)
FACTOR = st.floats(0.01, 100)


def sides(sales):
    return np.array(sales).T


@given(SALES, FACTOR)
def test_currency_changes_no_ratio_figure(sales, factor):
    estimates, prices = sides(sales)
    for figure in (median_ratio, coefficient_of_dispersion, price_related_differential):
        assert figure(estimates * factor, prices * factor) == pytest.approx(figure(estimates, prices), rel=1e-9)


@given(SALES, FACTOR)
def test_level_of_the_estimates_changes_only_the_median(sales, factor):
    estimates, prices = sides(sales)
    assert median_ratio(estimates * factor, prices) == pytest.approx(factor * median_ratio(estimates, prices))
    for figure in (coefficient_of_dispersion, price_related_differential):
        assert figure(estimates * factor, prices) == pytest.approx(figure(estimates, prices), rel=1e-9, abs=1e-9)


@given(SALES, FACTOR, FACTOR)
def test_price_bias_hangs_on_neither_unit(sales, one, other):
    estimates, prices = sides(sales)
    prices = prices * np.linspace(1, 2, prices.size)  # never all of one price
    if np.ptp(np.log(estimates / np.median(estimates / prices) + prices)) < 0.01:
        return
    plain = price_related_bias(estimates, prices)
    assert price_related_bias(estimates * one * other, prices * other) == pytest.approx(plain, rel=1e-6, abs=1e-9)


@given(SALES, st.randoms())
def test_order_of_the_rows_changes_no_ratio_figure(sales, random):
    turned = sales.copy()
    random.shuffle(turned)
    for figure in (median_ratio, coefficient_of_dispersion, price_related_differential):
        assert figure(*sides(turned)) == pytest.approx(figure(*sides(sales)), rel=1e-12)


@given(SALES)
def test_a_table_twice_over_has_the_same_figures(sales):
    for figure in (median_ratio, coefficient_of_dispersion, price_related_differential):
        assert figure(*sides(sales + sales)) == pytest.approx(figure(*sides(sales)), rel=1e-12)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60), st.floats(0.5, 0.99))
def test_median_interval_holds_the_median_and_reaches_its_coverage(values, confidence):
    found = median_interval(values, confidence)
    assert found.low <= found.value <= found.high
    assert found.coverage >= confidence - 1e-12


@given(st.integers(1, 300), st.data())
def test_share_interval_holds_the_share_and_mirrors(n, data):
    inside = data.draw(st.integers(0, n))
    low, high = share_interval(inside, n)
    assert 0 <= low <= inside / n <= high <= 1
    mirrored = share_interval(n - inside, n)
    assert mirrored == pytest.approx((1 - high, 1 - low), abs=1e-9)


@given(st.lists(st.floats(1, 1000), min_size=2, max_size=24), st.data(), FACTOR)
def test_index_there_and_back_and_by_way_of_a_third_month(values, data, factor):
    months = np.datetime64("2020-01", "M") + np.cumsum(
        np.array(data.draw(st.lists(st.integers(1, 4), min_size=len(values), max_size=len(values))))
    ).astype("timedelta64[M]")
    index = PriceIndex("any", months, np.array(values))
    days = st.integers(0, 3000).map(lambda day: np.datetime64("2019-06-01") + day)
    a, b, c = data.draw(days), data.draw(days), data.draw(days)

    def step(start, end, of=index):
        return of.factor(start, end).factors[0]

    assert step(a, b) * step(b, a) == pytest.approx(1, rel=1e-12)
    assert step(a, b) * step(b, c) == pytest.approx(step(a, c), rel=1e-10)
    rebased = PriceIndex("any", months, np.array(values) * factor)
    assert step(a, c, rebased) == pytest.approx(step(a, c), rel=1e-9)


@given(st.integers(0, 10_000), st.floats(-5, 5), st.floats(0.01, 50))
@settings(max_examples=40)
def test_humps_hang_on_neither_level_nor_scale_nor_order(seed, shift, scale):
    rng = np.random.default_rng(seed)
    values = np.r_[rng.normal(0, 1, 25), rng.normal(4, 0.7, 15)]
    plain, turned = humps(values), humps(shift + scale * rng.permutation(values))
    assert turned.two == plain.two
    assert turned.bic_gain == pytest.approx(plain.bic_gain, rel=1e-4, abs=1e-3)
    assert turned.centres[0] == pytest.approx(shift + scale * plain.centres[0], abs=1e-3 * scale)


@given(st.integers(0, 10_000), FACTOR)
@settings(max_examples=40)
def test_overlap_hangs_on_neither_units_nor_coding_within_a_block(seed, factor):
    rng = np.random.default_rng(seed)
    shared = rng.normal(size=(30, 1))
    design = np.hstack(
        [shared, rng.normal(size=(30, 1)), shared + 0.2 * rng.normal(size=(30, 1)), rng.normal(size=(30, 1))]
    )
    mixed = design.copy()
    mixed[:, :2] = design[:, :2] @ [[1.0, factor], [1.0, -factor]] + 7  # the same plane, other columns
    plain, turned = (overlaps(columns, ["a", "a", "b", "c"]) for columns in (design, mixed))
    assert [(pair.first, pair.second) for pair in turned] == [(pair.first, pair.second) for pair in plain]
    assert ("a", "b") in [(pair.first, pair.second) for pair in plain]
    assert [pair.share for pair in turned] == pytest.approx([pair.share for pair in plain], rel=1e-5)
    assert all(0 <= pair.share <= 1 for pair in plain)


@given(st.floats(-10, 10), st.floats(0.01, 10), st.floats(-10, 10), FACTOR)
def test_scores_scale_with_the_unit_and_fine_the_far_miss(mean, spread, value, factor):
    plain = interval_score(mean - spread, mean + spread, value, 0.8)[0]
    scaled = interval_score(factor * (mean - spread), factor * (mean + spread), factor * value, 0.8)[0]
    assert scaled == pytest.approx(factor * plain, rel=1e-6)
    inside = interval_score(mean - spread, mean + spread, mean, 0.8)[0]
    assert plain >= inside - 1e-12
