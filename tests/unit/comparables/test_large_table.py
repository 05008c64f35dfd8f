"""Two hundred thousand rows load in reasonable time, and nothing is lost on the way."""

import io
import time

import numpy as np
import pandas as pd
import pytest

from valuation.comparables import read_comparables
from valuation.schema import default_schema


@pytest.mark.slow
def test_two_hundred_thousand_rows():
    count, draw = 200_000, np.random.default_rng(1)
    schema = default_schema()
    scales = {
        name: draw.choice(schema.attribute(name).level_names, count) for name in ("condition", "paint", "drivetrain")
    }
    frame = pd.DataFrame(
        {
            "sale": [f"s{number}" for number in range(count)],
            "date": draw.choice(pd.date_range("2020-01-01", "2024-12-31").strftime("%Y-%m-%d"), count),
            "price": np.exp(draw.normal(10, 0.5, count)).round(2),
            "outcome": draw.choice(["sold", "asking", "bid_not_met"], count),
            "family": draw.choice([f"family {number}" for number in range(300)], count),
            "model_year": draw.integers(1930, 1975, count),
            "mileage": draw.integers(0, 200_000, count),
            **scales,
        }
    )
    frame.loc[77, "price"] = -1
    buffer = io.BytesIO()
    frame.to_csv(buffer, index=False)
    start = time.process_time()
    table = read_comparables(buffer.getvalue(), schema)
    seconds = time.process_time() - start
    assert table.rows == count
    assert table.n_usable + len(table.set_aside) == count
    assert 79 in table.set_aside.index
    assert seconds < 30  # about 7 on an idle core; twice as much and more on one that others use
