import json
from dataclasses import replace
from datetime import date

import pytest

from valuation.build.plan import BuildPlan, Step
from valuation.build.terms import BuyersWish, Goal, SaleTerms
from valuation.build.three_point import ThreePoint
from valuation.errors import PlanError
from valuation.sell.bands import expected_offers, price_bands
from valuation.sell.waiting import expected_wait
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


def test_waiting_is_worth_less_when_it_costs_more(market, plan, as_of):
    floors = [
        price_bands(market, replace(plan, shop=replace(plan.shop, holding_per_week=cost)), as_of).floor
        for cost in (10, 50, 200)
    ]
    assert floors == sorted(floors, reverse=True)


def test_more_offers_raise_the_floor_of_offers_that_lie_the_same():
    # The offers themselves are held: expected_offers would centre them anew for another rate.
    from valuation.sell.waiting import reservation_price

    offers = expected_offers(40_000, SaleTerms())
    floors = [reservation_price(offers, 30 / rate) for rate in (0.2, 0.5, 2.0)]
    assert floors == sorted(floors)


def test_a_seller_who_takes_the_usual_time_gets_the_estimate():
    terms = SaleTerms(offers_per_month=3, weeks_to_sell=ThreePoint.certain(10))
    offers = expected_offers(40_000, terms)
    share = 1 / (terms.offers_per_week * 10)
    least = offers.quantile(1 - share)
    assert expected_wait(offers, terms.offers_per_week, least) == pytest.approx(10)
    assert offers.odds_above(40_000) == pytest.approx(share / 2)  # half of the offers taken are above


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
    bands = price_bands(market, replace(plan, sale=replace(plan.sale, deadline=date(2027, 9, 1))), as_of)
    assert bands.floor < open_end.floor
    floors = [one.floor for one in bands.floor_by_week]
    assert floors == sorted(floors)
    assert bands.floor_at(0) == floors[0]
    assert bands.floor_at(1e6) == floors[-1]
    far = price_bands(market, replace(plan, sale=replace(plan.sale, deadline=date(2037, 9, 1))), as_of)
    assert far.floor == pytest.approx(open_end.floor, rel=1e-3)


def test_a_deadline_before_the_build_ends_is_said(market, plan, as_of):
    soon = replace(plan, sale=replace(plan.sale, deadline=date(2026, 12, 1), last_resort=9000))
    bands = price_bands(market, soon, as_of)
    assert bands.floor == 9000
    assert any(note.code == "deadline_before_sale" and "9,000" in note.text for note in bands.notes)


def test_other_asks_are_shown_with_their_wait(market, plan, as_of):
    asks = price_bands(market, plan, as_of).asks
    weeks = [one.expected_weeks for one in asks]
    assert weeks == sorted(weeks)
    assert asks[-1].ask > asks[0].ask


def test_waiting_that_costs_nothing_has_no_floor(market, plan, as_of):
    free = replace(plan, shop=replace(plan.shop, holding_per_week=0), sale=replace(plan.sale, discount_percent=0))
    with pytest.raises(PlanError, match=r"Waiting for an offer costs nothing.*Set holding_per_week"):
        price_bands(market, free, as_of)


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
