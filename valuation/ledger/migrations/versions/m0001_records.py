"""The first ledger: one table for each kind of record, and the contents they point at."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from valuation.ledger.migrations.parts import day, figure, records, refers, text, whole

revision = "m0001_records"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "contents",
        sa.Column("fingerprint", sa.Text, primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    records(
        "table_versions",
        text("name"),
        whole("version"),
        text("schema"),
        text("source_name"),
        refers("source", "contents.fingerprint", sa.Text),
        text("fingerprint"),
        whole("rows"),
        whole("faults"),
    )
    records(
        "models",
        refers("table_id", "table_versions.id"),
        refers("fingerprint", "contents.fingerprint", sa.Text),
    )
    records(
        "estimates",
        text("subject"),
        text("vehicle"),
        day("as_of"),
        refers("model_id", "models.id"),
        figure("coverage"),
        text("currency"),
        figure("median"),
        figure("low", may_be_empty=True),
        figure("high", may_be_empty=True),
        text("settings"),
        refers("summary", "contents.fingerprint", sa.Text),
    )
    records("plans", text("subject"), text("name"), text("text"))
    records(
        "deals",
        text("subject"),
        text("kind"),
        refers("plan_id", "plans.id", may_be_empty=True),
        refers("model_id", "models.id", may_be_empty=True),
        text("inputs"),
        refers("result", "contents.fingerprint", sa.Text),
    )
    records(
        "offers",
        text("subject"),
        refers("plan_id", "plans.id", may_be_empty=True),
        refers("estimate_id", "estimates.id", may_be_empty=True),
        figure("amount"),
        text("currency"),
        day("offered_on"),
        text("who"),
        text("answer"),
        figure("counter", may_be_empty=True),
        text("remark"),
    )
    records(
        "sales",
        text("subject"),
        refers("estimate_id", "estimates.id"),
        figure("price"),
        text("currency"),
        day("sold_on"),
        text("kind"),
        sa.Column("arms_length", sa.Boolean, nullable=False),
        text("remark"),
    )
    records(
        "sheets",
        text("kind"),
        text("subject"),
        refers("estimate_id", "estimates.id", may_be_empty=True),
        refers("deal_id", "deals.id", may_be_empty=True),
        text("file_name"),
        text("fingerprint"),
        text("inputs"),
    )
    for table in ("estimates", "plans", "deals", "offers", "sales"):
        op.create_index(f"{table}_by_subject", table, ["subject"])
