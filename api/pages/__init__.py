"""The pages: server-rendered, each with a typed context and a link to its JSON twin."""

from __future__ import annotations

from fastapi import APIRouter


def all_pages() -> APIRouter:
    """Every page."""
    from api.pages import (
        barn,
        bringing,
        comparables,
        demo,
        help,
        life,
        offers,
        pay,
        photos,
        pictures,
        plans,
        price,
        progress,
        sales,
        sheets,
        shop,
        sign_in,
        start,
        track,
        vehicle,
        work,
    )

    whole = APIRouter(include_in_schema=False)
    of_vehicle = (vehicle, life, photos, plans, pay, progress, price, offers)
    of_tables = (bringing, sales, comparables)
    for part in (start, demo, barn, *of_tables, *of_vehicle, shop, track, sheets, work, pictures, help, sign_in):
        whole.include_router(part.router)
    return whole
