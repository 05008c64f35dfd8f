"""Which estimate a sale is set against, on records made by hand."""

from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from valuation.ledger import EstimateRecord, SaleRecord
from valuation.ledger.matching import match

SOLD = date(2025, 6, 15)


def estimate(number, day, hour=12, zone=UTC, **changes):
    values = {
        "id": number,
        "written_at": datetime(2025, 6, day, hour, tzinfo=zone),
        "corrects": None,
        "reason": "",
        "withdrawn": False,
        "seal": "",
        "subject": "Tern",
        "vehicle": '{"condition":"show"}',
        "as_of": date(2025, 6, day),
        "model_id": 1,
        "coverage": 0.8,
        "currency": "EUR",
        "median": 1000.0 * number,
        "low": 900.0 * number,
        "high": 1100.0 * number,
        "settings": "{}",
        "summary": "",
    }
    return EstimateRecord(**values | changes)


def sale(number=1, names=1, **changes):
    values = {
        "id": number,
        "written_at": datetime(2025, 6, 20, tzinfo=UTC),
        "corrects": None,
        "reason": "",
        "withdrawn": False,
        "seal": "",
        "subject": "Tern",
        "estimate_id": names,
        "price": 1000.0,
        "currency": "EUR",
        "sold_on": SOLD,
        "kind": "private",
        "arms_length": True,
        "remark": "",
    }
    return SaleRecord(**values | changes)


def used(sales, *estimates):
    pairs, aside = match(sales, estimates)
    assert len(pairs) + len(aside) == len(sales)
    return [pair.estimate_id for pair in pairs]


def test_the_day_before_counts_and_the_day_itself_does_not():
    assert used([sale()], estimate(1, 14, hour=23)) == [1]
    assert used([sale()], estimate(1, 15, hour=0)) == []
    assert used([sale()], estimate(1, 16)) == []


def test_the_day_is_that_of_the_clock_that_wrote():
    # In UTC this was 2025-06-14T20:00; where the shop is, the day of the sale had begun.
    east = timezone(timedelta(hours=10))
    assert used([sale()], estimate(1, 15, hour=6, zone=east)) == []
    # In UTC this was 2025-06-15T03:00; where the shop is, it was the evening before.
    west = timezone(timedelta(hours=-5))
    assert used([sale()], estimate(1, 14, hour=22, zone=west)) == [1]


def test_the_vehicle_as_found_is_not_the_vehicle_as_sold():
    found = estimate(2, 14, vehicle='{"condition":"project"}')
    assert used([sale(names=1)], estimate(1, 10), found) == [1]
    assert used([sale(names=2)], estimate(1, 10), found) == [2]


def test_another_vehicle_with_the_same_attributes_is_not_used():
    assert used([sale()], estimate(1, 10), estimate(2, 14, subject="Wren")) == [1]


def test_a_correction_before_the_sale_counts_and_one_after_it_does_not():
    corrected = {"corrects": 1, "vehicle": '{"condition":"driver"}'}
    assert used([sale()], estimate(1, 10), estimate(2, 12, **corrected)) == [2]
    assert used([sale()], estimate(1, 10), estimate(2, 16, **corrected)) == [1]


def test_a_withdrawal_before_the_sale_counts_and_one_after_it_does_not():
    gone = {"corrects": 1, "withdrawn": True}
    assert used([sale()], estimate(1, 10), estimate(2, 12, **gone)) == []
    # Withdrawing a bad estimate once the price is known does not mend the record.
    assert used([sale()], estimate(1, 10), estimate(2, 16, **gone)) == [1]


def test_a_withdrawn_one_gives_way_to_an_older_estimate():
    gone = estimate(3, 13, corrects=2, withdrawn=True)
    assert used([sale(names=2)], estimate(1, 10), estimate(2, 12), gone) == [1]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"arms_length": False}, "it was not at arm's length"),
        ({"currency": "NOK"}, "its price is in NOK and the estimate in EUR"),
        ({"currency": ""}, "its price is in no named currency and the estimate in EUR"),
        ({"sold_on": date(2025, 6, 1)}, "no estimate of it was made before 1 June 2025"),
    ],
)
def test_sales_left_out_say_why(changes, why):
    pairs, (aside,) = match([sale(**changes)], [estimate(1, 10)])
    assert pairs == ()
    assert aside.why == f"Sale 1 of Tern is left out: {why}."


def test_the_same_sale_entered_twice_counts_once():
    pairs, (aside,) = match([sale(1), sale(2)], [estimate(1, 10)])
    assert [pair.sale_id for pair in pairs] == [1]
    assert aside.why == "Sale 2 of Tern is left out: sale 1 is of the same vehicle on the same day."


def test_ends_of_the_interval_count_as_inside_and_open_ends_hold_everything():
    (pair,), _ = match([sale(price=900.0)], [estimate(1, 10)])
    assert pair.inside
    (pair,), _ = match([sale(price=899.99)], [estimate(1, 10)])
    assert not pair.inside
    (pair,), _ = match([sale(price=1e12)], [estimate(1, 10, low=None, high=None)])
    assert pair.inside
    assert pair.error == pytest.approx(-100)
