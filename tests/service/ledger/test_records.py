"""What is written comes back the same, on both databases; corrections, withdrawals and refusals."""

import json
from datetime import date

import pytest

from valuation.errors import LedgerError
from valuation.ledger import Ledger, SaleRecord, canonical_json, fingerprint


def test_table_comes_back_with_its_file_byte_for_byte(shop):
    table = shop.ledger.table(shop.table_id)
    assert (table.name, table.version, table.rows, table.faults) == ("Terns and Wrens", 1, 1, 0)
    assert json.loads(table.schema) == {"name": "vintage", "attributes": ["family", "model_year"]}
    assert shop.ledger.content(shop.ledger.table(table.id).source) == "vehicle,price\nTern,20000\n".encode("utf-16")
    assert table.source == fingerprint(shop.ledger.content(shop.ledger.table(table.id).source))
    assert table.source_name == "Bücher/sales.csv"
    assert table.written_at == shop.clock.now


def bring(ledger, source, name="Terns and Wrens"):
    schema = {"name": "vintage", "attributes": ["family", "model_year"]}
    mark = fingerprint(source)
    return ledger.add_table(
        name=name, schema=schema, source=source, source_name="s.csv", fingerprint=mark, rows=2, faults=1
    )


def test_table_brought_again_stays_one_version_and_a_changed_one_is_the_next(shop):
    second = bring(shop.ledger, b"mended")
    assert second.version == 2
    assert bring(shop.ledger, b"mended") == second
    third = bring(shop.ledger, b"mended twice")
    assert third.version == 3
    # Going back to older content is a new version: the newest version is what the shop works with.
    assert bring(shop.ledger, b"mended").version == 4
    assert bring(shop.ledger, b"mended", name="Wrens alone").version == 1
    assert [table.version for table in shop.ledger.tables()] == [1, 2, 3, 4, 1]


def test_model_is_kept_letter_for_letter_and_once(shop):
    text = '{"format": 1, "weights": [0.1, 1e-300]}\n'
    assert shop.ledger.model_text(shop.model_id) == text
    assert shop.ledger.add_model(text=text, table_id=shop.table_id).id == shop.model_id
    assert len(shop.ledger.models()) == 1


def test_estimate_has_its_figures_as_fields_and_its_whole_summary(shop):
    estimate = shop.estimate(median=1e5 / 3)
    found = shop.ledger.estimate(estimate.id)
    assert found == estimate
    assert (found.median, found.coverage, found.currency) == (1e5 / 3, 0.8, "EUR")
    assert (found.low, found.high) == (1e5 / 3 * 0.8, 1e5 / 3 * 1.2)
    assert found.as_of == date(2025, 3, 1)
    assert json.loads(found.vehicle) == {"family": "Tern", "model_year": 1951}
    assert json.loads(found.settings) == {"valuation": "0.1.0"}
    summary = shop.ledger.estimate_summary(estimate.id)
    assert summary["mean"] == 1e5 / 3 * 1.01
    assert shop.ledger.content(found.summary) == canonical_json(summary).encode()


def test_open_sides_of_an_interval_are_empty(shop):
    interval = {"coverage": 0.95, "low": None, "high": None}
    estimate = shop.estimate(summary={"interval": interval, "currency": None})
    assert (estimate.low, estimate.high, estimate.currency) == (None, None, "")


def test_plan_deal_and_sheet(shop):
    estimate = shop.estimate()
    plan = shop.ledger.add_plan(subject=estimate.subject, name="driver", text="# a plan\n[shop]\nlabour = 60\n")
    assert shop.ledger.plan(plan.id).text == "# a plan\n[shop]\nlabour = 60\n"
    assert shop.ledger.add_plan(subject=estimate.subject, name="driver", text=plan.text) == plan
    deal = shop.ledger.add_deal(
        subject=estimate.subject,
        kind="paths",
        inputs={"seed": 7},
        result={"best": "driver", "paths": [{"most_to_pay": 4210.55}]},
        plan_id=plan.id,
        model_id=shop.model_id,
    )
    assert shop.ledger.deal_result(deal.id)["paths"][0]["most_to_pay"] == 4210.55
    assert shop.ledger.deals(estimate.subject) == (deal,)
    sheet = shop.ledger.add_sheet(
        kind="buyer", file_name="tern.pdf", fingerprint=fingerprint(b"%PDF"), inputs={"paper": "A4"}, deal_id=deal.id
    )
    assert shop.ledger.sheet(sheet.id) == sheet
    assert shop.ledger.sheets() == (sheet,)
    better = shop.ledger.add_plan(
        subject=plan.subject, name="driver", text="[shop]\nlabour = 65\n", corrects=plan.id, reason="rate went up"
    )
    assert shop.ledger.plans() == (better,)
    assert better.history == (plan,)


def test_offers_and_the_answer_given_later(shop):
    offer = shop.ledger.add_offer(
        subject="Tern 1951 panel", amount=17_500, offered_on="2025-03-01", currency="EUR", who="the man with the hat"
    )
    assert offer.answer == ""
    answered = shop.ledger.answer_offer(offer.id, "counter", 19_900)
    assert (answered.amount, answered.counter, answered.who) == (17_500.0, 19_900.0, "the man with the hat")
    assert shop.ledger.offers("Tern 1951 panel") == (answered,)
    assert [older.answer for older in answered.history] == [""]
    with pytest.raises(LedgerError, match=r"offer 1: it was already corrected by 2. Correct the newest"):
        shop.ledger.answer_offer(offer.id, "accept")


