"""What an estimate says aloud: its range however far it is open, what it rests on, what it was not told."""

import datetime as dt
import math
from dataclasses import replace

import pytest

from valuation.answers import estimate_words as words
from valuation.answers.estimate import Estimate
from valuation.regression.figures import Factor, Interval
from valuation.schema.vehicle import Vehicle

DAY = dt.date(2026, 10, 31)
FACTORS = (
    Factor("family", "Garrow Wren", 1.2, 1.1, 1.3),
    Factor("paint", "unknown", 1.5, 1.0, 2.0),
    Factor("awards", "none", 0.98, 0.97, 0.99),
    Factor("condition", "driver", 0.5, 0.4, 0.6),
    Factor("sale_date", "2026-10-31", 1.1, 1.0, 1.2),
    Factor("interaction", "", 1.01, 0.9, 1.1),
)
FOUND = Estimate(
    vehicle=Vehicle("the Wren", {"family": "Garrow Wren", "condition": "driver"}),
    as_of=DAY,
    currency="USD",
    median=45_312.0,
    mean=46_000.0,
    interval=Interval(0.8, 36_812.0, 55_349.0),
    mean_interval=Interval(0.8, 43_000.0, 47_000.0),
    base=28_900.0,
    factors=FACTORS,
    notes=(),
    sales_used={"sold": 31, "bid_not_met": 4, "asking": 5, "set_aside": 2},
    grid=(),
    reconciled=None,
    titles={"paint": "Paint", "awards": "Awards", "condition": "Condition", "sale_date": "Date of sale"},
)


@pytest.mark.parametrize(
    ("interval", "said"),
    [
        (Interval(0.8, 36_812.0, 55_349.0), "8 in 10 such sales end between 36,800 and 55,300."),
        (Interval(0.95, 30_000.0, 60_000.0), "95 in 100 such sales end between 30,000 and 60,000."),
        (
            Interval(0.8, 36_812.0, math.inf),
            "8 in 10 such sales end at 36,800 or more; there are too few to say how high.",
        ),
        (Interval(0.8, 0.0, 55_349.0), "8 in 10 such sales end at 55,300 or less; there are too few to say how low."),
        (Interval(0.8, 0.0, math.inf), "There are too few sales to say where 8 in 10 such sales end."),
    ],
)  # fmt: skip
def test_the_range_is_said_however_far_it_is_open(interval, said):
    assert words.range_sentence(interval) == said
    assert words.answer_sentence(replace(FOUND, interval=interval)).endswith(said)


def test_the_answer_names_vehicle_price_currency_and_day():
    assert words.price_sentence(FOUND) == "the Wren: about 45,300 USD on 31 October 2026."
    assert words.price_sentence(replace(FOUND, currency="")) == "the Wren: about 45,300 on 31 October 2026."


def test_a_narrow_range_gives_a_fourth_figure():
    assert "about 45,310 USD" in words.price_sentence(replace(FOUND, interval=Interval(0.8, 44_000.0, 46_500.0)))


def test_parts_multiply_to_the_same_however_many_are_named():
    for most in (1, 3, 6):
        parts = words.rests_on(FOUND, most)
        assert math.prod(part.factor for part in parts) == pytest.approx(math.prod(one.factor for one in FACTORS))
        assert len(parts) == min(most + 1, len(FACTORS))
    assert [part.title for part in words.rests_on(FOUND, 2)] == ["Condition", "family", "everything else"]
    assert "31 October 2026" in [part.level for part in words.rests_on(FOUND)]


def test_what_is_not_told_is_named_with_what_it_counts_as():
    assert words.not_told(FOUND) == "Not told, so counted: paint as is usual in the table; awards as none."
    whole = Vehicle("the Wren", {**FOUND.vehicle.attributes, "paint": "worn", "awards": "none"})
    assert words.not_told(replace(FOUND, vehicle=whole)) == ""


def test_the_strongest_factor_is_one_that_was_told():
    assert words.strongest(FOUND) == (
        "What moves it most is condition: driver is worth 0.50 times the table's average."
    )
