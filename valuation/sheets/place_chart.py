"""The chart of a vehicle's place among the comparables: prices across, a lane for each level, the best on top.

Prices run across as in every chart of a price, so that names of levels of any length have room, on a telephone too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median as middle_of

from valuation.sheets.chart_layout import Align, fitted, spots, text_width
from valuation.sheets.chart_style import (
    BLUE,
    FAINT,
    INK,
    PAPER,
    RULE,
    SHAPES,
    Canvas,
    Chart,
    Frame,
    Money,
    finish,
    priced,
)
from valuation.sheets.charts import name_room
from valuation.sheets.cleaning import shorten
from valuation.sheets.place import Place, Point, outcome_words
from valuation.text.language import ENGLISH, Said, language, retold, say
from valuation.text.locale import Locale

NOT_SAID = "not said"
_GOLDEN = (math.sqrt(5) - 1) / 2
"""The golden ratio less 1: its multiples, taken modulo 1, spread points evenly and never fall together."""
_RING = 8.0
"""Radius of the ring around a sale of the grid, pixels."""
LONGEST_NAME = 40
"""Characters of a name in a title or the key; chosen by eye."""


def place_picture(
    place: Place,
    locale: Locale,
    currency: str = "",
    *,
    estimate: float = 0.0,
    low: float = 0.0,
    high: float = math.inf,
    day: str = "",
) -> Chart:
    """Every comparable at its price in the lane of its level, the vehicle among them where there is one.

    Parameters
    ----------
    place : Place
    locale : Locale
    currency : str
    estimate, low, high : float
        Of the vehicle, money; an end without limit runs off the picture. No vehicle where the estimate is 0.
    day : str
        To which prices are brought, as people read it; empty where they stand as paid.
    """
    about = locale.about
    points = [point for point in place.points if point.shown > 0]

    def draw(frame: Frame) -> Canvas:
        reach = [point.shown for point in points] + [end for end in (estimate, low, high) if 0 < end < math.inf]
        what = say("price as paid")
        if place.brought and day:
            what = say("price at the level of {day}", day=Said(day))
        counts = {
            level: sum((point.group or NOT_SAID) == level for point in points)
            for level in _levels(place, points, own=bool(estimate))
        }
        names = (
            {level: f"{_lane_name(place, level)}: {count}" for level, count in counts.items()} if place.groups else {}
        )
        left = name_room(frame, list(names.values())) if names else 0.0
        canvas = frame.log_ground(reach or [1.0, 10.0], priced(what, currency, log=True), left)
        _put_key(canvas, place, points)
        ends = max(low, canvas.across.low), min(high, canvas.across.high)
        if estimate:
            _put_ends(canvas, [(end, about(end)) for end in (low, high) if 0 < end < math.inf])
        band = canvas.band(ends[0], canvas.height, ends[1], 0.0, BLUE, opacity=0.1) if estimate else {}
        for level in counts:
            if names:
                _put_lane(canvas, frame, names[level])
            _put_points(canvas, [point for point in points if (point.group or NOT_SAID) == level], place, about)
            if estimate and level == (place.own_group or NOT_SAID):
                _put_vehicle(canvas, estimate, ends, about(estimate))
        band["y2"] = canvas.height
        return canvas

    return finish(
        draw,
        title=_finding(place, points, estimate, day, locale),
        alt=place_words(place, estimate, low, high, locale, day),
        columns=_columns(place, day),
        rows=[_cells(place, point, locale) for point in sorted(place.points, key=lambda point: point.shown)],
    )


def _columns(place: Place, day: str) -> tuple[str, ...]:
    brought = (f"brought to {day}",) if place.brought else ()
    return "price as paid", *brought, "how it came about", place.title.lower() or "group", "date", "in the grid"


def _cells(place: Place, point: Point, locale: Locale) -> tuple[str, ...]:
    return (
        locale.money(point.price),
        *((locale.money(point.today),) if place.brought else ()),
        outcome_words(point.outcome),
        shorten(point.group) or NOT_SAID,
        locale.date(point.date),
        str(point.number or ""),
    )


def _finding(place: Place, points: Sequence[Point], estimate: float, day: str, locale: Locale) -> str:
    """How many of the sales most like the vehicle brought more; without a vehicle how far the levels lie apart."""
    like, sold = place.like_it()
    if estimate:
        more = sum(point.shown > estimate for point in sold)
        figures = {
            "more": locale.number(more),
            "sold": locale.number(len(sold)),
            "price": locale.about(estimate),
            "like": Said(shorten(like, 2 * LONGEST_NAME)),
            "day": Said(day),
        }
        if place.brought and day:
            if like:
                return say("{more} of {sold} sales like it ({like}) brought more than {price} at the prices of {day}",
                           **figures)  # fmt: skip
            return say("{more} of {sold} sales brought more than {price} at the prices of {day}", **figures)
        if like:
            return say("{more} of {sold} sales like it ({like}) brought more than {price}", **figures)
        return say("{more} of {sold} sales brought more than {price}", **figures)
    sold = [point for point in points if point.outcome == "sold"]
    by_level = [(level, [p.shown for p in sold if p.group == level]) for level in place.groups]
    held = [(shorten(level, LONGEST_NAME), locale.about(middle_of(prices))) for level, prices in by_level if prices]
    if len(held) > 1:
        (least, low), (best, high) = held[0], held[-1]
        return f"Half of the sales brought more than {low} ({least}) to {high} ({best})"
    return f"{len(points)} prices by {place.title.lower()}" if place.title else f"{len(points)} prices"


def _levels(place: Place, points: Sequence[Point], *, own: bool) -> list[str]:
    """Lanes from the top down: the highest level first, what is not said last."""
    seen = {point.group or NOT_SAID for point in points} | ({place.own_group or NOT_SAID} if own else set())
    known = [level for level in dict.fromkeys(reversed(place.groups)) if level in seen]
    return [*known, *sorted(seen - set(known) - {NOT_SAID}), *([NOT_SAID] if NOT_SAID in seen or not seen else [])]


def _put_key(canvas: Canvas, place: Place, points: Sequence[Point]) -> None:
    """What the marks mean, as far as there are several kinds of them."""
    outcomes = [name for name in SHAPES if any(point.outcome == name for point in points)]
    entries = [(SHAPES[name], True, outcome_words(name)) for name in outcomes if len(outcomes) > 1]
    if place.alike and any(point.alike for point in points) and not all(point.alike for point in points):
        families = [("circle", True, shorten(place.alike, LONGEST_NAME)), ("circle", False, say("others"))]
        entries = [*families, *(entry for entry in entries if entry[0] != "circle")]
    if any(point.number for point in points):
        entries.append(("ring", True, say("nearest sales, numbered as in the grid")))
    room, at, step = canvas.across.room + canvas.left + canvas.right, 0.0, canvas.line
    for shape, own, text in entries:
        text = fitted(text, canvas.letters, room - 20)
        width = 17 + text_width(text, canvas.letters) + canvas.letters
        if at and at + width - canvas.letters > room:
            at, canvas.height = 0.0, canvas.height + step
        y, x = canvas.height + step / 2, canvas.across.value(at + 7 - canvas.left)
        if shape == "ring":
            canvas.mark(x, y, "circle", 150, "transparent", INK)
        else:
            canvas.mark(x, y, shape, 46, INK if own else "transparent", PAPER if own else FAINT)
        canvas.words(x, y, text, dx=12, faint=True)
        at += width
    canvas.height += step + 4 if entries else 0


def _put_ends(canvas: Canvas, ends: Sequence[tuple[float, str]]) -> None:
    """The ends of the vehicle's range, written over the band at its ends."""
    places = [(canvas.across.px(end), text) for end, text in ends]
    edge = canvas.across.room + canvas.right
    outward: list[tuple[Align, ...]] = [("right", "left", "center"), ("left", "right", "center")]
    standing = [
        spots([at], canvas.letters, -canvas.left, edge, 4, sides)[0] for at, sides in zip(places, outward, strict=False)
    ]
    for (end, text), spot in zip(ends, standing, strict=True):
        canvas.words(
            end, canvas.height + canvas.line / 2, text, spot.align, dx={"left": 4, "right": -4, "center": 0}[spot.align]
        )
    canvas.height += canvas.line


