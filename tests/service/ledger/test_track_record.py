"""The track record over a ledger: figures against hand counts, and how little a short one says."""

import json
import math

import pytest

from valuation.answers.track_record import sales_needed, track_record
from valuation.errors import EvidenceError
from valuation.evidence.ratio_study import ratio_study
from valuation.text.plain import plain


def sell_all(shop, prices, median=20_000.0, reach=0.2):
    estimates = [shop.estimate(f"Wren {number}", median, reach) for number in range(len(prices))]
    shop.clock.forward(days=30)
    return [shop.sell(estimate, price, confirmed=True) for estimate, price in zip(estimates, prices, strict=True)]


def codes(record):
    return [note.code for note in record.notes]


def binomial(share, n, counts):
    return sum(math.comb(n, k) * share**k * (1 - share) ** (n - k) for k in counts)


def test_an_empty_ledger_says_so(shop):
    record = track_record(shop.ledger)
    assert (record.pairs, record.set_aside, record.groups) == ((), (), ())
    assert codes(record) == ["no_record_yet"]
    assert "about 70 sales show how far an 80 % interval can be trusted" in record.notes[0].text


def test_figures_against_hand_counts(shop):
    # Estimates of 20,000 with 16,000 to 24,000: they lie 25, 0, -20, 100 and -50 percent from the price.
    sell_all(shop, [16_000, 20_000, 25_000, 10_000, 40_000])
    record = track_record(shop.ledger)
    assert [pair.inside for pair in record.pairs] == [True, True, False, False, False]
    assert [pair.error for pair in record.pairs] == pytest.approx([25, 0, -20, 100, -50])
    (group,) = record.groups
    assert (group.coverage, group.currency) == (0.8, "EUR")
    (share,) = group.calibration.shares
    assert (share.inside, share.n, share.below, share.above, share.share) == (2, 5, 1, 2, 0.4)
    # By the definition of Clopper and Pearson (1934): at either end the count seen, or one farther out, has a chance of
    # 2.5 %, here summed term by term.
    assert binomial(share.low, 5, [2, 3, 4, 5]) == pytest.approx(0.025)
    assert binomial(share.high, 5, [0, 1, 2]) == pytest.approx(0.025)
    assert group.calibration.median_miss_percent == pytest.approx(25)
    assert group.calibration.bias_percent.value == pytest.approx(0)
    assert codes(record)[0] == "short_record"
    assert record.notes[0].text == (
        "5 sales tell little: by these alone the true share inside the 80 % interval may be anywhere from 5 to 85 %. "
        "It takes about 70 to know it within 10 points either way."
    )


def test_the_evidence_rooms_own_words_and_ratio_study_are_passed_on(shop):
    prices = [16_000.0, 20_000.0, 25_000.0, 10_000.0]
    sell_all(shop, prices)
    record = track_record(shop.ledger)
    names = [f"Wren {number} (sale {number + 1})" for number in range(4)]
    assert record.groups[0].ratio_study == ratio_study([20_000.0] * 4, prices, names=names)
    assert set(record.groups[0].calibration.notes) < set(record.notes)


def test_two_sales_have_no_ratio_study(shop):
    sell_all(shop, [16_000, 20_000])
    assert track_record(shop.ledger).groups[0].ratio_study is None


def test_one_sale_is_said_to_be_one(shop):
    sell_all(shop, [16_000])
    assert track_record(shop.ledger).notes[0].text.startswith("1 sale tells little: ")


@pytest.mark.parametrize(
    ("price", "code"), [(15_000, "estimates_run_high"), (30_000, "estimates_run_low"), (50_000, "intervals_too_narrow")]
)
def test_what_is_off_is_named_when_it_is_shown(shop, price, code):
    sell_all(shop, [price + number for number in range(8)])
    assert code in codes(track_record(shop.ledger))


def test_a_long_record_is_not_called_short(shop):
    sell_all(shop, [15_000 if number % 5 == 0 else 20_000 + number for number in range(70)])
    record = track_record(shop.ledger)
    assert record.groups[0].calibration.shares[0].share == 0.8
    assert "short_record" not in codes(record)


def test_each_stated_coverage_is_counted_apart(shop):
    shop.estimate("A", summary={"interval": {"coverage": 0.5, "low": 19_000, "high": 21_000}})
    shop.estimate("B", summary={"interval": {"coverage": 0.9, "low": 10_000, "high": None}})
    shop.clock.forward(30)
    shop.sell(shop.ledger.estimate(1), 30_000)
    shop.sell(shop.ledger.estimate(2), 30_000)
    record = track_record(shop.ledger)
    assert [(group.coverage, group.calibration.shares[0].inside) for group in record.groups] == [(0.5, 0), (0.9, 1)]
    assert record.notes[-1].text == ("Counted apart, since they cannot be put together: 50 % in EUR, 90 % in EUR.")


