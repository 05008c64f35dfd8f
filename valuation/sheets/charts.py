"""Charts of an estimate: pure functions from plain summaries to pictures with their table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from valuation.evidence.subject import SALE_DATE
from valuation.sheets.chart_layout import fitted, spots, text_width
from valuation.sheets.chart_style import (
    BLUE,
    INK,
    OUTCOMES,
    PAPER,
    RULE,
    SHAPES,
    WASH,
    Canvas,
    Chart,
    Frame,
    Money,
    Row,
    finish,
    priced,
    range_words,
    sentence,
    share_words,
)

_MOST_PARTS = 8
"""Steps of the ladder; what moves less is one step together."""
_FAINTEST = 0.004
"""A density below this share of its peak is not drawn: it would be thinner than the line."""


def estimate_picture(
    curve: Sequence[Row], interval: Row, median: float, grid: Sequence[Row], currency: str, money: Money
) -> Chart:
    """The distribution of the price, the range that is stated, and the nearest sales under it.

    Parameters
    ----------
    curve : sequence of mapping
        ``amount``, ``odds_below``, ``height`` along the predictive distribution.
    interval : mapping
        ``coverage``, ``low``, ``high``.
    median : float
        The estimate.
    grid : sequence of mapping
        The adjustment grid: ``sale``, ``outcome``, ``adjusted_price``.
    currency : str
    money : callable
    """
    low, high, share = float(interval["low"]), float(interval["high"]), share_words(float(interval["coverage"]))
    near = [(n, row) for n, row in enumerate(grid, start=1) if float(row["adjusted_price"]) > 0]

    def draw(frame: Frame) -> Canvas:
        ends = max(low, float(curve[0]["amount"])), min(high, float(curve[-1]["amount"]))
        shown = with_points([p for p in curve if float(p["height"]) >= _FAINTEST], ends)
        amounts = [*(float(p["amount"]) for p in shown), *(float(row["adjusted_price"]) for _, row in near)]
        room = text_width(money(high), frame.letters) + 8
        left, right = _room_for(min(amounts), max(amounts), ends, room / frame.width)
        canvas = frame.even_ground(left, right, priced("what the buyer pays", currency))
        tall = 150 if frame.beside else 120
        top = canvas.line + 14
        foot = top + tall
        put_density(canvas, shown, top, foot, WASH)
        inside = [p for p in shown if ends[0] <= float(p["amount"]) <= ends[1]]
        put_density(canvas, inside, top, foot, BLUE, opacity=0.3)
        canvas.rule(median, top - 6, median, foot, BLUE, 2.5)
        canvas.centred(median, top - 6 - canvas.line / 2, money(median), bold=True, size=frame.letters + 4)
        for end, side, dx in zip(ends, ("right", "left"), (-6, 6), strict=True):
            at = foot - height_at(shown, end) * tall
            canvas.rule(end, at, end, foot, BLUE, 1.5)
            if 0 < end < math.inf and end in (low, high):
                canvas.words(end, at - canvas.line / 2, money(end), side, dx=dx, halo=True)  # type: ignore[arg-type]
        middle, end = canvas.across.px(median), canvas.across.px(ends[1])
        if text_width(share, frame.letters) + 8 < end - middle:
            canvas.words(canvas.across.value((middle + end) / 2), foot - canvas.line * 0.7, share, "center")
        canvas.height = foot + 4
        _put_nearest(canvas, near, money)
        return canvas

    said = f"The estimate is {money(median)}: half of such sales end above it."
    if near:
        said += f" Numbered marks: the {len(near)} nearest sales, adjusted to this vehicle, as the grid numbers them."
    marks = [p for p in curve if any(abs(float(p["odds_below"]) - q) < 0.02 for q in (0.1, 0.25, 0.5, 0.75, 0.9))]
    return finish(
        draw,
        title=f"{sentence(share)} such sales end {range_words(low, high, money)}",
        alt=said,
        columns=("price", "chance of less"),
        rows=[(money(float(p["amount"])), f"{100 * float(p['odds_below']):.0f} %") for p in marks],
    )


def _room_for(low: float, high: float, ends: tuple[float, float], share: float) -> tuple[float, float]:
    """The ends of a scale that leaves a share of itself on either side of a range, and never goes under 0."""
    left = min(low, (ends[0] - share * high) / (1 - share)) if share < 1 else low
    right = max(high, (ends[1] - share * left) / (1 - share)) if share < 1 else high
    return max(left, 0.0), right


def with_points(curve: Sequence[Row], amounts: Sequence[float]) -> list[Row]:
    """A curve with points at exactly these amounts, where it reaches so far.

    Parameters
    ----------
    curve : sequence of mapping
        ``amount``, ``odds_below``, ``height``, rising.
    amounts : sequence of float
    """
    found = [dict(point) for point in curve]
    for amount in amounts:
        at = next((i for i, point in enumerate(found) if float(point["amount"]) >= amount), 0)
        if at == 0 or float(found[at]["amount"]) == amount:
            continue
        before, after = found[at - 1], found[at]
        share = (amount - before["amount"]) / (after["amount"] - before["amount"])
        between = {key: before[key] + share * (after[key] - before[key]) for key in ("odds_below", "height")}
        found.insert(at, {"amount": amount, **between})
    return [*found]


def height_at(curve: Sequence[Row], amount: float) -> float:
    """The height of a curve that has a point at the amount; 0 where it has none.

    Parameters
    ----------
    curve : sequence of mapping
        ``amount``, ``height``.
    amount : float
    """
    return next((float(point["height"]) for point in curve if float(point["amount"]) == amount), 0.0)


def put_density(canvas: Canvas, curve: Sequence[Row], top: float, foot: float, fill: str, **style: Any) -> None:
    """Draw a curve whose height 1 is at ``top``.

    Parameters
    ----------
    canvas : Canvas
    curve : sequence of mapping
        ``amount``, ``height``.
    top, foot : float
        Pixels.
    fill : str
    **style : Any
        Of the mark.
    """
    points = [(float(point["amount"]), foot - float(point["height"]) * (foot - top)) for point in curve]
    canvas.area(points, foot, fill=fill, **style)


def _put_nearest(canvas: Canvas, near: Sequence[tuple[int, Row]], money: Money) -> None:
    """The nearest sales in rows under the curve, each numbered as in the grid."""
    if not near:
        return
    size, across = canvas.letters, canvas.across
    order = sorted(near, key=lambda one: float(one[1]["adjusted_price"]))
    places = [(across.px(float(row["adjusted_price"])), f"00{number}") for number, row in order]
    top = canvas.height + canvas.line * 0.6
    standing = spots(places, size, -canvas.left, across.room + canvas.right, -size, ("left",))
    for (number, row), spot in zip(order, standing, strict=True):
        price, outcome = float(row["adjusted_price"]), str(row.get("outcome", "sold"))
        y = top + spot.row * canvas.line
        said = f"{number}. {row['sale']}: {money(price)}, {OUTCOMES.get(outcome, outcome)}"
        canvas.mark(price, y, SHAPES.get(outcome, "circle"), 60, INK, PAPER, said)
        canvas.words(price, y, str(number), dx=8)
    canvas.height = top + (max(spot.row for spot in standing) + 0.5) * canvas.line
    canvas.words(across.low, canvas.height + canvas.line / 2, "the nearest sales, adjusted", faint=True)
    canvas.height += canvas.line + 2


def effects_picture(base: float, factors: Sequence[Row], median: float, currency: str, money: Money) -> Chart:
    """A ladder from the average vehicle of the table to this one, the largest step first.

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
    steps = _steps(base, factors)

    def draw(frame: Frame) -> Canvas:
        reach = [base, median, *(step["end"] for step in steps)]
        names = ["the table's average vehicle", *(step["name"] for step in steps), "this vehicle"]
        left = name_room(frame, names)
        axis = priced("price so far", currency, log=True)
        canvas = frame.log_ground([min(reach), max(reach) * 1.001], axis, left)
        put_total(canvas, frame, names[0], base, money(base), INK)
        for step in steps:
            y = put_name(canvas, frame, step["name"])
            start, end = step["start"], step["end"]
            canvas.rule(start, y - 9, start, y, RULE, 1)
            canvas.rule(start, y, end, y, INK, 3)
            canvas.mark(end, y, "triangle-right" if end >= start else "triangle-left", 75, INK, INK)
            put_beside(canvas, max(start, end), min(start, end), y, step["label"])
        put_total(canvas, frame, names[-1], median, money(median), BLUE)
        return canvas

    most = max(factors, key=_size, default=None)
    counts = f"; {_lower(str(most['title']))} counts most (× {float(most['factor']):.2f})" if most else ""
    rows = [("average of the table", "", money(base))]
    at = base
    for factor in factors:
        at *= float(factor["factor"])
        rows.append((_part_name(factor), f"× {float(factor['factor']):.2f}", money(at)))
    return finish(
        draw,
        title=f"From an average of {money(base)} to {money(median)}{counts}",
        alt=f"The parts multiply from {money(base)}, the average vehicle of the table, to the estimate of "
        f"{money(median)}.",
        columns=("part", "multiplies by", "price so far"),
        rows=[*rows, ("estimate", "", money(median))],
    )


