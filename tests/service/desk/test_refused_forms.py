"""A refused form: its page once more, the refusal beside its field, and all that was typed still there."""

import threading
import time
from html.parser import HTMLParser

import pytest

from api.desk import Desk

PAGE = {"accept": "text/html"}
LONG = "9" * 60


class Fields(HTMLParser):
    """Fields of a page by name, and the texts of its refusals by id."""

    def __init__(self, text):
        super().__init__()
        self.fields, self.said, self._id = {}, {}, None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        if tag in ("input", "select", "textarea") and found.get("name"):
            self.fields.setdefault(found["name"], found)
        if found.get("class") == "refusal":
            self._id = found["id"]

    def handle_data(self, data):
        if self._id:
            self.said.setdefault(self._id, data)
            self._id = None


def send(client, page, action, typed):
    """The answer to a form that was sent from a page."""
    return client.post(action, data=typed, headers={**PAGE, "referer": str(client.base_url.join(page))})


PRICE, OFFERS = "/vehicles/3/price", "/vehicles/3/offers"
CASES = {
    "offer": (PRICE, OFFERS, {"amount": "38oo0", "who": "Ada"}, "amount", "38oo0"),
    "offer blank": (PRICE, OFFERS, {"amount": "", "who": "Ada"}, "amount", "blank"),
    "offer in the future": (
        PRICE, OFFERS, {"amount": "38000", "offered_on": "2199-01-01"}, "offered_on", "future"
    ),
    "sale": (PRICE, "/vehicles/3/sale", {"price": "many", "kind": "auction"}, "price", "many"),
    "offer far from the estimate": (
        PRICE, OFFERS, {"amount": "3800000", "who": "Ada"}, "amount", "Is 3,800,000 USD right?"
    ),
    "sale by another way": (PRICE, "/vehicles/3/sale", {"price": "38000", "kind": "gift"}, "kind", "gift"),
    "price": (PRICE, PRICE, {"offers_per_month": "0", "fees": "12"}, "offers_per_month", "0.01 or"),
    "price day": (PRICE, PRICE, {"fees": "12", "deadline": "soon"}, "deadline", "soon"),
    "vehicle": (
        "/vehicles/new", "/vehicles", {"name": "Mine", "a.model_year": "minus two", "a.condition": "driver"},
        "a.model_year", "minus two",
    ),
    "vehicle without a name": ("/vehicles/new", "/vehicles", {"name": " ", "a.condition": "driver"}, "name", "call it"),
    "what if": (
        "/vehicles/3/worth", "/vehicles/what-if", {"estimate": "1", "a.model_year": "x"}, "a.model_year", "'x'"
    ),
    "coverage": ("/vehicles/new", "/vehicles", {"name": "M", "coverage": "0.2"}, "coverage", "0.2"),
    "plan": (
        "PLANS", "PLANS", {"number": "0", "name": "p", "step.0.id": "+1", "step.0.what": "Paint",
                           "step.0.cost_low": "1"},
        "step.0.cost", "low, likely and high",
    ),
    "plan number": (
        "PLANS", "PLANS", {"number": "0", "name": "p", "shop.crew": "two"}, "shop.crew", "two",
    ),
    "plan step": (
        "PLANS", "PLANS", {"number": "0", "name": "p", "step.0.id": "+1", "step.0.what": "Wash", "step.1.id": "+2",
                           "step.1.what": "Paint", "step.1.hours": "1e9"}, "step.1.hours", "100,000",
    ),
    "comparison": (
        "PAY", "PAY", {"price": "9500", "margin": "20", "sure": "200"}, "sure", "200",
    ),
    "comparison price": (
        "PAY", "PAY", {"price": "nine"}, "price", "nine",
    ),
    "table": ("/comparables/bring", "/comparables", {"name": "Mine", "pasted": " "}, "file", "no file"),
    "table that is none": ("/comparables/bring", "/comparables", {"name": "M", "pasted": "one\n1"}, None, "column"),
    "cell too long": (
        "/comparables/1?show=faults", "/comparables/1/mend", {"cell.41.6": "x" * 40_000}, None, "Shorten"
    ),
    "name of a table": ("/comparables/1", "/comparables/1/name", {"name": " "}, "name", "not empty"),
    "sale to add": (
        "/comparables/1/sales/new", "/comparables/1/sales/new", {"f.1": "2025-10-01", "f.2": "forty"}, "f.2", "forty"
    ),
    "sale corrected": (
        "/comparables/1/sales/3", "/comparables/1/sales/3", {"f.2": "x" * 33_000}, None, "Shorten"
    ),
    "sale set aside": (
        "/comparables/1/sales/3", "/comparables/1/sales/3/set-aside", {"reason": "yes"}, "reason", "open sale"
    ),
    "sheet": ("/vehicles/3/paper", "/sheets", {"kind": "buyer", "estimate": "1", "shop": "s" * 300}, "shop", "200"),
}  # fmt: skip


