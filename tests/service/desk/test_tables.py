"""Bringing a table, its faults, mending it, its versions, and headers that the schema does not know."""

import pytest

TABLE = "when sold;gavel;how;line;vintage;state\n" + "".join(
    f"2025-0{1 + i % 9}-1{i % 9};{10_000 + 700 * i};sold;Tarrowby Linnet;{1950 + i};driver\n" for i in range(14)
)


def test_the_demo_shows_its_planted_faults_with_their_mends(demo):
    answer = demo.get("/api/v1/comparables/1").json()
    assert (answer["rows"], answer["usable"], answer["currency"]) == (182, 175, "USD")
    assert {fault["code"] for fault in answer["faults"]} == {
        "not_arms_length", "duplicate_sale", "slipped_digit", "unknown_level"
    }  # fmt: skip
    assert all(fault["mend"] and fault["why"] and fault["row"] for fault in answer["faults"])
    assert answer["headers"]["condition"] == "condition"


def test_mends_make_the_next_version_and_leave_the_older_one(fresh):
    fresh.post("/demo")
    mends = {"cells": [{"row": 41, "column": "condition", "value": "driver"}], "left_out": [25], "confirmed": [103]}
    answer = fresh.post("/api/v1/comparables/1/mends", json=mends)
    assert answer.status_code == 201
    newest = answer.json()
    assert newest["table"]["version"] == 2
    assert newest["rows"] == 181
    left = {(fault["row"], fault["code"]) for fault in newest["faults"]}
    assert not {row for row, _ in left} & {25, 41, 103}
    assert (40, "slipped_digit") in left, "rows keep their numbers after one is left out"
    assert len(fresh.get("/api/v1/comparables/1").json()["faults"]) == 7
    rows = fresh.get("/api/v1/comparables/2/rows", params={"first": 41, "most": 1}).json()
    assert rows[0]["condition"] == "driver"


def test_a_mend_of_a_cell_that_is_not_there_is_refused_by_name(demo):
    answer = demo.post("/api/v1/comparables/1/mends", json={"cells": [{"row": 9999, "column": "price", "value": "1"}]})
    assert answer.status_code == 422
    assert answer.json()["code"] == "comparables.unreadable"
    assert "row 9999" in answer.json()["detail"]


def test_the_same_table_brought_twice_stays_one_version(fresh):
    for _ in range(2):
        fresh.post("/demo")
    assert len(fresh.get("/api/v1/comparables").json()) == 1


def test_headers_can_be_mapped_through_the_service(fresh):
    table = TABLE.replace("gavel", "price").replace("how", "outcome")
    first = fresh.post("/api/v1/comparables", files={"file": ("mine.csv", table.encode())}).json()
    assert first["headers"]["when sold"] == ""
    second = fresh.post("/api/v1/comparables/1/mends", json={"headers": {"when sold": "date"}}).json()
    assert second["headers"]["when sold"] == "date"
    assert second["table"]["version"] == 2


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "empty"), (b"%PDF-1.7 ...", "a PDF document"), (b"just one column\n1\n", "column")],
)
def test_what_is_no_table_is_refused_in_words(fresh, content, words):
    answer = fresh.post("/api/v1/comparables", files={"file": ("x.csv", content)})
    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert fresh.get("/api/v1/comparables").json() == []


def test_hostile_cells_are_text_on_the_page(fresh):
    table = (
        TABLE.replace("gavel", "price")
        .replace("how", "outcome")
        .replace("Tarrowby Linnet", "<script>alert(1)</script>", 1)
    )
    fresh.post("/api/v1/comparables", files={"file": ("<b>x</b>.csv", table.encode())})
    text = fresh.get("/comparables/1?show=all").text
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert" in text


def test_the_schema_says_what_each_level_means(demo):
    attributes = {one["name"]: one for one in demo.get("/api/v1/schema").json()["attributes"]}
    assert attributes["condition"]["levels"][0]["name"] == "derelict"
    assert all(level["meaning"] for level in attributes["condition"]["levels"])
    assert "Penhurrow Haywain" in attributes["family"]["seen"]
