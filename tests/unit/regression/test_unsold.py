"""Ranges of unsold rows: learned where the table can tell, usual where it cannot, stated in a schema if known."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from benchmarks.known_truth import unsold
from benchmarks.known_truth.simulate import ATTRIBUTES, World
from valuation.comparables import from_frame
from valuation.regression import PriceModel, PriceRegressor
from valuation.regression.unsold import USUAL, UnsoldRanges, learn_ranges, plausible
from valuation.schema import default_schema

SPREAD = 0.2


def bids(gap, m=4000, seed=1):
    """Bids ``gap`` wide at most under prices around 0, as ``learn_ranges`` asks for them."""
    rng = np.random.default_rng(seed)
    bid = SPREAD * rng.normal(size=m) - rng.uniform(0, gap, m)
    return bid, np.full(m, np.inf), np.zeros(m), np.full(m, SPREAD), np.full(m, "", dtype=object)


@pytest.mark.parametrize("gap", [0.1, 0.25, 0.6])
def test_many_bids_tell_their_range(gap):
    assert learn_ranges(*bids(gap)).bid == pytest.approx(gap, rel=0.1)


def test_asking_prices_tell_theirs_as_bids_do():
    low, high, *rest = bids(0.5)
    both = learn_ranges(-high, -low, *rest)
    assert both.asking == pytest.approx(learn_ranges(low, high, *rest).bid, rel=1e-9)
    assert both.bid == pytest.approx(USUAL, rel=1e-6)


def test_few_bids_stay_near_the_usual_range():
    few = learn_ranges(*bids(0.6, m=8)).bid
    assert USUAL < few < 0.45


def test_a_venue_with_bids_enough_has_a_range_of_its_own():
    near, far, few = bids(0.1, 60), bids(0.6, 60, 2), bids(0.6, 5, 3)
    low, high, mean, spread = (np.concatenate(parts) for parts in zip(near[:4], far[:4], few[:4], strict=True))
    venue = np.repeat(np.array(["Saltmarsh Yard", "Tidewater Hall", "Pond Lane"], dtype=object), [60, 60, 5])
    found = learn_ranges(low, high, mean, spread, venue)
    assert sorted(found.bid_at) == ["Saltmarsh Yard", "Tidewater Hall"]
    assert found.bid_at["Saltmarsh Yard"] < 0.2 < found.bid < 0.45 < found.bid_at["Tidewater Hall"]
    _, closed = found.bounds(np.zeros(3), np.full(3, np.inf), np.array(["Saltmarsh Yard", "Pond Lane", ""], object))
    assert closed.tolist() == [found.bid_at["Saltmarsh Yard"], found.bid, found.bid]


def test_one_venue_for_all_is_the_range_of_all():
    low, high, mean, spread, _ = bids(0.4, 30)
    assert learn_ranges(low, high, mean, spread, np.full(30, "Saltmarsh Yard", dtype=object)).bid_at == {}


def test_open_sides_are_closed_and_no_others():
    low, high = np.array([1.0, 1.0, -np.inf, 1.0]), np.array([1.0, np.inf, 3.0, 2.0])
    venue = np.full(4, "", dtype=object)
    closed_low, closed_high = UnsoldRanges(0.2, 0.3).bounds(low, high, venue)
    assert closed_low.tolist() == [1.0, 1.0, 2.7, 1.0]
    assert closed_high.tolist() == [1.0, 1.2, 3.0, 2.0]


def test_an_opening_bid_far_under_all_sales_stays_a_bare_bound():
    low, high = np.array([9.0, 5.0, -np.inf, -np.inf]), np.array([np.inf, np.inf, 9.5, 14.0])
    assert plausible(low, high, np.full(4, 9.2), np.full(4, 0.3)).tolist() == [True, False, True, False]


def bias(mechanism, tables, n, **settings):
    """Mean error of the log estimate and its mean size, over tables of which three in ten rows are unsold bids."""
    off = []
    for number in range(tables):
        rng = np.random.default_rng([31, number])
        world = World.draw(rng)
        table, new = (unsold.draw(rng, world, rows, mechanism, 0.3) for rows in (n, 200))
        pairs = np.exp(np.column_stack([table.low, table.high]))
        regressor = PriceRegressor(ATTRIBUTES, lattice_points=4, **settings).fit(table.cells, pairs)
        off.append(np.log(regressor.predict(new.cells)) - new.median)
    return float(np.mean(off))


@pytest.mark.slow
def test_bids_on_bad_days_lift_the_estimate_far_less_than_bare_bounds_would():
    """Eight tables of 60 rows; the standard error of a mean error is about 2 %, that of the difference far less."""
    closed, bare = (bias("auction", 8, 60, ranges=told) for told in (True, False))
    assert closed < bare - 0.04
    assert closed == pytest.approx(0.05, abs=0.06)


@pytest.fixture(scope="module")
def table():
    rng = np.random.default_rng(4)
    n = 40
    outcome = np.array(["sold"] * 26 + ["bid_not_met"] * 9 + ["asking"] * 5)
    return pd.DataFrame(
        {
            "sale": [f"S{i}" for i in range(n)],
            "date": "2024-05-01",
            "price": np.round(np.exp(9.5 + rng.normal(0, 0.2, n))),
            "outcome": outcome,
            "venue": "Saltmarsh Yard",
            "family": rng.choice(["Wren", "Heron"], n),
            "model_year": rng.integers(1940, 1960, n),
            "condition": rng.choice(["driver", "project"], n),
            "paint": rng.choice(["worn", "fresh"], n),
        }
    )


def test_the_note_says_what_gap_was_found(table):
    notes = {note.code: note.text for note in PriceModel.fit(from_frame(table, default_schema())).notes}
    assert "worth up to" in notes["unsold_gap"]
    assert "unsold_outnumber" not in notes
    sold = {note.code for note in PriceModel.fit(from_frame(table[:26], default_schema())).notes}
    assert "unsold_gap" not in sold


def test_the_note_says_the_range_of_each_venue_that_has_one():
    rng = np.random.default_rng(7)
    n, families = 120, {"Wren": 0.0, "Heron": 0.4}
    family, venue = rng.choice(list(families), n), rng.choice(["Saltmarsh Yard", "Tidewater Hall"], n)
    unmet = rng.random(n) < 0.4
    gap = rng.exponential(np.where(venue == "Saltmarsh Yard", 0.03, 0.6))
    log_price = 9.5 + np.array([families[name] for name in family]) + rng.normal(0, 0.2, n) - unmet * gap
    cells = pd.DataFrame({"price": np.round(np.exp(log_price)), "venue": venue, "family": family})
    cells = cells.assign(
        sale=[f"S{i}" for i in range(n)], date="2024-05-01", outcome=np.where(unmet, "bid_not_met", "sold"),
        model_year=rng.integers(1940, 1960, n), condition="driver", paint="worn",
    )  # fmt: skip
    model = PriceModel.fit(from_frame(cells, default_schema()))
    at = model.fit_result.ranges.bid_at
    assert at["Saltmarsh Yard"] < at["Tidewater Hall"]
    [text] = [note.text for note in model.notes if note.code == "unsold_gap"]
    assert f"Saltmarsh Yard up to {100 * np.expm1(at['Saltmarsh Yard']):.0f} % over the bid" in text


def test_unsold_rows_that_outnumber_sales_are_named(table):
    notes = {note.code: note.text for note in PriceModel.fit(from_frame(table[14:], default_schema())).notes}
    assert notes["unsold_outnumber"].startswith("14 of the 26 rows were not sold.")


def test_a_gap_stated_for_the_venue_is_used_exactly(table):
    schema = dataclasses.replace(default_schema(), venue_gaps={"saltmarsh yard": 10.0})
    comparables = from_frame(table, schema)
    low, high = comparables.prices().T
    price, outcome = comparables.sales["price"].to_numpy(), comparables.sales["outcome"].to_numpy()
    assert high[outcome == "bid_not_met"] == pytest.approx(price[outcome == "bid_not_met"] * 1.1**2)
    assert low[outcome == "asking"] == pytest.approx(price[outcome == "asking"] / 1.1**2)
    assert (low == high)[outcome == "sold"].all()
    model = PriceModel.fit(comparables)
    assert "unsold_gap" not in {note.code for note in model.notes}
    assert model.fit_result.ranges is None
