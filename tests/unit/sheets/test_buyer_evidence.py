"""What a sceptical buyer checks: the mean of the nearest sales, prices, warnings, and who says so."""

import dataclasses
import datetime as dt
import math
import re

import pytest

from valuation.answers.explain import explain
from valuation.comparables import from_frame
from valuation.regression import PriceModel
from valuation.schema import default_schema, parse_vehicle
from valuation.sheets.buyer import buyer_sheet
from valuation.sheets.buyer_faces import buyer_html, buyer_pdf
from valuation.sheets.buyer_page import buyer_page
from valuation.sheets.buyer_summary import Seller
from valuation.sheets.one_page import OnePage
from valuation.sheets.records import draw
from valuation.text.locale import LOCALES

HERE = LOCALES["international"]
DAY = dt.date(2026, 11, 25)


def number(text):
    """A figure as the sheet writes it."""
    found = re.sub(r"[^0-9.\u2212-]", "", text.split("\n")[-1]).replace("\N{MINUS SIGN}", "-")
    return float(found) if found else 0.0


@pytest.fixture(scope="module")
def page(buyer):
    return buyer_page(buyer, HERE)


def buyer_text(made):
    return draw(made, HERE, face="html").decode().replace("&#39;", "'")


def row(page, label, table="grid"):
    return next(cells[1:] for cells in page[table]["rows"] if cells[0].startswith(label))


def test_the_figure_of_the_nearest_sales_follows_from_what_is_printed(page, buyer):
    """By hand: each adjusted price to the power of its weight, all multiplied."""
    adjusted = [number(cell) for cell in row(page, "Adjusted to this vehicle")]
    weights = [number(cell) / 100 for cell in row(page, "Weight")]
    assert len(adjusted) == 6
    assert sum(weights) == pytest.approx(1, abs=0.003)
    by_hand = math.prod(price**weight for price, weight in zip(adjusted, weights, strict=True)) ** (1 / sum(weights))
    assert by_hand == pytest.approx(buyer.reconciled, rel=0.001)
    words = " ".join(page["grid"]["words"])
    assert "weighted geometric mean of the adjusted prices (each to the power of its weight, all multiplied)" in words
    assert f"is {HERE.about(buyer.reconciled, buyer.currency)}." in words


@pytest.mark.parametrize(
    ("apart", "words"),
    [
        (1.04, "lies 4\xa0% above it, in the seller's favour: these 6 sales brought less than the {sold} sales"),
        (0.95, "lies 5\xa0% below it, in the buyer's favour: these 6 sales brought more than the {sold} sales"),
        (1.001, "agrees with it."),
    ],
)
def test_why_the_estimate_differs_is_said_and_whom_it_favours(buyer, apart, words):
    sheet = dataclasses.replace(buyer, reconciled=buyer.estimate / apart)
    assert words.format(sold=buyer.ground.sold) in buyer_page(sheet, HERE)["grid"]["words"][-1]


@pytest.mark.parametrize(
    ("named", "words"),
    [
        ((False,) * 6, "The source of none of them is named here. To check a sale whose source is not named, ask to"),
        ((True,) * 2 + (False,) * 4, "2 of them name their source. To check a sale whose source is not named, ask to"),
        ((True,) * 6, "Each names its source, where it can be looked up."),
        ((None,) * 6, ""),
    ],
)
def test_whose_sales_they_are_and_how_to_check_them_is_said(buyer, named, words):
    grid = tuple(dataclasses.replace(one, named=is_so) for one, is_so in zip(buyer.grid, named, strict=True))
    said = " ".join(buyer_page(dataclasses.replace(buyer, grid=grid), HERE)["grid"]["words"])
    assert "All 6 are from the seller's own table. Which of its sales are nearest was worked out" in said
    assert words in said
    assert ("papers, such as a bill or a catalogue" in said) is (False in named)
    short = " ".join(buyer_text(OnePage(dataclasses.replace(buyer, grid=grid))).split())
    assert words in short


def test_a_source_counts_as_named_where_the_schema_clears_it(table, model, found):
    cleared = dataclasses.replace(table.schema, print_sources=("invented catalogue, lot 1",))
    sheet = buyer_sheet(model, found, comparables=dataclasses.replace(table, schema=cleared))
    lots = [table.sales.loc[one.row, "source"] for one in sheet.grid]
    assert [one.named for one in sheet.grid] == [lot.startswith("invented catalogue, lot 1") for lot in lots]
    assert not any(one.named for one in buyer_sheet(model, found).grid)


