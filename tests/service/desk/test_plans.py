"""The plans of a vehicle on the desk: cards that buttons change, what they are read as, and what a plan comes to."""

import re
from html import unescape

import pytest

from valuation.text.toml import read_toml

FIND = "Barn find: Haywain"


@pytest.fixture(scope="module")
def find(own_demo):
    """Address of the demo's first find."""
    return own_demo.get("/build", params={"subject": FIND}).headers["location"].removesuffix("/plans")


@pytest.fixture
def form(own_demo, find, sent_by):
    """The form of the find's first plan."""
    return sent_by(own_demo.get(f"{find}/plans").text, f"{find}/plans")


def plans(client, find):
    return {one["name"]: one for one in client.get(f"/api/v1{find}/plans").json()}


def cards(client, find, form, act, sent_by):
    """The form after a button was pressed, and the page that it stands on."""
    answer = client.post(f"{find}/plans/cards", data={**form, "act": act})
    assert answer.status_code == 200
    assert answer.headers["hx-push-url"] == "false"
    return sent_by(answer.text, f"{find}/plans"), answer.text


def titles(form):
    return [form[f"step.{i}.what"] for i in range(30) if f"step.{i}.what" in form]


def test_an_unchanged_form_writes_the_plan_as_it_was(own_demo, find, form):
    before = plans(own_demo, find)["driver with paint"]
    assert own_demo.post(f"{find}/plans", data=form).status_code == 303
    assert read_toml(plans(own_demo, find)["driver with paint"]["text"]) == read_toml(before["text"])


def test_buttons_change_the_cards_and_lose_nothing_that_was_typed(own_demo, find, form, sent_by):
    form |= {"step.2.cost": "2.3k", "shop.labour_rate": "41"}
    after, page = cards(own_demo, find, form, "add", sent_by)
    assert len(titles(after)) == 6
    assert (after["step.2.cost"], after["shop.labour_rate"]) == ("2.3k", "41")
    assert 'id="card-5" open' in page
    after |= {"step.5.what": "Wash it", "step.5.after.cab": "1", "step.5.sets0": "documentation=full"}
    up, _ = cards(own_demo, find, after, "up.5", sent_by)
    assert titles(up)[4:] == ["Wash it", "Seat, glass, seals, shake-down"]
    assert (up["step.4.after.cab"], up["step.4.sets0"]) == ("1", "documentation=full")
    out, _ = cards(own_demo, find, up, "out.5", sent_by)
    assert titles(out)[-1] == "Wash it"
    assert "step.4.after.cab" not in out, "what is out is waited for by nobody"
    down, _ = cards(own_demo, find, out, "down.0", sent_by)
    assert titles(down)[:2] == ["Brakes, steering, wiring, tyres", "Engine and gearbox out, rebuilt, back in"]
    same, _ = cards(own_demo, find, down, "up.0", sent_by)
    assert titles(same) == titles(down)
    assert plans(own_demo, find)["driver with paint"]["text"].count("[[steps]]") == 5, "nothing is written by them"


def test_a_step_is_taken_from_another_vehicles_plan_with_one_button(own_demo, find, form, sent_by):
    page = own_demo.get(f"{find}/plans").text
    other = re.search(r"modern engine, Barn find: Linnet.*?value=\"(plan\.\d+\.0)\">([^<]*)<", page, re.DOTALL)
    after, _ = cards(own_demo, find, form, other[1], sent_by)
    assert titles(after)[-1] == unescape(other[2])
    assert after["step.5.cost"]
    assert own_demo.post(f"{find}/plans", data=after | {"name": "taken", "number": "0"}).status_code == 303
    text = read_toml(plans(own_demo, find)["taken"]["text"])
    assert len(text["steps"]) == 6
    assert text["steps"][5]["what"] == unescape(other[2])


def test_of_a_plan_that_was_written_again_only_the_newest_is_offered_to_take_steps_from(own_demo, find, sent_by):
    other = own_demo.get("/build", params={"subject": "Barn find: Linnet"}).headers["location"]
    form = sent_by(own_demo.get(other).text, other)
    again = own_demo.post(other, data=form | {"step.0.what": "Another engine, found and rebuilt"})
    assert again.status_code == 303
    page = own_demo.get(f"{find}/plans").text
    offered = re.findall(r"<summary>([^<]*, Barn find: Linnet)</summary>", page)
    assert offered
    assert len(offered) == len(set(offered))
    assert "Another engine, found and rebuilt" in page


def test_a_refusal_of_a_card_that_is_not_kept_yet_stands_beside_its_field(own_demo, find, form, sent_by):
    after, _ = cards(own_demo, find, form, "add", sent_by)
    after |= {"step.5.what": "Wash it", "step.5.hours": "ten"}
    answer = own_demo.post(f"{find}/plans", data=after, headers={"accept": "text/html"})
    assert answer.status_code == 422
    again = sent_by(answer.text, f"{find}/plans")
    assert (again["step.5.what"], again["step.5.hours"]) == ("Wash it", "ten")
    field = re.search(r'<input[^>]*name="step\.5\.hours"[^>]*>', answer.text)[0]
    assert 'aria-invalid="true"' in field
    assert "Cannot use &#39;ten&#39; for &#39;hours of Wash it&#39;" in answer.text


