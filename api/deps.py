"""What routes and pages are given: the desk, the settings, and numbers from addresses."""

from __future__ import annotations

from typing import Annotated, cast

from fastapi import Depends, Path, Query, Request

from api.desk import MAX_NUMBER, Desk
from api.settings import Settings


# Asynchronous, so that neither costs a change of threads.
async def _desk(request: Request) -> Desk:
    return cast(Desk, request.app.state.desk)


async def _settings(request: Request) -> Settings:
    return cast(Settings, request.app.state.settings)


def record_number(text: str) -> int | None:
    """The number of a record as a form sends it; None when it is none."""
    plain = text.isascii() and text.isdigit() and len(text) <= len(str(MAX_NUMBER))
    return int(text) if plain else None


TheDesk = Annotated[Desk, Depends(_desk)]
TheSettings = Annotated[Settings, Depends(_settings)]
Number = Annotated[int, Path(ge=1, le=MAX_NUMBER, description="Number of the record in the ledger.")]

TableNumber = Annotated[int | None, Query(ge=1, le=MAX_NUMBER, description="Table version; the newest unless given.")]


async def _fields(request: Request) -> dict[str, str]:
    form = await request.form(max_fields=20_000, max_files=5)
    return {name: value for name, value in form.items() if isinstance(value, str)}


FormFields = Annotated[dict[str, str], Depends(_fields)]
"""Text fields of a form whose names follow from a table or schema."""
