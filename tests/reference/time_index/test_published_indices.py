"""The consumer price index against published annual averages."""

import numpy as np
import pytest

from valuation.evidence.price_index import consumer_price_index


@pytest.mark.parametrize(
    ("year", "printed", "half_unit"),
    [
        # U.S. Bureau of Labor Statistics, annual averages as quoted on the pages that SOURCE.md names.
        (1913, 9.9, 0.05),
        (1950, 24.1, 0.05),
        (1970, 38.8, 0.05),
        (1980, 82.4, 0.05),
        (1990, 130.7, 0.05),
        (2000, 172.2, 0.05),
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
