"""The builds on the deal sheet: what goes in, what the steps are worth, and the schedule with the show."""

from __future__ import annotations

import datetime as dt
from typing import Any

from valuation.build.figures import odds_words
from valuation.sheets.chart_style import Chart
from valuation.sheets.cleaning import shorten
from valuation.sheets.deal_charts import steps_picture, timeline_picture
from valuation.sheets.deal_sheet import DealSheet
from valuation.text.locale import Locale
from valuation.text.rounding import rounded

MOST_DRIVERS = 8
"""Those of the most weight; the table fits the page."""


def build_on_page(build: dict[str, Any], sheet: DealSheet, locale: Locale) -> dict[str, Any]:
    """One build: its outlay, its results, its schedule, and what drives it.

    Parameters
    ----------
    build : dict
        ``PlanAnswer`` as plain data, with its ``plan`` and ``event``.
    sheet : DealSheet
        The sheet's own.
    locale : Locale
    """
    steps = build["steps"]["results"]
    picture, timeline = charts_of(build, shorten(sheet.currency, 12), locale)
    rows = [
        [
            shorten(one["name"], 60),
            shorten(", ".join(one["needs"]), 90),
            to_the_error(one["adds"], one["simulation_error"], locale),
            to_the_error(one["costs"], one["simulation_error"], locale),
            to_the_error(one["net"], one["simulation_error"], locale),
            odds_words(one["odds_it_pays"]) if one["do"] else f"leave out: {one['why_not']}",
        ]
        for one in steps
    ]
    words = f"{build['steps']['why']} {build['steps']['search']['words']}"
    losses = [
        f"{shorten(step['id'], 40)} {to_the_error(step['net'], step['simulation_error'], locale)}"
        for step in build["steps"]["steps"]
        if step["do"]
    ]
    if losses:
        words += f" Left out with all that hangs on it, a step loses: {', '.join(losses)}."
    alternatives = [
        f"{to_the_error(one['expected_profit'], one['simulation_error'], locale)}: {one['differs']}"
        for one in build["steps"]["alternatives"]
    ]
    return {
        "name": shorten(build["plan"]),
        "steps": {
            "head": ["Result", "With all it needs", "Adds", "Costs", "Worth", "Pays"],
            "rows": rows,
            "title": picture.title,
            "alt": picture.alt,
        },
        "words": words,
        "alternatives": alternatives,
        "to_go": _to_go(build["plan"], sheet, locale),
        "schedule": {
            "words": _schedule_words(build, locale),
            "head": ["Step", "Weeks from the first day", "Decides the finish", "A week's delay costs"],
            "rows": [_schedule_row(step, build, locale) for step in build["schedule"]["steps"]],
            "title": timeline.title,
            "alt": timeline.alt,
        },
        "drivers": {
            "head": ["What drives the profit", "Low", "High", "Profit at low", "Profit at high"],
            "rows": [_driver_row(driver, locale) for driver in build["drivers"][:MOST_DRIVERS]],
        },
    }


def charts_of(build: dict[str, Any], unit: str, locale: Locale) -> list[Chart]:
    """What the steps are worth, and when each is worked on.

    Parameters
    ----------
    build : dict
        ``PlanAnswer`` as plain data, with its ``plan`` and ``event``.
    unit : str
        The currency.
    locale : Locale
    """
    finish = {name: locale.date(dt.date.fromisoformat(day)) for name, day in build["schedule"]["finish"].items()}
    event = build["event"] if build["event"] and "weeks" in build["event"] else None  # older sheets have no weeks
    return [
        steps_picture(build["steps"]["results"], unit, locale.about),
        timeline_picture(build["schedule"], _names(build), event, finish),
    ]


def _names(build: dict[str, Any]) -> dict[str, str]:
    return {step["id"]: shorten(step["what"] or step["id"], 48) for step in build["steps"]["steps"]}


def _to_go(plan: str, sheet: DealSheet, locale: Locale) -> dict[str, Any]:
    """Each line of the outlay to go, rounded so that the lines add up to the sum as printed."""
    lines = next((one.lines for one in sheet.to_go if one.plan == plan), ())
    rows, running = [], 0.0
    for line in lines:
        amount = round(running + line.amount) - round(running)
        running += line.amount
        rows.append([shorten(line.what), locale.money(amount)])
    if rows:
        rows.append(["Expected in all", locale.money(round(running))])
    return {"head": ["What is expected to go in", "Money"], "rows": rows, "strong": [len(rows) - 1] if rows else []}


def _schedule_row(step: dict[str, Any], build: dict[str, Any], locale: Locale) -> list[str]:
    def weeks(value: float) -> str:
        return locale.number(value, 1)

    late = f"; one in ten later than {weeks(step['finish']['high'])}"
    return [
        _names(build).get(step["id"], step["id"]),
        f"{weeks(step['start']['mean'])} to {weeks(step['finish']['mean'])}{late}",
        odds_words(step["odds_critical"]),
        locale.about(step["delay_costs_per_week"]),
    ]


def _schedule_words(build: dict[str, Any], locale: Locale) -> str:
    finish = {name: locale.date(dt.date.fromisoformat(day)) for name, day in build["schedule"]["finish"].items()}
    delay = build["schedule"]["delay_costs_per_week"]
    words = (
        f"Finished most likely on {finish['likely']}; one build in ten by {finish['early']}, nine in ten by "
        f"{finish['late']}. A week's delay of the whole build "
        f"{'costs' if delay >= 0 else 'brings'} {locale.about(abs(delay))}."
    )
    if build["event"] is not None and build["schedule"]["odds_of_event"] is not None:
        day = locale.date(dt.date.fromisoformat(build["event"]["date"]))
        odds = odds_words(build["schedule"]["odds_of_event"])
        words += f" Ready in time for {shorten(build['event']['name'])} on {day}: {odds}."
    return words


def _driver_row(driver: dict[str, Any], locale: Locale) -> list[str]:
    def figure(value: float) -> str:
        if driver["unit"] == "money":
            return locale.about(value)
        return f"{locale.number(value, 2 if value < 10 else 0)} {driver['unit']}"

    ends = (
        ("none", "the best") if driver["unit"].startswith("none") else (figure(driver["low"]), figure(driver["high"]))
    )
    return [
        shorten(driver["name"], 48),
        *ends,
        locale.about(driver["profit_at_low"]),
        locale.about(driver["profit_at_high"]),
    ]


def to_the_error(amount: float, error: float, locale: Locale) -> str:
    """An amount of money as far as its simulation error allows.

    Parameters
    ----------
    amount, error : float
        Money, and its standard error.
    locale : Locale
    """
    return locale.money(rounded(amount, error=error))
