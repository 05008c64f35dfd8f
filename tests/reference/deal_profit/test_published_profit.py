"""V8, V9, V12, T5, and the simulation against closed forms: see SOURCE.md."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from benchmarks.stated_prices import StatedPrices
from valuation.build.plan import BuildPlan, ShopSettings, Step
from valuation.build.simulation import Simulation
from valuation.build.terms import Event, Goal, Purchase, SaleTerms
from valuation.build.three_point import Overrun, ThreePoint
from valuation.paths.deal_path import prepare
from valuation.paths.most_to_pay import most_to_pay
from valuation.paths.profit import Deal
from valuation.paths.worths import percent_effect
from valuation.regression.distribution import PriceDistribution
from valuation.schema.reader import default_schema
from valuation.schema.vehicle import Vehicle

AS_OF = date(2026, 1, 1)


def log_normal(mu, sigma):
    return PriceDistribution.log_normal(mu, sigma)


def certain_deal(mu, sigma, kept=1.0, spent=0.0, purchase=Purchase()):  # noqa: B008
    ones = np.ones(16)
    return Deal(log_normal(mu, sigma), ones[:, None], kept, spent * ones, ones, purchase, shifts=8)


def test_v8_odds_of_loss_and_expected_gain_over_the_outlay():
    deal = certain_deal(math.log(42) + (0.1 - 0.02) * 0.5, 0.2 * math.sqrt(0.5), spent=40.0)
    assert 1 - deal.odds_of_loss(0.0).value == pytest.approx(0.7349, abs=0.00005)
    gain = float(deal.prices.expected_above(40.0)[0])
    assert gain == pytest.approx(5.00344, abs=0.000005)


def test_v9_mean_median_and_variation_of_a_log_normal_price():
    deal = certain_deal(10.0, 0.5)
    assert deal.expected_price() == pytest.approx(24959.26, abs=0.005)
    assert deal.price_quantile(0.5) == pytest.approx(22026.47, abs=0.005)
    # The mean of the square is the mean of a log-normal of twice the location and scale.
    square = certain_deal(20.0, 1.0).expected_price()
    assert math.sqrt(square / deal.expected_price() ** 2 - 1) == pytest.approx(0.53294, abs=0.000005)


def test_v12_most_to_pay_so_sure_and_on_average():
    deal = certain_deal(math.log(60_000), 0.2, kept=0.92, spent=25_000)
    sure = most_to_pay(deal, Goal(15, sure_percent=80))
    exact = 0.92 * 60_000 * math.exp(0.2 * ndtri(0.2)) / 1.15 - 25_000
    assert exact == pytest.approx(15563.83, abs=0.005)
    assert sure.price == math.floor(100 * exact) / 100  # a limit is rounded down to the cent, never up
    assert sure.error == 0
    assert sure.odds_at_price == pytest.approx(0.80, abs=1e-6)
    on_average = most_to_pay(deal, Goal(15, sure_percent=None))
    assert on_average.price == pytest.approx(23969.66, abs=0.005)


def test_v12_the_plain_bid_from_the_median_meets_the_margin_only_half_the_time():
    deal = certain_deal(math.log(60_000), 0.2, kept=0.92, spent=25_000)
    bid = 0.92 * 60_000 / 1.15 - 25_000
    assert bid == pytest.approx(23_000)
    assert deal.odds_of_goal(Goal(15), bid).value == pytest.approx(0.5)


def test_t5_percent_of_a_log_effect():
    assert percent_effect(-0.297) == pytest.approx(-25.7, abs=0.05)


# One step of certain cost under a log-normal shared overrun, sold at a log-normal price, nothing else: all is closed.
COST, MEDIAN, SIGMA, TYPICAL, ONE_IN_TEN, FEE = 30_000.0, 45_000.0, 0.25, 1.1, 1.4, 8.0


def overrun_path(simulation):
    market = StatedPrices(default_schema(), MEDIAN, scatter=SIGMA, base_date=AS_OF)
    plan = BuildPlan(
        "one step",
        Vehicle("find", {}),
        (Step("all of it", cost=ThreePoint.certain(COST)),),
        shop=ShopSettings(overrun=Overrun(TYPICAL, ONE_IN_TEN)),
        sale=SaleTerms(fee_percent=FEE, weeks_to_sell=ThreePoint.certain(0.0)),
    )
    return prepare(market, plan, AS_OF, simulation)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_simulated_loss_and_profit_lie_within_their_own_error_of_the_closed_form(seed):
    deal = overrun_path(Simulation(seed=seed)).deal
    tau = math.log(ONE_IN_TEN / TYPICAL) / ndtri(0.9)
    kept = 1 - FEE / 100
    centre = math.log(COST * TYPICAL / kept) - math.log(MEDIAN)
    loss = deal.odds_of_loss(0.0)
    assert abs(loss.value - ndtr(centre / math.hypot(SIGMA, tau))) < 4 * loss.error + 1e-12
    assert loss.error < 0.0005
    profit = deal.expected_profit(0.0)
    closed = kept * MEDIAN * math.exp(SIGMA**2 / 2) - COST * TYPICAL * math.exp(tau**2 / 2)
    assert abs(profit.value - closed) < 4 * profit.error
    assert profit.error < 0.001 * COST


@pytest.mark.parametrize("sure", [60, 75, 90])
def test_simulated_most_to_pay_is_the_closed_form_where_price_and_cost_are_log_normal_together(sure):
    """With margin m and no purchase price the goal has odds Phi((ln(kept M / (m c)) / hypot)); choose m for price 0."""
    tau = math.log(ONE_IN_TEN / TYPICAL) / ndtri(0.9)
    kept = 1 - FEE / 100
    ratio = kept * MEDIAN / (COST * TYPICAL) * math.exp(-ndtri(sure / 100) * math.hypot(SIGMA, tau))
    answer = most_to_pay(overrun_path(Simulation()).deal, Goal(100 * (ratio - 1), sure_percent=sure))
    assert abs(answer.price) < 4 * answer.error + 0.02
    assert answer.error < 60


def test_a_whole_path_agrees_with_plain_monte_carlo_written_apart():
    """Three steps in a row with one person, triangles, an award, holding cost, interest: 400,000 plain draws."""
    market = StatedPrices(
        default_schema(), 40_000, {"awards": {"local": 1.2}, "condition": {"driver": 1.3}}, scatter=0.2, base_date=AS_OF
    )
    steps = tuple(
        Step(name, cost=ThreePoint(1000, 2000, 5000), hours=ThreePoint(60, 100, 200), sets=sets)
        for name, sets in (("one", {}), ("two", {}), ("three", {"condition": "driver"}))
    )
    plan = BuildPlan(
        "three steps",
        Vehicle("find", {"condition": "project"}),
        steps,
        shop=ShopSettings(
            labour_rate=20, crew=1, hours_per_week=25, holding_per_week=50, overhead_per_week=300, bays=2,
            interest_percent=8, overrun=Overrun(1.05, 1.3),
        ),
        purchase=Purchase(fee_percent=10, fees=100),
        sale=SaleTerms(fee_percent=5, fees=200, weeks_to_sell=ThreePoint(2, 4, 12)),
        event=Event("meet", date(2026, 5, 10), 150, {"driver": {"local": 0.4}}),
    )  # fmt: skip
    price = 5000.0
    path = prepare(market, plan, AS_OF, Simulation())

    rng = np.random.default_rng(7)
    draws = 400_000
    cost = rng.triangular(1000, 2000, 5000, (draws, 3)) * 2000 / (8000 / 3)  # the likely figures are the middle
    hours = rng.triangular(60, 100, 200, (draws, 3)) * 100 / 120
    money = cost.sum(axis=1) + 20 * hours.sum(axis=1)
    own = np.log(money).std()  # part of the stated overrun lies in the ranges
    shared = math.sqrt((math.log(1.3 / 1.05) / ndtri(0.9)) ** 2 - own**2)
    factor = 1.05 / (np.median(money) / 12_000) * np.exp(shared * rng.standard_normal(draws))
    assert np.median(money * factor) == pytest.approx(1.05 * 12_000, rel=0.005)
    assert np.quantile(money * factor, 0.9) == pytest.approx(1.3 * 12_000, rel=0.01)
    cost, hours = cost * factor[:, None], hours * factor[:, None]
    ends = hours.cumsum(axis=1) / 25
    weeks = ends[:, -1]
    event_week = (date(2026, 5, 10) - AS_OF).days / 7
    made = weeks <= event_week
    sold = np.where(made, event_week, weeks) + rng.triangular(2, 4, 12, draws)

    def grown(since):
        return 1.08 ** ((sold - since) / (365.25 / 7))

    def evenly(begins, ends):  # money that flows from week to week, in many small parts
        shares = (np.arange(40) + 0.5) / 40
        return sum(grown(begins + share * (ends - begins)) for share in shares) / 40

    begins = ends - hours / 25
    outlay = 200 + 100 * grown(0) + 150 * grown(np.minimum(event_week, sold))
    for i in range(3):
        outlay = outlay + cost[:, i] * grown(0) + 20 * hours[:, i] * evenly(begins[:, i], ends[:, i])
    outlay = outlay + 50 * sold * evenly(0, sold) + 150 * weeks * evenly(0, weeks)
    vehicle = 1.1 * grown(0)
    outlay = outlay + price * vehicle
    award = made & (rng.random(draws) < 0.4)
    sale = 40_000 * 1.3 * np.where(award, 1.2, 1.0) * np.exp(0.2 * rng.standard_normal(draws))
    profit = 0.95 * sale - outlay

    def close(figure, plain, spread):
        return abs(figure.value - plain) < 4 * math.hypot(figure.error, spread / math.sqrt(draws))

    made_share = path.outcome.on_time.mean()
    assert abs(made_share - made.mean()) < 0.01
    assert close(path.deal.expected_profit(price), profit.mean(), profit.std())
    assert close(path.deal.odds_of_loss(price), (profit < 0).mean(), 0.5)
    bad = path.deal.profit_quantile(0.1, price)
    assert bad.value == pytest.approx(np.quantile(profit, 0.1), abs=4 * bad.error + 100)
    answer = most_to_pay(path.deal, Goal(20, sure_percent=70))
    share = (0.95 * sale >= 1.2 * (outlay - (price - answer.price) * vehicle)).mean()
    assert share == pytest.approx(0.70, abs=0.004)


def test_more_scenarios_narrow_the_stated_error():
    few, many = (overrun_path(Simulation(scenarios=n)).deal.odds_of_loss(0.0).error for n in (256, 16384))
    assert many < few / 4


def test_the_same_seed_repeats_to_the_last_bit():
    one, two = (overrun_path(Simulation(seed=5)).deal for _ in range(2))
    assert one.spent.tobytes() == two.spent.tobytes()
    assert one.odds_of_loss(0.0) == two.odds_of_loss(0.0)
    assert replace(one, shifts=4).odds_of_loss(0.0).value == pytest.approx(one.odds_of_loss(0.0).value, rel=1e-12)


def test_odds_of_a_loss_hold_in_a_simulated_market_of_known_truth():
    """The tool knows the effects only so far; nature then draws effects and luck. Losses must come as often as said.

    1,500 finds with random attributes, bought at random prices, each with its own draw of the truth.
    """
    rng = np.random.default_rng(11)
    levels = {"condition": ["project", "runner", "driver"], "paint": ["worn", "presentable", "fresh"]}
    factors = {"condition": {"project": 0.5, "runner": 0.8, "driver": 1.3}, "paint": {"worn": 0.9, "fresh": 1.15}}
    market = StatedPrices(default_schema(), 40_000, factors, scatter=0.2, unsure=0.08, base_date=AS_OF)
    step = Step("finish", cost=ThreePoint.certain(4000), sets={"condition": "driver"})
    said, lost = [], []
    for _ in range(1500):
        found = {name: str(rng.choice(words)) for name, words in levels.items()}
        plan = BuildPlan(
            "build",
            Vehicle("find", found),
            (step,),
            shop=ShopSettings(overrun=Overrun(1.1, 1.4)),
            sale=SaleTerms(fee_percent=5, weeks_to_sell=ThreePoint.certain(0)),
        )
        price = float(rng.uniform(15_000, 55_000))
        said.append(prepare(market, plan, AS_OF, Simulation(scenarios=64)).deal.odds_of_loss(price).value)
        base, condition, paint = 0.08 * rng.standard_normal(3)
        truth = math.log(40_000) + base + math.log(1.3) + condition
        if found["paint"] != "presentable":
            truth += math.log(factors["paint"][found["paint"]]) + paint
        factor = 1.1 * math.exp(math.log(1.4 / 1.1) / ndtri(0.9) * rng.standard_normal())
        outlay = price + factor * 4000
        lost.append(0.95 * math.exp(truth + 0.2 * rng.standard_normal()) < outlay)
    said_odds, came = np.array(said), np.array(lost, dtype=float)
    for low in np.arange(0, 1, 0.2):
        rows = (said_odds >= low) & (said_odds < low + 0.2)
        expected = said_odds[rows].mean()
        error = math.sqrt(expected * (1 - expected) / rows.sum())
        assert rows.sum() > 50
        assert abs(came[rows].mean() - expected) < 3.5 * error, f"said {expected:.2f}, came {came[rows].mean():.2f}"
