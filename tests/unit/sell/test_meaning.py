"""Every sentence of the deal with a share or a direction, on an input whose answer is known beforehand."""

import math
import re
from dataclasses import replace
from datetime import date

import pytest

from valuation.build.figures import about, apart, money, odds_words, percent
from valuation.build.terms import BuyersWish, Goal
from valuation.build.three_point import ThreePoint
from valuation.paths.compare import evaluate_paths
from valuation.paths.schedule import evaluate_schedule
from valuation.paths.steps import evaluate_steps
from valuation.sell.bands import price_bands
from valuation.sell.offers import Offer, answer_offer
from valuation.text.plain import plain


@pytest.fixture
def bands(market, plan, as_of):
    return price_bands(market, plan, as_of)


def middle_of(bands):
    """The middle of the offers to expect before any came."""
    return bands.estimate * math.exp(bands.prospect.sale.buyers.centre)


def told(notes, code):
    [text] = [note.text for note in notes if note.code == code]
    return text


@pytest.mark.parametrize(
    ("share_of_middle", "words"),
    [
        (5.0, "more than 99 in 100 would be lower"),
        (1.0, "about 5 in 10 would be lower"),
        (0.2, "less than 1 in 100 would be lower"),
    ],
)
def test_nearly_all_offers_are_lower_than_a_huge_one_and_hardly_any_than_a_tiny_one(
    bands, share_of_middle, words, plan
):
    answer = answer_offer(bands, plan.sale, Offer(share_of_middle * middle_of(bands)))
    assert answer.place == f"Of the offers to expect, {words}."
    assert plain(answer)["place"] == answer.place


def test_an_offer_is_under_at_or_over_the_ask(bands, plan):
    said = {
        amount: told(answer_offer(bands, plan.sale, Offer(amount), asked=50_000).notes, "against_the_ask")
        for amount in (40_000.0, 50_000.0, 200_000.0)
    }
    assert "20 % under the ask of 50,000; talks usually end about 15 % under it" in said[40_000.0]
    assert said[50_000.0] == "The offer is exactly the ask of 50,000."
    assert said[200_000.0] == "The offer is 300 % over the ask of 50,000."


@pytest.mark.parametrize(
    ("amount", "reference", "words"),
    [
        (80, 100, "20 % under it"), (125, 100, "25 % over it"), (100, 100, "exactly it"),
        (99.9, 100, "less than 1 % under it"), (100.1, 100, "less than 1 % over it"),
    ],
)  # fmt: skip
def test_apart_names_the_side(amount, reference, words):
    assert apart(amount, reference, "it") == words


def test_offers_that_all_lie_low_are_under_and_high_ones_over_what_is_expected(bands, plan):
    middle = middle_of(bands)
    for share, side in ((0.6, "under the estimate"), (1.6, "over the estimate")):
        talks = (Offer(share * middle),) * 4
        note = told(answer_offer(bands, plan.sale, talks[-1], earlier=talks[:-1]).notes, "offers_off_the_estimate")
        assert side in note


def test_the_reason_of_an_answer_says_the_side_of_the_floor(bands, plan):
    high = answer_offer(bands, plan.sale, Offer(2 * bands.floor))
    assert f"{money(2 * bands.floor)} is {about(2 * bands.floor - high.floor)} above what waiting is worth" in high.why
    low = answer_offer(bands, plan.sale, Offer(0.3 * bands.floor))
    assert (
        f"{money(0.3 * bands.floor)} is {about(low.floor - 0.3 * bands.floor)} under what waiting is worth" in low.why
    )


def test_an_ask_over_the_floor_is_never_said_to_be_under_it(bands, plan):
    codes = {
        asked: [n.code for n in answer_offer(bands, plan.sale, Offer(30_000.0), asked=asked).notes]
        for asked in (1e3, 1e6)
    }
    assert "ask_under_floor" in codes[1e3]
    assert "ask_under_floor" not in codes[1e6]


@pytest.mark.parametrize(
    ("premium", "words"), [(10.0, "raises target and ask by 5.0 %"), (-10.0, "lowers target and ask by 5.0 %")]
)
def test_a_wish_raises_or_lowers_the_ask(market, plan, as_of, bands, premium, words):
    wish = BuyersWish("condition", "driver", premium_percent=premium, sure_percent=50.0)
    wished = price_bands(market, replace(plan, sale=replace(plan.sale, wish=wish)), as_of)
    assert words in told(wished.notes, "buyers_wish")
    assert (wished.ask > bands.ask) is (premium > 0)
    assert wished.floor == pytest.approx(bands.floor)


