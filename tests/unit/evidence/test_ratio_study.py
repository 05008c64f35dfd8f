"""Ratio study: what it says, what it refuses, and that the figures do not hang on units or on row order."""

import math
import re

import numpy as np
import pytest

from valuation.errors import EvidenceError, TooFewSalesError
from valuation.evidence.ratio_study import (
    coefficient_of_dispersion,
    median_ratio,
    price_related_bias,
    price_related_differential,
    ratio_study,
)


def notes(study):
    return {note.code: note.text for note in study.notes}


@pytest.fixture
def sales():
    rng = np.random.default_rng(5)
    prices = np.round(np.exp(rng.normal(10, 0.6, 40)))
    return np.round(prices * np.exp(rng.normal(0, 0.2, 40))), prices


def test_hand_worked_figures():
    estimates, prices = [80, 100, 150], [100, 100, 100]
    assert median_ratio(estimates, prices) == 1.0
    assert coefficient_of_dispersion(estimates, prices) == pytest.approx(100 * 0.7 / 3)
    assert price_related_differential([10, 30], [20, 20]) == pytest.approx(1.0)
    assert price_related_differential([20, 20], [10, 40]) == pytest.approx(1.25 / 0.8)


def test_ratio_that_rises_evenly_with_the_price_has_a_bias_above_zero():
    prices = np.array([8.0, 16, 32, 64, 128])
    assert price_related_bias(prices * [0.8, 0.9, 1.0, 1.1, 1.2], prices) > 0.05
    assert price_related_bias(prices * [1.2, 1.1, 1.0, 0.9, 0.8], prices) < -0.05
    assert price_related_bias(prices * 0.7, prices) == pytest.approx(0, abs=1e-15)


def test_two_sales_give_the_slope_between_them():
    # Ratios 0.9 and 1.1 around 1.0 at sizes (9 + 10) / 2 and (22 + 20) / 2: a slope of 0.2 over log2(21 / 9.5).
    assert price_related_bias([9, 22], [10, 20]) == pytest.approx(0.2 / np.log2(21 / 9.5))


def test_each_figure_lies_inside_its_interval(sales):
    study = ratio_study(*sales)
    for measure in (
        study.median_ratio,
        study.mean_ratio,
        study.weighted_mean_ratio,
        study.coefficient_of_dispersion,
        study.price_related_differential,
        study.price_related_bias,
    ):
        assert measure.low < measure.value < measure.high
        assert measure.coverage >= 0.95


def test_a_lower_confidence_gives_shorter_intervals(sales):
    wide, narrow = ratio_study(*sales), ratio_study(*sales, confidence=0.5)
    for name in ("median_ratio", "mean_ratio", "coefficient_of_dispersion", "price_related_bias"):
        outer, inner = getattr(wide, name), getattr(narrow, name)
        assert outer.low < inner.low < inner.high < outer.high


def test_same_seed_same_study_and_row_order_does_not_matter(sales):
    estimates, prices = sales
    order = np.random.default_rng(1).permutation(40)
    first, second = ratio_study(estimates, prices), ratio_study(estimates[order], prices[order])
    assert ratio_study(estimates, prices) == first
    a, b = first.coefficient_of_dispersion, second.coefficient_of_dispersion
    assert (a.low, a.high) == (b.low, b.high)
    assert b.value == pytest.approx(a.value, rel=1e-14)
    assert ratio_study(estimates, prices, seed=1) != first


def test_bootstrap_in_batches_is_the_same_as_in_one_draw(sales, monkeypatch):
    whole = ratio_study(*sales)
    monkeypatch.setattr("valuation.evidence.ratio_study.RESAMPLE_CELLS", 40 * 300)
    assert ratio_study(*sales) == whole


def test_currency_and_level_of_the_estimates(sales):
    estimates, prices = sales
    base = ratio_study(estimates, prices)
    other_currency = ratio_study(estimates * 8, prices * 8)  # a power of two: exact
    assert other_currency.coefficient_of_dispersion == base.coefficient_of_dispersion
    assert other_currency.price_related_bias.value == pytest.approx(base.price_related_bias.value, abs=1e-12)
    high = ratio_study(estimates * 1.5, prices)
    assert high.median_ratio.value == pytest.approx(1.5 * base.median_ratio.value)
    assert high.coefficient_of_dispersion.value == pytest.approx(base.coefficient_of_dispersion.value)
    assert high.price_related_differential.value == pytest.approx(base.price_related_differential.value)
    assert high.price_related_bias.value == pytest.approx(base.price_related_bias.value, abs=1e-12)
    assert "run high" in notes(high)["level"]


def test_level_is_read_low_high_or_not_shown(sales):
    estimates, prices = sales
    assert "do not show" in notes(ratio_study(estimates, prices))["level"]
    assert "run low" in notes(ratio_study(estimates * 0.5, prices))["level"]


