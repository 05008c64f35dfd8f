"""The pages: server-rendered, each with a typed context and a link to its JSON twin."""

from __future__ import annotations

from starlette.routing import BaseRoute


def all_pages() -> list[BaseRoute]:
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

    of_vehicle = (vehicle, life, photos, plans, pay, progress, price, offers)
    of_tables = (bringing, sales, comparables)
    parts = (start, demo, barn, *of_tables, *of_vehicle, shop, track, sheets, work, pictures, help, sign_in)
    return [route for part in parts for route in part.router.routes]
