"""What the owner is told of a sheet that he makes, and what the sheet itself says of his asking price."""

import dataclasses
import io
import json

import pytest
from PIL import Image, ImageChops

from valuation.sheets.buyer_page import buyer_page
from valuation.sheets.buyer_summary import Seller
from valuation.sheets.one_page import Message, OnePage
from valuation.sheets.owner_words import notes_for_the_owner
from valuation.sheets.photos import prepare_photo
from valuation.sheets.records import draw, notes_of, sheet_inputs
from valuation.text.locale import LOCALES

HERE = LOCALES["international"]


def asking(buyer, price):
    return dataclasses.replace(buyer, seller=Seller(asking_price=price))


@pytest.mark.parametrize(
    ("price", "lies", "told"),
    [
        (lambda b: 1.2 * b.high, "It lies above the stated range, ", "is above the range that the sheet states"),
        (lambda b: (b.estimate + b.high) / 2, "It lies within the stated range, ", ""),
        (lambda b: b.estimate, "It is the estimate.", ""),
        (lambda b: (b.estimate + b.low) / 2, "It lies within the stated range, ", ""),
        (lambda b: 0.8 * b.low, "It lies below the stated range, ", "is below the range that the sheet states"),
    ],
)
def test_where_the_asking_price_lies_is_said_on_the_sheet_and_to_the_owner(buyer, price, lies, told, read_pdf):
    made = asking(buyer, price(buyer))
    share = HERE.percent(abs(price(buyer) / buyer.estimate - 1))
    side = "above" if price(buyer) > buyer.estimate else "below"
    expected = lies if lies.endswith(".") else f"{lies}{share} {side} the estimate."
    assert buyer_page(made, HERE)["seller"]["asking_lies"] == expected
    for kind, face in ((None, "html"), (OnePage, "html"), (Message, "txt")):
        text = draw(kind(made) if kind else made, HERE, face=face).decode().replace("\xa0", " ")
        assert expected.replace("\xa0", " ") in text
    words = " ".join(note.text for note in notes_for_the_owner(made, HERE))
    assert (told in words) if told else not words
    if told:
        assert HERE.money(made.seller.asking_price, "USD") in words
        assert words.endswith("the sheet says so, and a buyer will see it.")


def test_no_asking_price_says_nothing(buyer):
    assert buyer_page(buyer, HERE)["seller"]["asking_lies"] == ""
    assert notes_for_the_owner(buyer, HERE) == ()


@pytest.fixture(scope="module")
def photos(picture):
    return tuple(prepare_photo(picture(400, 700 + number), f"{number}.jpg", "") for number in range(3))


@pytest.mark.parametrize("paper", ["international", "en-US"])
def test_a_usual_sheet_with_a_photograph_has_room_on_one_page_of_either_paper(buyer, photos, paper):
    seller = Seller(
        asking_price=buyer.estimate,
        graded_by="Ada Quill",
        contact="yard@example.invalid",
        not_inspected=("gearbox",),
    )
    remark = "Finished last winter; the engine was rebuilt by its second owner and has run four summers since. " * 2
    usual = OnePage(dataclasses.replace(buyer, seller=seller, remark=remark))
    assert notes_for_the_owner(usual, LOCALES[paper], photos[:1], in_ledger=True) == ()


def test_what_one_page_has_no_room_for_is_told_and_recorded(buyer, photos, read_pdf):
    """Texts that fill the page take its photograph; what is told is what the finished page lacks."""
    full = dataclasses.replace(buyer, warnings=("The others set its price, which is a long story. " * 16,) * 2)
    note = "There is no room on one page for the photograph"
    pictures = {}
    for sheet in (buyer, full):
        inputs = json.loads(json.dumps(sheet_inputs(OnePage(sheet), HERE, photos[:1], in_ledger=True)))
        told = " ".join(one.text for one in notes_of(inputs))
        reader, _ = read_pdf(draw(OnePage(sheet), HERE, photos[:1], in_ledger=True))
        assert len(reader.pages) == 1
        pictures[note in told] = len(reader.pages[0].images)
    assert pictures == {False: 1, True: 0}


def test_a_remark_that_is_cut_and_photographs_beyond_the_first_are_told(buyer, photos):
    long = dataclasses.replace(buyer, remark="Kept every bill. " * 40)
    told = [note.text for note in notes_for_the_owner(OnePage(long), HERE, photos)]
    assert told[0].startswith(
        ("Your own words about the vehicle are cut short", "There is no room on one page for your")
    )
    told = [note.text for note in notes_for_the_owner(Message(long), HERE, photos)]
    assert told == [
        "Your own words about the vehicle do not stand in the message; the whole sheet has them.",
        "Of the photographs the first is shown; the whole sheet has the other 2, too.",
    ]
    assert notes_for_the_owner(long, HERE, photos) == ()  # the whole sheet holds everything


@pytest.mark.parametrize("shape", [(1400, 700), (700, 1400), (900, 900)])
def test_the_photograph_of_a_message_is_whole(buyer, shape):
    """Its four corners are red; cut to fit, none would be seen."""
    image = Image.new("RGB", shape, "white")
    side = min(shape) // 6
    for x in (0, shape[0] - side):
        for y in (0, shape[1] - side):
            image.paste("red", (x, y, x + side, y + side))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=95)
    photo = prepare_photo(out.getvalue(), "corners.jpg", "")
    drawn = Image.open(io.BytesIO(draw(Message(buyer), HERE, (photo,), "png"))).convert("RGB")
    red = ImageChops.subtract(drawn.getchannel("R"), drawn.getchannel("G")).point(lambda level: 255 * (level > 128))
    left, top, right, bottom = red.getbbox()
    assert (right - left) / (bottom - top) == pytest.approx(shape[0] / shape[1], rel=0.03)
    whole = side * side * 4 / (shape[0] * shape[1])
    share = red.histogram()[255] / ((right - left) * (bottom - top))
    assert share == pytest.approx(whole, rel=0.1)
