"""What a reader's program finds in the PDF: row headers, words in one piece, and a long word without breaks lost."""

import dataclasses
import io
import time

import pytest
from pypdf import PdfReader

from valuation.sheets.buyer_faces import buyer_pdf
from valuation.sheets.deal_faces import deal_pdf
from valuation.sheets.field_card import card_pdf, field_card
from valuation.sheets.one_page import OnePage
from valuation.sheets.records import draw
from valuation.sheets.row_headers import with_row_headers
from valuation.text.locale import LOCALES

HERE = LOCALES["international"]


@pytest.fixture(scope="module")
def papers(buyer, deal):
    return {"buyer": buyer_pdf(buyer, HERE), "deal": deal_pdf(deal, HERE)}


def rows_of(content):
    """Each row of each table as (whether it is in the head, its cells' kinds and scopes), read without any repair."""
    reader = PdfReader(io.BytesIO(content), strict=True)
    found = []

    def walk(node, in_head):
        node = node.get_object()
        if not isinstance(node, dict):
            return
        kids = node.get("/K", [])
        kids = kids if isinstance(kids, list) else [kids]
        if node.get("/S") == "/TR":
            cells = [kid.get_object() for kid in kids]
            found.append((in_head, [(cell["/S"], scope_of(cell)) for cell in cells]))
            return
        for kid in kids:
            if not isinstance(kid, int):
                walk(kid, in_head or node.get("/S") == "/THead")

    walk(reader.trailer["/Root"]["/StructTreeRoot"], False)
    return found


def scope_of(cell):
    attributes = cell.get("/A", [])
    attributes = attributes if isinstance(attributes, list) else [attributes]
    return next((one["/Scope"] for one in attributes if "/Scope" in one), "")


@pytest.mark.parametrize("kind", ["buyer", "deal"])
def test_the_first_cell_of_each_row_is_the_header_of_the_row(papers, kind):
    rows = rows_of(papers[kind])
    bodies = [cells for in_head, cells in rows if not in_head]
    assert len(bodies) > 20
    for cells in bodies:
        assert cells[0] == ("/TH", "/Row")
        assert {kind for kind, _ in cells[1:]} <= {"/TD"}
    heads = [cells for in_head, cells in rows if in_head]
    assert {cell for cells in heads for cell in cells} == {("/TH", "/Column")}


def test_every_object_is_where_the_file_says(papers):
    for content in papers.values():
        reader = PdfReader(io.BytesIO(content), strict=True)
        table = reader.xref[0]
        for number, offset in table.items():
            assert content[offset:].startswith(f"{number} 0 obj".encode())


def test_a_file_of_another_layout_comes_back_as_it_is():
    for content in (b"", b"%PDF-1.7 nothing", b"xref\n0 1\nstartxref\n0\n%%EOF"):
        assert with_row_headers(content) == content


def test_the_mark_of_a_private_sheet_is_found_as_one_word(papers):
    for page in PdfReader(io.BytesIO(papers["deal"])).pages:
        assert "PRIVATE" in page.extract_text().upper()


def test_five_thousand_unbroken_characters_are_all_there_and_set_in_reasonable_time(buyer):
    word = "".join(f"{number:05}" for number in range(1000))
    before = time.process_time()
    content = buyer_pdf(dataclasses.replace(buyer, remark=word), HERE)
    assert time.process_time() - before < 60
    text = "".join("".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages)
    assert word in text.replace("\u200b", "")


def test_the_machine_checkable_rules_of_pdf_ua_hold(papers, buyer, market, plans, deal):
    """By the checker ``page-validation`` of the package index, which passes veraPDF's own corpus; not in the lock."""
    checker = pytest.importorskip("page", reason="no checker of PDF/UA here: pip install page-validation")
    every = {
        **papers,
        "page": draw(OnePage(buyer), HERE),
        "card": card_pdf(field_card(market, plans, deal.as_of), HERE),
    }
    for name, content in every.items():
        found = checker.validate_pdf_bytes(content, profile=checker.ValidationProfile.PDF_UA_1)
        assert not found.failures, (name, [(one.rule_id, one.message) for one in found.failures])
    spoilt = papers["buyer"].replace(b"/Marked true", b"/Marked false")
    assert spoilt != papers["buyer"]
    assert not checker.is_pdf_compliant_bytes(spoilt, profile=checker.ValidationProfile.PDF_UA_1)
