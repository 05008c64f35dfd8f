"""Charts of a deal: paths, profit, timeline and worth of steps; pure functions of plain summaries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from valuation.build.figures import odds_words
from valuation.sheets.chart_layout import Align, fitted, spots, text_width, widened
from valuation.sheets.chart_style import (
    BLUE,
    CLAY,
    FAINT,
    INK,
    PAPER,
    RULE,
    WASH,
    Canvas,
    Chart,
    Frame,
    Money,
    Row,
    finish,
    priced,
    sentence,
)
from valuation.sheets.charts import name_room, put_beside, put_density, put_name
from valuation.text.rounding import rounded

_WEEKS = "weeks from the first day; thick bars decide the finish, pale ends are what one in ten needs more"
_BARS = "; each bar holds eight cases in ten"


def paths_picture(paths: Sequence[Row], currency: str, money: Money) -> Chart:
    """For each path what goes in, what the sale brings, and the profit that is expected.

    Parameters
    ----------
    paths : sequence of mapping
        ``name``, ``expected_profit``, and ``outlay`` and ``sale_price`` with ``mean``, ``low``, ``high``.
    currency : str
    money : callable
    """
    sides = (("in", "outlay", "square", INK), ("back", "sale_price", "circle", BLUE))

    def draw(frame: Frame) -> Canvas:
        reach = [float(path[key][end]) for path in paths for _, key, _, _ in sides for end in ("low", "mean", "high")]
        low, high = min(0.0, *reach), max(reach)
        canvas = frame.even_ground(low, high + 0.02 * (high - low), priced("money", currency) + _BARS)
        for path in paths:
            profit = f"expect {_signed(_profit(path), money)}"
            put_headed(canvas, str(path["name"]), profit, rule=True)
            for what, key, shape, colour in sides:
                figures = {end: float(path[key][end]) for end in ("low", "mean", "high")}
                y = canvas.height + canvas.line / 2
                canvas.rule(figures["low"], y, figures["high"], y, colour, 3)
                canvas.mark(figures["mean"], y, shape, 80, PAPER, colour)
                said = f"{what} {money(figures['mean'])} ({money(figures['low'])} to {money(figures['high'])})"
                if fits_beside(canvas, figures["low"], figures["high"], said):
                    put_beside(canvas, figures["high"], figures["low"], y, said)
                else:
                    canvas.height += canvas.line
                    canvas.words(canvas.across.low, y + canvas.line, said, dx=-canvas.left)
                canvas.height += canvas.line
            canvas.height += 6
        return canvas

    best = max(paths, key=lambda path: float(path["expected_profit"]))
    most = _signed(_profit(best), money)
    name = fitted(str(best["name"]), 1, 40)
    return finish(
        draw,
        title=(f"{sentence(name)}: expect {most}" + (f", the most of {len(paths)} paths" if len(paths) > 1 else ""))
        if best["expected_profit"] > 0
        else f"No path is expected to pay; {name} loses least ({most})",
        alt=f"Money in and money back for each of {len(paths)} paths, with the range that holds it eight times in ten.",
        columns=("path", "what", "expected", "from", "to"),
        rows=[
            (str(path["name"]), what, *(money(float(path[key][end])) for end in ("mean", "low", "high")))
            for path in paths
            for what, key in (("goes in", "outlay"), ("sale brings", "sale_price"))
        ],
    )


def _profit(path: Row) -> float:
    """The expected profit as far as its simulation is sure of it."""
    error = path.get("simulation_errors", {}).get("expected_profit", 0.0)
    return rounded(float(path["expected_profit"]), error=error)


def _signed(amount: float, money: Money) -> str:
    return ("+" if amount > 0 else "") + money(amount)


def put_headed(canvas: Canvas, name: str, figure: str, *, rule: bool = False) -> None:
    """A line with a name on the left and a figure on the right.

    Parameters
    ----------
    canvas : Canvas
    name : str
    figure : str
    rule : bool
        Whether a line is drawn above.
    """
    across = canvas.across
    if rule and canvas.height:
        canvas.rule(across.low, canvas.height, across.high, canvas.height, RULE, 1)
    y = canvas.height + canvas.line * 0.7
    room = across.room + canvas.left + canvas.right - text_width(figure, canvas.letters) - 2 * canvas.letters
    canvas.words(across.low, y, fitted(name, canvas.letters, room), dx=-canvas.left, bold=True)
    canvas.words(across.high, y, figure, "right", dx=canvas.right, bold=True)
    canvas.height += canvas.line * 1.4


def fits_beside(canvas: Canvas, low: float, high: float, text: str) -> bool:
    """Whether a text has room at either end of a bar.

    Parameters
    ----------
    canvas : Canvas
    low, high : float
        Of the bar, values across.
    text : str
    """
    across, width = canvas.across, text_width(text, canvas.letters) + 11
    return across.px(high) + width <= across.room + canvas.right or across.px(low) - width >= -canvas.left


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
    points = _with_nothing(curve["points"])
    gain = [point for point in points if point["amount"] >= 0]
    loss = [point for point in points if point["amount"] <= 0]

    def draw(frame: Frame) -> Canvas:
        low, high = min(float(points[0]["amount"]), 0.0), max(float(points[-1]["amount"]), 0.0)
        canvas = frame.even_ground(low, high, priced("profit", currency))
        across = canvas.across
        marks = [(0.0, f"loss: {_odds(odds_of_loss)}"), (expected, f"expected {_signed(expected, money)}")]
        places = [(across.px(at), text) for at, text in marks]
        sides: tuple[Align, ...] = ("right", "left")
        standing = spots(places, canvas.letters, -canvas.left, across.room + canvas.right, 5, sides)
        rows = max(spot.row for spot in standing) + 1
        top = rows * canvas.line + 4
        foot = top + (140 if frame.beside else 110)
        put_density(canvas, gain, top + 6, foot, WASH)
        if loss:
            put_density(canvas, loss, top + 6, foot, CLAY, opacity=0.85)
        for (at, text), spot in zip(marks, standing, strict=True):
            y = (rows - 1 - spot.row + 0.5) * canvas.line
            canvas.rule(at, y, at, foot, INK, 1.5)
            canvas.words(at, y, text, spot.align, dx={"left": 5, "right": -5, "center": 0}[spot.align], halo=True)
        canvas.height = foot
        return canvas

    table = points[:: max(len(points) // 12, 1)]
    return finish(
        draw,
        title=f"{sentence(_odds(odds_of_loss))} such deals end with a loss; {money(expected)} is expected",
        alt=f"Profit of '{curve['name']}', with the part that is a loss marked.",
        columns=("profit", "chance of less"),
        rows=[(money(p["amount"]), f"{100 * p['odds_below']:.0f} %") for p in table],
    )


def _odds(share: float) -> str:
    if 0 < share < 0.005:
        return "less than 1 in 100"
    return f"{100 * share:.0f} in 100"


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
    rows = [
        {"step": names.get(step["id"]) or step["id"], "start": step["start"]["mean"], "finish": step["finish"]["mean"],
         "late": step["finish"]["high"], "odds": step["odds_critical"]}
        for step in schedule["steps"]
    ]  # fmt: skip

    def draw(frame: Frame) -> Canvas:
        end = max([float(row["late"]) for row in rows] + ([float(event["weeks"])] if event else []) + [1.0])
        left = name_room(frame, [str(row["step"]) for row in rows])
        canvas = frame.even_ground(0.0, end * 1.02, _WEEKS, left)
        shown = float(event["weeks"]) if event is not None and event["weeks"] >= 0 else None
        canvas.height = canvas.line * 1.2 if shown is not None else 0.0
        top = canvas.height
        for row in rows:
            y = put_name(canvas, frame, str(row["step"]))
            canvas.rule(row["finish"], y, row["late"], y, RULE, 5)
            decides = row["odds"] >= 0.5
            canvas.rule(row["start"], y, row["finish"], y, INK if decides else FAINT, 12 if decides else 5)
        if shown is not None and event is not None:
            canvas.rule(shown, top - 4, shown, canvas.height, BLUE, 2, strokeDash=[6, 3])
            room = canvas.across.room + canvas.right
            text = fitted(str(event["name"]), canvas.letters, room + canvas.left)
            canvas.centred(shown, canvas.line / 2, text, bold=True)
        return canvas

    words = "Thick bars decide the finish, thin ones have time to spare; the pale end is what one in ten needs more."
    if event is not None:
        words += f" {event['name']} is {event['weeks']:.0f} weeks after the first day."
    return finish(
        draw,
        title=f"Ready most likely on {dates['likely']}; one in ten is later than {dates['late']}",
        alt=words,
        columns=("step", "starts, week", "ends, week", "one in ten ends after", "decides the finish"),
        rows=[
            (r["step"], f"{r['start']:.1f}", f"{r['finish']:.1f}", f"{r['late']:.1f}", odds_words(r["odds"]))
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
    sides = (("adds", BLUE), ("costs", INK))

    def draw(frame: Frame) -> Canvas:
        told = [[(key, float(step[key]), f"{key} {money(_told(step, key))}") for key, _ in sides] for step in steps]
        labels = [(max(amount, 0.0), text) for bars in told for _, amount, text in bars]
        low = min([0.0, *(amount for bars in told for _, amount, _ in bars)])
        high = widened(low, max(value for value, _ in labels) or 1.0, labels, frame.letters, frame.width)
        canvas = frame.even_ground(low, high, priced("money", currency))
        for step, bars in zip(steps, told, strict=True):
            put_headed(canvas, _label(step), f"worth {_signed(_told(step, 'net'), money)}", rule=True)
            for (key, amount, text), (_, colour) in zip(bars, sides, strict=True):
                y = canvas.height + canvas.line / 2
                canvas.rule(0.0, y, amount, y, colour, 9 if key == "adds" else 4)
                canvas.words(max(amount, 0.0), y, text, dx=8, halo=True)
                canvas.height += canvas.line
            canvas.height += 6
        return canvas

    worth = sum(float(step["net"]) > 0 for step in steps)
    one = "adds more to the price than it costs" if worth == 1 else "add more to the price than they cost"
    return finish(
        draw,
        title=f"{worth} of {len(steps)} results {one}",
        alt="Each result is counted with all that it needs.",
        columns=("result", "adds", "costs", "net"),
        rows=[(_label(s), money(s["adds"]), money(s["costs"]), money(s["net"])) for s in steps],
    )


def _told(step: Row, key: str) -> float:
    """A figure of a step as far as its simulation is sure of it."""
    return rounded(float(step[key]), error=float(step.get("simulation_error", 0.0)))


def _label(step: Row) -> str:
    return str(step.get("name") or step["what"] or step["id"])
