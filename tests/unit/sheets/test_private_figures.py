"""No private figure of the deal is anywhere in the buyer's finished paper: text, metadata, attachments, pictures."""

import io
import re

import pytest
from pypdf import PdfReader

from valuation.sheets.buyer_faces import buyer_html, buyer_pdf
from valuation.sheets.deal_faces import deal_html, deal_pdf
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


@pytest.mark.parametrize("face", ["pdf", "html"])
def test_none_is_in_the_buyers_paper(buyer, deal, secrets, face, everything):
    figures, words = secrets
    if face == "pdf":
        content = buyer_pdf(buyer, HERE)
        text = everything["pdf"](content)
        assert not PdfReader(io.BytesIO(content)).attachments
    else:
        text = everything["html"](buyer_html(buyer, HERE))
    told = set(re.findall(r"\d[\d,.]*\d", text))
    assert figures & told - public_figures(buyer) == set()
    assert not [word for word in words if word.lower() in text.lower()]


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
