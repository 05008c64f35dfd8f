import json
from dataclasses import replace
from datetime import date, timedelta

import pytest

from valuation.build.figures import about, at_least
from valuation.build.interest import growth
from valuation.build.plan import BuildPlan, ShopSettings, Step
from valuation.build.terms import BuyersWish, Goal, SaleTerms
from valuation.build.three_point import ThreePoint
from valuation.sell.bands import price_bands
from valuation.sell.prospect import in_words
from valuation.text.language import on_day
from valuation.text.plain import plain


def test_json_has_the_agreed_keys(market, plan, as_of):
    answer = json.loads(json.dumps(plain(price_bands(market, plan, as_of))))
    assert set(answer) >= {
        "floor", "target", "ask", "break_even", "expected_weeks", "buy_at_or_below", "walk_away_above",
    }  # fmt: skip


def test_floor_target_and_ask_stand_in_order(market, plan, as_of):
    bands = price_bands(market, plan, as_of)
    assert 0 < bands.floor < bands.target < bands.ask
    assert bands.buy_at_or_below <= bands.walk_away_above


def test_what_was_spent_moves_break_even_and_never_floor_target_or_ask(market, plan, as_of):
    cheap, dear = (price_bands(market, plan, as_of, price=price) for price in (1000, 30_000))
    assert (cheap.floor, cheap.target, cheap.ask) == (dear.floor, dear.target, dear.ask)
    assert dear.break_even > cheap.break_even
    assert dear.multiple_at_target < cheap.multiple_at_target


def test_a_vehicle_alone_has_no_break_even(market, found, as_of):
    bands = price_bands(market, BuildPlan("find", found), as_of)
    assert bands.break_even is None
    assert bands.outlay is None
    assert bands.estimate == pytest.approx(
        40_000 * 0.5 * 0.85 * 0.7 * 1.03, rel=0.01
    )  # sold a year after the base date


def test_selling_bears_the_rate_that_building_bears(market, plan, as_of):
    """One rate of the shop: dearer money lowers the floor by what a usual wait costs, as ``growth`` counts it."""
    found = BuildPlan("find", plan.found, sale=plan.sale)
    cheap, dear = (
        price_bands(market, replace(found, shop=ShopSettings(interest_percent=rate)), as_of) for rate in (8, 20)
    )
    wait = growth(cheap.expected_weeks, 20) / growth(cheap.expected_weeks, 8)
    assert dear.floor / cheap.floor == pytest.approx(1 / float(wait), abs=0.004)
    assert dear.floor < cheap.floor


def test_waiting_is_worth_less_when_it_costs_more(market, plan, as_of):
    floors = [
        price_bands(market, replace(plan, shop=replace(plan.shop, holding_per_week=cost)), as_of).floor
        for cost in (10, 50, 200)
    ]
    assert floors == sorted(floors, reverse=True)


@pytest.mark.parametrize(("offers", "weeks"), [(2, 8), (3, 10), (1, 6)])
def test_with_the_usual_terms_the_target_is_the_estimate_and_the_time_the_weeks_entered(
    market, plan, as_of, offers, weeks
):
    usual = SaleTerms(offers_per_month=offers, weeks_to_sell=ThreePoint.certain(weeks))
    bands = price_bands(market, replace(plan, sale=usual, shop=ShopSettings(holding_per_week=0)), as_of)
    assert bands.target == pytest.approx(bands.estimate, rel=1e-6)
    assert bands.expected_weeks == pytest.approx(weeks, rel=5e-3)
    assert bands.floor < bands.estimate < bands.ask


def test_more_buyers_than_usual_raise_the_floor(market, plan, as_of):
    floors = [
        price_bands(market, replace(plan, sale=replace(plan.sale, reach_percent=reach)), as_of).floor
        for reach in (50, 100, 200)
    ]
    assert floors == sorted(floors)
    assert floors[0] < floors[2]


def test_offers_and_weeks_that_contradict_each_other_are_said(market, plan, as_of):
    rare = SaleTerms(offers_per_month=0.05, weeks_to_sell=ThreePoint.certain(6))
    bands = price_bands(market, replace(plan, sale=rare, shop=replace(plan.shop, holding_per_week=0)), as_of)
    (note,) = (note for note in bands.notes if note.code == "offers_contradict_weeks")
    assert "0.05 offers a month and a sale within 6 weeks contradict each other" in note.text
    assert "takes about 2 years" in note.text
    assert bands.expected_weeks is None
    assert "would hardly sell within two years" in bands.sentence


def test_a_wish_moves_target_and_ask_and_nothing_else(market, plan, as_of):
    wish = BuyersWish("paint", "fresh", premium_percent=10, sure_percent=50)
    plain = price_bands(market, plan, as_of)
    wished = price_bands(market, replace(plan, sale=replace(plan.sale, wish=wish)), as_of)
    assert (wished.floor, wished.estimate, wished.buy_at_or_below) == (
        plain.floor,
        plain.estimate,
        plain.buy_at_or_below,
    )
    assert wished.target > plain.target
    assert wished.ask > plain.ask
    (note,) = (note for note in wished.notes if note.code == "buyers_wish")
    assert "raises target and ask by 5.0 %" in note.text


