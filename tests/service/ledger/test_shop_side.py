"""Vehicles, names, photographs and the shop's settings: written, changed, put away, brought back, on both databases."""

import json
from datetime import date

import pytest

from valuation.errors import LedgerError
from valuation.ledger import VehicleRecord

FOUND = {"family": "Tern", "model_year": 1951, "condition": "derelict"}


def find(shop, **more):
    return shop.ledger.add_vehicle(subject="Tern in the barn", found=FOUND, **more)


def test_a_vehicle_is_one_chain_from_find_to_sale(shop):
    found = find(shop, number="T-51-0042", asked=6_500, currency="EUR", found_on="2025-02-27", remark="no engine")
    assert (found.asked, found.found_on, found.bought_on, found.for_sale_on) == (6500.0, date(2025, 2, 27), None, None)
    assert json.loads(found.found) == FOUND
    bought = shop.ledger.change_vehicle(found.subject, "bought", {"bought_for": 6_000, "bought_on": date(2025, 3, 1)})
    right = shop.ledger.change_vehicle(found.subject, "misread", {"found": {**FOUND, "model_year": 1952}})
    assert (bought.first, right.first) == (found.id, found.id)
    assert (right.bought_for, right.number, json.loads(right.found)["model_year"]) == (6000.0, "T-51-0042", 1952)
    assert json.loads(right.history[0].found) == FOUND
    assert shop.ledger.vehicles() == (right,)
    assert shop.ledger.vehicle_of(found.subject) == right
    assert shop.ledger.vehicle(found.id) == found
    assert shop.ledger.check().sound


def test_the_same_vehicle_brought_again_is_one_and_another_of_its_name_is_refused(shop):
    found = find(shop, asked=6_500)
    assert find(shop, asked=6_500) == found
    with pytest.raises(LedgerError, match=r"vehicle 1 of the ledger has that name. Choose another") as refused:
        find(shop, asked=7_000)
    assert refused.value.where == "subject"
    assert shop.ledger.vehicles() == (found,)


def test_what_cannot_be_changed_of_a_vehicle(shop):
    with pytest.raises(LedgerError, match="the ledger has none of that name"):
        shop.ledger.change_vehicle("Wren", "bought", {"bought_for": 1})
    find(shop)
    with pytest.raises(LedgerError, match="Change what it is called instead"):
        shop.ledger.change_vehicle("Tern in the barn", "a better name", {"subject": "Tern"})
    with pytest.raises(LedgerError, match="vehicle 1: it has no 'bought'"):
        shop.ledger.change_vehicle("Tern in the barn", "bought", {"bought": 1})
    with pytest.raises(LedgerError, match="nothing would change"):
        shop.ledger.change_vehicle("Tern in the barn", "bought", {"bought_for": None})
    with pytest.raises(LedgerError, match="amount of money above 0"):
        shop.ledger.change_vehicle("Tern in the barn", "bought", {"bought_for": -1})
    assert len(shop.ledger.all_written(VehicleRecord)) == 1


def test_a_withdrawn_vehicle_leaves_the_list_and_its_name_is_free_again(shop):
    shop.ledger.withdraw(find(shop), "typed twice")
    assert shop.ledger.vehicles() == ()
    assert shop.ledger.vehicle_of("Tern in the barn") is None
    assert find(shop).first == 3


def test_a_thing_is_called_otherwise_put_away_and_brought_back(shop):
    assert shop.ledger.shown("plan") == {}
    key = "Tern in the barn\ndriver"
    away = shop.ledger.show_as("plan", key, archived=True)
    assert (away.name, away.archived) == ("driver", True)
    named = shop.ledger.show_as("plan", key, name="Make it drive")
    assert (named.name, named.archived, named.reason) == ("Make it drive", True, "called otherwise")
    back = shop.ledger.show_as("plan", key, archived=False)
    assert (back.name, back.archived, back.reason) == ("Make it drive", False, "brought back")
    assert shop.ledger.show_as("plan", key, archived=False, name="Make it drive") == back
    assert shop.ledger.shown("plan") == {key: back}
    assert shop.ledger.shown("vehicle") == {}
    with pytest.raises(LedgerError, match="Cannot write name to the ledger"):
        shop.ledger.show_as("plan", key, name=" ")
    with pytest.raises(LedgerError, match="Cannot write thing to the ledger"):
        shop.ledger.show_as("offer", "1", archived=True)


def test_photographs_come_in_their_order_are_captioned_and_taken_away(shop):
    first, second = (
        shop.ledger.add_photo(subject="Tern", jpeg=picture, width=64, height=48) for picture in (b"front", b"back")
    )
    assert shop.ledger.add_photo(subject="Tern", jpeg=b"front", width=64, height=48) == first
    named = shop.ledger.caption_photo(first, "The front")
    assert shop.ledger.caption_photo(named, "The front") == named
    assert [one.caption for one in shop.ledger.photos("Tern")] == ["The front", ""]
    assert shop.ledger.content(named.content) == b"front"
    shop.ledger.withdraw(second, "blurred")
    assert shop.ledger.photos("Tern") == (named,)
    assert shop.ledger.photos("Wren") == ()


def test_the_newest_settings_of_the_shop_count_and_the_older_stay(shop):
    assert shop.ledger.shop() is None
    first = shop.ledger.keep_shop("[shop]\nlabour_rate = 45\n")
    assert shop.ledger.keep_shop(first.text) == first
    dearer = shop.ledger.keep_shop("[shop]\nlabour_rate = 48\n", "wages went up")
    assert shop.ledger.shop() == dearer
    assert [one.text for one in dearer.history] == [first.text]
