"""Charts of sales: prices by the day on which they were paid, and prices against the ranges stated beforehand."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from statistics import quantiles

from valuation.sheets.chart_layout import Across, Align, figures, log_across, text_width
from valuation.sheets.chart_style import (
    BLUE,
    CLAY,
    FAINT,
    INK,
    OUTCOMES,
    PAPER,
    RULE,
    SHAPES,
    Canvas,
    Chart,
    Frame,
    Money,
    Row,
    finish,
    priced,
)
from valuation.sheets.charts import name_room, put_name
from valuation.text.locale import Locale
from valuation.year import DAYS_PER_YEAR

_KINDS = {"sold": "sold", "bid_not_met": "bid, not met", "asking": "asked"}
_MONTHS_UP_TO = 1.5
"""Years that sales may span for the axis to count months; longer ones are counted in years."""


def price_by_date(sales: Sequence[Row], subject: Row | None, currency: str, money: Money) -> Chart:
    """Prices as paid by the day of the sale.

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
    rows = [row for row in sales if row["date"] and float(row["price"]) > 0]
    marks = [*rows, *([subject] if subject is not None else [])]

    def draw(frame: Frame) -> Canvas:
        tall = 300.0 if frame.beside else 260.0
        ends = [float(subject[end]) for end in ("low", "high")] if subject is not None else []
        prices = [float(row["price"]) for row in marks] + [end for end in ends if 0 < end < math.inf]
        up = log_across(prices or [1.0, 10.0], tall, frame.letters, frame.locale.number)
        labels = figures(up.ticks, frame.locale.number)
        left = max(text_width(label, frame.letters) for label in labels) + 8
        canvas = _by_day(frame, [_day(row) for row in marks], left)
        title = priced("price as paid", currency, log=True)
        kinds = [kind for kind in SHAPES if any(row["outcome"] == kind for row in rows)]
        beside = text_width(title + "0".join(_KINDS[kind] for kind in kinds), frame.letters) + 90 < frame.width
        key = canvas.line / 2 if beside else canvas.line * 1.5
        top = key + canvas.line * 0.9
        canvas.words(canvas.across.low, canvas.line / 2, title, dx=-left, faint=True)
        for tick, label in zip(up.ticks, labels, strict=True):
            y = top + tall - up.px(tick)
            canvas.rule(canvas.across.low, y, canvas.across.high, y, RULE, 1, opacity=0.55)
            canvas.words(canvas.across.low, y, label, "right", dx=-6, faint=True)
        for row in rows:
            outcome = str(row["outcome"])
            said = f"{row['sale']}, {row['date']}: {money(float(row['price']))}, {OUTCOMES.get(outcome, outcome)}"
            canvas.mark(_day(row), top + tall - up.px(float(row["price"])), SHAPES.get(outcome, "circle"), 46, INK,
                        PAPER, said)  # fmt: skip
        if subject is not None:
            _put_subject(canvas, subject, up, top + tall, money)
        canvas.height = top + tall
        if len(kinds) > 1:
            _put_shapes(canvas, kinds, key)
        return canvas

    return finish(
        draw,
        title=_middle_half(rows, money),
        alt=f"{len(rows)} prices as paid, by the day of the sale{_span(rows)}." + _subject_words(subject, money),
        columns=("sale", "day", "price", "outcome"),
        rows=[
            (
                str(r["sale"]),
                str(r["date"]),
                money(float(r["price"])),
                OUTCOMES.get(str(r["outcome"]), str(r["outcome"])),
            )
            for r in rows
        ],
    )


def _day(row: Row) -> float:
    return float(dt.date.fromisoformat(str(row["date"])[:10]).toordinal())


def _by_day(frame: Frame, days: Sequence[float], left: float) -> Canvas:
    """A canvas over the days, with years or months as ticks."""
    first, last = min(days), max(days)
    margin = max((last - first) * 0.02, 1.0)
    low, high = first - margin, last + margin
    start, end = dt.date.fromordinal(int(low)), dt.date.fromordinal(int(high))
    yearly = (high - low) / DAYS_PER_YEAR > _MONTHS_UP_TO
    ticks = [dt.date(year, month, 1) for year in range(start.year, end.year + 1)
             for month in ((1,) if yearly else range(1, 13))]  # fmt: skip
    ticks = [day for day in ticks if low <= day.toordinal() <= high]
    written = [f"{day:%Y}" if yearly else f"{day:%Y-%m}" for day in ticks]
    room = frame.width - left - frame.letters * 2
    fit = max(1, int(room / (text_width("2026-11", frame.letters) + frame.letters)))
    step = max(1, math.ceil(len(ticks) / fit))
    labels = tuple(text if at % step == 0 else "" for at, text in enumerate(written))
    across = Across(low, high, room, False, tuple(float(day.toordinal()) for day in ticks), labels)
    return Canvas(across, frame.letters, "day of the sale", left, frame.letters * 2)


