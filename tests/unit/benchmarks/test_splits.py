"""Splits are the same everywhere, the collections share no table, and the coding never looks at test rows."""

import numpy as np
import pandas as pd
import pytest

from benchmarks.accuracy import datasets, development
from benchmarks.accuracy.coding import Coding
from benchmarks.accuracy.splits import make_split, train_sizes

ROLES = {"size": "number", "grade": "ordinal", "kind": "nominal", "open": "flag", "sold": "date"}


def _frame() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "size": [1.0, 10.0, 100.0, np.nan, 1e4, 1e5],
            "grade": pd.Categorical(["low", "high", None, "mid", "low", "high"], ["low", "mid", "high"], ordered=True),
            "kind": ["a", "b", "a", "b", "a", "b"],
            "open": [True, False, True, False, True, True],
            "sold": pd.to_datetime(
                ["2020-01-01", "2021-01-01", "2022-01-01", "2020-07-01", "2021-07-01", "2019-01-01"]
            ),
        }
    )


def test_a_split_is_fixed_by_name_size_and_number() -> None:
    split = make_split("HousePrices", 546, 25, 3)
    again = make_split("HousePrices", 546, 25, 3)
    assert np.array_equal(split.train, again.train)
    assert np.array_equal(split.test, again.test)
    # Pinned, so that a change of the recipe, which would void every cached result, does not go unseen.
    assert split.seed == 2552397840
    assert split.train[:5].tolist() == [212, 255, 21, 63, 37]


def test_train_and_test_rows_never_meet() -> None:
    split = make_split("Diamonds", 351, 100, 0)
    assert len(split.train) == 100
    assert len(split.test) == 200
    assert not set(split.train) & set(split.test)
    assert not np.array_equal(split.train, make_split("Diamonds", 351, 100, 1).train)


@pytest.mark.parametrize(
    ("rows", "expected"),
    [(29, ()), (30, (20,)), (44, (20,)), (45, (25,)), (69, (25,)), (70, (25, 50)), (220, (25, 50, 100, 200))],
)
def test_sizes_leave_enough_rows_to_test_on(rows: int, expected: tuple[int, ...]) -> None:
    assert train_sizes(rows) == expected


def test_coding_learns_from_training_rows_only() -> None:
    frame = _frame()
    train, test = frame.iloc[:5], frame.iloc[5:]
    coded = Coding(ROLES, logs=True).fit(train)
    x = coded.transform(train)
    assert x.shape == (5, 6)
    assert np.allclose(x.mean(axis=0), 0)
    assert np.allclose(x.std(axis=0), 1)
    changed = test.assign(kind="never seen", size=0.0)
    new = coded.transform(changed)
    assert np.isfinite(new).all()
    assert np.array_equal(coded.transform(train), x)


def test_coding_takes_the_log_of_skewed_inputs_only() -> None:
    frame = pd.DataFrame({"skewed": [1.0, 2, 4, 8, 16, 400], "even": [1.0, 2, 3, 4, 5, 6]})
    x = Coding({"skewed": "number", "even": "number"}, logs=True).fit(frame).transform(frame)
    assert np.allclose(np.diff(x[:4, 0]), x[1, 0] - x[0, 0])
    assert np.allclose(np.diff(x[:, 1]), x[1, 1] - x[0, 1])


def test_every_table_loads_in_the_promised_form() -> None:
    small = [*datasets.load_all(), *(load() for load in development.LOADERS[:7])]
    for data in small:
        assert data.target not in data.roles, data.name
        assert (data.prices > 0).all(), data.name
        for column, role in data.roles.items():
            dtype = data.frame[column].dtype
            if role == "ordinal":
                assert isinstance(dtype, pd.CategoricalDtype), (data.name, column)
                assert dtype.ordered, (data.name, column)
            if role in {"number", "smooth", "count"}:
                assert pd.api.types.is_numeric_dtype(dtype), (data.name, column)
            if role == "flag":
                assert pd.api.types.is_bool_dtype(dtype), (data.name, column)
