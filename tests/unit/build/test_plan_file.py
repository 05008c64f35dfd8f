from datetime import date

import pytest

from valuation.build.plan_file import parse_plan, read_plan
from valuation.build.plan_template import PLAN_TEMPLATE, write_plan_template
from valuation.build.three_point import ThreePoint
from valuation.errors import PlanError
from valuation.paths.compare import evaluate_paths

SMALL = """
name = "small"
[vehicle]
condition = "project"
[[steps]]
id = "body"
cost = [100, 200, 400]
hours = 10
sets = { condition = "runner" }
[shop]
labour_rate = 20
hours_per_week = 20
holding_per_week = 10
[overrun]
typical = 1.0
one_in_ten = 1.2
[sale]
weeks_to_sell = [1, 2, 3]
[goal]
margin_percent = 20
sure_percent = 75
"""


def small(old="", new=""):
    assert old in SMALL
    return SMALL.replace(old, new, 1) if old else SMALL + new


def test_the_template_is_a_plan_with_every_key_and_can_be_evaluated(tmp_path, schema, market, as_of):
    file = write_plan_template(tmp_path / "plan.toml")
    plan = read_plan(file, schema)
    assert [step.id for step in plan.steps] == ["drivetrain", "body", "paint", "finish"]
    assert plan.defaults == ()
    assert plan.steps[3].after_if_done == ("paint",)
    assert plan.event.chances["show"] == {"local": 0.35, "regional": 0.15}
    assert evaluate_paths(market, [plan], as_of).path("Driver build").ready


def test_the_template_never_writes_over_a_file(tmp_path):
    file = write_plan_template(tmp_path / "plan.toml")
    with pytest.raises(PlanError, match=r"Cannot write plan.toml: it is there already. Choose another name."):
        write_plan_template(file)
    assert file.read_text() == PLAN_TEMPLATE


def test_one_figure_is_certain_and_three_are_low_likely_high(schema):
    (step,) = parse_plan(SMALL, schema).steps
    assert step.cost == ThreePoint(100, 200, 400)
    assert step.hours == ThreePoint.certain(10)
    assert step.sets == {"condition": "runner"}


def test_levels_are_read_as_the_schema_spells_them(schema):
    plan = parse_plan(small("runner", " Runner "), schema)
    assert plan.steps[0].sets == {"condition": "runner"}


def test_every_default_says_where_it_comes_from(schema):
    text = '[vehicle]\ncondition = "project"\n[[steps]]\nid = "body"\nsets = { condition = "runner" }\n'
    defaults = parse_plan(text, schema).defaults
    assert [text.split(":")[0] for text in defaults] == [
        "Overrun",
        "Money",
        "Hours",
        "Sale",
        "Goal",
    ]
    assert "common practice, no source" in defaults[0]
    assert "Replace it under [overrun], or list past_jobs" in defaults[0]


def test_past_jobs_replace_the_overrun(schema):
    plan = parse_plan(small("typical = 1.0\none_in_ten = 1.2", "past_jobs = [[1000, 1500], [2000, 3000]]"), schema)
    assert 1.1 < plan.shop.overrun.typical < 1.5


def test_a_goal_may_be_a_multiple_a_profit_or_on_average(schema):
    twice = parse_plan(small("margin_percent = 20", "multiple_of_outlay = 2"), schema).goal
    assert twice.multiple_of_outlay == 2
    profit = parse_plan(small("margin_percent = 20\nsure_percent = 75", "profit = 5000"), schema).goal
    assert (profit.multiple_of_outlay, profit.profit, profit.sure_percent) == (1.0, 5000, None)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[100, 200, 400]", "[400, 200, 100]", r"step 'body': cost is \[400, 200, 100\]; low 400.*smallest figure fi"),
        ("[100, 200, 400]", "[100, 200]", r"step 'body': cost has 2 figures\. Accepted: one, or low, likely and high"),
        ("[100, 200, 400]", '"200 USD"', r"step 'body': cost is '200 USD'\. A plain number is accepted \(money\)"),
        ("[100, 200, 400]", "[-1, 2, 3]", r"cost is \[-1, 2, 3\]; a figure is below 0"),
        ("hours = 10", "hours = -5", r"step 'body': hours is -5; a figure is below 0\. Write figures of 0 or more \(h"),
        ("hours = 10", "hours = inf", r"hours is inf\. A plain number"),
        ("hours = 10", "hourz = 10", r"step 1 hourz|hourz is not known.*Did you mean 'hours'"),
        ("hours = 10", 'after = ["bodi"]', r"comes after 'bodi', which is not a step"),
        ("hours = 10", 'after = ["body"]', r"in a circle: body after body"),
        ("hours = 10", "people = 1.5", r"people is 1.5\. A whole number"),
        ("hours = 10", 'order_parts = "soon"', r"order_parts is 'soon'\. Accepted: at start, when ready"),
        ('condition = "runner" }', 'condition = "runnr" }', r"step 'body': sets:.*Did you mean 'runner'|'runnr'"),
        ('{ condition = "runner" }', '{ wheels = "new" }', r"step 'body' sets:|attribute 'wheels'"),
        ('[vehicle]\ncondition = "project"', "", r"vehicle is missing\. Describe the vehicle as found"),
        ('[vehicle]\ncondition = "project"', '[vehicle]\ncondition = "rubble"', r"\[vehicle\] Cannot value.*rubble"),
        ("sure_percent = 75", "sure_percent = 100", r"\[goal\] 'sure_percent' must be above 0 and below 100 .*d 100"),
        ("margin_percent = 20", "", r"\[goal\] gives no goal\. Write margin_percent = 20"),
        ("margin_percent = 20", "margin_percent = 20\nmultiple_of_outlay = 2", r"stands beside margin_percent"),
        ("margin_percent = 20", "margin_percent = -100", r"must be above -100 and at most 10,000 .*found -100"),
        ("[sale]", "[sale]\nfee_percent = 100", r"\[sale\] Fees and tax of the sale take the whole price; found fee"),
        ("[sale]", "[sale]\noffers_per_month = 0", r"'offers_per_month' must be 0.01 or more and .*1,000 .*0.5 for"),
        ("[sale]", "[sale]\nfee = 3", r"\[sale\] fee is not known\..*Did you mean 'fees'"),
        ("[shop]", "[shop]\ncrew = 0", r"\[shop\] 'crew' must be 1 or more and at most 100 \(people\); found 0"),
        ("hours_per_week = 20", "hours_per_week = 0", r"'hours_per_week' must be 0.1 or more and at most 168"),
        ("one_in_ten = 1.2", "one_in_ten = 0.9", r"\[overrun\] The overrun that one build in ten exceeds must not be"),
        ("[overrun]", "[overrun]\npast_jobs = [1, 2]", r"past_jobs is \[1, 2\]\. Write past_jobs = \[\[planned"),
        ('name = "small"', 'name = "small"\nsteps = 3', r"not well-formed|Cannot read the plan|steps is 3"),
        ('name = "small"', "name = small", r"Cannot read the plan plan.toml:.*Mend that line"),
        ('name = "small"', 'name = "small"\nstart = "soon"', r"start is 'soon', not a date\. Write year-month-day"),
        ('name = "small"', 'name = "small"\ncolour = "red"', r"colour is not known\. Known here: name, currency"),
    ],
)  # fmt: skip
def test_a_faulty_plan_is_refused_with_its_place_and_the_mend(schema, market, as_of, old, new, words):
    with pytest.raises(PlanError, match=words):
        evaluate_paths(market, [parse_plan(small(old, new), schema)], as_of)


