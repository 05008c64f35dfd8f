"""The deal's answers: each is plain data, and holds what every face shows of it."""

import dataclasses
import json
from dataclasses import replace
from datetime import date, timedelta

import pytest
from pydantic import TypeAdapter

from valuation.answers.bands import bands
from valuation.answers.build import build, goal_wanted
from valuation.answers.field import field
from valuation.answers.kept import KeptBuild
from valuation.answers.offer import offer
from valuation.answers.paths import paths
from valuation.answers.steps import steps
from valuation.build.terms import Goal
from valuation.errors import OfferError
from valuation.notes import Note
from valuation.sell.offer_log import OfferLog
from valuation.sell.offers import Offer, answer_offer
from valuation.sheets.deal_sheet import deal_sheet
from valuation.sheets.plain import to_plain
from valuation.text.plain import plain

TALKS = (Offer(52_000.0, date(2026, 11, 10)), Offer(60_000.0, date(2026, 11, 12), "a caller"))


@pytest.fixture
def other(plan):
    """A second plan for the same find, with another price asked of its own."""
    return replace(plan, name="quick build", steps=plan.steps[:2], purchase=replace(plan.purchase, asked=9000.0))


def is_plain(value):
    """Whether a value holds nothing but dataclasses, mappings, tuples, text, numbers, dates and None."""
    if dataclasses.is_dataclass(value):
        return all(is_plain(getattr(value, one.name)) for one in dataclasses.fields(value))
    if isinstance(value, dict):
        return all(isinstance(key, str) and is_plain(part) for key, part in value.items())
    if isinstance(value, tuple):
        return all(is_plain(part) for part in value)
    return value is None or isinstance(value, str) or type(value) in (bool, int, float, date)


@pytest.fixture
def answers(market, plan, other, as_of):
    priced = bands(market, plan, as_of)
    return {
        "paths": paths(market, [plan, other], as_of),
        "steps": steps(market, plan, as_of),
        "field": field(market, [plan], [1953.0, 1954.0], as_of),
        "bands": priced,
        "offer": offer(priced, plan.sale, OfferLog("find", offers=TALKS)),
        "build": build(market, [plan, other], as_of),
    }


def test_every_answer_is_plain_data_that_json_holds(answers):
    for name, answer in answers.items():
        assert is_plain(answer), name
        data = plain(answer)
        assert json.loads(json.dumps(data, allow_nan=False)) == data, name


def test_what_json_shows_is_the_answer_to_the_last_bit_as_the_service_describes_it(answers):
    """The service takes its schema from the answer's own type: read by that, the JSON gives back the very answer."""
    for name, answer in answers.items():
        data = json.loads(json.dumps(plain(answer)))
        assert TypeAdapter(type(answer)).validate_python(data) == answer, name


def test_the_whole_build_holds_each_answer_as_it_is_given_alone(answers, market, plan, as_of):
    whole = answers["build"]
    assert whole.paths == answers["paths"]
    assert list(whole.plans) == ["driver build", "quick build"]
    assert whole.plans["driver build"].steps == answers["steps"]
    assert [curve.name for curve in whole.curves] == [path.name for path in whole.paths.paths]


def test_each_plan_of_a_find_is_weighed_at_its_own_price_or_at_the_one_told(answers, market, plan, other, as_of):
    """The first plan's price is the find's where none is told."""
    whole = answers["build"]
    assert whole.paths.price == 4000
    assert whole.plans["quick build"].steps == steps(market, other, as_of)
    told = build(market, [plan, other], as_of, price=4000.0)
    assert told.plans["quick build"].steps == steps(market, other, as_of, price=4000.0)
    assert told.plans["quick build"].steps != whole.plans["quick build"].steps


def test_the_deal_sheet_answers_each_offer_in_its_turn(answers, market, plan, other, as_of):
    found = deal_sheet(market, [plan, other], as_of, log=OfferLog("find", offers=TALKS))
    assert found.paths == to_plain(answers["paths"])
    assert found.bands_for == answers["paths"].best == "driver build"
    assert found.bands == to_plain(answers["bands"])
    for one, (name, whole) in zip(found.builds, answers["build"].plans.items(), strict=True):
        assert {key: one[key] for key in ("plan", "steps")} == {"plan": name, "steps": to_plain(whole.steps)}
    first = answer_offer(answers["bands"], plan.sale, TALKS[0])
    second = answer_offer(answers["bands"], plan.sale, TALKS[1], earlier=TALKS[:1])
    assert [one["answer"] for one in found.offers] == [to_plain(first), to_plain(second)]
    assert second == answers["offer"]


