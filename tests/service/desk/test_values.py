"""Estimates and evidence through the service."""

import math

import pytest


def test_factors_multiply_to_the_median_and_grid_lines_add_up(demo, vehicle):
    answer = demo.post("/api/v1/estimates", json={"vehicle": vehicle, "record": False})
    assert answer.status_code == 201
    body = answer.json()
    assert body["id"] is None
    product = body["base"] * math.prod(factor["factor"] for factor in body["factors"])
    assert product == pytest.approx(body["median"], rel=1e-9)
    assert body["interval"]["low"] < body["median"] < body["interval"]["high"]
    for row in body["grid"]:
        adjusted = row["price"] + sum(line["amount"] for line in row["lines"])
        assert adjusted == pytest.approx(row["adjusted_price"], abs=0.005)


def test_an_estimate_is_kept_whole_and_reads_back_the_same(demo, vehicle):
    made = demo.post("/api/v1/estimates", json={"vehicle": vehicle, "coverage": 0.9}).json()
    kept = demo.get(f"/api/v1/estimates/{made['id']}").json()
    assert kept == made
    again = demo.post("/api/v1/estimates", json={"vehicle": vehicle, "coverage": 0.9, "record": False}).json()
    assert again["median"] == made["median"]


def test_evidence_holds_everything_the_page_shows(demo):
    evidence = demo.get("/api/v1/estimates/1/evidence").json()["evidence"]
    assert {"effects", "grid", "influence", "trend", "gaps", "notes"} <= evidence.keys()
    assert len(evidence["influence"]) == 175


def test_an_unknown_level_is_refused_with_the_levels_that_are_known(demo, vehicle):
    wrong = {**vehicle, "attributes": {**vehicle["attributes"], "condition": "drvier"}}
    answer = demo.post("/api/v1/estimates", json={"vehicle": wrong})
    assert (answer.status_code, answer.json()["code"]) == (422, "vehicle.invalid")
    assert "driver" in answer.json()["detail"]


def test_a_family_never_seen_is_valued_with_a_wider_interval_and_a_note(demo, vehicle):
    def width(body):
        return body["interval"]["high"] / body["interval"]["low"]

    known = demo.post("/api/v1/estimates", json={"vehicle": vehicle, "record": False}).json()
    other = {**vehicle, "attributes": {**vehicle["attributes"], "family": "Wrenfield Lark"}}
    unseen = demo.post("/api/v1/estimates", json={"vehicle": other, "record": False}).json()
    assert width(unseen) > width(known)
    assert "level_unseen" in {note["code"] for note in unseen["notes"]}


def test_without_a_table_the_answer_says_what_to_do(fresh, vehicle):
    answer = fresh.post("/api/v1/estimates", json={"vehicle": vehicle})
    assert (answer.status_code, answer.json()["code"]) == (404, "service.no_table")


def test_too_few_sales_are_refused_with_the_library_s_code(fresh, vehicle):
    table = "date,price,outcome,family,model_year,condition\n2025-01-01,20000,sold,Tarrowby Linnet,1955,driver\n"
    fresh.post("/api/v1/comparables", files={"file": ("few.csv", table.encode())})
    attributes = {"family": "Tarrowby Linnet", "model_year": 1955, "condition": "driver"}
    answer = fresh.post("/api/v1/estimates", json={"vehicle": {"name": "x", "attributes": attributes}})
    assert (answer.status_code, answer.json()["code"]) == (422, "comparables.too_few")


def test_what_if_is_a_part_of_a_page_for_scripts_and_a_page_without(demo):
    form = {
        "name": "x",
        "a.family": "Penhurrow Haywain",
        "a.model_year": "1952",
        "a.condition": "show",
        "estimate": "1",
    }
    before = len(demo.get("/api/v1/estimates").json())
    part = demo.post("/vehicles/what-if", data=form, headers={"hx-request": "true"}).text
    page = demo.post("/vehicles/what-if", data=form).text
    assert "<html" not in part
    assert "if so:" in part
    assert "<html" in page
    assert "if so:" in page
    assert len(demo.get("/api/v1/estimates").json()) == before


def test_a_back_test_prices_sales_from_earlier_ones_and_says_it_in_words(demo):
    answer = demo.post("/api/v1/comparables/1/back-test", params={"wait": 300})
    assert answer.status_code == 200, answer.text
    body = answer.json()
    assert body["method"] == "rolling"
    assert body["words"]
    assert body["calibration"]["n"] == len(body["sales"])
