"""Charts on paper: the pictures of the chart room in the paper's type, with figures written in the locale's way."""

from __future__ import annotations

import json
import re
import unicodedata
from dataclasses import dataclass
from functools import cache

from valuation.sheets.chart_style import NARROW, PAPER, VEGA_LITE, Chart, Frame
from valuation.sheets.letters import FONTS
from valuation.sheets.screen import data_address
from valuation.text.locale import Locale

TYPE = "Libertinus Serif"
WIDTH, LETTERS = 640, 12
"""Of a chart on paper, pixels: set to the width of A4 between its margins (174 mm), the lettering is 9 points."""
_WHITE = "#ffffff"
_DOTS = 3.0
"""Dots for each pixel of a chart that is drawn as dots: 300 to the inch at the size in which it is printed."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart as a file: its name's ending, its media type, and its content."""

    suffix: str
    kind: str
    content: bytes


def on_screen(chart: Chart, locale: Locale) -> dict[str, str]:
    """The addresses of a chart in an HTML sheet: as wide as the sheet, and for a telephone.

    Parameters
    ----------
    chart : Chart
    locale : Locale
    """
    frames = {"address": (WIDTH, LETTERS), "narrow": (NARROW.width, NARROW.letters)}
    drawings = {name: drawn(chart, locale, *size) for name, size in frames.items()}
    return {name: data_address(one.kind, one.content) for name, one in drawings.items()}


def drawn(chart: Chart, locale: Locale, width: int = WIDTH, letters: int = LETTERS) -> Drawing:
    """A chart for the typesetter or a page; equal charts give equal bytes.

    Parameters
    ----------
    chart : Chart
    locale : Locale
        Its marks stand in the figures of the axes.
    width, letters : int
        Of the picture and of its lettering, pixels.

    Returns
    -------
    Drawing
        SVG, whose words stay words in the PDF. Dots (PNG) where a word has letters that join or stack, as in
        Devanagari or Thai: inside a drawing the typesetter cannot keep their reading.
    """
    frame = Frame(width, letters, TYPE, locale)
    drawing = _svg(chart, frame)
    if not _joins(drawing):
        return Drawing(".svg", "image/svg+xml", drawing.encode())
    import vl_convert

    _lend_fonts()
    dots = vl_convert.vegalite_to_png(_dressed(chart, frame), scale=_DOTS, vl_version=VEGA_LITE)
    return Drawing(".png", "image/png", bytes(dots))


def paper_svg(chart: Chart, locale: Locale, *, headed: bool = False) -> str:
    """A chart as SVG for print; the same text every time.

    Parameters
    ----------
    chart : Chart
    locale : Locale
        Its marks stand in the figures of the axes.
    headed : bool
        Whether the title stands in the picture.
    """
    return _svg(chart, Frame(WIDTH, LETTERS, TYPE, locale), headed=headed)


def _svg(chart: Chart, frame: Frame, *, headed: bool = False) -> str:
    import vl_convert

    return _settled(str(vl_convert.vegalite_to_svg(_dressed(chart, frame, headed=headed), vl_version=VEGA_LITE)))


def _dressed(chart: Chart, frame: Frame, *, headed: bool = False) -> str:
    """The chart's specification on white, as JSON."""
    return json.dumps(chart.at(frame, headed=headed)).replace(PAPER, _WHITE)


def _joins(drawing: str) -> bool:
    """Whether any word of a drawing has marks over or under letters, or letters that join into one."""
    return any(
        unicodedata.category(character) in ("Mn", "Mc", "Me", "Cf")
        for character in set(drawing)
        if not character.isascii()
    )


@cache
def _lend_fonts() -> None:
    import vl_convert

    vl_convert.register_font_directory(str(FONTS))


def _settled(drawing: str) -> str:
    """The same drawing every time, and nothing in it but the drawing.

    Names of clips and gradients count up with every chart that a process draws: they are numbered from 1. Labels of
    single marks, which spell out the data behind each to its last digit, go; the picture's own text says what it shows.
    """
    drawing = re.sub(r' aria-(?:label|roledescription)="[^"]*"', "", drawing)
    names: dict[str, str] = {}

    def renumbered(match: re.Match[str]) -> str:
        return names.setdefault(match.group(0), f"part{len(names) + 1}")

    return re.sub(r"\b(?:clip|gradient_)\d+\b", renumbered, drawing)
