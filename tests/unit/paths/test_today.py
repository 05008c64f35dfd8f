"""The choice today for a build under way: what was spent does not count."""

from dataclasses import replace
from datetime import date

import pytest

from valuation.answers.bands import bands
from valuation.answers.build import build
from valuation.build.figures import about
from valuation.build.progress import DoneStep, Progress
from valuation.build.simulation import Simulation
from valuation.errors import PlanError
from valuation.paths.compare import evaluate_paths
from valuation.paths.deal_path import AS_IT_STANDS, prepare, standing
from valuation.paths.drivers import profit_drivers
from valuation.paths.schedule import evaluate_schedule
from valuation.paths.steps import evaluate_steps
from valuation.paths.today import evaluate_today
from valuation.text.plain import plain

TODAY = date(2027, 2, 1)


@pytest.fixture
def begun(plan):
    done = (DoneStep("engine", date(2027, 1, 11), 6000.0, 100.0),)
    return replace(plan, progress=Progress(date(2026, 11, 2), 4500.0, done))


def test_every_way_to_go_on_stands_beside_selling_it_as_it_stands(market, begun):
    today = evaluate_today(market, begun, TODAY)
    names = [way.name for way in today.ways]
    assert {"carry on", "skip the show", AS_IT_STANDS} <= set(names)
    gains = [way.better_by for way in today.ways]
    assert gains == sorted(gains, reverse=True)
    as_it_stands = next(way for way in today.ways if way.name == AS_IT_STANDS)
    assert as_it_stands.better_by == pytest.approx(0, abs=1e-6)
    assert as_it_stands.steps == ()
    best = today.ways[0]
    assert today.why.startswith(f"{best.name.capitalize()}: ")
    assert f"{about(best.better_by)} better than selling it as it stands. Ready about " in today.why


def test_what_was_spent_does_not_move_the_choice(market, begun):
    """The price paid and old labour are gone: each way's gain stays, only the profit in all changes."""
    dearer = replace(begun, progress=replace(begun.progress, paid=24_500.0))
    one, other = (evaluate_today(market, plan, TODAY) for plan in (begun, dearer))
    assert [(way.name, way.better_by) for way in one.ways] == [(way.name, way.better_by) for way in other.ways]
    assert one.why == other.why
    assert other.ways[0].profit_in_all < one.ways[0].profit_in_all - 20_000
    steps = [evaluate_steps(market, plan, TODAY).best_subset.steps for plan in (begun, dearer)]
    assert steps[0] == steps[1]


def test_the_gain_is_what_buying_it_as_it_stands_would_bring(market, begun):
    rest, _ = standing(market, begun, TODAY)
    bought_today = replace(rest, purchase=replace(rest.purchase, asked=rest.purchase.stands_at, stands_at=None))
    path = prepare(market, bought_today, TODAY, Simulation(scenarios=1024), event_decided=True)
    way = next(way for way in evaluate_today(market, begun, TODAY).ways if way.name == "carry on")
    assert way.better_by == pytest.approx(path.deal.expected_profit(rest.purchase.stands_at).value)


def test_a_build_that_only_costs_is_sold_as_it_stands(market, begun):
    dear = (begun.steps[0], *(replace(step, cost=type(step.cost).certain(40_000)) for step in begun.steps[1:]))
    today = evaluate_today(market, replace(begun, steps=dear), TODAY)
    assert today.ways[0].name == AS_IT_STANDS
    assert today.why.startswith("Sell it as it stands: it is worth ")
    report = evaluate_paths(market, [replace(begun, steps=dear)], TODAY)
    assert (report.best, report.why) == (AS_IT_STANDS, today.why)


def test_steps_that_no_longer_pay_are_left_out(market, begun):
    steps = tuple(replace(s, cost=type(s.cost).certain(30_000)) if s.id == "paint" else s for s in begun.steps)
    today = evaluate_today(market, replace(begun, steps=steps), TODAY)
    assert today.ways[0].name == "leave out paint"
    assert today.ways[0].steps == ("body", "finish")


def test_paths_start_from_today_with_all_that_went_in(market, begun):
    report = evaluate_paths(market, [begun], TODAY)
    assert [path.name for path in report.paths] == ["driver build", AS_IT_STANDS]
    [today] = report.today
    assert report.why == today.why
    assert report.price == 4500
    assert report.path("driver build").price == pytest.approx(today.state.tied_up)
    assert today.state.done == ("engine",)
    assert plain(report)["today"][0]["state"]["to_do"] == ["body", "paint", "finish"]
    assert evaluate_paths(market, [begun], date(2026, 11, 1)).today == ()


def test_every_question_starts_from_today(market, begun):
    assert [step.id for step in evaluate_steps(market, begun, TODAY).steps] == ["body", "paint", "finish"]
    assert [step.id for step in evaluate_schedule(market, begun, TODAY).steps] == ["body", "paint", "finish"]
    assert not any(driver.name.startswith("engine") for driver in profit_drivers(market, begun, TODAY))
    priced = bands(market, begun, TODAY)
    rest, _ = standing(market, begun, TODAY)
    path = prepare(market, rest, TODAY, Simulation())
    assert priced.outlay == pytest.approx(path.deal.outlay(rest.purchase.asked).mean())
    assert priced.break_even == pytest.approx(priced.outlay / 0.96)


def test_a_finished_build_is_answered_after_its_show(market, begun, plan):
    """The whole page and the bands, weeks after the show's day, with nothing left to do."""
    done = tuple(DoneStep(step.id, date(2027, 5, 1), 3000.0, 100.0) for step in plan.steps)
    over = replace(begun, progress=replace(begun.progress, done=done))
    day = date(2027, 7, 1)
    answer = build(market, [over], day)
    assert [path.name for path in answer.paths.paths] == [AS_IT_STANDS]
    assert answer.plans == {}
    assert bands(market, over, day).estimate > 0
    assert "among past_jobs" in answer.paths.today[0].state.words


def test_another_price_for_a_vehicle_that_was_bought_is_refused(market, begun):
    with pytest.raises(PlanError, match=r"was bought on 2026-11-02 for 4,500\. Leave the price out, or correct"):
        evaluate_paths(market, [begun], TODAY, price=9000.0)
    assert evaluate_paths(market, [begun], TODAY, price=4500.0).price == 4500
