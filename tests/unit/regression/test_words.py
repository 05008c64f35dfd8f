"""Words beside an estimate: what an empty cell means, what recorded sales leave out, decimals of small prices."""

import numpy as np
import pandas as pd
import pytest

import valuation as v
from valuation.comparables import from_frame
from valuation.regression import PriceModel
from valuation.regression.findings import RECORDED_SALES
from valuation.schema import parse_schema, parse_vehicle

SCHEMA = parse_schema('[attributes.grade]\nrole = "nominal"\n[attributes.weight]\nrole = "number"\n')


def model(empty, base=4.0):
    rng = np.random.default_rng(2)
    grade = rng.choice(["a", "b"], 40).astype(object)
    price = base * np.exp(0.3 * (grade == "b") + rng.normal(0, 0.1, 40))
    if empty:
        grade[:10] = ""
        price[:10] *= 0.5  # where nobody wrote the grade down, there was a reason
    frame = pd.DataFrame({"price": price.round(2), "outcome": "sold", "grade": grade, "weight": rng.uniform(1, 9, 40)})
    return PriceModel.fit(from_frame(frame, SCHEMA))


def unknown(found):
    value = found.value(parse_vehicle({"weight": 5}, SCHEMA, "one"))
    [text] = [note.text for note in value.notes if note.code == "attribute_unknown"]
    return value, text


def test_an_empty_cell_is_valued_like_empty_cells_where_the_table_has_them():
    value, text = unknown(model(empty=True))
    assert "like those sales of the table where that cell is empty too" in text
    assert value.median == pytest.approx(2.2, rel=0.15)  # half of what the others bring
    _, plain = unknown(model(empty=False))
    assert "the table's average is used" in plain


def test_recorded_sales_are_spoken_of_beside_every_range(tmp_path):
    value, _ = unknown(model(empty=False))
    assert value.notes[-1] == RECORDED_SALES
    assert "5 % high" in RECORDED_SALES.text


def test_small_prices_keep_their_cents():
    value, _ = unknown(model(empty=False))
    assert 3 < value.median < 6
    assert f"{value.median:.2f}" in repr(value)
    assert f"{value.interval.low:.2f} to {value.interval.high:.2f}" in repr(value)
    reasons = v.explain(model(empty=False), parse_vehicle({"weight": 5, "grade": "a"}, SCHEMA, "one"))
    assert f"the estimate is {reasons.influence[0].estimate_without:.2f}" in reasons.influence[0].words
