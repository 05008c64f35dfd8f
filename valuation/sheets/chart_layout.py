"""Where things stand in a chart: room for words, scales with their ticks, and labels that keep apart."""

from __future__ import annotations

import math
import unicodedata
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from valuation.sheets.cleaning import shorten

_EM = 0.64
"""Width of a letter in sizes of the type: a digit of the widest of the fonts in use, so that no word is wider."""
_LEAST_TICKS = 4
"""A logarithmic axis with fewer round figures gets steps of one size."""
_GAP = 0.9
"""Between two labels, in sizes of the type; chosen by eye."""

Align = Literal["left", "center", "right"]


def text_width(text: str, size: float) -> float:
    """Pixels that a line of text takes at most.

    Parameters
    ----------
    text : str
    size : float
        Of the type, pixels.
    """
    return size * sum(1.0 if unicodedata.east_asian_width(one) in "WF" else _EM for one in text)


def fitted(text: str, size: float, room: float) -> str:
    """The text, shortened so that it fits.

    Parameters
    ----------
    text : str
    size : float
        Of the type, pixels.
    room : float
        Pixels.
    """
    line = shorten(text, max(len(text), 1))
    while len(line) > 1 and text_width(line, size) > room:
        line = shorten(line.rstrip("…"), max(min(len(line) - 1, int(len(line) * room / text_width(line, size))), 1))
    return line


@dataclass(frozen=True, slots=True)
class Across:
    """A scale with the marks that are written beside it.

    Parameters
    ----------
    low, high : float
        Its ends; above 0 where it is logarithmic.
    room : float
        Its length, pixels.
    log : bool
    ticks : tuple of float
    labels : tuple of str
        Of the ticks; empty where there is no room for one.
    """

    low: float
    high: float
    room: float
    log: bool
    ticks: tuple[float, ...] = ()
    labels: tuple[str, ...] = ()

    def px(self, value: float) -> float:
        """Pixels from the low end."""
        low, high, value = (math.log(one) if self.log else one for one in (self.low, self.high, value))
        return self.room * (value - low) / (high - low)

    def value(self, px: float) -> float:
        """The value at so many pixels from the low end."""
        share = px / self.room
        if self.log:
            return self.low * math.exp(share * math.log(self.high / self.low))
        return self.low + share * (self.high - self.low)


