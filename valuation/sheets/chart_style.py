"""The look of every chart: warm paper, ink, two muted colours; and what a chart carries beside its picture."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from valuation.sheets.cleaning import clean_tree

PAPER, INK, FAINT, RULE, BLUE, CLAY, WASH = "#fbf7ee", "#2a2520", "#685c50", "#cfc3af", "#2f4f66", "#96562a", "#e6dcc9"
"""Paper, ink, ink for small print, rules, the colour of the subject, the colour of a loss, and a light wash."""
WIDE, NARROW = 720, 340
"""Widths of a chart in pixels: for a desk and for a phone."""
OUTCOMES = {"sold": "sold", "bid_not_met": "bid, reserve not met", "asking": "asked, not sold"}
"""How a price came about, as people say it."""
FONT = "Georgia, 'DejaVu Serif', serif"

Money = Callable[[float], str]
"""Writes an amount as people of this shop read it."""
Row = Mapping[str, Any]


@dataclass(frozen=True, repr=False)
class Chart:
    """A picture with everything that stands in for it.

    Attributes
    ----------
    spec : dict
        Vega-Lite specification with its data in it; width ``WIDE``.
    alt : str
        What the picture says, in one or two sentences.
    columns : tuple of str
        Headers of its table.
    rows : tuple of tuple of str
        Its table, as people read it.
    """

    spec: dict[str, Any]
    alt: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def __repr__(self) -> str:
        return f"<Chart: {self.alt}>"

    def _repr_svg_(self) -> str:
        return self.svg()

    def at_width(self, width: int) -> dict[str, Any]:
        """The specification at another width, in pixels, with fewer ticks and shorter names where it is narrow."""
        spec = copy.deepcopy(self.spec)
        spec["width"] = width
        if width < WIDE:
            axis = spec["config"]["axis"]
            axis.update(labelLimit=128, tickCount=4, titleLimit=width)
            spec["config"]["legend"]["columns"] = 1
        return spec

    def svg(self, width: int = WIDE) -> str:
        """The picture as SVG text."""
        import vl_convert

        return str(vl_convert.vegalite_to_svg(json.dumps(self.at_width(width)), vl_version="6.4"))


def finish(picture: Any, *, height: int, alt: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Chart:
    """A chart from an Altair picture, in the house's look.

    Parameters
    ----------
    picture : Any
        From Altair.
    height : int
        Pixels.
    alt : str
        What the picture says, in a sentence or two.
    columns : sequence of str
        Headers of the table that stands in for it.
    rows : sequence of sequence of str
        That table, as people read it.
    """
    styled = picture.properties(width=WIDE, height=height, background="transparent", description=alt)
    styled = styled.properties(autosize={"type": "fit-x", "contains": "padding"}, padding=4)
    styled = styled.configure(font=FONT).configure_view(stroke=None)
    styled = styled.configure_axis(
        labelColor=FAINT, titleColor=FAINT, domainColor=RULE, tickColor=RULE, gridColor=RULE, gridOpacity=0.55,
        labelFontSize=12, titleFontSize=12, titleFontWeight="normal", labelLimit=270, tickCount=6,
    )  # fmt: skip
    styled = styled.configure_legend(
        labelColor=INK, titleColor=FAINT, orient="top", title=None, labelFontSize=12, symbolSize=70
    )
    spec = clean_tree(styled.to_dict())[0]  # the drawing program dies of a control character
    return Chart(spec, alt, tuple(columns), tuple(tuple(row) for row in rows))


def data(rows: Sequence[Row]) -> Any:
    """Rows as the data of a chart."""
    from altair import Data

    return Data(values=[dict(row) for row in rows])  # type: ignore[no-untyped-call]


def money_axis(title: str, currency: str, **more: Any) -> Any:
    """An axis of money; the currency is named only where the table names one.

    Parameters
    ----------
    title : str
    currency : str
        Empty where the table names none.
    **more : Any
        What else Altair's axis takes.
    """
    from altair import Axis

    return Axis(title=f"{title}, {currency}" if currency else title, format=",.0f", **more)


def no_axis() -> Any:
    """An axis that does not show; a missing one is not accepted where layers share it."""
    from altair import Axis

    return Axis(title=None, labels=False, ticks=False, domain=False, grid=False)
