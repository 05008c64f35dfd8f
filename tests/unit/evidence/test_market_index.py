"""Indices made from sales: identities and refusals."""

import math

import numpy as np
import pandas as pd
import pytest

from valuation.errors import EvidenceError, TooFewSalesError
from valuation.evidence.market_index import arithmetic_repeat_sales, geometric_repeat_sales, time_dummy_index

METHODS = [geometric_repeat_sales, arithmetic_repeat_sales]


def made_market(seed=0, items=60):
    """Items sold in years 1 to 4 whose prices follow a known index with noise."""
    rng = np.random.default_rng(seed)
    level = np.array([1.0, 1.2, 0.9, 1.5])
    rows = [(f"item {i}", year) for i in range(items) for year in sorted(rng.choice(4, 2, replace=False))]
    worth = dict(zip([f"item {i}" for i in range(items)], np.exp(rng.normal(10, 0.5, items)), strict=True))
    prices = [worth[item] * level[year] * math.exp(rng.normal(0, 0.05)) for item, year in rows]
    return [item for item, _ in rows], [2020 + year for _, year in rows], prices, 100 * level


@pytest.mark.parametrize("method", METHODS)
def test_known_index_is_recovered(method):
    items, years, prices, truth = made_market()
    index = method(items, years, prices)
    assert index.periods == (2020, 2021, 2022, 2023)
    assert index.values == pytest.approx(truth, rel=0.05)
    assert index.n == 60
    assert [note.code for note in index.notes] == ["repeat_sales_unchanged"]


def test_two_periods_geometric_is_the_geometric_mean_of_the_relatives():
    items, years = ["a", "b", "c"] * 2, [1] * 3 + [2] * 3
    index = geometric_repeat_sales(items, years, [10, 20, 30, 20, 30, 30])
    assert index.values[1] == pytest.approx(100 * (2 * 1.5 * 1) ** (1 / 3))


def test_two_periods_arithmetic_is_the_ratio_of_totals():
    items, years = ["a", "b", "c"] * 2, [1] * 3 + [2] * 3
    index = arithmetic_repeat_sales(items, years, [10, 20, 30, 20, 30, 30])
    assert index.values[1] == pytest.approx(100 * 80 / 60)
    assert index.low is None


@pytest.mark.parametrize("method", METHODS)
def test_currency_row_order_and_kind_of_container_do_not_matter(method):
    items, years, prices, _ = made_market(seed=2)
    base = method(items, years, prices)
    order = np.random.default_rng(1).permutation(len(items))
    table = pd.DataFrame({"item": items, "year": years, "price": prices}).iloc[order]
    assert method(table["item"], table["year"], table["price"] * 3.7).values == pytest.approx(base.values, rel=1e-10)


def test_intervals_hold_the_estimate_and_mostly_the_truth():
    held = 0
    for seed in range(20):
        items, years, prices, truth = made_market(seed)
        index = geometric_repeat_sales(items, years, prices)
        assert all(low <= value <= high for low, value, high in zip(index.low, index.values, index.high, strict=True))
        held += sum(low <= t <= high for low, t, high in zip(index.low[1:], truth[1:], index.high[1:], strict=True))
    assert held >= 51  # of 60; fewer would have probability under 1 in 500 at 95 % each


def test_one_pair_leaves_the_interval_open():
    index = geometric_repeat_sales(["a", "a"], [1, 2], [100, 130])
    assert index.values == pytest.approx((100, 130))
    assert (index.low[1], index.high[1]) == (0.0, math.inf)


@pytest.mark.parametrize("method", METHODS)
def test_repeat_sales_refusals(method):
    with pytest.raises(TooFewSalesError, match="none of an item sold before"):
        method(["a", "b"], [1, 2], [1, 2])
    with pytest.raises(EvidenceError, match="b sold twice within a period"):
        method(["a", "a", "b", "b"], [1, 2, 1, 1], [1, 2, 1, 2])
    with pytest.raises(EvidenceError, match="Cannot set 3, 4 against 1: no chain"):
        method(["a", "a", "b", "b"], [1, 2, 3, 4], [1, 2, 1, 2])
    with pytest.raises(EvidenceError, match=r"row 2: .*above 0"):
        method(["a", "a"], [1, 2], [1, -2])
    with pytest.raises(EvidenceError, match="3 items and 2 prices"):
        method(["a", "a", "b"], [1, 2], [1, 2])
    with pytest.raises(EvidenceError, match="3 periods and 2 prices"):
        method(["a", "a"], [1, 2, 3], [1, 2])
    with pytest.raises(EvidenceError, match="row 2 without a period"):
        method(["a", "a"], [1, None], [1, 2])


def test_chain_through_a_middle_period_counts_as_linked():
    index = geometric_repeat_sales(["a", "a", "b", "b"], [1, 2, 2, 3], [10, 20, 5, 15])
    assert index.values == pytest.approx((100, 200, 600))


def test_arithmetic_levels_stay_positive_in_a_wild_market():
    items, periods = ["a", "a", "b", "b", "c", "c"], [1, 2, 2, 3, 1, 3]
    index = arithmetic_repeat_sales(items, periods, [1000, 1, 1000, 1, 1, 1000])
    assert all(value > 0 for value in index.values)


def test_time_dummies_alone_say_that_the_mix_counts():
    index = time_dummy_index([100, 400, 220, 440], [2020, 2020, 2021, 2021])
    assert [note.code for note in index.notes] == ["index_mix"]
    assert index.low[1] < index.values[1] < index.high[1]


def test_time_dummies_with_controls_remove_the_change_of_mix():
    rng = np.random.default_rng(0)
    year = np.repeat([2020, 2021], 100)
    good = np.r_[rng.random(100) < 0.2, rng.random(100) < 0.8].astype(float)
    prices = np.exp(10 + 0.1 * (year == 2021) + 0.7 * good + rng.normal(0, 0.05, 200))
    held = time_dummy_index(prices, year, controls=good)
    assert held.values[1] == pytest.approx(100 * math.exp(0.1), rel=0.02)
    assert held.notes == ()
    assert time_dummy_index(prices, year).values[1] > 140


def test_time_dummy_refusals():
    with pytest.raises(TooFewSalesError, match="sales of 1 period found, 2 needed"):
        time_dummy_index([1, 2], [2020, 2020])
    with pytest.raises(TooFewSalesError, match="2 sales found, 3 needed"):
        time_dummy_index([1, 2], [2020, 2021], controls=[[1.0], [2.0]])
    with pytest.raises(EvidenceError, match="repeat each other"):
        time_dummy_index([1, 2, 3, 4], [1, 1, 2, 2], controls=[0, 0, 1, 1])
    with pytest.raises(EvidenceError, match="finite number for each sale"):
        time_dummy_index([1, 2, 3, 4], [1, 1, 2, 2], controls=[0, 0, 1, math.nan])
