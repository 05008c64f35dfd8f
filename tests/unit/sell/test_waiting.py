"""The value of waiting against recomputations that share no code with it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from valuation.sell import buyers as buyers_module
from valuation.sell.buyers import Belief, Buyers, Heard, learned
from valuation.sell.waiting import Sale, as_usual, wait

WAY_OUT = -0.1
"""Log of what an auction without reserve brings, over the centre of offers."""


@pytest.fixture
def usual():
    return as_usual(Buyers(0.46, math.log(1.1), 6.0), 0.15, WAY_OUT)


@pytest.mark.parametrize("doubt", [0.02, 0.1, 0.2, 0.4])
@pytest.mark.parametrize(("offers", "weeks", "spread"), [(2, 6, 0.1), (1, 8, 0.1), (8, 6, 0.05), (2, 26, 0.3)])
def test_the_usual_seller_gets_the_estimate_in_the_usual_time(doubt, offers, weeks, spread):
    sale = as_usual(Buyers(offers * 12 / 52.18, spread, weeks), doubt, WAY_OUT)
    found = wait(sale)
    assert found.price[0, 0] == pytest.approx(0.0, abs=1e-9)
    assert found.weeks[0, 0] == pytest.approx(weeks, rel=2e-3)
    assert found.value[0, 0] < 0


@pytest.mark.parametrize(("silence", "slack"), [(0.0, 0.0), (0.4, 0.006)])
def test_the_policy_followed_in_simulated_sales_brings_what_is_said(silence, slack, monkeypatch):
    """Worths, buyers and offers are drawn one by one, the belief is kept by its own formulas, the floor is followed.

    Exact where the number of buyers tells nothing; where it does, the belief is kept normal by a first-order step,
    which costs half a percent of the price.
    """
    monkeypatch.setattr(buyers_module, "SILENCE", silence)
    usual = as_usual(Buyers(0.46, math.log(1.1), 6.0), 0.15, WAY_OUT)
    found, spread = wait(usual), usual.buyers.spread
    steps = len(found.times) - 1
    expected = np.array([usual.buyers.expected(float(t)) for t in found.times])
    random, sales = np.random.default_rng(20261126), 60_000
    worth, mean = random.normal(0, usual.doubt, sales), np.zeros(sales)
    heard, open_ = np.zeros(sales, dtype=int), np.ones(sales, dtype=bool)
    price, weeks = np.full(sales, np.nan), np.zeros(sales)
    pull = buyers_module.SILENCE / math.hypot(spread, usual.doubt)
    for i in range(steps):
        width, rate = found.times[1], expected[i + 1] - expected[i]
        news = pull / (1 + expected[i])
        variance = 1 / (1 / usual.doubt**2 + np.minimum(heard, 10) / spread**2)
        out = open_ & (found.value[i, np.minimum(heard, 10)] <= usual.way_out)
        price[out], open_ = (mean + usual.way_out)[out], open_ & ~out
        # Buyers come more often for a vehicle that is worth more than believed: the assumed pull of its worth.
        odds = -math.expm1(-rate) * np.exp(news * (worth - mean) - news**2 * variance / 2)
        comes = open_ & (random.uniform(size=sales) < odds)
        offer = worth + usual.buyers.centre + random.normal(0, spread, sales)
        after = 1 / (1 / variance + 1 / spread**2)
        moved = mean + after * ((offer - usual.buyers.centre - mean) / spread**2 + news * math.exp(-rate))
        taken = comes & (offer >= moved + found.value[i + 1, np.minimum(heard + 1, 10)])
        weeks[open_] += width
        price[taken] = offer[taken]
        mean = np.where(comes, moved, mean - variance * news * -math.expm1(-rate))
        heard, open_ = heard + comes, open_ & ~taken
    price[open_] = (mean + usual.end)[open_]
    error = price.std() / math.sqrt(sales)
    assert price.mean() == pytest.approx(0.0, abs=3 * error + slack)
    assert weeks.mean() == pytest.approx(6.0, abs=0.06 if silence == 0 else 0.15)


def brute_value(sale, step, heard, times, expected, memory):
    """Value of waiting over the belief's mean by numerical integration, one state at a time."""
    if step == len(times) - 1:
        return sale.end
    if (step, heard) in memory:
        return memory[step, heard]
    spread, variance = sale.buyers.spread, 1 / (1 / sale.doubt**2 + heard / sale.buyers.spread**2)
    comes = -math.expm1(expected[step] - expected[step + 1])
    news = sale.buyers.news(expected[step], sale.doubt)
    next_one = brute_value(sale, step + 1, heard + 1, times, expected, memory)
    silent = brute_value(sale, step + 1, heard, times, expected, memory)
    after = 1 / (1 / variance + 1 / spread**2)
    centre, scatter = sale.buyers.centre + news * variance, math.sqrt(variance + spread**2)

    def best(offer):
        moved = after * ((offer - sale.buyers.centre) / spread**2 + news * (1 - comes))
        return max(offer, moved + next_one) * norm.pdf(offer, centre, scatter)

    low, high = centre - 8 * scatter, centre + 8 * scatter
    met = sum(quad(best, low + i * (high - low) / 16, low + (i + 1) * (high - low) / 16)[0] for i in range(16))
    value = comes * met + (1 - comes) * (silent - variance * news * comes) - sale.weekly_cost * times[1]
    memory[step, heard] = max(value, sale.way_out)
    return memory[step, heard]


