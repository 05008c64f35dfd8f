"""Charts on paper: the pictures of the chart room in the paper's type, with figures written in the locale's way."""

from __future__ import annotations

import copy
import json
import re
from typing import Any

from valuation.sheets.chart_style import WIDE, Chart
from valuation.sheets.locale import Locale

TYPE = "Libertinus Serif"


def paper_svg(chart: Chart, locale: Locale, *, grey: bool = False, width: int = WIDE) -> str:
    """A chart as SVG for print; the same text every time.

    Parameters
    ----------
    chart : Chart
    locale : Locale
        Its signs stand in the axes' figures.
    grey : bool
        In black and greys, for a printer without colour.
    width : int
        Pixels; the type keeps its size, so a narrower picture is read larger on the same page.
    """
    import vl_convert

    spec: dict[str, Any] = copy.deepcopy(chart.at_width(width))
    spec["config"]["font"] = TYPE
    spec["config"]["axis"].update(labelColor="#2a2520", titleColor="#2a2520", labelFontSize=13, titleFontSize=13)
    spec["config"].setdefault("legend", {}).update(labelFontSize=13)
    signs = {"decimal": locale.decimal, "thousands": locale.thousands, "grouping": [3], "currency": ["", ""]}
    drawing = str(vl_convert.vegalite_to_svg(json.dumps(spec), vl_version="6.4", format_locale=signs))
    return _greyed(_settled(drawing)) if grey else _settled(drawing)


def _settled(drawing: str) -> str:
    """Names of clips and gradients count up with every chart that a process draws; number them anew."""
    names: dict[str, str] = {}

    def anew(match: re.Match[str]) -> str:
        return names.setdefault(match.group(0), f"part{len(names) + 1}")

    return re.sub(r"\b(?:clip|gradient_)\d+\b", anew, drawing)


def _greyed(drawing: str) -> str:
    """Every colour by its luminance (ITU-R BT.709 weights)."""

    def grey(match: re.Match[str]) -> str:
        red, green, blue = (int(match.group(1)[i : i + 2], 16) for i in (0, 2, 4))
        level = round(0.2126 * red + 0.7152 * green + 0.0722 * blue)
        return f"#{level:02x}{level:02x}{level:02x}"

    return re.sub(r"#([0-9a-fA-F]{6})\b", grey, drawing)
