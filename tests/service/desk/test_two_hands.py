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
def desk(fresh):
    """A desk with one table, version 1."""
    assert fresh.post("/comparables", data={"pasted": TABLE, "name": "t"}).headers["location"] == "/comparables/1"
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


def test_mends_of_an_older_file_find_their_rows_in_a_newer_one(desk):
    lines = TABLE.splitlines(keepends=True)
    newer = "".join([lines[0], "2024-12-01,7000,sold,Tarrowby Linnet,1949,driver\n", *lines[1:]])
    desk.post("/comparables", data={"pasted": newer, "name": "t"})
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
    first = desk.post("/comparables", data={"pasted": table, "name": "h"}).headers["location"]
    number = int(first.rpartition("/")[2])
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
