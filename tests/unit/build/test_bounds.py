"""Bounds of a plan's numbers: each holder keeps to the table, and each message says it."""

import dataclasses
import datetime as dt

import pytest

from valuation.build.bounds import BOUNDS, within
from valuation.build.plan import ShopSettings, Step
from valuation.build.plan_file import parse_plan, plan_from_dict
from valuation.build.terms import BuyersWish, Event, Goal, Purchase, SaleTerms
from valuation.build.three_point import Overrun, ThreePoint
from valuation.errors import PlanError, shown
from valuation.schema import default_schema

HOLDERS = {
    "shop": ShopSettings(),
    "overrun": Overrun(),
    "steps": Step("a"),
    "purchase": Purchase(),
    "event": Event("show", dt.date(2027, 5, 1)),
    "sale": SaleTerms(),
    "wish": BuyersWish("paint", "fresh", 5, 50),
    "goal": Goal(),
}
NUMBERS = [(table, name) for table, names in BOUNDS.items() for name in names]


def with_value(table, name, value):
    given = getattr(HOLDERS[table], name)
    figure = ThreePoint.certain(value) if isinstance(given, ThreePoint) else value
    return dataclasses.replace(HOLDERS[table], **{name: figure})


@pytest.mark.parametrize(("table", "name"), NUMBERS)
def test_a_number_beyond_its_bound_is_refused_with_the_bound(table, name):
    bound = BOUNDS[table][name]
    with pytest.raises(PlanError) as refusal:
        with_value(table, name, bound.high if bound.below else bound.high * 1.001 + 1)
    assert bound.words in str(refusal.value) or "must not be under the typical one" in str(refusal.value)


def test_every_number_that_a_holder_is_given_is_in_the_table():
    for table, holder in HOLDERS.items():
        names = {
            field.name
            for field in dataclasses.fields(holder)
            if field.init
            and isinstance(getattr(holder, field.name), int | float | ThreePoint)
            and not isinstance(getattr(holder, field.name), bool)
        }
        assert names <= set(BOUNDS[table]), table


def test_not_a_number_is_within_no_bound():
    for table, names in BOUNDS.items():
        for bound in names.values():
            assert not bound.holds(float("nan")), table
    with pytest.raises(PlanError, match="'crew' must be 1 or more and at most 100"):
        within("shop", dataclasses.replace(ShopSettings(), crew=10**9))


def test_what_was_found_is_said_in_short():
    deep = []
    for _ in range(100_000):
        deep = [deep]
    assert len(shown(deep)) < 100
    assert shown(10**5000) == "a number of 5,001 digits"
    assert len(shown("a" * 10**6)) <= 125
    assert shown({"local": 1.3}) == "{'local': 1.3}"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a." * 20_000 + "a = 1", "lists or tables more than 64 deep"),
        ('"a". ' * 20_000 + "a = 1", "lists or tables more than 64 deep"),
        ("a = " + "[" * 20_000, "lists or tables more than 64 deep"),
        ("a = " + "9" * 5000, "Cannot read the plan"),
        ("start = 0001-01-01\n[vehicle]\n", "Cannot value|Days from|Cannot use"),
    ],
)
def test_a_plan_that_would_take_for_ever_to_read_is_refused(text, words):
    with pytest.raises(PlanError, match=words):
        parse_plan(text, default_schema())


def test_plain_data_nested_too_deep_is_refused():
    deep = {}
    for _ in range(3000):
        deep = {"vehicle": deep}
    with pytest.raises(PlanError, match="lists or tables more than 64 deep"):
        plan_from_dict(deep, default_schema())
