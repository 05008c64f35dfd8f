"""The table in front of the owner is the one that is used: two tables in two currencies, the other the newer one."""

import re
from html import unescape

import pytest

LINNETS = "date,price,outcome,family,model_year,condition\n" + "".join(
    f"2025-0{1 + i % 9}-1{i % 9},{10_000 + 700 * i},sold,Tarrowby Linnet,{1950 + i},driver\n" for i in range(14)
)
ELSEWHERE = re.compile(
    r"^(/|/barn|/shop|/track-record|/help|/price|/comparables/bring|/api/.*|#.*|/comparables/2.*|.*table=2"
    r"|/vehicles/\d+(/photos|/work|/paper|/price)?|/photos/.*)$"
)


@pytest.fixture(scope="module")
def two(own_demo, bring):
    """A desk with the demo (USD) as table 1, and after it a table in EUR."""
    assert bring(own_demo, LINNETS, "Linnets", currency="EUR").headers["location"] == "/comparables/2"
    return own_demo


def settled(client, answer):
    """The page at the end of redirects and work."""
    while answer.status_code == 303 or "data-reload" in answer.text:
        answer = client.get(answer.headers.get("location") or str(answer.url))
    assert answer.status_code == 200, re.sub(r"<[^>]+>", " ", answer.text)
    return answer


def used(text):
    """What a page says of its table."""
    found = re.search(r'class="used">Table in use: <a [^>]*>([^<]*)</a>(, \w+)?', text)
    return found and unescape(found[1] + (found[2] or ""))


def test_every_link_from_a_page_of_a_table_stays_with_that_table(two):
    subject = "Barn find: Haywain"
    find = two.get("/build", params={"subject": subject}).headers["location"].removesuffix("/plans")
    settled(two, two.post(f"{find}/pay", data={"price": "9500", "margin": "15", "sure": "70"}))
    waiting, seen = ["/comparables/1", "/vehicles/3/worth"], set()
    while waiting:
        address = waiting.pop()
        if address in seen:
            continue
        seen.add(address)
        text = settled(two, two.get(address, headers={"accept": "text/html"})).text
        assert used(text) == "Thistlewick Motor Works (invented demo), version 1, USD", address
        for link in map(unescape, re.findall(r'<a [^>]*href="([^"]*)"', text)):
            if link.startswith("/") and not ELSEWHERE.match(link):
                waiting.append(link.partition("#")[0])
    kinds = {re.sub(r"\d+", "N", address.partition("&")[0].partition("=")[0]) for address in seen}
    assert kinds >= {"/comparables/N", "/vehicles/new?table", "/vehicles/N/worth"}


def test_the_owners_way_from_the_older_table_ends_in_its_currency(two):
    text = two.get("/comparables/1").text
    assert 'href="/vehicles/new?table=1">Value a vehicle from this table' in text
    assert 'name="table" value="1"' in two.get("/vehicles/new?table=1").text
    form = {"table": "1", "name": "Asked of the older", "a.family": "Penhurrow Haywain", "a.model_year": "1952"}
    what_if = settled(two, two.post("/vehicles/what-if", data=form))
    assert used(what_if.text).endswith("USD")
    estimate = settled(two, two.post("/vehicles", data=form))
    assert "USD" in estimate.text
    number = str(estimate.url).rpartition("=")[2]
    assert used(settled(two, two.get(f"/build?estimate={number}")).text).endswith("USD")
    assert used(settled(two, two.get(f"/price?estimate={number}")).text).endswith("USD")


def test_a_find_with_plans_alone_goes_with_the_newest_table_in_its_currency(two):
    assert used(settled(two, two.get("/build", params={"subject": "Barn find: Linnet"})).text).endswith("USD")


def test_without_a_choice_the_newest_is_used_and_the_page_says_so(two):
    text = two.get("/vehicles/new").text
    assert used(text) == "Linnets, version 1, EUR"
    assert 'href="/vehicles/new?table=1"' in text, "the other table is one click away"


def test_an_older_version_says_that_there_is_a_newer_one(two):
    two.post("/api/v1/comparables/2/mends", json={"cells": [{"row": 3, "column": "condition", "value": "show"}]})
    text = two.get("/vehicles/new?table=2").text
    assert 'Version 2 is newer: <a href="/vehicles/new?table=3">use it</a>' in text


def test_private_sheets_are_made_from_the_table_of_their_deal(two):
    made = two.post("/sheets", data={"kind": "card", "subject": "Barn find: Haywain", "table": "1"})
    assert used(settled(two, made).text).endswith("USD")


def test_a_table_that_is_not_there_is_not_replaced_by_another(two):
    for number in ("99", "x", "²", "9" * 30):
        answer = two.post("/vehicles", data={"table": number, "name": "x"})
        assert answer.status_code == 404, number