def _lane_name(place: Place, level: str) -> str:
    return say("not said") if level == NOT_SAID else retold(level)


def _put_lane(canvas: Canvas, frame: Frame, name: str) -> None:
    """The line on top of a lane and its name: in the margin, or on a telephone above the lane."""
    across, size = canvas.across, canvas.letters
    canvas.rule(across.low, canvas.height, across.high, canvas.height, RULE, 1)
    room = canvas.left - 10 if frame.beside else across.room + canvas.left + canvas.right
    y, said = canvas.height + canvas.line * 0.75, fitted(name, size, room)
    canvas.words(across.low, y, said, dx=-canvas.left, bold=True, halo=True)
    canvas.height += 3 if frame.beside else canvas.line * 1.25


def _put_points(canvas: Canvas, points: Sequence[Point], place: Place, about: Money) -> None:
    """The sales of one lane, spread evenly; those of the grid in rows of their own, so that each can be read."""
    ringed = sorted((point for point in points if point.number), key=lambda point: point.shown)
    size, across = canvas.letters, canvas.across
    places = [(across.px(point.shown) - _RING, f"000{point.number}") for point in ringed]
    standing = spots(places, size, -canvas.left, across.room + canvas.right, 0, ("left",))
    step = 2 * _RING + 2
    rows = max((spot.row + 1 for spot in standing), default=0)
    tall = max(22 + min(len(points), 60) * 0.6, rows * step + 2 * _RING)
    for number, point in enumerate(point for point in points if not point.number):
        px = across.px(point.shown)
        near = [spot.row + 1 for (start, text), spot in zip(places, standing, strict=True)
                if start - _RING < px < start + text_width(text, size) + _RING]  # fmt: skip
        top = max(near, default=0) * step + 5
        _put_point(canvas, point, canvas.height + top + number * _GOLDEN % 1 * (tall - top - 5), place, about)
    for point, spot in zip(ringed, standing, strict=True):
        y = canvas.height + step / 2 + spot.row * step
        canvas.mark(point.shown, y, "circle", math.pi * _RING**2, "transparent", INK)
        _put_point(canvas, point, y, place, about)
        canvas.words(point.shown, y, str(point.number), dx=_RING + 4, bold=True, halo=True)
    canvas.height += tall + 4


