"""Charts of a deal: paths, profit, timeline, worth of steps, and the price bands; pure functions of plain summaries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from valuation.sheets.chart_style import (
    BLUE,
    CLAY,
    FAINT,
    INK,
    PAPER,
    RULE,
    WASH,
    Chart,
    Money,
    Row,
    data,
    finish,
    no_axis,
)
from valuation.sheets.chart_style import money_axis as axis_of_money
from valuation.text.locale import Locale


def paths_picture(paths: Sequence[Row], currency: str, money: Money) -> Chart:
    """For each path what goes in and what the sale is expected to bring.

    Parameters
    ----------
    paths : sequence of mapping
        ``name``, and ``outlay`` and ``sale_price`` with ``mean``, ``low``, ``high``.
    currency : str
    money : callable
    """
    import altair as alt

    rows = [
        {"path": path["name"], "what": what, **path[key]}
        for path in paths
        for what, key in (("goes in", "outlay"), ("sale brings", "sale_price"))
    ]
    order = [str(path["name"]) for path in paths]
    y = alt.Y("path:N", sort=order, axis=alt.Axis(title=None, labelColor=INK))
    offset = alt.YOffset("what:N", sort=["goes in", "sale brings"])
    scale = alt.Scale(domain=["goes in", "sale brings"], range=[CLAY, BLUE])
    base = alt.Chart(data(rows))
    bars = base.mark_rule(strokeWidth=7, strokeCap="round").encode(
        x=alt.X("low:Q", axis=axis_of_money("money", currency)), x2="high:Q", y=y, yOffset=offset,
        color=alt.Color("what:N", scale=scale),
    )  # fmt: skip
    dots = base.mark_point(filled=True, size=80, fill=PAPER, stroke=INK, strokeWidth=1.5, opacity=1).encode(
        x="mean:Q", y=y, yOffset=offset, tooltip=["path:N", "what:N", alt.Tooltip("mean:Q", format=",.0f")]
    )
    best = max(paths, key=lambda path: float(path["expected_profit"]))
    return finish(
        bars + dots,
        height=64 * len(paths),
        alt=f"Money in and money back for {len(paths)} paths, eight times in ten within the bars. The largest expected "
        f"profit is {money(float(best['expected_profit']))}, with '{best['name']}'.",
        columns=("path", "what", "expected", "from", "to"),
        rows=[(r["path"], r["what"], money(r["mean"]), money(r["low"]), money(r["high"])) for r in rows],
    )


def profit_picture(curve: Row, odds_of_loss: float, expected: float, currency: str, money: Money) -> Chart:
    """The distribution of a path's profit with the part that is a loss marked.

    Parameters
    ----------
    curve : mapping
        ``name``, and ``points`` with ``amount``, ``odds_below``, ``height``.
    odds_of_loss : float
        0 to 1.
    expected : float
        Expected profit.
    currency : str
    money : callable
    """
    import altair as alt

    points = curve["points"]
    x = alt.X("amount:Q", axis=axis_of_money("profit", currency, grid=False))
    y = alt.Y("height:Q", axis=no_axis(), scale=alt.Scale(domain=[0, 1.2]))
    points = _with_nothing(points)
    gain = [point for point in points if point["amount"] >= 0]
    loss = [point for point in points if point["amount"] <= 0]
    picture = alt.Chart(data(gain)).mark_area(fill=WASH, stroke=RULE).encode(x=x, y=y)
    if loss:
        picture = picture + alt.Chart(data(loss)).mark_area(fill=CLAY, opacity=0.85).encode(x=x, y=y)
    marks = [
        {"amount": 0.0, "label": f"loss: {100 * odds_of_loss:.0f} in 100", "at": 1.12},
        {"amount": expected, "label": f"expected {money(expected)}", "at": 1.02},
    ]
    rules = alt.Chart(data(marks)).mark_rule(color=INK, strokeWidth=1.5).encode(x=x, y=alt.Y("at:Q"), y2=alt.datum(0))
    words = (
        alt.Chart(data(marks))
        .mark_text(align="left", dx=5, color=INK, fontSize=13)
        .encode(x=x, y="at:Q", text="label:N")
    )
    table = points[:: max(len(points) // 12, 1)]
    return finish(
        picture + rules + words,
        height=200,
        alt=f"Profit of '{curve['name']}': {money(expected)} expected; {100 * odds_of_loss:.0f} in 100 such deals end "
        "with a loss.",
        columns=("profit", "chance of less"),
        rows=[(money(p["amount"]), f"{100 * p['odds_below']:.0f} %") for p in table],
    )


def _with_nothing(points: Sequence[Row]) -> list[Row]:
    """The points with one at no profit, where loss and gain meet; as they are when none lies on the other side."""
    for before, after in pairwise(points):
        if before["amount"] < 0 < after["amount"]:
            share = -before["amount"] / (after["amount"] - before["amount"])
            meeting = {key: before[key] + share * (after[key] - before[key]) for key in ("odds_below", "height")}
            return sorted([*points, {**meeting, "amount": 0.0}], key=lambda point: float(point["amount"]))
    return list(points)


def timeline_picture(schedule: Row, names: Mapping[str, str], event: Row | None, dates: Mapping[str, str]) -> Chart:
    """When each step is worked on, with the event's day.

    Parameters
    ----------
    schedule : mapping
        ``ScheduleReport`` as plain data.
    names : mapping of str to str
        What each step is, by its id.
    event : mapping or None
        ``name`` and ``weeks`` from the first day.
    dates : mapping of str to str
        ``early``, ``likely``, ``late`` finish as people read them.
    """
    import altair as alt

    rows = [
        {"step": names.get(step["id"]) or step["id"], "start": step["start"]["mean"], "finish": step["finish"]["mean"],
         "late": step["finish"]["high"], "odds": step["odds_critical"]}
        for step in schedule["steps"]
    ]  # fmt: skip
    y = alt.Y("step:N", sort=[row["step"] for row in rows], axis=alt.Axis(title=None, labelColor=INK))
    x = alt.X("start:Q", axis=alt.Axis(title="weeks from the first day"))
    base = alt.Chart(data(rows))
    late = base.mark_bar(height=5, fill=RULE).encode(x=alt.X("finish:Q"), x2="late:Q", y=y)
    bars = base.mark_bar(height=15, fill=BLUE).encode(
        x=x, x2="finish:Q", y=y,
        opacity=alt.Opacity("odds:Q", scale=alt.Scale(domain=[0, 1], range=[0.45, 1]), legend=None),
        tooltip=["step:N", alt.Tooltip("start:Q", format=".1f"), alt.Tooltip("finish:Q", format=".1f")],
    )  # fmt: skip
    picture = late + bars
    words = f"The build is finished most likely on {dates['likely']}; one in ten is later than {dates['late']}."
    if event is not None:
        mark = alt.Chart(data([{"start": event["weeks"], "label": event["name"]}]))
        picture = picture + mark.mark_rule(color=CLAY, strokeWidth=2, strokeDash=[6, 3]).encode(x=x)
        picture = picture + mark.mark_text(align="right", dx=-5, color=INK, fontSize=12, baseline="top").encode(
            x=x, y=alt.value(2), text="label:N"
        )
        words += f" {event['name']} is {event['weeks']:.0f} weeks after the first day."
    return finish(
        picture,
        height=34 * len(rows) + 10,
        alt=words,
        columns=("step", "starts, week", "ends, week", "one in ten ends after", "decides the finish"),
        rows=[
            (r["step"], f"{r['start']:.1f}", f"{r['finish']:.1f}", f"{r['late']:.1f}", f"{100 * r['odds']:.0f} %")
            for r in rows
        ],
    )


def steps_picture(steps: Sequence[Row], currency: str, money: Money) -> Chart:
    """What each result of a build adds to the price beside what it costs.

    Parameters
    ----------
    steps : sequence of mapping
        ``Bundle`` as plain data, or steps of an answer kept long ago.
    currency : str
    money : callable
    """
    import altair as alt

    rows = [
        {"step": _label(step), "kind": kind, "amount": step[key]}
        for step in steps
        for kind, key in (("adds to the price", "adds"), ("costs", "costs"))
    ]
    picture = alt.Chart(data(rows)).mark_bar(height={"band": 0.8}).encode(
        x=alt.X("amount:Q", axis=axis_of_money("money", currency)),
        y=alt.Y("step:N", sort=[_label(s) for s in steps], axis=alt.Axis(title=None, labelColor=INK)),
        yOffset=alt.YOffset("kind:N", sort=["adds to the price", "costs"]),
        color=alt.Color("kind:N", scale=alt.Scale(domain=["adds to the price", "costs"], range=[BLUE, CLAY])),
        tooltip=["step:N", "kind:N", alt.Tooltip("amount:Q", format=",.0f")],
    )  # fmt: skip
    worth = sum(float(step["net"]) > 0 for step in steps)
    return finish(
        picture,
        height=46 * len(steps),
        alt=f"Of {len(steps)} results, {worth} add more to the price than they cost with all that they need.",
        columns=("result", "adds", "costs", "net"),
        rows=[(_label(s), money(s["adds"]), money(s["costs"]), money(s["net"])) for s in steps],
    )


def _label(step: Row) -> str:
    return str(step.get("name") or step["what"] or step["id"])


def bands_picture(curve: Sequence[Row], bands: Row, offers: Sequence[Row], currency: str, locale: Locale) -> Chart:
    """Floor, target and ask on one line, the distribution of the price behind them, and the offers so far.

    Parameters
    ----------
    curve : sequence of mapping
        ``amount``, ``odds_below``, ``height`` of the price.
    bands : mapping
        ``floor``, ``target``, ``ask``, ``break_even`` (or ``None``).
    offers : sequence of mapping
        ``amount``, ``who``, oldest first.
    currency : str
    locale : Locale
        How money is written.
    """
    import altair as alt

    named = [("floor", 0.62), ("target", 0.84), ("ask", 1.06)]
    said = {"floor": locale.at_least(bands["floor"]), **{name: locale.about(bands[name]) for name in ("target", "ask")}}
    marks: list[dict[str, Any]] = [
        {"amount": bands[name], "name": f"{name} {said[name]}", "at": at} for name, at in named
    ]
    middle = [float(p["amount"]) for p in curve if 0.02 <= float(p["odds_below"]) <= 0.97]
    seen = [*(float(m["amount"]) for m in marks), *(float(o["amount"]) for o in offers), *middle]
    low, high = min(seen) * 0.94, max(seen) * 1.08
    x = alt.X(
        "amount:Q",
        axis=axis_of_money("what the buyer pays", currency, grid=False),
        scale=alt.Scale(domain=[low, high], nice=False),
    )
    y = alt.Y("height:Q", axis=no_axis(), scale=alt.Scale(domain=[-0.22, 1.2]))
    shown = [p for p in curve if low <= float(p["amount"]) <= high]
    area = alt.Chart(data(shown)).mark_area(fill=WASH, stroke=RULE).encode(x=x, y=y, y2=alt.datum(0))
    lines = alt.Chart(data(marks)).mark_rule(color=BLUE, strokeWidth=2.5).encode(x=x, y="at:Q", y2=alt.datum(0))
    picture = area + lines
    for side, dx, told in (("right", -6, marks[:1]), ("left", 6, marks[1:])):
        words = alt.Chart(data(told)).encode(x=x, y="at:Q", text="name:N")
        style: dict[str, Any] = {"align": side, "dx": dx, "fontSize": 14, "fontWeight": "bold"}
        halo = words.mark_text(stroke=PAPER, strokeWidth=4, color=PAPER, **style)
        picture = picture + halo + words.mark_text(color=INK, **style)
    if bands.get("break_even") and low <= bands["break_even"] <= high:
        even = alt.Chart(data([{"amount": bands["break_even"], "name": "break-even"}]))
        picture = picture + even.mark_rule(color=FAINT, strokeDash=[3, 3]).encode(
            x=x, y=alt.datum(0.42), y2=alt.datum(0)
        )
        picture = picture + even.mark_text(align="left", dx=4, color=FAINT, fontSize=12).encode(
            x=x, y=alt.datum(0.42), text="name:N"
        )
    if offers:
        made = [{"amount": o["amount"], "n": str(i), "who": o.get("who", "")} for i, o in enumerate(offers, 1)]
        dots = alt.Chart(data(made))
        picture = picture + dots.mark_point(filled=True, size=260, fill=CLAY, opacity=1).encode(
            x=x, y=alt.datum(-0.11), tooltip=["n:N", "who:N", alt.Tooltip("amount:Q", format=",.0f")]
        )
        picture = picture + dots.mark_text(color=PAPER, fontSize=11, fontWeight="bold").encode(
            x=x, y=alt.datum(-0.11), text="n:N"
        )
    amounts = [locale.money(float(o["amount"])) for o in offers]
    told_words = f" Offers so far: {', '.join(amounts)}." if offers else ""
    table = list(said.items())
    if bands.get("break_even"):
        table.append(("break-even", locale.at_least(bands["break_even"])))
    table += [(f"offer {i}", amount) for i, amount in enumerate(amounts, 1)]
    return finish(
        picture,
        height=230,
        alt=f"Floor {said['floor']}, target {said['target']}, ask {said['ask']}.{told_words}",
        columns=("what", "money"),
        rows=table,
    )