def test_regressive_and_progressive_estimates_are_named():
    rng = np.random.default_rng(3)
    prices = np.exp(rng.normal(10, 1.0, 80))
    wobble = np.exp(rng.normal(0, 0.05, 80))
    falling = notes(ratio_study(prices**0.8 * np.exp(2) * wobble, prices))
    rising = notes(ratio_study(prices**1.2 * np.exp(-2) * wobble, prices))
    assert "expensive vehicles are estimated too low" in falling["price_bias"]
    assert "expensive vehicles are estimated too low" in falling["price_differential"]
    assert "expensive vehicles are estimated too high" in rising["price_bias"]
    assert "expensive vehicles are estimated too high" in rising["price_differential"]


def test_never_called_compliant_and_always_without_a_range(sales):
    said = notes(ratio_study(*sales))
    assert "no standard range" in said["no_standard_range"]
    assert "neither pass nor fail" in said["no_standard_range"]
    assert not re.search("complian|acceptable|within the standard", " ".join(said.values()))
    assert "small_sample" not in said


def test_small_sample_is_said_and_the_median_interval_opens():
    study = ratio_study([9, 10, 11, 13, 12], [10, 10, 12, 12, 13])
    assert (study.median_ratio.low, study.median_ratio.high) == (0.0, math.inf)
    assert "too few for an interval" in notes(study)["level"]
    assert "5 sales say little" in notes(study)["small_sample"]


def test_outliers_are_named_farthest_first_and_kept():
    ratio = np.r_[np.linspace(0.9, 1.1, 21), 3.0, 0.1, 5.0]
    names = [f"Lot {i}" for i in range(24)]
    study = ratio_study(ratio * 100, np.full(24, 100.0), names=names)
    assert [outlier.name for outlier in study.outliers] == ["Lot 23", "Lot 21", "Lot 22"]
    assert study.n == 24
    assert "Lot 23 (5.00)" in notes(study)["ratio_outliers"]
    assert "kept in" in notes(study)["ratio_outliers"]
    unnamed = ratio_study(ratio * 100, np.full(24, 100.0))
    assert unnamed.outliers[0].name == "row 24"


@pytest.mark.parametrize(("last", "named"), [(1.23, 0), (1.235, 1)])
def test_outlier_fence_by_hand(last, named):
    # Twelve ratios, .95 to 1.05 and one more: quartiles at positions 3.25 and 9.75 are .9725 and 1.0375, so the upper
    # fence lies at 1.0375 + 3 x .065 = 1.2325.
    ratio = np.r_[np.linspace(0.95, 1.05, 11), last]
    assert len(ratio_study(ratio, np.ones(12)).outliers) == named


def test_all_at_one_price_leaves_the_bias_out_and_says_so():
    same = ratio_study([100, 100, 100], [100, 100, 100])
    assert same.price_related_bias is None
    assert "one price" in notes(same)["price_bias"]
    assert "very_even" in notes(same)
    with pytest.raises(EvidenceError, match=r"Cannot say whether the ratio changes.*one price \(100\.00\).*add some"):
        price_related_bias([100, 100], [100, 100])


@pytest.mark.parametrize("bad", [0, -5, math.nan, math.inf])
def test_amounts_that_are_none_are_refused_by_row(bad):
    with pytest.raises(EvidenceError, match=r"Cannot compare estimates with prices: row 2: .*above 0\. Mend"):
        median_ratio([10, bad, 10], [10, 10, 10])
    with pytest.raises(EvidenceError, match="row 3"):
        ratio_study([10, 10, 10], [10, 10, bad])


def test_a_long_list_of_bad_rows_stops_at_ten():
    with pytest.raises(EvidenceError, match="and 15 more"):
        median_ratio([-1] * 25, [10] * 25)


def test_lengths_names_and_settings_are_checked():
    with pytest.raises(EvidenceError, match="3 estimates with 2 prices"):
        median_ratio([1, 2, 3], [1, 2])
    with pytest.raises(EvidenceError, match="3 sales with 1 names"):
        ratio_study([1, 2, 3], [1, 2, 3], names=["a"])
    with pytest.raises(EvidenceError, match="Cannot use 95 as the confidence"):
        ratio_study([1, 2, 3], [1, 2, 3], confidence=95)
    with pytest.raises(EvidenceError, match="50 resamples: at least 200"):
        ratio_study([1, 2, 3], [1, 2, 3], resamples=50)


@pytest.mark.parametrize(
    ("figure", "found", "needed"),
    [
        (median_ratio, 0, 1),
        (coefficient_of_dispersion, 1, 2),
        (price_related_differential, 1, 2),
        (price_related_bias, 1, 2),
        (ratio_study, 2, 3),
    ],
)
def test_too_few_sales_are_refused_with_both_counts(figure, found, needed):
    with pytest.raises(TooFewSalesError, match=f"{found} sales found, {needed} needed"):
        figure([10] * found, [11] * found)
