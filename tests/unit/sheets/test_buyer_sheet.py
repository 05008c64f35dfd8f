"""The buyer sheet: what it says, how it is set, and that nothing private is in it."""

import base64
import dataclasses
import io
import math
import re

import pytest
from PIL import Image
from pypdf import PdfReader

from valuation.answers.explain import explain
from valuation.evidence.grid import GRID_SALES
from valuation.schema import Vehicle, default_schema
from valuation.sheets.buyer import buyer_sheet
from valuation.sheets.buyer_faces import buyer_html, buyer_pdf
from valuation.sheets.buyer_page import buyer_page
from valuation.sheets.buyer_summary import BuyerSheet
from valuation.sheets.cautions import cautions
from valuation.sheets.photos import prepare_photo
from valuation.sheets.plain import from_plain, to_plain
from valuation.sheets.seal import Seal
from valuation.text.locale import LOCALES

HERE = LOCALES["international"]


def flat(text):
    return " ".join(text.replace("\xa0", " ").split())


@pytest.fixture(scope="module")
def photos(picture):
    return [prepare_photo(picture(600 + 40 * i, 420), f"{i}.jpg", f"View {i}") for i in range(6)]


@pytest.fixture(scope="module")
def pdf(buyer, photos):
    return buyer_pdf(buyer, HERE, photos)


@pytest.fixture(scope="module")
def html(buyer, photos):
    return buyer_html(buyer, HERE, photos)


@pytest.mark.parametrize("locale", ["international", "en-US"])
def test_it_fits_three_pages_of_its_paper(buyer, photos, locale, read_pdf):
    reader, text = read_pdf(buyer_pdf(buyer, LOCALES[locale], photos))
    assert len(reader.pages) <= 3
    size = tuple(round(float(side)) for side in reader.pages[0].mediabox[2:])
    assert size == ((595, 842) if locale == "international" else (612, 792))
    for number in range(len(reader.pages)):
        assert f"{number + 1} / {len(reader.pages)}" in text


@pytest.mark.parametrize("face", ["pdf", "html"])
def test_both_faces_say_what_a_buyer_needs(buyer, photos, pdf, html, face, read_pdf):
    text = flat(read_pdf(pdf)[1] if face == "pdf" else re.sub("<[^>]*>", " ", html).replace("&#39;", "'"))
    page = buyer_page(buyer, HERE)
    wanted = [
        "Haywain of 1952",
        "prepared by Cobbler's Green Motor Works",
        page["estimate"]["figure"],
        "In eight such sales in ten the price is expected to lie between",
        "Finished last winter.",
        "Penhurrow Haywain",
        "71,000 miles",
        "The nearest sales, each adjusted to this vehicle",
        "Adjusted to this vehicle",
        "What each attribute is worth",
        "What another level would change",
        "each priced from all the others as if unseen",
        "Seen on a lift.",
        "invented.csv",
        "View 0",
        "View 5",
        *cautions(),
    ]
    for words in wanted:
        assert flat(words) in text, words
    for number, column in enumerate(buyer.grid, start=1):
        assert f"Sale {number}" in text
        assert HERE.number(round(column.adjusted_cents / 1000) * 10) in text
        assert flat(HERE.date(column.date)) in text
    assert Seal.of(buyer, HERE, photos).fingerprint in text.replace(" ", "")


def test_the_pdf_is_tagged_titled_bookmarked_and_embeds_its_fonts(pdf, buyer):
    reader = PdfReader(io.BytesIO(pdf))
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert b"pdfuaid:part" in root["/Metadata"].get_data()
    assert reader.metadata.title == buyer.vehicle
    assert reader.metadata.creation_date.date() == buyer.as_of
    names = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    assert "What the estimate rests on" in names
    assert "Cautions" in names
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    for font in fonts:
        child = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        descriptor = child["/FontDescriptor"]
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor), font["/BaseFont"]


def test_equal_input_gives_equal_bytes(buyer, photos, pdf, html):
    again = from_plain(BuyerSheet, to_plain(buyer))
    assert again == buyer
    assert buyer_pdf(again, HERE, photos) == pdf
    assert buyer_html(again, HERE, photos) == html


def test_the_html_stands_by_itself(html, photos):
    assert "default-src 'none'" in html
    assert not re.findall(r"""(?:src|href)=["'](?!data:)""", html)
    assert "<script" not in html
    held = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', html)
    assert [base64.b64decode(one) for one in held] == [photo.jpeg for photo in photos]
    assert all(re.findall(r'alt="([^"]+)"', html))
    assert html.count("<img") == html.count("alt=") == 7


