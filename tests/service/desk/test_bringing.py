"""Bringing a table as a conversation: what is asked, what is kept, and that all of it comes out as at the terminal."""

import datetime as dt
import json
import re
import threading
import time
from html import unescape
from pathlib import Path

import pytest

from api.settings import Settings
from valuation.answers import bringing
from valuation.answers.draft import draft
from valuation.comparables.reader import choose_table, from_text_table
from valuation.comparables.suggestions import mended_as_agreed
from valuation.drafting.questions import agreed
from valuation.errors import TableError

FILES = Path(__file__).parents[2] / "tables" / "files"
REFUSED = ("formulas-uncomputed.xlsx", "pivot.xlsx")
TABLES = sorted(one.name for one in FILES.iterdir() if one.suffix != ".json" and one.name not in REFUSED)
CONDITIONS = ("derelict", "project", "runner", "driver", "show")
BODIES = ("pickup", "sedan", "panel van", "roadster")


def shop_table(rows=53, shape="Shape", grade="Cond."):
    """A table whose column of bodies is headed as some head their grades."""
    lines = [f"When,Paid,How,Truck,Yr,{shape},{grade}"]
    for i in range(rows):
        year, price = 1946 + i % 12, 6_000 + 500 * (i % 5) + 37 * i
        day = f"2025-{1 + i % 9:02}-{1 + i % 27:02}"
        lines.append(f"{day},{price},Sold,Garrow Wren,{year},{BODIES[i % 4]},{CONDITIONS[i % 5]}")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def desk(serve, tmp_path_factory):
    """A desk that tests of this file share; each brings tables under its own name."""
    with serve(Settings(ledger=str(tmp_path_factory.mktemp("bringing") / "ledger.sqlite"))) as client:
        yield client


class Talk:
    """The page of a table that waits."""

    def __init__(self, desk, **sent):
        answer = desk.post("/comparables", **sent)
        assert answer.status_code == 303, answer.text
        self.desk, self.here = desk, answer.headers["location"]
        self.said = ""

    @property
    def page(self):
        return unescape(self.desk.get(self.here).text)

    @property
    def bar(self):
        return re.search(r'<strong role="status">([^<]*)', self.page)[1]

    @property
    def states(self):
        return re.findall(r'class="state[^"]*">([^<]*)', self.page)

    @property
    def json(self):
        return self.desk.get("/api/v1/comparables/drafts/" + self.here.rpartition("/")[2]).json()

    def press(self, button="", **fields):
        revision = re.search(r'name="revision" value="(\d+)"', self.page)[1]
        answer = self.desk.post(self.here, data={"revision": revision, "do": button, **fields})
        assert answer.status_code == 303, re.findall(r'class="refusal"[^>]*>([^<]*)', answer.text)
        self.said = unescape(answer.headers["location"])
        return self.said


def pasted(desk, text, name, **more):
    return Talk(desk, data={"pasted": text, "name": name, **more})


@pytest.mark.parametrize("name", TABLES)
def test_as_many_rows_come_out_as_at_the_terminal(desk, name):
    """All suggestions taken, then every mend that has one answer, by two buttons; and the ledger reads it the same."""
    first = draft(FILES / name)
    schema = draft(FILES / name, told=agreed(first.questions)).schema
    text = choose_table(FILES / name, schema)
    mended, _ = mended_as_agreed(from_text_table(text, schema, dt.date.today()))
    talk = Talk(desk, data={"name": name}, files={"file": (name, (FILES / name).read_bytes())})
    assert talk.bar == f"{first.usable} of {first.rows} rows usable"
    talk.press("suggestions")
    talk.press("mend.sure")
    assert talk.bar == f"{mended.n_usable} of {first.rows} rows usable"
    table = desk.get(f"/api/v1{talk.press('use')}").json()
    assert (table["usable"], table["rows"]) == (mended.n_usable, first.rows)


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_list_of_sales_is_refused_as_at_the_terminal(desk, name):
    with pytest.raises(TableError) as refusal:
        draft(FILES / name)
    answer = desk.post("/comparables", files={"file": (name, (FILES / name).read_bytes())})
    assert answer.json()["detail"] == str(refusal.value)


def test_a_table_whose_shape_is_its_body_is_not_taken_for_its_condition(desk):
    talk = pasted(desk, shop_table(), "shape")
    assert talk.bar == "53 of 53 rows usable"
    assert {one["header"]: one["meaning"] for one in talk.json["columns"]}["Shape"] == "body"
    assert talk.json["faults"] == []


def test_where_it_is_taken_wrongly_one_answer_puts_every_row_right(desk):
    talk = pasted(desk, shop_table(), "wrong", currency="EUR")
    talk.press(**{"column.5": "condition"})
    assert talk.bar != "53 of 53 rows usable" or "Cond." in talk.page
    talk.press(**{"column.5": "body", "column.6": "condition"})
    assert talk.bar == "53 of 53 rows usable"
    assert [one["open"] for one in talk.json["columns"]] == [False] * 7


