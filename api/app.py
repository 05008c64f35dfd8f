"""The service: ``create_app(settings)`` puts routes, pages and the guard together; nothing happens at import."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from api import replies
from api.desk import Desk
from api.guard import Guard
from api.sessions import Door, Sessions
from api.settings import Settings
from api.warm import LoadedFirst, WarmUp
from valuation.version import own_version

STATIC = Path(__file__).parent / "static"
DESCRIPTION = """
What a found truck or car is worth, what to pay for it, what to build and what to ask, from a shop's own table of sales.

Every error is a problem detail (RFC 9457) with a stable `code`. Long work answers 202 with a job to look at and stop.
All estimates come from the table that was brought; they are not licensed appraisals.
"""


def create_app(settings: Settings | None = None) -> FastAPI:
    """The service as an ASGI app.

    Parameters
    ----------
    settings : Settings, optional
        Read from the environment (``VALUATION_...``) unless given.

    Raises
    ------
    pydantic.ValidationError
        If the settings contradict each other, or would open the service to others without a token.
    """
    from api.pages import all_pages
    from api.routes import all_routes

    settings = settings or Settings.from_environment()
    desk = Desk(settings)

    warm_up = WarmUp()

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        warm_up.begin()
        yield
        desk.close()

    app = FastAPI(
        title="Valuation",
        version=own_version(),
        description=DESCRIPTION,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/v1/openapi.json",
        # As they are: a router that is included is worked out anew, for a second of each start.
        routes=[*all_routes(), *all_pages()],
    )
    app.state.desk = desk
    app.state.settings = settings
    app.state.authority = None  # whoever listens with a certificate says where its authority's lies
    app.state.warm_up = warm_up
    app.state.door, app.state.sessions = Door(settings.token.get_secret_value()), Sessions()
    app.add_middleware(LoadedFirst, warm_up=warm_up)
    app.add_middleware(Guard, settings=settings, door=app.state.door, sessions=app.state.sessions)
    replies.install(app)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app
