"""Offers of a ledger as talks: in the order in which they came, up to the one that is to be answered."""

import datetime as dt

from valuation.answers.kept import offers_for, take_offer, talks


def test_an_offer_is_written_for_the_estimates_vehicle_in_its_currency(shop):
    estimate = shop.estimate()
    offer = take_offer(shop.ledger, estimate, 19_000.0, dt.date(2025, 3, 1), who="a caller")
    assert (offer.subject, offer.estimate_id, offer.currency) == (estimate.subject, estimate.id, "EUR")
    other = take_offer(shop.ledger, estimate, 21_000.0, dt.date(2025, 3, 1), currency="USD")
    assert other.currency == "USD"


def test_a_corrected_offer_keeps_its_place(shop):
    estimate = shop.estimate()
    first = take_offer(shop.ledger, estimate, 18_000.0, dt.date(2025, 3, 1))
    second = take_offer(shop.ledger, estimate, 19_000.0, dt.date(2025, 3, 1))
    mended = shop.ledger.correct(first, "misheard", {"amount": 18_500.0})
    assert [one.id for one in offers_for(shop.ledger, estimate.subject)] == [mended.id, second.id]
    told = talks(shop.ledger, estimate.subject, second)
    assert [one.amount for one in told.offers] == [18_500.0, 19_000.0]
    assert talks(shop.ledger, estimate.subject, mended).offers == told.offers[:1]
    assert (told.currency, talks(shop.ledger, estimate.subject).currency) == ("EUR", "")
