"""The shop's settings on the desk: kept once for all plans, with what was changed, and safe for two hands."""

import re
from html import unescape

import pytest

from api.settings import Settings
from valuation.text.toml import read_toml

FILE = """[shop]
labour_rate = 45
holding_per_week = 30
[[steps]]
id = "brakes"
what = "Brakes, steering"
cost = [1500, 2000, 3200]
hours = 70
sets = { condition = "runner" }
"""


@pytest.fixture
def shop(serve, tmp_path):
    """A desk with the demo and shop.toml beside its ledger."""
    (tmp_path / "shop.toml").write_text(FILE)
    with serve(Settings(ledger=str(tmp_path / "ledger.sqlite"))) as client:
        assert client.post("/demo").status_code == 303
        yield client


def told(answer):
    assert answer.status_code == 303, answer.text
    return answer.headers["location"].replace("%20", " ").replace("%2C", ",").replace("%3A", ":").replace("%3B", ";")


def test_the_file_is_taken_over_and_what_changed_is_said(shop, sent_by, plan):
    page = shop.get("/shop").text
    assert "These are read from shop.toml beside the ledger" in page
    form = sent_by(page, "/shop")
    assert (form["shop.labour_rate"], form["step.0.cost_high"], form["step.0.sets0"]) == (
        "45", "3200", "condition=runner"
    )  # fmt: skip
    assert shop.post("/shop", data=form).status_code == 303
    now = shop.get("/api/v1/shop").json()
    assert (now["source"], now["file_beside"]) == ("ledger", True)
    assert read_toml(now["text"]) == read_toml(FILE)
    form = sent_by(shop.get("/shop").text, "/shop")
    changed = form | {"shop.labour_rate": "48", "paper.name": "Thistlewick Motor Works", "overrun.past_jobs":
                      "9k; 11,200\n15000 14800"}  # fmt: skip
    said = told(shop.post("/shop", data=changed))
    assert "Labour, money per hour: was 45, is 48" in said
    text = read_toml(shop.get("/api/v1/shop").json()["text"])
    assert text["overrun"]["past_jobs"] == [[9000, 11200], [15000, 14800]]
    assert text["paper"] == {"name": "Thistlewick Motor Works"}
    assert "was 45, is 48" in shop.get("/shop").text, "in the fold of what was changed"
    without_rate = plan.replace("[shop]\nlabour_rate = 38\n", "")
    answer = shop.post("/api/v1/paths", json={"plans": [without_rate], "price": 9000, "subject": "find"})
    assert answer.status_code == 200, answer.text
    [kept] = shop.get("/api/v1/deals", params={"subject": "find"}).json()
    assert "labour_rate = 48" in kept["inputs"]["plans"][0], "the ledger's settings go before the file"


def test_the_book_is_cards_and_a_plan_takes_a_step_from_it(shop, sent_by):
    form = sent_by(shop.get("/shop").text, "/shop")
    added = shop.post("/shop/cards", data={**form, "act": "add"})
    form = sent_by(added.text, "/shop") | {"step.1.what": "Wash it", "step.1.hours": "3"}
    assert told(shop.post("/shop", data=form)).endswith(
        "Kept. The step wash-it: was not told, is Wash it %28hours 3%29."
    )
    find = shop.get("/build", params={"subject": "Barn find: Haywain"}).headers["location"].removesuffix("/plans")
    plan = sent_by(shop.get(f"{find}/plans").text, f"{find}/plans")
    taken = shop.post(f"{find}/plans/cards", data={**plan, "act": "book.0.1"})
    plan = sent_by(taken.text, f"{find}/plans")
    assert (plan["step.5.what"], plan["step.5.hours"]) == ("Wash it", "3")
    assert "blank: the shop's 45" in unescape(taken.text), "what the shop says is said beside the field"


def test_a_step_that_a_plan_takes_by_use_stays_in_the_book(shop, sent_by):
    find = shop.get("/build", params={"subject": "Barn find: Haywain"}).headers["location"].removesuffix("/plans")
    text = 'name = "by use"\n[vehicle]\nx = 1\n[[steps]]\nuse = "brakes"\nhours = 80\n'
    number = shop.post(f"/api/v1{find}/plans", json={"plan": text}).json()["number"]
    form = sent_by(shop.get(f"{find}/plans?plan={number}").text, f"{find}/plans")
    assert (form["step.0.what"], form["step.0.hours"]) == ("Brakes, steering", "80")
    form["step.0.cost"] = "2,100"
    assert shop.post(f"{find}/plans", data=form).status_code == 303
    own = next(one for one in shop.get(f"/api/v1{find}/plans").json() if one["name"] == "by use")
    assert read_toml(own["text"])["steps"] == [{"use": "brakes", "hours": 80, "cost": [1500, 2100, 3200]}]
    refused = shop.post("/shop", data=sent_by(shop.get("/shop").text, "/shop") | {"as_text": "1", "text": "[shop]\n"})
    assert refused.status_code == 422
    assert "the plan 'by use' of Barn find: Haywain takes it from there" in refused.json()["detail"]


@pytest.mark.parametrize(
    ("typed", "where", "words"),
    [
        ({"shop.crew": "0"}, "shop.crew", "Cannot use 'People who can work on one vehicle': it must be 1 or more"),
        ({"shop.labour_rate": "lots"}, "shop.labour_rate", "Cannot use 'lots'"),
        ({"overrun.past_jobs": "9000"}, "overrun.past_jobs", "found 1 figures. Write one job a line"),
        ({"step.0.hours": "-3"}, "step.0.hours", "below 0"),
        ({"goal.sure_percent": "75"}, "goal.margin_percent", "without the profit"),
        ({"as_text": "1", "text": "colour = 3"}, "text", "colour is not known"),
    ],
)
def test_a_setting_that_no_plan_could_take_is_refused_in_its_place(shop, sent_by, typed, where, words):
    answer = shop.post("/shop", data=sent_by(shop.get("/shop").text, "/shop") | typed)
    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert [one["where"] for one in answer.json()["errors"]] == [where]
    assert "the plan the shop" not in answer.json()["detail"]


def test_two_hands_at_the_settings(shop, sent_by):
    shop.post("/shop", data=sent_by(shop.get("/shop").text, "/shop"))
    first = sent_by(shop.get("/shop").text, "/shop")
    assert shop.post("/shop", data=first | {"shop.labour_rate": "48"}).status_code == 303
    assert shop.post("/shop", data=first | {"shop.holding_per_week": "35"}).status_code == 303
    both = read_toml(shop.get("/api/v1/shop").json()["text"])["shop"]
    assert both == {"labour_rate": 48, "holding_per_week": 35}
    clash = shop.post("/shop", data=first | {"shop.labour_rate": "50"}, headers={"accept": "text/html"})
    assert clash.status_code == 409
    assert "another hand changed shop.labour_rate (is 48 by now)" in clash.text
    assert re.search(r'name="shop\.labour_rate"[^>]*value="50"', clash.text)


def test_programs_put_the_settings(shop):
    kept = shop.put("/api/v1/shop", json={"text": "[shop]\nlabour_rate = 50\n"})
    assert kept.status_code == 200, kept.text
    assert kept.json()["versions"][0]["changes"][0]["words"] == "shop.labour_rate: was not told, is 50"
    assert shop.put("/api/v1/shop", json={"text": "[shop"}).status_code == 422
