"""Every old ledger opens and is brought up to date, a newer one is refused, and a step is taken wholly or not."""

import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import sqlalchemy as sa

from valuation.errors import LedgerError
from valuation.ledger import Ledger, canonical_json, migrate
from valuation.ledger.layout import METADATA

OLD = Path(__file__).with_name("ledger_at_m0001.sql")
"""Dump of a ledger written when m0001 was the last step; never made anew."""


def tables(address):
    engine = sa.create_engine(address if "://" in address else f"sqlite:///{address}")
    with engine.connect() as connection:
        inspector = sa.inspect(connection)
        found = {
            name: {column["name"] for column in inspector.get_columns(name)} for name in inspector.get_table_names()
        }
    engine.dispose()
    return found


def test_steps_are_one_line_from_first_to_last():
    from alembic.script import ScriptDirectory

    walked = [script.revision for script in ScriptDirectory(migrate.FOLDER).walk_revisions()]
    assert tuple(reversed(walked)) == migrate.steps()
    assert migrate.steps()[:2] == ("m0001_records", "m0002_append_only")


def test_migrated_tables_are_those_of_the_program(address):
    Ledger.open(address).close()
    found = tables(address)
    found.pop(migrate.VERSION_TABLE)
    assert found == {name: set(table.columns.keys()) for name, table in METADATA.tables.items()}


def test_a_ledger_at_its_first_step_opens_and_keeps_everything(tmp_path):
    path = tmp_path / "old.sqlite"
    with sqlite3.connect(path) as connection:
        connection.executescript(OLD.read_text())
    with pytest.raises(sqlite3.OperationalError, match="no such trigger"):
        connection.execute("DROP TRIGGER sales_no_update")
    connection.close()

    with Ledger.open(path) as ledger:
        assert ledger.version == migrate.steps()[-1]
        assert ledger.content(ledger.table(1).source).decode() == "vehicle,price\nTern,20000\nMöwe,18000\n"
        assert ledger.model_text(1) == '{"format":1,"weights":[0.1,1e-300]}'
        assert ledger.estimate(1).median == 20000 / 3
        assert ledger.estimate(1).high is None
        (sale,) = ledger.sales()
        assert (sale.price, sale.history[0].price, sale.reason) == (6500.0, 650.0, "a digit was missing")
        (offer,) = ledger.offers()
        assert (offer.answer, offer.counter, offer.who) == ("counter", 6900.5, "the man with the hat")
        report = ledger.check(lambda estimate: canonical_json(ledger.estimate_summary(estimate.id)))
        assert report.sound, report.problems
        assert report.records == {
            "table": 1,
            "model": 1,
            "estimate": 1,
            "plan": 1,
            "deal result": 1,
            "offer": 2,
            "sale": 2,
            "sheet": 1,
            "vehicle": 0,
            "shown name": 0,
            "photograph": 0,
            "shop setting": 0,
        }
        truck = ledger.add_vehicle(subject="Tern 1951 panel", found={"family": "Tern"}, found_on="2025-03-01")
        ledger.show_as("vehicle", truck.subject, name="The blue Tern")
        ledger.add_photo(subject=truck.subject, jpeg=b"a picture", width=64, height=48)
        ledger.keep_shop("[shop]\nlabour_rate = 45\n")
        assert ledger.check().sound
        ledger.add_plan(subject="T", name="p", text="x = 1")
    connection = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute("UPDATE sales SET price = 1")
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute("UPDATE vehicles SET asked = 1")
    connection.close()


def test_a_newer_ledger_is_refused_and_left_alone(address):
    Ledger.open(address).close()
    engine = sa.create_engine(address if "://" in address else f"sqlite:///{address}")
    with engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE {migrate.VERSION_TABLE} SET version_num = 'm9999_from_the_future'")
    before = tables(address)
    with pytest.raises(
        LedgerError,
        match=r"its version is 'm9999_from_the_future', which this program does not know .* Update this program",
    ):
        Ledger.open(address)
    assert tables(address) == before
    engine.dispose()


def test_a_step_that_fails_half_way_leaves_nothing(address, tmp_path, monkeypatch):
    folder = tmp_path / "migrations"
    shutil.copytree(migrate.FOLDER, folder)
    (folder / "versions" / "m9000_broken.py").write_text(
        f"from alembic import op\nrevision = 'm9000_broken'\ndown_revision = {migrate.steps()[-1]!r}\n"
        "def upgrade():\n"
        "    op.execute('CREATE TABLE half_way (id INTEGER)')\n"
        "    op.execute('CREATE NONSENSE')\n"
    )
    own = migrate.steps()[-1]
    monkeypatch.setattr(migrate, "FOLDER", folder)
    with pytest.raises(LedgerError, match=r"Cannot write to .*the database says"):
        Ledger.open(address)
    monkeypatch.undo()
    # The steps before it were taken and stay.
    assert "half_way" not in tables(address)
    with Ledger.open(address) as ledger:
        assert ledger.version == own
        ledger.add_plan(subject="T", name="p", text="x = 1")


def test_a_step_that_another_program_took_in_the_meantime_is_not_taken_twice(address, monkeypatch):
    Ledger.open(address).close()
    stale = [None]
    read = migrate.version
    monkeypatch.setattr(migrate, "version", lambda connection: stale.pop() if stale else read(connection))
    with Ledger.open(address) as ledger:
        assert stale == []
        assert ledger.plans() == ()


def test_many_open_a_new_ledger_at_once(tmp_path):
    def open_it():
        Ledger.open(tmp_path / "l.sqlite").close()

    with ThreadPoolExecutor(8) as crowd:
        for opened in [crowd.submit(open_it) for _ in range(8)]:
            opened.result()
    with Ledger.open(tmp_path / "l.sqlite") as ledger:
        assert ledger.check().sound
