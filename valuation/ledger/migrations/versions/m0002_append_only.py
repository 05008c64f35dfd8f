"""Triggers that refuse to change or remove what was once written, whoever asks."""

from __future__ import annotations

from alembic import op

from valuation.ledger.migrations.parts import WORDS, append_only

revision = "m0002_append_only"
down_revision = "m0001_records"

KEYS = {
    "contents": "fingerprint",
    "table_versions": "id",
    "models": "id",
    "estimates": "id",
    "plans": "id",
    "deals": "id",
    "offers": "id",
    "sales": "id",
    "sheets": "id",
}


def upgrade() -> None:
    """Make the triggers, in the dialect of the database."""
    if op.get_context().dialect.name != "sqlite":
        op.execute(
            "CREATE FUNCTION ledger_append_only() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{WORDS}'; END $$"
        )
    for table, key in KEYS.items():
        append_only(table, key)