def test_a_table_that_reads_right_is_folded_and_one_click_away(desk):
    talk = pasted(desk, shop_table(20, "Body", "Condition"), "plain", currency="EUR")
    assert [step["done"] for step in talk.json["steps"]] == [True] * 3
    assert talk.states == ["7 columns read right", "5 words read right", "every row reads right"]
    assert not re.search(r'<details class="card" id="\w+" open', talk.page)
    before = len(desk.get("/api/v1/comparables").json())
    assert re.fullmatch(r"/comparables/\d+", talk.press("use"))
    assert len(desk.get("/api/v1/comparables").json()) == before + 1
    assert desk.get(talk.here).status_code == 404, "what was put to use waits no longer"


def test_nothing_is_written_before_it_is_used_and_every_answer_is_kept(desk):
    before = desk.get("/api/v1/comparables").json()
    talk = pasted(desk, shop_table().replace("driver", "tidy ish"), "kept", currency="EUR")
    assert "tidy ish" in talk.page
    talk.press(**{"told.level/condition/tidy ish": "driver"})
    talk.press(**{"cell.4.1": "7777"})
    assert talk.bar == "53 of 53 rows usable"
    assert talk.json["mends"] == 1
    assert desk.get("/api/v1/comparables").json() == before
    talk.press("undo")
    assert talk.json["mends"] == 0
    assert talk.bar == "53 of 53 rows usable", "an answer is no mend"


def test_what_was_answered_and_mended_is_remembered_for_the_next_version(desk):
    text = shop_table().replace("driver", "tidy ish").replace("2025-03-03", "2025-33-03", 1)
    talk = pasted(desk, text, "next", currency="EUR")
    talk.press(**{"told.level/condition/tidy ish": "driver"})
    talk.press(**{"cell.4.0": "2025-03-03"})
    talk.press("use")
    newer = text + "2025-09-30,9000,Sold,Garrow Wren,1950,sedan,rough as can be\n"
    again = pasted(desk, newer, "next")
    assert "Read as last time, by version 2 of" in again.page
    assert "1 new word." in again.page
    assert "1 mend of that version was made again." in again.page
    assert again.bar == "53 of 54 rows usable"
    again.press(**{"told.level/condition/rough as can be": "project"})
    assert again.bar == "54 of 54 rows usable"
    table = desk.get(f"/api/v1{again.press('use').partition('?')[0]}").json()
    assert (table["usable"], table["table"]["version"]) == (54, 4)
    same = pasted(desk, newer, "next")
    assert "nothing is new." in same.page
    assert same.press("use").startswith(f"/comparables/{table['table']['id']}?"), "the same file writes nothing"


def test_own_columns_and_columns_left_out_are_as_the_owner_says(desk):
    lines = shop_table(20, "Body", "Condition").splitlines()
    text = "\n".join([f"{lines[0]},Note,Sticker", *(f"{one},seen {i},{'loud' if i % 2 else 'plain'}" for i, one in
                                                   enumerate(lines[1:]))])  # fmt: skip
    talk = pasted(desk, text, "own", currency="EUR")
    meanings = {one["header"]: one["meaning"] for one in talk.json["columns"]}
    assert (meanings["Note"], meanings["Sticker"]) == ("left out", "own")
    talk.press(**{"column.8": "left out", "column.5": "own"})
    meanings = {one["header"]: one["meaning"] for one in talk.json["columns"]}
    assert (meanings["Sticker"], meanings["Body"]) == ("left out", "own")
    schema = desk.get("/api/v1/schema", params={"table": talk.press("use").rpartition("/")[2]}).json()
    assert "Sticker" in schema["data"]["left_out"]


def test_a_table_without_a_price_that_shows_asks_for_it(desk):
    text = "day;what;bits\n" + "".join(f"1{i % 9}/0{1 + i % 9}/2025;Garrow Wren;{i % 3}\n" for i in range(14))
    talk = pasted(desk, text, "no price")
    assert "no column can be told to be the price" in talk.page
    assert 'value="use"' not in talk.page
    assert talk.json["ready"] is False
    refused = desk.post("/api/v1/comparables/drafts/" + talk.here.rpartition("/")[2] + "/table")
    assert refused.status_code == 422
    talk.press(**{"column.2": "price"})
    assert talk.json["ready"] is True


def test_the_sheet_is_asked_for_and_stays_chosen(desk):
    name = "several-sheets.xlsx"
    talk = Talk(desk, data={"name": "sheets"}, files={"file": (name, (FILES / name).read_bytes())})
    assert talk.json["sheets"] == ["Sales so far", "Cover", "Costs 2026", "People"]
    talk.press(sheet="Costs 2026")
    assert (talk.json["sheet"], talk.json["rows"], talk.json["ready"]) == ("Costs 2026", 7, False)
    talk.press(**{"column.2": "price"})
    table = desk.get(f"/api/v1{talk.press('use')}").json()
    assert (table["sheet"], table["rows"]) == ("Costs 2026", 7)


