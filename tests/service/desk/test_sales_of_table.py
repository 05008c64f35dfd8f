"""Sales one by one on the pages of a table: added, corrected, set aside, put back; and every change taken back."""

import re
from html import unescape
from html.parser import HTMLParser
from urllib.parse import unquote

import pytest

from api.settings import Settings

TABLE = "date,price,outcome,family,model_year,condition\n" + "".join(
    f"2025-0{1 + i % 9}-1{i % 9},{10_000 + 700 * i},sold,Tarrowby Linnet,{1950 + i},driver\n" for i in range(14)
)
TABLE = TABLE.replace("1953,driver", "1953,drvier")
PAGE = {"accept": "text/html"}
FIELDS = ("date", "price", "outcome", "family", "model_year", "condition")


@pytest.fixture(scope="module")
def desk(serve, tmp_path_factory):
    """A desk that tests of this file share; each brings a table of its own."""
    with serve(Settings(ledger=str(tmp_path_factory.mktemp("sales") / "ledger.sqlite"))) as client:
        yield client


@pytest.fixture
def table(desk, request):
    content = {"file": ("t.csv", TABLE.encode())}
    told = {"name": request.node.name, "currency": "EUR"}
    return desk.post("/api/v1/comparables", files=content, data=told).json()["table"]["id"]


def gone_to(answer):
    assert answer.status_code == 303, answer.text
    address = unquote(answer.headers["location"])
    return int(re.search(r"/comparables/(\d+)", address)[1]), address


def rows(desk, number):
    return {int(row["row"]): row for row in desk.get(f"/api/v1/comparables/{number}/rows").json()}


def usable(desk, number):
    return desk.get(f"/api/v1/comparables/{number}").json()["usable"]


def sale(**cells):
    given = {"date": "2025-10-01", "price": "31,000", "family": "Tarrowby Linnet", "model_year": "1961",
             "condition": "show", **cells}  # fmt: skip
    return {f"f.{FIELDS.index(name)}": text for name, text in given.items()}


def test_the_page_begins_with_what_can_be_used_and_the_one_thing_to_do(desk, table):
    text = desk.get(f"/comparables/{table}").text
    assert "<strong>13 of 14 rows usable</strong>" in text
    assert "Next: make the 1 mend that has one answer." in text
    assert "drvier" in text.partition('id="grid"')[0]
    assert '<details class="card" id="grid">' in text, "rows are folded until asked for"
    newer, said = gone_to(desk.post(f"/comparables/{table}/mend", data={"do": "mend.0"}))
    assert "Mended and kept as version 2" in said
    assert usable(desk, newer) == 14
    assert "Nothing has to be mended" in desk.get(f"/comparables/{newer}").text


class AtRest(HTMLParser):
    """The tags and the text of a page that are seen before anything is unfolded."""

    def __init__(self, text):
        super().__init__()
        self.folds, self.in_summary, self.tags, self.said = [], 0, [], []
        self.feed(text)

    def seen(self):
        return all(self.folds[:-1]) and (not self.folds or self.folds[-1] or self.in_summary)

    def handle_starttag(self, tag, attrs):
        if tag == "details":
            self.folds.append("open" in dict(attrs))
        self.in_summary += tag == "summary"
        if self.seen():
            self.tags.append(tag)

    def handle_endtag(self, tag):
        self.in_summary -= tag == "summary"
        if tag == "details":
            self.folds.pop()

    def handle_data(self, data):
        if self.seen():
            self.said.append(data)


def test_at_rest_the_page_is_what_is_wrong_and_folds(demo):
    demo.get("/comparables/1")  # the cautions are unfolded on the first visit alone
    page = AtRest(demo.get("/comparables/1").text)
    said = " ".join(page.said)
    assert not {"img", "svg", "figure", "tr", "select", "textarea"} & set(page.tags)
    assert page.tags.count("h3") == 2, "causes that ask nothing are in a fold, named in its line"
    assert "Asks nothing of you: 3 sales that were not open" in said
    assert "How the table was read: 3 notes" in said
    assert "such as '10/11/2022'" not in said
    assert "tr" in AtRest(demo.get("/comparables/1?show=all").text).tags, "rows that were asked for are unfolded"


