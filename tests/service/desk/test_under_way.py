"""A build under way on the desk: bought, ticked step by step, taken back, and the choice of the day beside the plan."""

import datetime as dt
import re
import time
from datetime import timedelta
from html import unescape

import pytest

from api.settings import Settings
from valuation.text.toml import read_toml

FIND = "/vehicles/1"
"""The demo's first find."""
WORK = f"{FIND}/work"


@pytest.fixture(scope="module")
def today():
    return dt.date.today()


@pytest.fixture(scope="module")
def bench(own_demo, today):
    """The demo's desk with its first find bought, and the number of the plan that is followed."""
    assert own_demo.get("/build", params={"subject": "Barn find: Haywain"}).headers["location"] == f"{FIND}/plans"
    refused = own_demo.get(f"/api/v1{WORK}")
    assert refused.status_code == 422
    assert "is not bought by then" in refused.json()["detail"]
    page = own_demo.get(WORK).text
    assert "I bought it" in page
    bought = {"bought_for": "9.2k", "bought_on": (today - timedelta(100)).isoformat()}
    assert own_demo.post(f"{FIND}/bought", data=bought).status_code == 303
    plan = own_demo.get(f"/api/v1{FIND}/plans").json()[0]
    assert plan["name"] == "driver with paint"
    return own_demo, plan["number"]


def shown(client, answer):
    """The page of the work, once it is worked out."""
    while answer.status_code == 303 or "data-reload" in answer.text:
        time.sleep(0.1)
        answer = client.get(answer.headers.get("location") or str(answer.url))
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def ticked(bench, step, state, **told):
    client, plan = bench
    return client.post(WORK, data={"plan": str(plan), "step": step, "state": state, **told})


def kept(bench):
    client, plan = bench
    return read_toml(next(one["text"] for one in client.get(f"/api/v1{FIND}/plans").json() if one["number"] == plan))


def test_a_tick_is_written_as_the_terminal_reads_it_and_answered_for_today(bench, today):
    client, plan = bench
    done = today - timedelta(20)
    answer = ticked(bench, "engine", "done", on=done.isoformat(), cost="5.9k", hours="120")
    assert answer.headers["location"] == f"{WORK}?plan={plan}#steps"
    text = kept(bench)
    assert text["done"] == [{"step": "engine", "on": done, "cost": 5900, "hours": 120}]
    assert text["bought"] == {"on": today - timedelta(100), "price": 9200}
    page = shown(client, client.get(WORK))
    assert "5,900 and 120 hours; planned 4,700 and 95 hours" in page
    assert "sell as it stands" in page
    twin = client.get(f"/api/v1{WORK}", params={"wait": 60}).json()
    assert twin["plan"] == "driver with paint"
    assert twin["today"]["why"] in page
    assert twin["words"] in page
    assert twin["all_in"] == pytest.approx(twin["went_in"] + twin["interest"] + twin["to_go"])
    assert twin["odds_of_event"] is not None
    assert [point["money"] for point in twin["planned"]] == sorted(point["money"] for point in twin["planned"])
    assert twin["actual"][-1]["money"] == pytest.approx(twin["went_in"])


def test_a_mistaken_tick_is_taken_back_and_what_is_begun_or_left_out_is_kept(bench, today):
    client, _ = bench
    on = (today - timedelta(5)).isoformat()
    assert ticked(bench, "brakes", "begun", on=on).status_code == 303
    assert kept(bench)["begun"] == [{"step": "brakes", "on": today - timedelta(5)}]
    before = client.get(f"/api/v1{WORK}", params={"wait": 60}).json()
    assert ticked(bench, "brakes", "begun", on=today.isoformat(), cost="2.5k", hours="30").status_code == 303
    row = {"step": "brakes", "on": today - timedelta(5), "cost": 2500, "hours": 30}
    assert kept(bench)["begun"] == [row], "it was begun when it was begun"
    twin = client.get(f"/api/v1{WORK}", params={"wait": 60}).json()
    assert twin["went_in"] == pytest.approx(before["went_in"] + 2500 + 24 * 30)
    assert before["to_go"] - 2500 - 24 * 30 < twin["to_go"] < before["to_go"], "what is spent is not to go any more"
    page = shown(client, client.get(WORK))
    assert "2,500 and 30 hours so far; planned 2,000 and 70 hours" in page
    assert "'Brakes, steering, wiring, tyres' has cost 2,500 so far where 2,000 was likely" in page
    assert ticked(bench, "brakes", "done", on=on, cost="2000", hours="70").status_code == 303
    assert "begun" not in kept(bench)
    assert ticked(bench, "brakes", "to_do").status_code == 303
    assert [row["step"] for row in kept(bench)["done"]] == ["engine"]
    assert ticked(bench, "paint", "left_out").status_code == 303
    twin = client.get(f"/api/v1{WORK}", params={"wait": 60}).json()
    assert {step["id"]: step["state"] for step in twin["steps"]}["paint"] == "left_out"
    assert "paint" not in twin["state"]["to_do"]
    assert ticked(bench, "paint", "to_do").status_code == 303
    assert "left_out" not in kept(bench)


