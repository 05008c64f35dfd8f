"""Whatever people write is shown as they wrote it, and never becomes markup, code or a formula."""

import dataclasses
import datetime as dt
import io
import re

import pandas as pd
import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from valuation.comparables import from_frame, read_comparables
from valuation.schema import default_schema
from valuation.sheets.buyer_faces import buyer_html, buyer_pdf
from valuation.sheets.deal_faces import deal_html, deal_pdf
from valuation.sheets.deal_sheet import Spent
from valuation.sheets.field_card import CardTable, FieldCard, card_pdf
from valuation.sheets.workbook import workbook
from valuation.text.locale import LOCALES

HERE = LOCALES["international"]
TYPESET = '#panic("no") #{1+1} $x^2$ *bold* _it_ `raw` <label> @ref /* no */ // no \\ ~ [x] = head'
HTML = "<script>alert(1)</script><img src=x onerror=alert(1)>&amp;{{7*7}}{% if %}</style></title>"
FORMULA = '=HYPERLINK("http://x.invalid","y")'
TEXTS = {
    "typeset": TYPESET,
    "html": HTML,
    "formula": FORMULA,
    "right to left": "שלום עולם مرحبا بالعالم \u202e1952",
    "every script": "Größe Ωμέγα Живаго नमस्ते สวัสดี 汉字 かな 한국어 മലയാളം 🚗👨‍👩‍👧 e\u0301",
    "long": "word " * 1000,
    "long word": "x" * 5000,
    "control": "a\0b\x07c\x1bd\x08e",
    "no font": "\U00013000 \ue000 \uffff",
    "empty": "",
    "blank": " \n\t ",
}


def flat(text):
    return re.sub(r"[\s\u200b\xa0]+", "", text)


def words_of(content):
    return flat("".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages))


def spoilt(buyer, text):
    """The sheet with the text in every field that people fill in."""
    cell = dataclasses.replace(buyer.facts[0].cell, text=text or "unknown")
    return dataclasses.replace(
        buyer,
        vehicle=text,
        shop=text,
        remark=text,
        currency=text[:5000],
        facts=tuple(dataclasses.replace(fact, title=text, cell=cell) for fact in buyer.facts),
        grid=tuple(
            dataclasses.replace(
                column,
                source=text,
                lines=tuple(dataclasses.replace(line, title=text, from_cell=cell) for line in column.lines),
            )
            for column in buyer.grid
        ),
        shares=tuple(dataclasses.replace(share, title=text, cell=cell) for share in buyer.shares),
        changes=tuple(dataclasses.replace(change, title=text, to_cell=cell) for change in buyer.changes),
        ground=dataclasses.replace(buyer.ground, table=text),
        place=dataclasses.replace(
            buyer.place,
            title=text,
            alike=text,
            groups=(text, *buyer.place.groups[1:]),
            own_group=text,
            points=tuple(dataclasses.replace(point, group=text) for point in buyer.place.points),
        ),
        assumptions=(text,),
        notes=(text,),
    )


@pytest.mark.parametrize("name", TEXTS)
def test_the_buyer_sheet_shows_it_as_it_is(buyer, name):
    text = TEXTS[name]
    sheet = spoilt(buyer, text)
    content, html = buyer_pdf(sheet, HERE), buyer_html(sheet, HERE)
    assert "<script" not in html
    assert "onerror=alert(1)>" not in html
    assert not re.search(r"[\0-\x08\x0b-\x1f\x7f]", html)
    said = words_of(content)
    if name in ("typeset", "html", "formula"):
        assert flat(text) in said
    if name == "control":
        assert "characters that cannot be printed" in html
        assert "abcde" in said
    if name == "no font":
        assert "Characters that no font here has are printed as □: U+E000, U+13000" in re.sub(
            r"\s+", " ", "".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
        ).replace("\u200b", "")


@pytest.mark.parametrize("name", ["typeset", "html", "long word", "right to left", "empty"])
def test_the_deal_sheet_shows_it_as_it_is(deal, name):
    text = TEXTS[name]
    paths = {**deal.paths, "why": text, "paths": [{**path, "name": text} for path in deal.paths["paths"]]}
    offers = tuple({**offer, "buyer": text} for offer in deal.offers)
    builds = tuple(
        {
            **build,
            "plan": text,
            "steps": {
                **build["steps"],
                "steps": [{**step, "what": text} for step in build["steps"]["steps"]],
            },
        }
        for build in deal.builds
    )
    sheet = dataclasses.replace(
        deal, vehicle=text, shop=text, spent=(Spent(text, 12.0),), paths=paths, offers=offers, builds=builds,
        bands_for=text, currency=text,
    )  # fmt: skip
    content, html = deal_pdf(sheet, HERE), deal_html(sheet, HERE)
    assert "<script" not in html
    if name in ("typeset", "html"):
        assert flat(text) in words_of(content)


@pytest.mark.parametrize("name", ["typeset", "long word", "every script", "empty"])
def test_the_card_stays_one_page(name):
    text = TEXTS[name]
    amounts, paths = ((1e9, 2.0), (0.0, 5e5)), ((text, "b"), (text, "b"))
    table = CardTable(text, text, (1951.0, 1952.0), (text, "show"), (text, ""), amounts, paths)
    card = FieldCard(text, dt.date(2026, 11, 25), text, (table,) * 4)
    assert len(PdfReader(io.BytesIO(card_pdf(card, LOCALES["en-US"]))).pages) == 1


STARTS = ("=1+1", "+1", "-1", "@SUM(1)", "\t=1", "\r=1", "=cmd|' /C x'!A0", FORMULA, "{=1}", "http://x.invalid", "'=1")


def test_no_cell_of_the_workbook_starts_a_formula_or_a_link():
    rows = 24
    frame = pd.DataFrame(
        {
            "sale": [STARTS[i % len(STARTS)] + f" {i}" for i in range(rows)],
            "date": "2026-01-05",
            "price": [10_000 + 137 * i for i in range(rows)],
            "outcome": "sold",
            "venue": [STARTS[(i + 1) % len(STARTS)] for i in range(rows)],
            "source": [STARTS[(i + 2) % len(STARTS)] + f" {i}" for i in range(rows)],
            "family": [STARTS[i % 3] for i in range(rows)],
            "model_year": [1950 + i % 9 for i in range(rows)],
            "condition": ["=1+1" if i == 3 else "driver" for i in range(rows)],
            "=cmd|x": "+1",
        }
    )
    table = from_frame(frame, default_schema(), name="=evil.csv")
    assert len(table.set_aside) == 1
    content = workbook(table)
    book = load_workbook(io.BytesIO(content))
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f", (sheet.title, cell.coordinate, cell.value)
                assert cell.hyperlink is None
                if isinstance(cell.value, str) and cell.value[:1] in "=+-@":
                    assert cell.quotePrefix, (sheet.title, cell.coordinate)
    back = read_comparables(content, default_schema())
    assert back.fingerprint == table.fingerprint
