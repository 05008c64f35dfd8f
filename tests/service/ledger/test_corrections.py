"""A mistaken sale or offer is put right by a new record; unlikely figures are asked about before that."""

from datetime import UTC, datetime

import pytest

from valuation.answers.track_record import track_record
from valuation.errors import LedgerError, UnlikelyError
from valuation.ledger import EstimateRecord
from valuation.ledger.corrections import corrections_of


@pytest.mark.parametrize("price", [1e12, 200_001.0, 1_999.0])
def test_a_price_far_from_the_estimate_is_asked_about_and_then_taken(shop, price):
    estimate = shop.estimate(median=20_000.0, reach=0.9)  # a wide interval still does not let a slipped digit pass
    with pytest.raises(UnlikelyError, match=r"right\? The estimate of 'Tern 1951 panel' is 20,000 EUR") as asked:
        shop.sell(estimate, price)
    assert f"Is {price:,.0f} EUR right?" in str(asked.value)
    assert shop.ledger.sales() == ()
    assert shop.sell(estimate, price, confirmed=True).price == price


@pytest.mark.parametrize("price", [6_700.0, 12_000.0, 20_000.0, 35_000.0, 59_000.0])
def test_a_price_within_a_factor_of_three_is_taken_at_once(shop, price):
    assert shop.sell(shop.estimate(median=20_000.0, reach=0.02), price).price == price


def test_how_far_is_far_follows_the_interval(shop):
    narrow, wide = shop.estimate(reach=0.02), shop.estimate(reach=0.5)
    with pytest.raises(UnlikelyError, match=r"a price under 6,670 or over 60,000 has to be confirmed"):
        shop.sell(narrow, 61_000.0)
    # 0.5 of the estimate is the low end at 80 %; 0.5 ** (3.29 / 1.28) of it at 99.9 %.
    with pytest.raises(UnlikelyError, match=r"a price under 3,370 or over 60,000"):
        shop.sell(wide, 3_300.0)
    shop.sell(wide, 3_400.0)


def test_an_open_end_is_taken_to_be_as_far_as_the_other(shop):
    summary = {"interval": {"coverage": 0.8, "low": 10_000.0, "high": None}}
    with pytest.raises(UnlikelyError, match=r"under 3,370 or over 119,000"):
        shop.sell(shop.estimate(summary=summary), 120_000.0)
    summary = {"interval": {"coverage": 0.8, "low": None, "high": None}}
    with pytest.raises(UnlikelyError, match=r"under 2,000 or over 200,000"):
        shop.sell(shop.estimate(summary=summary), 1_000.0)


def test_a_figure_in_another_currency_cannot_be_compared(shop):
    assert shop.sell(shop.estimate(), 3e6, currency="JPY").price == 3e6


def test_an_offer_and_a_counter_are_asked_about(shop):
    estimate = shop.estimate()
    words = {"subject": estimate.subject, "offered_on": "2025-03-01", "currency": "EUR", "estimate_id": estimate.id}
    with pytest.raises(UnlikelyError, match=r"Is 1,800 EUR right\?"):
        shop.ledger.add_offer(amount=1_800.0, **words)
    offer = shop.ledger.add_offer(amount=1_800.0, confirmed=True, **words)
    with pytest.raises(UnlikelyError, match=r"Is 210,000 EUR right\?"):
        shop.ledger.answer_offer(offer.id, "counter", 210_000.0)
    answered = shop.ledger.answer_offer(offer.id, "counter", 21_000.0)
    assert (answered.amount, answered.counter) == (1_800.0, 21_000.0)
    assert corrections_of(answered) == ()


def test_a_corrected_sale_is_what_counts_and_says_what_it_replaced(shop):
    estimate = shop.estimate()
    shop.clock.forward(3)
    mistaken = shop.sell(estimate, 2e5, confirmed=True)
    corrected = shop.ledger.correct(mistaken, "a digit too many", {"price": 21_000.0})
    assert (corrected.corrects, corrected.price, corrected.kind) == (mistaken.id, 21_000.0, mistaken.kind)
    assert shop.ledger.sales() == (corrected,)
    (change,) = corrections_of(corrected)
    assert (change.field, change.was, change.became, change.reason) == ("price", 2e5, 21_000.0, "a digit too many")
    found = track_record(shop.ledger)
    assert [(pair.sale_id, pair.price) for pair in found.pairs] == [(corrected.id, 21_000.0)]
    assert "counted as corrected: Tern 1951 panel (sale 2)" in next(
        note.text for note in found.notes if note.code == "sales_corrected"
    )
    assert shop.ledger.sale(mistaken.id).price == 2e5  # what was written stays
    assert shop.ledger.check().sound


