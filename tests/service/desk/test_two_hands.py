"""Two hands at one table: each mend goes into the newest version, and where both touch one cell the owner chooses."""

import re
from concurrent.futures import ThreadPoolExecutor
from html import unescape

import pytest

TABLE = "date,price,outcome,family,model_year,condition\n" + "".join(
    f"2025-0{1 + i % 9}-1{i % 9},{10_000 + 700 * i},sold,Tarrowby Linnet,{1950 + i},driver\n" for i in range(14)
)
PRICE, CONDITION = 1, 5


@pytest.fixture
def desk(fresh, bring):
    """A desk with one table, version 1."""
    assert bring(fresh, TABLE).headers["location"] == "/comparables/1"
    return fresh


def cells(desk, table):
    return {int(row["row"]): row for row in desk.get(f"/api/v1/comparables/{table}/rows").json()}


def mend(desk, table, **fields):
    return desk.post(f"/comparables/{table}/mend", data={name.replace("_", "."): text for name, text in fields.items()})


def said(answer):
    assert answer.status_code == 303, answer.text
    return unescape(answer.headers["location"]).replace("%20", " ").replace("%2C", ",").replace("%3A", ":")


def test_mends_of_different_cells_are_both_kept_and_the_second_is_told_of_the_first(desk):
    mend(desk, 1, cell_3_5="show")
    words = said(mend(desk, 1, cell_3_1="99", cell_4_5="runner"))
    assert "/comparables/3?" in words
    assert "row 3, condition: driver to show" in words
    newest = cells(desk, 3)
    assert (newest[3]["condition"], newest[3]["price"], newest[4]["condition"]) == ("show", "99", "runner")
    assert cells(desk, 2)[3]["price"] == "10700", "the ledger holds each version as it was"


def test_one_cell_mended_twice_is_the_owners_choice_and_nothing_is_lost(desk):
    mend(desk, 1, cell_3_5="show")
    clash = mend(desk, 1, cell_3_5="runner", cell_4_1="99")
    assert clash.status_code == 409
    text = unescape(clash.text)
    assert "row 3, condition" in text
    assert "your page showed: driver" in text
    assert re.search(r'name="cell\.3\.5" value="show"', text)
    assert re.search(r'name="cell\.3\.5" value="runner"', text)
    assert 'type="hidden" name="cell.4.1" value="99"' in text
    assert 'action="/comparables/2/mend"' in text
    assert len(desk.get("/api/v1/comparables").json()) == 2, "nothing is written before the choice"
    mend(desk, 2, cell_3_5="runner", cell_4_1="99")
    newest = cells(desk, 3)
    assert (newest[3]["condition"], newest[4]["price"]) == ("runner", "99")


def test_the_same_mend_made_twice_is_no_clash(desk):
    mend(desk, 1, cell_3_5="show")
    assert "/comparables/2?" in said(mend(desk, 1, cell_3_5="show"))


def test_a_row_left_out_meanwhile_and_one_changed_meanwhile(desk):
    mend(desk, 1, leave_3="1", cell_5_5="show")
    gone = mend(desk, 1, cell_3_5="runner")
    assert gone.status_code == 409
    assert "row 3, condition: driver to runner" in gone.text
    changed = mend(desk, 1, leave_5="1")
    assert changed.status_code == 409
    assert 'name="leave.5" value="1"' in changed.text
    assert "/comparables/2?" in said(mend(desk, 1, leave_3="1"))


def test_mends_of_an_older_file_find_their_rows_in_a_newer_one(desk, bring):
    lines = TABLE.splitlines(keepends=True)
    newer = "".join([lines[0], "2024-12-01,7000,sold,Tarrowby Linnet,1949,driver\n", *lines[1:]])
    bring(desk, newer)
    assert "/comparables/3?" in said(mend(desk, 1, cell_3_5="show"))
    assert cells(desk, 3)[4]["condition"] == "show"
    assert cells(desk, 3)[3]["condition"] == "driver"


def test_many_at_once_lose_nothing(desk):
    with ThreadPoolExecutor(8) as hands:
        answers = list(hands.map(lambda row: mend(desk, 1, **{f"cell_{row}_5": "show"}), range(2, 10)))
    assert [answer.status_code for answer in answers] == [303] * 8
    tables = desk.get("/api/v1/comparables").json()
    newest = cells(desk, tables[0]["id"])
    assert [newest[row]["condition"] for row in range(2, 10)] == ["show"] * 8
    assert tables[0]["version"] == 9


def test_headers_mapped_by_two_hands(desk):
    table = TABLE.replace("model_year", "vintage").replace("condition", "state")
    number = desk.post("/api/v1/comparables", files={"file": ("h.csv", table.encode())}).json()["table"]["id"]
    send = f"/comparables/{number}/headers"
    assert desk.post(send, data={"map.vintage": "model_year"}).status_code == 303
    assert desk.post(send, data={"map.state": "condition"}).status_code == 303
    newest = desk.get(f"/api/v1/comparables/{number + 2}").json()["headers"]
    assert (newest["vintage"], newest["state"]) == ("model_year", "condition")
    clash = desk.post(send, data={"map.vintage": "mileage", "map.family": "body"})
    assert clash.status_code == 409
    assert 'name="map.vintage" value="model_year"' in clash.text
    assert 'name="map.vintage" value="mileage"' in clash.text
    assert 'type="hidden" name="map.family" value="body"' in clash.text


