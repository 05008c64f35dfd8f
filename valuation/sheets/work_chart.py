"""The chart of the work: planned and actual money over the weeks, with today and the day of the show."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

from valuation.sheets.chart_layout import fitted, spots
from valuation.sheets.chart_style import BLUE, CLAY, FAINT, INK, RULE, Canvas, Chart, Frame, Money, Row, finish, priced
from valuation.year import DAYS_PER_WEEK

Style = tuple[str, float, tuple[int, ...]]
"""Colour, width and dashes of a line: dashes tell them apart beside colour."""
_PLANNED: Style = (FAINT, 2.0, (6, 4))
_ACTUAL: Style = (INK, 3.0, ())
_EXPECTED: Style = (BLUE, 2.5, (2, 3))
_LINES = 4
"""Level lines at most: enough to read a sum off, few enough to stay behind the curves."""
_GROWTH = 1.04
"""Room above the highest sum and behind the last day."""


def work_picture(work: Row, currency: str, money: Money) -> Chart:
    """Money that goes into a build over time: as planned, as it went, and as it is expected from today on.

    Parameters
    ----------
    work : mapping
        ``Work`` as plain data.
    currency : str
    money : callable
    """
    planned, actual, expected = ([_place(one) for one in work[name]] for name in ("planned", "actual", "expected"))
    today = actual[-1]
    ends = expected[-1] if expected else today
    lines = [("planned", planned[-1], _PLANNED), ("went in", today, _ACTUAL)]
    lines += [("from today on", ends, _EXPECTED)] if expected else []
    show = _weeks_between(work["bought_on"], work["event_on"]) if work["event_on"] else None
    said = [f"{name}: {money(amount)} by week {week:.0f}" for name, (week, amount), _ in lines]

    def draw(frame: Frame) -> Canvas:
        most = max(amount for _, amount in (*planned, *actual, *expected)) * _GROWTH or 1.0
        last = max([planned[-1][0], ends[0], 1.0, *([show] if show is not None else [])]) * _GROWTH
        canvas = frame.even_ground(0.0, last, "weeks from the purchase")
        for text, (_, _, style) in zip(said, lines, strict=True):
            y = canvas.height + canvas.line * 0.6
            room = canvas.across.room + canvas.left + canvas.right - 3 * canvas.letters
            _sample(canvas, y, style)
            canvas.words(0.0, y, fitted(text, canvas.letters, room), dx=2.5 * canvas.letters - canvas.left, halo=True)
            canvas.height += canvas.line
        marks = [(today[0], "today"), *([(show, "the show")] if show is not None else [])]
        standing = spots(
            [(canvas.across.px(at), text) for at, text in marks], canvas.letters, -canvas.left,
            canvas.across.room + canvas.right, 5, ("left", "right"),
        )  # fmt: skip
        rows = max(spot.row for spot in standing) + 1
        top = canvas.height + rows * canvas.line + 4
        foot = top + (240 if frame.beside else 190)

        def high(amount: float) -> float:
            return foot - (foot - top) * amount / most

        for level in _levels(most):
            canvas.rule(0.0, high(level), last, high(level), RULE, 1)
            canvas.words(0.0, high(level) - canvas.line * 0.45, money(level), faint=True, halo=True)
        for (at, text), spot in zip(marks, standing, strict=True):
            y = canvas.height + (rows - 1 - spot.row + 0.5) * canvas.line
            canvas.rule(at, y, at, foot, CLAY if text == "the show" else FAINT, 1.5, strokeDash=[5, 3])
            dx = {"left": 5, "right": -5, "center": 0}[spot.align]
            canvas.words(at, y, text, spot.align, dx=dx, bold=text == "the show", halo=True)
        for points, (colour, width, dash) in ((planned, _PLANNED), (actual, _ACTUAL), (expected, _EXPECTED)):
            dashes = {"strokeDash": list(dash)} if dash else {}
            for before, after in pairwise(points):
                canvas.rule(before[0], high(before[1]), after[0], high(after[1]), colour, width, **dashes)
        canvas.mark(today[0], high(today[1]), "circle", 70, INK, INK, said[1])
        canvas.height = foot
        return canvas

    return finish(
        draw,
        title=_title(work, money),
        alt=f"Money over weeks from the purchase; {'; '.join(said)}.",
        columns=("when", priced("money", currency), "which"),
        rows=[
            (str(one["on"]), money(float(one["money"])), which)
            for which, name in (("planned", "planned"), ("went in", "actual"), ("expected", "expected"))
            for one in work[name]
        ],
    )


def _sample(canvas: Canvas, y: float, style: Style) -> None:
    """A short piece of a line before the words that name it."""
    colour, width, dash = style
    left, right = (canvas.across.value(px - canvas.left) for px in (0.0, 2 * canvas.letters))
    canvas.rule(left, y, right, y, colour, width, **({"strokeDash": list(dash)} if dash else {}))


def _title(work: Row, money: Money) -> str:
    all_in, planned = float(work["all_in"]), float(work["planned_all_in"])
    if planned <= 0:
        return f"All in {money(all_in)}"
    share = 100 * (all_in / planned - 1)
    if abs(share) < 1:
        return f"All in {money(all_in)}, as planned"
    return f"All in {money(all_in)}, {abs(share):.0f} % {'over' if share > 0 else 'under'} the plan"


def _place(point: Row) -> tuple[float, float]:
    return float(point["weeks"]), float(point["money"])


def _levels(most: float) -> list[float]:
    """Round sums up to the highest."""
    step = 10 ** (len(str(int(most))) - 1) if most >= 1 else most / _LINES
    for factor in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0):
        if most / (step * factor) <= _LINES:
            step *= factor
            break
    return [step * i for i in range(1, int(most / step) + 1)]


def _weeks_between(first: str, day: str) -> float:
    return (date.fromisoformat(str(day)) - date.fromisoformat(str(first))).days / DAYS_PER_WEEK
