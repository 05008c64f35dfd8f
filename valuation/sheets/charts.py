"""Charts of a table and of an estimate: pure functions from plain summaries to pictures with their table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from valuation.sheets.chart_style import (
    BLUE,
    CLAY,
    FAINT,
    INK,
    OUTCOMES,
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

_SHAPES = {"sold": "circle", "bid, reserve not met": "triangle-up", "asked, not sold": "triangle-down"}


def _outcome_shapes() -> Any:
    import altair as alt

    return alt.Shape(
        "outcome:N",
        scale=alt.Scale(domain=list(_SHAPES), range=list(_SHAPES.values())),
        legend=alt.Legend(symbolStrokeColor=INK),
    )


def _sale_points(rows: Sequence[Row], x: Any, currency: str) -> Any:
    import altair as alt

    mark = alt.Chart(data(rows)).mark_point(filled=False, fill=WASH, stroke=INK, strokeWidth=1, size=46, opacity=0.9)
    return mark.encode(
        x=x,
        y=alt.Y("price:Q", scale=alt.Scale(type="log", nice=False), axis=axis_of_money("price paid", currency)),
        shape=_outcome_shapes(),
        tooltip=["sale:N", "date:T", alt.Tooltip("price:Q", format=",.0f"), "outcome:N"],
    )


def _subject_mark(subject: Row, x: Any) -> Any:
    import altair as alt

    one = alt.Chart(data([subject]))
    bar = one.mark_rule(color=BLUE, strokeWidth=3).encode(x=x, y="low:Q", y2="high:Q")
    dot = one.mark_point(shape="diamond", filled=True, size=170, fill=BLUE, stroke=PAPER, opacity=1)
    return bar + dot.encode(x=x, y="price:Q", tooltip=["sale:N", alt.Tooltip("price:Q", format=",.0f")])


def _in_words(sales: Sequence[Row]) -> list[dict[str, Any]]:
    return [{**row, "outcome": OUTCOMES.get(str(row["outcome"]), str(row["outcome"]))} for row in sales]


def price_by_date(sales: Sequence[Row], subject: Row | None, currency: str, money: Money) -> Chart:
    """Prices by the day of the sale.

    Parameters
    ----------
    sales : sequence of mapping
        ``sale``, ``date`` (ISO), ``price``, ``outcome``.
    subject : mapping or None
        ``sale`` (its name), ``date``, ``price`` (estimate), ``low``, ``high``.
    currency : str
    money : callable
        Writes an amount.
    """
    import altair as alt

    rows = [row for row in _in_words(sales) if row["date"]]
    x = alt.X("date:T", axis=alt.Axis(title="day of the sale"))
    picture = _sale_points(rows, x, currency)
    if subject is not None:
        picture = picture + _subject_mark(subject, x)
    days = sorted(str(row["date"]) for row in rows)
    span = f" from {days[0]} to {days[-1]}" if days else ""
    text = f"{len(rows)} prices{span}, by the day of the sale."
    return finish(
        picture,
        height=300,
        alt=text + _subject_words(subject, money),
        columns=("sale", "day", "price", "outcome"),
        rows=[(str(r["sale"]), str(r["date"]), money(float(r["price"])), str(r["outcome"])) for r in rows],
    )


def price_by_level(
    sales: Sequence[Row], title: str, levels: Sequence[str], subject: Row | None, currency: str, money: Money
) -> Chart:
    """Prices by the levels of one attribute.

    Parameters
    ----------
    sales, subject, currency, money
        As for :func:`price_by_date`, each row with a ``level``.
    title : str
        Of the attribute.
    levels : sequence of str
        In order.
    """
    import altair as alt

    rows = [{**row, "lane": str(i * 7 % 9)} for i, row in enumerate(r for r in _in_words(sales) if r.get("level"))]
    x = alt.X(
        "level:N", sort=list(levels), scale=alt.Scale(domain=list(levels)), axis=alt.Axis(title=title, labelAngle=0)
    )
    lanes = alt.XOffset("lane:N", scale=alt.Scale(domain=[str(lane) for lane in range(9)]))
    picture = _sale_points(rows, x, currency).encode(xOffset=lanes)
    if subject is not None and subject.get("level"):
        picture = picture + _subject_mark(subject, x)
    counts = {level: [float(row["price"]) for row in rows if row["level"] == level] for level in levels}
    table = [
        (level, str(len(found)), money(min(found)) if found else "", money(max(found)) if found else "")
        for level, found in counts.items()
    ]
    text = f"{len(rows)} prices by {title.casefold()}, from {levels[0]} to {levels[-1]}." if levels else "No prices."
    return finish(
        picture,
        height=300,
        alt=text + _subject_words(subject, money),
        columns=(title, "prices", "lowest", "highest"),
        rows=table,
    )


def _subject_words(subject: Row | None, money: Money) -> str:
    if subject is None:
        return ""
    low, high = money(float(subject["low"])), money(float(subject["high"]))
    return f" {subject['sale']} is estimated at {money(float(subject['price']))}, between {low} and {high}."


def estimate_picture(
    curve: Sequence[Row], interval: Row, median: float, neighbours: Sequence[Row], currency: str, money: Money
) -> Chart:
    """The estimate, its interval and the adjusted prices of the nearest sales as one picture.

    Parameters
    ----------
    curve : sequence of mapping
        ``amount``, ``odds_below``, ``height`` along the predictive distribution.
    interval : mapping
        ``coverage``, ``low``, ``high``.
    median : float
        The estimate.
    neighbours : sequence of mapping
        ``sale``, ``adjusted_price`` of the adjustment grid.
    currency : str
    money : callable
    """
    import altair as alt

    low, high, share = float(interval["low"]), float(interval["high"]), 100 * float(interval["coverage"])
    x = alt.X("amount:Q", axis=axis_of_money("what the buyer pays", currency, grid=False), scale=alt.Scale(zero=False))
    y = alt.Y("height:Q", axis=no_axis(), scale=alt.Scale(domain=[-0.16, 1.18]))
    inside = [row for row in curve if low <= float(row["amount"]) <= high]
    whole = alt.Chart(data(curve)).mark_area(fill=WASH, stroke=RULE).encode(x=x, y=y, y2=alt.datum(0))
    within = alt.Chart(data(inside)).mark_area(fill=BLUE, opacity=0.32).encode(x=x, y=y, y2=alt.datum(0))
    middle = alt.Chart(data([{"amount": median, "height": 1.06, "label": money(median)}]))
    line = middle.mark_rule(color=BLUE, strokeWidth=2.5).encode(x=x, y=y, y2=alt.datum(0))
    ends = [{"amount": end, "label": money(end)} for end in (low, high)]
    labels = (
        alt.Chart(data(ends)).mark_text(dy=-6, color=INK, fontSize=12).encode(x=x, y=alt.datum(0.36), text="label:N")
    )
    sticks = (
        alt.Chart(data(ends)).mark_rule(color=BLUE, strokeDash=[4, 3]).encode(x=x, y=alt.datum(0.34), y2=alt.datum(0))
    )
    name = middle.mark_text(dy=-9, color=INK, fontSize=16, fontWeight="bold").encode(x=x, y=y, text="label:N")
    picture = whole + within + sticks + line + name + labels
    if neighbours:
        near = [{"sale": row["sale"], "amount": row["adjusted_price"]} for row in neighbours]
        dots = alt.Chart(data(near)).mark_point(shape="triangle-up", filled=True, fill=INK, size=60, opacity=0.8)
        picture = picture + dots.encode(
            x=x, y=alt.datum(-0.08), tooltip=["sale:N", alt.Tooltip("amount:Q", format=",.0f")]
        )
    words = (
        f"The estimate is {money(median)}. {share:g} in 100 such sales are expected between {money(low)} and "
        f"{money(high)}."
    )
    if neighbours:
        words += f" Triangles: the {len(neighbours)} nearest sales, adjusted to this vehicle."
    marks = [p for p in curve if any(abs(float(p["odds_below"]) - q) < 0.02 for q in (0.1, 0.25, 0.5, 0.75, 0.9))]
    return finish(
        picture,
        height=210,
        alt=words,
        columns=("price", "chance of less"),
        rows=[(money(float(p["amount"])), f"{100 * float(p['odds_below']):.0f} %") for p in marks],
    )


def effects_picture(base: float, factors: Sequence[Row], median: float, currency: str, money: Money) -> Chart:
    """From the average vehicle of the table to the estimate, one factor after another.

    Parameters
    ----------
    base : float
        Price of the table's average vehicle.
    factors : sequence of mapping
        ``title``, ``level``, ``factor``; times ``base`` their product is ``median``.
    median : float
    currency : str
    money : callable
    """
    import altair as alt

    rows: list[dict[str, Any]] = [{"name": "average of the table", "start": base, "end": base, "kind": "total"}]
    at = base
    for factor in factors:
        level = f": {factor['level']}" if factor["level"] else ""
        times = float(factor["factor"])
        rows.append(
            {"name": f"{factor['title']}{level}", "start": at, "end": at * times, "label": f"× {times:.2f}",
             "kind": "raises" if times >= 1 else "lowers"}
        )  # fmt: skip
        at *= times
    rows.append({"name": "estimate", "start": median, "end": median, "kind": "total"})
    order = [row["name"] for row in rows]
    for row in rows:
        row["label"] = row.get("label", money(row["end"]))
        row["right"] = max(row["start"], row["end"])
    y = alt.Y("name:N", sort=order, axis=alt.Axis(title=None, labelColor=INK, domain=False, ticks=False))
    lows, highs = min(r["start"] for r in rows), max(r["right"] for r in rows)
    x = alt.X(
        "start:Q",
        scale=alt.Scale(type="log", domain=[lows * 0.92, highs * 1.16], nice=False),
        axis=axis_of_money("price so far", currency),
    )
    steps = [row for row in rows if row["kind"] != "total"]
    colours = alt.Color("kind:N", scale=alt.Scale(domain=["raises", "lowers"], range=[BLUE, CLAY]))
    bars = alt.Chart(data(steps)).mark_bar(height=13).encode(
        x=x, x2="end:Q", y=y, color=colours, tooltip=["name:N", "label:N", alt.Tooltip("end:Q", format=",.0f")]
    )  # fmt: skip
    totals = alt.Chart(data([row for row in rows if row["kind"] == "total"]))
    ends = totals.mark_point(shape="diamond", filled=True, size=130, fill=INK, opacity=1).encode(x=x, y=y)
    labels = alt.Chart(data(rows)).mark_text(align="left", dx=8, color=INK, fontSize=12)
    return finish(
        bars + ends + labels.encode(x=alt.X("right:Q"), y=y, text="label:N"),
        height=26 * len(rows),
        alt=f"From {money(base)}, the average of the table, to the estimate of {money(median)}: the parts multiply.",
        columns=("part", "multiplies by", "price so far"),
        rows=[
            (str(row["name"]), str(row["label"]) if row["kind"] != "total" else "", money(row["end"])) for row in rows
        ],
    )


def influence_picture(influences: Sequence[Row], currency: str, money: Money, most: int = 10) -> Chart:
    """What the estimate would lose or gain without each of the sales that move it most.

    Parameters
    ----------
    influences : sequence of mapping
        ``sale``, ``change`` (money: above 0 when the sale holds the estimate up), ``estimate_without``.
    currency : str
    money : callable
    most : int
        How many are shown.
    """
    import altair as alt

    rows = sorted(influences, key=lambda row: -abs(float(row["change"])))[:most]
    shown = [{**row, "kind": "holds it up" if float(row["change"]) >= 0 else "holds it down"} for row in rows]
    bars = alt.Chart(data(shown)).mark_bar(height=13).encode(
        x=alt.X("change:Q", axis=axis_of_money("what the sale adds to the estimate", currency)),
        y=alt.Y("sale:N", sort=[str(row["sale"]) for row in rows], axis=alt.Axis(title=None, labelColor=INK)),
        color=alt.Color("kind:N", scale=alt.Scale(domain=["holds it up", "holds it down"], range=[BLUE, CLAY])),
        tooltip=["sale:N", alt.Tooltip("change:Q", format=",.0f"), alt.Tooltip("estimate_without:Q", format=",.0f")],
    )  # fmt: skip
    first = (
        f" Most: {rows[0]['sale']}, without which the estimate is {money(float(rows[0]['estimate_without']))}."
        if rows
        else ""
    )
    return finish(
        bars,
        height=24 * max(len(rows), 2),
        alt=f"How far each of the {len(rows)} sales that matter most moves the estimate.{first}",
        columns=("without this sale", "the estimate is", "change"),
        rows=[(str(r["sale"]), money(float(r["estimate_without"])), money(-float(r["change"]))) for r in rows],
    )


def track_picture(pairs: Sequence[Row], currency: str, money: Money) -> Chart:
    """Each realised price against the interval stated before the sale, oldest sale first.

    Parameters
    ----------
    pairs : sequence of mapping
        ``subject``, ``sold_on``, ``price``, ``median``, ``low``, ``high`` (an open side is ``None``).
    currency : str
    money : callable
    """
    import altair as alt

    rows = [
        {**pair, "name": f"{pair['subject']}, {pair['sold_on']}", "low": pair["low"] or pair["median"],
         "high": pair["high"] or pair["median"], "kind": "inside" if pair["inside"] else "outside"}
        for pair in pairs
    ]  # fmt: skip
    y = alt.Y("name:N", sort=[row["name"] for row in rows], axis=alt.Axis(title=None, labelColor=INK))
    x = alt.X("low:Q", scale=alt.Scale(zero=False), axis=axis_of_money("price", currency))
    base = alt.Chart(data(rows))
    bars = base.mark_rule(strokeWidth=8, color=RULE, strokeCap="round").encode(x=x, x2="high:Q", y=y)
    middle = base.mark_tick(color=FAINT, thickness=2, size=16).encode(x="median:Q", y=y)
    dots = base.mark_point(filled=True, size=110, opacity=1, stroke=PAPER).encode(
        x="price:Q",
        y=y,
        shape=alt.Shape("kind:N", scale=alt.Scale(domain=["inside", "outside"], range=["circle", "diamond"])),
        fill=alt.Fill("kind:N", scale=alt.Scale(domain=["inside", "outside"], range=[BLUE, CLAY])),
        tooltip=["name:N", alt.Tooltip("price:Q", format=",.0f"), alt.Tooltip("median:Q", format=",.0f")],
    )
    inside = sum(row["kind"] == "inside" for row in rows)
    return finish(
        bars + middle + dots,
        height=34 * max(len(rows), 2),
        alt=f"Of {len(rows)} sales, {inside} fell inside the interval stated before the sale.",
        columns=("vehicle and day", "estimate", "from", "to", "sold for", "inside"),
        rows=[
            (str(r["name"]), money(r["median"]), money(r["low"]), money(r["high"]), money(r["price"]), str(r["kind"]))
            for r in rows
        ],
    )