def test_a_source_that_is_an_address_is_a_link_on_the_screen_and_nothing_else_is(buyer):
    told = ("https://auction.example.invalid/lots/17", "javascript:alert(1)", "http://a.example/" + "x" * 200)
    grid = tuple(dataclasses.replace(one, source=where) for one, where in zip(buyer.grid, told, strict=False))
    html = draw(dataclasses.replace(buyer, grid=grid), HERE, face="html").decode()
    assert re.findall(r'<a href="([^"]*)" rel="noopener noreferrer">', html) == [told[0]]
    assert f">{told[0]}</a>" in html
    assert "javascript:alert(1)" in html


def test_what_is_said_of_the_nearest_sales_is_so(model, vehicle, buyer):
    """Their prices against what the fit expects of each: as far below on weighted average as the estimate is above."""
    fit = model.fit_result
    rows = list(model.comparables.sales.index)
    misses = 0.0
    for column in buyer.grid:
        at = rows.index(column.row)
        expected = model.core.centre + fit.rows.matrix[at] @ model.core.coefficients
        misses += column.weight * (math.log(column.price_cents / 100) - expected)
    assert math.log(buyer.reconciled / buyer.estimate) == pytest.approx(misses, abs=1e-3)


def test_hammer_price_premium_and_fees_add_up_to_what_the_buyer_pays(page, buyer, table):
    parts = ("Hammer or private price", "Buyer's premium")
    hammer, premium = ([number(cell) for cell in row(page, label)] for label in parts)
    paid = [number(cell.split("\n")[0]) for cell in row(page, "What the buyer pays (USD)")]
    assert [h + p for h, p in zip(hammer, premium, strict=True)] == pytest.approx(paid)
    entered = table.sales.loc[[column.row for column in buyer.grid], "price"]
    assert hammer == pytest.approx(entered.tolist())
    assert any(premium)
    assert not all(premium)
    assert not [cells for cells in page["grid"]["rows"] if cells[0] == "Fees"]  # none has any


def test_adjustments_are_rounded_as_the_range_deserves_and_still_add_up(page):
    first = page["grid"]["rows"]
    start = next(at for at, cells in enumerate(first) if cells[0].startswith("What the buyer pays"))
    for column in range(1, 7):
        paid = number(first[start][column].split("\n")[0])
        steps = [0.0 if cells[column] == "same" else number(cells[column]) for cells in first[start + 1 : -2]]
        assert all(step % 10 == 0 for step in steps)
        assert round(paid / 10) * 10 + sum(steps) == number(first[-2][column])
    assert "rounded to 10;" in page["grid"]["words"][0]


def test_the_proof_adds_up_to_the_cent(page, buyer):
    proof = page["proof"]["rows"]
    for column in range(1, 7):
        cents = [round(100 * number(cells[column])) for cells in proof]
        assert sum(cents[:-1]) == cents[-1] == buyer.grid[column - 1].adjusted_cents


def test_the_proof_stands_on_paper_and_screen(buyer, read_pdf):
    amount = HERE.money(buyer.grid[0].adjusted_cents / 100, cents=True)
    assert amount in read_pdf(buyer_pdf(buyer, HERE))[1]
    assert amount in buyer_html(buyer, HERE)


def test_the_proof_gives_way_where_the_paper_would_be_too_long(buyer, read_pdf, monkeypatch):
    monkeypatch.setattr("valuation.sheets.buyer_faces.MOST_PAGES", 0)
    text = read_pdf(buyer_pdf(buyer, HERE))[1]
    assert "To the cent the lines stand in the HTML form of this sheet." in " ".join(text.split())
    amount = HERE.money(buyer.grid[0].adjusted_cents / 100, cents=True)
    assert amount not in text
    assert amount in buyer_html(buyer, HERE)


def test_the_interaction_is_named(buyer):
    titles = {line.title for column in buyer.grid for line in column.lines if line.attribute == "interaction"}
    titles |= {share.title for share in buyer.shares if share.attribute == "interaction"}
    assert len(titles) == 1
    first, second = titles.pop().split(" in company with ")
    assert {first, second} <= {"Make and model line", "Model year", "Mileage", "Date of sale"}


