"""After the show's day every question about the plan is answered without the show, and says so."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from valuation.paths.compare import evaluate_paths
from valuation.paths.drivers import profit_drivers
from valuation.paths.field_table import field_table
from valuation.paths.profit_curve import profit_curves
from valuation.paths.schedule import evaluate_schedule
from valuation.paths.steps import evaluate_steps
from valuation.sell.bands import price_bands
from valuation.text.language import english_day
from valuation.text.plain import plain


def bands(market, plan, day):
    found = price_bands(market, plan, day)
    return found.notes, {**plain(found), "notes": None}


def paths(market, plan, day):
    found = evaluate_paths(market, [plan], day)
    path = found.path("driver build")
    return path.notes, {**plain(path), "notes": None}


def steps(market, plan, day):
    found = evaluate_steps(market, plan, day)
    return found.notes, {**plain(found), "notes": None}


def schedule(market, plan, day):
    found = evaluate_schedule(market, plan, day)
    return found.notes, {**plain(found), "notes": None}


def field(market, plan, day):
    found = field_table(market, [plan], day, years=[1954.0])
    return found.notes, {**plain(found), "notes": None}


@pytest.fixture
def after(plan):
    """The day after the show."""
    return plan.event.date + timedelta(days=1)


@pytest.mark.parametrize("question", [bands, paths, steps, schedule, field])
@pytest.mark.parametrize("days", [0, 1, 400])
def test_a_show_that_has_passed_is_left_out_with_a_note(market, plan, question, days):
    day = plan.event.date + timedelta(days=days)
    notes, figures = question(market, plan, day)
    [text] = [note.text for note in notes if note.code == "event_passed"]
    assert text.startswith(f"The show 'spring meet' has passed, on {english_day(plan.event.date)}: it is left out")
    assert "Take it out of the plan, and if the vehicle won an award there, write that among" in text
    without, same = question(market, replace(plan, event=None), day)
    assert figures == same
    assert "event_passed" not in [note.code for note in without]


def test_a_show_to_come_is_no_show_passed(market, plan):
    for question in (bands, paths, steps, schedule, field):
        notes, _ = question(market, plan, plan.event.date - timedelta(days=1))
        assert "event_passed" not in [note.code for note in notes]


def test_drivers_and_curves_leave_it_out_too(market, plan, after):
    bare = replace(plan, event=None)
    assert profit_drivers(market, plan, after) == profit_drivers(market, bare, after)
    one, other = (plain(profit_curves(market, [each], after)[0]) for each in (plan, bare))
    assert one == other


def test_a_start_in_the_past_says_that_no_step_is_taken_as_done(market, plan):
    begun = replace(plan, start=date(2026, 5, 1))
    [text] = [note.text for note in bands(market, begun, date(2026, 11, 2))[0] if note.code == "start_in_past"]
    assert (
        "counted from 2 November 2026 instead, with no step taken as done. Write the purchase under [bought], and "
        "each step" in text
    )