def _part_name(factor: Row) -> str:
    level = "" if factor.get("attribute") == SALE_DATE else factor["level"]  # the day of the estimate, said above
    return f"{factor['title']}: {level}" if level else str(factor["title"])


def _size(factor: Row) -> float:
    return abs(math.log(float(factor["factor"])))


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _steps(base: float, factors: Sequence[Row]) -> list[dict[str, Any]]:
    """The largest steps first, the rest as one."""
    named = [(_part_name(factor), float(factor["factor"])) for factor in sorted(factors, key=_size, reverse=True)]
    if len(named) > _MOST_PARTS:
        rest = math.prod(times for _, times in named[_MOST_PARTS - 1 :])
        named = [*named[: _MOST_PARTS - 1], ("everything else", rest)]
    steps, at = [], base
    for name, times in named:
        steps.append({"name": name, "start": at, "end": at * times, "label": f"× {times:.2f}"})
        at *= times
    return steps


def influence_picture(influences: Sequence[Row], median: float, currency: str, money: Money, most: int = 10) -> Chart:
    """What the estimate would be without each of the sales that move it most.

    Parameters
    ----------
    influences : sequence of mapping
        ``sale``, ``change`` (money: above 0 when the sale holds the estimate up), ``estimate_without``.
    median : float
        The estimate.
    currency : str
    money : callable
    most : int
        How many are shown.
    """
    rows = sorted(influences, key=lambda row: -abs(float(row["change"])))[:most]

    def draw(frame: Frame) -> Canvas:
        without = [float(row["estimate_without"]) for row in rows]
        span = max(abs(value - median) for value in without) or abs(median) / 100
        left = name_room(frame, [str(row["sale"]) for row in rows])
        axis = priced("the estimate without that sale", currency)
        canvas = frame.even_ground(median - 1.6 * span, median + 1.6 * span, axis, left)
        top = canvas.line
        canvas.centred(median, canvas.line / 2, f"with all sales {money(median)}", bold=True)
        canvas.height = top + 4
        for row, value in zip(rows, without, strict=True):
            y = put_name(canvas, frame, str(row["sale"]))
            canvas.rule(median, y, value, y, INK, 3)
            said = f"{row['sale']}: without it {money(value)}"
            canvas.mark(value, y, "triangle-right" if value >= median else "triangle-left", 75, INK, INK, said)
            put_beside(canvas, max(value, median), min(value, median), y, money(value), right=value >= median)
        canvas.rule(median, top + 2, median, canvas.height, BLUE, 2)
        return canvas

    first = rows[0] if rows else None
    title = (
        f"Without {fitted(str(first['sale']), 1, 40)} the estimate would be {money(float(first['estimate_without']))}; "
        "no other sale moves it more"
        if first
        else "No sale moves the estimate"
    )
    return finish(
        draw,
        title=title,
        alt=f"How far each of the {len(rows)} sales that matter most moves the estimate of {money(median)}.",
        columns=("without this sale", "the estimate is", "change"),
        rows=[(str(r["sale"]), money(float(r["estimate_without"])), money(-float(r["change"]))) for r in rows],
    )


