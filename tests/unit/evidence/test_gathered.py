"""All evidence for one estimate: the promised JSON object, and one set of figures for every face."""

import dataclasses
import datetime as dt
import json

import numpy as np
import pytest
from pydantic import TypeAdapter

from valuation.answers.estimate import estimate
from valuation.answers.explain import explain
from valuation.answers.kept_estimates import KeptEstimate
from valuation.evidence import adjustment_grid
from valuation.evidence.contrasts import States
from valuation.evidence.effects import effects
from valuation.evidence.gaps import ask_gaps
from valuation.evidence.influence import influence_of
from valuation.evidence.subject import Subject
from valuation.evidence.trend import ask_trend
from valuation.regression.price_curve import price_curve
from valuation.text.plain import plain

AS_OF = dt.date(2026, 3, 1)
PROMISED = {
    "vehicle", "as_of", "currency", "median", "mean", "interval", "mean_interval", "base", "factors", "grid",
    "reconciled", "notes", "sales_used", "titles", "curve",
}  # fmt: skip


@pytest.fixture(scope="module")
def found(model, subject):
    return explain(model, subject, AS_OF)


def test_the_object_is_the_promised_one(model, subject):
    answer = json.loads(json.dumps(plain(estimate(model, subject, AS_OF)), allow_nan=False))
    assert set(answer) == PROMISED
    assert answer["as_of"] == "2026-03-01"
    assert set(answer["interval"]) == set(answer["mean_interval"]) == {"coverage", "low", "high"}
    assert set(answer["factors"][0]) == {"attribute", "level", "factor", "low", "high"}
    product = answer["base"] * np.prod([factor["factor"] for factor in answer["factors"]])
    assert product == pytest.approx(answer["median"], rel=1e-12)
    assert {"sale", "price", "adjusted_price", "lines"} <= set(answer["grid"][0])
    for row in answer["grid"]:
        assert round(row["price"] + sum(line["amount"] for line in row["lines"]), 2) == row["adjusted_price"]
    assert all(set(note) == {"code", "text"} for note in answer["notes"])
    assert sum(answer["sales_used"].values()) == 80
    assert set(answer["sales_used"]) == {"sold", "bid_not_met", "asking", "set_aside"}


def test_it_says_what_the_model_says(model, subject):
    answer = estimate(model, subject, AS_OF, 0.9)
    valuation = model.value(subject, AS_OF, 0.9)
    for one in dataclasses.fields(valuation):
        if one.name not in ("notes", "distribution"):
            assert getattr(answer, one.name) == getattr(valuation, one.name), one.name
    assert answer.notes[: len(valuation.notes)] == valuation.notes
    assert answer.curve == price_curve(valuation.distribution)


def agree(one, other):
    """Equal but for the last bits, which depend on how many rows are multiplied at once."""
    for left, right in zip(one, other, strict=True):
        for name, value in plain(left).items():
            expected = plain(right)[name]
            if isinstance(value, float):
                assert value == pytest.approx(expected, rel=1e-9, abs=1e-9)
            else:
                assert value == expected


def test_gathered_evidence_is_that_of_each_part(model, subject, found):
    """Encoding all states at once changes nothing."""
    agree(found.effects, effects(model, subject, AS_OF))
    grid = adjustment_grid(model, subject, AS_OF)
    assert (found.grid, found.reconciled) == (grid.rows, grid.reconciled)
    alone = Subject.of(model, subject, AS_OF)

    def answer(ask):
        states = States(alone.cells)
        return ask(alone, states, 0.8)(states.encode(model.core))

    assert found.influence == influence_of(alone)
    agree(found.trend.levels, answer(ask_trend).levels)
    agree(found.gaps, answer(ask_gaps))
    assert found.median == model.value(subject, AS_OF).median


def test_the_whole_as_plain_data(found):
    answer = json.loads(json.dumps(plain(found), allow_nan=False))
    assert set(answer) == PROMISED | {"effects", "influence", "trend", "gaps"}
    assert len(answer["influence"]) == 80
    assert answer["trend"]["by"] == "quarter"


def test_an_estimate_that_was_kept_before_it_held_so_much_is_still_told(model, subject):
    now = plain(estimate(model, subject, AS_OF)) | {"id": 3, "table": 1}
    before = {name: value for name, value in now.items() if name not in ("titles", "curve")}
    later = ("distance", "why", "gross_percent", "lines")
    before["grid"] = [
        {name: value for name, value in row.items() if name not in later}
        | {"lines": [{name: value for name, value in line.items() if name != "title"} for line in row["lines"]]}
        for row in now["grid"]
    ]
    told = TypeAdapter(KeptEstimate).validate_python(before)
    assert (told.id, told.median, told.titles, told.curve) == (3, now["median"], {}, ())
    assert [row.gross_percent for row in told.grid] == [row["gross_percent"] for row in now["grid"]]
    assert TypeAdapter(KeptEstimate).validate_python({**before, "interval": {**now["interval"], "high": None}})


def test_without_sales_the_grid_is_empty_and_a_note_says_to_give_the_table(model, subject):
    answer = estimate(model.without_sales(), subject, AS_OF)
    assert (answer.grid, answer.reconciled) == ((), None)
    notes = {note.code: note.text for note in answer.notes}
    assert "give the table of comparables" in notes["grid_needs_table"]
    bare = explain(model.without_sales(), subject, AS_OF)
    assert bare.influence == ()
    agree(bare.effects, effects(model, subject, AS_OF))


def test_the_table_may_be_given_to_a_model_without_sales(model, subject, found):
    given = explain(model.without_sales(), subject, AS_OF, comparables=model.comparables)
    assert [row.sale for row in given.grid] == [row.sale for row in found.grid]
    assert [row.adjusted_price for row in given.grid] == [row.adjusted_price for row in found.grid]


def test_no_note_is_said_twice(found):
    texts = [note.text for note in found.notes]
    assert len(texts) == len(set(texts))
    assert {"grid_choice", "drift"} <= {note.code for note in found.notes}
