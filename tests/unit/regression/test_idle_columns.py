"""What must not matter: a column that is the same in every sale, and hardly one that says nothing of the price."""

import numpy as np
import pandas as pd
import pytest

from valuation.comparables import from_frame
from valuation.regression import PriceModel, PriceRegressor
from valuation.schema import default_schema, parse_vehicle
from valuation.schema.attributes import Attribute, Level, Role

GRADES = tuple(map(Level, ("poor", "fair", "good")))
CONSTANT = {
    "country": (Attribute("country", Role.NOMINAL), "here"),
    "wheels": (Attribute("wheels", Role.NUMBER), 4.0),
    "decade": (Attribute("decade", Role.SMOOTH), 1950.0),
    "finish": (Attribute("finish", Role.ORDINAL, levels=GRADES, direction="up"), "fair"),
    "runs": (Attribute("runs", Role.FLAG), True),
}


@pytest.fixture(scope="module")
def sales():
    rng = np.random.default_rng(12)
    n = 40
    columns = pd.DataFrame({"year": rng.integers(1930, 1970, n) * 1.0, "body": rng.choice(["coupe", "truck"], n)})
    return columns, np.exp(9 + 0.01 * columns["year"] - 19 + rng.normal(0, 0.3, n)).to_numpy()


def answers(columns, price, new, roles):
    fitted = PriceRegressor(roles).fit(columns, price)
    return np.log([fitted.predict(new), *fitted.predict_interval(new)])


@pytest.mark.parametrize("name", CONSTANT)
def test_a_column_that_is_the_same_in_every_sale_moves_nothing(sales, name):
    columns, price = sales
    roles = {"year": "smooth", "body": "nominal"}
    attribute, value = CONSTANT[name]
    more = columns.assign(**{name: value})
    with_it = answers(more, price, more, {**roles, name: attribute})
    assert with_it == pytest.approx(answers(columns, price, columns, roles), abs=1e-6)


def test_a_family_misspelt_is_asked_about_before_all_else():
    rng = np.random.default_rng(5)
    n = 30
    table = pd.DataFrame(
        {
            "sale": [f"S{i}" for i in range(n)],
            "date": "2024-05-01",
            "price": np.round(np.exp(9.5 + rng.normal(0, 0.2, n))),
            "outcome": "sold",
            "family": rng.choice(["Penhurrow Haywain", "Tarrowby Linnet"], n),
            "model_year": rng.integers(1940, 1960, n),
            "condition": rng.choice(["driver", "project"], n),
            "paint": rng.choice(["worn", "fresh"], n),
        }
    )
    schema = default_schema()
    model = PriceModel.fit(from_frame(table, schema))
    cells = {"model_year": 1950, "condition": "driver", "paint": "fresh"}
    first = model.value(parse_vehicle({**cells, "family": "Penhurow Haywain"}, schema, "one")).notes[0]
    assert first.code == "level_unseen"
    assert "Did you mean 'Penhurrow Haywain'?" in first.text
    other = model.value(parse_vehicle({**cells, "family": "Orvane"}, schema, "one")).notes[0]
    assert "Did you mean" not in other.text
