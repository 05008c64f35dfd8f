"""One reader of money, numbers and dates: a text means the same in a table, a form, a command, a plan and a request."""

import argparse
import datetime as dt

import pytest
from pydantic import ValidationError

from api.forms import amount, day
from api.models.deal import OfferAsked
from api.plan_form import text_from_form
from api.problems import Refusal
from valuation.answers.given import amount_in
from valuation.build.plan_file import parse_plan, plan_from_dict
from valuation.cli.parser import _amount, _day
from valuation.comparables import read_comparables
from valuation.errors import ValuationError
from valuation.schema import parse_schema, parse_vehicle
from valuation.sheets.deal_sheet import read_spent

SCHEMA = parse_schema(
    'currency = "GBP"\n[attributes.mileage]\nrole = "number"\nminimum = 0\n[attributes.grade]\nrole = "nominal"\n',
    "s.toml",
)
REFUSED = "refused"


def table(price="100", mileage="10", date="2024-05-31"):
    data = f'price|outcome|date|mileage|grade\n"{price}"|sold|"{date}"|"{mileage}"|a\n'.encode()
    return read_comparables(data, SCHEMA, today=dt.date(2026, 1, 1))


def of_table(name):
    def read(text):
        read = table(**{name: text})
        if not read.n_usable:
            return REFUSED
        found = {"price": read.sales["price"], "date": read.sales["date"]}.get(name, read.attributes.get("mileage"))
        return found.iloc[0].date() if name == "date" else float(found.iloc[0])

    return read


def plan(**purchase):
    data = {"name": "p", "currency": "GBP", "vehicle": {"mileage": 10}, "steps": [{"id": "a", "cost": 1}]}
    return plan_from_dict(data | purchase, SCHEMA)


def plan_form(name):
    text = 'name = "p"\ncurrency = "GBP"\n[vehicle]\nmileage = 10\n[[steps]]\nid = "a"\nwhat = "a"\n'

    def read(written):
        form = {"text": text, "step.0.id": "a", "step.0.what": "a", name: written}
        return parse_plan(text_from_form(form), SCHEMA)

    return read


MONEY_ENTRANCES = {
    "table": of_table("price"),
    "form": lambda text: amount({"a": text}, "a", "the price", "GBP"),
    "command": lambda text: amount_in(_amount(text), "GBP", "--price"),
    "spent": lambda text: read_spent([f"Transport={text}"], "GBP")[0].amount,
    "plan": lambda text: plan(purchase={"asked": text}).purchase.asked,
    "plan form": lambda text: plan_form("purchase.fees")(text).purchase.fees,
    "plan card": lambda text: plan_form("step.0.cost")(text).steps[0].cost.likely,
    "request": lambda text: OfferAsked(estimate=1, amount=text).amount,
}
NUMBER_ENTRANCES = {
    "table": of_table("mileage"),
    "vehicle": lambda text: parse_vehicle({"mileage": text}, SCHEMA).attributes["mileage"],
    "plan": lambda text: plan(steps=[{"id": "a", "hours": text}]).steps[0].hours.likely,
    "plan form": lambda text: plan_form("step.0.hours")(text).steps[0].hours.likely,
}
DATE_ENTRANCES = {
    "table": of_table("date"),
    "form": lambda text: day({"a": text}, "a", "the day"),
    "command": _day,
    "plan": lambda text: plan(start=text).start,
}


def outcome(read, text):
    try:
        return read(text)
    except (Refusal, ValuationError, ValidationError, argparse.ArgumentTypeError):
        return REFUSED


@pytest.mark.parametrize("entrance", MONEY_ENTRANCES)
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("24500", 24500.0),
        ("24.500", 24500.0),
        ("24,500", 24500.0),
        ("24'500", 24500.0),
        ("12,5", 12.5),
        ("12.50", 12.5),
        ("24.500,00", 24500.0),
        ("£22,500", 22500.0),
        ("22.500 GBP", 22500.0),
        ("24k", 24000.0),
        ("5.75k", 5750.0),
        ("5,75 K", 5750.0),
        ("9.250k", REFUSED),
        ("24m", REFUSED),
        ("lots", REFUSED),
        ("-5", REFUSED),
        ("10 %", REFUSED),
        ("inf", REFUSED),
        ("nan", REFUSED),
        ("1e999", REFUSED),
        ("9" * 300, REFUSED),
        ("9" * 5000, REFUSED),
        ("2000000000000", REFUSED),
        ("²", REFUSED),
    ],
)
def test_money(entrance, text, value):
    assert outcome(MONEY_ENTRANCES[entrance], text) == value


@pytest.mark.parametrize("entrance", [name for name in MONEY_ENTRANCES if name not in ("table", "request")])
def test_another_currency_is_refused_where_one_is_meant(entrance):
    assert outcome(MONEY_ENTRANCES[entrance], "$38,000") == REFUSED


@pytest.mark.parametrize("entrance", NUMBER_ENTRANCES)
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("71000", 71000.0),
        ("71,000", 71000.0),
        ("71.000", REFUSED),
        ("71.000,5", 71000.5),
        ("12,5", 12.5),
        ("12.5", 12.5),
        ("0.125", 0.125),
        ("9" * 300, REFUSED),
        ("inf", REFUSED),
        ("12k", REFUSED),
    ],
)
def test_numbers(entrance, text, value):
    if (entrance, text) == ("table", "12k"):
        value = 12_000.0  # a table is read as people keep it, and what was read otherwise than written is listed
    assert outcome(NUMBER_ENTRANCES[entrance], text) == value


@pytest.mark.parametrize("entrance", DATE_ENTRANCES)
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2025-05-31", dt.date(2025, 5, 31)),
        ("31.05.2025", dt.date(2025, 5, 31)),
        ("31/05/2025", dt.date(2025, 5, 31)),
        ("31 May 2025", dt.date(2025, 5, 31)),
        ("May 31, 2025", dt.date(2025, 5, 31)),
        ("2025-02-30", REFUSED),
        ("0001-01-01", REFUSED),
        ("9999-12-31", REFUSED),
        ("soon", REFUSED),
    ],
)
def test_dates(entrance, text, value):
    assert outcome(DATE_ENTRANCES[entrance], text) == value


def test_a_date_of_two_readings_is_said_in_a_table_and_refused_elsewhere():
    assert [note.code for note in table(date="03/05/2024").notes] == ["dates_by_rule"]
    for entrance, read in DATE_ENTRANCES.items():
        if entrance != "table":
            assert outcome(read, "03/05/2024") == REFUSED


def test_a_number_of_two_readings_names_both():
    with pytest.raises(ValuationError, match=r"'71\.000' can be read as two numbers, 71000 and 71\.0\. Write the one"):
        parse_vehicle({"mileage": "71.000"}, SCHEMA)
    told = parse_schema('decimal_mark = ","\n' + SCHEMA.source_text, "s.toml")
    assert parse_vehicle({"mileage": "71.000"}, told).attributes["mileage"] == 71000
    assert "decimal_mark" not in SCHEMA.as_dict()
    assert told.decimal_mark == ","


def test_a_column_that_proves_the_mark_refuses_an_amount_against_it():
    data = b"price,outcome,date,mileage,grade\n12.50,sold,2024-05-31,1,a\n24.500,sold,2024-05-31,2,a\n"
    [fault] = [fault for fault in read_comparables(data, SCHEMA).faults if fault.sets_aside]
    assert fault.why == "The price '24.500' can be read as two numbers, 24500 and 24.5."