def test_a_sale_is_added_by_a_form_and_taken_back(desk, table):
    assert "derelict, project, runner, driver, show" in desk.get(f"/comparables/{table}/sales/new").text
    added, said = gone_to(desk.post(f"/comparables/{table}/sales/new", data=sale()))
    assert "sold for 31,000" in said
    assert rows(desk, added)[16]["condition"] == "show"
    undone, _ = gone_to(desk.post(f"/comparables/{added}/undo"))
    assert rows(desk, undone) == rows(desk, table)
    assert desk.post(f"/comparables/{added}/undo").status_code == 409, "of an older version nothing is taken back"


def test_an_addition_to_a_mended_table_is_taken_back_whole(desk, table):
    mended, _ = gone_to(desk.post(f"/comparables/{table}/mend", data={"do": "mend.0"}))
    added, _ = gone_to(desk.post(f"/comparables/{mended}/sales/new", data=sale()))
    assert (rows(desk, added)[5]["condition"], len(rows(desk, added))) == ("driver", 15)
    undone, _ = gone_to(desk.post(f"/comparables/{added}/undo"))
    assert rows(desk, undone) == rows(desk, mended)


def test_a_word_that_is_none_is_refused_with_what_was_meant(desk, table):
    here = f"/comparables/{table}/sales/new"
    headers = {"accept": "text/html", "referer": str(desk.base_url.join(here))}
    answer = desk.post(here, data=sale(condition="shwo"), headers=headers)
    assert answer.status_code == 422
    text = unescape(answer.text)
    assert "show" in re.search(r'class="refusal"[^>]*>([^<]*)', text)[1]
    assert 'value="shwo"' in text, "what was typed is kept"
    assert 'aria-invalid="true"' in text, "it is said beside the field"


def test_a_sale_is_corrected_set_aside_with_a_reason_and_put_back(desk, table):
    page = desk.get(f"/comparables/{table}/sales/5").text
    assert "not counted until it is mended" in page
    fixed, _ = gone_to(desk.post(f"/comparables/{table}/sales/5", data={"f.5": "driver"}))
    assert usable(desk, fixed) == 14
    aside, said = gone_to(desk.post(f"/comparables/{fixed}/sales/3/set-aside", data={"reason": "to my brother"}))
    assert "set aside (to my brother)" in said
    assert usable(desk, aside) == 13
    assert "You set this sale aside: to my brother" in desk.get(f"/comparables/{aside}/sales/3").text
    refused = desk.post(f"/comparables/{aside}/sales/4/set-aside", data={"reason": " "})
    assert (refused.status_code, refused.json()["errors"][0]["where"]) == (422, "reason")
    assert desk.post(f"/comparables/{aside}/sales/4/set-aside", data={"reason": "yes"}).status_code == 422
    back, _ = gone_to(desk.post(f"/comparables/{aside}/sales/3/put-back"))
    assert usable(desk, back) == 14
    changes = desk.get(f"/api/v1/comparables/{back}/changes").json()
    assert [one["version"] for one in changes] == [4, 3, 2, 1]
    told = [(one["row"], one["column"], one["old"], one["new"]) for change in changes for one in change["changes"]]
    assert told == [(3, "arms_length", "to my brother", ""), (3, "arms_length", "", "to my brother"),
                    (5, "condition", "drvier", "driver")]  # fmt: skip
    assert "not a level" in changes[2]["changes"][0]["reason"]
    page = unescape(desk.get(f"/comparables/{back}/changes").text)
    assert "to my brother" in page
    assert "drvier" in page
    undone, _ = gone_to(desk.post(f"/comparables/{back}/undo"))
    assert usable(desk, undone) == 13


