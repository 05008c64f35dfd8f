"""Laws of selling, for every vehicle and every way of selling it, on the path that users reach."""

import re
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from benchmarks.stated_prices import StatedPrices
from valuation.build.plan import BuildPlan, ShopSettings
from valuation.build.simulation import Simulation
from valuation.build.terms import USUAL_INTEREST, SaleTerms
from valuation.build.three_point import ThreePoint
from valuation.schema.reader import default_schema
from valuation.schema.vehicle import Vehicle
from valuation.sell.bands import price_bands
from valuation.sell.buyers import learned
from valuation.sell.offers import Offer, Talks, answer_offer
from valuation.sell.waiting import wait

DAY = date(2026, 8, 3)
SCHEMA = default_schema()
FEW = Simulation(scenarios=16, shifts=4)
USUAL = SaleTerms()
LAW = settings(max_examples=15, phases=(Phase.explicit, Phase.reuse, Phase.generate))
"""Each example works out bands: looking for a smaller one that fails takes minutes."""


def bands(base=40_000.0, scatter=0.2, unsure=0.08, terms=USUAL, holding=0.0, interest=USUAL_INTEREST):
    market = StatedPrices(SCHEMA, base, scatter=scatter, unsure=unsure, base_date=DAY)
    plan = BuildPlan(
        "sale", Vehicle("find", {}), shop=ShopSettings(holding_per_week=holding, interest_percent=interest), sale=terms
    )
    return price_bands(market, plan, DAY, simulation=FEW)


bases, scatters, doubts = st.floats(500, 500_000), st.floats(0.03, 0.6), st.floats(0.0, 0.4)
markets = st.fixed_dictionaries({"base": bases, "scatter": scatters, "unsure": doubts})
any_terms = st.builds(
    SaleTerms,
    fee_percent=st.floats(0, 12),
    offers_per_month=st.floats(0.02, 60),
    weeks_to_sell=st.floats(0, 120).map(ThreePoint.certain),
    deadline=st.none() | st.integers(1, 400).map(lambda days: DAY + timedelta(days=days)),
    last_resort=st.none() | st.floats(0, 10_000),
    offer_spread_percent=st.floats(0.5, 60),
    settle_under_ask_percent=st.floats(0, 60),
    buyers_lost_percent=st.floats(5, 80),
    auction_bidders=st.integers(2, 20),
    reach_percent=st.floats(20, 300),
)
holdings = st.floats(0, 3_000)


@given(markets, any_terms, holdings)
@LAW
def test_floor_target_and_ask_stand_in_order_and_no_figure_is_absurd(market, terms, holding):
    found = bands(**market, terms=terms, holding=holding)
    assert 0 < found.floor <= found.target <= found.ask
    assert found.expected_weeks is None or 0 <= found.expected_weeks <= 104
    assert all(one.expected_weeks is None or one.expected_weeks <= 104 for one in found.asks)
    most = max(found.estimate, terms.last_resort or 0)
    assert found.ask <= 2 * most
    assert all(
        float(figure.replace(",", "")) <= 2.1 * most + 3000 for figure in re.findall(r"\d[\d,]*", found.sentence)
    )
    assert found.expected_weeks is not None or "would hardly sell within two years" in found.sentence


@given(markets)
@LAW
def test_with_default_settings_the_floor_is_under_the_estimate_the_ask_in_reach_and_the_time_the_usual(market):
    found = bands(**market)
    assert found.floor <= found.estimate
    assert 1.02 <= found.ask / found.estimate <= 1.35
    assert found.expected_weeks <= 2 * USUAL.weeks_to_sell.mean()
    assert found.target == pytest.approx(found.estimate, rel=1e-6)


@given(markets, any_terms, doubts)
@LAW
def test_ignorance_never_lifts_the_floor_over_the_estimate(market, terms, more):
    terms = replace(terms, last_resort=None, reach_percent=100.0)
    wide = bands(**{**market, "unsure": market["unsure"] + more}, terms=terms)
    assert wide.floor <= wide.estimate * (1 + 1e-9)


@given(markets, st.lists(st.floats(0.6, 1.3), max_size=4), st.floats(0.001, 1.3), st.integers(0, 60))
@LAW
def test_an_offer_in_the_lowest_third_of_those_expected_never_raises_the_floor(market, shares, low, days):
    """One that lies higher may, even under the floor: better than most that were to come, it is good news."""
    found = bands(**market)
    day = found.prospect.for_sale + timedelta(days=days)
    earlier = tuple(Offer(share * found.estimate, day) for share in shares)
    answer = answer_offer(found, USUAL, Offer(low * found.estimate, day), earlier=earlier)
    assume(answer.above_share_of_offers <= 1 / 3)
    before = _floor_without(found, earlier, day)
    assert answer.floor <= before * (1 + 1e-9)


def _floor_without(found, earlier, day):
    """The floor on a day after some offers, or after none."""
    if earlier:
        return answer_offer(found, USUAL, earlier[-1], earlier=earlier[:-1], today=day).floor

    prospect, week = found.prospect, found.prospect.weeks_on(day)
    belief = learned(prospect.belief, prospect.sale.buyers, [], week)
    return Talks(prospect, wait(prospect.sale), week, belief, belief).floor()


