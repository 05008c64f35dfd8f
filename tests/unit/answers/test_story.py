"""A vehicle's life as the ledger tells it: stages, the next thing, and what one stage hands on to the next."""

import datetime as dt
import json
from pathlib import Path

import pytest

from valuation.answers.demo import bring_demo
from valuation.answers.story import as_it_stands, outlay_so_far, shop_lines, story
from valuation.answers.tables import Tables
from valuation.answers.vehicle_file import plan_key, same_name, vehicle_file, vehicle_files, vehicle_kept
from valuation.answers.vehicles import vehicles

DATA = Path(__file__).parents[3] / "data"
FIND = "Barn find: Haywain"


@pytest.fixture
def tables(tmp_path):
    found = Tables(str(tmp_path / "shop.sqlite"))
    bring_demo(found, DATA)
    yield found
    found.close()


@pytest.fixture
def bare(tmp_path):
    found = Tables(str(tmp_path / "bare.sqlite"))
    yield found
    found.close()


def valued(tables, subject, median=20_000.0, **vehicle):
    ledger = tables.ledger
    model = ledger.add_model(text="a model", table_id=tables.newest_table().id)
    summary = {"as_of": "2026-10-31", "currency": "USD", "median": median, "interval": {
        "coverage": 0.8, "low": 0.8 * median, "high": 1.2 * median}}  # fmt: skip
    told = vehicle or {"family": "Penhurrow Haywain", "model_year": 1955.0, "condition": "project", "vehicle": "H-55"}
    return ledger.add_estimate(subject=subject, vehicle=told, model_id=model.id, summary=summary)


def compared(tables, subject, most=13_742.0, best="keep the paint"):
    path = {"name": "keep the paint", "most_to_pay": most, "finish": {"likely": "2027-06-14"}, "ready": "Ready."}
    paths = {"paths": [path], "best": best, "currency": "USD", "as_of": "2026-11-01"}
    return tables.ledger.add_deal(subject=subject, kind="build", inputs={}, result={"paths": paths})


def priced(tables, subject):
    result = {"floor": 41_950.0, "target": 45_000.0, "ask": 49_900.0, "currency": "USD"}
    return tables.ledger.add_deal(subject=subject, kind="bands", inputs={}, result=result)


def section(found, key):
    return next(one for one in found.sections if one.key == key)


def with_steps_done(tables, plan, *done):
    rows = "".join(f'\n[[done]]\nstep = "{step}"\non = 2026-11-0{day}\ncost = {cost}\nhours = {hours}\n'
                   for step, day, cost, hours in done)  # fmt: skip
    text = f"{plan.text}\n[bought]\non = 2026-10-01\nprice = 9000\n{rows}"
    return tables.ledger.add_plan(subject=plan.subject, name=plan.name, text=text, corrects=plan.id, reason="ticked")


def test_a_vehicle_goes_from_found_to_sold_with_one_next_thing_at_each_stage(tables):
    ledger = tables.ledger
    steps = []

    def look():
        found = story(tables, FIND)
        (now,) = [one.key for one in found.sections if one.state == "now"]
        assert now == found.next.section
        steps.append((found.stage, found.next.text))
        return found

    assert section(look(), "pay").state == "later"
    valued(tables, FIND)
    assert look().sentence.startswith("About 20,000 USD on 31 October 2026; 80 in 100 such sales end between 16,000")
    compared(tables, FIND)
    assert section(look(), "pay").outcome == "Pay up to 13,700 USD (keep the paint)."
    ledger.change_vehicle(FIND, "bought", {"bought_for": 9_000, "bought_on": dt.date(2026, 10, 1)})
    assert section(look(), "pay").outcome == "Bought for 9,000 USD on 1 October 2026."
    plan = next(one for one in ledger.plans(FIND) if one.name == "keep the paint")
    with_steps_done(tables, plan, ("brakes", 1, 2100, 80), ("engine", 2, 4800, 90), ("cab", 3, 1000, 50))
    assert section(look(), "work").outcome.startswith("Every step is done, ")
    priced(tables, FIND)
    assert section(look(), "ask").outcome == "Ask 49,900 USD, floor 42,000."
    ledger.add_offer(subject=FIND, amount=41_000, offered_on="2026-11-05", who="Ruth", currency="USD")
    assert section(look(), "offers").outcome == "1 offer, the highest 41,000 USD by Ruth."
    ledger.answer_offer(1, "decline")
    look()
    ledger.add_sale(estimate_id=1, price=44_000, sold_on="2026-11-06", kind="private", confirmed=True)
    assert section(look(), "sale").outcome == "Brought 44,000 USD on 6 November 2026; 20,000 was estimated."
    assert steps == [
        ("found", "Value it"),
        ("found", "See what to pay at most"),
        ("found", "Bought it? Say for how much"),
        ("in work", "Tick what is done"),
        ("in work", "Set its price"),
        ("for sale", "Enter an offer"),
        ("for sale", "Answer Ruth"),
        ("for sale", "Enter an offer"),
        ("sold", "See how the estimate did"),
    ]