def test_programs_are_refused_with_both_values(desk):
    one = {"cells": [{"row": 3, "column": "condition", "value": "show"}]}
    other = {"cells": [{"row": 3, "column": "condition", "value": "runner"}]}
    assert desk.post("/api/v1/comparables/1/mends", json=one).status_code == 201
    answer = desk.post("/api/v1/comparables/1/mends", json=other)
    assert (answer.status_code, answer.json()["code"]) == (409, "service.clash")
    assert "row 3, condition (now 'show', wanted 'runner')" in answer.json()["detail"]


FIND = "Barn find: Haywain"


PLANS = "/vehicles/1/plans"


@pytest.fixture
def plan_forms(fresh, sent_by):
    """The desk with the demo, and the form of the find's first plan as a browser would send it, twice."""
    fresh.post("/demo")
    assert fresh.get("/build", params={"subject": FIND}).headers["location"] == PLANS
    form = sent_by(fresh.get(PLANS).text, PLANS)
    return fresh, form, dict(form)


def plan_text(desk):
    return desk.get("/api/v1/vehicles/1/plans").json()[0]["text"]


def hidden(page):
    return {name: unescape(text) for name, text in re.findall(r'type="hidden" name="([^"]*)" value="([^"]*)"', page)}


def test_two_changes_of_one_plan_are_both_kept_where_they_touch_different_fields(plan_forms):
    desk, first, second = plan_forms
    first |= {"step.0.cost_low": "1", "step.0.cost": "2", "step.0.cost_high": "3"}
    second |= {"shop.labour_rate": "41", "step.5.id": "+6", "step.5.what": "Wash it", "step.5.after.cab": "1"}
    assert desk.post(PLANS, data=first).status_code == 303
    answer = desk.post(PLANS, data=second)
    assert "both%20changes%20are%20kept" in answer.headers["location"]
    text = plan_text(desk)
    assert "cost = [1, 2, 3]" in text
    assert "labour_rate = 41" in text
    assert 'id = "wash-it"\nwhat = "Wash it"\nafter = ["cab"]' in text
    assert text.count("[[steps]]") == 6


def test_two_changes_of_one_field_are_the_owners_choice(plan_forms):
    desk, first, second = plan_forms
    first["step.0.cost"], second["step.0.cost"], second["shop.labour_rate"] = "4800", "4900", "41"
    assert desk.post(PLANS, data=first).status_code == 303
    before = plan_text(desk)
    clash = desk.post(PLANS, data=second)
    assert clash.status_code == 409
    assert 'name="step.0.cost" value="4800"' in clash.text
    assert 'name="step.0.cost" value="4900"' in clash.text
    assert "Engine and gearbox out, rebuilt, back in: parts" in clash.text
    assert plan_text(desk) == before, "nothing is written before the choice"
    assert desk.post(PLANS, data=hidden(clash.text) | {"step.0.cost": "4900"}).status_code == 303
    assert "cost = [3600, 4900, 7400]" in plan_text(desk)
    assert "labour_rate = 41" in plan_text(desk)


def test_a_step_that_one_moved_and_the_other_changed_is_moved_and_changed(plan_forms, sent_by):
    desk, first, second = plan_forms
    first["step.4.hours"] = "65"
    moved = desk.post(f"{PLANS}/cards", data={**second, "act": "up.4"})
    assert desk.post(PLANS, data=first).status_code == 303
    assert desk.post(PLANS, data=sent_by(moved.text, PLANS)).status_code == 303
    text = plan_text(desk)
    assert re.findall(r'^id = "(\w+)"', text, re.MULTILINE) == ["engine", "brakes", "body", "cab", "paint"]
    assert "hours = [40, 65, 100]" in text


def test_a_step_that_one_took_out_and_the_other_changed_stays(plan_forms, sent_by):
    desk, first, second = plan_forms
    first["step.4.hours"] = "65"
    without = desk.post(f"{PLANS}/cards", data={**second, "act": "out.4"})
    assert without.text.count('<details class="step"') == 4
    assert desk.post(PLANS, data=first).status_code == 303
    assert desk.post(PLANS, data=sent_by(without.text, PLANS)).status_code == 303
    assert "hours = [40, 65, 100]" in plan_text(desk)


def test_a_second_plan_of_the_same_name_does_not_hide_the_first(plan_forms):
    desk, form, _ = plan_forms
    answer = desk.post(PLANS, data={**form, "number": "0"})
    assert answer.status_code == 409
    assert "Cannot keep a second plan" in answer.text