def _put_subject(canvas: Canvas, subject: Row, up: Across, foot: float, money: Money) -> None:
    day, price = _day(subject), float(subject["price"])
    low, high = max(float(subject["low"]), up.low), min(float(subject["high"]), up.high)
    canvas.rule(day, foot - up.px(low), day, foot - up.px(high), BLUE, 2.5)
    canvas.mark(day, foot - up.px(price), "diamond", 190, BLUE, PAPER, f"{subject['sale']}: {money(price)}")
    side: Align = "left" if canvas.across.px(day) < canvas.across.room / 2 else "right"
    dx = 12 if side == "left" else -12
    canvas.words(
        day, foot - up.px(price), f"this vehicle {money(price)}", side, dx=dx, bold=True, halo=True, color=BLUE
    )


def _put_shapes(canvas: Canvas, kinds: Sequence[str], y: float) -> None:
    """What the marks mean, on top at the right."""
    px = canvas.across.room + canvas.right
    for kind in reversed(kinds):
        px -= text_width(_KINDS[kind], canvas.letters) + 12
        canvas.mark(canvas.across.value(px), y, SHAPES[kind], 46, INK, PAPER)
        canvas.words(canvas.across.value(px), y, _KINDS[kind], dx=9, faint=True)
        px -= canvas.letters


def _middle_half(rows: Sequence[Row], money: Money) -> str:
    sold = sorted(float(row["price"]) for row in rows if row["outcome"] == "sold")
    if len(sold) < 4:
        return f"{len(rows)} prices{_span(rows)}"
    low, _, high = quantiles(sold, n=4)
    return f"Half of the {len(sold)} sales brought between {money(low)} and {money(high)}"


def _span(rows: Sequence[Row]) -> str:
    days = sorted(str(row["date"]) for row in rows)
    return f" from {days[0]} to {days[-1]}" if days else ""


def _subject_words(subject: Row | None, money: Money) -> str:
    if subject is None:
        return ""
    low, high = money(float(subject["low"])), money(float(subject["high"]))
    return f" {subject['sale']} is estimated at {money(float(subject['price']))}, between {low} and {high}."


def track_picture(pairs: Sequence[Row], currency: str, money: Money) -> Chart:
    """Each price against the range stated before the sale, the oldest sale first.

    Parameters
    ----------
    pairs : sequence of mapping
        ``subject``, ``sold_on``, ``price``, ``median``, ``low``, ``high`` (an open side is ``None``), ``inside``.
    currency : str
    money : callable
    """
    rows = sorted(pairs, key=lambda pair: str(pair["sold_on"]))
    inside = sum(bool(row["inside"]) for row in rows)

    def draw(frame: Frame) -> Canvas:
        reach = [float(row[key]) for row in rows for key in ("price", "median", "low", "high") if row[key]]
        names = [f"{_told_day(row, frame.locale)}, {row['subject']}" for row in rows]
        axis = priced("price", currency, log=True)
        canvas = frame.log_ground(
            [one for one in reach if one < math.inf] or [1.0, 10.0], axis, name_room(frame, names)
        )
        _put_track_key(canvas, outside=inside < len(rows))
        for name, row in zip(names, rows, strict=True):
            y = put_name(canvas, frame, name)
            low, high = row["low"] or canvas.across.low, min(row["high"] or math.inf, canvas.across.high)
            canvas.rule(low, y, high, y, RULE, 7, strokeCap="butt")
            canvas.rule(row["median"], y - 7, row["median"], y + 7, FAINT, 2)
            said = f"{name}: {money(float(row['price']))}, stated {money(low)} to {money(high)}"
            shape, fill = ("circle", INK) if row["inside"] else ("diamond", CLAY)
            canvas.mark(float(row["price"]), y, shape, 70 if row["inside"] else 120, fill, PAPER, said)
        return canvas

    return finish(
        draw,
        title=f"{inside} of {len(rows)} sales ended inside the range stated before the sale"
        if len(rows) > 1
        else f"The one sale ended {'inside' if inside else 'outside'} the range stated before it",
        alt="Each line is a stated range, its stroke the estimate, its mark what the vehicle brought; the oldest sale "
        "on top.",
        columns=("vehicle and day", "estimate", "from", "to", "sold for", "inside"),
        rows=[
            (
                f"{r['subject']}, {r['sold_on']}",
                money(r["median"]),
                money(r["low"]) if r["low"] else "no limit",
                money(r["high"]) if r["high"] else "no limit",
                money(r["price"]),
                "inside" if r["inside"] else "outside",
            )
            for r in rows
        ],
    )


def _told_day(row: Row, locale: Locale) -> str:
    told = str(row["sold_on"])
    return locale.date(dt.date.fromisoformat(told)) if told[:1].isdigit() else told


def _put_track_key(canvas: Canvas, *, outside: bool) -> None:
    """What line, stroke and marks mean."""
    entries = [("range", "stated"), ("circle", "sold inside"), *([("diamond", "sold outside")] if outside else [])]
    at, y = -canvas.left, canvas.line / 2
    for shape, text in entries:
        x = canvas.across.value(at + 9)
        if shape == "range":
            canvas.rule(canvas.across.value(at), y, canvas.across.value(at + 18), y, RULE, 7, strokeCap="butt")
            canvas.rule(x, y - 7, x, y + 7, FAINT, 2)
        else:
            canvas.mark(x, y, shape, 70 if shape == "circle" else 120, INK if shape == "circle" else CLAY, PAPER)
        canvas.words(x, y, text, dx=13, faint=True)
        at += 24 + text_width(text, canvas.letters) + canvas.letters
    canvas.height = canvas.line + 6
