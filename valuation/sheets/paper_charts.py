"""Charts on paper: the pictures of the chart room in the paper's type, with figures written in the locale's way."""

from __future__ import annotations

import copy
import json
import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from typing import Any

from valuation.sheets.chart_style import Chart
from valuation.sheets.cleaning import clean_tree
from valuation.sheets.letters import FONTS
from valuation.text.locale import Locale

TYPE = "Libertinus Serif"
VEGA_LITE = "6.4"
_DOTS = 3.0
"""Dots for each pixel of a chart that is drawn as dots: 300 to the inch at the size in which it is printed."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart as a file: its name's ending, its media type, and its content."""

    suffix: str
    kind: str
    content: bytes


def drawn(chart: Chart, locale: Locale) -> Drawing:
    """A chart for the typesetter or a page; equal charts give equal bytes.

    Parameters
    ----------
    chart : Chart
    locale : Locale
        Its marks stand in the figures of the axes.

    Returns
    -------
    Drawing
        SVG, whose words stay words in the PDF. Dots (PNG) where a word has letters that join or stack, as in
        Devanagari or Thai: inside a drawing the typesetter cannot keep their reading.
    """
    drawing = paper_svg(chart, locale)
    if not _joins(drawing):
        return Drawing(".svg", "image/svg+xml", drawing.encode())
    import vl_convert

    _lend_fonts()
    dots = vl_convert.vegalite_to_png(
        _dressed(chart), scale=_DOTS, vl_version=VEGA_LITE, format_locale=_number_format(locale)
    )
    return Drawing(".png", "image/png", bytes(dots))


def paper_svg(chart: Chart, locale: Locale) -> str:
    """A chart as SVG for print; the same text every time.

    Parameters
    ----------
    chart : Chart
    locale : Locale
        Its marks stand in the figures of the axes.
    """
    import vl_convert

    figures = _number_format(locale)
    return _settled(str(vl_convert.vegalite_to_svg(_dressed(chart), vl_version=VEGA_LITE, format_locale=figures)))


def _dressed(chart: Chart) -> str:
    """The chart's specification in the paper's type, as JSON, without characters that the drawing program chokes on."""
    spec: dict[str, Any] = clean_tree(copy.deepcopy(chart.spec))[0]
    spec["config"]["font"] = TYPE
    spec["config"]["axis"].update(labelColor="#2a2520", titleColor="#2a2520", labelFontSize=13, titleFontSize=13)
    spec["config"].setdefault("legend", {}).update(labelFontSize=13)
    return json.dumps(spec)


def _number_format(locale: Locale) -> dict[str, Any]:
    return {"decimal": locale.decimal, "thousands": locale.thousands, "grouping": [3], "currency": ["", ""]}


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
