"""Vehicles as the shop has them, what things are called and which are put away, photographs, the shop's settings."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from valuation.ledger.migrations.parts import append_only, day, figure, records, refers, text, whole

revision = "m0003_vehicles"
down_revision = "m0002_append_only"


def upgrade() -> None:
    """Make the tables with their indices and triggers."""
    records(
        "vehicles",
        text("subject"),
        text("number"),
        text("found"),
        figure("asked", may_be_empty=True),
        text("currency"),
        day("found_on", may_be_empty=True),
        figure("bought_for", may_be_empty=True),
        day("bought_on", may_be_empty=True),
        day("for_sale_on", may_be_empty=True),
        text("remark"),
    )
    records("shown", text("thing"), text("key"), text("name"), sa.Column("archived", sa.Boolean, nullable=False))
    records(
        "photographs",
        text("subject"),
        refers("content", "contents.fingerprint", sa.Text),
        text("caption"),
        whole("width"),
        whole("height"),
    )
    records("shop_settings", text("text"))
    for table in ("vehicles", "photographs"):
        op.create_index(f"{table}_by_subject", table, ["subject"])
    op.create_index("shown_by_key", "shown", ["thing", "key"])
    for table in ("vehicles", "shown", "photographs", "shop_settings"):
        append_only(table)