def test_the_target_lies_under_the_ask_by_what_is_said(bands):
    assert bands.target_under_ask_percent == pytest.approx(100 * (bands.ask - bands.target) / bands.ask)
    assert bands.target_under_ask_percent > 0
    assert bands.usual_settlement.price < bands.ask


def test_odds_of_a_loss_are_small_when_it_is_nearly_given_away_and_large_when_it_costs_a_fortune(market, plan, as_of):
    goal = Goal(20, sure_percent=75)
    cheap, dear = (evaluate_paths(market, [plan], as_of, price=price, goal=goal) for price in (10.0, 200_000.0))
    assert cheap.path("driver build").odds_of_loss < 0.05
    assert dear.path("driver build").odds_of_loss > 0.99
    assert cheap.why.startswith("Buy it at 10 for ")
    assert dear.why.startswith("Pass at 200,000: no path meets the goal")
    assert (
        "with more than 99 in 100 of twice"
        in evaluate_paths(market, [replace(plan, steps=())], as_of, price=0.0).rule_of_thumb
    )
    assert "with less than 1 in 100 of twice" in dear.rule_of_thumb


def test_walking_away_says_how_much_the_seller_would_have_to_add(market, plan, as_of):
    costly = replace(plan, steps=(replace(plan.steps[0], cost=ThreePoint(9e5, 1e6, 1.2e6)),))
    [path] = [p for p in evaluate_paths(market, [costly], as_of).paths if p.name == "driver build"]
    assert path.most_to_pay_proof.walk_away
    assert f"it would take {money(-path.most_to_pay)} from the seller" in path.most_to_pay_proof.proof
    assert path.most_to_pay < -5e5


def test_the_proof_says_that_a_higher_price_meets_the_goal_less_often(bands):
    [(at_price, at_more)] = re.findall(
        r"with ([\d.]+) % probability; at 5 % more with ([\d.]+) %", bands.most_to_pay_proof
    )
    assert float(at_price) > float(at_more)


def test_a_show_that_costs_more_than_it_brings_is_said_to(market, plan, as_of):
    poor = replace(plan, event=replace(plan.event, entry_cost=30_000.0))
    path = evaluate_paths(market, [poor], as_of).path("driver build")
    assert "is left out of 'driver build': waiting and entry cost 29," in told(path.notes, "event_left_out")
    free = replace(plan, event=replace(plan.event, entry_cost=0.0, chances={"driver": {"national": 1.0}}))
    free_path = evaluate_paths(market, [free], as_of).path("driver build")
    assert "event_left_out" not in [note.code for note in free_path.notes]
    assert free_path.expected_profit > path.expected_profit


def test_a_show_that_is_far_off_is_made_and_one_next_week_is_not(market, plan, as_of):
    soon = replace(plan, event=replace(plan.event, date=date(2026, 11, 9)))
    late = replace(plan, event=replace(plan.event, date=date(2031, 5, 29)))
    odds = [evaluate_schedule(market, one, as_of).odds_of_event for one in (soon, late)]
    assert odds == [0.0, 1.0]
    path = evaluate_paths(market, [soon], as_of).path("driver build")
    assert path.odds_of_event is None
    assert path.ready.endswith("; sold at once, without the show.")


def test_a_subset_that_is_not_the_best_is_said_to_bring_less(market, plan, as_of):
    found = evaluate_steps(market, plan, as_of)
    for one in found.alternatives:
        less = found.best_subset.expected_profit - one.expected_profit
        assert less >= 0
        assert one.differs.endswith(f": {money(less)} less")


@pytest.mark.parametrize(
    ("odds", "words", "share"),
    [
        (0.001, "less than 1 in 100", "under 1 %"), (0.999, "more than 99 in 100", "over 99 %"),
        (0.3, "about 3 in 10", "30 %"),
    ],
)  # fmt: skip
def test_small_odds_are_said_small_and_large_ones_large(odds, words, share):
    assert odds_words(odds) == words
    assert percent(odds) == share
