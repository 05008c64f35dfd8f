"""JSON routes under ``/api/v1``: each calls the desk and gives its answer a documented shape."""

from __future__ import annotations

from starlette.routing import BaseRoute


def all_routes() -> list[BaseRoute]:
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

    of_tables = (drafts, comparables, sales_of_table)
    parts = (health, barn, *of_tables, vehicles, estimates, deal, plans, offers, record, shop, sheets, jobs)
    return [*(route for part in parts for route in part.router.routes), *offers.of_vehicle.routes]
