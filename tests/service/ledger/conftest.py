"""A ledger on each kind of database, and a shop with a table and a model in it.

PostgreSQL: set VALUATION_TEST_POSTGRES_URL to the URL of a database in which schemas may be made; each test has one of
its own, which is dropped at its end.
"""

import os
import shutil
import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa

from valuation.ledger import Ledger

POSTGRES = os.environ.get("VALUATION_TEST_POSTGRES_URL", "")


@pytest.fixture
def postgres_address():
    """Address of an empty PostgreSQL schema."""
    if not POSTGRES:
        pytest.skip("VALUATION_TEST_POSTGRES_URL is not set: no PostgreSQL server to test against")
    url = sa.make_url(POSTGRES).set(drivername="postgresql+psycopg")
    name = f"test_{uuid.uuid4().hex}"
    engine = sa.create_engine(url)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {name}")
    in_schema = url.update_query_dict({"options": f"-csearch_path={name}"})
    yield in_schema.render_as_string(hide_password=False)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"DROP SCHEMA {name} CASCADE")
    engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request, tmp_path):
    """Where a new ledger may be made, on each database in turn."""
    if request.param == "sqlite":
        return str(tmp_path / "shop.sqlite")
    return request.getfixturevalue("postgres_address")


@dataclass
class Clock:
    """A clock that stands still until it is put forward."""

    now: datetime = field(default_factory=lambda: datetime(2025, 3, 1, 12, tzinfo=UTC))

    def __call__(self):
        return self.now

    def forward(self, days):
        self.now += timedelta(days=days)


@dataclass
class Shop:
    """An invented shop's ledger with one table and one model."""

    ledger: Ledger
    clock: Clock
    table_id: int
    model_id: int

    def estimate(self, subject="Tern 1951 panel", median=20_000.0, reach=0.2, vehicle=None, **more):
        summary = {
            "as_of": self.clock.now.date().isoformat(),
            "currency": "EUR",
            "median": median,
            "mean": median * 1.01,
            "interval": {"coverage": 0.8, "low": median * (1 - reach), "high": median * (1 + reach)},
            "notes": [],
        }
        summary |= more.pop("summary", {})
        return self.ledger.add_estimate(
            subject=subject,
            vehicle=vehicle or {"family": "Tern", "model_year": 1951},
            model_id=self.model_id,
            summary=summary,
            settings={"valuation": "0.1.0"},
            **more,
        )

    def sell(self, estimate, price=21_000.0, **more):
        more = {"sold_on": self.clock.now.date(), "kind": "private"} | more
        return self.ledger.add_sale(estimate_id=estimate.id, price=price, **more)


def stock(ledger, clock):
    """What is there already is given back, so that a copy of a stocked ledger is stocked at once."""
    table = ledger.add_table(
        name="Terns and Wrens",
        schema={"name": "vintage", "attributes": ["family", "model_year"]},
        source="vehicle,price\nTern,20000\n".encode("utf-16"),
        source_name="Bücher/sales.csv",
        fingerprint="a" * 64,
        rows=1,
        faults=0,
    )
    model = ledger.add_model(text='{"format": 1, "weights": [0.1, 1e-300]}\n', table_id=table.id)
    return Shop(ledger, clock, table.id, model.id)


@pytest.fixture(scope="session")
def stocked_file(tmp_path_factory):
    """A stocked ledger in one file, to copy: making one anew for each test would take most of the time."""
    folder = tmp_path_factory.mktemp("stocked")
    with Ledger.open(folder / "made.sqlite", clock=Clock()) as ledger:
        stock(ledger, ledger._clock)
        return ledger.backup(folder / "stocked.sqlite")


@pytest.fixture
def shop(address, request):
    clock = Clock()
    if "://" not in address:
        shutil.copy(request.getfixturevalue("stocked_file"), address)
    with Ledger.open(address, clock=clock) as ledger:
        yield stock(ledger, clock)


@pytest.fixture
def file_shop(tmp_path, stocked_file):
    """As ``shop``, always in a SQLite file: for what only a file can do or suffer."""
    clock = Clock()
    shutil.copy(stocked_file, tmp_path / "shop.sqlite")
    with Ledger.open(tmp_path / "shop.sqlite", clock=clock) as ledger:
        yield stock(ledger, clock)
