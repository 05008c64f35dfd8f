"""The short way to an estimate, past pandas, encodes every vehicle as the table does, to the bit."""

import datetime as dt
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from valuation.comparables import read_comparables
from valuation.regression import PriceModel
from valuation.regression.cells import level_codes, standard_numbers
from valuation.schema import Vehicle, parse_vehicle, read_schema

DATA = Path(__file__).parents[3] / "data"
AS_OF = dt.date(2026, 10, 31)


@pytest.fixture(scope="module")
def model() -> PriceModel:
    comparables = read_comparables(DATA / "comparables.csv", read_schema(DATA / "schema.toml"))
    return PriceModel.fit(comparables, lattice_points=4)


@pytest.mark.parametrize(
    "known",
    [
        {},
        {"family": "tarrowby LINNET", "model_year": 1961, "condition": "runner", "paint": "worn"},
        {"family": "never seen", "model_year": 1931, "original_finish": True, "mileage": 1_000_000},
        {"condition": "show", "awards": "national", "documentation": "full", "drivetrain": "missing"},
    ],
)
def test_plain_cells_encode_as_the_table_does(model: PriceModel, known: dict[str, object]) -> None:
    vehicle = parse_vehicle(known, model.schema, "one")
    short, table = model.rows([vehicle], AS_OF), model.core.rows(model.cells([vehicle], AS_OF))
    np.testing.assert_array_equal(short.matrix, table.matrix)
    for name, cells in table.encoded.items():
        for part in ("missing", "unseen", "beyond"):
            np.testing.assert_array_equal(getattr(short.encoded[name], part), getattr(cells, part), err_msg=name)


def test_a_level_outside_a_closed_scale_is_an_empty_cell_both_ways(model: PriceModel) -> None:
    vehicle = Vehicle("unchecked", {"drivetrain": "steam", "model_year": 1950.0})
    short, table = model.rows([vehicle], AS_OF), model.core.rows(model.cells([vehicle], AS_OF))
    assert short.encoded["drivetrain"].missing[0]
    np.testing.assert_array_equal(short.matrix, table.matrix)


def test_levels_have_the_same_places_however_they_are_held() -> None:
    levels = ("low", "middle", "high")
    text = pd.Series(["high", None, "low", "odd", "middle"], dtype=object)
    expected = [2, -1, 0, -2, 1]
    assert level_codes(text, levels).tolist() == expected
    assert level_codes(pd.Series(pd.Categorical(text)), levels).tolist() == expected
    assert level_codes(text.to_numpy(dtype=object), levels).tolist() == expected


def test_dates_and_numbers_read_the_same_however_they_are_held() -> None:
    days = pd.Series(pd.to_datetime(["2024-02-29", None, "1999-12-31"]))
    np.testing.assert_array_equal(standard_numbers(days.to_numpy(), "sold", True), standard_numbers(days, "sold", True))
    numbers = pd.Series([1.5, np.nan, -3.0])
    np.testing.assert_array_equal(
        standard_numbers(numbers.to_numpy(), "size", False), standard_numbers(numbers, "size", False)
    )