def _put_point(canvas: Canvas, point: Point, y: float, place: Place, about: Money) -> None:
    own = point.alike or not place.alike
    said = f"{about(point.shown)}, {outcome_words(point.outcome)}"
    fill, stroke = (INK, PAPER) if own else ("transparent", FAINT)
    canvas.mark(point.shown, y, SHAPES.get(point.outcome, "circle"), 46, fill, stroke, said)


def _put_vehicle(canvas: Canvas, estimate: float, ends: tuple[float, float], said: str) -> None:
    """The vehicle's own line in its lane: range, mark and name, beside it where there is room, else under it."""
    across, y = canvas.across, canvas.height + canvas.line / 2
    canvas.rule(ends[0], y, ends[1], y, BLUE, 2.5)
    canvas.mark(estimate, y, "diamond", 190, BLUE, PAPER)
    text = say("this vehicle {price}", price=Said(said))
    width = text_width(text, canvas.letters) + 8
    if across.px(ends[1]) + width <= across.room + canvas.right:
        canvas.words(ends[1], y, text, dx=8, bold=True, halo=True, color=BLUE)
    elif across.px(ends[0]) - width >= -canvas.left:
        canvas.words(ends[0], y, text, "right", dx=-8, bold=True, halo=True, color=BLUE)
    else:
        canvas.height += canvas.line
        canvas.centred(estimate, y + canvas.line, text, bold=True, halo=True, color=BLUE)
    canvas.height += canvas.line + 6


def place_words(place: Place, estimate: float, low: float, high: float, locale: Locale, day: str) -> str:
    """What the picture shows.

    Parameters
    ----------
    place : Place
    estimate, low, high : float
        Of the vehicle, money.
    locale : Locale
    day : str
        To which prices are brought.
    """
    count = locale.number(len(place.points))
    if place.title:
        parts = [say("Chart of {count} comparable sales by price and {scale}.", count=count,
                     scale=Said(retold(place.title) if language() != ENGLISH else place.title.lower()))]  # fmt: skip
    else:
        parts = [say("Chart of {count} comparable sales by price.", count=count)]
    if place.brought and day:
        parts.append(say("Prices are brought to {day} by the drift that all sales show.", day=Said(day)))
    if estimate:
        parts.append(
            say(
                "The estimate, {price}, is marked with its interval from {low} to {high}.",
                price=locale.about(estimate),
                low=locale.about(low),
                high=locale.about(high),
            )
        )
    return " ".join(parts)
