"""A sheet in the buyer's language: its words, figures and dates; the shop's own words and the record stay."""

import dataclasses
import json
import re

import pytest
from pypdf import PdfReader

from valuation.errors import SheetError
from valuation.notes import Note
from valuation.regression.findings import RECORDED_SALES
from valuation.sheets.buyer_page import buyer_page
from valuation.sheets.one_page import Message, OnePage
from valuation.sheets.records import draw, make_again, sheet_from, sheet_inputs
from valuation.text.language import retold, spoken
from valuation.text.locale import LOCALES, Locale

HERE = LOCALES["international"]
GERMAN = HERE.in_language("de")
REMARK = "Finished last winter, and kept dry."


def texts(value):
    if isinstance(value, dict):
        for item in value.values():
            yield from texts(item)
    elif isinstance(value, list):
        for item in value:
            yield from texts(item)
    elif isinstance(value, str):
        yield value


def test_every_sentence_of_the_page_is_said_in_german(buyer):
    sheet = dataclasses.replace(buyer, remark=REMARK, assumptions=buyer.assumptions[1:])
    english = set(texts(buyer_page(sheet, HERE)))
    with spoken("de"):
        german = set(texts(buyer_page(sheet, GERMAN)))
    left = {text for text in english & german if re.search(r"[a-z]{2,} [a-z]{2,}", text)}
    assert left == {REMARK, buyer.vehicle}


def test_figures_and_dates_are_those_of_the_language(buyer):
    html = draw(buyer, GERMAN, face="html").decode()
    assert '<html lang="de">' in html
    assert f"{buyer.estimate / 1000:.1f}".replace(".", ".") + "00" in html
    assert "25.\xa0November\xa02026" in html
    assert "Der Verkäufer hat dieses Blatt erstellt und hat ein Interesse am Preis." in html


@pytest.mark.parametrize(("kind", "face"), [(OnePage, "pdf"), (Message, "txt")])
def test_the_record_stays_english_and_makes_the_same_file_again(buyer, kind, face):
    made = kind(buyer)
    inputs = json.loads(json.dumps(sheet_inputs(made, GERMAN)))
    assert inputs["locale"]["language"] == "de"
    assert sheet_from(inputs)[0] == made
    assert make_again(inputs, face) == draw(made, GERMAN, face=face)
    assert "as likely to bring more" not in str(inputs)


def test_a_pdf_says_its_language(buyer, tmp_path):
    file = tmp_path / "sheet.pdf"
    file.write_bytes(draw(OnePage(buyer), GERMAN))
    assert PdfReader(file).trailer["/Root"]["/Lang"] == "de"


def test_records_made_before_there_were_languages_keep_their_fingerprint():
    assert "language" not in Locale().as_dict()
    with pytest.raises(SheetError, match="language is 'tlh'"):
        HERE.in_language("tlh")


def test_kept_notes_are_recognised_by_their_templates():
    note = Note("drift", RECORDED_SALES.text)
    with spoken("de"):
        assert retold(note.text).startswith("Aufgezeichnet werden oft die Verkäufe")
        assert retold("Nobody wrote this sentence.") == "Nobody wrote this sentence."
        two = "Condition: not given, so the table's average is used and the interval is wider. Nobody wrote this."
        assert retold(two) == (
            "Zustand: nicht angegeben; darum gilt der Durchschnitt der Tabelle, und die Spanne ist weiter. "
            "Nobody wrote this."
        )
    assert retold(note.text) == note.text