def log_ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Figures 1, 2 and 5 times powers of ten from the last at or under low to the first at or over high.

    Where that is fewer than four, steps of one size through both ends.

    Parameters
    ----------
    low : float
        Above 0.
    high : float
        At least ``low``.
    most : int
        Steps of one size.

    Examples
    --------
    >>> log_ticks(3000, 90000)
    [2000.0, 5000.0, 10000.0, 20000.0, 50000.0, 100000.0]
    >>> log_ticks(33_000, 47_000)
    [30000.0, 35000.0, 40000.0, 45000.0, 50000.0]
    """
    powers = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 2)
    figures = [float(f"{digit}e{power}") for power in powers for digit in (1, 2, 5)]
    first = bisect_right(figures, low * (1 + 1e-12)) - 1
    last = next(i for i, figure in enumerate(figures) if figure >= high * (1 - 1e-12))
    found = figures[first : max(last, first + 1) + 1]
    if len(found) >= _LEAST_TICKS:
        return found
    even = even_ticks(low, high, most)
    return even if even[0] > 0 else found


def even_ticks(low: float, high: float, most: int = 6, *, inside: bool = False) -> list[float]:
    """Steps of 1, 2 or 5 times a power of ten, at most ``most``, that cover a range.

    Parameters
    ----------
    low, high : float
    most : int
        Steps.
    inside : bool
        Whether the ticks stay inside the range in place of covering it.

    Examples
    --------
    >>> even_ticks(3.2, 11.9, 5), even_ticks(3.2, 11.9, 5, inside=True)
    ([2.0, 4.0, 6.0, 8.0, 10.0, 12.0], [4.0, 6.0, 8.0, 10.0])
    """
    span = (high - low) or abs(high) / 100 or 1.0
    power = math.floor(math.log10(span / most))
    for step in (float(f"{digit}e{power + up}") for up in (0, 1, 2) for digit in (1, 2, 5)):
        start, end = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
        if inside:
            start, end = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        end = max(end, start + (0 if inside else 1))
        if end - start <= most:
            break
    return [float(f"{k * step:.12g}") for k in range(start, end + 1)]


def figures(ticks: Sequence[float], write: Callable[[float, int], str]) -> list[str]:
    """Ticks as text, each with as many decimals as the finest needs.

    Parameters
    ----------
    ticks : sequence of float
    write : callable
        Writes a number with so many decimals.
    """
    digits = next((d for d in range(7) if all(abs(round(t, d) - t) <= 1e-9 * abs(t) for t in ticks)), 6)
    return [write(tick, digits) for tick in ticks]


def log_across(values: Sequence[float], room: float, size: float, write: Callable[[float, int], str]) -> Across:
    """A logarithmic scale that begins and ends in a round figure, its labels clear of each other.

    Parameters
    ----------
    values : sequence of float
        What it must hold; each above 0.
    room : float
        Pixels.
    size : float
        Of the type, pixels.
    write : callable
        Writes a number with so many decimals.
    """
    for most in (6, 5, 4, 3, 2, 1):
        ticks = log_ticks(min(values), max(values), most)
        scale = Across(ticks[0], ticks[-1], room, True, tuple(ticks))
        labels = figures(ticks, write)
        if _clear([(scale.px(t), text) for t, text in zip(ticks, labels, strict=True)], size):
            break
    return Across(ticks[0], ticks[-1], room, True, tuple(ticks), _thinned(scale, labels, size))


def even_across(low: float, high: float, room: float, size: float, write: Callable[[float, int], str]) -> Across:
    """A scale from low to high in equal steps, its labels clear of each other.

    Parameters
    ----------
    low, high : float
        Its ends.
    room : float
        Pixels.
    size : float
        Of the type, pixels.
    write : callable
        Writes a number with so many decimals.
    """
    for most in (8, 7, 6, 5, 4, 3, 2, 1):
        ticks = even_ticks(low, high, most, inside=True)
        scale = Across(low, high, room, False, tuple(ticks))
        labels = figures(ticks, write)
        if _clear([(scale.px(t), text) for t, text in zip(ticks, labels, strict=True)], size):
            break
    return Across(low, high, room, False, tuple(ticks), _thinned(scale, labels, size))


def widened(low: float, high: float, labels: Sequence[tuple[float, str]], size: float, width: float) -> float:
    """The upper end of an even scale on which each label has room to the right of its value.

    Parameters
    ----------
    low, high : float
        Ends of what is drawn.
    labels : sequence of (float, str)
        Values, each with its text.
    size : float
        Of the type, pixels.
    width : float
        Of the picture, pixels.
    """
    for value, text in labels:
        share = (text_width(text, size) + 2 * size) / width
        high = max(high, low + (value - low) / (1 - share)) if share < 1 else high
    return high


def _clear(labels: Sequence[tuple[float, str]], size: float) -> bool:
    ends = [(px - text_width(text, size) / 2, px + text_width(text, size) / 2) for px, text in labels]
    return all(before[1] + _GAP * size <= after[0] for before, after in pairwise(ends))


def _thinned(scale: Across, labels: Sequence[str], size: float) -> tuple[str, ...]:
    """Labels where there is room: the ends first, then powers of ten, then the others."""
    order = [0, len(labels) - 1]
    order += sorted(range(1, len(labels) - 1), key=lambda i: not f"{scale.ticks[i]:e}".startswith("1.000000"))
    kept: list[int] = []
    for i in order:
        if i not in kept and _clear([(scale.px(scale.ticks[k]), labels[k]) for k in sorted([*kept, i])], size):
            kept.append(i)
    return tuple(text if i in kept else "" for i, text in enumerate(labels))


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a label stands: which side of its place it is written on, and in which row from the nearest on."""

    align: Align
    row: int


def spots(
    labels: Sequence[tuple[float, str]],
    size: float,
    low: float,
    high: float,
    off: float = 5.0,
    sides: tuple[Align, ...] = ("left", "right", "center"),
    sticks: bool = False,
) -> list[Spot]:
    """A place for each label so that none covers another: beside its mark, in the nearest row that has room.

    Parameters
    ----------
    labels : sequence of (float, str)
        Pixels across, and the text; in the order in which they choose.
    size : float
        Of the type, pixels.
    low, high : float
        Between which pixels they stand.
    off : float
        Pixels between mark and text.
    sides : tuple of {"left", "right", "center"}
        On which the text may be written, the first choice first.
    sticks : bool
        Whether each label stands on a stick that goes through the rows nearer than its own. None may cross a text, so
        labels to the right of their sticks choose from the right on.
    """
    rows: list[list[tuple[float, float]]] = []
    found: list[Spot] = []
    for px, text in labels:
        width = text_width(text, size)
        boxes: dict[Align, tuple[float, float]] = {
            "left": (px + off, px + off + width),
            "right": (px - off - width, px - off),
            "center": (px - width / 2, px + width / 2),
        }
        fits = [side for side in sides if low <= boxes[side][0] and boxes[side][1] <= high]
        inward: Align = "left" if px < (low + high) / 2 else "right"
        chosen = fits or [inward if inward in sides else sides[0]]
        over = [spot.row + 1 for (other, _), spot in zip(labels, found, strict=False) if px < other <= boxes["left"][1]]
        found.append(_spot(rows, boxes, chosen, _GAP * size, max(over, default=0) if sticks else 0))
    return found


def _spot(
    rows: list[list[tuple[float, float]]],
    boxes: dict[Align, tuple[float, float]],
    sides: list[Align],
    gap: float,
    first: int,
) -> Spot:
    for row in range(first, len(rows) + first + 1):
        while row >= len(rows):
            rows.append([])
        for align in sides:
            start, end = boxes[align]
            if all(end + gap <= other[0] or start >= other[1] + gap for other in rows[row]):
                rows[row].append(boxes[align])
                return Spot(align, row)
    raise AssertionError("a new row has room for any label")