def test_undo_goes_back_change_by_change_and_what_was_undone_is_put_back(desk, table):
    fixed, _ = gone_to(desk.post(f"/comparables/{table}/sales/5", data={"f.5": "driver"}))
    dearer, _ = gone_to(desk.post(f"/comparables/{fixed}/sales/3", data={"f.1": "23,000"}))
    once, said = gone_to(desk.post(f"/comparables/{dearer}/undo"))
    assert rows(desk, once) == rows(desk, fixed)
    page = desk.get(f"/comparables/{once}").text
    assert "Undo one more change" in page
    assert "Put back what was undone" in page
    twice, _ = gone_to(desk.post(f"/comparables/{once}/undo"))
    assert rows(desk, twice) == rows(desk, table), "pressed twice it goes back twice"
    refused = desk.post(f"/comparables/{twice}/undo")
    assert (refused.status_code, "stands as it was first brought" in refused.text) == (409, True)
    page = desk.get(f"/comparables/{twice}").text
    assert "Undo" not in page
    forward, said = gone_to(desk.post(f"/comparables/{twice}/redo"))
    assert "is put back" in said
    assert rows(desk, forward) == rows(desk, fixed)
    again = desk.post(f"/api/v1/comparables/{forward}/redo").json()["table"]["id"]
    assert rows(desk, again) == rows(desk, dearer)
    refused = desk.post(f"/comparables/{again}/redo")
    assert (refused.status_code, "no change" in refused.text) == (409, True)
    back, _ = gone_to(desk.post(f"/comparables/{again}/undo"))
    other, _ = gone_to(desk.post(f"/comparables/{back}/sales/4", data={"f.1": "19,000"}))
    assert desk.post(f"/comparables/{other}/redo").status_code == 409, "a new change ends the way forward"
    undone, _ = gone_to(desk.post(f"/comparables/{other}/undo"))
    assert rows(desk, undone) == rows(desk, fixed)


def test_programs_can_do_the_same(desk, table):
    here = f"/api/v1/comparables/{table}"
    cells = {"date": "2025-10-02", "price": "32,000", "family": "Tarrowby Linnet", "model_year": "1962",
             "condition": "show"}  # fmt: skip
    added = desk.post(f"{here}/sales", json={"cells": cells})
    assert (added.status_code, added.json()["row"]) == (201, 16), added.text
    newest = f"/api/v1/comparables/{added.json()['version']}"
    one = desk.get(f"{newest}/sales/16").json()
    assert {field["header"]: field["read"] for field in one["fields"]}["price"] == "32000"
    aside = desk.post(f"{newest}/sales/16/set-aside", json={"reason": "a swap"}).json()
    assert aside["usable"] == 13
    fixed = desk.post(f"{newest}/sales/5", json={"cells": {"condition": "driver"}}).json()
    assert fixed["usable"] == 14, "both hands' changes are kept"
    undone = desk.post(f"/api/v1/comparables/{fixed['table']['id']}/undo").json()
    assert undone["usable"] == 13
    assert desk.post(f"{here}/sales", json={}).status_code == 422
    assert desk.get(f"{here}/sales/99").status_code == 422


def test_a_table_is_called_otherwise_put_away_and_brought_back(desk, table, request):
    key, here = request.node.name, f"/comparables/{table}"
    assert gone_to(desk.post(f"{here}/name", data={"name": "Our Linnets"}))[0] == table
    page, first = desk.get(here).text, desk.get("/", headers=PAGE).text
    assert "<h1>Our Linnets</h1>" in page
    assert f"The ledger and the terminal know it as {key}." in page
    assert f'<a href="{here}">Our Linnets</a>' in first
    assert key not in first
    told = desk.post("/api/v1/comparables", files={"file": ("t.csv", TABLE.encode())}, data={"name": "our linnets"})
    assert told.json()["table"]["id"] == table, "the same file under its new name is the same table"
    assert desk.post(f"{here}/archive").headers["location"] == "/"
    assert "a table of sales" in re.search(r"Our Linnets</a>([^<]*)", desk.get("/", headers=PAGE).text)[1]
    assert key not in {one["name"] for one in desk.get("/api/v1/comparables").json()}
    kept = {one["name"]: one for one in desk.get("/api/v1/comparables", params={"archived": True}).json()}
    assert (kept[key]["called"], kept[key]["archived"]) == ("Our Linnets", True)
    assert gone_to(desk.post(f"{here}/archive", data={"back": "1"}))[0] == table
    assert f'<li class="table-line"><p class="vehicle-name"><a href="{here}">' in desk.get("/", headers=PAGE).text
    shown = desk.post(f"/api/v1{here}/shown", json={"called": "Linnets again", "archived": True})
    assert (shown.status_code, shown.json()["called"], shown.json()["archived"]) == (201, "Linnets again", True)


