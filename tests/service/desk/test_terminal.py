"""One ledger: what is kept from the terminal stands on the desk, and what the desk takes the terminal lists."""

import json
from pathlib import Path

import pytest

from api.settings import Settings
from valuation.cli import exits, main

ROOT = Path(__file__).parents[3]


@pytest.fixture
def terminal(tmp_path, monkeypatch, capsys):
    """Commands in a folder with the demo's table, over the ledger that the desk takes there."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("VALUATION_LEDGER", raising=False)
    for name in ("comparables.csv", "schema.toml"):
        (tmp_path / name).write_bytes((ROOT / "data" / name).read_bytes())

    def say(*words):
        capsys.readouterr()
        assert main([*words, "--json"]) == exits.DONE
        return json.loads(capsys.readouterr().out)

    return say


def test_what_either_keeps_the_other_shows(terminal, serve, vehicle, tmp_path):
    words = [f"{name}={value}" for name, value in vehicle["attributes"].items()]
    kept = terminal("keep", "estimate", "name=the pickup", *words, "--as-of", "2026-10-31")
    offer = terminal("keep", "offer", "the pickup", "41000", "--buyer", "Ada", "--on", "2026-11-02")
    with serve(Settings(ledger=Settings().ledger, work_seconds=300)) as desk:
        (estimate,) = desk.get("/api/v1/estimates", params={"subject": "the pickup"}).json()
        assert estimate["id"] == kept["id"]
        asked = {"vehicle": {**vehicle, "name": "again"}, "as_of": "2026-10-31", "record": False}
        same = desk.post("/api/v1/estimates", json=asked, params={"wait": 300}).json()
        assert [estimate[name] for name in ("median", "interval", "grid", "factors", "table")] == [
            same[name] for name in ("median", "interval", "grid", "factors", "table")
        ], "the desk's own estimate, to the last bit"
        (listed,) = desk.get("/api/v1/offers", params={"subject": "the pickup"}).json()
        assert (listed["id"], listed["who"], listed["amount"]) == (offer["id"], "Ada", 41_000)
        made = desk.post(
            "/api/v1/offers",
            json={"estimate": kept["id"], "amount": 43_000, "who": "Ben", "offered_on": "2026-11-03"},
            params={"wait": 300},
        ).json()
        events = terminal("vehicles", "the pickup")["events"]
        assert [(one["kind"], one["id"]) for one in events] == [
            ("estimate", kept["id"]), ("offer", offer["id"]), ("offer", made["id"])]  # fmt: skip
        assert "Ben: 43,000" in events[-1]["text"]

        terminal("keep", "answer", str(made["id"]), "accept")
        sale = terminal("keep", "sale", "the pickup", "43000", "--on", "2026-11-05", "--venue", "Saltmarsh Yard",
                        "--into-table")  # fmt: skip
        (sold,) = desk.get("/api/v1/sales").json()
        assert (sold["id"], sold["price"], sold["sold_on"]) == (sale["id"], 43_000, "2026-11-05")
        assert desk.get("/api/v1/track-record").json() == terminal("record")
        newest, before = desk.get("/api/v1/comparables").json()
        assert (newest["version"], newest["rows"], newest["name"]) == (2, before["rows"] + 1, before["name"])
        (row,) = desk.get(f"/api/v1/comparables/{newest['id']}/rows", params={"first": before["rows"] + 2}).json()
        assert {name: row[name] for name in ("date", "price", "premium", "vehicle", "condition", "mileage")} == {
            "date": "2026-11-05", "price": "43000", "premium": "0", "vehicle": "the pickup", "condition": "driver",
            "mileage": "71000"}  # fmt: skip
        assert row["venue"] == "", "its premium would be added to a price that holds it: the schema gives one for it"
        assert "the pickup" in desk.get("/").text
        assert "43,000" in desk.get("/track-record").text


def test_both_ask_about_a_second_sale_of_one_day(own_demo, vehicle):
    estimate = own_demo.post("/api/v1/estimates", json={"vehicle": {**vehicle, "name": "sold once"}}).json()
    sale = {"estimate": estimate["id"], "price": 44_000, "sold_on": "2026-01-07"}
    assert own_demo.post("/api/v1/sales", json=sale).status_code == 201
    again = own_demo.post("/api/v1/sales", json=sale)
    assert (again.status_code, again.json()["code"]) == (409, "ledger.unlikely")
    assert "sold twice on 7 January 2026?" in again.json()["detail"]
    assert own_demo.post("/api/v1/sales", json={**sale, "confirm": True}).status_code == 201
