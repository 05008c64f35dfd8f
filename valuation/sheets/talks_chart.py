"""The chart of the talks about a vehicle: time across, money up, the floor as a line and each buyer as another."""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from valuation.sheets.chart_canvas import even_ground
from valuation.sheets.chart_layout import Align, even_ticks, figures, fitted, text_width
from valuation.sheets.chart_style import BLUE, FAINT, INK, PAPER, RULE, Canvas, Chart, Frame, Row, finish
from valuation.text.dates import MONTHS
from valuation.text.locale import Locale
from valuation.text.spelling import counted

_LONGEST_CALLED = 22
"""Characters of a buyer's name at a mark."""
_LINES_OFF = 4
"""Lines of text that a label may stand away from its mark; beyond that it is left to the table."""
_DAYS_ON = 10
"""Days that are drawn after today or the last bid; chosen by eye."""
_HIGH, _HIGH_ON_A_TELEPHONE = 260.0, 230.0
"""Pixels of the picture over its axis."""
_ANSWERED = {"": "open", "accept": "accepted", "counter": "asked", "hold": "held", "decline": "declined"}
"""What was answered, in the table."""

_PART = 8.0
"""Pixels of a line that are kept free in one piece."""
_BOLD = 1.05
"""How much wider bold letters are."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class _Bid:
    """A bid at its day, as an ordinal number, and what was asked in return."""

    day: float
    amount: float
    answer: str
    counter: float | None
    answered: float


def talks_picture(
    threads: Sequence[Row],
    floors: Sequence[Row],
    ask: float | None,
    floor: float | None,
    today: dt.date,
    currency: str,
    locale: Locale,
    *,
    sold: bool = False,
) -> Chart:
    """Every buyer's bids over the days of the talks, what was asked in return, and the floor.

    Parameters
    ----------
    threads : sequence of mapping
        ``Thread`` as plain data, with one bid at least in all.
    floors : sequence of mapping
        ``FloorFrom`` as plain data, the first from the day of the listing; may be empty.
    ask : float or None
        The price that is asked, where it is set.
    floor : float or None
        On that day, by what was offered until then.
    today : date
        The day of the sale where it is sold.
    currency : str
    locale : Locale
        How money and days are written.
    sold : bool
        Whether the talks have ended in a sale.
    """
    told = [(str(one["called"]), _bids(one)) for one in threads]
    this_day = "that day" if sold else "now"
    falling = [(float(_day(one["day"]).toordinal()), float(one["floor"])) for one in floors]
    last_day = max([today.toordinal(), *(bid.day for _, bids in told for bid in bids)])
    first_day = min([*(bid.day for _, bids in told for bid in bids), *(day for day, _ in falling[:1])])
    low_day, high_day = float(first_day) - 1, float(last_day) + _DAYS_ON
    line = _between(falling, low_day, high_day)

    def draw(frame: Frame) -> Canvas:
        limits = [one for one in (ask, floor) if one]
        canvas, down = _ground(frame, told, line, limits, (low_day, high_day), currency)
        placed = _Labels(canvas)
        for (day, value), (after, then) in pairwise(line):
            placed.leave(day, down(value), after, down(then))
        if ask:
            placed.leave(low_day, down(ask), high_day, down(ask))
            canvas.rule(low_day, down(ask), high_day, down(ask), FAINT, 1.2, strokeDash=[4, 3])
            placed.put(high_day, down(ask) - 0.75 * canvas.line, [f"ask {locale.about(ask)}"], faint=True)
        for (day, value), (after, then) in pairwise(line):
            canvas.rule(day, down(value), after, down(then), BLUE, 2.2)
        if line:
            day, value = line[-1]
            placed.put(day, down(value) + 0.75 * canvas.line, [f"floor {locale.at_least(value)}"], bold=True)
        if floor:
            now = float(today.toordinal())
            if falling:
                canvas.rule(now, down(_at(falling, now)), now, down(floor), BLUE, 1, strokeDash=[2, 2])
            canvas.mark(now, down(floor), "diamond", 70, PAPER, BLUE, f"floor {this_day}: {locale.at_least(floor)}")
        by_bid = sorted(told, key=lambda one: -one[1][-1].amount)
        for called, bids in by_bid:
            _put_bids(canvas, down, called, bids, locale)
        _name_bids(placed, down, by_bid, locale)
        if floor:
            texts = [f"floor {this_day} {locale.at_least(floor)}", f"floor {this_day}"]
            placed.put(float(today.toordinal()), down(floor), texts, bold=True)
        for bid in (one for _, bids in by_bid for one in bids if one.counter is not None):
            asked = locale.money(bid.counter or 0.0)
            placed.put(bid.answered, down(bid.counter or 0.0), [f"asked {asked}", asked], faint=True)
        return canvas

    rows = sorted(
        (bid.day, called, locale.money(bid.amount), _answer_words(bid, locale)) for called, bids in told for bid in bids
    )
    floor_words = ""
    if line:
        floor_words = (
            f" The floor falls from {locale.at_least(falling[0][1])} to {locale.at_least(falling[-1][1])} on "
            f"{locale.date(dt.date.fromordinal(round(falling[-1][0])))}."
        )
    return finish(
        draw,
        title=_finding(told, floor, "the floor of that day," if sold else "today's floor of", locale),
        alt=f"Each buyer is a line of bids; triangles are what was asked in return.{floor_words}",
        columns=("day", "buyer", "bid", "answer"),
        rows=[
            *((locale.date(dt.date.fromordinal(round(day))), *cells) for day, *cells in rows),
            *(
                (locale.date(_day(one["day"])), "floor from then on", locale.at_least(one["floor"]), "")
                for one in floors
            ),
        ],
    )


def _ground(
    frame: Frame,
    told: Sequence[tuple[str, Sequence[_Bid]]],
    line: Sequence[tuple[float, float]],
    limits: Sequence[float],
    days: tuple[float, float],
    currency: str,
) -> tuple[Canvas, Callable[[float], float]]:
    """A canvas over days with rules for money, and where an amount stands on it, pixels from the top."""
    amounts = [bid.amount for _, bids in told for bid in bids] + [value for _, value in line]
    amounts += [bid.counter for _, bids in told for bid in bids if bid.counter] + [*limits]
    room = 0.08 * ((max(amounts) - min(amounts)) or max(amounts))
    low, high = min(amounts) - room, max(amounts) + room
    ticks = even_ticks(low, high, 5, inside=True)
    labels = figures(ticks, frame.locale.number)
    left = max(text_width(text, frame.letters) for text in labels) + 10
    canvas = even_ground(frame.width, frame.letters, days, _axis(*days, currency), _short_day, left)
    canvas.height = _HIGH if frame.beside else _HIGH_ON_A_TELEPHONE

    def down(amount: float) -> float:
        return canvas.height * (high - amount) / (high - low)

    for tick, text in zip(ticks, labels, strict=True):
        canvas.rule(days[0], down(tick), days[1], down(tick), RULE, 0.7)
        canvas.words(days[0], down(tick), text, "right", dx=-6, faint=True)
    return canvas, down


def _put_bids(
    canvas: Canvas, down: Callable[[float], float], called: str, bids: Sequence[_Bid], locale: Locale
) -> None:
    """The bids of one buyer as a line with marks, and what was asked in return."""
    over = bids[-1].answer == "decline"
    colour = FAINT if over else INK
    for before, after in pairwise(bids):
        canvas.rule(before.day, down(before.amount), after.day, down(after.amount), colour, 1.4)
    for bid in bids:
        if bid.counter is not None:
            canvas.rule(bid.day, down(bid.amount), bid.answered, down(bid.counter), RULE, 1, strokeDash=[2, 2])
            said = f"asked of {called}: {locale.money(bid.counter)}"
            canvas.mark(bid.answered, down(bid.counter), "triangle-down", 60, PAPER, colour, said)
        fill = BLUE if bid.answer == "accept" else PAPER if over else colour
        canvas.mark(bid.day, down(bid.amount), "circle", 70, fill, colour, f"{called}: {locale.money(bid.amount)}")


def _bids(thread: Row) -> list[_Bid]:
    found = []
    for bid in reversed(thread["bids"]):
        day = float(_day(bid["offered_on"]).toordinal())
        answered = float(_day(bid["answered_on"]).toordinal()) if bid["answered_on"] else day
        found.append(_Bid(day, float(bid["amount"]), bid["answer"], bid["counter"], max(answered, day)))
    return found


def _day(value: dt.date | str) -> dt.date:
    return value if isinstance(value, dt.date) else dt.date.fromisoformat(value)


def _short_day(ordinal: float, _digits: int) -> str:
    day = dt.date.fromordinal(round(ordinal))
    return f"{day.day} {MONTHS[day.month - 1][:3]}"


def _axis(low: float, high: float, currency: str) -> str:
    """What the axes are: the years below, and the currency of the money up the side."""
    first, last = (dt.date.fromordinal(round(day)).year for day in (low, high))
    years = f"{first}" if first == last else f"{first} to {last}"
    return f"{years}; money up the side, {currency}" if currency else f"{years}; money up the side"


def _between(points: Sequence[tuple[float, float]], low: float, high: float) -> list[tuple[float, float]]:
    """The part of a line that lies between two days."""
    if not points:
        return []
    inside = [(day, value) for day, value in points if low <= day <= high]
    if points[-1][0] > high > points[0][0]:
        inside.append((high, _at(points, high)))
    return inside


def _at(points: Sequence[tuple[float, float]], day: float) -> float:
    """The value of a line on a day; level beyond its ends."""
    place = bisect_right([at for at, _ in points], day)
    if place in (0, len(points)):
        return points[min(place, len(points) - 1)][1]
    (before, value), (after, then) = points[place - 1], points[place]
    return value + (then - value) * (day - before) / (after - before)


def _finding(told: Sequence[tuple[str, Sequence[_Bid]]], floor: float | None, named: str, locale: Locale) -> str:
    standing = [one for one in told if one[1][-1].answer != "decline"] or list(told)
    called, bids = max(standing, key=lambda one: one[1][-1].amount)
    best = bids[-1].amount
    begin = f"{counted(len(told), 'buyer')}: the highest bid is {locale.money(best)} from {called}"
    if floor is None:
        return begin
    return f"{begin}, {'under' if best < floor else 'over'} {named} {locale.at_least(floor)}"


def _answer_words(bid: _Bid, locale: Locale) -> str:
    said = _ANSWERED[bid.answer]
    return said if bid.counter is None else f"{said} {locale.money(bid.counter)}"


def _name_bids(
    placed: _Labels, down: Callable[[float], float], by_bid: Sequence[tuple[str, Sequence[_Bid]]], locale: Locale
) -> None:
    """Each buyer and his last bid at its mark, as much of the name as has room."""
    for called, bids in by_bid:
        amount = locale.money(bids[-1].amount)
        lengths = (_LONGEST_CALLED, _LONGEST_CALLED // 2, _LONGEST_CALLED // 4)
        texts = [*(f"{fitted(called, 1, length)} {amount}" for length in lengths), amount]
        placed.put(bids[-1].day, down(bids[-1].amount), texts, faint=bids[-1].answer == "decline")


class _Labels:
    """Labels beside their marks, none over another; one that finds no room near its mark is left to the table."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._taken: list[Box] = []

    def leave(self, x: float, y: float, x2: float, y2: float) -> None:
        """Write nothing over a line between two places."""
        start, end = self._canvas.across.px(x), self._canvas.across.px(x2)
        parts = max(math.ceil((end - start) / _PART), 1)
        for part in range(parts):
            at, after = part / parts, (part + 1) / parts
            ends = y + at * (y2 - y), y + after * (y2 - y)
            box = (start + at * (end - start), min(ends) - 1, start + after * (end - start), max(ends) + 1)
            self._taken.append(box)

    def put(self, x: float, y: float, texts: Sequence[str], *, bold: bool = False, faint: bool = False) -> None:
        """Write the first of some texts that has room, as near to its mark as may be."""
        steps = [0.0, *(sign * k / 2 for k in range(1, 2 * _LINES_OFF + 1) for sign in (-1, 1))]
        sides: tuple[Align, ...] = ("left", "right")
        for text in texts:
            for step in steps:
                for side in sides:
                    middle = y + step * self._canvas.line
                    if self._takes(x, middle, text, side, bold):
                        dx = 8 if side == "left" else -8
                        self._canvas.words(x, middle, text, side, dx=dx, bold=bold, faint=faint, halo=True)
                        return

    def _takes(self, x: float, middle: float, text: str, side: Align, bold: bool) -> bool:
        """Whether there is room; it is then taken."""
        canvas = self._canvas
        width, half = text_width(text, canvas.letters) * (_BOLD if bold else 1.0), 0.55 * canvas.letters
        left = canvas.across.px(x) + (8 if side == "left" else -8 - width)
        box = (left, middle - half, left + width, middle + half)
        inside = left >= 0 and box[2] <= canvas.across.room + canvas.right and half <= middle <= canvas.height - half
        if not inside or any(_overlap(box, other) for other in self._taken):
            return False
        self._taken.append(box)
        return True


def _overlap(one: Box, other: Box) -> bool:
    return not (one[0] >= other[2] or other[0] >= one[2] or one[1] >= other[3] or other[1] >= one[3])
