import json
import re
from dataclasses import replace
from datetime import date

import pytest

from valuation.build.plan import AS_FOUND
from valuation.build.simulation import Simulation
from valuation.build.terms import Goal
from valuation.build.three_point import ThreePoint
from valuation.errors import PlanError
from valuation.notes import Note
from valuation.paths.compare import evaluate_paths
from valuation.paths.deal_path import prepare
from valuation.paths.steps import evaluate_steps
from valuation.schema.vehicle import Vehicle
from valuation.text.plain import plain

KEYS = {
    "name", "outlay", "sale_price", "expected_profit", "odds_of_loss", "bad_tenth", "multiple_of_outlay", "weeks",
    "odds_of_event", "most_to_pay", "notes", "return_percent", "yearly_percent", "profit_per_bay_week",
}  # fmt: skip


def test_json_has_the_agreed_keys_and_is_plain_data(market, plan, as_of):
    answer = json.loads(json.dumps(plain(evaluate_paths(market, [plan], as_of))))
    assert {"paths", "best", "goal"} <= set(answer)
    for path in answer["paths"]:
        assert set(path) >= KEYS
        assert set(path["outlay"]) == {"mean", "low", "high"}
    assert [path["name"] for path in answer["paths"]] == ["driver build", AS_FOUND]
    assert answer["paths"][1]["odds_of_event"] is None
    assert answer["paths"][1]["profit_per_bay_week"] is None


def test_the_same_input_gives_the_same_bytes(market, plan, as_of):
    one, two = (json.dumps(plain(evaluate_paths(market, [plan], as_of))) for _ in range(2))
    assert one == two


def test_figures_hang_together(market, plan, as_of):
    for path in evaluate_paths(market, [plan], as_of).paths:
        proceeds = 0.96 * path.sale_price.mean
        assert path.expected_profit == pytest.approx(proceeds - path.outlay.mean)
        assert path.multiple_of_outlay == pytest.approx(proceeds / path.outlay.mean)
        assert path.return_percent == pytest.approx(100 * path.expected_profit / path.outlay.mean)
        assert path.bad_tenth < path.expected_profit
        assert path.outlay.low < path.outlay.mean < path.outlay.high
        assert path.weeks.mean > path.build_weeks.mean
    build = evaluate_paths(market, [plan], as_of).path("driver build")
    assert build.profit_per_bay_week == pytest.approx(build.expected_profit / build.build_weeks.mean)


def test_every_simulated_figure_is_within_its_error_of_a_run_ten_times_as_large(market, plan, as_of):
    def figures(simulation):
        path = evaluate_paths(market, [plan], as_of, simulation=simulation).path("driver build")
        return path, {
            "expected_profit": path.expected_profit, "odds_of_loss": path.odds_of_loss, "bad_tenth": path.bad_tenth,
            "most_to_pay": path.most_to_pay, "outlay": path.outlay.mean, "weeks": path.weeks.mean,
            "odds_of_event": path.odds_of_event,
        }  # fmt: skip

    path, small = figures(Simulation())
    _, large = figures(Simulation(scenarios=2**16, seed=99))
    for name, figure in small.items():
        assert abs(figure - large[name]) < 4.5 * path.simulation_errors[name] + 0.02, name
    assert path.simulation_errors["expected_profit"] < 0.002 * path.outlay.mean


def test_without_a_price_the_answer_is_the_most_to_pay(market, plan, as_of):
    plan = replace(plan, purchase=replace(plan.purchase, asked=None))
    report = evaluate_paths(market, [plan], as_of)
    best = report.path(report.best)
    assert report.price is None
    assert report.why.startswith("Pay no more than ")
    assert best.most_to_pay == max(path.most_to_pay for path in report.paths)
    assert any(note.code == "no_purchase_price" for note in best.notes)


def test_a_dear_find_is_passed_with_the_price_that_would_do(market, plan, as_of):
    report = evaluate_paths(market, [plan], as_of, price=60_000)
    assert report.best is None
    assert report.why.startswith("Pass at 60,000: no path meets the goal. Offer no more than ")