@pytest.mark.parametrize(
    ("typed", "where", "words"),
    [
        ({"step.0.cost_low": ""}, "step.0.cost_low", "the low figure is blank"),
        ({"step.0.cost_low": "9k"}, "step.0.cost", "must not fall"),
        ({"step.0.sets1": "drivetrain=modern"}, "step.0.sets1", "Cannot make 'drivetrain' two things in one step"),
        ({"step.0.sets0": "something"}, "step.0.sets0", "Choose one of the list"),
        ({"step.0.what": "", "step.0.id": "+1"}, "step.0.what", "without a title"),
        ({"name": " "}, "name", "without a name"),
        ({"event": "A show", "event_date": ""}, "event_date", "Cannot keep the show without the day"),
        ({"goal.sure_percent": "100"}, "goal.sure_percent", "below 100"),
        ({"step.0.after.cab": "1"}, None, "circle"),
        ({"as_text": "1", "text": "name ="}, "text", "Mend that line"),
        ({"step.0.more": "["}, "step.0.what", "damaged"),
    ],
)
def test_what_cannot_be_kept_is_refused_in_its_place(own_demo, find, form, typed, where, words):
    answer = own_demo.post(f"{find}/plans", data=form | typed)
    assert answer.status_code == 422
    problem = answer.json()
    assert words in problem["detail"]
    if where:
        assert [one["where"] for one in problem["errors"]] == [where]


def test_the_line_is_the_answer_of_the_comparison(own_demo, find, form):
    said = own_demo.post(f"{find}/plans/line", data=form, headers={"hx-request": "true"})
    assert said.status_code == 200
    plan = plans(own_demo, find)["driver with paint"]
    twin = own_demo.post(f"/api/v1{find}/plans/line", json={"plan": plan["text"]}).json()
    assert twin["words"] in unescape(said.text)
    paths = own_demo.post(f"/api/v1{find}/pay", json={}).json()["paths"]
    own = next(path for path in paths["paths"] if path["name"] == "driver with paint")
    assert (twin["all_in"], twin["most_to_pay"]) == (own["outlay"]["mean"], own["most_to_pay"])
    assert (twin["ready"], twin["odds_of_event"]) == (own["finish"]["likely"], own["odds_of_event"])
    dearer = own_demo.post(f"{find}/plans/line", data=form | {"step.3.cost_high": "9k"}, headers={"hx-request": "true"})
    assert dearer.text != said.text
    wrong = own_demo.post(f"{find}/plans/line", data=form | {"step.3.cost": "x"}, headers={"hx-request": "true"})
    assert "Cannot use &#39;x&#39;" in wrong.text, "half a figure is no failure while it is typed"
    whole = own_demo.post(f"{find}/plans/line", data=form)
    assert twin["words"] in unescape(whole.text), "without scripts it stands on the page"


def test_the_line_of_an_unfinished_plan_says_what_it_still_needs(own_demo, find, sent_by):
    address = f"{find}/plans?plan=new"
    page = own_demo.get(address).text
    needs = "Give the plan a name and a first step; then this line says what it comes to."
    assert needs in page
    assert '<details class="take" open>' in page, "a plan without steps is offered some"
    form = sent_by(page, f"{find}/plans")
    step = {"step.0.id": "+1", "step.0.what": "Wash it", "step.0.cost": "20"}

    def said(**typed):
        return own_demo.post(f"{find}/plans/line", data=form | typed, headers={"hx-request": "true"}).text

    assert needs in said()
    assert needs in said(**{"step.0.id": "+1", "step.0.what": ""}), "a blank card is no step"
    assert "Give the plan a first step; then" in said(name="wash it")
    assert re.search("figure.>All in .* Give the plan a name to keep it", said(**step))
    whole = said(name="wash it", **step)
    assert "All in " in whole
    assert "Give the plan" not in whole
    assert 'figure">' not in said()
    assert '<details class="take">' in own_demo.get(f"{find}/plans").text


@pytest.mark.parametrize(
    ("typed", "where", "words"),
    [
        ({"step.0.cost_low": "9k"}, "step.0.cost", "'parts of Engine and gearbox out, rebuilt, back in': low 9000, "),
        (
            {"step.0.hours_low": "-1"},
            "step.0.hours",
            "'hours of Engine and gearbox out, rebuilt, back in': a figure is",
        ),
        ({"shop.crew": "1.5"}, "shop.crew", "'People who can work on one vehicle': it is 1.5. A whole number"),
        ({"shop.crew": "0"}, "shop.crew", "'People who can work on one vehicle': it must be 1 or more and at most 100"),
        ({"sale.offers_per_month": "0"}, "sale.offers_per_month", "'Serious offers a month': it must be 0.01 or more"),
        ({"goal.sure_percent": "100"}, "goal.sure_percent", "'How sure, percent': it must be above 0 and below 100"),
        (
            {"goal.margin_percent": "", "goal.sure_percent": "70"},
            "goal.margin_percent",
            "Cannot keep how sure a profit must be without the profit.",
        ),
        ({"step.0.after.cab": "1"}, "step.0.what", "Take one of these out of 'Comes after'."),
    ],
)
def test_a_refusal_beside_a_field_calls_it_as_the_form_does(own_demo, find, form, typed, where, words):
    problem = own_demo.post(f"{find}/plans", data=form | typed).json()
    assert [one["where"] for one in problem["errors"]] == [where]
    assert words in problem["detail"]
    assert not re.search(r" = |\[|\b[a-z]+_[a-z]+\b|in quotes", problem["detail"]), "no word of the file"


