"""Sales that the fit finds doubtful: a slipped digit and a wrong grade are named, honest tables left alone."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

import valuation as v
from valuation.comparables import from_frame
from valuation.regression import PriceModel, load_model, save_model
from valuation.schema import default_schema, parse_vehicle

STEPS = {"derelict": -1.2, "project": -0.8, "runner": -0.4, "driver": 0.0, "show": 0.5}
FAMILIES = {"Tern": 0.0, "Heron": 0.5}


def sales(rows=51, seed=0, scatter=0.2):
    rng = np.random.default_rng(seed)
    family, condition = rng.choice(list(FAMILIES), rows), rng.choice(list(STEPS), rows)
    worth = 9.8 + np.array([FAMILIES[f] + STEPS[c] for f, c in zip(family, condition, strict=True)])
    return pd.DataFrame(
        {
            "sale": [f"lot {number}" for number in range(rows)],
            "date": [
                (dt.date(2023, 1, 1) + dt.timedelta(days=int(day))).isoformat() for day in rng.integers(0, 700, rows)
            ],
            "price": np.round(np.exp(worth + rng.normal(0, scatter, rows))),
            "outcome": "sold",
            "family": family,
            "model_year": rng.integers(1946, 1968, rows),
            "condition": condition,
        }
    )


def read(frame, **columns):
    return from_frame(frame.assign(**columns), default_schema(), today=dt.date(2025, 6, 1))


def doubts(comparables):
    return [note.text for note in PriceModel.fit(comparables, lattice_points=8).doubts]


def let_through(monkeypatch):
    """As if reading the table had found no digit that slipped, as it does where neighbours are few."""

    def nothing(log_prices, *_):
        return np.zeros(len(log_prices), dtype=int), np.zeros(len(log_prices), dtype=bool), log_prices

    monkeypatch.setattr("valuation.comparables.reader.find_outlier_prices", nothing)


@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_a_slipped_digit_among_51_sales_is_named_and_mended(monkeypatch, factor):
    let_through(monkeypatch)
    for seed in range(3):
        frame = sales(seed=seed)
        right = frame.loc[20, "price"]
        frame.loc[20, "price"] = right * factor
        [text] = doubts(read(frame))
        assert text.startswith("lot 20: paid ")
        assert f"A digit may have slipped: {right:,.0f} would fit." in text


def test_a_price_that_the_shop_has_confirmed_is_not_named_again():
    frame = sales()
    frame.loc[20, "price"] *= 10
    assert doubts(read(frame, confirmed=["yes" if row == 20 else "" for row in range(51)])) == []


def test_a_sale_graded_too_high_is_said_to_be():
    frame = sales(90, seed=4, scatter=0.12)
    row = int(np.flatnonzero(frame["condition"] == "derelict")[3])
    frame.loc[row, "condition"] = "driver"
    [text] = doubts(read(frame))
    assert text.startswith(f"lot {row}: ")
    assert "It looks graded too high: with condition" in text
    assert "derelict the price would fit" in text or "project the price would fit" in text


def test_a_price_that_no_grade_and_no_digit_explains_is_named_all_the_same():
    frame = sales(60, seed=5, scatter=0.1)
    show = int(np.flatnonzero(frame["condition"] == "show")[0])
    frame.loc[show, "price"] *= 3
    [text] = doubts(read(frame))
    assert "Nothing in its row explains that" in text


@pytest.mark.parametrize("rows", [25, 60])
def test_honest_tables_are_left_alone(rows):
    assert sum(len(doubts(read(sales(rows, seed=100 + seed)))) for seed in range(8)) <= 1


def test_it_is_among_the_notes_of_an_estimate_and_of_the_check_but_not_in_a_saved_model(monkeypatch, tmp_path):
    let_through(monkeypatch)
    frame = sales()
    frame.loc[20, "price"] *= 10
    comparables = read(frame)
    model = PriceModel.fit(comparables)
    vehicle = parse_vehicle({"family": "Tern", "model_year": 1950, "condition": "driver"}, default_schema(), "one")
    assert [note.code for note in model.value(vehicle).notes].count("sale_doubtful") == 1
    assert [note.text for note in v.check(comparables).notes if note.code == "sale_doubtful"] == [
        note.text for note in model.doubts
    ]
    saved = load_model(save_model(model, tmp_path / "model.json"))
    assert saved.doubts == ()
    assert "lot 20" not in (tmp_path / "model.json").read_text()


def test_a_table_too_small_to_fit_has_a_check_all_the_same():
    assert v.check(read(sales(9))).usable == 9