def test_a_wish_that_the_vehicle_does_not_meet_is_left_out_and_said(market, plan, as_of):
    wish = BuyersWish("paint", "show-finish", premium_percent=10, sure_percent=50)
    plain = price_bands(market, plan, as_of)
    wished = price_bands(market, replace(plan, sale=replace(plan.sale, wish=wish)), as_of)
    assert wished.ask == plain.ask
    assert any(note.code == "wish_not_met" and "will have 'fresh'" in note.text for note in wished.notes)


def test_a_deadline_lowers_the_floor_week_by_week(market, plan, as_of):
    open_end = price_bands(market, plan, as_of)
    listed = open_end.prospect.for_sale
    bands = price_bands(market, replace(plan, sale=replace(plan.sale, deadline=listed + timedelta(weeks=8))), as_of)
    assert bands.floor < open_end.floor
    floors = [one.floor for one in bands.floors]
    assert floors == sorted(floors, reverse=True)
    assert [one.day for one in bands.floors] == sorted(one.day for one in bands.floors)
    assert bands.floors[0].floor == bands.floor
    assert bands.floors[-1].day == bands.prospect.deadline
    far = price_bands(market, replace(plan, sale=replace(plan.sale, deadline=date(2037, 9, 1))), as_of)
    assert far.floor == pytest.approx(open_end.floor, rel=1e-9)


def test_a_deadline_before_the_build_ends_is_said(market, plan, as_of):
    soon = replace(plan, sale=replace(plan.sale, deadline=date(2026, 12, 1), last_resort=60_000))
    bands = price_bands(market, soon, as_of)
    assert bands.floor == pytest.approx(60_000)
    assert any(note.code == "deadline_before_sale" and "60,000" in note.text for note in bands.notes)


def test_a_last_resort_under_the_auction_does_not_count(market, plan, as_of):
    soon = replace(plan, sale=replace(plan.sale, deadline=date(2026, 12, 1), last_resort=9000))
    auction = next(way for way in price_bands(market, plan, as_of).ways if way.name == "auction without reserve")
    assert price_bands(market, soon, as_of).floor == pytest.approx(
        auction.price * plan.sale.auction_kept / plan.sale.kept
    )


def test_the_sentence_says_ask_target_floor_time_and_day(market, plan, as_of):
    bands = price_bands(market, plan, as_of)
    days = [on_day(one.day) for one in bands.floors]
    assert bands.sentence == (
        f"Once it is for sale, about {days[0]}: ask {about(bands.ask)}, expect about {about(bands.target)} within "
        f"{in_words(bands.expected_weeks)} and take nothing under {at_least(bands.floor)} before {days[1]}."
    )
    now = price_bands(market, BuildPlan("find", plan.found, sale=plan.sale), as_of)
    assert now.sentence.startswith(f"Ask {about(now.ask)}, expect about ")


def test_other_asks_are_shown_with_their_wait(market, plan, as_of):
    asks = price_bands(market, plan, as_of).asks
    weeks = [one.expected_weeks for one in asks]
    assert weeks == sorted(weeks)
    assert asks[-1].ask > asks[0].ask


def test_waiting_without_holding_or_discount_still_has_a_floor_under_the_estimate(market, plan, as_of):
    free = replace(plan, shop=replace(plan.shop, holding_per_week=0, interest_percent=0))
    bands = price_bands(market, free, as_of)
    assert 0.8 * bands.estimate < bands.floor < bands.estimate


def test_common_practice_is_shown_as_such(market, plan, as_of):
    bands = price_bands(market, plan, as_of)
    assert bands.usual_settlement.price == pytest.approx(0.85 * bands.ask)
    assert bands.usual_settlement.source == "common practice, no source"


def test_walk_away_is_said(market, plan, as_of):
    ruin = replace(plan, steps=(*plan.steps, Step("gold", cost=ThreePoint.certain(500_000))))
    bands = price_bands(market, ruin, as_of, goal=Goal(20))
    assert bands.buy_at_or_below < 0
    assert bands.most_to_pay_proof.startswith("Walk away: the goal")
    assert all("Walk away" not in note.text for note in bands.notes), "it is said once"


def test_an_auction_that_would_hardly_sell_is_no_way_of_its_own(market, plan, as_of):
    """Private sale brings more than the trade bids: a reserve that pays is over nearly every bid, and is not shown."""
    ways = {way.name: way for way in price_bands(market, plan, as_of).ways}
    assert "auction with a reserve" not in ways
    assert "would leave it unsold more than 9 times in 10" in ways["auction without reserve"].how
    few_buyers = replace(plan, sale=replace(plan.sale, auction_bidders=40, auction_premium_percent=0, reach_percent=20))
    [reserved] = [way for way in price_bands(market, few_buyers, as_of).ways if way.name == "auction with a reserve"]
    assert reserved.odds_unsold < 0.9
