"""The one place where the service loads slow modules: one thread, once, and requests that need them wait for it.

Modules that import each other in a circle must not be loaded by two threads at once: Python
breaks the deadlock by an exception in one of them. So no request loads a slow module itself. The list is checked by a
test that goes through the pages and looks for modules that were loaded beside it.
"""

from __future__ import annotations

import asyncio
import logging
import threading
from concurrent.futures import Future
from importlib import import_module

from starlette.types import ASGIApp, Receive, Scope, Send

SLOW = (
    "pandas", "openpyxl", "odf.opendocument", "odf.load", "odf.table",
    "odf.text", "pyarrow.dataset", "pyarrow.parquet", "valuation.comparables.plain_sales",
    "valuation.comparables.mending", "valuation.answers.bringing_talk", "scipy.optimize",
    "valuation.regression.saved", "valuation.regression.price_curve",
    "valuation.regression.regressor", "valuation.evidence.effects", "valuation.evidence.gaps",
    "valuation.evidence.grid", "valuation.evidence.influence", "valuation.evidence.trend",
    "valuation.sell.bands", "valuation.sell.offers",
    "valuation.build.plan_file", "valuation.answers.track_record", "valuation.sheets.charts",
    "valuation.sheets.bands_chart", "valuation.sheets.deal_charts", "valuation.sheets.place_chart",
    "valuation.sheets.sale_charts", "multiprocessing.forkserver", "multiprocessing.popen_forkserver",
)  # fmt: skip
"""In the order of loading."""
LIGHT = ("/", "/healthz", "/sign-in", "/sign-out", "/help", "/api/docs", "/api/v1/openapi.json")
"""Addresses that need none of them, so that the first page is there at once; and everything under ``/static/``."""
log = logging.getLogger("valuation.api")


class WarmUp:
    """Loads the slow modules in a thread of its own, beside the first page."""

    def __init__(self) -> None:
        self._loaded: Future[None] = Future()
        self._lock = threading.Lock()
        self._begun = False

    def begin(self) -> None:
        """Begin to load, unless that has begun."""
        with self._lock:
            if self._begun:
                return
            self._begun = True
        threading.Thread(target=self._load, name="warm-up", daemon=True).start()

    async def loaded(self) -> None:
        """Wait until everything is loaded; no thread is kept for the wait."""
        if not self._loaded.done():
            self.begin()
            await asyncio.wait([asyncio.wrap_future(self._loaded)])

    def wait(self) -> None:
        """Wait in the thread of a request that was let through at first."""
        self.begin()
        self._loaded.result()

    def _load(self) -> None:
        for name in SLOW:
            try:
                import_module(name)
            except Exception:  # the request that needs it will say so; others go on
                log.exception("cannot load %s", name)
        self._loaded.set_result(None)


class LoadedFirst:
    """ASGI middleware: a request is served once the slow modules are loaded, unless it needs none."""

    def __init__(self, app: ASGIApp, warm_up: WarmUp) -> None:
        self.app, self.warm_up = app, warm_up

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Wait if need be, then serve."""
        if scope["type"] == "http" and not (scope["path"] in LIGHT or scope["path"].startswith("/static/")):
            await self.warm_up.loaded()
        await self.app(scope, receive, send)
