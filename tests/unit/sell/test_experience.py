"""What the shop's own finished talks teach about asks."""

import math

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from valuation.build.terms import SaleTerms
from valuation.sell.asking import TEN_PERCENT
from valuation.sell.experience import COUNTS_FOR, DOUBT, FinishedTalks, learned_terms


def talks(count, under, slope, seed=3):
    """Sales so far under the ask, with buyers who fall by so many percent for each percent of ask."""
    random = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        over = random.uniform(1.0, 1.5)
        weeks = random.uniform(4, 20)
        buyers = random.poisson(1.5 * weeks * over**-slope)
        found.append(FinishedTalks(100.0, 100.0 * over, 100.0 * over * (1 - under), int(buyers), weeks))
    return found


def test_few_talks_leave_common_practice_as_it_is():
    assert learned_terms(SaleTerms(), talks(4, 0.05, 3.0)) == (SaleTerms(), ())


def test_the_room_is_the_mean_of_the_talks_and_of_common_practice_as_three():
    found, notes = learned_terms(SaleTerms(), talks(6, 0.05, 3.0))
    expected = (6 * math.log(0.95) + COUNTS_FOR * math.log(0.85)) / 9
    assert found.settle_under_ask_percent == pytest.approx(100 * (1 - math.exp(expected)))
    assert "6 finished talks" in notes[0]


@pytest.mark.parametrize("slope", [0.5, 3.0, 8.0])
def test_many_talks_find_how_strongly_an_ask_keeps_buyers_away(slope):
    found, _ = learned_terms(SaleTerms(), talks(400, 0.1, slope))
    assert -math.log1p(-found.buyers_lost_percent / 100) / TEN_PERCENT == pytest.approx(slope, rel=0.25)


def test_the_steepness_is_the_mode_that_a_general_search_finds():
    few = talks(9, 0.1, 6.0)
    found, _ = learned_terms(SaleTerms(), few)
    over = np.array([math.log(one.asked / one.estimate) for one in few])
    weeks, came = np.array([one.weeks for one in few]), np.array([one.buyers for one in few])
    usual = -math.log1p(-0.25) / TEN_PERCENT

    def loss(log_slope):
        rate = weeks * np.exp(-math.exp(log_slope) * over)
        level = came.sum() / rate.sum()
        likelihood = (came * np.log(level * rate) - level * rate).sum()
        return -likelihood + (log_slope - math.log(usual)) ** 2 / (2 * DOUBT**2)

    best = math.exp(minimize_scalar(loss, bounds=(-3, 4), method="bounded", options={"xatol": 1e-10}).x)
    assert found.buyers_lost_percent == pytest.approx(100 * (1 - math.exp(-TEN_PERCENT * best)), rel=1e-5)


def test_wild_talks_stay_within_what_an_ask_can_do():
    wild = [FinishedTalks(100.0, 50.0 + 20 * i, 300.0, 40 * (i % 2), 1.0) for i in range(8)]
    found, _ = learned_terms(SaleTerms(), wild)
    assert 0 <= found.settle_under_ask_percent < 100
    assert 1 <= found.buyers_lost_percent <= 90