def test_the_recursion_equals_one_by_numerical_integration(usual):
    usual = replace(usual, step=2.0)
    found = wait(usual)
    steps = len(found.times) - 1
    assert steps <= 10
    expected = [usual.buyers.expected(float(time)) for time in found.times]
    assert found.value[0, 0] == pytest.approx(brute_value(usual, 0, 0, found.times, expected, {}), abs=1e-7)


def test_with_a_worth_that_is_known_and_buyers_who_never_tire_it_is_the_textbook_reservation_price(monkeypatch):
    """McCall (1970): rate times E[max(X - r, 0)] = cost of a week. For 2 offers a month, 6 weeks and 10 % scatter the
    floor lies about 7 % under the price that is expected."""
    monkeypatch.setattr(buyers_module, "HALVES_IN", 1e6)
    monkeypatch.setattr("valuation.sell.waiting.LONGEST", 60.0)
    monkeypatch.setattr("valuation.sell.waiting.MOST_STEPS", 4000)
    monkeypatch.setattr("valuation.sell.waiting.FINEST", 0.05)
    spread, rate = math.log(1.1), 2 * 12 / 52.18
    sale = as_usual(Buyers(rate, spread, 6.0), 1e-4, -1.0)
    share = 1 / (rate * 6.0)
    cut = norm.isf(share)
    excess = spread * (norm.pdf(cut) / share - cut)
    assert wait(sale).value[0, 0] == pytest.approx(-excess, rel=0.03)
    assert excess == pytest.approx(0.066, abs=0.002)
    assert sale.weekly_cost == pytest.approx(rate * excess * share, rel=0.03)


@pytest.mark.parametrize("weeks", [8.0, 40.0, 120.0])
@pytest.mark.parametrize("doubt", [0.25, 0.45])
def test_many_times_the_usual_buyers_never_lower_what_waiting_is_worth(weeks, doubt):
    """Where far more are due in a step of time than can be heard in it, as where they hardly come at all."""
    usual = as_usual(Buyers(8.0, math.log(1.5), weeks), doubt, WAY_OUT)
    reached = [replace(usual, buyers=replace(usual.buyers, per_week=8.0 * times)) for times in (0.1, 0.3, 1, 2, 4, 9)]
    for length in (usual.weeks, weeks / 4):
        values = [float(wait(replace(one, weeks=length)).value[0, 0]) for one in reached]
        assert values == sorted(values)


def test_a_normal_mean_is_learned_by_the_conjugate_update():
    """Raiffa and Schlaifer: precisions add, means average by them; the weight of a sure offer is 1."""
    buyers = Buyers(0.5, 0.1, 8.0, -0.05)
    found = learned(Belief(10.0, 0.2), buyers, [Heard(math.exp(10.03), 0.0)], 0.0)
    counts = buyers_module.serious((10.03 + 0.05 - 10.0) / math.hypot(0.1, 0.2))
    precision = 25 + counts * 100
    assert found.doubt == pytest.approx(precision**-0.5)
    lesson = counts * (100 * 0.08 + buyers_module.SILENCE / math.hypot(0.1, 0.2))
    assert found.mean == pytest.approx(10.0 + lesson / precision)
    assert 0.9 < counts < 1


def test_what_comes_and_what_stays_away_teach_nothing_on_average():
    """Drawn from the belief itself, buyers and silence leave its mean where it was."""
    buyers, doubt = Buyers(0.5, 0.1, 8.0), 0.15
    gained = sum(
        buyers.news(buyers.expected(week), doubt) * (buyers.expected(week + 0.01) - buyers.expected(week))
        for week in np.arange(0, 12, 0.01)
    )
    assert gained == pytest.approx(buyers.silence(buyers.expected(12.0), doubt), rel=2e-3)


@pytest.mark.parametrize("week", [1.0, 6.0, 18.0])
def test_weeks_without_an_offer_lower_the_belief_and_no_more_than_is_sensible(week):
    buyers, prior = Buyers(0.46, 0.1, 6.0), Belief(0.0, 0.15)
    means = [learned(prior, buyers, [], weeks).mean for weeks in (0.0, week / 2, week)]
    assert 0 == means[0] > means[1] > means[2] > -prior.doubt


def test_an_offer_far_off_moves_the_belief_less_than_one_that_may_be_meant():
    buyers, prior = Buyers(0.46, 0.1, 6.0), Belief(0.0, 0.15)
    lowest = [learned(prior, buyers, [Heard(share, 0.0)], 0.0).mean for share in (0.9, 0.7, 0.3, 0.001)]
    assert lowest[1] < lowest[0]
    assert lowest[1] < lowest[2] < lowest[3]
    assert learned(prior, buyers, [Heard(1e12, 0.0)], 0.0).mean < 0.2


def test_the_way_out_is_taken_when_waiting_costs_more(usual):
    found = wait(replace(usual, weekly_cost=10.0))
    assert found.value[0, 0] == usual.way_out
    assert (found.weeks[0, 0], found.out[0, 0]) == (0.0, 1.0)


def test_the_last_day_brings_what_was_said(usual):
    sale: Sale = replace(usual, weeks=0.0, end=-0.02)
    assert wait(sale).value[0, 0] == pytest.approx(-0.02)