def test_a_family_with_few_sales_and_a_year_outside_say_so_beside_the_figure(shop_rows):
    frame = shop_rows.copy()
    frame["family"] = ["Orvane Tessera" if i < 2 else family for i, family in enumerate(frame["family"])]
    model = PriceModel.fit(from_frame(frame, default_schema(), today=DAY), lattice_points=4, tails=False)
    cells = {"family": "Orvane Tessera", "model_year": 1912, "condition": "driver", "mileage": 71_000}
    sheet = buyer_sheet(model, explain(model, parse_vehicle(cells, default_schema(), "Tessera"), DAY))
    sold = sheet.ground.sold
    assert sheet.warnings[0] == f"Only 2 of the {sold} sales are of Orvane Tessera: the others set its price."
    assert [text for text in sheet.warnings if text.startswith("Model year 1912: the table runs from 1945 to 1959.")]
    assert not set(sheet.warnings) & set(sheet.notes)
    html = buyer_html(sheet, HERE)
    assert html.index(sheet.warnings[0]) < html.index("The vehicle</h2>")


def test_a_family_of_many_sales_needs_no_warning(buyer):
    assert buyer.warnings == ()


def test_what_was_left_open_is_said_as_it_is_taken(model):
    cells = {"family": "Penhurrow Haywain", "model_year": 1952, "condition": "driver"}
    schema = default_schema()
    assert "awards" not in model.comparables.attributes  # not in this table, so nothing is said of it
    sheet = buyer_sheet(model, explain(model, parse_vehicle(cells, schema), DAY))
    assert "Not known of this vehicle: Mileage. What is taken in their place stands under 'Good to know'." in (
        sheet.assumptions
    )
    assert [note for note in sheet.notes if note.startswith("Mileage: not given")]


def test_awards_that_are_not_told_count_as_none(shop_rows):
    awards = ["none", "local", "regional", ""]
    frame = shop_rows.assign(awards=[awards[i % 4] for i in range(len(shop_rows))])
    model = PriceModel.fit(from_frame(frame, default_schema(), today=DAY), lattice_points=4, tails=False)
    cells = {"family": "Penhurrow Haywain", "model_year": 1952, "condition": "driver", "mileage": 71_000}
    sheet = buyer_sheet(model, explain(model, parse_vehicle(cells, default_schema()), DAY))
    assert "Not known of this vehicle, so counted as the lowest there is: Awards (none)." in sheet.assumptions
    assert not [text for text in sheet.assumptions if text.startswith("Not known of this vehicle:")]


@pytest.mark.parametrize("face", ["pdf", "html"])
def test_the_seller_says_who_he_is_and_what_was_not_looked_at(model, found, face, everything):
    seller = Seller(
        asking_price=51_500.0,
        engine_number="E-7731",
        graded_by="Ada Quill",
        graded_on=dt.date(2026, 3, 2),
        not_inspected=("gearbox", "underside"),
        contact="the yard, Cobbler's Green",
    )
    numbered = dataclasses.replace(found, vehicle=dataclasses.replace(found.vehicle, number="PH-9041"))
    sheet = buyer_sheet(model, numbered, shop="The shop", seller=seller)
    content = buyer_pdf(sheet, HERE) if face == "pdf" else buyer_html(sheet, HERE)
    text = " ".join(
        re.sub(r"<[^>]+>", " ", everything[face](content)).replace("&#39;", "'").replace("\xa0", " ").split()
    )
    wanted = [
        "prepared by The shop, the seller",
        "The seller prepared this sheet and has an interest in the price.",
        "Asking price: USD 51,500",
        "PH-9041",
        "E-7731",
        "The vehicle was graded by Ada Quill on 2 March 2026.",
        "Not inspected: gearbox; underside.",
        "Contact: the yard, Cobbler's Green",
        "Seller, date",
        "Buyer, date",
    ]
    for words in wanted:
        assert words in text, words


def test_where_the_seller_says_nothing_that_is_said(page):
    assert "The vehicle was graded by the seller; the day is not said." in page["seller"]["words"]
    assert "What was not inspected is not said. Ask, or have it inspected." in page["seller"]["words"]
    assert page["seller"]["asking"] == ""


def test_the_grades_on_the_sheet_are_explained_in_the_schema_s_words(buyer):
    told = {(one.title, one.level): one.text for one in buyer.meanings}
    condition = default_schema().attribute("condition")
    on_it = {"driver"} | {
        line.from_cell.text for column in buyer.grid for line in column.lines if line.attribute == "condition"
    }
    assert {level for title, level in told if title == "Condition"} == on_it
    assert told["Condition", "driver"] == next(one.meaning for one in condition.levels if one.name == "driver")
