"""Sheets laid out: no page with two lines, no heading alone at a foot, no hole, no lettering that needs a glass."""

import dataclasses
import io

import pytest
from pypdf import PdfReader

from tests.unit.sheets.printed import lines_of
from valuation.sheets.buyer_faces import buyer_pdf
from valuation.sheets.deal_faces import deal_pdf
from valuation.sheets.photos import prepare_photo
from valuation.text.locale import LOCALES

LEAST_LINES = 8
FULL = 2 / 3
"""Share of a page that is used before the next one begins."""
HEADING = 12.5
"""Points of a heading of the first level."""
SHAPES = {
    "no photograph": (),
    "one": ((600, 400),),
    "one tall": ((400, 700),),
    "three tall": ((400, 700),) * 3,
    "six": ((600, 400), (400, 700), (600, 400), (500, 500), (600, 400), (400, 700)),
    "six wide": ((600, 300),) * 6,
}
REMARKS = {"short": "Finished last winter.", "2,000": "Kept every bill since. " * 87, "unbroken": "x" * 5000}


def check(content):
    reader = PdfReader(io.BytesIO(content))
    last = len(reader.pages) - 1
    for number, page in enumerate(reader.pages):
        lines = lines_of(page)
        foot = min(line[0] for line in lines)
        body = [line for line in lines if line[0] > foot + 5]
        assert len(body) >= LEAST_LINES, (number, body)
        assert body[-1][1] < HEADING - 0.5, (number, body[-1])
        top, tall = float(page.mediabox.height) - body[0][0], float(page.mediabox.height)
        if number < last:
            assert tall - body[-1][0] - top > FULL * (tall - 2 * top), (number, body[-1])
    assert len(reader.outline) >= LEAST_LINES - 2
    return len(reader.pages)


@pytest.fixture(scope="module")
def photographs(picture):
    def make(shapes):
        return tuple(prepare_photo(picture(*shape), "invented.jpg", "As it came") for shape in shapes)

    return {name: make(shapes) for name, shapes in SHAPES.items()}


@pytest.mark.parametrize("paper", ["international", "en-US"])
@pytest.mark.parametrize("photos", SHAPES)
def test_photographs_of_any_number_and_shape_leave_no_hole(buyer, photographs, photos, paper):
    assert check(buyer_pdf(buyer, LOCALES[paper], photographs[photos])) <= 3


@pytest.mark.parametrize("paper", ["international", "en-US"])
@pytest.mark.parametrize("remark", ["2,000", "unbroken"])
def test_long_remarks_run_on_without_a_gap(buyer, photographs, remark, paper):
    sheet = dataclasses.replace(buyer, remark=REMARKS[remark])
    assert check(buyer_pdf(sheet, LOCALES[paper], photographs["one"])) <= 5


@pytest.mark.parametrize("paper", ["international", "en-US"])
def test_the_deal_sheet_is_as_full(deal, paper):
    check(deal_pdf(deal, LOCALES[paper]))
