"""The ground of a chart: marks, lines, areas and words at their places, and the Vega-Lite specification of it all.

Across runs the chart's one scale; down run pixels from the top, which the chart's own function hands out, so that what
stands where is known before anything is drawn.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from valuation.sheets.chart_layout import Across, Align, even_across, log_across, text_width

PAPER, INK, FAINT, RULE, BLUE, CLAY, WASH = "#fbf7ee", "#2a2520", "#685c50", "#cfc3af", "#2f4f66", "#96562a", "#e6dcc9"
"""Paper, ink, ink for small print, rules, the colour of the subject, the colour of a loss, and a light wash."""
_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
_LINE = 1.35
"""Height of a line of text in sizes of the type."""
_TRIANGLE = 1.9
"""How much more of the square a triangle needs to weigh as much as a dot; chosen by eye."""
_FOOT = 3.2
"""Room under an axis for its figures and its title, in sizes of the type."""


@dataclass
class Canvas:
    """A picture under way.

    Parameters
    ----------
    across : Across
        The scale from left to right.
    letters : int
        Size of the lettering, pixels.
    axis : str
        Title of the scale; empty: no axis is drawn.
    left, right : float
        Margins, pixels.
    height : float
        Grows with what is put down; the axis stands there.
    """

    across: Across
    letters: int
    axis: str
    left: float
    right: float
    height: float = 0.0
    _layers: dict[tuple[Any, ...], list[dict[str, Any]]] = field(default_factory=dict)

    @property
    def line(self) -> float:
        """Height of a line of text, pixels."""
        return round(_LINE * self.letters, 1)

    def _put(self, style: dict[str, Any], row: dict[str, Any], ends: str = "") -> dict[str, Any]:
        key = (ends, *sorted((name, repr(value)) for name, value in style.items()))
        entry = self._layers.setdefault(key, [])
        if not entry:
            entry.append({"style": style, "ends": ends})
        entry.append(row)
        return row

    def area(self, points: Sequence[tuple[float, float]], foot: float, **style: Any) -> None:
        """A filled curve over a level line.

        Parameters
        ----------
        points : sequence of (float, float)
            Value across, pixels from the top.
        foot : float
            The level line, pixels from the top.
        **style : Any
            Of the Vega-Lite mark.
        """
        shape = {"type": "area", "interpolate": "monotone", **style}
        for x, y in points:
            self._put(shape, {"x": x, "y": y, "y2": foot}, "y2")

    def rule(self, x: float, y: float, x2: float, y2: float, color: str, width: float = 1.0, **style: Any) -> None:
        """A straight line.

        Parameters
        ----------
        x, x2 : float
            Values across.
        y, y2 : float
            Pixels from the top.
        color : str
        width : float
            Pixels.
        **style : Any
            Of the Vega-Lite mark.
        """
        shape = {"type": "rule", "color": color, "strokeWidth": width, **style}
        self._put(shape, {"x": x, "y": y, "x2": x2, "y2": y2}, "x2y2")

    def band(self, x: float, y: float, x2: float, y2: float, color: str, **style: Any) -> dict[str, Any]:
        """A filled rectangle; its row is given, so that its foot ``y2`` can be set once it is known.

        Parameters
        ----------
        x, x2 : float
            Values across.
        y, y2 : float
            Pixels from the top.
        color : str
        **style : Any
            Of the Vega-Lite mark.
        """
        return self._put({"type": "rect", "color": color, **style}, {"x": x, "y": y, "x2": x2, "y2": y2}, "x2y2")

    def mark(self, x: float, y: float, shape: str, size: float, fill: str, stroke: str, said: str = "") -> None:
        """A mark; ``said`` is shown where a pointer rests on it.

        Parameters
        ----------
        x : float
            Value across.
        y : float
            Pixels from the top.
        shape : str
            As Vega names it.
        size : float
            Square pixels.
        fill, stroke : str
            Colours; ``transparent`` leaves one out.
        said : str
        """
        size = size * (1 if shape in ("circle", "square", "diamond") else _TRIANGLE)
        style = {"type": "point", "shape": shape, "size": size, "fill": fill, "stroke": stroke, "strokeWidth": 1.3,
                 "opacity": 1}  # fmt: skip
        self._put(style, {"x": x, "y": y, "said": said}, "said" if said else "")

    def words(
        self,
        x: float,
        y: float,
        text: str,
        align: Align = "left",
        *,
        dx: float = 0.0,
        faint: bool = False,
        bold: bool = False,
        size: float = 0.0,
        halo: bool = False,
        color: str = "",
    ) -> None:
        """A line of text; ``y`` is its middle.

        Parameters
        ----------
        x : float
            Value across.
        y : float
            Pixels from the top.
        text : str
        align : {"left", "center", "right"}
            Which of its sides stands at ``x``.
        dx : float
            Pixels to the right of it.
        faint, bold, halo : bool
        size : float
            Pixels; the lettering's own unless told.
        color : str
            Ink unless told.
        """
        style = {"type": "text", "align": align, "baseline": "middle", "dx": dx, "fontSize": size or self.letters,
                 "color": color or (FAINT if faint else INK)}  # fmt: skip
        if bold:
            style["fontWeight"] = "bold"
        row = {"x": x, "y": y, "text": text}
        if halo:
            self._put({**style, "stroke": PAPER, "strokeWidth": 4, "strokeJoin": "round", "color": PAPER}, row, "text")
        self._put(style, row, "text")

    def centred(self, x: float, y: float, text: str, **style: Any) -> None:
        """A line of text over a value, moved sideways as far as the picture's edges ask.

        Parameters
        ----------
        x : float
            Value across.
        y : float
            Pixels from the top.
        text : str
        **style : Any
            As for ``words``.
        """
        half = text_width(text, style.get("size") or self.letters) / 2
        px = min(max(self.across.px(x), half - self.left), self.across.room + self.right - half)
        self.words(self.across.value(px), y, text, "center", **style)

    def spec(self, title: str, font: str) -> dict[str, Any]:
        """The specification; with a title on top where one is given.

        Parameters
        ----------
        title : str
        font : str
        """
        large = self.letters + 3
        head = _lines(title, large, self.left + self.across.room + self.right) if title else []
        spec: dict[str, Any] = {
            "$schema": _SCHEMA,
            "width": round(self.across.room, 1),
            "height": round(self.height, 1),
            "padding": {"left": round(self.left, 1), "right": round(self.right, 1),
                        "bottom": self._foot(), "top": round(4 + (len(head) * 1.3 + bool(head)) * large, 1)},
            "autosize": "none",
            "background": "transparent",
            "config": {
                "font": font,
                "view": {"stroke": None},
                "axis": {
                    "labelColor": FAINT, "titleColor": FAINT, "domainColor": RULE, "tickColor": RULE, "gridColor": RULE,
                    "gridOpacity": 0.55, "labelFontSize": self.letters, "titleFontSize": self.letters,
                    "titleFontWeight": "normal", "labelOverlap": False, "titlePadding": 6,
                },
            },
            "layer": [self._layer(rows) for rows in self._layers.values()],
        }  # fmt: skip
        if head:
            spec["title"] = {"text": head, "anchor": "start", "frame": "group", "dx": -round(self.left, 1), "offset": 8,
                             "fontSize": large, "color": INK}  # fmt: skip
        return spec

    def _axis_lines(self) -> list[str]:
        return _lines(self.axis, self.letters, self.across.room + 2 * min(self.left, self.right)) if self.axis else []

    def _foot(self) -> float:
        """Room under the chart for the axis."""
        return round((_FOOT + _LINE * (len(self._axis_lines()) - 1)) * self.letters, 1) if self.axis else 4.0

    def _layer(self, entry: list[dict[str, Any]]) -> dict[str, Any]:
        style, ends = entry[0]["style"], entry[0]["ends"]
        down = {"domain": [0, self.height], "range": [0, self.height], "nice": False, "zero": False}
        encoding: dict[str, Any] = {
            "x": {"field": "x", "type": "quantitative", "scale": self._scale(), "axis": self._axis()},
            "y": {"field": "y", "type": "quantitative", "scale": down, "axis": None},
        }
        if "x2" in ends:
            encoding["x2"] = {"field": "x2"}
        if "y2" in ends:
            encoding["y2"] = {"field": "y2"}
        if ends == "said":
            encoding["tooltip"] = {"field": "said", "type": "nominal"}
        if ends == "text":
            encoding["text"] = {"field": "text", "type": "nominal"}
        return {"data": {"values": entry[1:]}, "mark": style, "encoding": encoding}

    def _scale(self) -> dict[str, Any]:
        across = self.across
        ends = {"domain": [across.low, across.high], "range": [0, across.room], "nice": False}
        return {"type": "log", **ends} if across.log else {"type": "linear", "zero": False, **ends}

    def _axis(self) -> dict[str, Any] | None:
        if not self.axis:
            return None
        ticks, labels = list(self.across.ticks), list(self.across.labels)
        return {
            "title": self._axis_lines(), "values": ticks, "labelFlush": False,
            "labelExpr": f"{json.dumps(labels)}[indexof({json.dumps(ticks)}, datum.value)]",
        }  # fmt: skip


def log_ground(
    width: float,
    letters: int,
    values: Sequence[float],
    axis: str,
    write: Callable[[float, int], str],
    left: float = 0.0,
) -> Canvas:
    """A canvas over a logarithmic scale, with margins in which its outer figures have room.

    Parameters
    ----------
    width : float
        Pixels, margins included.
    letters : int
        Size of the lettering, pixels.
    values : sequence of float
        What the scale must hold; those that are not above 0 are passed over.
    axis : str
        Its title.
    write : callable
        Writes a number with so many decimals.
    left : float
        Least margin on the left, pixels.
    """
    held = [value for value in values if value > 0]
    return _ground(width, letters, axis, lambda room: log_across(held, room, letters, write), left)


def even_ground(
    width: float,
    letters: int,
    ends: tuple[float, float],
    axis: str,
    write: Callable[[float, int], str],
    left: float = 0.0,
) -> Canvas:
    """A canvas over a scale of equal steps; see ``log_ground``.

    Parameters
    ----------
    width : float
    letters : int
    ends : tuple of float
        Of the scale.
    axis : str
    write : callable
    left : float
    """
    low, high = ends
    return _ground(width, letters, axis, lambda room: even_across(low, high, room, letters, write), left)


def _ground(width: float, letters: int, axis: str, scale: Callable[[float], Across], left: float) -> Canvas:
    before = after = letters / 2
    before = max(before, left)
    while True:  # less room can mean other ticks with longer figures; margins only grow, so this ends
        across = scale(width - before - after)
        labels = [text_width(text, letters) / 2 for text in across.labels] or [0.0]
        inset = [min(across.px(tick), across.room - across.px(tick)) for tick in across.ticks] or [0.0]
        first, last = labels[0] - inset[0], labels[-1] - inset[-1]
        if first <= before and last <= after:
            return Canvas(across, letters, axis, before, after)
        before, after = max(before, first), max(after, last)


def _lines(text: str, size: float, room: float) -> list[str]:
    """The text in lines that fit."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, size) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
