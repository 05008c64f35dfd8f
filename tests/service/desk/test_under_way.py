"""A build under way on the desk: told in the form, kept in the plan, and the choice today on the page."""

import re
import time
from datetime import date, timedelta

import pytest

from api.settings import Settings


@pytest.fixture(scope="module")
def today():
    return date.today()


def test_what_was_bought_and_done_is_told_in_the_form_and_answered_for_today(own_demo, plan, today):
    bought, done = today - timedelta(100), today - timedelta(20)
    form = {
        "subject": "begun", "name": "make it drive", "text": plan, "number": "0", "bought.price": "9000",
        "bought_on": bought.isoformat(),
        "step.0.id": "engine", "step.0.what": "Engine out, rebuilt, back in", "step.0.cost": "3600, 4700, 7400",
        "step.0.hours": "70, 95, 150", "step.0.sets0": "drivetrain=rebuilt-original",
        "step.0.done": f"{done}, 5900, 120",
        "step.1.id": "brakes", "step.1.what": "Brakes, wiring, tyres", "step.1.cost": "1500, 2000, 3200",
        "step.1.hours": "50, 70, 110", "step.1.sets0": "condition=runner", "step.1.done": "",
    }  # fmt: skip
    kept = own_demo.post("/build/plans", data=form)
    assert kept.status_code == 303, kept.text
    page = own_demo.get("/build?subject=begun").text
    assert f'value="{done}, 5900, 120"' in page
    assert f'value="{bought}"' in page
    deal = own_demo.post("/build/compare", data={"subject": "begun", "wait": "60"}, follow_redirects=True)
    found = _finished(own_demo, deal)
    text = re.sub(r"\s+", " ", found)
    assert "What to do today" in text
    assert "What was spent does not count in the choice" in text
    assert "engine: parts, and 120 hours" in text
    assert "sell as it stands" in text


def _finished(client, answer):
    """The page of the result, once the work is done."""
    for _ in range(120):
        if "What to do today" in answer.text:
            return answer.text
        time.sleep(0.5)
        answer = client.get(str(answer.url), follow_redirects=True)
    return answer.text


def test_a_step_done_that_cannot_be_read_names_its_field(own_demo, plan):
    form = {
        "subject": "begun too", "name": "x", "text": plan, "number": "0", "step.0.id": "engine",
        "step.0.what": "Engine", "step.0.done": "yesterday",
    }  # fmt: skip
    answer = own_demo.post("/build/plans", data=form)
    assert answer.status_code == 422
    assert "Write the day, what it cost and the hours it took, such as 2027-01-15, 4600, 101" in answer.text


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