@pytest.fixture(scope="module")
def desk(own_demo):
    """A desk where a vehicle is for sale."""
    own_demo.get("/vehicles/3/worth")
    answer = own_demo.post("/vehicles/3/price", data={"offers_per_month": "2", "weeks_to_sell": "6"})
    while answer.status_code == 303:
        answer = own_demo.get(answer.headers["location"])
    while "data-reload" in answer.text:
        answer = own_demo.get(str(answer.url), follow_redirects=True)
    assert 'name="amount"' in own_demo.get("/vehicles/3/price").text
    return own_demo


@pytest.mark.parametrize("case", CASES)
def test_a_refusal_stands_beside_its_field_and_what_was_typed_is_kept(desk, case):
    page, action, typed, name, words = CASES[case]
    plans = desk.get("/build", params={"subject": "Barn find: Haywain"}).headers["location"]
    own = {"PLANS": plans, "PAY": plans.replace("/plans", "/pay")}
    page, action = own.get(page, page), own.get(action, action)
    answer = send(desk, page, action, typed)
    assert 400 <= answer.status_code < 500
    found = Fields(answer.text)
    assert "That did not work" not in answer.text
    if name is None:
        assert words in found.said["refusal"]
    else:
        field = found.fields[name]
        assert field.get("aria-invalid") == "true", found.said
        assert "autofocus" in field
        said = [found.said[one] for one in field["aria-describedby"].split() if one in found.said]
        assert words in " ".join(said)
    for key, text in typed.items():
        field = found.fields[key]
        if text.strip() and field.get("type") != "hidden" and "value" in field:
            assert field["value"] == text


@pytest.mark.parametrize("patience", [0.0, 30.0], ids=["from its page", "at once"])
def test_a_refusal_of_long_work_goes_back_to_its_form(desk, monkeypatch, patience):
    rows = "\n".join(f"2025-0{1 + day}-15,1{day}500,sold,Penhurrow Haywain,195{day},driver" for day in range(5))
    content = f"date,price,outcome,family,model_year,condition\n{rows}".encode()
    table = str(desk.post("/api/v1/comparables", files={"file": ("few.csv", content)}).json()["table"]["id"])
    typed = {"name": "Mine", "a.model_year": "1952", "table": table}
    monkeypatch.setattr("api.pages.work.FOLLOW_SECONDS", patience)
    if not patience:
        seen, fit = threading.Event(), Desk.fit_first
        monkeypatch.setattr(Desk, "fit_first", lambda *given: seen.wait(60) and fit(*given))
    answer = send(desk, f"/vehicles/new?table={table}", "/vehicles", typed)
    if not patience:
        seen.set()
        assert answer.headers["location"].startswith("/work/")
        monkeypatch.undo()
        until = time.monotonic() + 60
        while answer.status_code == 303 or "data-reload" in answer.text:
            assert time.monotonic() < until
            answer = desk.get(answer.headers.get("location", str(answer.url)), headers=PAGE)
    assert answer.status_code == 422
    found = Fields(answer.text)
    assert "usable" in found.said["refusal"]
    assert {name: found.fields[name]["value"] for name in typed} == typed
    assert desk.get(f"/vehicles/new?table={table}").status_code == 200


def test_a_second_bad_try_without_scripts_goes_back_to_the_same_page(desk):
    first = send(desk, PRICE, OFFERS, {"amount": "x"})
    page = Fields(first.text).fields["page"]["value"]
    assert page == "/vehicles/3/price"
    again = desk.post(
        "/vehicles/3/offers",
        data={"amount": "y", "page": page},
        headers={**PAGE, "referer": str(desk.base_url.join("/vehicles/3/offers"))},
    )
    assert Fields(again.text).fields["amount"]["value"] == "y"


@pytest.mark.parametrize(
    "page", ["", "/api/v1/comparables", "https://evil.example/", "//evil.example", "/nowhere", "x"]
)
def test_where_the_page_of_the_form_is_not_known_what_was_typed_is_shown(desk, page):
    answer = desk.post("/vehicles/3/offers", data={"amount": "38oo0", "who": "<b>Ada", "page": page}, headers=PAGE)
    assert answer.status_code == 422
    assert "That did not work" in answer.text
    assert "<dt>who</dt><dd>&lt;b&gt;Ada</dd>" in answer.text


def test_what_was_typed_is_text_and_nothing_else(desk):
    hostile = '"><script>alert(1)</script>'
    answer = send(desk, "/vehicles/new", "/vehicles", {"name": hostile, "a.model_year": hostile, "as_of": hostile})
    assert answer.status_code == 422
    assert "<script>alert" not in answer.text
    assert Fields(answer.text).fields["name"]["value"] == hostile


def test_the_folded_part_that_holds_the_field_is_opened(desk):
    answer = send(desk, PRICE, PRICE, {"fees": "x"})
    before = answer.text[: answer.text.index('aria-invalid="true"')]
    assert before.rpartition("<details")[2].partition(">")[0].endswith(" open")


def test_programs_are_told_the_field_too(desk):
    body = desk.post("/api/v1/estimates", json={"vehicle": {"name": "x", "attributes": {"model_year": "old"}}}).json()
    assert body["errors"][0]["where"] == "model_year"
