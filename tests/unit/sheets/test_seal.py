"""The fingerprint on a sheet: what is said of it is true, it covers the photographs, and the ledger knows it again."""

import dataclasses
import json
import re

import pytest

from valuation.cli import main
from valuation.cli.exits import DONE, FAULTS_FOUND, REFUSED
from valuation.ledger import Ledger, fingerprint
from valuation.sheets.photos import prepare_photo
from valuation.sheets.records import draw, sheet_inputs
from valuation.sheets.seal import Seal
from valuation.text.locale import LOCALES

HERE = LOCALES["international"]
KEPT = "ledger, from which it can be made again"


@pytest.fixture(scope="module")
def photos(picture):
    return (prepare_photo(picture(), "a.jpg", "From the left"),)


@pytest.fixture
def ledger(tmp_path, buyer, photos):
    """A ledger with one buyer sheet, and its two files."""
    file = tmp_path / "shop.db"
    inputs = sheet_inputs(buyer, HERE, photos, in_ledger=True)
    faces = {face: draw(buyer, HERE, photos, face, in_ledger=True) for face in ("pdf", "html")}
    with Ledger.open(file) as book:
        book.add_sheet(
            kind="buyer", file_name="t.pdf", fingerprint=fingerprint(faces["pdf"]), inputs=inputs, subject=buyer.vehicle
        )
    for face, content in faces.items():
        (tmp_path / f"t.{face}").write_bytes(content)
    return file


def verify(sheet, ledger, capsys):
    capsys.readouterr()
    return main(["sheet", "verify", str(sheet), "--ledger", str(ledger)]), capsys.readouterr()


@pytest.mark.parametrize("kind", ["buyer", "deal"])
def test_a_sheet_says_that_a_ledger_keeps_it_only_where_one_does(request, kind):
    made = request.getfixturevalue(kind)
    for in_ledger in (False, True):
        text = " ".join(draw(made, HERE, (), "html", in_ledger=in_ledger).decode().split())
        assert (KEPT in text) is in_ledger
        assert "stands in the shop" not in text


def test_the_fingerprint_counts_photographs_captions_locale_and_every_figure(buyer, photos, picture):
    other = (prepare_photo(picture(500, 300), "b.jpg", "From the left"),)
    renamed = (dataclasses.replace(photos[0], caption="From the right"),)
    sealed = [Seal.of(buyer, HERE, some).fingerprint for some in ((), photos, other, renamed, (*photos, *other))]
    sealed.append(Seal.of(buyer, LOCALES["de-DE"], photos).fingerprint)
    sealed.append(Seal.of(dataclasses.replace(buyer, estimate=buyer.estimate + 0.01), HERE, photos).fingerprint)
    assert len(set(sealed)) == 7


def test_the_ledger_holds_the_printed_fingerprint(buyer, photos, ledger, read_pdf):
    with Ledger.open(ledger) as book:
        held = json.loads(book.sheets()[0].inputs)["fingerprint"]
    assert held == Seal.of(buyer, HERE, photos).fingerprint
    printed = re.sub(r"\s", "", read_pdf((ledger.parent / "t.pdf").read_bytes())[1])
    assert f"itsphotographsincluded:{held}." in printed


def test_the_recorded_file_is_known_byte_for_byte(ledger, capsys):
    code, said = verify(ledger.parent / "t.pdf", ledger, capsys)
    assert code == DONE
    assert re.match(r"It is sheet 1 of the ledger \(buyer, Haywain of 1952\), made on [0-9-]{10}, byte for", said.out)


def test_the_other_face_is_known_by_making_it_again(ledger, capsys):
    code, said = verify(ledger.parent / "t.html", ledger, capsys)
    assert (code, "as the ledger makes it again byte for byte." in said.out) == (DONE, True)


def test_a_changed_file_is_told_though_it_carries_the_fingerprint(ledger, capsys, buyer):
    page = (ledger.parent / "t.html").read_text()
    figure = re.search(r'<p class="figure">([^<]*)</p>', page).group(1)
    (ledger.parent / "forged.html").write_text(page.replace(figure, "USD 99,000"))
    code, said = verify(ledger.parent / "forged.html", ledger, capsys)
    assert code == FAULTS_FOUND
    assert "It carries the fingerprint of sheet 1" in said.out
    assert "it was changed since. Hand out the ledger's own." in said.out


def test_where_other_versions_draw_it_that_is_said_and_not_forgery(ledger, capsys, monkeypatch):
    monkeypatch.setattr("valuation.sheets.verify.version", lambda name: "0.0")
    (ledger.parent / "other.html").write_bytes((ledger.parent / "t.html").read_bytes() + b"\n")
    code, said = verify(ledger.parent / "other.html", ledger, capsys)
    assert code == FAULTS_FOUND
    assert "it was drawn with other versions of jinja2, typst" in said.out


def test_a_sheet_that_no_ledger_keeps_is_not_found(ledger, capsys, buyer):
    (ledger.parent / "loose.pdf").write_bytes(draw(buyer, HERE))
    code, said = verify(ledger.parent / "loose.pdf", ledger, capsys)
    mark = Seal.of(buyer, HERE).fingerprint[:16]
    assert (code, said.out.strip()) == (FAULTS_FOUND, f"The ledger holds no sheet with its fingerprint {mark}.")


def test_a_file_without_a_fingerprint_is_no_sheet(ledger, capsys):
    (ledger.parent / "note.html").write_text("<p>fingerprint " + "a" * 64)
    code, said = verify(ledger.parent / "note.html", ledger, capsys)
    assert (code, "It holds no fingerprint of a sheet" in said.out) == (FAULTS_FOUND, True)


def test_a_fingerprint_is_typed_from_paper(ledger, capsys, buyer, photos):
    mark = Seal.of(buyer, HERE, photos).fingerprint
    code, said = verify(f"{mark[:8].upper()} {mark[8:16]}", ledger, capsys)
    assert (code, "It is the fingerprint of sheet 1" in said.out) == (DONE, True)
    code, said = verify("0" * 20, ledger, capsys)
    assert (code, "no sheet with the fingerprint 0000000000000000." in said.out) == (FAULTS_FOUND, True)


@pytest.mark.parametrize("word", ["missing.pdf", "12345678", ""])
def test_what_is_neither_a_file_nor_a_fingerprint_is_refused(ledger, capsys, word):
    code, said = verify(word or "g" * 20, ledger, capsys)
    assert code == REFUSED
    assert "that is neither a file that is there nor a fingerprint." in said.err
