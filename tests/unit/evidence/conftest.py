"""An invented table of sales with known effects, and small fits of it that the tests of this room share."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from valuation.comparables import from_frame
from valuation.regression import PriceModel
from valuation.schema import Attribute, Expectation, Role, Schema, default_schema, parse_vehicle

FAST = {"lattice_points": 4, "tails": False}
CONDITIONS = ("derelict", "project", "runner", "driver", "show")
FAMILIES = {"Orvane Tessera": 0.5, "Penhurrow Haywain": 0.0, "Tarrowby Linnet": -0.2}


def shop_frame(rows, seed=0, *, unsold=0.0, drift=0.03, first=dt.date(2021, 3, 1)):
    """Cells of invented sales in the order of their dates; about ``unsold`` of them bids or asking prices."""
    rng = np.random.default_rng(seed)
    family = rng.choice(list(FAMILIES), rows, p=[0.15, 0.45, 0.4])
    year = rng.integers(1938, 1966, rows)
    grade = rng.integers(0, 5, rows)
    finish = rng.random(rows) < 0.25
    miles = rng.integers(1, 12, rows)
    days = np.sort(rng.integers(0, 5 * 365, rows))
    log_price = 9 + np.array([FAMILIES[f] for f in family]) + 0.01 * (year - 1950) + 0.4 * grade + 0.15 * finish
    log_price = log_price - 0.04 * miles + drift * days / 365.25 + rng.normal(0, 0.15, rows)
    outcome = np.where(rng.random(rows) < unsold, rng.choice(["bid_not_met", "asking"], rows), "sold")
    log_price += np.where(outcome == "asking", 0.2, np.where(outcome == "bid_not_met", -0.2, 0.0))
    return pd.DataFrame(
        {
            "sale": [f"S{i:03}" for i in range(rows)],
            "date": [(first + dt.timedelta(days=int(day))).isoformat() for day in days],
            "price": np.round(np.exp(log_price), 2),
            "outcome": outcome,
            "source": [f"invented catalogue, lot {i}" for i in range(rows)],
            "family": family,
            "model_year": year,
            "condition": [CONDITIONS[g] for g in grade],
            "original_finish": np.where(finish, "yes", "no"),
            "mileage": miles * 10_000,
        }
    )


def read(frame):
    return from_frame(frame, default_schema(), name="invented.csv", today=dt.date(2026, 10, 31))


@pytest.fixture(scope="session")
def subject():
    cells = {
        "family": "Penhurrow Haywain",
        "model_year": 1951,
        "condition": "driver",
        "original_finish": False,
        "mileage": 52000,
    }
    return parse_vehicle(cells, default_schema(), "Haywain of 1951")


@pytest.fixture(scope="session")
def mixed_table():
    """Eighty rows of which some were not sold."""
    return read(shop_frame(80, 1, unsold=0.2))


@pytest.fixture(scope="session")
def model(mixed_table):
    """A penalised fit with censored rows."""
    return PriceModel.fit(mixed_table, **FAST)


@pytest.fixture(scope="session")
def sold_model():
    """A penalised fit of sold rows alone."""
    return PriceModel.fit(read(shop_frame(60, 2)), **FAST)


@pytest.fixture(scope="session")
def flat_model():
    """Least squares on three yes/no attributes: expectations so unsure that the table decides."""
    flags = ("original_finish", "driven_far", "finished")
    frame = shop_frame(60, 2).drop(columns="date")
    frame["driven_far"] = np.where(frame["mileage"] > 60_000, "yes", "no")
    frame["finished"] = np.where(frame["condition"].isin(["driver", "show"]), "yes", "no")
    attributes = tuple(Attribute(name, Role.FLAG, expected=Expectation(0, 1e6)) for name in flags)
    schema = Schema("flags", attributes, currency="EUR")
    table = from_frame(frame.drop(columns=["family", "model_year", "condition", "mileage"]), schema, name="flags.csv")
    return PriceModel.fit(table, interaction=False, lattice_points=1, tails=False)


@pytest.fixture(scope="session")
def shop():
    """The makers of such tables, for tests that need one of their own."""
    return SimpleNamespace(frame=shop_frame, read=read, fast=FAST, conditions=CONDITIONS)
