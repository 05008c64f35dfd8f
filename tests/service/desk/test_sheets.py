"""Sheets through the service: made, recorded, and the same bytes again."""

import hashlib
import io

import pytest
from pypdf import PdfReader


def test_the_buyer_s_sheet_is_made_recorded_and_the_same_again(demo):
    made = demo.post("/api/v1/sheets", json={"kind": "buyer", "estimate": 1, "shop": "An invented shop"})
    assert made.status_code == 201, made.text
    sheet = made.json()
    answer = demo.get(sheet["file"])
    assert answer.headers["content-type"] == "application/pdf"
    assert hashlib.sha256(answer.content).hexdigest() == sheet["fingerprint"]
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert "Haywain pickup of 1952" in text.replace("\n", " ")
    page = demo.get(sheet["file"], params={"face": "html"})
    assert "script" not in page.headers["content-security-policy"]
    assert demo.get(f"/sheets/{sheet['id']}").status_code == 200


@pytest.mark.parametrize("kind", ["deal", "card"])
def test_private_sheets_of_a_find_are_made(demo, kind):
    made = demo.post("/api/v1/sheets", json={"kind": kind, "subject": "Barn find: Haywain"})
    assert made.status_code == 201, made.text
    assert demo.get(made.json()["file"]).content.startswith(b"%PDF")
    assert "This stays in the shop" in demo.get(f"/sheets/{made.json()['id']}").text


def test_a_sheet_that_lacks_what_it_is_about_is_refused(demo):
    for asked in ({"kind": "buyer"}, {"kind": "deal"}, {"kind": "deal", "subject": "no such find"}):
        answer = demo.post("/api/v1/sheets", json=asked)
        assert (answer.status_code, answer.json()["code"]) == (422, "service.request")


def test_the_workbook_of_an_estimate_is_one(demo):
    answer = demo.get("/api/v1/estimates/1/workbook")
    assert answer.status_code == 200
    assert answer.content.startswith(b"PK")