def test_a_cheap_find_is_bought_for_the_path_with_the_largest_profit_that_meets_the_goal(market, plan, as_of):
    report = evaluate_paths(market, [plan], as_of, price=10)
    good = [path for path in report.paths if path.most_to_pay >= 10]
    assert report.best == max(good, key=lambda path: path.expected_profit).name
    assert report.why.startswith("Buy it at 10 for 'driver build': expect ")


def test_a_goal_that_nothing_meets_is_named_with_the_mend(market, plan, as_of):
    report = evaluate_paths(market, [plan], as_of, goal=Goal(900, sure_percent=95))
    assert report.best is None
    assert report.why.startswith("Walk away: no path meets the goal at any price above 0.")
    assert report.why.endswith("Lower the goal, or find a cheaper build.")
    assert all(path.most_to_pay_proof.walk_away for path in report.paths)


def test_more_to_wait_more_to_pay_and_later_sale(market, plan, as_of):
    plan = replace(plan, event=None, shop=replace(plan.shop, interest_percent=0))
    dear = replace(plan, shop=replace(plan.shop, holding_per_week=130))
    slow = replace(plan, sale=replace(plan.sale, weeks_to_sell=ThreePoint.certain(50)))
    first, dearer, slower = (evaluate_paths(market, [one], as_of).path("driver build") for one in (plan, dear, slow))
    assert dearer.expected_profit == pytest.approx(first.expected_profit - 100 * first.weeks.mean, rel=1e-9)
    assert slower.sale_date > first.sale_date
    assert slower.sale_price.mean > first.sale_price.mean  # prices drift upwards by 3 % a year


def worthwhile(plan):
    """The plan with a show that is worth waiting for."""
    return replace(plan, event=replace(plan.event, chances={"driver": {"national": 0.8}}))


def test_an_award_needs_the_event_and_the_condition(market, plan, as_of):
    plan = worthwhile(plan)
    without = evaluate_paths(market, [replace(plan, event=None)], as_of).path("driver build")
    with_event = evaluate_paths(market, [plan], as_of).path("driver build")
    assert with_event.sale_price.mean > without.sale_price.mean
    assert with_event.odds_of_event > 0.9
    seldom = replace(plan, event=replace(plan.event, date=date(2027, 2, 20)))
    unlikely = evaluate_paths(market, [seldom], as_of).path("driver build")
    assert 0 < unlikely.odds_of_event < 0.5
    assert any(note.code == "event_unlikely" for note in unlikely.notes)


def test_a_show_that_cannot_be_made_is_left_out(market, plan, as_of):
    without = evaluate_paths(market, [replace(plan, event=None)], as_of).path("driver build")
    too_soon = replace(worthwhile(plan), event=replace(plan.event, date=date(2026, 11, 20)))
    missed = evaluate_paths(market, [too_soon], as_of).path("driver build")
    assert missed.odds_of_event is None
    assert missed.expected_profit == pytest.approx(without.expected_profit)
    assert any(note.code == "event_left_out" for note in missed.notes)


def test_the_finish_and_the_odds_of_the_show_stand_in_the_answer(market, plan, as_of):
    path = evaluate_paths(market, [worthwhile(plan)], as_of).path("driver build")
    assert path.ready.startswith(f"Ready about {path.finish.likely.day} ")
    assert path.ready.endswith(" that it makes 'spring meet' of 29 May 2027.")
    without = evaluate_paths(market, [replace(plan, event=None)], as_of)
    assert without.path("driver build").ready.endswith(" 2027.")
    assert without.path(AS_FOUND).ready == ""


def test_what_is_not_told_and_counts_as_nothing_stands_beside_the_most_to_pay(market, plan, as_of):
    untold = replace(plan, shop=replace(plan.shop, labour_rate=0, holding_per_week=0))
    report = evaluate_paths(market, [untold], as_of, price=3000)
    labour, holding = report.path("driver build").counted_as_nothing
    assert re.fullmatch(r"your own labour \(about [45]\d\d hours\)", labour)
    assert holding == "holding"
    assert report.why.endswith(f", with {labour} and holding counted as nothing.")
    assert report.path(AS_FOUND).counted_as_nothing == ("holding",)
    assert "set labour_rate and holding_per_week under [shop]" in report.path("driver build").notes[-1].text
    assert evaluate_paths(market, [plan], as_of).path("driver build").counted_as_nothing == ()