def test_the_only_table_put_away_is_found_on_the_first_page(fresh):
    content = {"file": ("t.csv", TABLE.encode())}
    number = fresh.post("/api/v1/comparables", files=content, data={"name": "Linnets"}).json()["table"]["id"]
    fresh.post(f"/comparables/{number}/archive")
    assert fresh.get("/comparables").headers["location"] == "/comparables/bring"
    assert f'<a href="/comparables/{number}">Linnets</a>, a table of sales' in fresh.get("/", headers=PAGE).text


def test_a_name_that_is_blank_or_taken_is_refused_beside_its_field(desk, table):
    here = f"/comparables/{table}"
    headers = {**PAGE, "referer": str(desk.base_url.join(here))}
    content = {"file": ("t.csv", TABLE.encode())}
    desk.post("/api/v1/comparables", files=content, data={"name": "Taken already"})
    for wrong, said in (("  ", "text that is not empty"), ("taken  already", "another table of the shop is called so")):
        answer = desk.post(f"{here}/name", data={"name": wrong}, headers=headers)
        assert answer.status_code in (409, 422)
        field = re.search(r'<input[^>]*id="name"[^>]*>', answer.text)[0]
        assert 'aria-invalid="true"' in field, wrong
        assert said in unescape(answer.text)
    assert desk.get(f"/api/v1{here}").json()["table"]["called"] != "taken  already"


def test_a_sale_of_the_shop_is_offered_on_the_page_of_the_table_until_it_is_taken_in(desk, table):
    mended, _ = gone_to(desk.post(f"/comparables/{table}/mend", data={"do": "mend.0"}))
    told = {
        "name": "Sold by us",
        "attributes": {"family": "Tarrowby Linnet", "model_year": 1955, "condition": "driver"},
    }
    asked = {"vehicle": told, "table": mended}
    estimate = desk.post("/api/v1/estimates", json=asked, params={"wait": 300})
    assert estimate.status_code == 201, estimate.text
    assert 'id="realised"' not in desk.get(f"/comparables/{mended}").text
    sold = {"estimate": estimate.json()["id"], "price": 14_300, "sold_on": "2025-11-03"}
    assert desk.post("/api/v1/sales", json=sold).status_code == 201
    v = {one["name"]: one["number"] for one in desk.get("/api/v1/vehicles").json()}["Sold by us"]
    asks = "Take it into the table of sales?"
    assert asks in desk.get(f"/vehicles/{v}/price").text
    here = f"/comparables/{mended}"
    offered = re.search(r'<section[^>]*id="realised">(.*?)</section>', desk.get(here).text, re.DOTALL)[1]
    assert "14,300" in offered
    assert "what the buyer paid in all" in offered
    assert 'id="realised"' not in desk.get(f"/comparables/{table}").text, "an older version offers nothing"
    number = re.search(r'name="realised" value="(\d+)"', offered)[1]
    added, _ = gone_to(desk.post(f"{here}/sales/new", data={"realised": number}))
    assert (rows(desk, added)[16]["price"], rows(desk, added)[16]["date"]) == ("14300", "2025-11-03")
    assert usable(desk, added) == 15
    assert 'id="realised"' not in desk.get(f"/comparables/{added}").text, "it is in the table by now"
    assert 'id="realised"' not in desk.get(f"/comparables/{added}/sales/new").text
    assert asks not in desk.get(f"/vehicles/{v}/price").text
