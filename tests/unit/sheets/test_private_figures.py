"""No private figure of the deal is anywhere in the buyer's finished paper: text, metadata, attachments, pictures."""

import io
import re

import pytest
from PIL import Image
from pypdf import PdfReader

from valuation.sheets.buyer_summary import BuyerSheet
from valuation.sheets.deal_faces import deal_html, deal_pdf
from valuation.sheets.one_page import Message, OnePage
from valuation.sheets.photos import prepare_photo
from valuation.sheets.records import draw
from valuation.text.locale import LOCALES
from valuation.text.rounding import rounded

HERE = LOCALES["international"]


def private_figures(deal):
    """Every private amount and name of the deal, in each way in which paper would write it."""
    amounts = [deal.price, deal.spent_in_all, *(entry.amount for entry in deal.spent)]
    bands = ("floor", "target", "ask", "break_even", "buy_at_or_below", "walk_away_above")
    amounts += [deal.bands[name] for name in bands]
    amounts += [offer["amount"] for offer in deal.offers]
    amounts += [offer["answer"]["counter"] for offer in deal.offers if offer["answer"]["counter"]]
    for path in deal.paths["paths"]:
        amounts += [path["most_to_pay"], path["expected_profit"], path["outlay"]["mean"], path["sale_price"]["mean"]]
    for build in deal.builds:
        amounts += [step["costs"] for step in build["steps"]["steps"]]
    words = {path["name"] for path in deal.paths["paths"]} - {"sell as found"}
    words |= {
        "Mr Invented",
        "Tow truck",
        "Harvest meet",
        "most to pay",
        "walk away",
        "margin",
        "over outlay",
        "counter",
    }
    words |= {step["what"] for build in deal.builds for step in build["steps"]["steps"]}
    written = set()
    for amount in amounts:
        written.add(f"{amount:,.2f}")
        if abs(amount) >= 1000 and round(amount) % 100:  # a round figure may be anything, such as a tick of an axis
            written |= {f"{amount:,.0f}", f"{amount:.0f}"}
    return written, words


@pytest.fixture(scope="module")
def secrets(deal):
    return private_figures(deal)


def test_the_search_finds_them_in_the_private_paper(deal, secrets, everything):
    figures, words = secrets
    # Figures that decide are told rounded there, as everywhere; those of the proofs stand to the cent.
    told = figures | {HERE.money(rounded(float(one.replace(",", "")), limit="down")) for one in figures}
    for text in (everything["pdf"](deal_pdf(deal, HERE)), everything["html"](deal_html(deal, HERE))):
        assert sum(figure in text for figure in told) >= 15
        assert sum(word in text for word in words) >= 5


FOR_BUYERS = [(BuyerSheet, "pdf"), (BuyerSheet, "html"), (OnePage, "pdf"), (OnePage, "html"), (Message, "txt"),
              (Message, "png")]  # fmt: skip


@pytest.fixture(scope="module")
def photographs(picture):
    hidden = Image.Exif()
    hidden[0x010E] = "tel 555-0142, Mr Invented"  # ImageDescription
    content = picture(exif=hidden, comment=b"bought of Mr Invented, IMG_2")
    assert b"555-0142" in content
    return (prepare_photo(content, "IMG_5550142.jpg", "The yard side"),)


@pytest.fixture(scope="module")
def handed_out(buyer, photographs, everything):
    """All that each thing for a buyer holds: text, metadata, alternatives of pictures, attachments."""
    held = {}
    for kind, face in FOR_BUYERS:
        made = buyer if kind is BuyerSheet else kind(buyer)
        content = draw(made, HERE, photographs, face)
        if face == "png":
            picture = Image.open(io.BytesIO(content))
            held[kind, face] = "\n".join([*map(str, picture.info.items()), str(dict(picture.getexif()))])
        else:
            held[kind, face] = everything["pdf"](content) if face == "pdf" else everything["html"](content.decode())
        if face == "pdf":
            assert not PdfReader(io.BytesIO(content)).attachments
    return held


