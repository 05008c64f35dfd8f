"""The deal sheet and the field card: everything in it, private on every page, one page for the pocket."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from tests.unit.sheets.printed import LEAST_POINTS, lines_of
from valuation.build.progress import DoneStep, Progress
from valuation.errors import SheetError
from valuation.paths.field_table import field_table
from valuation.sheets.deal_faces import deal_html, deal_pdf
from valuation.sheets.deal_page import deal_page
from valuation.sheets.deal_sheet import Spent, deal_sheet, read_spent
from valuation.sheets.field_card import WALK_AWAY, card_page, card_pdf, field_card
from valuation.text.locale import LOCALES

HERE = LOCALES["international"]


def flat(text):
    return " ".join(text.replace("\xa0", " ").replace("\u200b", "").split())


@pytest.mark.parametrize("paper", ["international", "en-US"])
def test_each_page_of_the_deal_sheet_is_marked_private(deal, paper, read_pdf):
    reader, _ = read_pdf(deal_pdf(deal, LOCALES[paper]))
    for page in reader.pages:
        text = flat(page.extract_text())
        assert "PRIVATE: NOT FOR THE BUYER" in text
        assert "Private: not for the buyer." in text
    assert reader.metadata.keywords.startswith("private")
    assert reader.metadata.title == "barn find"


@pytest.mark.parametrize("face", ["pdf", "html"])
def test_the_deal_sheet_holds_everything(deal, face, read_pdf):
    content = deal_pdf(deal, HERE) if face == "pdf" else deal_html(deal, HERE)
    text = flat(read_pdf(content)[1] if face == "pdf" else re.sub("<[^>]*>", " ", content).replace("&#39;", "'"))
    for words in (
        "Outlay so far", "7,608.50", "The paths side by side", "quiet plan Zephyrine", "sell as found", "Most to pay",
        "Proof of the most to pay", "condition driver",
        "With all it needs", "Pays", "Harvest meet", "When it ends", "sale price",
        "Floor", "Target", "Ask", "Break-even", "Mr Invented", "33,456", "38,765", "common practice, no source",
        "not a licensed appraisal",
    ):  # fmt: skip
        assert words in text, words


def test_figures_on_the_page_are_those_of_the_reports(deal):
    page = deal_page(deal, HERE)
    rows = {row[0]: row[1:] for row in page["paths"]["rows"]}
    for cell, path in zip(rows["Multiple of outlay"], deal.paths["paths"], strict=True):
        assert float(cell) == pytest.approx(path["multiple_of_outlay"], abs=0.005)
    bands = {row[0]: row[2] for row in page["bands"]["rows"]}
    assert bands["Floor"] == HERE.about(deal.bands["floor"])
    assert bands["Ask"] == HERE.about(deal.bands["ask"])
    assert len(page["offers"]["rows"]) == len(deal.offers) == 2
    assert len(page["builds"]) == 2


def test_a_show_that_is_left_out_has_no_odds_and_odds_are_never_a_hundred(deal):
    name = deal.builds[0]["plan"]
    assert deal.builds[0]["event"]["name"] == "Harvest meet"
    note = {"code": "event_left_out", "text": "It costs more than it brings."}
    sure = {**deal.builds[0], "schedule": {**deal.builds[0]["schedule"], "odds_of_event": 0.99999}}
    for left_out in (False, True):
        ways = [
            {**path, "odds_of_loss": 0.99999, "notes": [note] if left_out and path["name"] == name else []}
            for path in deal.paths["paths"]
        ]
        sheet = replace(deal, paths={**deal.paths, "paths": ways}, builds=(sure, *deal.builds[1:]))
        page = deal_page(sheet, HERE)
        said = page["builds"][0]["schedule"]
        assert ("Harvest meet" in said["words"]) is not left_out
        assert ("Harvest meet" in said["alt"]) is not left_out
        assert ("more than 99 in 100" in said["words"]) is not left_out
        rows = {row[0]: row[1:] for row in page["paths"]["rows"]}
        assert set(rows["Odds of a loss"]) == {"more than 99 in 100"}
        assert "100 %" not in str(page)


def test_equal_deals_give_equal_bytes(deal):
    assert deal_pdf(deal, HERE) == deal_pdf(deal, HERE)


def test_what_was_spent_is_read_from_words():
    assert read_spent(["Transport=350", "a=b=12.5"]) == (Spent("Transport", 350.0), Spent("a=b", 12.5))
    for text in ("Transport", "Transport=", "x=nan", "x=many"):
        with pytest.raises(SheetError, match="Write it as WHAT=AMOUNT"):
            read_spent([text])


@pytest.fixture(scope="module")
def card(market, plans, deal):
    return field_card(market, plans, deal.as_of, shop="The shop")


@pytest.mark.parametrize("paper", ["international", "en-US"])
def test_the_card_is_one_page_with_goal_and_date(card, paper, read_pdf):
    reader, text = read_pdf(card_pdf(card, LOCALES[paper]))
    text = flat(text)
    assert len(reader.pages) == 1
    assert text.count("Most to pay, as found") == 2  # each half of the folded page by itself
    assert text.count(flat(LOCALES[paper].date(card.as_of))) == 2
    assert "at least 15 % over outlay, with 70 % probability" in text
    assert "Complete or nearly so" in text  # what the words of condition mean
    assert "not a licensed appraisal" in text


def test_the_card_asks_for_what_the_schema_asks_with_words_to_tick_and_room_for_notes(card, market, read_pdf):
    reader, text = read_pdf(card_pdf(card, HERE))
    text = flat(text)
    asked = {one.title: one.words for one in card.look_at}
    assert set(asked) == {one.title for one in market.schema.attributes} - {"Make and model line"}
    assert asked["Condition"] == ("derelict", "project", "runner", "driver", "show")
    assert asked["Original finish"] == ("yes", "no")
    part = text[text.index("Look at this before you pay") :]
    for title, words in asked.items():
        line = part[part.index(f"{title}:") :]
        at = [line.index(word) for word in words]
        assert at == sorted(at)
    assert part.index("Notes") > part.index("Region")
    titles = [one["/Title"] for one in reader.outline]
    assert titles == [*(table.family for table in card.tables), "Look at this before you pay", "Notes"]
    assert not [line for table in card.tables for line in table.assumed if ": ." in line]


@pytest.mark.parametrize("paper", ["international", "en-US"])
@pytest.mark.parametrize("families", [1, 2, 4])
def test_the_tables_of_the_card_leave_room_for_the_words_below_them(card, families, paper, read_pdf):
    """Two tables share a half: each takes the largest letters for which all of it has room."""
    page = read_pdf(card_pdf(replace(card, tables=card.tables * families), LOCALES[paper]))[0].pages[0]
    lines = lines_of(page)
    foot = next(at for at, (_, _, words) in enumerate(lines) if "Rounded down." in words)
    assert lines[foot - 1][0] - lines[foot][0] >= LEAST_POINTS
    assert "Rounded down. 'walk': at no price;" in lines[foot][2]


def test_a_card_of_three_families_has_them_on_both_halves(card, read_pdf):
    many = replace(card, tables=card.tables * 3)
    reader, text = read_pdf(card_pdf(many, HERE))
    assert len(reader.pages) == 1
    assert "Look at this" not in text
    assert card_page(replace(many, look_at=()), HERE)["look"]["rows"] == []


def test_the_card_is_black_and_white(card, read_pdf):
    reader, _ = read_pdf(card_pdf(card, HERE))
    for page in reader.pages:
        drawn = page.get_contents().get_data().decode("latin-1")
        for colour in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG|scn|SCN)\b", drawn):
            assert len(set(colour)) == 1


def test_the_card_shows_the_field_table_rounded_down(card, market, plans):
    table = field_table(market, plans, card.as_of, years=card.tables[0].years)
    [shown] = card_page(card, HERE)["halves"][0]
    for row, condition in zip(shown["rows"], table.conditions, strict=True):
        assert row[0] == condition
        for text, year in zip(row[1:], table.years, strict=False):
            exact = table.cell(condition, year).most_to_pay
            if exact is None:
                assert text == ""
            elif exact <= 0:
                assert text == WALK_AWAY
            else:
                said = float(re.sub(r"[^\d.]", "", text))
                assert said <= exact < said + 100


def test_a_condition_of_the_card_goes_by_the_plans_written_for_it_and_one_without_a_plan_is_blank(market, plans, deal):
    runner = replace(plans[0].found, attributes={**plans[0].found.attributes, "condition": "runner"})
    finish = replace(plans[0].steps[-1], after=())
    short = replace(plans[0], name="only the finish", found=runner, steps=(finish,))
    [table] = field_card(market, [*plans, short], deal.as_of).tables
    paths = dict(zip(table.conditions, table.paths, strict=True))
    amounts = dict(zip(table.conditions, table.amounts, strict=True))
    assert set(paths["runner"]) <= {"only the finish", "sell as found"}
    assert "only the finish" in paths["runner"]
    assert "only the finish" not in paths["project"]
    assert set(amounts["show"]) == {None}
    assert [line for line in table.assumed if line.startswith("runner: ")]
    page = card_page(field_card(market, [*plans, short], deal.as_of), HERE)["halves"][0][0]
    assert set(page["rows"][table.conditions.index("show")][1:]) == {""}


def test_many_years_are_thinned_and_many_vehicles_refused(market, plans, deal):
    card = field_card(market, plans[:1], deal.as_of, years=[float(year) for year in range(1940, 1960)])
    assert (len(card.tables[0].years), card.tables[0].years[0], card.tables[0].years[-1]) == (7, 1940.0, 1959.0)
    with pytest.raises(SheetError, match="plans for 0 kinds of vehicle: a page has room for 1 to 4"):
        field_card(market, [], deal.as_of)


def test_the_deal_sheet_of_a_build_under_way_says_what_went_in_and_the_choice_today(market, plans, deal):
    plan = plans[0]
    day = deal.as_of
    done = DoneStep(plan.steps[0].id, day - timedelta(10), 5000.0, 90.0)
    begun = replace(plan, progress=Progress(day - timedelta(60), 6000.0, (done,)))
    page = deal_page(deal_sheet(market, [begun], day), HERE)
    assert page["spent"]["rows"][0][0] == "the vehicle, with fees and tax"
    assert page["decision"] == deal_sheet(market, [begun], day).paths["today"][0]["why"]
    assert "Better than selling it as it stands by: " in page["spent"]["words"]
