from dataclasses import replace

import pytest

from valuation.build.simulation import Simulation
from valuation.errors import PlanError
from valuation.paths.compare import evaluate_paths
from valuation.paths.field_table import field_table
from valuation.schema.vehicle import Vehicle
from valuation.text.plain import plain

YEARS = [1950, 1954, 1958]


def test_each_cell_is_the_best_path_of_that_find(market, plan, as_of, found):
    simulation = Simulation(scenarios=512)
    table = field_table(market, [plan], as_of, years=YEARS, simulation=simulation)
    assert len(table.cells) == 15
    for condition, year in (("project", 1954), ("derelict", 1950)):
        here = replace(plan, found=Vehicle("find", {**found.attributes, "condition": condition, "model_year": year}))
        report = evaluate_paths(market, [here], as_of, simulation=simulation)
        best = max(report.paths, key=lambda path: path.most_to_pay)
        cell = table.cell(condition, year)
        assert cell.most_to_pay == pytest.approx(best.most_to_pay, abs=0.02)
        assert cell.path == best.name


def test_a_better_or_older_find_is_worth_more_in_this_market(market, plan, as_of):
    table = field_table(market, [plan], as_of, years=YEARS)
    for year in YEARS:
        row = [table.cell(condition, year).most_to_pay for condition in table.conditions]
        assert row == sorted(row)
    for condition in table.conditions:
        row = [table.cell(condition, year).most_to_pay for year in YEARS]
        assert row == sorted(row, reverse=True)


def test_steps_that_bring_nothing_to_a_better_find_are_not_paid_for(market, plan, as_of, found):
    """A vehicle found as 'driver' needs neither body nor finish: only engine and paint are left to do."""
    table = field_table(market, [plan], as_of, years=[1954], conditions=["driver"])
    found_driver = Vehicle("find", {**found.attributes, "condition": "driver"})
    left = replace(plan, found=found_driver, steps=(plan.steps[0], replace(plan.steps[2], after=())))
    report = evaluate_paths(market, [left], as_of, simulation=Simulation(scenarios=512))
    best = max(path.most_to_pay for path in report.paths)
    cell = table.cell("driver", 1954)
    assert cell.most_to_pay == pytest.approx(best, abs=6 * cell.error)


def test_json_has_every_cell(market, plan, as_of):
    answer = plain(field_table(market, [plan], as_of, years=[1954], conditions=["project", "show"]))
    assert [(cell["condition"], cell["model_year"]) for cell in answer["cells"]] == [("project", 1954), ("show", 1954)]


def test_unknown_scales_and_levels_are_refused(market, plan, as_of):
    with pytest.raises(PlanError, match="'model_year': it is not a scale of levels"):
        field_table(market, [plan], as_of, years=YEARS, condition="model_year")
    with pytest.raises(PlanError, match=r"condition 'rusty': there is no such level. The levels are: derelict"):
        field_table(market, [plan], as_of, years=YEARS, conditions=["rusty"])


def test_a_cell_that_is_not_there_is_a_key_error(market, plan, as_of):
    table = field_table(market, [plan], as_of, years=[1954], conditions=["project"])
    with pytest.raises(KeyError):
        table.cell("project", 1999)
