"""The database itself refuses to change or remove what was written, whoever asks."""

import sqlite3

import pytest
import sqlalchemy as sa

from valuation.ledger import Ledger
from valuation.ledger.layout import METADATA

TABLES = sorted(METADATA.tables)


def fill(shop):
    estimate = shop.estimate()
    plan = shop.ledger.add_plan(subject="T", name="p", text="x = 1")
    deal = shop.ledger.add_deal(subject="T", kind="paths", inputs={}, result={}, plan_id=plan.id)
    shop.ledger.add_offer(subject="T", amount=1, offered_on="2025-03-01")
    shop.sell(estimate)
    shop.ledger.add_sheet(kind="buyer", file_name="f", fingerprint="0" * 64, inputs={}, deal_id=deal.id)
    shop.ledger.add_vehicle(subject="T")
    shop.ledger.show_as("vehicle", "T", name="Tern")
    shop.ledger.add_photo(subject="T", jpeg=b"a picture", width=64, height=48)
    shop.ledger.keep_shop("")


def other_hand(address):
    """A connection that knows nothing of the ledger's own ways."""
    url = address if "://" in address else f"sqlite:///{address}"
    return sa.create_engine(url)


@pytest.mark.parametrize("action", ["UPDATE {table} SET {column} = {column}", "DELETE FROM {table}"])
def test_no_record_can_be_changed_or_removed(shop, address, action):
    fill(shop)
    engine = other_hand(address)
    for table in TABLES:
        column = "content" if table == "contents" else "reason"
        with pytest.raises(sa.exc.DBAPIError, match="append-only"), engine.begin() as connection:
            connection.exec_driver_sql(action.format(table=table, column=column))
    engine.dispose()
    assert shop.ledger.check().sound


def test_postgresql_refuses_to_empty_a_table(postgres_address):
    with Ledger.open(postgres_address):
        engine = other_hand(postgres_address)
        for table in TABLES:
            with pytest.raises(sa.exc.DBAPIError, match="append-only"), engine.begin() as connection:
                connection.exec_driver_sql(f"TRUNCATE {table} CASCADE")
        engine.dispose()


@pytest.mark.parametrize("table", TABLES)
def test_sqlite_refuses_to_replace_a_row(file_shop, tmp_path, table):
    fill(file_shop)
    connection = sqlite3.connect(tmp_path / "shop.sqlite")
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table} LIMIT 1")
    connection.close()


def test_replacing_through_the_one_correction_rule_is_refused(file_shop, tmp_path):
    estimate = file_shop.estimate()
    first = file_shop.sell(estimate)
    file_shop.sell(estimate, 22_000, corrects=first.id, reason="slip")
    connection = sqlite3.connect(tmp_path / "shop.sqlite")
    names = [row[1] for row in connection.execute("PRAGMA table_info(sales)")]
    values = ", ".join("99" if name == "id" else name for name in names)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(f"INSERT OR REPLACE INTO sales SELECT {values} FROM sales WHERE id = 2")
    connection.close()


def test_ledger_offers_no_way_to_change_or_remove():
    public = {name for name in dir(Ledger) if not name.startswith("_")}
    assert not {name for name in public if name.split("_")[0] in ("update", "delete", "remove", "set", "edit")}
    assert {name for name in public if name.startswith("add_")} == {
        "add_deal",
        "add_estimate",
        "add_model",
        "add_offer",
        "add_photo",
        "add_plan",
        "add_sale",
        "add_sheet",
        "add_table",
        "add_vehicle",
    }
