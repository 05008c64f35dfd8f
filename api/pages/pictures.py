"""Pictures: each chart under its fingerprint, as SVG for three widths of a page and as a live specification."""

from __future__ import annotations

import hashlib
import json
import threading
from collections import OrderedDict
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated, Literal

from fastapi import APIRouter, Path
from fastapi.responses import JSONResponse, Response

from api.deps import TheSettings
from api.problems import not_found
from api.settings import Settings
from valuation.sheets.chart_style import BLUE, CLAY, FAINT, INK, MIDDLE, NARROW, PAPER, RULE, WASH, WIDE, Chart, Frame
from valuation.text.locale import LOCALES

router = APIRouter(include_in_schema=False)
KEPT = 1000
"""Pictures that the service holds in memory; the one that was asked for longest ago goes first."""
COLOURS = {
    INK: ("--ink", "#ece4d6"),
    FAINT: ("--faint", "#b9ac9a"),
    PAPER: ("--paper", "#1d1a17"),
    RULE: ("--rule", "#544b41"),
    BLUE: ("--blue", "#9dbdd3"),
    CLAY: ("--clay", "#d79f70"),
    WASH: ("--wash", "#3b342c"),
}
"""Each colour of the charts, its name in the style sheet, and what it is by night."""
_NIGHT = "".join(f"{name}:{night};" for name, night in COLOURS.values())
_DAY = "".join(f"{name}:{day};" for day, (name, _) in COLOURS.items())
_STYLE = f"<style>:root{{{_DAY}}}@media(prefers-color-scheme:dark){{:root{{{_NIGHT}}}}}</style>"


@dataclass(frozen=True)
class Picture:
    """A chart with its addresses, for a page.

    Attributes
    ----------
    key : str
        Fingerprint.
    caption : str
        What it is a picture of; the finding stands in the chart's title.
    chart : Chart
    """

    key: str
    caption: str
    chart: Chart


class _Store:
    def __init__(self) -> None:
        self._kept: OrderedDict[str, Chart] = OrderedDict()
        self._lock = threading.Lock()

    def put(self, chart: Chart) -> str:
        key = hashlib.sha256(json.dumps(chart.spec, sort_keys=True).encode()).hexdigest()[:20]
        with self._lock:
            self._kept[key] = chart
            self._kept.move_to_end(key)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return key

    def get(self, key: str) -> Chart:
        chart = self._kept.get(key)
        if chart is None:
            raise not_found("that picture; reload its page")
        return chart


_STORE = _Store()


def picture(chart: Chart, caption: str) -> Picture:
    """Keep a chart so that its page can show it.

    Parameters
    ----------
    chart : Chart
    caption : str
    """
    return Picture(_STORE.put(chart), caption, chart)


@lru_cache(maxsize=200)
def _svg(key: str, frame: Frame) -> str:
    text = _STORE.get(key).svg(frame)
    head, mark, rest = text.partition(">")
    return _themed(head) + mark + _STYLE + _themed(rest)


def _themed(text: str) -> str:
    for colour, (name, _) in COLOURS.items():
        text = text.replace(colour, f"var({name})")
    return text


Key = Annotated[str, Path(pattern="^[0-9a-f]{20}$")]
Width = Literal["wide", "middle", "narrow"]
_FRAMES = {"wide": WIDE, "middle": MIDDLE, "narrow": NARROW}


def _frame(width: Width, settings: Settings) -> Frame:
    return replace(_FRAMES[width], locale=LOCALES[settings.locale])


@router.get("/pictures/{key}/{width}.svg")
def svg(settings: TheSettings, key: Key, width: Width) -> Response:
    """The picture, by day and by night."""
    headers = {"Cache-Control": "private, max-age=86400"}
    return Response(_svg(key, _frame(width, settings)), media_type="image/svg+xml", headers=headers)


@router.get("/pictures/{key}/{width}.json")
def live(settings: TheSettings, key: Key, width: Width) -> Response:
    """The specification for a live chart, its colours left to the page's style sheet."""
    return JSONResponse(json.loads(_themed(json.dumps(_STORE.get(key).at(_frame(width, settings))))))
