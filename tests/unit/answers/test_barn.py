"""What is said in the barn: each sentence from tables of known figures."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from valuation.answers.barn import Asked, BarnTables, Choice, barn
from valuation.answers.barn_answer import BarnFind, answer_in_barn, find_told, still_to_tell
from valuation.answers.draft import draft
from valuation.comparables import read_comparables
from valuation.errors import VehicleError
from valuation.paths.barn_grid import BarnGrid, BuildTable, Field, LineTable
from valuation.regression import PriceModel
from valuation.text.locale import LOCALES

LEVELS = {"condition": ("project", "runner"), "drivetrain": ("original", "missing"), "paint": ("worn",)}
TOLD = {
    "family": "Garrow Wren",
    "model_year": "1950",
    "condition": "project",
    "drivetrain": "original",
    "paint": "worn",
}


def line(name, most):
    """Worth 10,000 in 1950 and 12,000 in 1954, whatever else is told."""
    cells = 4
    return LineTable(
        name, (1950, 1954), (10_000, 12_000) * cells, (8_000, 9_600) * cells, (12_500, 15_000) * cells, most * cells,
        1_000, "break even",
    )  # fmt: skip


def build(name, most, found=None, missing=0.0):
    """Found as a project: so much with its engine in every year, and so much without."""
    return BuildTable(name, "Garrow Wren", "project", found or {}, (most,) * 5 + (missing,) * 5, "a margin of 15 %")


@pytest.fixture
def tables():
    return BarnTables(
        as_of=dt.date(2026, 11, 3),
        currency="USD",
        table="sales",
        coverage=0.8,
        fields=tuple(Asked(name, name.title(), "", tuple(Choice(one, "") for one in LEVELS[name])) for name in LEVELS),
        grid=BarnGrid(
            tuple(Field(name, levels) for name, levels in LEVELS.items()),
            (line("Garrow Wren", (6_239, 7_000)), line("", (-20, 30))),
            (build("keep the paint", 13_777, {"drivetrain": "original"}, missing=9_000), build("show build", -400)),
            (),
        ),
        look_at=(),
    )  # fmt: skip


def said(tables, asked=None, **told):
    find = find_told(tables, {**TOLD, **told}, asked)
    assert isinstance(find, BarnFind)
    return answer_in_barn(tables, find)


def test_limits_are_rounded_down_and_the_worth_is_said_with_its_range(tables):
    found = said(tables)
    assert found.text == "Pay up to 6,230 as it stands; up to 13,700 with “keep the paint”."
    assert found.worth == "Worth about 10,000 as it stands: eight in ten such sales end between 8,000 and 12,500."
    assert found.rests == ("The higher limit rests on your plan “keep the paint” (a margin of 15 %).",)
    assert [one.name for one in found.builds] == ["keep the paint", "show build"]


@pytest.mark.parametrize(
    ("asked", "verdict"),
    [
        (6_230, "6,230 will do."),
        (6_239, "6,239 will do only with the build."),
        (13_700, "13,700 will do only with the build."),
        (13_777, "Not at this price."),
    ],
)
def test_the_price_asked_is_judged_by_the_limits_as_they_are_said(tables, asked, verdict):
    assert said(tables, asked).verdict == verdict
    assert said(tables, asked).text.startswith(f"{verdict} Pay up to")


def test_without_a_plan_for_it_only_selling_as_found_is_weighed(tables):
    found = said(tables, condition="runner")
    assert found.why == "Pay up to 6,230, to sell it as it stands."
    assert found.rests == (
        "No plan of yours is for such a find: only selling it as it stands was weighed (break even).",
    )


def test_a_build_that_bears_less_than_selling_as_found_is_not_named_in_the_limit(tables):
    low = replace(tables, grid=replace(tables.grid, builds=(build("keep the paint", 6_000),)))
    found = said(low)
    assert found.why == "Pay up to 6,230, to sell it as it stands."
    assert found.rests[0].startswith("No plan of yours bears more")


def test_a_find_that_bears_nothing_is_to_be_left(tables):
    found = said(tables, 500, family="*")
    assert found.text == "Not at this price. Leave it, even as a gift: no way to go with it meets your goal."
    poor = replace(tables, grid=replace(tables.grid, lines=(line("Garrow Wren", (-20, 30)), line("", (1, 1)))))
    assert said(poor).why == "Pay up to 13,700 with “keep the paint”; nothing to sell it as it stands."


def test_an_engine_that_the_plan_reckons_with_or_without_is_said(tables):
    assert said(tables, drivetrain="missing").rests[1] == (
        "“keep the paint” was written for one that has its engine: take off what an engine costs."
    )
    other = replace(tables, grid=replace(tables.grid, builds=(build("new engine", 13_777, {"drivetrain": "missing"}),)))
    assert said(other).rests[1] == "“new engine” was written for one without its engine: this one may bear more."


def test_a_year_between_two_of_the_table_lies_between_their_worths(tables):
    found = said(tables, model_year="1952")
    assert found.median == pytest.approx((10_000 * 12_000) ** 0.5)
    assert found.as_found == pytest.approx((7_239 * 8_000) ** 0.5 - 1_000)


def test_figures_are_written_as_the_shop_writes_them(tables):
    find = find_told(tables, TOLD)
    assert "6.230" in answer_in_barn(tables, find, LOCALES["de-DE"]).text


def test_what_is_not_told_yet_is_named(tables):
    missing = find_told(tables, {"paint": "worn", "model_year": " "})
    assert still_to_tell(missing) == "Still to tell: the line, the year, condition, drivetrain."


@pytest.mark.parametrize(
    ("told", "where", "words"),
    [
        ({"family": "Nonesuch"}, "family", "Take one of: Garrow Wren"),
        ({"model_year": "1949"}, "model_year", "the tables of this line hold 1950 to 1954"),
        ({"model_year": "soon"}, "model_year", "Cannot look up the year 'soon'"),
        ({"condition": "mint"}, "condition", "Take one of: project, runner."),
    ],
)
def test_what_the_tables_do_not_hold_is_refused_at_its_field(tables, told, where, words):
    with pytest.raises(VehicleError, match=words) as refusal:
        find_told(tables, {**TOLD, **told})
    assert refusal.value.where == where


def test_one_line_alone_needs_no_choice(tables):
    alone = replace(tables, grid=replace(tables.grid, lines=(line("", (5, 6)),), builds=()))
    assert find_told(alone, {**TOLD, "family": ""}).line == ""


def test_an_owner_s_own_table_makes_tables_for_the_barn_without_any_plan_that_can_be_read():
    file = Path(__file__).parents[2] / "tables" / "files" / "yard-notebook.xlsx"
    sales = read_comparables(file, draft(file).schema)
    made = barn(PriceModel.fit(sales), sales, ["name = 3"], {"name": "as found", "vehicle": {}}, dt.date(2026, 11, 3))
    names = [one.name for one in made.grid.lines]
    assert names[-1] == ""
    assert set(names[:-1]) == set(sales.attributes["family"].dropna())
    for one in made.grid.lines[:-1]:
        own = sales.attributes.loc[sales.attributes["family"] == one.name, "model_year"]
        assert one.years[0] <= own.min() <= own.max() <= one.years[-1]
    moves = [one.moves_percent for one in made.look_at]
    assert moves == sorted(moves, reverse=True)
    assert made.look_at[0].name == "condition"
    (note,) = made.grid.notes
    assert note.code == "plan_left_out"
    assert "name is 3" in note.text
    assert "4 lines" in repr(made)
