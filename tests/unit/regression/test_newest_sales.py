"""The newest sales against what the older ones lead one to expect."""

import numpy as np
import pandas as pd
import pytest

from valuation.regression import PriceRegressor
from valuation.regression.newest_sales import LEAST_NEWEST, newest_sales, newest_sales_notes

NEWEST = pd.Timestamp("2026-06-30")
SCATTER = 0.15


def sales(n, seed, fall=0.0, rise=0.0):
    """Sales of four years by mileage and date; those of the newest half-year lie ``fall`` lower in logs."""
    rng = np.random.default_rng(seed)
    days = np.sort(rng.integers(0, 1461, n))
    days[0] = 0
    mileage = rng.normal(0, 1, n)
    log_price = 10 - rise * days / 365.25 - 0.2 * mileage - fall * (days < 183) + rng.normal(0, SCATTER, n)
    return pd.DataFrame({"mileage": mileage, "sold": NEWEST - pd.to_timedelta(days, unit="D")}), np.exp(log_price)


def fitted(frame, price, **settings):
    return PriceRegressor(roles={"mileage": "number"}, **settings).fit(frame, price)


def test_the_shift_is_what_least_squares_gives_a_column_of_their_own():
    """With many sales and effects that lie well inside what is expected nothing is drawn anywhere."""
    frame, price = sales(400, 1, fall=0.1)
    found = newest_sales(fitted(frame, price).fit_)
    days = (NEWEST - frame["sold"]).dt.days.to_numpy()
    own = days < 182.625
    design = np.column_stack([np.ones(400), own, frame["mileage"], days])
    least_squares = np.linalg.lstsq(design, np.log(price), rcond=None)[0]
    assert found.sales == int(own.sum())
    assert found.shift == pytest.approx(least_squares[1], abs=0.25 * found.error)


def test_a_market_that_fell_is_named_with_what_to_do():
    regressor = fitted(*sales(120, 2, fall=0.3))
    found = newest_sales(regressor.fit_)
    assert -0.45 < found.shift < -0.15
    assert found.shift < found.left < 0
    (note,) = [note for note in regressor.notes_ if note.code == "newest_sales_apart"]
    assert note.text.startswith(f"The newest {found.sales} sales (from {found.since:%Y-%m-%d} on) lie ")
    assert "% under what the older ones lead one to expect" in note.text
    assert f"still lies {-100 * np.expm1(found.left):.0f} % above them" in note.text
    assert "take that much off" in note.text


def test_a_market_that_rose_is_named_the_other_way():
    (note,) = newest_sales_notes(fitted(*sales(120, 3, fall=-0.3)).fit_)
    assert "% over what" in note.text
    assert "% below them" in note.text
    assert "add that much" in note.text


def test_flat_markets_are_seldom_named():
    """About one in thirty is; as many as five of forty would be odd."""
    named = sum(bool(newest_sales_notes(fitted(*sales(60, seed, rise=0.0)).fit_)) for seed in range(40))
    assert named <= 4


def test_nothing_is_said_of_a_few_sales_or_of_a_table_without_dates():
    frame, price = sales(60, 4, fall=0.5)
    assert newest_sales(fitted(frame.drop(columns="sold"), price).fit_) is None
    newest = np.flatnonzero(frame["sold"] > NEWEST - pd.Timedelta(days=182))
    kept = np.setdiff1d(np.arange(60), newest[LEAST_NEWEST - 1 :])
    assert newest_sales(fitted(frame.iloc[kept], price[kept]).fit_) is None


def test_nothing_is_said_where_most_sales_are_new():
    frame, price = sales(60, 5)
    kept = np.flatnonzero(frame["sold"] > NEWEST - pd.Timedelta(days=240))
    frame = pd.concat([frame.iloc[kept]] * 3, ignore_index=True).assign(mileage=np.arange(3.0 * len(kept)) % 7)
    assert newest_sales(fitted(frame, np.tile(price[kept], 3)).fit_) is None
