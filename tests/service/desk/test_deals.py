"""Paths, steps, bands, offers, sales and the track record through the service."""

import datetime as dt

import pytest

from valuation.text.language import english_day
from valuation.year import WEEKS_PER_YEAR


def test_paths_steps_and_bands_agree_with_one_another(demo, plan):
    paths = demo.post("/api/v1/paths", json={"plans": [plan], "price": 9000, "subject": "find one"}).json()
    assert [path["name"] for path in paths["paths"]] == ["make it drive", "sell as found"]
    built = paths["paths"][0]
    assert built["most_to_pay_proof"]["proof"]
    bands = demo.post("/api/v1/bands", json={"plan": plan, "price": 9000}).json()
    assert bands["floor"] < bands["target"] < bands["ask"]
    assert bands["buy_at_or_below"] == built["most_to_pay"]
    steps = demo.post("/api/v1/steps", json={"plan": plan, "price": 9000}).json()
    assert [step["id"] for step in steps["steps"]] == ["engine", "brakes"]
    for step in steps["steps"]:
        assert step["net"] == pytest.approx(step["adds"] - step["costs"], abs=0.01)
    kept = demo.get("/api/v1/deals", params={"subject": "find one"}).json()
    assert kept[-1]["kind"] == "paths"
    assert kept[-1]["result"]["paths"] == paths["paths"]


def test_what_was_spent_does_not_move_the_floor(demo, plan):
    floors = {demo.post("/api/v1/bands", json={"plan": plan, "price": price}).json()["floor"] for price in (0, 50_000)}
    assert len(floors) == 1


def price_of(demo, estimate):
    """Address of the price page of an estimate's vehicle, from the one that it had before."""
    return demo.get("/price", params={"estimate": estimate["id"]}).headers["location"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("cost = [1500, 2000, 3200]", "cost = [3200, 2000, 1500]"), "low"),
        (('id = "brakes"', 'id = "brakes"\nafter = ["engine"]'), None),
        (('condition = "runner"', 'condition = "drvier"'), "drvier"),
        (('name = "make it drive"', "name = "), "Mend that line"),
    ],
)
def test_a_plan_that_contradicts_itself_is_refused_by_name(demo, plan, change, words):
    answer = demo.post("/api/v1/paths", json={"plans": [plan.replace(*change)]})
    if words is None:
        assert answer.status_code == 200
    else:
        assert (answer.status_code, answer.json()["code"]) == (422, "plan.invalid")
        assert words in answer.json()["detail"]


def test_offers_are_answered_and_the_answer_kept(demo, vehicle):
    estimate = demo.post("/api/v1/estimates", json={"vehicle": {**vehicle, "name": "for sale"}}).json()
    form = {"offers_per_month": "2", "weeks_to_sell": "6", "put_in": "30000"}
    assert demo.post(price_of(demo, estimate), data=form).status_code == 303
    third = {"estimate": estimate["id"], "amount": 15_000, "who": "Ada", "confirm": True}
    low = demo.post("/api/v1/offers", json=third).json()
    assert low["advice"]["answer"] == "hold"
    high = demo.post("/api/v1/offers", json={"estimate": estimate["id"], "amount": 90_000}).json()
    assert high["advice"]["answer"] == "accept"
    interest = 30_000 * (1.08 ** (6 / WEEKS_PER_YEAR) - 1)  # what is tied up costs until the sale
    assert high["advice"]["profit"] == pytest.approx(60_000 - interest, abs=1)
    given = demo.post(f"/api/v1/offers/{low['id']}/answer", json={"answer": "counter", "counter": 48_000}).json()
    assert (given["answer"], given["counter"]) == ("counter", 48_000)
    assert given["id"] != low["id"], "a correction is a record of its own"
    listed = demo.get("/api/v1/offers", params={"subject": "for sale"}).json()
    assert [offer["amount"] for offer in listed] == [15_000, 90_000]


def test_the_price_page_asks_where_it_could_be_sold_and_keeps_what_was_told(demo, vehicle):
    estimate = demo.post("/api/v1/estimates", json={"vehicle": {**vehicle, "name": "to consign"}}).json()
    address = page = price_of(demo, estimate)
    assert 'name="auction_bidders" value="6"' in demo.get(page).text
    form = {"offers_per_month": "2", "weeks_to_sell": "6", "consignment_fee_percent": "25", "auction_bidders": "9"}
    assert demo.post(address, data=form).status_code == 303
    text = demo.get(page).text
    assert "a dealer keeps 25 %" in text
    assert "9 bidders" in text
    assert 'name="consignment_fee_percent" value="25"' in text


def test_a_sale_enters_the_track_record_with_how_little_it_says(demo, vehicle):
    estimate = demo.post("/api/v1/estimates", json={"vehicle": {**vehicle, "name": "sold one"}}).json()
    sold = {"estimate": estimate["id"], "price": 44_000, "sold_on": dt.date.today().isoformat()}
    assert demo.post("/api/v1/sales", json=sold).status_code == 201
    record = demo.get("/api/v1/track-record").json()
    left_out = [one["why"] for one in record["set_aside"]]
    assert any("no estimate of it was made before" in why for why in left_out), "made on the day of the sale"
    assert {note["code"] for note in record["notes"]} & {"no_record_yet", "short_record"}


def test_a_sale_in_the_future_is_asked_about(demo):
    future = dt.date.today() + dt.timedelta(days=9)
    answer = demo.post("/api/v1/sales", json={"estimate": 1, "price": 45_000, "sold_on": future.isoformat()})
    assert (answer.status_code, answer.json()["code"]) == (409, "ledger.unlikely")
    assert f"its date {english_day(future)} lies in the future" in answer.json()["detail"]