def test_what_the_vehicles_record_tells_counts_in_every_plan(own_demo, find):
    for one in plans(own_demo, find).values():
        assert one["whole"]["purchase"]["asked"] == 9500
        assert one["whole"]["vehicle"]["condition"] == "project"
    page = own_demo.get(f"{find}/plans").text
    assert 'name="purchase.asked"' not in page


def test_a_plan_is_copied_renamed_put_away_and_brought_back(own_demo, find, sent_by):
    number = plans(own_demo, find)["show build"]["number"]
    copied = own_demo.post(f"{find}/plans/{number}/copy")
    assert "show%20build%2C%20another%20way%20is%20a%20copy" in copied.headers["location"]
    form = sent_by(own_demo.get(copied.headers["location"]).text, f"{find}/plans")
    assert own_demo.post(f"{find}/plans", data=form | {"name": "quieter show build"}).status_code == 303
    named = plans(own_demo, find)
    assert "show build, another way" not in named
    own = named["quieter show build"]["number"]
    assert own_demo.post(f"{find}/plans/{own}/archive").status_code == 303
    assert plans(own_demo, find)["quieter show build"]["archived"]
    page = own_demo.get(f"{find}/plans").text
    assert "Bring it back" in page
    assert f"{find}/plans?plan={own}" not in page
    assert "<summary>quieter show build, " not in page, "nor are its steps offered"
    compared = own_demo.post(f"/api/v1{find}/pay", json={}).json()
    assert "quieter show build" not in [path["name"] for path in compared["paths"]["paths"]]
    taken = own_demo.post(f"{find}/plans", data=form | {"name": "quieter show build", "number": "0"})
    assert taken.status_code == 409, "what is put away keeps its name"
    assert own_demo.post(f"{find}/plans/{own}/back").status_code == 303
    assert not plans(own_demo, find)["quieter show build"]["archived"]


def test_programs_keep_plans_and_are_told_of_a_newer_one(own_demo, find):
    asked = {"plan": {"name": "wash it", "vehicle": {}, "steps": [{"id": "wash", "what": "Wash it", "cost": 20}]}}
    kept = own_demo.post(f"/api/v1{find}/plans", json=asked)
    assert kept.status_code == 201, kept.text
    first = kept.json()
    changed = own_demo.post(f"/api/v1{find}/plans", json={"plan": first["text"] + "\n[sale]\nfees = 9\n", "record":
                                                          first["record"]})  # fmt: skip
    assert changed.json()["number"] == first["number"]
    late = own_demo.post(f"/api/v1{find}/plans", json={"plan": first["text"], "record": first["record"]})
    assert (late.status_code, late.json()["code"]) == (409, "service.clash")
    away = own_demo.post(f"/api/v1{find}/plans/{first['number']}/archive", json={"archived": True})
    assert away.json()["archived"]


def test_a_comparison_stays_reachable_and_says_what_changed_since(own_demo, find, form):
    own_demo.post(f"/api/v1{find}/pay", json={})
    first = own_demo.get("/api/v1/deals", params={"subject": FIND}).json()[-1]["id"]
    assert "Changed since" not in own_demo.get(f"{find}/pay").text
    assert own_demo.post(f"{find}/plans", data=form | {"step.0.hours": "96"}).status_code == 303
    page = own_demo.get(f"{find}/pay").text
    assert "Changed since this was worked out: driver with paint." in page
    own_demo.post(f"/api/v1{find}/pay", json={"price": 9000})
    page = own_demo.get(f"{find}/pay").text
    assert "Changed since" not in page
    assert f"{find}/pay?deal={first}" in page
    older = own_demo.get(f"{find}/pay?deal={first}").text
    assert "This is an older comparison" in older
    assert own_demo.get(f"{find}/pay?deal=999").status_code == 404
    assert own_demo.get(f"/build/{first}").headers["location"] == f"{find}/pay?deal={first}"


def test_the_decision_comes_first_and_what_counts_as_nothing_stands_beside_it(own_demo, find):
    text = plans(own_demo, find)["keep the paint"]
    without = re.sub(r"(labour_rate|holding_per_week) = \d+", r"\1 = 0", text["text"])
    own_demo.post(f"/api/v1{find}/plans", json={"plan": without, "record": text["record"]})
    paths = own_demo.post(f"/api/v1{find}/pay", json={}).json()["paths"]
    page = unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", own_demo.get(f"{find}/pay").text)))
    assert page.index(paths["why"]) < page.index("Paths side by side")
    assert re.search(r"Counted as nothing, since not told: your own labour \(about \d+ hours\) and holding", page)
