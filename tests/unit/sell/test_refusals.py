"""Refusals that no other test of the room meets, each with its words."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from valuation.build.crew import crew_rules, crew_schedule
from valuation.build.figures import money, odds_words, percent
from valuation.build.plan_file import plan_from_dict
from valuation.build.plan_template import write_plan_template
from valuation.build.terms import BuyersWish
from valuation.errors import OfferError, PlanError
from valuation.paths.deal_path import check_plan
from valuation.regression.distribution import PriceDistribution
from valuation.sell.auction import Case, auction_reserve, auction_revenue
from valuation.sell.bands import price_bands
from valuation.sell.markdown import markdown_asks
from valuation.sell.offers import Offer, answer_offer
from valuation.sell.offers_to_come import PricedOffers

OFFERS = PricedOffers(PriceDistribution.log_normal(10.0, 0.1))
PLAN = {
    "vehicle": {"condition": "project"},
    "steps": [{"id": "body", "cost": 100, "sets": {"condition": "runner"}}],
}


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: markdown_asks(OFFERS, 0), r"Asks need at least one round; found 0"),
        (lambda: auction_revenue([Case(1.0, OFFERS)], 0.0, 0), r"at least one bidder; found 0"),
        (
            lambda: auction_reserve([Case(1.0, OFFERS, 1e9)], 3),
            r"No bidder would pay what the vehicle is worth unsold \(1,000,000,000\)",
        ),
        (lambda: BuyersWish("colour", "green", -100, 50), r"'premium_percent' must be above -100"),
        (lambda: BuyersWish("colour", "green", 5, 101), r"'sure_percent' must be 0 or more and at most 100"),
    ],
)
def test_settings_of_the_sale_that_cannot_be(make, words):
    with pytest.raises(PlanError, match=words):
        make()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"steps": "body"}, r"steps is 'body'\. Start each step with a line \[\[steps\]\]"),
        ({"shop": 3}, r"shop is 3, not a table\. Start it with a line \[shop\]"),
        ({"name": ""}, r"name is '', not a text\. Write it in quotes"),
        ({"steps": [{"what": "no id"}]}, r"\[\[steps\]\] 1 id is missing\. Write id ="),
        ({"steps": [{"id": "a", "sets": "fresh"}]}, r"step 'a': sets is 'fresh'\. Write sets = \{"),
        ({"steps": [{"id": "a", "after": 3}]}, r"step 'a': after is 3, not a list of step ids"),
        ({"event": {"date": "2027-05-01", "chances": {"show": 3}}}, r"\[event\] chances is .*Write a table"),
        ({"wish": {"attribute": "paint"}}, r"\[wish\] level is missing"),
        ({"wish": {"attribute": "paint", "level": "fresh", "premium_percent": -200}}, r"\[wish\] 'premium_percent'"),
        ({"start": 20270101}, r"start is 20270101, not a date"),
        ({"sale": {"last_resort": -1}}, r"\[sale\] 'last_resort' must be 0 or more"),
    ],
)  # fmt: skip
def test_plain_data_that_is_no_plan(schema, changes, words):
    with pytest.raises(PlanError, match=words):
        plan_from_dict({**PLAN, **changes}, schema)


def test_a_wish_and_a_time_of_day_are_read(schema, plan):
    wish = {"attribute": "paint", "level": "fresh", "premium_percent": 6, "sure_percent": 60}
    plan = plan_from_dict({**PLAN, "wish": wish, "start": dt.datetime(2027, 1, 5, 8, 30)}, schema)
    assert plan.sale.wish == BuyersWish("paint", "fresh", 6, 60)
    assert plan.start == dt.date(2027, 1, 5)


def test_a_step_may_not_set_what_the_schema_does_not_have(schema, market, plan, as_of):
    odd = replace(plan, steps=(replace(plan.steps[0], sets={"wheels": "new"}),))
    with pytest.raises(PlanError, match=r"step 'engine' sets 'wheels', which the schema 'vintage' does not have"):
        check_plan(odd, market, as_of)


def test_a_template_cannot_be_written_where_there_is_no_folder(tmp_path):
    with pytest.raises(PlanError, match=r"Cannot write plan.toml: No such file.*Choose another folder"):
        write_plan_template(tmp_path / "none" / "plan.toml")


def test_an_ask_that_is_no_money(market, plan, as_of):
    bands = price_bands(market, plan, as_of)
    with pytest.raises(OfferError, match=r"The ask must be money above 0; found nan"):
        answer_offer(bands, plan.sale, Offer(100.0), asked=float("nan"))


def test_a_reserve_above_every_bidder_brings_nothing():
    assert auction_revenue([Case(1.0, OFFERS)], 1e9, 3) == 0


def test_asks_that_fall_end_where_nothing_more_is_to_be_had():
    assert markdown_asks(OFFERS, 3, left=1e9) == [1e9] * 3


def test_a_step_for_nobody_but_hours_of_the_shop_still_takes_its_time():
    rules = crew_rules(["a"], {"a": []}, [0], 1, [2.0])
    assert crew_schedule(np.array([[2.0]]), np.zeros((1, 1)), rules).length[0] == 2


def test_figures_in_words():
    assert money(-1234.5) == "-1,234"
    assert odds_words(0.997) == "more than 99 in 100"
    assert odds_words(0.05) == "about 5 in 100"
    assert percent(0.9999) == "over 99 %"
    assert percent(1.0) == "100 %"
