"""The pages: server-rendered, each with a typed context and a link to its JSON twin."""

from __future__ import annotations

from fastapi import APIRouter


def all_pages() -> APIRouter:
    """Every page."""
    from api.pages import (
        barn,
        bringing,
        comparables,
        help,
        life,
        offers,
        pay,
        photos,
        pictures,
        plans,
        price,
        progress,
        sheets,
        sign_in,
        start,
        track,
        vehicle,
        work,
    )

    whole = APIRouter(include_in_schema=False)
    of_vehicle = (vehicle, life, photos, plans, pay, progress, price, offers)
    for part in (start, barn, bringing, comparables, *of_vehicle, track, sheets, work, pictures, help, sign_in):
        whole.include_router(part.router)
    return whole
