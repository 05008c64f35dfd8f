from dataclasses import replace

import pytest

from valuation.build.simulation import Simulation
from valuation.build.terms import Goal, Purchase
from valuation.paths.deal_path import prepare
from valuation.paths.most_to_pay import most_to_pay

SIMULATION = Simulation(scenarios=1024)


@pytest.mark.parametrize("sure", [40, 60, 75, 90, 97])
def test_at_the_price_the_goal_is_just_met(market, plan, as_of, sure):
    deal = prepare(market, replace(plan, shop=replace(plan.shop, labour_rate=5)), as_of, SIMULATION).deal
    answer = most_to_pay(deal, Goal(10, sure_percent=sure))
    assert answer.odds_at_price == pytest.approx(sure / 100, abs=1e-6)
    assert answer.odds_at_five_percent_more < answer.odds_at_price


def test_on_average_the_margin_is_just_met(market, plan, as_of):
    deal = prepare(market, replace(plan, shop=replace(plan.shop, labour_rate=5)), as_of, SIMULATION).deal
    answer = most_to_pay(deal, Goal(10, sure_percent=None))
    assert answer.margin_at_price_percent == pytest.approx(10, abs=1e-4)
    assert answer.proof.startswith(f"At {answer.price:,.2f} the expected profit is 10.0 % of the expected outlay")


def test_a_profit_in_money_is_met_too(market, plan, as_of):
    deal = prepare(market, replace(plan, shop=replace(plan.shop, labour_rate=5)), as_of, SIMULATION).deal
    answer = most_to_pay(deal, Goal(0, profit=3000, sure_percent=80))
    assert 1 - deal.odds_below(3000, answer.price).value == pytest.approx(0.8, abs=1e-5)


@pytest.mark.parametrize(
    "purchase", [Purchase(fee_percent=12), Purchase(fee_percent=10, fee_minimum=900, tax_percent=7)]
)
def test_fees_that_depend_on_the_price_are_in_the_answer(market, plan, as_of, purchase):
    cheap = replace(plan, shop=replace(plan.shop, labour_rate=5))
    with_fees = most_to_pay(prepare(market, replace(cheap, purchase=purchase), as_of, SIMULATION).deal, Goal(10))
    without = most_to_pay(prepare(market, replace(cheap, purchase=Purchase()), as_of, SIMULATION).deal, Goal(10))
    assert purchase.paid(with_fees.price) == pytest.approx(without.price, abs=0.02)
    assert with_fees.odds_at_price == pytest.approx(0.75, abs=1e-5)


def test_below_nothing_it_says_walk_away(market, plan, as_of):
    answer = most_to_pay(prepare(market, plan, as_of, SIMULATION).deal, Goal(300, sure_percent=90))
    assert answer.price < 0
    assert answer.walk_away
    assert answer.proof.startswith("Walk away: the goal is not met at any price above 0")
    assert answer.odds_at_price == pytest.approx(0.9, abs=1e-5)


def test_the_proof_line_carries_price_goal_and_odds(market, plan, as_of):
    deal = prepare(market, replace(plan, shop=replace(plan.shop, labour_rate=5)), as_of, SIMULATION).deal
    answer = most_to_pay(deal, Goal(10, sure_percent=75))
    assert answer.proof.startswith(f"At {answer.price:,.2f} the goal is met with 75.0 % ")
    assert answer.walk_away is False