def test_a_higher_offer_under_the_floor_may_raise_it_and_brute_force_agrees():
    """The exception to the law above is the optimum's own: where the worth is little known, such an offer is good news.

    Beside it ten buyers to come worked out backwards on a grid, by sums in place of closed forms: an offer that is
    rightly refused leaves waiting worth more than before.
    """
    found = bands(scatter=0.2, unsure=0.4)
    day = found.prospect.for_sale
    before = _floor_without(found, (), day)
    under = Offer(0.97 * before, day)
    assert answer_offer(found, USUAL, under).floor > before

    doubt, spread, way_out = 0.4, 0.15, 0.8
    steps = np.linspace(-8, 8, 16_001)
    odds = np.exp(-(steps**2) / 2) / np.exp(-(steps**2) / 2).sum()
    waiting = [way_out]  # as a share of the worth believed, after ten buyers, nine, and so on
    for heard in reversed(range(10)):
        variance = 1 / (1 / doubt**2 + heard / spread**2)
        offer = np.hypot(np.sqrt(variance), spread) * steps
        refused = np.log(waiting[-1]) + offer * variance / (variance + spread**2)
        waiting.append(float(np.maximum(np.exp(offer), np.exp(refused)) @ odds))
    rightly_refused = (offer < refused) & (np.exp(offer) < waiting[-1])
    assert (np.exp(refused)[rightly_refused] > waiting[-1]).any()


@given(markets, st.floats(0.6, 1.3), st.integers(0, 150))
@LAW
def test_a_week_without_an_offer_never_raises_the_floor(market, share, days):
    found = bands(**market)
    offer = Offer(share * found.estimate, DAY)
    floors = [
        answer_offer(found, USUAL, offer, today=DAY + timedelta(days=passed)).floor for passed in (days, days + 7)
    ]
    assert floors[1] <= floors[0] * (1 + 1e-9)


@given(markets, any_terms, st.integers(10, 300), st.integers(1, 100))
@LAW
def test_nearer_the_deadline_the_floor_falls(market, terms, days, later):
    terms = replace(terms, last_resort=None)
    near, far = (
        bands(**market, terms=replace(terms, deadline=DAY + timedelta(days=one))).floor for one in (days, days + later)
    )
    assert near <= far * (
        1 + 5e-3
    )  # the steps of time are of another length: up to some weeks for many buyers and a long sale
    found = bands(**market, terms=replace(terms, deadline=DAY + timedelta(days=days)))
    floors = [one.floor for one in found.floors]
    assert floors == sorted(floors, reverse=True)


@given(markets, any_terms, holdings, st.floats(1, 3_000))
@LAW
def test_costlier_holding_lowers_the_floor(market, terms, holding, more):
    cheap, costly = (bands(**market, terms=terms, holding=one).floor for one in (holding, holding + more))
    assert costly <= cheap * (1 + 1e-9)


@given(markets, any_terms, holdings, st.floats(0, 30), st.floats(0.1, 30))
@LAW
def test_dearer_money_lowers_the_floor(market, terms, holding, interest, more):
    cheap, dear = (
        bands(**market, terms=terms, holding=holding, interest=one).floor for one in (interest, interest + more)
    )
    assert dear <= cheap * (1 + 1e-9)


@given(markets, any_terms, st.floats(1.05, 3))
@LAW
def test_more_buyers_than_usual_raise_the_floor(market, terms, factor):
    """``reach_percent`` says that more come than usual; ``offers_per_month`` only says what is usual."""
    terms = replace(terms, reach_percent=min(terms.reach_percent, 300))
    few, many = (bands(**market, terms=replace(terms, reach_percent=terms.reach_percent * one)) for one in (1, factor))
    assert many.floor >= few.floor * (1 - 1e-3)  # two buyers in one step of time count as one


@given(markets, any_terms, holdings, st.floats(0.01, 100))
@LAW
def test_money_scales(market, terms, holding, rate):
    here = bands(**market, terms=terms, holding=holding)
    there = bands(
        **{**market, "base": market["base"] * rate},
        terms=replace(terms, last_resort=None if terms.last_resort is None else terms.last_resort * rate),
        holding=holding * rate,
    )
    for name in ("floor", "target", "ask"):
        assert getattr(there, name) == pytest.approx(rate * getattr(here, name), rel=1e-5)


@given(markets, any_terms, st.floats(0, 1e6))
@LAW
def test_the_way_out_bounds_the_floor_from_below(market, terms, holding):
    found = bands(**market, terms=terms, holding=holding)
    [auction] = [way for way in found.ways if way.name == "auction without reserve"]
    assert found.floor >= auction.price * terms.auction_kept / terms.kept * (1 - 1e-9)


@given(markets, st.lists(st.floats(0.3, 2.5), max_size=5), st.floats(1e-6, 1e6), st.integers(0, 400), st.booleans())
@LAW
def test_every_answer_is_a_number_to_say_and_a_counter_gains_half_a_percent(market, shares, last, days, one_buyer):
    found = bands(**market)
    day, who = DAY + timedelta(days=days), "Ruth" if one_buyer else ""
    earlier = tuple(Offer(share * found.estimate, DAY, who) for share in shares)
    answer = answer_offer(found, USUAL, Offer(max(last * found.estimate, 0.01), day, who), earlier=earlier)
    assert answer.value_of_answer >= max(answer.floor, answer.amount if answer.answer == "accept" else 0) * (1 - 1e-9)
    assert 0.2 * found.estimate < answer.floor < 5 * found.estimate
    if answer.answer == "counter":
        assert answer.counter >= answer.floor * (1 - 1e-9)
        assert answer.value_of_answer >= 1.005 * max(answer.floor, answer.amount) * (1 - 1e-9)
        assert f"say {answer.counter:,.0f}" in answer.sentence
    if answer.answer == "hold":
        assert answer.amount < answer.floor
        assert answer.hold_until >= DAY
        assert " until " in answer.sentence
    if answer.answer == "accept":
        assert answer.amount >= answer.floor
        assert answer.sentence.endswith("take it.")
