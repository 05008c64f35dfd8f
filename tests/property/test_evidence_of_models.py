"""Laws of the evidence of a fitted model: cents, currencies, the order of rows, and doubled doubt."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.answers.explain import explain
from valuation.comparables import from_frame
from valuation.evidence import adjustment_grid
from valuation.evidence.grid_rows import in_cents
from valuation.regression import PriceModel
from valuation.schema import default_schema, parse_vehicle

GRADES = ("derelict", "project", "runner", "driver", "show")
SCHEMA = default_schema()


def table(seed, factor=1.0, order=None):
    rng = np.random.default_rng(seed)
    rows = 36
    grade = rng.integers(0, 5, rows)
    year = rng.integers(1935, 1966, rows)
    price = np.exp(9.5 + 0.4 * grade + 0.01 * (year - 1950) + rng.normal(0, 0.15, rows))
    frame = pd.DataFrame(
        {
            "sale": [f"S{i}" for i in range(rows)],
            "date": (pd.Timestamp("2022-01-03") + pd.to_timedelta(rng.integers(0, 1500, rows), unit="D")).strftime(
                "%Y-%m-%d"
            ),
            "price": np.round(price * factor, 2),
            "outcome": "sold",
            "family": rng.choice(["Orvane Tessera", "Tarrowby Linnet"], rows),
            "model_year": year,
            "condition": [GRADES[g] for g in grade],
        }
    )
    return from_frame(frame.iloc[order] if order is not None else frame, SCHEMA, name="invented.csv")


def fitted(comparables):
    return PriceModel.fit(comparables, lattice_points=1, tails=False, interaction=False)


@pytest.fixture(scope="module")
def model():
    return fitted(table(1))


vehicles = st.fixed_dictionaries(
    {},
    optional={
        "family": st.sampled_from(["Orvane Tessera", "Tarrowby Linnet", "Marrow Vale"]),
        "model_year": st.integers(1925, 1975),
        "condition": st.sampled_from(GRADES),
    },
)


@settings(max_examples=40)
@given(cells=vehicles, coverage=st.floats(0.05, 0.98))
def test_every_vehicle_has_evidence_that_adds_up(model, cells, coverage):
    vehicle = parse_vehicle(cells, SCHEMA, "any")
    found = explain(model, vehicle, coverage=coverage)
    for row in found.grid:
        assert in_cents(row.price) + sum(in_cents(line.amount) for line in row.lines) == in_cents(row.adjusted_price)
        assert abs(100 * row.net) <= 100 * row.gross + 1e-6
    assert sum(row.weight for row in found.grid) == pytest.approx(1)
    ends = [row.adjusted_price for row in found.grid]
    assert min(ends) <= found.reconciled * (1 + 1e-12) <= max(ends) * (1 + 1e-9)
    for effect in found.effects:
        assert effect.low_percent <= effect.percent <= effect.high_percent
        assert 0 <= effect.from_table <= 1
    assert all(0 <= gap.narrows_percent < 100 for gap in found.gaps)
    assert len(found.influence) == 36


@settings(max_examples=5)
@given(factor=st.sampled_from([0.01, 0.5, 7.0, 1000.0]))
def test_another_currency_changes_money_and_no_percentage(model, factor):
    vehicle = parse_vehicle({"family": "Orvane Tessera", "model_year": 1950, "condition": "driver"}, SCHEMA, "one")
    here, there = explain(model, vehicle), explain(fitted(table(1, factor)), vehicle)
    # Prices are entered to the cent, so the smallest currency loses digits.
    near = 1e-3 if factor < 0.1 else 1e-4
    assert there.median == pytest.approx(factor * here.median, rel=near)
    for one, other in zip(here.effects, there.effects, strict=True):
        assert other.percent == pytest.approx(one.percent, rel=10 * near, abs=0.02)
        assert other.money == pytest.approx(factor * one.money, rel=20 * near, abs=factor * 10)
    assert [row.sale for row in there.grid] == [row.sale for row in here.grid]
    assert there.reconciled == pytest.approx(factor * here.reconciled, rel=10 * near)


@settings(max_examples=5)
@given(seed=st.integers(0, 1000))
def test_the_order_of_the_rows_does_not_matter(model, seed):
    vehicle = parse_vehicle({"family": "Tarrowby Linnet", "model_year": 1948, "condition": "runner"}, SCHEMA, "one")
    here = adjustment_grid(model, vehicle)
    there = adjustment_grid(fitted(table(1, order=np.random.default_rng(seed).permutation(36))), vehicle)
    assert [row.sale for row in there.rows] == [row.sale for row in here.rows]
    assert there.reconciled == pytest.approx(here.reconciled, rel=1e-5)
