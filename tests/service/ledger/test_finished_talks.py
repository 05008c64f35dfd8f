"""Talks that ended in a sale, read out of the ledger."""

import pytest

from valuation.ledger.finished_talks import finished_talks
from valuation.sell.experience import FinishedTalks


def set_price(shop, subject, *, ask=25_000.0, currency="EUR"):
    bands = {"ask": ask, "estimate": 20_000.0, "currency": currency}
    inputs = {"as_of": shop.clock.now.date().isoformat(), "plan": {}}
    return shop.ledger.add_deal(subject=subject, kind="bands", inputs=inputs, result=bands, model_id=shop.model_id)


def offer(shop, subject, amount, who):
    day = shop.clock.now.date()
    return shop.ledger.add_offer(subject=subject, amount=amount, offered_on=day, currency="EUR", who=who)


def test_the_last_price_set_before_the_sale_counts_with_its_buyers_and_weeks(shop):
    estimate = shop.estimate()
    set_price(shop, estimate.subject, ask=30_000.0)
    shop.clock.forward(7)
    set_price(shop, estimate.subject)
    shop.clock.forward(14)
    for amount, who in ((18_000.0, "Ruth"), (19_000.0, " ruth "), (20_500.0, "Tom"), (20_000.0, ""), (20_100.0, "")):
        offer(shop, estimate.subject, amount, who)
    shop.sell(estimate, price=21_000.0)
    assert finished_talks(shop.ledger) == (FinishedTalks(20_000.0, 25_000.0, 21_000.0, 4, 2.0),)


@pytest.mark.parametrize("more", [{"kind": "auction"}, {"arms_length": False}])
def test_auctions_and_sales_to_relatives_are_no_talks(shop, more):
    estimate = shop.estimate()
    set_price(shop, estimate.subject)
    shop.sell(estimate, **more)
    assert finished_talks(shop.ledger) == ()


def test_a_price_set_in_another_currency_or_never_is_no_ask(shop):
    other, never = shop.estimate(), shop.estimate(subject="Wren")
    set_price(shop, other.subject, currency="USD")
    shop.sell(other)
    shop.sell(never)
    assert finished_talks(shop.ledger) == ()