@pytest.mark.parametrize(("answer", "counter"), [("counter", None), ("hold", 5.0), ("", 5.0)])
def test_counter_goes_with_its_answer(shop, answer, counter):
    with pytest.raises(LedgerError, match="counter is an amount given with the answer 'counter' and with no other"):
        shop.ledger.add_offer(subject="T", amount=1, offered_on="2025-03-01", answer=answer, counter=counter)


def test_correction_keeps_the_whole_chain(shop):
    estimate = shop.estimate()
    first = shop.sell(estimate, 2_100, confirmed=True)
    second = shop.sell(estimate, 21_000, corrects=first.id, reason="a digit was missing")
    third = shop.sell(estimate, 21_500, corrects=second.id, reason="premium forgotten")
    (newest,) = shop.ledger.sales()
    assert newest == third
    assert [sale.price for sale in newest.history] == [2_100, 21_000]
    assert [sale.reason for sale in newest.history] == ["", "a digit was missing"]
    # As written, the first one still says what it said.
    assert shop.ledger.sale(first.id) == first
    assert [sale.id for sale in shop.ledger.all_written(SaleRecord)] == [1, 2, 3]


def test_correction_refusals(shop):
    estimate = shop.estimate()
    sale = shop.sell(estimate)
    with pytest.raises(LedgerError, match="Cannot correct sale 1 without a reason"):
        shop.sell(estimate, corrects=sale.id)
    with pytest.raises(LedgerError, match="Cannot find sale 9 in the ledger: the numbers go from 1 to 1"):
        shop.sell(estimate, corrects=9, reason="slip")
    shop.ledger.withdraw(sale, "the cheque did not clear")
    with pytest.raises(LedgerError, match="already corrected by 2"):
        shop.sell(estimate, corrects=sale.id, reason="slip")
    with pytest.raises(LedgerError, match=r"Cannot correct sale 2: it was withdrawn. Write a new sale"):
        shop.sell(estimate, corrects=2, reason="slip")


def test_withdrawn_sale_leaves_the_lists_and_stays_in_the_ledger(shop):
    sale = shop.sell(shop.estimate())
    gone = shop.ledger.withdraw(sale, "the cheque did not clear")
    assert gone.withdrawn
    assert gone.history == (sale,)
    assert gone.price == sale.price
    assert shop.ledger.sales() == ()
    assert shop.ledger.records(SaleRecord, withdrawn=True) == (gone,)


def test_lists_by_subject_and_the_last_few(shop):
    for number in range(5):
        shop.estimate(f"Wren {number % 2}", median=1000.0 + number)
    assert [one.median for one in shop.ledger.estimates("Wren 1")] == [1001.0, 1003.0]
    assert [one.median for one in shop.ledger.estimates(last=2)] == [1003.0, 1004.0]
    assert shop.ledger.estimates("Wren 7") == ()


def test_refusals_write_nothing(shop):
    with pytest.raises(LedgerError, match="Cannot find model 77 in the ledger: the numbers go from 1 to 1"):
        shop.ledger.add_estimate(
            subject="T",
            vehicle={},
            model_id=77,
            summary={"as_of": "2025-01-01", "median": 1, "interval": {"coverage": 0.8, "low": 1, "high": 2}},
        )
    with pytest.raises(LedgerError, match="Cannot find sale 1 in the ledger: there is no sale yet"):
        shop.ledger.sale(1)
    with pytest.raises(LedgerError, match=r"its summary lacks 'interval'. It needs as_of, median and interval"):
        shop.ledger.add_estimate(subject="T", vehicle={}, model_id=1, summary={"median": 1.0})
    with pytest.raises(LedgerError, match=r"found nan \(float\) at the summary of an estimate.mean"):
        shop.estimate(summary={"mean": float("nan")})
    with pytest.raises(LedgerError, match=r"Cannot write subject to the ledger: found '  '"):
        shop.estimate(subject="  ")
    with pytest.raises(LedgerError, match=r"Cannot write kind to the ledger: found 'barter'. It must be 'private' or"):
        shop.sell(shop.estimate(), kind="barter")
    assert len(shop.ledger.estimates()) == 1
    assert shop.ledger.sales() == ()
    assert shop.ledger.check().sound


def test_date_in_the_future_is_refused(shop):
    estimate = shop.estimate()
    with pytest.raises(LedgerError, match=r"Cannot write the sale .* its date 1 March 2026 lies in the future"):
        shop.sell(estimate, sold_on="2026-03-01")
    with pytest.raises(LedgerError, match=r"Cannot write the offer .* its date 3 March 2025 lies in the future"):
        shop.ledger.add_offer(subject="T", amount=1, offered_on="2025-03-03")
    assert shop.ledger.sales() == ()
    assert shop.ledger.offers() == ()


def test_content_that_is_not_there(shop):
    with pytest.raises(LedgerError, match="no file or text with that fingerprint is kept"):
        shop.ledger.content("0" * 64)


def test_clock_without_an_offset_is_refused(tmp_path):
    from datetime import datetime

    with (
        Ledger.open(tmp_path / "l.sqlite", clock=lambda: datetime(2025, 1, 1)) as ledger,
        pytest.raises(LedgerError, match="its clock gives a time without an offset"),
    ):
        ledger.add_plan(subject="T", name="p", text="x = 1")


def test_broken_letter_in_a_model_is_refused(shop):
    with pytest.raises(LedgerError, match="Cannot keep a model in the ledger: it holds a broken character"):
        shop.ledger.add_model(text="\ud800", table_id=shop.table_id)
