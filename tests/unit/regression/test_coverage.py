"""Coverage of the 80 % interval by simulation from known truth, at the sizes that shops have.

Each table is drawn anew: three families, an ordered scale with uneven steps, a curve of the year, drift over the sale
dates, Student-t scatter of five degrees of freedom, a tenth of the cells empty, bids that were not met and asking
prices. Thirty new sales are then drawn from the same truth and counted. Sales priced from one table share its luck, so
the tables are the independent draws: allowed are three standard errors of their mean share, which the test works out
and which are about 1.5 to 3 points here (a binomial count of as many wholly independent sales would give 0.03 at most).
"""

import numpy as np
import pandas as pd
import pytest

from valuation.regression import PriceRegressor
from valuation.schema import Attribute, Level, Role

GRADES = np.array(["derelict", "project", "runner", "driver", "show"], dtype=object)
LEVELS = tuple(Level(grade) for grade in GRADES)
ROLES = {
    "condition": Attribute("condition", Role.ORDINAL, levels=LEVELS, direction="up"),
    "year": "smooth",
}
TABLES = {15: 50, 30: 45, 60: 35, 120: 30}
NEW = 30


def draw(rng, truth, n):
    """Vehicles and the prices that they would bring."""
    columns = pd.DataFrame(
        {
            "condition": GRADES[rng.choice(5, n, p=[0.1, 0.25, 0.3, 0.25, 0.1])],
            "family": rng.choice(["heron", "tern", "wren"], n, p=[0.5, 0.3, 0.2]).astype(object),
            "year": rng.integers(1928, 1972, n).astype(float),
            "sold_on": pd.Timestamp("2020-01-01") + pd.to_timedelta(rng.integers(0, 1800, n), unit="D"),
        }
    )
    place = np.searchsorted(np.arange(5), [GRADES.tolist().index(grade) for grade in columns["condition"]])
    worth = (
        truth["grade"][place] + columns["family"].map(truth["family"]) + truth["curve"] * np.sin(columns["year"] / 12)
    )
    drift = truth["drift"] * (columns["sold_on"] - pd.Timestamp("2020-01-01")).dt.days / 365.25
    scatter = truth["scatter"] * rng.standard_t(5, n) / np.sqrt(5 / 3)
    return columns, np.exp(10 + worth + drift + scatter).to_numpy()


def one_table(n, seed):
    """Share of new sales inside the interval of a fit of n rows."""
    rng = np.random.default_rng(seed)
    truth = {
        "grade": np.cumsum(rng.uniform(0.0, 0.5, 5)),
        "family": dict(zip(["heron", "tern", "wren"], rng.normal(0, 0.25, 3), strict=True)),
        "curve": rng.normal(0, 0.15),
        "drift": rng.normal(0.03, 0.04),
        "scatter": rng.uniform(0.12, 0.3),
    }
    columns, price = draw(rng, truth, n)
    for name in ("condition", "year"):
        columns.loc[rng.random(n) < 0.1, name] = None
    low, high = price.copy(), price.copy()
    kind = rng.random(n)
    kind[:12] = 1.0
    low[kind < 0.12] *= rng.uniform(0.6, 1.0, int((kind < 0.12).sum()))
    high[kind < 0.12] = np.inf
    asked = (kind >= 0.12) & (kind < 0.22)
    high[asked] *= rng.uniform(1.0, 1.5, int(asked.sum()))
    low[asked] = 0.0
    regressor = PriceRegressor(ROLES).fit(columns, np.column_stack([low, high]))
    new, brought = draw(rng, truth, NEW)
    ends = regressor.predict_interval(new)
    return ((ends[0] <= brought) & (brought <= ends[1])).mean()


@pytest.mark.slow
@pytest.mark.parametrize("n", TABLES)
def test_eight_in_ten_new_sales_fall_inside(n):
    shares = np.array([one_table(n, 1000 * n + seed) for seed in range(TABLES[n])])
    tolerance = 3 * shares.std(ddof=1) / np.sqrt(len(shares))
    assert tolerance < 0.09
    assert shares.mean() == pytest.approx(0.8, abs=tolerance)