EVENT = """
[event]
name = "meet"
date = 2027-06-01
[event.chances.runner]
local = 0.3
"""


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("date = 2027-06-01", "", r"\[event\] date is missing\. Write the day of the show"),
        ("local = 0.3", "local = 1.3", r"must be 0 or more and sum to at most 1; found \{'local': 1.3\}"),
        ("local = 0.3", "locl = 0.3", r"chances name the awards level 'locl', which does not exist\. The levels are"),
        ("chances.runner", "chances.rusty", r"chances name the condition level 'rusty'"),
        ('name = "meet"', 'award_attribute = "family"', r"'family', which is not a scale of levels in the schema"),
    ],
)
def test_a_faulty_event_is_refused(schema, market, as_of, old, new, words):
    assert old in EVENT
    with pytest.raises(PlanError, match=words):
        evaluate_paths(market, [parse_plan(SMALL + EVENT.replace(old, new), schema)], as_of)


def test_a_plan_without_steps_is_refused_and_told_of_the_path_that_needs_none(schema):
    start = SMALL.index("[[steps]]")
    text = SMALL[:start] + SMALL[SMALL.index("[shop]") :]
    with pytest.raises(PlanError, match=r"needs at least one step\. Add one.*selling as found is always compared"):
        parse_plan(text, schema)


def test_two_steps_of_one_name_are_refused(schema, market, as_of):
    text = SMALL.replace("[shop]", '[[steps]]\nid = "body"\n[shop]')
    with pytest.raises(PlanError, match="more than one step 'body'"):
        evaluate_paths(market, [parse_plan(text, schema)], as_of)


def test_a_plan_in_another_currency_is_refused(schema, market, as_of):
    text = 'currency = "EUR"\n' + SMALL
    with pytest.raises(PlanError, match=r"in 'EUR' and the table's prices are in 'USD'\. Write all money of the plan"):
        evaluate_paths(market, [parse_plan(text, schema)], as_of)


def test_files_that_are_no_plans_are_refused(tmp_path, schema):
    with pytest.raises(PlanError, match=r"Cannot read the plan none.toml: No such file"):
        read_plan(tmp_path / "none.toml", schema)
    (tmp_path / "binary.toml").write_bytes(b"%PDF-1.7 \xff\xfe\x00")
    with pytest.raises(PlanError, match="it is not UTF-8 text"):
        read_plan(tmp_path / "binary.toml", schema)
    (tmp_path / "empty.toml").write_text("")
    with pytest.raises(PlanError, match="vehicle is missing"):
        read_plan(tmp_path / "empty.toml", schema)


def test_a_start_in_the_past_is_counted_from_today_and_said(schema, market, as_of):
    plan = parse_plan("start = 2026-01-05\n" + SMALL, schema)
    assert plan.start == date(2026, 1, 5)
    notes = evaluate_paths(market, [plan], as_of).paths[0].notes
    assert any(note.code == "start_in_past" and "counted from 2 November 2026 instead" in note.text for note in notes)


def test_of_a_vehicle_that_is_sold_as_it_stands_nothing_is_said_about_building(schema):
    as_it_stands = 'name = "truck"\n[vehicle]\ncondition = "driver"\n'
    told = parse_plan(as_it_stands, schema, steps_needed=False).defaults
    assert not [one for one in told if one.startswith(("Overrun:", "Hours:"))]
    built = parse_plan(f'{as_it_stands}[[steps]]\nid = "paint"\ncost = 900\n', schema).defaults
    assert [one.split(":")[0] for one in built if one.startswith(("Overrun:", "Hours:"))] == ["Overrun", "Hours"]