def test_a_cost_that_no_step_planned_counts_and_can_be_taken_back(bench, today):
    client, plan = bench
    before = client.get(f"/api/v1{WORK}", params={"wait": 60}).json()
    extra = {"plan": str(plan), "what": "A new tank", "cost": "300", "on": (today - timedelta(9)).isoformat()}
    assert client.post(f"{WORK}/extra", data=extra).status_code == 303
    after = client.get(f"/api/v1{WORK}", params={"wait": 60}).json()
    assert after["went_in"] == pytest.approx(before["went_in"] + 300)
    assert "A new tank 300" in shown(client, client.get(WORK))
    back = {"plan": str(plan), "place": "0", "what": "Another"}
    assert "not there any more" in client.post(f"{WORK}/extra/back", data=back).text
    assert client.post(f"{WORK}/extra/back", data={**back, "what": "A new tank"}).status_code == 303
    assert client.get(f"/api/v1{WORK}", params={"wait": 60}).json()["went_in"] == pytest.approx(before["went_in"])


@pytest.mark.parametrize(
    ("step", "state", "told", "words"),
    [
        ("paint", "done", {"cost": "1", "hours": "1"}, "'Floor, bed, panels, gaps' comes before it and is not done"),
        ("body", "left_out", {}, "'Strip, prime, paint' comes after it and is still to do. Leave that out first"),
        ("brakes", "done", {"cost": "", "hours": "1"}, "Cannot go on without what parts and outside work came to"),
        ("brakes", "done", {"cost": "much", "hours": "1"}, "Cannot use 'much'"),
        ("brakes", "done", {"cost": "1", "hours": "1", "on": "2199-01-01"}, "to today"),
        ("brakes", "begun", {"on": "2019-01-01"}, "days from the purchase"),
        ("wash", "begun", {}, "has no such step by now"),
        ("brakes", "finished", {}, "Press one of its buttons"),
    ],
)
def test_a_tick_that_cannot_be_is_refused_in_words(bench, step, state, told, words):
    answer = ticked(bench, step, state, **told)
    assert answer.status_code == 422
    assert words in unescape(answer.text)


def test_two_who_tick_at_once_lose_nothing(bench, today):
    from concurrent.futures import ThreadPoolExecutor

    steps = ["brakes", "body", "paint", "cab"]
    with ThreadPoolExecutor(4) as hands:
        answers = list(hands.map(lambda step: ticked(bench, step, "begun", on=today.isoformat()), steps))
    assert [answer.status_code for answer in answers] == [303] * 4
    assert {row["step"] for row in kept(bench)["begun"]} == set(steps)


def test_progress_in_json_starts_from_today(own_demo, plan, today):
    begun = (
        f"{plan}\n[bought]\non = {today - timedelta(30)}\nprice = 9000\n[[done]]\nstep = 'engine'\n"
        f"on = {today - timedelta(3)}\ncost = 5900\nhours = 120\n"
    )
    answer = own_demo.post("/api/v1/paths", json={"plans": [begun]}).json()
    assert answer["today"][0]["state"]["done"] == ["engine"]
    assert answer["why"] == answer["today"][0]["why"]


def test_shop_settings_lie_beside_the_ledger_for_all_plans(serve, tmp_path, plan):
    (tmp_path / "shop.toml").write_text("[shop]\ncrew = 2\nholding_per_week = 40\n")
    with serve(Settings(ledger=str(tmp_path / "ledger.sqlite"))) as client:
        assert client.post("/demo").status_code == 303
        answer = client.post("/api/v1/paths", json={"plans": [plan], "price": 9000, "subject": "find"})
        assert answer.status_code == 200, answer.text
        assert answer.json()["paths"][0]["counted_as_nothing"] == []
        [kept] = client.get("/api/v1/deals", params={"subject": "find"}).json()
        assert "holding_per_week = 40" in kept["inputs"]["plans"][0]
