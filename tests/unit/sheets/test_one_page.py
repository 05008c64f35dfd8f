"""The buyer sheet on one page and the message: the same figures as the whole sheet, by hand; always one page."""

import dataclasses
import io

import pytest
from PIL import Image
from pypdf import PdfReader

from valuation.errors import SheetError
from valuation.sheets.buyer_summary import Seller
from valuation.sheets.one_page import Message, OnePage
from valuation.sheets.photos import prepare_photo
from valuation.sheets.records import draw, make_again, sheet_inputs
from valuation.text.locale import LOCALES

HERE = LOCALES["international"]


def words_of(content):
    return " ".join("".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())


@pytest.fixture(scope="module")
def asked(buyer):
    seller = Seller(asking_price=51_500, graded_by="Ada Quill", contact="yard@example.invalid",
                    not_inspected=("gearbox",))  # fmt: skip
    return dataclasses.replace(buyer, seller=seller)


@pytest.mark.parametrize("paper", ["international", "en-US"])
@pytest.mark.parametrize("remark", ["", "Kept every bill since. " * 90, "x" * 5000])
def test_it_is_one_page_whatever_is_written(asked, picture, paper, remark):
    photo = prepare_photo(picture(400, 700), "yard.jpg", "As it came")
    content = draw(OnePage(dataclasses.replace(asked, remark=remark)), LOCALES[paper], (photo,))
    assert len(PdfReader(io.BytesIO(content)).pages) == 1
    assert len(PdfReader(io.BytesIO(content)).outline) >= 2


def test_its_figures_are_those_of_the_sheet_by_hand(asked):
    text = words_of(draw(OnePage(asked), HERE)).replace("\xa0", " ")
    total = 1.0
    for column in asked.grid:
        adjusted = column.price_cents + sum(line.cents for line in column.lines)
        assert adjusted == column.adjusted_cents
        total *= (adjusted / 100) ** column.weight
        assert f"{column.price_cents / 100:,.0f} {HERE.about(adjusted / 100)} {100 * column.weight:.0f} %" in text
    assert f"come to {HERE.about(total)}" in text.replace("USD ", "")
    assert total == pytest.approx(asked.reconciled, rel=1e-4)
    assert "Asking price: USD 51,500" in text
    assert "Not inspected: gearbox." in text


def test_the_message_says_the_estimate_its_range_and_who_says_so(asked):
    text = draw(Message(asked), HERE, face="txt").decode()
    low, middle, high = (HERE.about(value) for value in (asked.low, asked.estimate, asked.high))
    assert f"Estimate: USD {middle} on 25 November 2026." in text
    assert f"between USD {low} and USD {high}." in text
    for line in ("Asking price: USD 51,500", "Not inspected: gearbox.", "Contact: yard@example.invalid",
                 "An estimate, not an appraisal."):  # fmt: skip
        assert line in text
    assert len(text.splitlines()) <= 12


def test_the_picture_carries_its_text_alternative_and_nothing_else(asked, picture):
    photo = prepare_photo(picture(), "yard.jpg", "As it came")
    drawing = Image.open(io.BytesIO(draw(Message(asked), HERE, (photo,), "png")))
    assert drawing.size == (1200, 630)
    assert set(drawing.info) == {"Description", "Keywords"}
    assert f"estimate USD {HERE.about(asked.estimate)} on 25 November 2026." in drawing.info["Description"]


def test_equal_records_give_equal_bytes_and_a_face_that_is_none_is_refused(asked):
    inputs = sheet_inputs(Message(asked), HERE)
    assert make_again(inputs, "png") == make_again(inputs, "png")
    with pytest.raises(SheetError, match="message as PDF: it is a text and a picture"):
        make_again(inputs, "pdf")
