"""V1, V4, V6, V7, V13 and V14: see SOURCE.md."""

import math

import numpy as np
import pytest
from scipy.special import betaln, gammaln

from valuation.regression.distribution import PriceDistribution
from valuation.sell.asking import markdown_asks
from valuation.sell.auction import auction_reserve, auction_revenue
from valuation.sell.waiting import PricedOffers, reservation_price


class Uniform:
    """Offers spread evenly from 0 to ``top``."""

    def __init__(self, top=1.0):
        self.top = top

    def mean(self):
        return self.top / 2

    def odds_above(self, price):
        return min(max(1 - price / self.top, 0.0), 1.0)

    def expected_above(self, price):
        if price < 0:
            return self.top / 2 - price
        return max(self.top - price, 0.0) ** 2 / (2 * self.top)

    def quantile(self, probability):
        return self.top * probability


class Exponential:
    def __init__(self, mean):
        self._mean = mean

    def mean(self):
        return self._mean

    def odds_above(self, price):
        return math.exp(-max(price, 0.0) / self._mean)

    def expected_above(self, price):
        return self._mean * math.exp(-price / self._mean) if price >= 0 else self._mean - price

    def quantile(self, probability):
        return -self._mean * math.log1p(-probability)


class Discrete:
    def __init__(self, values, odds):
        self.values, self.odds = values, odds

    def mean(self):
        return float(self.odds @ self.values)

    def odds_above(self, price):
        return float(self.odds[self.values > price].sum())

    def expected_above(self, price):
        return float(self.odds @ np.maximum(self.values - price, 0.0))

    def quantile(self, probability):
        return float(self.values[np.searchsorted(np.cumsum(self.odds), probability)])


def test_v1_the_reservation_wage_of_mccall():
    """A wage w for ever is worth w / (1 - beta) now; waiting earns 25 a period."""
    n, a, b, beta, pay = 50, 200, 100, 0.99, 25.0
    k = np.arange(n + 1)
    odds = np.exp(gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1) + betaln(k + a, n - k + b) - betaln(a, b))
    wages = np.linspace(10, 60, n + 1)
    worth = reservation_price(Discrete(wages / (1 - beta), odds), cost_per_offer=-pay, discount=beta)
    assert (1 - beta) * worth == pytest.approx(47.316499766546215, rel=2e-8)


@pytest.mark.parametrize(("cost", "price"), [(0.02, 0.8), (0.08, 0.6), (0.125, 0.5)])
def test_v4_uniform_offers(cost, price):
    assert reservation_price(Uniform(), cost) == pytest.approx(price, abs=1e-9)


def test_v6_reserve_and_revenue_of_two_bidders():
    offers = Uniform()
    assert auction_reserve(offers, own_value=0.0) == pytest.approx(1 / 2, abs=1e-6)
    for reserve in (0.0, 0.2, 0.5, 0.8):
        printed = 1 / 3 + reserve**2 - 4 / 3 * reserve**3
        assert auction_revenue(offers, reserve, bidders=2) == pytest.approx(printed, abs=1e-8)
    assert auction_revenue(offers, 0.5, bidders=2) == pytest.approx(5 / 12, abs=1e-8)
    assert auction_revenue(offers, 0.0, bidders=2) == pytest.approx(1 / 3, abs=1e-8)


def test_v6_the_reserve_with_a_value_of_its_own():
    """Myerson: r - (1 - F(r)) / f(r) = own value; for the uniform r = (1 + own value) / 2."""
    assert auction_reserve(Uniform(), own_value=0.4) == pytest.approx(0.7, abs=1e-6)


def test_v7_ask_then_mark_down():
    first, second = markdown_asks(Uniform(), 2)
    assert (first, second) == (pytest.approx(2 / 3, abs=1e-6), pytest.approx(1 / 3, abs=1e-6))
    assert first * (1 - first) + second * (first - second) == pytest.approx(1 / 3, abs=1e-9)
    (single,) = markdown_asks(Uniform(), 1)
    assert single == pytest.approx(1 / 2, abs=1e-6)
    assert single * (1 - single) == pytest.approx(1 / 4, abs=1e-9)


def test_v13_log_normal_offers():
    """V8 of deal_profit turned round: log X has mean ln 42 + .04 and deviation .2 sqrt(.5)."""
    location = math.log(42) + (0.1 - 0.2**2 / 2) * 0.5
    offers = PricedOffers(PriceDistribution.log_normal(location, 0.2 * math.sqrt(0.5)))
    assert reservation_price(offers, 5.003443197) == pytest.approx(40, abs=1e-7)


def test_v14_exponential_offers():
    assert reservation_price(Exponential(100.0), 5.0) == pytest.approx(299.573, abs=0.0005)
