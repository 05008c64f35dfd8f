"""V6, V7, V15 and V16: see SOURCE.md."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from valuation.sell.auction import Case, auction_reserve, auction_revenue, second_highest
from valuation.sell.markdown import markdown_asks


class Uniform:
    """Offers spread evenly from 0 to 1."""

    def odds_above(self, price):
        return np.clip(1 - price, 0.0, 1.0)

    def density(self, price):
        return np.where((price >= 0) & (price <= 1), 1.0, 0.0)

    def quantile(self, probability):
        return probability


class Triangular:
    """F(x) = x^2 on 0 to 1: more bidders pay much."""

    def odds_above(self, price):
        return 1 - np.clip(price, 0.0, 1.0) ** 2

    def density(self, price):
        return 2 * np.clip(price, 0.0, 1.0)

    def quantile(self, probability):
        return probability**0.5


def test_v6_reserve_and_revenue_of_two_bidders():
    offers = [Case(1.0, Uniform())]
    assert auction_reserve(offers, bidders=2) == pytest.approx(1 / 2, abs=1e-6)
    for reserve in (0.0, 0.2, 0.5, 0.8):
        printed = 1 / 3 + reserve**2 - 4 / 3 * reserve**3
        assert auction_revenue(offers, reserve, bidders=2) == pytest.approx(printed, abs=1e-8)
    assert auction_revenue(offers, 0.5, bidders=2) == pytest.approx(5 / 12, abs=1e-8)
    assert auction_revenue(offers, 0.0, bidders=2) == pytest.approx(1 / 3, abs=1e-8)


def test_v6_the_reserve_with_a_value_of_its_own():
    """Myerson: r - (1 - F(r)) / f(r) = own value; for the uniform r = (1 + own value) / 2."""
    assert auction_reserve([Case(1.0, Uniform(), 0.4)], bidders=2) == pytest.approx(0.7, abs=1e-6)


def test_v7_ask_then_mark_down():
    first, second = markdown_asks(Uniform(), 2)
    assert (first, second) == (pytest.approx(2 / 3, abs=1e-6), pytest.approx(1 / 3, abs=1e-6))
    assert first * (1 - first) + second * (first - second) == pytest.approx(1 / 3, abs=1e-9)
    (single,) = markdown_asks(Uniform(), 1)
    assert single == pytest.approx(1 / 2, abs=1e-6)
    assert single * (1 - single) == pytest.approx(1 / 4, abs=1e-9)


@pytest.mark.parametrize("bidders", [1, 2, 5, 20])
def test_v15_the_reserve_does_not_depend_on_the_number_of_bidders(bidders):
    assert auction_reserve([Case(1.0, Uniform())], bidders) == pytest.approx(1 / 2, abs=1e-6)
    assert auction_reserve([Case(1.0, Triangular())], bidders) == pytest.approx(3**-0.5, abs=1e-6)


def test_a_worth_that_the_seller_does_not_know_is_met_by_brute_force():
    """Two cases with bidders of their own: the reserve with the largest average revenue of 20,001 tried."""
    low, high = Case(0.5, Uniform(), 0.1), Case(0.5, Triangular(), 0.3)
    found = auction_reserve([low, high], bidders=3)
    tries = np.linspace(0.1, 0.99, 2001)

    def brings(reserve):
        unsold = sum(case.odds * case.below(reserve) ** 3 * case.unsold for case in (low, high))
        return auction_revenue([low, high], reserve, 3) + unsold

    assert found == pytest.approx(tries[int(np.argmax([brings(one) for one in tries]))], abs=1e-3)


@pytest.mark.parametrize(("bidders", "by_hand"), [(2, -(np.pi**-0.5)), (3, 0.0), (4, None), (5, None), (10, None)])
def test_v16_the_second_highest_of_normal_bids(bidders, by_hand):
    found = second_highest(bidders)
    exact, _ = quad(lambda z: z * norm.cdf(z) ** (bidders - 2) * norm.sf(z) * norm.pdf(z), -10, 10)
    assert found == pytest.approx(bidders * (bidders - 1) * exact, abs=1e-8)
    if by_hand is not None:
        assert found == pytest.approx(by_hand, abs=1e-8)


def test_v7_what_is_left_at_the_end_lifts_every_ask():
    """By hand: with v left the last ask p2 has p1 = 2 p2 - v and 1 = 2 p1 - p2, so p2 = (1 + 2 v) / 3."""
    first, second = markdown_asks(Uniform(), 2, left=0.3)
    assert (first, second) == (pytest.approx((2 + 0.3) / 3, abs=1e-6), pytest.approx(1.6 / 3, abs=1e-6))