def test_the_deal_sheet_is_priced_for_the_first_plan_when_no_path_meets_the_goal(market, plan, as_of):
    found = deal_sheet(market, [plan], as_of, price=500_000.0)
    assert (found.paths["best"], found.bands_for, found.offers) == (None, plan.name, ())


def test_the_ask_and_the_currency_of_a_log_count(answers, plan):
    log = OfferLog("find", asked=70_000.0, currency="usd", offers=TALKS)
    told = offer(answers["bands"], plan.sale, log)
    assert told.usual_meeting.price == pytest.approx(60_000 + 2 / 3 * 10_000)  # from this caller's own first offer
    with pytest.raises(OfferError, match="is in 'EUR'"):
        offer(answers["bands"], plan.sale, replace(log, currency="EUR"))


def test_work_tells_what_it_is_at_and_how_far(market, plan, other, as_of):
    for ask, second in ((build, "drawing the profit"), (deal_sheet, "setting the price")):
        told = []
        ask(market, [plan, other], as_of, tell=lambda *words, told=told: told.append(words))
        assert told == [
            ("comparing the paths", 0, 4),
            (second, 1, 4),
            ("the steps of 'driver build'", 2, 4),
            ("the steps of 'quick build'", 3, 4),
        ]


def test_today_is_meant_when_no_day_is_told(market, plan):
    plan = replace(plan, event=None)
    before = date.today()
    days = [paths(market, [plan]).as_of, build(market, [plan]).paths.as_of]
    assert all(before <= day <= before + timedelta(days=1) for day in days)
    assert bands(market, plan).sale_date == bands(market, plan, days[0]).sale_date
    assert steps(market, plan) == steps(market, plan, days[0])
    assert field(market, [plan], [1954.0]) == field(market, [plan], [1954.0], days[0])


@pytest.mark.parametrize(
    ("margin", "sure", "expected"),
    [(None, None, (20.0, 75.0)), (30.0, 60.0, (30.0, 60.0)), (30.0, None, (30.0, None)), (None, 60.0, (20.0, 60.0))],
    ids=["the plan's own", "both", "a margin on average", "a certainty alone"],
)
def test_what_is_told_of_the_goal_stands_beside_the_plans_own(plan, margin, sure, expected):
    own = replace(plan, goal=Goal(20.0, 500.0, 75.0))
    assert goal_wanted([own], margin, sure) == Goal(expected[0], 500.0, expected[1])


def test_a_comparison_shows_the_notes_of_the_path_to_go_first_and_each_once(answers):
    report, own, shared = answers["paths"], Note("own", "Of one path."), Note("shared", "Of every path.")
    first, *others = report.paths
    told = replace(
        report,
        best=others[-1].name,
        paths=tuple(replace(one, notes=(shared, own) if one is others[-1] else (shared,)) for one in report.paths),
        notes=(Note("last", "Of the comparison."), shared),
    )
    assert first.name != told.best
    assert [note.code for note in told.all_notes] == ["shared", "own", "last"]


def test_a_kept_comparison_names_the_path_to_go_or_the_nearest_and_every_note_once(answers):
    """Records of older versions lack the notes of the steps."""
    found = json.loads(json.dumps(plain(answers["build"])))
    kept = KeptBuild({}, found)
    assert kept.nearest["name"] == answers["paths"].nearest.name
    found["paths"]["best"] = None
    most = max(answers["paths"].paths, key=lambda one: one.most_to_pay)
    assert kept.nearest["name"] == most.name
    codes = [note.code for note in kept.notes]
    assert {note.code for note in answers["paths"].all_notes} <= set(codes)
    assert len(set(kept.notes)) == len(kept.notes) > 0
    for one in found["plans"].values():
        del one["steps"]["notes"]
    assert set(kept.notes) <= set(KeptBuild({}, plain(answers["build"])).notes)
