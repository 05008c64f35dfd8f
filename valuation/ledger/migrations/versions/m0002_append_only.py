"""Triggers that refuse to change or remove what was once written, whoever asks."""

from __future__ import annotations

from alembic import op

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
WORDS = "the ledger is append-only: write a correction instead"


def upgrade() -> None:
    """Make the triggers, in the dialect of the database."""
    if op.get_context().dialect.name == "sqlite":
        for table, key in KEYS.items():
            _sqlite(table, key)
    else:
        op.execute(
            "CREATE FUNCTION ledger_append_only() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{WORDS}'; END $$"
        )
        for table in KEYS:
            _postgresql(table)


def _sqlite(table: str, key: str) -> None:
    for action in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
        )
    # INSERT OR REPLACE removes a row without a DELETE trigger unless the connection asks for one.
    same = f"{key} = NEW.{key}" if key == "fingerprint" else "id = NEW.id OR corrects = NEW.corrects"
    op.execute(
        f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
    )


def _postgresql(table: str) -> None:
    op.execute(
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION ledger_append_only()"
    )
    op.execute(
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION ledger_append_only()"
    )
