"""A plan carries what was bought and done; what is left of it starts from there."""

import math
from dataclasses import replace
from datetime import date

import pytest

from valuation.build.plan_file import parse_plan
from valuation.build.progress import BegunStep, DoneStep, ExtraCost, Progress, progress_in_words
from valuation.build.scenarios import draw, own_scatter, shared_overrun
from valuation.build.simulation import Simulation
from valuation.build.three_point import Overrun
from valuation.build.under_way import from_today, with_progress
from valuation.errors import PlanError
from valuation.year import WEEKS_PER_YEAR

BOUGHT = date(2026, 11, 2)
TODAY = date(2027, 2, 1)
PLAN = """
[vehicle]
condition = "project"
[[steps]]
id = "engine"
cost = 4000
hours = 80
sets = { drivetrain = "rebuilt-original" }
[[steps]]
id = "finish"
after = ["engine"]
sets = { condition = "driver" }
"""
DONE = "[bought]\non = 2026-11-02\nprice = 4500\n[[done]]\nstep = 'engine'\non = 2027-01-10\ncost = 5200\nhours = 110\n"


@pytest.fixture
def begun(plan):
    return replace(plan, progress=Progress(BOUGHT, 4500.0, (DoneStep("engine", date(2027, 1, 11), 6000.0, 100.0),)))


def test_bought_and_done_are_read_from_the_plan(schema):
    progress = parse_plan(PLAN + DONE, schema).progress
    assert progress == Progress(BOUGHT, 4500.0, (DoneStep("engine", date(2027, 1, 10), 5200.0, 110.0),))
    assert parse_plan(PLAN, schema).progress is None


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            "'engine'\non",
            "'engin'\non",
            r"the step 'engin' under \[\[done\]\] is not a step of this plan\. Did you mean",
        ),
        ("'engine'\non", "'finish'\non", r"'finish' is done and 'engine', which comes before it, is not"),
        ("2027-01-10", "2026-10-10", r"must not be done before 2026-11-02, the day of the purchase"),
        ("cost = 5200", "", r"\[\[done\]\] 1 cost is missing\. Write what it came to; cost = 0 where it took none"),
        ("price = 4500", "", r"\[bought\] needs a day and a price\. Write on = 2026-05-30 and price = 9500"),
        ("[bought]\non = 2026-11-02\nprice = 4500\n", "", r"done stands without \[bought\]"),
        ("hours = 110", "hours = -1", "money and hours must be 0 or more"),
        ("hours = 110", "hours = 1\nwho = 'me'", r"who is not known\. Known here: step, on, cost, hours"),
    ],
)
def test_progress_that_contradicts_itself_is_refused_with_the_mend(schema, old, new, words):
    assert old in DONE
    with pytest.raises(PlanError, match=words):
        parse_plan(PLAN + DONE.replace(old, new), schema)


def test_what_is_left_starts_from_what_is_done(begun):
    rest, state = from_today(begun, TODAY)
    assert [step.id for step in rest.steps] == ["body", "paint", "finish"]
    assert rest.steps[-1].after == ("body",)
    assert rest.found.attributes["drivetrain"] == "rebuilt-original"
    assert (state.done, state.to_do) == (("engine",), ("body", "paint", "finish"))
    assert rest.progress is None
    assert from_today(rest, TODAY) == (rest, None)


def expected(rest):
    """Money that the steps to do are expected to come to, the overrun included."""
    drawn = draw(rest, Simulation(4096))
    return float(((drawn.cost + 20 * drawn.hours) * drawn.overrun[:, None]).sum(axis=1).mean())


def test_what_a_begun_step_took_so_far_is_spent_and_its_rest_is_to_do(begun):
    body = begun.steps[1]

    def with_body(cost, hours):
        so_far = BegunStep("body", date(2027, 1, 18), cost, hours)
        return from_today(replace(begun, progress=replace(begun.progress, begun=(so_far,))), TODAY)

    whole, before = from_today(begun, TODAY)
    assert with_body(0.0, 0.0)[0] == whole
    low = 0.9 * body.cost.low
    rest, state = with_body(low, 0.9 * body.hours.low)
    spent = low + 20 * 0.9 * body.hours.low
    assert state.spent_in_all == pytest.approx(before.spent_in_all + spent)
    assert expected(rest) == pytest.approx(expected(whole) - spent, rel=0.01), "by then nothing is learned of the step"
    assert (rest.steps[1:], state.over, state.planned, state.actual) == (whole.steps[1:], (), 5600, 8000)
    rest, state = with_body(1.2 * body.cost.likely, 0.0)
    assert expected(rest) > expected(whole) - 1.2 * body.cost.likely, "now it is known to be a dear one"
    assert f"'{body.what or 'body'}' has cost" in state.words
    rest, state = with_body(10 * body.cost.high, 0.0)
    assert rest.steps[0].cost.high == 0
    assert "That is all its plan allows for: write new figures into its card." in state.words