def test_photographs_in_the_pdf_carry_no_metadata(pdf, photos):
    reader = PdfReader(io.BytesIO(pdf))
    pictures = [image for page in reader.pages for image in page.images]
    assert len(pictures) == len(photos)
    assert not any(Image.open(io.BytesIO(one.data)).getexif() for one in pictures)


def test_the_grid_adds_up_to_the_cent_and_agrees_with_hand_arithmetic(buyer):
    assert len(buyer.grid) == GRID_SALES
    for column in buyer.grid:
        assert column.price_cents + sum(line.cents for line in column.lines) == column.adjusted_cents
        running = column.price_cents / 100
        for line in column.lines:
            # each line by hand: the price so far times what the factor adds, give or take a cent of rounding
            assert line.cents / 100 == pytest.approx(running * (line.factor - 1), abs=0.012)
            running += line.cents / 100


def test_the_shares_multiply_from_the_average_vehicle_to_the_estimate(buyer):
    assert math.prod(share.factor for share in buyer.shares) * buyer.base == pytest.approx(buyer.estimate, rel=1e-12)
    rows = buyer_page(buyer, HERE)["worth"]["rows"]
    assert rows[-1][3] == rows[-2][3] == HERE.money(buyer.estimate, "USD")


def test_the_neighbouring_levels_are_the_changes_shown(buyer):
    shown = [(change.attribute, change.to_cell.text) for change in buyer.changes]
    assert ("condition", "runner") in shown
    assert ("condition", "show") in shown
    assert ("condition", "derelict") not in shown
    assert not any(attribute == "family" for attribute, _ in shown)


def test_a_sale_that_is_better_is_adjusted_down(buyer):
    lines = [line for column in buyer.grid for line in column.lines if line.attribute == "condition"]
    order = ("derelict", "project", "runner", "driver", "show")
    for line in lines:
        better = order.index(line.from_cell.text) - order.index(line.to_cell.text)
        assert line.cents * better <= 0


def test_a_vehicle_of_which_nothing_is_known(model, read_pdf):
    sheet = buyer_sheet(model, explain(model, Vehicle("", {}), buyer_day(model)))
    text = flat(read_pdf(buyer_pdf(sheet, HERE))[1])
    assert "Vehicle without a name" in text
    assert "Nothing but its name is known." in text
    assert "Not known of this vehicle: Make and model line, Model year, " in text
    assert "What is taken in their place stands under 'Good to know'." in text
    assert "was not tested for this sheet" in text


def buyer_day(model):
    return model.last_sale


def test_a_model_without_its_sales_says_so(model, vehicle, read_pdf):
    alone = model.without_sales()
    sheet = buyer_sheet(alone, explain(alone, vehicle, model.last_sale))
    assert sheet.place is None
    assert "The table of sales was not available for this sheet." in flat(read_pdf(buyer_pdf(sheet, HERE))[1])


def test_an_interval_that_does_not_close_is_said(buyer):
    open_sheet = dataclasses.replace(buyer, high=math.inf, currency="")
    words = buyer_page(open_sheet, HERE)
    assert "too few sales to close the range" in words["estimate"]["words"][1]
    assert words["estimate"]["words"][1].endswith("to no limit.")
    assert "The table names no currency" in words["notes"][-1]
    assert from_plain(BuyerSheet, to_plain(open_sheet)).high == math.inf
    assert buyer_pdf(open_sheet, HERE)[:5] == b"%PDF-"


def test_the_schema_of_another_language_is_set(buyer, read_pdf):
    words = {"driver": "路用", "show": "معرض"}
    groups = tuple(words.get(group, group) for group in buyer.place.groups)
    points = tuple(dataclasses.replace(p, group=words.get(p.group, p.group)) for p in buyer.place.points)
    place = dataclasses.replace(buyer.place, title="状態 \U00013000", groups=groups, own_group="路用", points=points)
    sheet = dataclasses.replace(buyer, place=place)
    reader, _ = read_pdf(buyer_pdf(sheet, HERE))
    assert len(reader.pages) <= 3


def test_every_day_on_the_sheet_is_written_as_its_reader_writes_days(buyer):
    """The notes are kept in the house's way, and are about days."""
    assert [text for text in buyer.notes if re.search(r"\d{1,2} [A-Z][a-z]+ 20\d\d", text)]
    html = buyer_html(buyer, LOCALES["en-US"]).replace("\xa0", " ")
    assert not re.findall(r"\d{1,2} (?:January|March|April|May|November|December) 20\d\d", html)
    assert "November 25, 2026" in html


def test_the_default_schema_is_the_one_in_use(buyer):
    titles = {attribute.title for attribute in default_schema().attributes}
    assert {fact.title for fact in buyer.facts} <= titles
