from dataclasses import replace

import pytest

from valuation.build.simulation import Simulation
from valuation.errors import PlanError
from valuation.paths.compare import evaluate_paths
from valuation.paths.field_table import field_table
from valuation.schema.vehicle import Vehicle
from valuation.text.plain import plain

YEARS = [1950, 1954, 1958]
SIMULATION = Simulation(scenarios=512)


def found_as(plan, condition, **attributes):
    return replace(plan, found=Vehicle("find", {**plan.found.attributes, "condition": condition, **attributes}))


@pytest.fixture
def runner(plan):
    """A plan of its own for one found running, with its engine: paint and finish."""
    steps = (replace(plan.steps[2], after=()), replace(plan.steps[3], after=()))
    return replace(found_as(plan, "runner", drivetrain="original"), name="runner build", steps=steps)


def test_each_cell_is_the_best_path_of_that_find(market, plan, runner, as_of):
    table = field_table(market, [plan, runner], as_of, years=YEARS, simulation=SIMULATION)
    for own, year in ((plan, 1954), (runner, 1950)):
        here = replace(own, found=Vehicle("find", {**own.found.attributes, "model_year": float(year)}))
        report = evaluate_paths(market, [here], as_of, simulation=SIMULATION)
        best = max(report.paths, key=lambda path: path.most_to_pay)
        cell = table.cell(own.found.attributes["condition"], year)
        assert cell.most_to_pay == pytest.approx(best.most_to_pay, abs=0.02)
        assert cell.path == best.name


def test_a_condition_without_a_plan_of_its_own_is_left_blank(market, plan, as_of):
    """A derelict is not priced with what a project needs."""
    table = field_table(market, [plan], as_of, years=YEARS)
    assert len(table.cells) == 15
    for cell in table.cells:
        assert (cell.most_to_pay is None) == (cell.path == "") == (cell.condition != "project")
    assert [one.condition for one in table.assumed] == ["project"]
    assert "derelict" not in table.why


def test_an_older_find_is_worth_more_in_this_market(market, plan, as_of):
    table = field_table(market, [plan], as_of, years=YEARS)
    row = [table.cell("project", year).most_to_pay for year in YEARS]
    assert row == sorted(row, reverse=True)


def test_what_each_row_assumes_stands_in_it_as_found_and_as_built(market, plan, runner, as_of):
    table = field_table(market, [plan, runner], as_of, years=YEARS)
    project, running = table.assumed
    assert project.as_found == "paint bare, drivetrain missing, awards none"
    assert project.as_built == "driver build: condition driver, drivetrain rebuilt-original, paint fresh"
    assert running.as_found == "paint bare, drivetrain original, awards none"
    assert running.as_built == "runner build: condition driver, paint fresh"


def test_a_missing_engine_has_its_own_column_where_the_plan_has_one(market, plan, runner, as_of):
    table = field_table(market, [plan, runner], as_of, years=YEARS, simulation=SIMULATION)
    [bare] = table.without_engine  # the project lacks it already, and its row says so
    assert (bare.condition, bare.model_year) == ("runner", 1954)
    without = found_as(runner, "runner", drivetrain="missing")
    best = max(evaluate_paths(market, [without], as_of, simulation=SIMULATION).paths, key=lambda one: one.most_to_pay)
    assert bare.most_to_pay == pytest.approx(best.most_to_pay, abs=0.02)
    assert bare.most_to_pay < table.cell("runner", 1954).most_to_pay
    assert "without its engine" in table.why


def test_the_decision_is_one_sentence_with_its_limits_rounded_down(market, plan, as_of):
    table = field_table(market, [plan], as_of, years=YEARS)
    row = [table.cell("project", year).most_to_pay for year in YEARS]
    assert table.why.startswith("Pay no more than ")
    assert table.why.endswith(" by year for one found as project.")
    low, high = (float(one.replace(",", "")) for one in table.why.split("than ")[1].split(" by year")[0].split(" to "))
    assert low <= min(row) < 1.01 * low
    assert high <= max(row) < 1.01 * high


def test_a_vehicle_without_steps_is_sold_as_found(market, plan, as_of):
    table = field_table(market, [replace(plan, steps=())], as_of, years=[1954])
    assert table.cell("project", 1954).path == "sell as found"
    assert table.assumed[0].as_built == ""


def test_json_has_every_cell(market, plan, as_of):
    answer = plain(field_table(market, [plan], as_of, years=[1954]))
    assert [cell["condition"] for cell in answer["cells"]] == ["derelict", "project", "runner", "driver", "show"]
    assert answer["cells"][0]["most_to_pay"] is None


def test_unknown_scales_and_different_kinds_are_refused(market, plan, as_of):
    with pytest.raises(PlanError, match="'model_year': it is not a scale of levels"):
        field_table(market, [plan], as_of, years=YEARS, condition="model_year")
    other = replace(found_as(plan, "runner", family="Tessera Lark"), name="other")
    with pytest.raises(PlanError, match=r"different kinds of vehicle: their family differs \(Penhurrow Haywain, Tess"):
        field_table(market, [plan, other], as_of, years=YEARS)
    with pytest.raises(PlanError, match="no build plan was given"):
        field_table(market, [], as_of, years=YEARS)


def test_a_cell_that_is_not_there_is_a_key_error(market, plan, as_of):
    table = field_table(market, [plan], as_of, years=[1954])
    with pytest.raises(KeyError):
        table.cell("project", 1999)
