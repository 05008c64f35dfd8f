"""Pictures of a comparison of paths."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from api.pages.pictures import Picture, picture
from valuation.text.locale import Locale
from valuation.text.toml import read_toml


def build_pictures(
    found: Mapping[str, Any], inputs: Mapping[str, Any], best: Mapping[str, Any], locale: Locale
) -> dict[str, Picture]:
    """Paths, profit of each path, and for each plan its timeline and the worth of its steps.

    Keys are ``paths``, ``profit: NAME``, ``timeline: NAME`` and ``steps: NAME``.

    Parameters
    ----------
    found : mapping
        The answer as plain data.
    inputs : mapping
        What it was computed from.
    best : mapping
        The path to go.
    locale : Locale
    """
    from valuation.sheets.deal_charts import paths_picture, profit_picture, steps_picture, timeline_picture

    report, money = found["paths"], locale.about
    currency = report["currency"]
    shown = {"paths": picture(paths_picture(report["paths"], currency, money), "Money in and money back, path by path")}
    by_name = {one["name"]: one for one in report["paths"]}
    for curve in found["curves"]:
        path = by_name[curve["name"]]
        chart = profit_picture(curve, path["odds_of_loss"], path["expected_profit"], currency, money)
        shown[f"profit: {curve['name']}"] = picture(chart, f"Profit of '{curve['name']}'")
    texts = {data.get("name", ""): data for data in map(read_toml, inputs["plans"])}
    for name, one in found["plans"].items():
        data = texts.get(name, {})
        names = {step["id"]: step.get("what", "") for step in data.get("steps", [])}
        finish = {key: locale.date(dt.date.fromisoformat(day)) for key, day in one["schedule"]["finish"].items()}
        timeline = timeline_picture(one["schedule"], names, _event(data, inputs["as_of"]), finish)
        shown[f"timeline: {name}"] = picture(timeline, f"Timeline of '{name}'")
        shown[f"steps: {name}"] = picture(
            steps_picture(one["steps"].get("results") or one["steps"]["steps"], currency, money),
            f"Worth of the results of '{name}', each with all that it needs",
        )
    return shown


def _event(data: Mapping[str, Any], as_of: str) -> dict[str, Any] | None:
    event = data.get("event")
    if not event:
        return None
    first = data.get("start") or dt.date.fromisoformat(as_of)
    first = max(first, dt.date.fromisoformat(as_of))
    return {"name": event["name"], "weeks": (event["date"] - first).days / 7}
