"""The check finds what another hand changed, and estimates that no longer repeat to the bit."""

import sqlite3

import pytest

from valuation.errors import RegressionError
from valuation.ledger import canonical_json


def tamper(path, *statements):
    """Change the file as only somebody who first removes the triggers can."""
    connection = sqlite3.connect(path)
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


@pytest.fixture
def filled(file_shop):
    for number in range(3):
        file_shop.sell(file_shop.estimate(f"Wren {number}"))
    return file_shop


def found(shop):
    return [(problem.kind, problem.id, problem.what) for problem in shop.ledger.check().problems]


def test_a_sound_ledger(shop):
    shop.sell(shop.estimate())
    report = shop.ledger.check()
    assert report.sound
    assert report.problems == ()
    assert report.repeated is None
    assert report.records["sale"] == 1
    assert report.contents == 3
    assert report.words() == (
        "The ledger is sound: 4 records and 3 files and texts were checked against their fingerprints."
    )


@pytest.mark.parametrize(
    "change",
    [
        "price = price + 0.01",
        "remark = 'x'",
        "arms_length = 0",
        "written_at = '2020-01-01T00:00:00+00:00'",
        "sold_on = '2020-01-01'",
        "withdrawn = 1",
    ],
)
def test_a_changed_record_shows(filled, tmp_path, change):
    tamper(tmp_path / "shop.sqlite", f"UPDATE sales SET {change} WHERE id = 2")
    assert found(filled) == [("sale", 2, "It was changed since it was written: its seal does not match.")]


def test_a_removed_record_shows(filled, tmp_path):
    tamper(tmp_path / "shop.sqlite", "DELETE FROM sales WHERE id = 2")
    assert found(filled) == [("sale", 3, "The record before it is missing.")]
    report = filled.ledger.check()
    assert not report.sound
    assert report.words().startswith("The ledger is not sound:")


def test_a_first_record_that_is_gone_shows(filled, tmp_path):
    tamper(tmp_path / "shop.sqlite", "DELETE FROM sales WHERE id = 1")
    assert ("sale", 2, "The record before it is missing.") in found(filled)


def test_a_record_slipped_in_for_another_shows(filled, tmp_path):
    """Even with a seal of its own made by the book, the one after it no longer fits."""
    from dataclasses import fields

    from valuation.ledger import SaleRecord
    from valuation.ledger.rows import seal

    first, second = filled.ledger.sale(1), filled.ledger.sale(2)
    values = {field.name: getattr(second, field.name) for field in fields(second) if field.name != "history"}
    forged = seal(SaleRecord, values | {"price": 99_000.0}, first.seal)
    tamper(tmp_path / "shop.sqlite", f"UPDATE sales SET price = 99000.0, seal = '{forged}' WHERE id = 2")
    assert found(filled) == [("sale", 3, "It was changed since it was written: its seal does not match.")]


def test_a_changed_content_shows_and_is_not_handed_out(filled, tmp_path):
    from valuation.errors import LedgerError

    digest = filled.ledger.table(1).source
    tamper(tmp_path / "shop.sqlite", f"UPDATE contents SET content = x'00' WHERE fingerprint = '{digest}'")
    assert found(filled) == [("content", digest, "Its bytes no longer match their fingerprint.")]
    with pytest.raises(LedgerError, match="its bytes no longer match their fingerprint, so they were changed"):
        filled.ledger.content(filled.ledger.table(1).source)


def test_a_missing_content_shows(filled, tmp_path):
    digest = filled.ledger.model(1).fingerprint
    tamper(tmp_path / "shop.sqlite", f"DELETE FROM contents WHERE fingerprint = '{digest}'")
    assert found(filled) == [("model", 1, "The content that its fingerprint points at is missing.")]


def test_a_date_that_is_none_is_a_problem_and_no_crash(filled, tmp_path):
    tamper(tmp_path / "shop.sqlite", "UPDATE sales SET sold_on = 'soon' WHERE id = 2")
    ((kind, number, what),) = found(filled)
    assert (kind, number) == ("sale", 0)
    assert what.startswith("Cannot read a sale in the ledger:")


def test_a_broken_chain_is_refused_in_words(filled, tmp_path):
    from valuation.errors import LedgerError

    filled.sell(filled.ledger.estimate(1), corrects=1, reason="slip")
    tamper(tmp_path / "shop.sqlite", "DELETE FROM sales WHERE id = 1")
    with pytest.raises(LedgerError, match=r"Cannot follow the corrections of sale 4 .* record 1 is missing"):
        filled.ledger.sales()


def test_every_estimate_is_made_again(filled):
    def repeat(estimate):
        return canonical_json(filled.ledger.estimate_summary(estimate.id))

    report = filled.ledger.check(repeat)
    assert report.sound
    assert report.repeated == 3
    assert report.words().endswith("and 3 of 3 estimates came out the same to the last bit.")


def test_an_estimate_that_is_one_bit_off_shows(filled):
    import math

    def repeat(estimate):
        summary = filled.ledger.estimate_summary(estimate.id)
        if estimate.id == 2:
            summary["median"] = math.nextafter(summary["median"], math.inf)
        return canonical_json(summary)

    report = filled.ledger.check(repeat)
    assert report.repeated == 2
    ((problem),) = report.problems
    assert (problem.kind, problem.id) == ("estimate", 2)
    assert problem.what == (
        "It does not come out the same to the last bit: median was 20000.0 and is now 20000.000000000004."
    )


def test_an_estimate_that_cannot_be_made_again_shows(filled):
    def repeat(estimate):
        raise RegressionError("the model's format is gone")

    report = filled.ledger.check(repeat)
    assert report.repeated == 0
    assert {problem.what for problem in report.problems} == {"It could not be made again: the model's format is gone"}


def test_the_same_values_written_otherwise_show(filled):
    import json

    report = filled.ledger.check(lambda estimate: json.dumps(filled.ledger.estimate_summary(estimate.id)))
    assert report.repeated == 0
    assert "the same values are written differently" in report.problems[0].what


def test_an_answer_that_is_no_summary_shows(filled):
    report = filled.ledger.check(lambda estimate: "no JSON at all")
    assert report.repeated == 0
    assert report.problems[0].what == (
        'It does not come out the same to the last bit: as_of was "2025-03-01" and is now null.'
    )


def test_a_damaged_file_shows(file_shop, tmp_path):
    for number in range(100):
        file_shop.ledger.add_model(text=f"{number}" * 3000, table_id=file_shop.table_id)
    file_shop.ledger.close()
    connection = sqlite3.connect(tmp_path / "shop.sqlite")
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    raw = bytearray((tmp_path / "shop.sqlite").read_bytes())
    # A page in the middle of the texts: their chains of overflow pages lead nowhere from here.
    raw[4096 * 60 : 4096 * 61] = b"\xff" * 4096
    (tmp_path / "shop.sqlite").write_bytes(raw)
    report = file_shop.ledger.check()
    assert any(problem.kind == "database" and "The file is damaged" in problem.what for problem in report.problems)