def name_room(frame: Frame, names: Sequence[str]) -> float:
    """Margin for names beside their marks, pixels; none where they stand above.

    Parameters
    ----------
    frame : Frame
    names : sequence of str
    """
    if not frame.beside:
        return 0.0
    return min(max(text_width(name, frame.letters) for name in names) + 12, 0.34 * frame.width)


def put_name(canvas: Canvas, frame: Frame, name: str) -> float:
    """Write the name of the next row and give the pixels down at which its mark stands.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    name : str
    """
    across = canvas.across
    if frame.beside:
        y = canvas.height + canvas.line * 0.75
        canvas.words(across.low, y, fitted(name, frame.letters, canvas.left - 10), "right", dx=-8)
        canvas.height = y + canvas.line * 0.75
        return y
    room = across.room + canvas.left + canvas.right
    canvas.words(across.low, canvas.height + canvas.line / 2, fitted(name, frame.letters, room), dx=-canvas.left)
    y = canvas.height + canvas.line * 1.45
    canvas.height = y + canvas.line * 0.6
    return y


def put_total(canvas: Canvas, frame: Frame, name: str, amount: float, said: str, colour: str) -> None:
    """A row that is a single mark with its amount.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    name : str
    amount : float
        Value across.
    said : str
        The amount as people read it.
    colour : str
    """
    y = put_name(canvas, frame, name)
    canvas.mark(amount, y, "diamond", 150, colour, colour)
    put_beside(canvas, amount, amount, y, said, bold=True)


def put_beside(
    canvas: Canvas, right_end: float, left_end: float, y: float, text: str, *, right: bool = True, bold: bool = False
) -> None:
    """Write a text beside a bar: at the end that is told where there is room, else at the other.

    Parameters
    ----------
    canvas : Canvas
    right_end, left_end : float
        Of the bar, values across.
    y : float
        Pixels down.
    text : str
    right : bool
    bold : bool
    """
    across, width = canvas.across, text_width(text, canvas.letters) + 11
    fits_right = across.px(right_end) + width <= across.room + canvas.right
    fits_left = across.px(left_end) - width >= -canvas.left * (canvas.left < width)
    if (right and fits_right) or not fits_left:
        canvas.words(right_end, y, text, "left", dx=11, bold=bold, halo=True)
    else:
        canvas.words(left_end, y, text, "right", dx=-11, bold=bold, halo=True)