def test_the_steps_that_are_done_make_the_vehicle_as_it_stands_and_their_money_the_outlay(tables):
    assert as_it_stands(tables, FIND).attributes["condition"] == "project"
    assert outlay_so_far(tables, FIND) is None
    plan = next(one for one in tables.ledger.plans(FIND) if one.name == "keep the paint")
    with_steps_done(tables, plan, ("brakes", 1, 2100, 80), ("engine", 2, 4800, 90))
    stands = as_it_stands(tables, FIND)
    assert (stands.attributes["condition"], stands.attributes["drivetrain"]) == ("runner", "rebuilt-original")
    assert stands.attributes["paint"] == "worn"
    # Purchase 9,000 with fees 150 and transport 350; steps 2,100 + 80 h and 4,800 + 90 h at 24; five weeks and a day of
    # holding 25 and a third of 420 a week.
    weeks = (dt.date(2026, 11, 6) - dt.date(2026, 10, 1)).days / 7
    outlay = 9_000 + 150 + 350 + 2_100 + 4_800 + 170 * 24 + weeks * (25 + 420 / 3)
    assert outlay_so_far(tables, FIND, dt.date(2026, 11, 6)) == pytest.approx(outlay)


def test_a_purchase_counts_for_a_plan_that_does_not_say_it(tables):
    tables.ledger.change_vehicle(
        vehicle_kept(tables.ledger, FIND).subject, "bought", {"bought_for": 9_000, "bought_on": dt.date(2026, 10, 1)}
    )
    compared(tables, FIND)
    lines = {one.subject: one for one in shop_lines(tables, vehicle_files(tables))}
    assert lines[FIND].stage == "in work"
    # engine 4,700 and 95 h, brakes 2,000 and 70 h, cab 1,100 and 60 h at 24, and what past jobs came to over that
    assert lines[FIND].figure.startswith("14,")
    assert lines[FIND].figure.endswith(" USD to go, ready about 14 June 2027")


def test_vehicles_of_an_old_ledger_are_taken_up_once_as_they_were_first_known(tables):
    first = valued(tables, "A Haywain")
    valued(tables, "A Haywain", condition="driver")
    files = {one.subject: one for one in vehicle_files(tables)}
    assert json.loads(files["A Haywain"].vehicle.found)["condition"] == "project"
    assert (files["A Haywain"].vehicle.number, files["A Haywain"].estimate.id) == ("H-55", first.id + 1)
    find = files[FIND].vehicle
    assert (find.asked, find.currency, json.loads(find.found)["condition"]) == (9_500.0, "USD", "project")
    assert {one.subject: one.number for one in vehicle_files(tables)} == {
        subject: one.number for subject, one in files.items()
    }


def test_a_name_an_archive_and_a_plan_put_away(tables):
    file = vehicle_file(tables, FIND)
    assert {plan.name for plan in file.plans} >= {"keep the paint"}
    tables.ledger.show_as("vehicle", FIND, name="The blue one", archived=True)
    tables.ledger.show_as("plan", plan_key(FIND, "keep the paint"), archived=True)
    file = vehicle_file(tables, FIND)
    assert (file.name, file.archived) == ("The blue one", True)
    assert "keep the paint" not in {plan.name for plan in file.plans}
    assert same_name(tables, "the  Blue one").subject == same_name(tables, FIND.upper()).subject == FIND
    assert same_name(tables, "The green one") is None
    assert FIND not in {one.subject for one in vehicles(tables).vehicles}


def test_a_vehicle_can_be_kept_before_any_table_is_there(bare):
    vehicle_kept(bare.ledger, "A Tern", found={"condition": "derelict"}, asked=650.0, currency="EUR")
    found = story(bare, "A Tern")
    assert (found.stage, found.sentence, found.next.text) == ("found", "Not valued yet.", "Value it")
    assert section(found, "what").outcome == "Condition derelict, asked 650 EUR."
    assert [one.figure for one in shop_lines(bare, vehicle_files(bare))] == ["not compared yet"]
    bare.ledger.change_vehicle("A Tern", "bought", {"bought_for": 600, "bought_on": dt.date(2026, 11, 1)})
    assert story(bare, "A Tern").next.text == "Write the plan of the work"
    assert outlay_so_far(bare, "A Tern") == 600
