"""Another shop's model as expectation: matched by level, outweighed by the own table, left aside if wrong."""

import numpy as np
import pandas as pd
import pytest

from valuation.regression import PriceRegressor
from valuation.schema.attributes import Attribute, Level, Role

GRADES = ("poor", "fair", "good", "fine")
WORTH = {"poor": 0.0, "fair": 0.5, "good": 0.7, "fine": 1.2}
FAMILY = {"wren": 0.0, "tern": 0.3, "heron": -0.4, "orvane": 0.8}
ROLES = {
    "grade": Attribute("grade", Role.ORDINAL, levels=tuple(map(Level, GRADES)), direction="up"),
    "family": "nominal",
    "year": "smooth",
    "miles": "number",
}


def shop(seed, n, families=("wren", "tern", "heron"), sign=1.0):
    rng = np.random.default_rng(seed)
    columns = pd.DataFrame(
        {
            "grade": rng.choice(GRADES, n),
            "family": rng.choice(families, n),
            "year": rng.integers(1930, 1970, n) * 1.0,
            "miles": rng.uniform(1e4, 9e4, n),
        }
    )
    return columns, np.exp(9.5 + sign * worth(columns) + rng.normal(0, 0.25, n))


def worth(columns):
    return (columns["grade"].map(WORTH) + columns["family"].map(FAMILY) - 0.004 * (columns["miles"] / 1e3)).to_numpy(
        float
    )


@pytest.fixture(scope="module")
def source():
    return PriceRegressor(ROLES).fit(*shop(1, 300, tuple(FAMILY))).core_


def error(fitted, families=("wren", "tern", "heron")):
    new, _ = shop(99, 400, families)
    off = np.log(fitted.predict(new)) - worth(new)
    return float(np.abs(off - np.median(off)).mean())


def test_few_sales_and_a_like_shop_know_what_the_few_alone_do_not(source):
    alone, leaned = (
        np.mean([error(PriceRegressor(ROLES, lean_on=core).fit(*shop(seed, 16))) for seed in range(2, 8)])
        for core in (None, source)
    )
    assert leaned < 0.75 * alone


def test_a_family_that_only_the_other_shop_has_sold_is_known(source):
    leaned = PriceRegressor(ROLES, lean_on=source).fit(*shop(2, 20))
    assert leaned.fit_.leaned
    two = pd.DataFrame({"grade": "good", "family": ["orvane", "wren"], "year": 1950.0, "miles": 5e4})
    assert np.log(np.divide(*leaned.predict(two))) == pytest.approx(0.8, abs=0.25)


def test_the_own_table_outweighs_the_other_as_it_grows(source):
    """One family is worth more here than there: 250 sales say so, the other's model notwithstanding."""
    columns, price = shop(5, 250)
    price = price * np.where(columns["family"] == "tern", np.exp(0.4), 1.0)
    leaned = PriceRegressor(ROLES, lean_on=source).fit(columns, price)
    two = pd.DataFrame({"grade": "good", "family": ["tern", "wren"], "year": 1950.0, "miles": 5e4})
    assert np.log(np.divide(*leaned.predict(two))) == pytest.approx(0.7, abs=0.12)


def test_a_shop_that_has_it_the_other_way_round_is_left_aside():
    wrong = PriceRegressor(ROLES).fit(*shop(1, 300, sign=-1.0)).core_
    columns, price = shop(3, 40)
    leaned = PriceRegressor({**ROLES, "grade": "nominal"}, lean_on=wrong).fit(columns, price)
    alone = PriceRegressor({**ROLES, "grade": "nominal"}).fit(columns, price)
    assert not leaned.fit_.leaned
    assert leaned.predict(columns) == pytest.approx(alone.predict(columns), rel=1e-12)


def test_levels_that_the_other_shop_does_not_know_stay_as_free_as_ever(source):
    columns, price = shop(6, 40)
    new = columns["family"] == "heron"
    price = price * np.where(new, np.exp(1.3), 1.0)  # as another family, worth 0.9 more than a wren
    leaned = PriceRegressor(ROLES, lean_on=source).fit(
        columns.assign(family=columns["family"].mask(new, "plover")), price
    )
    assert leaned.fit_.leaned
    two = pd.DataFrame({"grade": "good", "family": ["plover", "wren"], "year": 1950.0, "miles": 5e4})
    assert np.log(np.divide(*leaned.predict(two))) == pytest.approx(0.9, abs=0.25)
