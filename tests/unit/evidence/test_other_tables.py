"""Evidence on tables of other goods: numbers that enter as logs, constant columns, no dates, prices all equal."""

import json

import numpy as np
import pandas as pd
import pytest

from valuation.answers.explain import explain
from valuation.comparables import from_frame
from valuation.evidence.grid_rows import reconcile
from valuation.regression import PriceModel
from valuation.schema import Attribute, Role, Schema, parse_vehicle
from valuation.text.plain import plain

SCHEMA = Schema(
    "boats",
    (Attribute("hours", Role.NUMBER), Attribute("berths", Role.COUNT), Attribute("yard", Role.NOMINAL)),
    default_outcome="sold",
)


def boats(rows=40, seed=0):
    """Prices that fall with the root of the hours run, over a range of a hundredfold."""
    rng = np.random.default_rng(seed)
    hours = np.round(np.exp(rng.uniform(np.log(20), np.log(2000), rows)))
    berths = rng.integers(2, 7, rows)
    price = np.exp(12 - 0.5 * np.log(hours) + 0.1 * berths + rng.normal(0, 0.05, rows))
    return pd.DataFrame({"price": price.round(2), "hours": hours, "berths": berths, "yard": "Saltmarsh"})


def fitted(frame):
    return PriceModel.fit(from_frame(frame, SCHEMA, name="boats.csv"), lattice_points=1, tails=False)


@pytest.fixture(scope="module")
def found():
    model = fitted(boats())
    assert next(term for term in model.core.design.terms if term.attribute == "hours").logged
    return explain(model, parse_vehicle({"hours": 400, "berths": 4, "yard": "Saltmarsh"}, SCHEMA, "boat"))


def test_a_number_that_enters_as_its_log_is_changed_in_its_own_unit(found):
    changes = [effect for effect in found.effects if effect.attribute == "hours"]
    assert [effect.to_level for effect in changes] == ["200", "600"]
    assert changes[0].percent == pytest.approx(100 * (2**0.5 - 1), abs=8)
    assert changes[1].percent == pytest.approx(100 * ((2 / 3) ** 0.5 - 1), abs=8)


def test_a_count_changes_by_whole_numbers(found):
    assert [e.to_level for e in found.effects if e.attribute == "berths"] == ["3", "5"]


def test_a_constant_column_has_no_effect_to_tell(found):
    assert not [effect for effect in found.effects if effect.attribute == "yard"]
    assert "column_constant" in {note.code for note in found.notes}


def test_no_dates_no_drift(found):
    assert found.trend.levels == ()
    assert {"no_drift", "grid_choice"} <= {note.code for note in found.notes}
    assert "sold not long ago" not in next(note.text for note in found.notes if note.code == "grid_choice")
    assert {row.date for row in found.grid} == {None}


def test_a_number_that_never_changes_has_no_effect():
    model = fitted(boats().assign(berths=4))
    boat = parse_vehicle({"hours": 400, "berths": 4, "yard": "Saltmarsh"}, SCHEMA, "boat")
    assert {effect.attribute for effect in explain(model, boat).effects} == {"hours"}


def test_outside_the_range_the_change_leads_back_into_it():
    boat = parse_vehicle({"hours": 90000, "berths": 9, "yard": "Saltmarsh"}, SCHEMA, "worn out")
    changes = [e for e in explain(fitted(boats()), boat).effects if e.attribute == "berths"]
    assert [(e.from_level, e.to_level) for e in changes] == [("9", "2")]


def test_equal_prices_and_twelve_rows_still_give_plain_data():
    model = fitted(boats(12).assign(price=9000.0))
    found = explain(model, parse_vehicle({}, SCHEMA, "boat"))
    json.dumps(plain(found), allow_nan=False)
    assert found.reconciled == pytest.approx(9000)
    assert "close to the estimate" in next(note.text for note in found.notes if note.code == "grid_reconciled")


def test_nothing_to_reconcile_without_weight(found):
    import dataclasses

    assert reconcile(tuple(dataclasses.replace(row, weight=0.0) for row in found.grid)) is None
