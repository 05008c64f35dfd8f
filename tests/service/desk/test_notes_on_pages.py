"""No page drops a note: whatever the rooms below can say of a table stands on each page that rests on it, once."""

import ast
import html
import re
from dataclasses import replace
from pathlib import Path

import pytest

import valuation
import valuation.comparables
from tests.service.desk.conftest import demo_service
from valuation.notes import Note

ROOMS = ("comparables", "regression", "evidence", "build", "paths", "sell")
PAGES = {
    "comparables": "/comparables/1",
    "vehicle": "/vehicles/3/worth",
    "price": "/vehicles/3/price",
    "build": "/vehicles/1/pay",
}
JSON = {
    "comparables": "/api/v1/comparables/1",
    "vehicle": "/api/v1/estimates/1/evidence",
    "price": "/api/v1/deals/2",
    "build": "/api/v1/deals/1",
}


def codes():
    """Every code with which a note is made, read off the source."""
    root = Path(valuation.__file__).parent
    trees = [ast.parse(f.read_text(encoding="utf-8")) for room in ROOMS for f in (root / room).rglob("*.py")]
    calls = [node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.Call) and node.args]
    made = [call.args[0] for call in calls if getattr(call.func, "id", "") == "Note"]
    return sorted({code.value for code in made if isinstance(code, ast.Constant)})


@pytest.fixture(scope="module")
def remarks():
    """One note for each code."""
    return tuple(Note(code, f"Remark about {code}, which is one of a kind.") for code in codes())


@pytest.fixture(scope="module")
def desk(tmp_path_factory, remarks):
    """The demo's desk, its table read with every note there is; a price, an offer and a comparison kept."""
    read = valuation.comparables.read_comparables

    def with_remarks(*given, **named):
        return replace(read(*given, **named), notes=remarks)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(valuation.comparables, "read_comparables", with_remarks)
        with demo_service(tmp_path_factory.mktemp("remarks")) as client:
            plans = client.get("/build", params={"subject": "Barn find: Haywain"}).headers["location"]
            assert plans == "/vehicles/1/plans"
            finish(client, client.post("/vehicles/1/pay", data={"price": "9500"}))
            finish(client, client.post("/vehicles/3/price", data={"offers_per_month": "2", "weeks_to_sell": "6"}))
            client.post("/vehicles/3/offers", data={"amount": "200000", "who": "Ada", "confirm": "yes"})
            yield client


def finish(client, answer):
    """Wait until the work that a form began is done."""
    for _ in range(600):
        where = answer.headers.get("location", "")
        if answer.status_code == 303 and not where.startswith("/work"):
            return
        answer = client.get(where or str(answer.url))


def plain(text):
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text)))


@pytest.mark.parametrize("name", PAGES)
def test_every_note_of_the_table_stands_on_the_page_once_and_in_its_twin(desk, remarks, name):
    page = desk.get(PAGES[name])
    assert page.status_code == 200, page.text[:300]
    text = plain(page.text)
    assert {note.code: text.count(note.text) for note in remarks} == {note.code: 1 for note in remarks}
    twin = desk.get(JSON[name])
    assert twin.status_code == 200, twin.text[:300]
    assert [note.code for note in remarks if note.text not in twin.text] == []


def test_the_price_page_says_the_truth_of_an_offer_far_over_the_ask(desk):
    text = plain(desk.get(PAGES["price"]).text)
    assert "Of the offers to expect, more than 99 in 100 would be lower." in text
    assert re.search(r"The offer is \d+ % over the ask of", text)
    assert "-" not in re.search(r"The offer is (\S+) % over", text)[1]