def test_each_path_keeps_the_price_that_its_owner_asks(market, plan, as_of):
    dearer = replace(plan, name="dearer", purchase=replace(plan.purchase, asked=6000))
    untold = replace(plan, name="untold", purchase=replace(plan.purchase, asked=None))
    report = evaluate_paths(market, [plan, dearer, untold], as_of)
    assert [path.price for path in report.paths] == [4000, 6000, 4000, 4000]
    first, second = report.paths[:2]
    assert first.most_to_pay == second.most_to_pay
    assert first.expected_profit > second.expected_profit + 2000
    assert {path.price for path in evaluate_paths(market, [plan, dearer], as_of, price=5000).paths} == {5000}


def test_a_plan_without_steps_is_sold_as_found(market, plan, as_of):
    report = evaluate_paths(market, [replace(plan, name="as it is", steps=())], as_of, price=3000)
    assert [path.name for path in report.paths] == [AS_FOUND]
    assert report.why.startswith("Buy it at 3,000 and sell it as found: expect ")


def test_the_most_to_pay_is_rounded_down_never_up(market, plan, as_of):
    report = evaluate_paths(market, [plan], as_of, price=3000)
    said = float(report.why.split("Pay no more than ")[1].rstrip(".").replace(",", ""))
    best = report.path(report.best)
    assert 0 <= best.most_to_pay - said < 0.01 * best.most_to_pay
    for path in report.paths:
        assert path.most_to_pay * 100 == pytest.approx(round(path.most_to_pay * 100))
        assert path.most_to_pay_proof.odds_at_price >= 0.75 - 1e-9


def test_an_event_without_a_chance_at_the_condition_is_not_entered(market, plan, as_of):
    only_show = replace(plan, event=replace(plan.event, chances={"show": {"local": 0.5}}))
    path = evaluate_paths(market, [only_show], as_of).path("driver build")
    without = evaluate_paths(market, [replace(plan, event=None)], as_of).path("driver build")
    assert path.odds_of_event is None
    assert path.outlay == without.outlay
    assert any(note.code == "event_not_entered" for note in path.notes)


def test_an_award_already_held_is_not_won_again(market, plan, as_of, found):
    holder = Vehicle(found.name, {**found.attributes, "awards": "national"})
    path = evaluate_paths(market, [replace(plan, found=holder)], as_of).path("driver build")
    without = evaluate_paths(market, [replace(plan, found=holder, event=None)], as_of).path("driver build")
    assert path.sale_price.mean == pytest.approx(without.sale_price.mean, rel=1e-3)


def test_what_two_paths_share_is_not_counted_twice(market, plan, as_of):
    """A step of no cost that doubles the price for certain always beats selling as found, however wide the prices."""
    doubling = replace(
        market, factors={"condition": {"project": 1.0, "runner": 2.0}}, scatter=0.8, unsure=0.0, yearly_percent=0
    )
    free = replace(plan, steps=(replace(plan.steps[1], cost=ThreePoint.certain(0), hours=ThreePoint.certain(0)),))
    path = evaluate_paths(doubling, [replace(free, event=None)], as_of).path("driver build")
    assert path.odds_better_than_as_found == 1.0


def test_plans_for_different_vehicles_are_not_compared(market, plan, as_of, found):
    other = replace(plan, name="other", found=Vehicle("other", {**found.attributes, "model_year": 1960.0}))
    with pytest.raises(PlanError, match=r"'driver build' and 'other' are for different vehicles.*differ in model_year"):
        evaluate_paths(market, [plan, other], as_of)


def test_no_plan_at_all_is_refused(market, as_of):
    with pytest.raises(PlanError, match="no build plan was given"):
        evaluate_paths(market, [], as_of)


def test_the_rule_of_thumb_is_shown_as_such(market, plan, as_of):
    report = evaluate_paths(market, [plan], as_of)
    best = report.path(report.best)
    assert report.rule_of_thumb.startswith("Rule of thumb (about twice what went in; common practice, no source): ")
    assert f"{best.multiple_of_outlay:.1f} times here" in report.rule_of_thumb
    assert 0 <= best.odds_of_twice <= 1


