"""The chart of a price to ask: floor, target and ask over the distribution of the price, with the offers under it."""

from __future__ import annotations

from collections.abc import Sequence

from valuation.sheets.chart_layout import fitted, spots, widened
from valuation.sheets.chart_style import BLUE, CLAY, FAINT, INK, PAPER, WASH, Canvas, Chart, Frame, Row, finish, priced
from valuation.sheets.charts import put_density, with_points
from valuation.text.locale import Locale

_BOLD = 1.05
"""How much wider bold letters are."""
_LONGEST_WHO = 18
"""Characters of a buyer's name at a mark."""


def bands_picture(curve: Sequence[Row], bands: Row, offers: Sequence[Row], currency: str, locale: Locale) -> Chart:
    """Floor, target and ask over the distribution of the price, and the offers so far.

    Parameters
    ----------
    curve : sequence of mapping
        ``amount``, ``odds_below``, ``height`` of the price; may be empty.
    bands : mapping
        ``floor``, ``target``, ``ask``, ``break_even`` (or ``None``).
    offers : sequence of mapping
        ``amount``, ``who``, oldest first.
    currency : str
    locale : Locale
        How money is written.
    """
    said = {"floor": locale.at_least(bands["floor"]), **{name: locale.about(bands[name]) for name in ("target", "ask")}}
    even = bands.get("break_even")
    amounts = [locale.money(float(o["amount"])) for o in offers]
    named = [
        (f"{i}: {amount} {fitted(str(o.get('who') or ''), 1, _LONGEST_WHO)}".strip(), float(o["amount"]))
        for i, (o, amount) in enumerate(zip(offers, amounts, strict=True), 1)
    ]

    def draw(frame: Frame) -> Canvas:
        middle = [float(p["amount"]) for p in curve if 0.02 <= float(p["odds_below"]) <= 0.97]
        seen = [*(float(bands[name]) for name in said), *(at for _, at in named), *middle]
        low, high = min(seen) * 0.96, max(seen) * 1.04
        marks = [(f"{name} {text}", float(bands[name])) for name, text in said.items()]
        if even and low <= even <= high:
            marks.append((f"break-even {locale.at_least(even)}", float(even)))
        marks.sort(key=lambda mark: -mark[1])
        high = widened(low, high, [(at, text) for text, at in marks], frame.letters * _BOLD, frame.width)
        canvas = frame.even_ground(low, high, priced("what the buyer pays", currency))
        across, room = canvas.across, canvas.across.room + canvas.right
        standing = spots([(across.px(at), text) for text, at in marks], canvas.letters * _BOLD, -canvas.left, room, 6,
                         ("left",), sticks=True)  # fmt: skip
        rows = max(spot.row for spot in standing) + 1
        top = rows * canvas.line + 4
        foot = top + (140 if frame.beside else 110)
        put_density(canvas, [p for p in with_points(curve, (low, high)) if low <= float(p["amount"]) <= high], top + 6,
                    foot, WASH)  # fmt: skip
        for (text, at), spot in zip(marks, standing, strict=True):
            y, own = (rows - 1 - spot.row + 0.5) * canvas.line, not text.startswith("break-even")
            canvas.rule(
                at, y, at, foot, BLUE if own else FAINT, 2.5 if own else 1.5, **({} if own else {"strokeDash": [4, 3]})
            )
            dx = 6 if spot.align == "left" else -6
            canvas.words(at, y, text, spot.align, dx=dx, bold=own, faint=not own, halo=True)
        canvas.rule(across.low, foot, across.high, foot, FAINT, 1)
        canvas.height = foot + 4
        _put_offers(canvas, named)
        return canvas

    table = [*said.items(), *([("break-even", locale.at_least(even))] if even else [])]
    told = f" Offers so far: {', '.join(amounts)}." if offers else ""
    return finish(
        draw,
        title=f"Ask {said['ask']}, expect about {said['target']}, take nothing under {said['floor']}",
        alt=f"Floor, target and ask stand over the distribution of the price.{told}",
        columns=("what", "money"),
        rows=[*table, *((f"offer {i}", amount) for i, amount in enumerate(amounts, 1))],
    )


def _put_offers(canvas: Canvas, named: Sequence[tuple[str, float]]) -> None:
    """Offers under the curve, each at its amount with its buyer, in as many rows as keep them apart."""
    if not named:
        return
    across, room = canvas.across, canvas.across.room + canvas.right
    short = [text if len(named) <= 8 else text.split(":")[0] for text, _ in named]
    size = canvas.letters
    sides = [max(across.px(at) + canvas.left, room - across.px(at)) - 2 * size for _, at in named]
    fit = [fitted(text, size, side) for text, side in zip(short, sides, strict=True)]
    # Each label keeps the room of its mark too, on either side.
    places = [(across.px(at), text + "0") for text, (_, at) in zip(fit, named, strict=True)]
    standing = spots(places, size, -canvas.left, room, 0, ("left", "right"))
    for text, (whole, at), spot in zip(fit, named, standing, strict=True):
        y = canvas.height + (spot.row + 0.6) * canvas.line
        canvas.mark(at, y, "triangle-right", 80, CLAY, PAPER, whole)
        canvas.words(at, y, text, spot.align, dx=9 if spot.align == "left" else -9, color=INK)
    canvas.height += (max(spot.row for spot in standing) + 1.1) * canvas.line
    canvas.words(across.low, canvas.height + canvas.line / 2, "offers so far", faint=True)
    canvas.height += canvas.line + 2