def test_an_estimate_made_after_the_sale_is_never_used(shop):
    before = shop.estimate(median=30_000.0)
    shop.clock.forward(10)
    sold_on = shop.clock.now.date()
    # On the day of the sale and after it the estimates know the price; the sale even points at one of them.
    shop.estimate(median=20_000.0)
    shop.clock.forward(1)
    after = shop.estimate(median=20_000.0)
    shop.sell(after, 20_000, sold_on=sold_on)
    (pair,) = track_record(shop.ledger).pairs
    assert (pair.estimate_id, pair.median) == (before.id, 30_000.0)


def test_a_sale_with_later_estimates_only_is_left_out_and_named(shop):
    sold_on = shop.clock.now.date()
    estimate = shop.estimate()
    shop.clock.forward(1)
    shop.sell(estimate, sold_on=sold_on)
    record = track_record(shop.ledger)
    assert record.pairs == ()
    assert record.set_aside[0].why == (
        "Sale 1 of Tern 1951 panel is left out: no estimate of it was made before 1 March 2025."
    )
    assert "sales_left_out" in codes(record)


def test_the_newest_of_several_before_is_used(shop):
    first = shop.estimate(median=30_000.0)
    shop.clock.forward(5)
    second = shop.estimate(median=25_000.0)
    shop.clock.forward(5)
    shop.sell(first, 24_000)
    (pair,) = track_record(shop.ledger).pairs
    assert pair.estimate_id == second.id


def test_a_withdrawn_sale_does_not_count_and_is_mentioned(shop):
    sale, *_ = sell_all(shop, [16_000, 20_000])
    shop.ledger.withdraw(sale, "the cheque did not clear")
    record = track_record(shop.ledger)
    assert [pair.sale_id for pair in record.pairs] == [2]
    assert record.notes[-1].text == "Sales withdrawn since they were recorded, and not counted: 1."


def test_a_corrected_price_counts_once(shop):
    (sale,) = sell_all(shop, [1_600])
    shop.ledger.add_sale(
        estimate_id=sale.estimate_id, price=16_000, sold_on=sale.sold_on, kind="private", corrects=1, reason="digit"
    )
    (pair,) = track_record(shop.ledger).pairs
    assert pair.price == 16_000


def test_another_date_is_said_and_each_currency_is_counted_apart(shop):
    for number, currency in enumerate(["NOK", "EUR", "EUR"]):
        shop.estimate(f"W{number}", summary={"currency": currency, "as_of": "2026-03-01"})
    shop.clock.forward(30)
    for number in range(3):
        shop.sell(shop.ledger.estimate(number + 1))
    record = track_record(shop.ledger)
    assert [(group.currency, group.calibration.n) for group in record.groups] == [("EUR", 2), ("NOK", 1)]
    assert {"another_date", "several_groups"} <= set(codes(record))


def test_the_whole_is_plain_json(shop):
    sell_all(shop, [16_000, 20_000, 25_000])
    shop.sell(shop.estimate("Late"), 5_000, confirmed=True)
    record = track_record(shop.ledger)
    whole = json.loads(json.dumps(plain(record), allow_nan=False))
    assert whole["pairs"][2]["inside"] is False
    assert whole["pairs"][2]["error"] == pytest.approx(-20)
    assert whole["pairs"][0]["sold_on"] == "2025-03-31"
    (group,) = whole["groups"]
    assert group["calibration"]["shares"][0]["inside"] == 2
    assert group["calibration"]["bias_percent"]["high"] is None  # open: too few sales
    assert group["ratio_study"]["n"] == 3
    assert whole["set_aside"][0]["subject"] == "Late"


def test_intervals_open_on_both_sides_are_plain_json_too(shop):
    shop.estimate(summary={"interval": {"coverage": 0.8, "low": None, "high": None}})
    shop.clock.forward(1)
    shop.sell(shop.ledger.estimate(1))
    whole = json.loads(json.dumps(plain(track_record(shop.ledger)), allow_nan=False))
    assert whole["pairs"][0]["high"] is None
    assert whole["groups"][0]["calibration"]["log_interval_score"] is None


def test_confidence_must_be_a_share(shop):
    sell_all(shop, [16_000])
    with pytest.raises(EvidenceError, match="a share strictly between 0 and 1 is needed"):
        track_record(shop.ledger, confidence=95)


@pytest.mark.parametrize("coverage", [0.5, 0.8, 0.95])
def test_sales_needed_is_the_first_size_at_which_the_interval_is_short_enough(coverage):
    from valuation.evidence.intervals import share_interval

    n = sales_needed(coverage, 0.95)
    for size, enough in ((n, True), (n - 1, False)):
        low, high = share_interval(round(coverage * size), size)
        assert (high - low <= 0.2) is enough
