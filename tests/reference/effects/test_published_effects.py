"""A published percentage through the project's own fit, by an expectation so unsure that the table decides."""

import numpy as np
import pandas as pd
import pytest

from valuation.comparables import from_frame
from valuation.evidence.effects import effects
from valuation.regression import PriceModel
from valuation.schema import Attribute, Expectation, Role, Schema, parse_vehicle


def test_a_log_coefficient_of_minus_297_thousandths_is_minus_25_7_percent():
    """Twelve priced pairs that differ by exp(-0.297): what is reported is the percentage, not the coefficient."""
    prices = 10000 * np.exp(np.random.default_rng(0).normal(0, 0.1, 12))
    frame = {
        "price": np.concatenate([prices, prices * np.exp(-0.297)]),
        "sale": [f"S{i}" for i in range(24)],
        "female": ["no"] * 12 + ["yes"] * 12,
        "confirmed": "yes",
    }
    unsure = Attribute("female", Role.FLAG, expected=Expectation(0, 1e6))
    schema = Schema("wages", (unsure,), default_outcome="sold")
    model = PriceModel.fit(from_frame(pd.DataFrame(frame), schema), tails=False)
    (effect,) = effects(model, parse_vehicle({"female": False}, schema, "one"))
    assert effect.percent == pytest.approx(-25.7, abs=0.05)
