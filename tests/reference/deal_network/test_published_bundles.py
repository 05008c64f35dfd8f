"""S5: a project of fourteen activities as a plan file; see SOURCE.md."""

from datetime import date

import pytest

from benchmarks.stated_prices import StatedPrices
from valuation.build.plan_file import parse_plan
from valuation.build.simulation import Simulation
from valuation.paths.schedule import evaluate_schedule
from valuation.paths.steps import evaluate_steps
from valuation.schema.reader import default_schema

DAY = date(2026, 11, 2)
ACTIVITIES = {
    "A": ((5, 5, 7), ""), "B": ((1, 2, 5), ""), "C": ((5, 5, 5), "A"), "D": ((4, 8, 13), "A"),
    "E": ((1, 10, 17), "BC"), "F": ((1, 5, 7), "D"), "G": ((2, 6, 9), "D"), "H": ((4, 4, 6), "EF"),
    "I": ((2, 7, 10), "GH"), "J": ((2, 4, 7), "I"), "K": ((6, 10, 13), "I"), "L": ((2, 6, 6), "J"),
    "M": ((2, 2, 3), "K"), "N": ((7, 7, 12), "LM"),
}  # fmt: skip
PRINTED_MEANS = {"A": 5.33, "B": 2.33, "C": 5.00, "D": 8.17, "E": 9.67, "F": 4.67, "G": 5.83, "K": 9.83, "N": 7.83}
PRINTED_SLACK = {"A": 0.0, "B": 8.0, "C": 0.0, "D": 1.83, "E": 0.0, "F": 1.83}
SETS = {"E": 'paint = "fresh"', "F": 'drivetrain = "rebuilt-original"', "N": 'condition = "driver"'}
HOURS = 10
"""Of one person a week: an activity of a week takes ten."""


SCHEMA = default_schema()
MARKET = StatedPrices(
    SCHEMA, 40_000, {"condition": {"project": 0.5, "driver": 1.2}, "paint": {"worn": 0.9, "fresh": 1.1}}
)
HEAD = f"""
[vehicle]
condition = "project"
paint = "worn"
drivetrain = "original"
[shop]
crew = 14
hours_per_week = {HOURS}
[overrun]
spread = "pert"
"""


def plan_with(result):
    """The project read from a plan file, in which one activity reaches what is wanted."""
    text = HEAD
    for name, (figures, before) in ACTIVITIES.items():
        text += f'[[steps]]\nid = "{name}"\ncost = 100\nhours = {[HOURS * figure for figure in figures]}\n'
        text += f"after = {list(before)}\n" + (f"sets = {{ {SETS[name]} }}\n" if name == result else "")
    return parse_plan(text, SCHEMA)


def test_s5_means_of_the_three_figures():
    means = {step.id: step.hours.mean("pert") / HOURS for step in plan_with("N").steps}
    assert {name: means[name] for name in PRINTED_MEANS} == pytest.approx(PRINTED_MEANS, abs=0.005)


def test_s5_slack_of_the_schedule():
    """Overrun lengthens every step alike, so slack is compared as a share of the largest."""
    report = evaluate_schedule(MARKET, plan_with("N"), DAY, simulation=Simulation(scenarios=64))
    slack = {step.id: step.slack_weeks for step in report.steps}
    found = {name: 8.0 * slack[name] / slack["B"] for name in PRINTED_SLACK}
    assert found == pytest.approx(PRINTED_SLACK, abs=0.01)


@pytest.mark.parametrize(("result", "needed"), [("E", "ABCE"), ("F", "ADF"), ("N", "ABCDEFGHIJKLMN")])
def test_s5_a_result_needs_the_activities_on_every_path_to_it(result, needed):
    [bundle] = evaluate_steps(MARKET, plan_with(result), DAY, simulation=Simulation(scenarios=64)).results
    assert "".join(sorted(bundle.needs)) == needed
