"""``valuation sheet``: files are written, recorded and made again; wrong names are refused before any work."""

import json

import pytest
from openpyxl import load_workbook

from valuation.cli import main
from valuation.comparables import read_comparables
from valuation.ledger import Ledger
from valuation.schema import default_schema


@pytest.fixture(scope="module")
def shop(tmp_path_factory, table):
    folder = tmp_path_factory.mktemp("shop")
    frame = table.attributes.join(table.sales[["date", "price", "outcome", "source"]])
    frame.to_csv(folder / "comparables.csv", index=False, date_format="%Y-%m-%d")
    vehicle = 'name = "Tern"\nfamily = "Penhurrow Haywain"\nmodel_year = 1951\ncondition = "runner"\n'
    (folder / "truck.toml").write_text(vehicle)
    return folder


def test_a_buyer_sheet_is_written_recorded_and_made_again(shop, capsys):
    words = ["sheet", "buyer", "truck.toml", "--comparables", "comparables.csv", "--as-of", "2026-11-25"]
    words = [str(shop / word) if "." in word else word for word in words]
    extra = ["--out", str(shop / "t.pdf"), "--record", str(shop / "t.json"), "--ledger", str(shop / "shop.db")]
    assert main([*words, *extra, "--locale", "en-US", "--paper", "a4", "--shop", "The shop"]) == 0
    assert "Recorded in" in capsys.readouterr().out
    assert main(["sheet", "again", str(shop / "t.json"), "--out", str(shop / "again.pdf")]) == 0
    assert (shop / "again.pdf").read_bytes() == (shop / "t.pdf").read_bytes()
    assert json.loads((shop / "t.json").read_text())["locale"]["paper"] == "a4"
    with Ledger.open(shop / "shop.db") as book:
        assert book.check().sound


def test_a_workbook_is_written(shop):
    out = shop / "book.xlsx"
    words = ["--vehicle", str(shop / "truck.toml"), "--comparables", str(shop / "comparables.csv")]
    assert main(["sheet", "workbook", *words, "--out", str(out)]) == 0
    assert read_comparables(out, default_schema()).n_usable == 44
    assert not (shop / "book-private.xlsx").exists()


def test_paths_go_into_a_private_workbook_beside(shop, capsys):
    plan = """
name = "paint it"
[vehicle]
family = "Penhurrow Haywain"
model_year = 1951
condition = "runner"
[purchase]
asked = 5000
[sale]
offers_per_month = 2
[shop]
labour_rate = 30
[[steps]]
id = "paint"
what = "Paint"
cost = 900
hours = 20
sets = { paint = "fresh" }
"""
    (shop / "plan.toml").write_text(plan)
    words = ["--plan", str(shop / "plan.toml"), "--comparables", str(shop / "comparables.csv")]
    assert main(["sheet", "workbook", *words, "--as-of", "2026-11-25", "--out", str(shop / "two.xlsx")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"Wrote {shop / 'two.xlsx'}: the workbook of comparables.csv" in said
    assert f"Wrote {shop / 'two-private.xlsx'}: the paths, private: not for the buyer" in said
    assert load_workbook(shop / "two-private.xlsx").sheetnames == ["Paths (private)"]
    assert "Paths (private)" not in load_workbook(shop / "two.xlsx").sheetnames


def test_what_the_seller_adds_is_taken_from_the_command(shop, capsys):
    out = shop / "told.html"
    words = [str(shop / "truck.toml"), "--comparables", str(shop / "comparables.csv"), "--as-of", "2026-11-25"]
    told = ["--asking-price", "315000", "--engine-number", "E-7", "--graded-by", "Ada", "--graded-on", "2026-03-02"]
    more = ["--not-inspected", "gearbox", "--not-inspected", "underside", "--contact", "the yard"]
    assert main(["sheet", "buyer", *words, *told, *more, "--out", str(out)]) == 0
    text = out.read_text().replace("\xa0", " ")
    assert "315,000</strong>. It lies above the stated range, " in text
    assert "a buyer will see it." in " ".join(capsys.readouterr().out.split())
    assert "graded by Ada on 2 March 2026." in text
    assert "Not inspected: gearbox; underside." in text
    assert "Contact: the yard" in text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ["buyer", "truck.toml", "--out", "sheet.doc"],
            "name a file that ends in .pdf, .html or .txt. [sheet.invalid]",
        ),
        (["buyer", "truck.toml", "--out", "x.pdf", "--locale", "moon"], "Cannot write a sheet in the locale 'moon'"),
        (["buyer", "truck.toml", "--out", "x.pdf", "--photo", "none.jpg"], "Cannot read the photograph none.jpg"),
        (["again", "missing.json", "--out", "x.pdf"], "Cannot make the sheet again: the record missing.json"),
    ],
)
def test_refusals_come_before_the_work(words, said, capsys):
    assert main(["sheet", *words]) == 3
    assert said in capsys.readouterr().err


def test_the_message_and_the_page_are_made_by_commands_in_the_buyers_language(shop, capsys):
    words = [str(shop / "truck.toml"), "--comparables", str(shop / "comparables.csv"), "--as-of", "2026-11-25"]
    out, page = shop / "message.txt", shop / "page.html"
    assert main(["sheet", "message", *words, "--out", str(out), "--contact", "yard@example.invalid"]) == 0
    assert "Contact: yard@example.invalid" in out.read_text(encoding="utf-8")
    assert out.with_suffix(".png").read_bytes().startswith(b"\x89PNG")
    assert main(["sheet", "page", *words, "--out", str(page), "--language", "de"]) == 0
    assert '<html lang="de">' in page.read_text(encoding="utf-8")
    assert main(["sheet", "page", *words, "--out", str(page), "--language", "tlh"]) != 0
    assert "language is 'tlh'" in capsys.readouterr().err