def test_what_a_begun_step_took_is_read_from_the_plan(schema):
    text = PLAN + "[bought]\non = 2026-11-02\nprice = 4500\n[[begun]]\nstep = 'engine'\non = 2026-12-01\n"
    assert parse_plan(text, schema).progress.begun == (BegunStep("engine", date(2026, 12, 1)),)
    told = parse_plan(text + "cost = 1200\nhours = 30\n", schema).progress.begun
    assert told == (BegunStep("engine", date(2026, 12, 1), 1200.0, 30.0),)
    with pytest.raises(PlanError, match="money and hours so far must be 0 or more"):
        parse_plan(text + "hours = -2\n", schema)


def test_all_that_went_in_is_counted_and_bears_interest(begun):
    _, state = from_today(begun, TODAY)
    weeks = (TODAY - BOUGHT).days / 7
    labour = 20 * 100
    in_all = 4500 + 550 + 6000 + labour + (30 + 450 / 3) * weeks
    assert state.spent_in_all == pytest.approx(in_all)
    grown = 5050 * 1.06 ** (weeks / WEEKS_PER_YEAR) + 8000 * 1.06 ** (3 / WEEKS_PER_YEAR)
    waiting = (180 / math.log(1.06) * WEEKS_PER_YEAR) * (1.06 ** (weeks / WEEKS_PER_YEAR) - 1)
    assert state.tied_up == pytest.approx(grown + waiting)
    assert (state.planned, state.actual) == (4000 + 20 * 80, 8000)


def test_before_the_purchase_and_before_a_step_nothing_is_done(begun):
    rest, state = from_today(begun, date(2026, 11, 1))
    assert state is None
    assert rest.steps == begun.steps
    rest, state = from_today(begun, date(2027, 1, 10))
    assert state.done == ()
    assert len(rest.steps) == 4


def test_the_overrun_so_far_says_what_the_rest_will_run_over(begun):
    """One observation of a log-normal factor, blurred by the step's own range: weighed by hand."""
    rest, state = from_today(begun, TODAY)
    prior = shared_overrun(begun).factor
    own = own_scatter(begun, begun.steps[:1])
    precision = 1 / prior.log_spread**2 + 1 / own
    mean = (math.log(prior.typical) / prior.log_spread**2 + (math.log(8000 / 5600) + own / 2) / own) / precision
    after = shared_overrun(rest).factor
    assert math.log(after.typical) == pytest.approx(mean)
    assert after.log_spread == pytest.approx(math.sqrt(1 / precision))
    assert 1.1 < state.overrun_to_go.typical < 8000 / 5600
    cheap = replace(begun, progress=replace(begun.progress, done=(DoneStep("engine", BOUGHT, 3000.0, 60.0),)))
    assert from_today(cheap, TODAY)[1].overrun_to_go.typical < 1.1


def test_without_an_overrun_none_is_learned(begun):
    sure = replace(begun, shop=replace(begun.shop, overrun=Overrun.none()))
    assert from_today(sure, TODAY)[0].shop.overrun == Overrun.none()


def test_a_finished_build_tells_what_to_write_among_the_past_jobs(begun):
    done = tuple(DoneStep(step.id, date(2027, 1, 20), 2000.0, 100.0) for step in begun.steps)
    rest, state = from_today(replace(begun, progress=replace(begun.progress, done=done)), TODAY)
    assert rest.steps == ()
    assert rest.found.attributes["condition"] == "driver"
    assert f"write [{state.planned:.0f}, 16000] among past_jobs under [overrun]" in state.words


def test_a_command_line_says_the_same_as_the_file(schema, plan):
    told = progress_in_words("4500@2026-11-02", ["engine=2027-01-10:5200:110"], "USD")
    assert told == parse_plan(PLAN + DONE, schema).progress
    [begun, other] = with_progress([plan, replace(plan, name="b", steps=plan.steps[1:2])], "4500@2026-11-02",
                                   ["engine=2027-01-10:5200:110"], "USD")  # fmt: skip
    assert begun.progress == told
    assert other.progress.done == ()


