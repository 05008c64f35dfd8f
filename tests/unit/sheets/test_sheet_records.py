"""A sheet can be made again identically from its record, and a changed record is refused."""

import dataclasses
import json
import math

import pytest

from valuation.errors import SheetError
from valuation.ledger import Ledger, canonical_json, fingerprint
from valuation.sheets.photos import prepare_photo
from valuation.sheets.records import draw, make_again, sheet_inputs
from valuation.text.locale import LOCALES

HERE = LOCALES["de-DE"]


@pytest.fixture(scope="module")
def photos(picture):
    return (prepare_photo(picture(), "a.jpg", "From the left"),)


@pytest.mark.parametrize("face", ["pdf", "html"])
def test_a_buyer_sheet_comes_out_the_same_to_the_byte(buyer, photos, face):
    record = json.loads(json.dumps(sheet_inputs(buyer, HERE, photos)))
    assert make_again(record, face) == draw(buyer, HERE, photos, face)


def test_a_deal_sheet_comes_out_the_same_to_the_byte(deal):
    record = json.loads(json.dumps(sheet_inputs(deal, HERE)))
    assert make_again(record) == draw(deal, HERE)


def test_the_ledger_keeps_the_record(buyer, photos, tmp_path):
    inputs = sheet_inputs(buyer, HERE, photos)
    content = draw(buyer, HERE, photos)
    with Ledger.open(tmp_path / "ledger.db") as book:
        kept = book.add_sheet(
            kind="buyer", file_name="b.pdf", fingerprint=fingerprint(content), inputs=inputs, subject=buyer.vehicle
        )
    assert fingerprint(make_again(json.loads(kept.inputs))) == kept.fingerprint


def test_an_open_interval_can_be_kept(buyer):
    canonical_json(sheet_inputs(dataclasses.replace(buyer, high=math.inf), HERE))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": 9}, "its record is of format 9"),
        ({"format": 1}, "its record is of format 1 and kind 'buyer'; format 2 of"),
        ({"kind": "tax"}, "and kind 'tax'; format 2 of buyer, page, message, deal, card is known"),
        ({"fingerprint": "0" * 64}, "does not agree with its own fingerprint"),
        ({"sheet": {"vehicle": "x"}}, "damaged or of another kind .BuyerSheet has other fields."),
        ({"photos": [{"caption": "x"}]}, "a photograph in its record is damaged"),
    ],
)
def test_a_changed_record_is_refused(buyer, change, words):
    with pytest.raises(SheetError, match=words):
        make_again({**sheet_inputs(buyer, HERE), **change})


def test_a_changed_figure_is_seen(buyer):
    record = sheet_inputs(buyer, HERE)
    record["sheet"]["estimate"] *= 2
    with pytest.raises(SheetError, match="so it was changed since"):
        make_again(record)
