"""A newer version of a table: headers, words and mends of the one before are remembered, told, and can be declined."""

import pytest

HEAD = "sold on;gavel;outcome;line;vintage;state\n"
ROWS = [f"1{i % 9}/0{1 + i % 9}/2025;{10_000 + 700 * i};sold;Tarrowby Linnet;{1950 + i};driver\n" for i in range(14)]
ROWS[2] = ROWS[2].replace("driver", "drvier")
MAPPED = {"sold on": "date", "gavel": "price", "line": "family", "vintage": "model_year", "state": "condition"}


@pytest.fixture
def desk(fresh, bring):
    """A desk with a table whose headers were told (version 1), and mended (version 2)."""
    bring(fresh, HEAD + "".join(ROWS), columns=MAPPED, currency="EUR", day_first="true")
    cells = [{"row": 4, "column": "state", "value": "runner"}, {"row": 5, "column": "gavel", "value": "12000"}]
    mends = {"cells": cells, "left_out": [6], "confirmed": [7]}
    assert fresh.post("/api/v1/comparables/1/mends", json=mends).status_code == 201
    return fresh


@pytest.fixture
def again(bring):
    return lambda desk, rows, **more: bring(desk, HEAD + "".join(rows), **more)


def rows(desk, table):
    return {int(row["row"]): row for row in desk.get(f"/api/v1/comparables/{table}/rows").json()}


def test_headers_currency_order_of_dates_and_mends_are_remembered(desk, again):
    answer = again(desk, [ROWS[13], *ROWS[:13], "19/09/2025;30000;sold;Tarrowby Linnet;1964;show\n"])
    assert answer.headers["location"] == "/comparables/4?brought=1"
    found = desk.get("/api/v1/comparables/4").json()
    assert {header: found["headers"][header] for header in MAPPED} == MAPPED
    assert (found["currency"], found["usable"]) == ("EUR", 14)
    mended = rows(desk, 4)
    assert (mended[5]["state"], mended[6]["gavel"], mended[8]["confirmed"]) == ("runner", "12000", "yes")
    assert 7 not in mended
    page = desk.get(answer.headers["location"]).text
    assert "4 mends were made again" in page
    assert '<th scope="row">5</th><td>state</td><td>drvier</td><td>runner</td>' in page
    assert '<th scope="row">7</th><td colspan="3">left out</td>' in page
    as_it_came = rows(desk, 3)
    assert (as_it_came[5]["state"], 7 in as_it_came) == ("drvier", True), "the file as it came is a version of its own"


def test_what_no_longer_fits_is_told_and_not_made(desk, again):
    changed = [*ROWS]
    changed[2] = changed[2].replace("drvier", "project")
    changed[3] = changed[3].replace("Linnet", "Wren")
    page = desk.get(again(desk, changed).headers["location"]).text
    assert "2 mends no longer fit and were not made" in page
    assert "row 4 of version 2, state: drvier to runner; row 4 now holds project" in page
    assert "row 5 of version 2, gavel: 12100 to 12000; the file has no such row any more" in page
    assert "2 mends were made again" in page


def test_the_owner_can_decline_and_then_they_are_forgotten(desk, again):
    again(desk, [*ROWS, "19/09/2025;30000;sold;Tarrowby Linnet;1964;show\n"])
    declined = desk.post("/comparables/4/as-it-came")
    assert declined.headers["location"].startswith("/comparables/5?")
    assert rows(desk, 5) == rows(desk, 3)
    found = desk.get("/api/v1/comparables/5").json()
    assert found["headers"]["gavel"] == "price"
    newer = again(desk, [*ROWS, "18/08/2025;31000;sold;Tarrowby Linnet;1965;show\n"])
    assert "No mend had to be made again" in desk.get(newer.headers["location"]).text


def test_the_mends_last_over_several_newer_versions(desk, again):
    for i in range(3):
        again(desk, [*ROWS, f"1{i}/09/2025;3{i}000;sold;Tarrowby Linnet;1964;show\n"])
    newest = desk.get("/api/v1/comparables").json()[0]
    assert (newest["id"], rows(desk, newest["id"])[4]["state"]) == (8, "runner")


def test_the_same_file_once_more_keeps_the_mended_version(desk, again):
    answer = again(desk, ROWS)
    assert answer.headers["location"] == "/comparables/2?brought=1"
    assert "nothing was written" in desk.get(answer.headers["location"]).text
    assert len(desk.get("/api/v1/comparables").json()) == 2


def test_what_is_told_goes_before_what_is_remembered(desk, again):
    again(desk, ROWS[:13], currency="GBP", day_first="false")
    schema = desk.get("/api/v1/schema").json()
    assert (schema["currency"], schema["data"]["day_first"]) == ("GBP", False)


def test_programs_are_told_and_can_decline(desk):
    file = {"file": ("t.csv", (HEAD + "".join(ROWS[:13])).encode())}
    declined = desk.post("/api/v1/comparables", files=file, data={"name": "t", "mend_again": "false"}).json()
    assert (declined["remembered"]["mended_again"], declined["table"]["version"]) == ([], 3)
    file = {"file": ("t.csv", (HEAD + "".join(ROWS[:12])).encode())}
    assert desk.post("/api/v1/comparables", files=file, data={"name": "t"}).json()["remembered"]["mended_again"] == []


def test_another_name_begins_anew(desk):
    talk = desk.post("/comparables", data={"pasted": HEAD + "".join(ROWS), "name": "other"})
    assert "Read as last time" not in desk.get(talk.headers["location"]).text


def test_the_demo_brought_twice_keeps_its_mends(fresh):
    fresh.post("/demo")
    fresh.post("/api/v1/comparables/1/mends", json={"cells": [{"row": 41, "column": "condition", "value": "driver"}]})
    fresh.post("/demo")
    assert fresh.get("/api/v1/comparables").json()[0]["id"] == 2