@pytest.mark.parametrize(
    ("bought", "done", "words"),
    [
        ("4500", [], r"Cannot read '4500' as progress of a build\. Write it as PRICE@DATE, such as 9000@2026-05-01"),
        ("4500@2026-11-02", ["engine"], r"Write it as STEP=DATE:COST:HOURS, such as engine=2026-07-10:5200:110"),
        ("4500@2026-11-02", ["wheels=2027-01-10:1:1"], r"no plan has such a step\. The steps are: body, engine"),
        (None, ["engine=2027-01-10:1:1"], r"not bought\. Say when and for what price with --bought PRICE@DATE"),
    ],
)
def test_words_that_cannot_be_read_are_refused(plan, bought, done, words):
    with pytest.raises(PlanError, match=words):
        with_progress([plan], bought, done, "USD")


LATER = DONE + (
    "[[begun]]\nstep = 'finish'\non = 2027-01-20\n"
    "[[extra]]\nwhat = 'A new tank'\non = 2027-01-15\ncost = 240\nhours = 3\n"
)


def test_what_is_begun_left_out_and_came_on_top_is_read(schema):
    progress = parse_plan(PLAN + LATER, schema).progress
    assert progress.begun == (BegunStep("finish", date(2027, 1, 20)),)
    assert progress.extra == (ExtraCost("A new tank", date(2027, 1, 15), 240.0, 3.0),)
    assert progress.until(date(2027, 1, 16)).begun == ()
    assert progress.until(date(2027, 1, 16)).extra == progress.extra
    left = parse_plan(PLAN + DONE + "[[left_out]]\nstep = 'finish'\n", schema)
    assert left.progress.left_out == ("finish",)
    rest, state = from_today(left, TODAY)
    assert (rest.steps, state.to_do, state.left_out) == ((), (), ("finish",))


def test_what_no_step_planned_counts_as_spent_and_as_overrun(schema):
    _, without = from_today(parse_plan(PLAN + DONE, schema), TODAY)
    _, state = from_today(parse_plan(PLAN + LATER + "[shop]\nlabour_rate = 10\n", schema), TODAY)
    assert state.spent_in_all == pytest.approx(without.spent_in_all + 1100 + 240 + 30)
    assert (state.planned, state.actual) == (4800, 5200 + 1100 + 240 + 30)
    assert state.begun == ("finish",)
    assert [one.what for one in state.spent if one.on == date(2027, 1, 15)] == ["A new tank"]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (
            "[[begun]]\nstep = 'engine'\non = 2027-01-20\n",
            r"'engine' stands under \[\[done\]\] and under \[\[begun\]\]",
        ),
        ("[[begun]]\nstep = 'finish'\non = 2026-10-20\n", "must not be begun before 2026-11-02"),
        ("[[begun]]\nstep = 'finish'\n", r"\[\[begun\]\] 1 on is missing\. Write the day on which it was begun"),
        ("[[begun]]\nstep = 'finis'\non = 2027-01-20\n", r"'finis' under \[\[begun\]\] is not a step of this plan"),
        ("[[left_out]]\nstep = 'engine'\n", r"'engine' stands under \[\[done\]\] and under \[\[left_out\]\]"),
        ("left_out = 3\n", r"Start each step that is left out with a line \[\[left_out\]\]"),
        (
            "[[extra]]\nwhat = 'Tank'\non = 2026-01-20\ncost = 1\nhours = 0\n",
            "'Tank' under .* must not be spent before",
        ),
        ("[[extra]]\nwhat = 'Tank'\non = 2027-01-20\ncost = -1\nhours = 0\n", "money and hours must be 0 or more"),
    ],
)
def test_what_is_begun_left_out_or_came_on_top_against_the_plan_is_refused(schema, more, words):
    text = f"{more}{PLAN}{DONE}" if more.startswith("left") else f"{PLAN}{DONE}{more}"
    with pytest.raises(PlanError, match=words):
        parse_plan(text, schema)


def test_a_step_that_others_need_is_not_left_out_alone(schema):
    bought = "[bought]\non = 2026-11-02\nprice = 4500\n[[left_out]]\nstep = 'engine'\n"
    with pytest.raises(PlanError, match=r"'engine' is left out, and 'finish', which comes after it, is not\. Leave"):
        parse_plan(PLAN + bought, schema)
    both = parse_plan(f"{PLAN}{bought}[[left_out]]\nstep = 'finish'\n", schema)
    assert both.progress.left_out == ("engine", "finish")
    with pytest.raises(PlanError, match=r"left_out stands without \[bought\]"):
        parse_plan(f"{PLAN}[[left_out]]\nstep = 'finish'\n", schema)