def test_premium_rates_and_currency_are_asked_and_move_the_prices(desk):
    lines = shop_table(20, "Body", "Condition").splitlines()
    text = "\n".join([f"{lines[0]},Venue", *(f"{one},{'Ferrish Hall' if i % 2 else 'private'}" for i, one in
                                             enumerate(lines[1:]))])  # fmt: skip
    talk = pasted(desk, text, "premium")
    assert talk.json["asks_currency"] is True
    assert talk.json["venues"] == [["Ferrish Hall", ""]]
    talk.press(**{"told.currency": "GBP", "told.premium/Ferrish Hall": "12"})
    assert (talk.json["currency"], talk.json["venues"]) == ("GBP", [["Ferrish Hall", "12"]])
    number = talk.press("use").rpartition("/")[2]
    schema = desk.get("/api/v1/schema", params={"table": number}).json()
    assert (schema["currency"], schema["data"]["venue_premiums"]) == ("GBP", {"Ferrish Hall": 12.0})
    name = "two-currencies.csv"
    talk = Talk(desk, data={"name": "two"}, files={"file": (name, (FILES / name).read_bytes())})
    talk.press(**{"told.rate/CAD": "0.73"})
    assert talk.bar == "36 of 36 rows usable"


def test_an_older_page_takes_nothing_and_a_forgotten_table_says_so(desk):
    talk = pasted(desk, shop_table(), "older")
    stale = {"revision": "0", "column.5": "left out"}
    talk.press(**{"column.5": "own"})
    assert "older" in unescape(desk.post(talk.here, data=stale).headers["location"])
    assert {one["header"]: one["meaning"] for one in talk.json["columns"]}["Shape"] == "own"
    gone = desk.get("/comparables/bring/nowhere", headers={"accept": "text/html"})
    assert gone.status_code == 404
    assert "Bring the file again" in gone.text


def test_answers_that_contradict_each_other_are_refused_and_not_kept(desk):
    talk = pasted(desk, shop_table(20, "Body", "Condition"), "odd", currency="EUR")
    before = talk.json
    answer = desk.post(talk.here, data={"revision": "0", "told.level/condition/show": "driver"},
                       headers={"accept": "text/html", "referer": str(desk.base_url.join(talk.here))})  # fmt: skip
    assert answer.status_code == 422
    assert 'class="refusal"' in answer.text
    assert talk.json == before


def test_programs_have_the_same_talk(desk):
    file = {"file": ("x.csv", shop_table().replace("driver", "tidy ish").replace("2025-03-03", "?", 1).encode())}
    waiting = desk.post("/api/v1/comparables/drafts", files=file, data={"name": "by program", "currency": "EUR"})
    assert waiting.status_code == 201, waiting.text
    here = "/api/v1/comparables/drafts/" + waiting.json()["id"]
    told = {"told": {"level/condition/tidy ish": "driver"}, "columns": {"Shape": "own"}}
    answer = desk.post(f"{here}/answers", json={**told, "cells": [{"row": 4, "column": "When", "value": "2025-03-03"}]})
    assert answer.status_code == 200, answer.text
    assert (answer.json()["usable"], answer.json()["mends"]) == (53, 1)
    assert desk.post(f"{here}/answers", json={"undo": True}).json()["mends"] == 0
    table = desk.post(f"{here}/table")
    assert (table.status_code, table.json()["headers"]["Shape"]) == (201, "shape")
    assert desk.get(here).status_code == 404
    assert json.loads(table.text)["remembered"] is None or table.json()["remembered"]["mended_again"] == []


def test_a_large_table_says_what_it_is_at_and_can_be_left(desk, monkeypatch):
    monkeypatch.setattr("api.pages.bringing.LARGE", 0)
    monkeypatch.setattr("api.pages.bringing.FOLLOW_SECONDS", 0.0)
    read, gate = bringing.begin, threading.Event()
    monkeypatch.setattr(bringing, "begin", lambda *given, **told: gate.wait(30) and read(*given, **told))

    def came(answer):
        """The address that the work leads to."""
        while answer.headers.get("location", "/work/").startswith("/work/"):
            time.sleep(0.05)
            answer = desk.get(answer.headers.get("location", answer.url))
        return answer.headers["location"]

    sent = {"pasted": shop_table(), "name": "large", "currency": "EUR"}
    work = desk.post("/comparables", data=sent)
    page = desk.get(work.headers["location"]).text
    for said in ("<h1>Reading large</h1>", "reading pasted table", "Stop it"):
        assert said in page
    gate.set()
    here = came(work)
    assert "Reading 53 rows again." in desk.get(here).text, "the desk's script says it in place, where none loses his"
    in_place = desk.post(here, data={"revision": "0", "cell.4.1": "7777"}, headers={"hx-request": "true"})
    assert in_place.headers["location"] == here
    table = came(desk.post(here, data={"revision": "1", "do": "use"}))
    assert desk.get(f"/api/v1{table}").json()["usable"] == 53