def test_a_corrected_offer_keeps_its_answer_and_its_place(shop):
    first = shop.ledger.add_offer(subject="Tern", amount=180_000, offered_on="2025-03-01", who="the man with the hat")
    shop.ledger.add_offer(subject="Tern", amount=19_000, offered_on="2025-03-01")
    answered = shop.ledger.answer_offer(first.id, "hold")
    corrected = shop.ledger.correct(answered, "a digit too many", {"amount": 18_000.0, "remark": "by post"})
    assert (corrected.answer, corrected.who) == ("hold", "the man with the hat")
    assert {offer.amount for offer in shop.ledger.offers("Tern")} == {18_000.0, 19_000.0}
    assert {change.field: (change.was, change.became) for change in corrections_of(corrected)} == {
        "amount": (180_000.0, 18_000.0),
        "remark": ("", "by post"),
    }


def test_only_what_a_correction_changes_is_asked_about(shop):
    sale = shop.sell(shop.estimate(), 1e6, confirmed=True)
    again = shop.ledger.correct(sale, "it was an auction", {"kind": "auction"})
    with pytest.raises(UnlikelyError, match=r"Is 2,000,000 EUR right\?"):
        shop.ledger.correct(again, "slip", {"price": 2e6})


def test_a_withdrawn_sale_counts_no_more(shop):
    sale = shop.sell(shop.estimate(), 21_000.0)
    ended = shop.ledger.withdraw(sale, "the buyer never paid")
    assert shop.ledger.sales() == ()
    assert [(change.field, change.became) for change in corrections_of(ended)] == [("withdrawn", True)]


@pytest.mark.parametrize(
    ("reason", "changes", "words"),
    [
        ("slip", {}, r"Cannot correct sale 1: nothing would change. Give the figure or word that is right"),
        ("slip", {"price": 21_000.0}, r"nothing would change"),
        ("slip", {"colour": "red"}, r"Cannot correct sale 1: it has no 'colour'. Name one of subject, estimate_id"),
        (" ", {"price": 22_000.0}, r"Cannot correct sale 1 without a reason"),
        ("slip", {"price": -1}, r"It must be an amount of money above 0"),
        ("slip", {"sold_on": "2026-01-01"}, r"its date 1 January 2026 lies in the future"),
    ],
)
def test_a_correction_that_is_none_is_refused(shop, reason, changes, words):
    sale = shop.sell(shop.estimate())
    with pytest.raises(LedgerError, match=words):
        shop.ledger.correct(sale, reason, changes)
    assert shop.ledger.sales() == (sale,)


def test_two_corrections_of_one_record_do_not_fork(shop):
    sale = shop.sell(shop.estimate())
    shop.ledger.correct(sale, "slip", {"price": 22_000.0})
    with pytest.raises(LedgerError, match=r"it was already corrected by 2. Correct the newest instead"):
        shop.ledger.correct(sale, "slip", {"price": 23_000.0})


def test_a_clock_set_back_stops_no_work_and_is_said(shop):
    before = shop.estimate()
    shop.clock.forward(10)
    shop.estimate("Wren 1950")
    assert shop.ledger.clock_notes() == ()
    shop.clock.now = datetime(2020, 1, 1, tzinfo=UTC)
    (note,) = shop.ledger.clock_notes()
    assert note.code == "clock_behind"
    assert "clock says 2020-01-01 00:00, but a record in the ledger was written on 2025-03-11" in note.text
    # The true day's work, although the clock says that it is years ahead.
    assert shop.sell(before, sold_on="2025-03-12").sold_on.isoformat() == "2025-03-12"
    offer = shop.ledger.add_offer(subject="Wren 1950", amount=19_000, offered_on="2025-03-12")
    assert shop.ledger.correct(offer, "slip", {"offered_on": "2025-03-13"}).offered_on.isoformat() == "2025-03-13"
    assert shop.ledger.check().sound


def test_an_estimate_made_while_the_clock_was_behind_is_named_beside_the_record(shop):
    shop.estimate("Wren 1950")
    shop.clock.forward(-3000)
    late = shop.estimate()
    shop.clock.forward(3010)
    shop.sell(late)
    notes = {note.code: note.text for note in track_record(shop.ledger).notes}
    assert "so perhaps made after the sale: Tern 1951 panel (estimate 2)" in notes["clock_behind"]
    assert len(shop.ledger.all_written(EstimateRecord)) == 2


def test_a_date_ahead_of_a_clock_that_nothing_contradicts_is_asked_about_and_then_taken(shop):
    estimate = shop.estimate()
    with pytest.raises(
        UnlikelyError, match=r"its date 1 June 2025 lies in the future \(this computer's clock says \d+ March 2025"
    ):
        shop.sell(estimate, sold_on="2025-06-01")
    assert shop.sell(estimate, sold_on="2025-06-01", confirmed=True).id == 1
