"""Tables for the barn against the questions that they stand for, asked directly."""

import math
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise, product

import pytest

from valuation.build.terms import Goal
from valuation.paths.barn_grid import Field, LineAsked, barn_grid, between
from valuation.paths.compare import evaluate_paths
from valuation.paths.deal_path import as_found, prepare
from valuation.paths.field_table import FIELD_SIMULATION
from valuation.paths.most_to_pay import most_to_pay, most_to_pay_each
from valuation.schema.vehicle import Vehicle

LINE = LineAsked("Penhurrow Haywain", 1948, 1960)
FIELDS = (
    Field("condition", ("derelict", "project", "runner")),
    Field("drivetrain", ("original", "missing")),
    Field("paint", ("bare", "worn", "fresh")),
)


@pytest.fixture
def grid(market, plan, as_of):
    return barn_grid(market, [plan], as_found(plan), as_of, [LINE, LineAsked("", 1948, 1960)], FIELDS)


def finds(years):
    for place, levels in enumerate(product(*(one.levels for one in FIELDS))):
        for year in years:
            told = {one.name: level for one, level in zip(FIELDS, levels, strict=True)}
            yield place, year, Vehicle("find", {"family": LINE.name, "model_year": float(year), **told})


def test_a_worth_is_the_estimate_at_the_years_of_the_table_and_a_hundredth_off_between_them(grid, market, as_of):
    table = grid.lines[0]
    for place, year, find in finds(range(LINE.first, LINE.last + 1)):
        prices = market.distribution([find], as_of)
        exact = (prices.median(), *prices.interval(0.8))
        for kept, wanted in zip((table.median, table.low, table.high), exact, strict=True):
            found = between(kept, table.years, place * len(table.years), year)
            assert found == pytest.approx(float(wanted[0]), rel=1e-4 if year in table.years else 0.01)


def test_a_limit_is_what_paths_say_and_never_above_it_by_more_than_a_hundredth(grid, market, plan, as_of):
    """Where a limit is small beside what goes in, the measure is limit and outlay together."""
    table, build = grid.lines[0], grid.builds[0]
    others, span = FIELDS[1:], LINE.last - LINE.first + 1
    places = {levels: i for i, levels in enumerate(product(*(one.levels for one in others)))}
    for place, year, find in finds((1948, 1950, 1956)):
        if find.attributes["condition"] != "project":
            continue
        report = evaluate_paths(market, [replace(plan, found=find)], as_of)
        most = {path.name: path.most_to_pay for path in report.paths}
        outlay = {path.name: path.outlay.mean for path in report.paths}
        as_it_stands = between(table.most, table.years, place * len(table.years), year, table.outlay)
        built = build.most[places[tuple(find.attributes[one.name] for one in others)] * span + year - LINE.first]
        for found, name in ((as_it_stands, "sell as found"), (built, plan.name)):
            whole = max(most[name], 0.0) + outlay[name]
            assert -0.02 * whole < found - most[name] < 0.01 * whole


def test_a_build_that_makes_do_with_the_engine_is_not_for_one_without(market, plan, as_of):
    there = replace(plan, found=Vehicle("find", {**plan.found.attributes, "drivetrain": "original"}))
    paint_alone = replace(there, steps=(replace(plan.steps[2], after=()),), event=None)
    (build,) = barn_grid(market, [paint_alone], as_found(plan), as_of, [LINE], FIELDS).builds
    half = len(build.most) // 2
    assert None not in build.most[:half]
    assert set(build.most[half:]) == {None}
    assert build.found == {"drivetrain": "original", "paint": "bare"}


def test_a_build_that_brings_an_engine_is_for_one_without_whatever_it_was_written_for(grid):
    assert grid.builds[0].found["drivetrain"] == "missing"
    assert None not in grid.builds[0].most
    half = len(grid.builds[0].most) // 2
    assert grid.builds[0].most[:half] == grid.builds[0].most[half:]  # the engine is put in either way


def test_lines_of_which_there_is_no_plan_are_sold_as_found_on_the_usual_terms(grid, market, plan, as_of):
    cheap = replace(as_found(plan), goal=Goal(0, sure_percent=None))
    other = barn_grid(market, [plan], cheap, as_of, [LINE, LineAsked("", 1948, 1960)], FIELDS)
    assert other.lines[0] == grid.lines[0]
    assert other.lines[1].goal != grid.lines[1].goal
    assert all(more > less for more, less in zip(other.lines[1].most, grid.lines[1].most, strict=True))
    assert {build.line for build in grid.builds} == {LINE.name}


def test_a_plan_that_cannot_be_weighed_is_left_out_and_named(market, plan, as_of):
    foreign = replace(plan, name="abroad", currency="EUR")
    late = replace(plan, name="late", sale=replace(plan.sale, deadline=as_of - timedelta(days=1)))
    found = barn_grid(replace(market, currency="USD"), [foreign, late, plan], as_found(plan), as_of, [LINE], FIELDS)
    assert [one.name for one in found.builds] == [plan.name]
    told = [note.text for note in found.notes if note.code == "plan_left_out"]
    assert len(told) == 2
    assert "abroad" in told[0]
    assert "late" in told[1]


def test_years_are_parted_evenly_and_hold_both_ends():
    years = LineAsked("", 1944, 1965).years
    assert (years[0], years[-1]) == (1944, 1965)
    assert max(b - a for a, b in pairwise(years)) <= 4
    assert LineAsked("", 1950, 1950).years == (1950,)


def test_between_two_years_is_a_straight_line_between_logs_of_limit_and_outlay():
    table, years = (100.0, 400.0), (1950, 1954)
    assert between(table, years, 0, 1952) == pytest.approx(200.0)
    assert between(table, years, 0, 1950) == 100.0
    assert between((-50.0, 300.0), years, 0, 1952, 100.0) == pytest.approx(math.sqrt(50 * 400) - 100)


@pytest.mark.parametrize("sure", [None, 60, 90])
def test_most_to_pay_of_many_at_once_is_that_of_each(market, plan, as_of, sure):
    goal = Goal(15, profit=300, sure_percent=sure)
    vehicles = [find for _, _, find in finds((1950, 1960))]
    path = prepare(market, as_found(plan), as_of, FIELD_SIMULATION)
    prices = market.distribution(vehicles, path.sale_date)
    at_once = most_to_pay_each(replace(path.deal, prices=prices), goal)
    for i, found in enumerate(at_once):
        alone = most_to_pay(replace(path.deal, prices=prices[i]), goal)
        assert found == pytest.approx(alone.price, rel=3e-3)
