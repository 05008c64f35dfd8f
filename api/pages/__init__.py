"""The pages: server-rendered, each with a typed context and a link to its JSON twin."""

from __future__ import annotations

from fastapi import APIRouter


def all_pages() -> APIRouter:
    """Every page."""
    from api.pages import (
        barn,
        build,
        comparables,
        help,
        life,
        photos,
        pictures,
        price,
        sheets,
        sign_in,
        start,
        track,
        vehicle,
        work,
    )

    whole = APIRouter(include_in_schema=False)
    for part in (
        start, barn, comparables, vehicle, life, photos, build, price, track, sheets, work, pictures, help, sign_in,
    ):  # fmt: skip
        whole.include_router(part.router)
    return whole
