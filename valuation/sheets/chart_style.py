"""The look of every chart: warm paper, ink, two muted colours; and what a chart carries beside its picture."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from valuation.sheets.chart_canvas import BLUE, CLAY, FAINT, INK, PAPER, RULE, WASH, Canvas, even_ground, log_ground
from valuation.sheets.cleaning import clean_tree
from valuation.text.language import say
from valuation.text.locale import Locale

__all__ = [
    "BLUE", "CLAY", "FAINT", "INK", "PAPER", "RULE", "WASH", "Canvas", "Chart", "Frame", "Money", "Row",
    "finish", "priced", "range_words", "sentence", "share_words",
]  # fmt: skip
OUTCOMES = {"sold": "sold", "bid_not_met": "bid, reserve not met", "asking": "asked, not sold"}
"""How a price came about, as people say it."""
SHAPES = {"sold": "circle", "bid_not_met": "triangle-right", "asking": "triangle-left"}
"""Its mark: a bid points to where the worth lies, about there or more; an asking price to about there or less."""
VEGA_LITE = "6.4"
_ROOM_BESIDE = 600
"""Pixels of a frame from which on names stand beside their marks; chosen by eye."""
_COUNTS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "all")

Money = Callable[[float], str]
"""Writes an amount as people of this shop read it."""
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Frame:
    """What a chart is drawn for.

    Parameters
    ----------
    width : int
        Pixels, margins included.
    letters : int
        Size of all lettering, pixels.
    font : str
    locale : Locale
        How the figures of the axes are written.
    """

    width: int
    letters: int
    font: str = "Georgia, 'DejaVu Serif', serif"
    locale: Locale = field(default_factory=Locale)

    @property
    def beside(self) -> bool:
        """Whether there is room for names beside their marks; on a telephone they stand above."""
        return self.width >= _ROOM_BESIDE

    def log_ground(self, values: Sequence[float], axis: str, left: float = 0.0) -> Canvas:
        """A canvas over a logarithmic scale from one round figure to another.

        Parameters
        ----------
        values : sequence of float
            What it must hold; those that are not above 0 are passed over.
        axis : str
            Its title.
        left : float
            Least margin on the left, pixels.
        """
        return log_ground(self.width, self.letters, values, axis, self.locale.number, left)

    def even_ground(self, low: float, high: float, axis: str, left: float = 0.0) -> Canvas:
        """A canvas over a scale of equal steps.

        Parameters
        ----------
        low, high : float
            Its ends.
        axis : str
            Its title.
        left : float
            Least margin on the left, pixels.
        """
        return even_ground(self.width, self.letters, (low, high), axis, self.locale.number, left)


WIDE, MIDDLE, NARROW = Frame(1090, 14), Frame(720, 14), Frame(342, 13)
"""The whole column of a desk, that of a tablet, and that of a telephone."""


@dataclass(frozen=True, repr=False)
class Chart:
    """A picture with everything that stands in for it.

    Attributes
    ----------
    draw : callable
        The picture for a frame.
    title : str
        What it finds, in one sentence.
    alt : str
        What the picture says, in a few sentences.
    columns : tuple of str
        Headers of its table.
    rows : tuple of tuple of str
        Its table, as people read it.
    """

    draw: Callable[[Frame], Canvas]
    title: str
    alt: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def __repr__(self) -> str:
        return f"<Chart: {self.alt}>"

    def _repr_svg_(self) -> str:
        return self.svg(headed=True)

    @property
    def spec(self) -> dict[str, Any]:
        """The Vega-Lite specification with its data in it, as wide as a desk's column."""
        return self.at(WIDE)

    def at(self, frame: Frame, *, headed: bool = False) -> dict[str, Any]:
        """The specification for a frame.

        Parameters
        ----------
        frame : Frame
        headed : bool
            Whether the title stands in the picture; a page writes it above.
        """
        canvas = self.draw(frame)
        spec = canvas.spec(self.title if headed else "", frame.font)
        spec["description"] = self.alt
        cleaned: dict[str, Any] = clean_tree(spec)[0]  # the drawing program dies of a control character
        return cleaned

    def svg(self, frame: Frame = MIDDLE, *, headed: bool = False) -> str:
        """The picture as SVG text.

        Parameters
        ----------
        frame : Frame
        headed : bool
            Whether the title stands in the picture.
        """
        import vl_convert

        return str(vl_convert.vegalite_to_svg(json.dumps(self.at(frame, headed=headed)), vl_version=VEGA_LITE))


def finish(
    draw: Callable[[Frame], Canvas], *, title: str, alt: str, columns: Sequence[str], rows: Sequence[Sequence[str]]
) -> Chart:
    """A chart with all that stands in for its picture.

    Parameters
    ----------
    draw : callable
        The picture for a frame.
    title : str
        What it finds, in one sentence without a full stop.
    alt : str
        What the picture shows beyond that, in a sentence or two.
    columns : sequence of str
        Headers of the table that stands in for it.
    rows : sequence of sequence of str
        That table, as people read it.
    """
    return Chart(draw, title, f"{title}. {alt}", tuple(columns), tuple(tuple(row) for row in rows))


def share_words(share: float) -> str:
    """A share of cases as people say it.

    Examples
    --------
    >>> share_words(0.8), share_words(0.95)
    ('eight in ten', '95 in 100')
    """
    tenths = round(10 * share)
    if abs(10 * share - tenths) < 1e-9 and 0 < tenths < 10:
        return f"{_COUNTS[tenths]} in ten"
    return f"{100 * share:g} in 100"


def range_words(low: float, high: float, money: Money) -> str:
    """Where a range lies; an end that is open is not said.

    Parameters
    ----------
    low, high : float
        Money.
    money : callable

    Examples
    --------
    >>> range_words(10, 20, str), range_words(10, float("inf"), str)
    ('between 10 and 20', 'above 10')
    """
    if high == float("inf"):
        return f"above {money(low)}"
    return f"between {money(low)} and {money(high)}" if low > 0 else f"below {money(high)}"


def sentence(text: str) -> str:
    """The text with a capital letter to begin with."""
    return text[:1].upper() + text[1:]


def priced(title: str, currency: str, *, log: bool = False) -> str:
    """What an axis of money says: the currency only where the table names one, and that it is logarithmic where it is.

    Parameters
    ----------
    title : str
    currency : str
        Empty where the table names none.
    log : bool
    """
    return ", ".join(filter(None, [title, currency, say("log scale") if log else ""]))
