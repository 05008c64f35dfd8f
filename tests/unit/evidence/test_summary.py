"""All evidence for one estimate: the promised JSON object, and one set of figures for every face."""

import datetime as dt
import json

import numpy as np
import pytest

from valuation.evidence import adjustment_grid, estimate, evidence
from valuation.evidence.contrasts import States
from valuation.evidence.effects import effects
from valuation.evidence.gaps import ask_gaps
from valuation.evidence.influence import influence_of
from valuation.evidence.subject import Subject
from valuation.evidence.trend import ask_trend

AS_OF = dt.date(2026, 3, 1)
PROMISED = {
    "vehicle", "as_of", "currency", "median", "mean", "interval", "mean_interval", "base", "factors", "grid",
    "reconciled", "notes", "sales_used",
}  # fmt: skip


@pytest.fixture(scope="module")
def found(model, subject):
    return evidence(model, subject, AS_OF)


def test_the_object_is_the_promised_one(model, subject):
    answer = json.loads(json.dumps(estimate(model, subject, AS_OF).as_dict(), allow_nan=False))
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
    answer = estimate(model, subject, AS_OF, 0.9).as_dict()
    valuation = model.value(subject, AS_OF, 0.9)
    plain = valuation.as_dict()
    assert {name: answer[name] for name in plain if name != "notes"} == {n: plain[n] for n in plain if n != "notes"}
    assert answer["notes"][: len(plain["notes"])] == plain["notes"]


def agree(one, other):
    """Equal but for the last bits, which depend on how many rows are multiplied at once."""
    for left, right in zip(one, other, strict=True):
        for name, value in left.as_dict().items():
            expected = right.as_dict()[name]
            if isinstance(value, float):
                assert value == pytest.approx(expected, rel=1e-9, abs=1e-9)
            else:
                assert value == expected


def test_gathered_evidence_is_that_of_each_part(model, subject, found):
    """Encoding all states at once changes nothing."""
    agree(found.effects, effects(model, subject, AS_OF))
    assert found.grid == adjustment_grid(model, subject, AS_OF)
    alone = Subject.of(model, subject, AS_OF)

    def answer(ask):
        states = States(alone.cells)
        return ask(alone, states, 0.8)(states.encode(model.core))

    assert found.influence == influence_of(alone)
    agree(found.trend.levels, answer(ask_trend).levels)
    agree(found.gaps, answer(ask_gaps))
    assert found.valuation.median == model.value(subject, AS_OF).median


def test_the_whole_as_plain_data(found):
    plain = json.loads(json.dumps(found.as_dict(), allow_nan=False))
    assert set(plain) == PROMISED | {"effects", "influence", "trend", "gaps"}
    assert len(plain["influence"]) == 80
    assert plain["trend"]["by"] == "quarter"


def test_without_sales_the_grid_is_empty_and_a_note_says_to_give_the_table(model, subject):
    answer = estimate(model.without_sales(), subject, AS_OF).as_dict()
    assert (answer["grid"], answer["reconciled"]) == ([], None)
    notes = {note["code"]: note["text"] for note in answer["notes"]}
    assert "give the table of comparables" in notes["grid_needs_table"]
    bare = evidence(model.without_sales(), subject, AS_OF)
    assert bare.influence == ()
    agree(bare.effects, effects(model, subject, AS_OF))


def test_the_table_may_be_given_to_a_model_without_sales(model, subject, found):
    given = evidence(model.without_sales(), subject, AS_OF, comparables=model.comparables)
    assert [row.sale for row in given.grid.rows] == [row.sale for row in found.grid.rows]
    assert [row.adjusted_cents for row in given.grid.rows] == [row.adjusted_cents for row in found.grid.rows]


def test_no_note_is_said_twice(found):
    texts = [note.text for note in found.notes]
    assert len(texts) == len(set(texts))
    assert {"grid_choice", "drift"} <= {note.code for note in found.notes}
