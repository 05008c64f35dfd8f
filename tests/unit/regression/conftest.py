"""One small table of invented vehicles with a column of every role, and its fit."""

from typing import Any

import numpy as np
import pandas as pd
import pytest

from valuation.regression import PriceRegressor

GRADES = ("poor", "fair", "good")


def make_sales(n: int = 40, seed: int = 0) -> tuple[pd.DataFrame, Any]:
    rng = np.random.default_rng(seed)
    columns = pd.DataFrame(
        {
            "year": rng.integers(1930, 1970, n).astype(float),
            "grade": pd.Categorical(rng.choice(GRADES, n), categories=GRADES, ordered=True),
            "family": rng.choice(["heron", "tern", "wren"], n),
            "papers": rng.random(n) < 0.4,
            "sold_on": pd.Timestamp("2020-01-01") + pd.to_timedelta(rng.integers(0, 1500, n), unit="D"),
        }
    )
    worth = 0.008 * (columns["year"] - 1950) + 0.3 * columns["grade"].cat.codes + 0.2 * (columns["family"] == "heron")
    price = np.exp(9.5 + worth + 0.1 * columns["papers"] + rng.normal(0, 0.15, n))
    return columns, price.to_numpy()


@pytest.fixture(scope="session")
def sales():
    return make_sales()


@pytest.fixture(scope="session")
def fitted(sales):
    return PriceRegressor(lattice_points=4).fit(*sales)