@pytest.mark.parametrize("which", FOR_BUYERS)
def test_none_is_in_what_a_buyer_is_handed(buyer, secrets, handed_out, which):
    figures, words = secrets
    text = handed_out[which]
    told = set(re.findall(r"\d[\d,.]*\d", text))
    assert figures & told - public_figures(buyer) == set()
    assert not [word for word in words if word.lower() in text.lower()]


@pytest.mark.parametrize("which", FOR_BUYERS)
def test_nor_as_rounded_as_people_would_say_it(buyer, deal, secrets, handed_out, which):
    """To three and four figures, up and down; a figure that the public evidence gives is no secret."""
    amounts = [float(one.replace(",", "")) for one in secrets[0]]
    rounds = {HERE.money(rounded(abs(amount), limit=limit)) for amount in amounts for limit in ("", "up", "down")}
    rounds |= {HERE.money(rounded(abs(amount), width=1)) for amount in amounts}
    long = {one for one in rounds if len(one) >= 6}
    assert len(long) > 40
    table = {HERE.about(point.shown) for point in buyer.place.points} | public_figures(buyer)
    table |= {HERE.money(cents / 100) for cents in _cents(buyer)} | {HERE.about(cents / 100) for cents in _cents(buyer)}
    told = set(re.findall(r"\d[\d,.]*\d", handed_out[which]))
    assert long & told - table - _of_evidence(buyer) == set()


def _cents(buyer):
    for column in buyer.grid:
        yield from (column.price_cents, column.adjusted_cents, *(abs(line.cents) for line in column.lines))


def _of_evidence(buyer):
    """Figures of the ladder of attributes, of the changes and of the chart's axis and table."""
    price, found = buyer.base, {HERE.money(buyer.base)}
    for share in buyer.shares:
        price *= share.factor
        found.add(HERE.money(price))
    found |= {HERE.about(abs(change.money)) for change in buyer.changes}
    cells = [cell for change in buyer.changes for cell in (change.from_cell, change.to_cell)]
    found |= {HERE.number(float(cell.text)) for cell in cells if cell.kind == "number"}  # such as miles
    found |= {HERE.money(step * 10**power) for step in (1, 2, 5) for power in range(3, 7)}
    unit = 10.0 if buyer.estimate >= 10_000 else 1.0
    for column in buyer.grid:
        running = column.price_cents / 100
        for line in column.lines:
            step = abs(round((running + line.cents / 100) / unit) - round(running / unit)) * unit
            found.add(HERE.money(step))
            running += line.cents / 100
        found.add(HERE.money(round(column.adjusted_cents / 100 / unit) * unit))
    return found


@pytest.mark.parametrize("which", FOR_BUYERS)
def test_no_name_source_or_telephone_of_the_table_is_handed_out(table, handed_out, which):
    text = handed_out[which]
    sources = {str(one) for one in table.sales["source"]} | {str(one) for one in table.sales["sale"]}
    assert len(sources) > 80
    assert not [one for one in sources if re.search(rf"\b{re.escape(one)}\b", text)]
    assert not re.search(r"\b555[- ]?\d{4}\b", text)
    assert "IMG_" not in text


def public_figures(buyer):
    """Amounts that the buyer's own evidence holds and that may happen to be written like a private one."""
    public = [buyer.estimate, buyer.low, buyer.high, *(point.price for point in buyer.place.points)]
    return {f"{amount:,.0f}" for amount in public} | {HERE.about(amount) for amount in public}


def test_the_summary_itself_has_no_room_for_private_things(buyer):
    from valuation.sheets.plain import to_plain

    def names(value):
        if isinstance(value, dict):
            for key, item in value.items():
                yield key
                yield from names(item)
        elif isinstance(value, list):
            for item in value:
                yield from names(item)

    private = re.compile("cost|floor|target|ask$|offer|margin|plan|outlay|spent|profit|goal")
    assert not [name for name in names(to_plain(buyer)) if private.search(name)]
