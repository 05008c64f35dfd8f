"""JSON routes under ``/api/v1``: each calls the desk and gives its answer a documented shape."""

from __future__ import annotations

from fastapi import APIRouter


def all_routes() -> APIRouter:
    """Every JSON route, and ``/healthz``."""
    from api.routes import (
        barn,
        comparables,
        deal,
        drafts,
        estimates,
        health,
        jobs,
        offers,
        plans,
        record,
        sales_of_table,
        sheets,
        shop,
        vehicles,
    )

    whole = APIRouter()
    whole.include_router(health.router)
    of_tables = (drafts, comparables, sales_of_table)
    for part in (barn, *of_tables, vehicles, estimates, deal, plans, offers, record, shop, sheets, jobs):
        whole.include_router(part.router, prefix="/api/v1")
    whole.include_router(offers.of_vehicle, prefix="/api/v1")
    return whole
