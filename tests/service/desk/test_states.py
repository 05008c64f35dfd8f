"""States at the edge: a shop of many vehicles, and a name of two hundred characters."""

import re
from html import unescape

import pytest

from api.settings import Settings
from valuation.ledger import Ledger

PAGE = {"accept": "text/html"}
VEHICLES = 60
LONG = " ".join(["The one with the remarkably long name that was found behind the mill"] * 3)[:200]


@pytest.fixture(scope="module")
def shop(serve, tmp_path_factory):
    """A shop of many vehicles at two stages, before any table."""
    place = tmp_path_factory.mktemp("states") / "ledger.sqlite"
    with Ledger.open(place) as ledger:
        for i in range(VEHICLES):
            name = LONG if i == VEHICLES - 1 else f"Wren number {i}"
            since = "2025-03-01" if i % 2 else None
            ledger.add_vehicle(subject=name, found={"family": "Garrow Wren", "model_year": 1950}, for_sale_on=since)
    with serve(Settings(ledger=str(place))) as client:
        yield client


def lines(page):
    return [unescape(one) for one in re.findall(r'<p class="vehicle-name"><a href="/vehicles/\d+">([^<]*)', page)]


def test_of_many_vehicles_the_newest_of_each_stage_stand_on_the_first_page(shop):
    page = shop.get("/", headers=PAGE).text
    assert len(lines(page)) == 24
    assert lines(page)[:2] == ["Wren number 58", "Wren number 56"]
    assert lines(page)[12] == LONG
    assert "Found (30)" in page
    all_of_them = re.search(r'href="(/\?stage=[^"]*)">Show all 30<span class="hidden"> for sale', page)[1]
    assert len(lines(shop.get(all_of_them, headers=PAGE).text)) == 12 + 30
    named = [f"Wren number {i}" for i in (18, 16, 14, 12, 10, 19, 17, 15, 13, 11, 1)]
    assert lines(shop.get("/?find=NUMBER%201", headers=PAGE).text) == named, "by stage, the newest first"
    assert "No vehicle is called “Heron”." in shop.get("/?find=Heron", headers=PAGE).text