def test_a_deadline_in_the_past_is_refused(market, plan, as_of):
    late = replace(plan, sale=replace(plan.sale, deadline=date(2026, 1, 1)))
    with pytest.raises(PlanError, match=r"deadline of the sale, 2026-01-01, is not after 2026-11-02"):
        evaluate_paths(market, [late], as_of)


def test_what_is_known_of_the_estimates_stands_with_the_paths_that_it_is_about(market, plan, as_of):
    class Cautious(type(market)):
        def notes_on(self, vehicle, day):
            own = [Note("few_drivers", "Few drivers.")] if vehicle.attributes["condition"] == "driver" else []
            return (Note("few_sales", "Few sales."), *own)

    fields = {name: getattr(market, name) for name in market.__dataclass_fields__}
    report = evaluate_paths(Cautious(**fields), [plan], as_of)
    assert [note.code for note in report.notes] == ["few_sales"]
    assert "few_drivers" in [note.code for note in report.path("driver build").notes]
    assert "few_drivers" not in [note.code for note in report.path(AS_FOUND).notes]
    assert plain(report)["notes"] == [{"code": "few_sales", "text": "Few sales."}]


def test_two_paths_of_one_name_are_refused(market, plan, as_of):
    with pytest.raises(PlanError, match=r"Two paths are called 'driver build'.*Give each plan a 'name' of its own"):
        evaluate_paths(market, [plan, plan], as_of)
    with pytest.raises(PlanError, match="Two paths are called 'sell as found'"):
        evaluate_paths(market, [replace(plan, name=AS_FOUND)], as_of)


@pytest.mark.parametrize("price", [-1.0, float("nan"), float("inf")])
def test_a_price_that_is_no_money_is_refused(market, plan, as_of, price):
    for weigh in (evaluate_paths, lambda *words, **more: evaluate_steps(words[0], words[1][0], words[2], **more)):
        with pytest.raises(PlanError, match=r"at a purchase price of .*: money of 0 or more is accepted"):
            weigh(market, [plan], as_of, price=price)


def test_a_show_that_costs_more_than_it_brings_is_left_out_with_the_sum(market, plan, as_of):
    still = replace(market, yearly_percent=0)
    far = replace(plan, event=replace(plan.event, date=date(2027, 12, 1)))
    weighed = evaluate_paths(still, [far], as_of).path("driver build")
    at_once = evaluate_paths(still, [replace(plan, event=None)], as_of).path("driver build")
    waiting = prepare(still, far, as_of, Simulation(), event_decided=True).deal.expected_profit(4000).value
    (note,) = (note for note in weighed.notes if note.code == "event_left_out")
    said = float(note.text.split("waiting and entry cost ")[1].split(" ")[0].replace(",", ""))
    assert said == pytest.approx(at_once.expected_profit - waiting, abs=60)
    assert weighed.expected_profit == at_once.expected_profit
    assert weighed.most_to_pay == at_once.most_to_pay
    codes = [note.code for note in evaluate_paths(still, [worthwhile(plan)], as_of).path("driver build").notes]
    assert "event_left_out" not in codes


@pytest.mark.parametrize(("errors", "left_out"), [(0.5, False), (3.0, False), (5.0, True)])
def test_a_show_is_only_left_out_where_the_loss_is_clear_of_four_standard_errors(market, plan, as_of, errors, left_out):
    """The entry fee is set so that the show costs so many standard errors of the profit more than it brings."""
    still = replace(market, yearly_percent=0)
    plan = replace(worthwhile(plan), shop=replace(plan.shop, interest_percent=0))
    at_once = evaluate_paths(still, [replace(plan, event=None)], as_of).path("driver build")
    entered = evaluate_paths(still, [plan], as_of).path("driver build")
    gain = entered.expected_profit - at_once.expected_profit
    fee = plan.event.entry_cost + gain + errors * entered.simulation_errors["expected_profit"]
    dear = replace(plan, event=replace(plan.event, entry_cost=fee))
    weighed = evaluate_paths(still, [dear], as_of).path("driver build")
    assert ("event_left_out" in [note.code for note in weighed.notes]) == left_out
    assert weighed.odds_of_event == (None if left_out else entered.odds_of_event)
