"""The chart of a vehicle's place among the comparables: prices along, levels up, the interval as a band."""

from __future__ import annotations

import math
from typing import Any

from valuation.sheets.chart_style import BLUE, INK, OUTCOMES, RULE, Chart, Money, data, finish, money_axis
from valuation.sheets.cleaning import shorten
from valuation.sheets.place import Place

NOT_SAID = "not said"
_SHAPES = {"sold": "circle", "bid_not_met": "triangle-right", "asking": "triangle-left"}
_GOLDEN = (math.sqrt(5) - 1) / 2
"""The golden ratio less 1: its multiples, taken modulo 1, spread points evenly and never fall together."""
_LANE = 44
"""Height of a level's row in pixels; chosen by eye."""
LONGEST_NAME = 26
"""Characters of a level's name; chosen by eye."""


def place_picture(place: Place, estimate: float, low: float, high: float, currency: str, money: Money) -> Chart:
    """Every comparable at its price in the row of its level, the vehicle among them.

    Parameters
    ----------
    place : Place
    estimate, low, high : float
        Of the vehicle, money; an end without limit runs off the picture.
    currency : str
    money : callable
        Writes an amount.
    """
    import altair as alt

    rows = _points(place)
    levels = _levels(place, rows)
    prices = [row["price"] for row in rows] + [end for end in (estimate, low, high) if 0 < end < math.inf]
    price_scale = alt.Scale(type="log", domain=[min(prices) / 1.08, max(prices) * 1.08], nice=False)
    ticks = round_figures(min(prices), max(prices))
    x = alt.X("price:Q", scale=price_scale, axis=money_axis("what the buyer pays", shorten(currency, 12), values=ticks))
    y = alt.Y(
        "level:N",
        scale=alt.Scale(domain=levels),
        axis=alt.Axis(title=shorten(place.title.lower(), LONGEST_NAME) or None, grid=False),
    )
    offset = alt.YOffset("spot:Q", scale=alt.Scale(domain=[-0.3, 1.3]))
    ends = {"low": max(low, min(prices) / 1.08), "high": min(high, max(prices) * 1.08)}
    own_level = shorten(place.own_group, LONGEST_NAME)
    own = [{"level": own_level if own_level in levels else levels[-1], "price": estimate, "spot": 0.5, **ends}]
    subject = alt.Chart(data(own))
    from_low = alt.X("low:Q", scale=price_scale)
    band = subject.mark_rect(color=BLUE, opacity=0.1).encode(x=from_low, x2="high:Q")
    middle = subject.mark_rule(color=BLUE, strokeWidth=1, strokeDash=[4, 3]).encode(x=x)
    dots = alt.Chart(data(rows)).mark_point(filled=True, size=38, opacity=0.9)
    points = dots.encode(
        x=x,
        y=y,
        yOffset=offset,
        color=alt.Color("alike:N", scale=alt.Scale(domain=[True, False], range=[INK, "#b3aa9b"]), legend=None),
        shape=alt.Shape("outcome:N", scale=alt.Scale(domain=list(_SHAPES), range=list(_SHAPES.values())), legend=None),
    )
    bar = subject.mark_rule(color=BLUE, strokeWidth=2.5).encode(x=from_low, x2="high:Q", y=y, yOffset=offset)
    mark = subject.mark_point(filled=True, size=200, shape="diamond", color=BLUE, stroke="white", opacity=1)
    frame = alt.Chart(data([{"level": level} for level in levels])).mark_rule(color=RULE, opacity=0.35).encode(y=y)
    return finish(
        band + frame + middle + points + bar + mark.encode(x=x, y=y, yOffset=offset),
        height=max(90, _LANE * len(levels)),
        alt=place_words(place, estimate, low, high, money),
        columns=("price", "how it came about", place.title.lower() or "group", "date"),
        rows=[
            (
                money(point.price),
                OUTCOMES.get(point.outcome, point.outcome),
                point.group or NOT_SAID,
                "undated" if point.date is None else point.date.isoformat(),
            )
            for point in sorted(place.points, key=lambda point: point.price)
        ],
    )


def round_figures(low: float, high: float) -> list[float]:
    """Round figures from low to high for a logarithmic axis, at least four where digits allow.

    Parameters
    ----------
    low : float
        Above 0.
    high : float

    Examples
    --------
    >>> round_figures(3000, 120000)
    [5000.0, 10000.0, 20000.0, 50000.0, 100000.0]
    """
    found: list[float] = []
    for digits in ((1, 2, 5), (1, 1.5, 2, 3, 5, 7), (1, 1.2, 1.4, 1.6, 1.8, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 9)):
        powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
        found = [digit * 10.0**power for power in powers for digit in digits if low <= digit * 10.0**power <= high]
        if len(found) >= 4:
            break
    return found


def _points(place: Place) -> list[dict[str, Any]]:
    """Points, each with a spot across its row that spreads them evenly and never changes."""
    return [
        {
            "price": point.price,
            "outcome": point.outcome,
            "level": shorten(point.group, LONGEST_NAME) or NOT_SAID,
            "alike": point.alike,
            "spot": (number * _GOLDEN) % 1,
        }
        for number, point in enumerate(place.points)
        if point.price > 0
    ]


def _levels(place: Place, rows: list[dict[str, Any]]) -> list[str]:
    """Rows of the picture from the top down: the highest level first, what is not said last."""
    seen = {row["level"] for row in rows} | {shorten(place.own_group, LONGEST_NAME)}
    names = dict.fromkeys(shorten(group, LONGEST_NAME) for group in reversed(place.groups))
    levels = [name for name in names if name and name in seen]
    return [*levels, *([NOT_SAID] if NOT_SAID in seen or not levels else [])]


def place_words(place: Place, estimate: float, low: float, high: float, money: Money) -> str:
    """What the picture says.

    Parameters
    ----------
    place : Place
    estimate, low, high : float
        Of the vehicle, money.
    money : Callable
        Writes an amount.
    """
    by = f" and {place.title.lower()}" if place.title else ""
    return (
        f"Chart of {len(place.points)} comparable sales by price{by}. The estimate, {money(estimate)}, is marked with "
        f"its interval from {money(low)} to {money(high)}."
    )
