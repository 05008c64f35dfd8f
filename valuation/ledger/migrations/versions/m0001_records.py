"""The first ledger: one table for each kind of record, and the contents they point at."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "m0001_records"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "contents",
        sa.Column("fingerprint", sa.Text, primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    _records(
        "table_versions",
        _text("name"),
        _whole("version"),
        _text("schema"),
        _text("source_name"),
        _refers("source", "contents.fingerprint", sa.Text),
        _text("fingerprint"),
        _whole("rows"),
        _whole("faults"),
    )
    _records(
        "models",
        _refers("table_id", "table_versions.id"),
        _refers("fingerprint", "contents.fingerprint", sa.Text),
    )
    _records(
        "estimates",
        _text("subject"),
        _text("vehicle"),
        _day("as_of"),
        _refers("model_id", "models.id"),
        _figure("coverage"),
        _text("currency"),
        _figure("median"),
        _figure("low", may_be_empty=True),
        _figure("high", may_be_empty=True),
        _text("settings"),
        _refers("summary", "contents.fingerprint", sa.Text),
    )
    _records("plans", _text("subject"), _text("name"), _text("text"))
    _records(
        "deals",
        _text("subject"),
        _text("kind"),
        _refers("plan_id", "plans.id", may_be_empty=True),
        _refers("model_id", "models.id", may_be_empty=True),
        _text("inputs"),
        _refers("result", "contents.fingerprint", sa.Text),
    )
    _records(
        "offers",
        _text("subject"),
        _refers("plan_id", "plans.id", may_be_empty=True),
        _refers("estimate_id", "estimates.id", may_be_empty=True),
        _figure("amount"),
        _text("currency"),
        _day("offered_on"),
        _text("who"),
        _text("answer"),
        _figure("counter", may_be_empty=True),
        _text("remark"),
    )
    _records(
        "sales",
        _text("subject"),
        _refers("estimate_id", "estimates.id"),
        _figure("price"),
        _text("currency"),
        _day("sold_on"),
        _text("kind"),
        sa.Column("arms_length", sa.Boolean, nullable=False),
        _text("remark"),
    )
    _records(
        "sheets",
        _text("kind"),
        _text("subject"),
        _refers("estimate_id", "estimates.id", may_be_empty=True),
        _refers("deal_id", "deals.id", may_be_empty=True),
        _text("file_name"),
        _text("fingerprint"),
        _text("inputs"),
    )
    for table in ("estimates", "plans", "deals", "offers", "sales"):
        op.create_index(f"{table}_by_subject", table, ["subject"])


def _records(name: str, *columns: sa.Column[object]) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        _text("written_at"),
        # One correction at most for each record, so that a chain never forks.
        _refers("corrects", f"{name}.id", may_be_empty=True, unique=True),
        _text("reason"),
        sa.Column("withdrawn", sa.Boolean, nullable=False),
        _text("seal"),
        *columns,
        sa.CheckConstraint("corrects < id", name=f"{name}_correct_an_older_one"),
    )


def _text(name: str) -> sa.Column[object]:
    return sa.Column(name, sa.Text, nullable=False)


def _whole(name: str) -> sa.Column[object]:
    return sa.Column(name, sa.Integer, nullable=False)


def _figure(name: str, may_be_empty: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.Double, nullable=may_be_empty)


def _day(name: str) -> sa.Column[object]:
    return sa.Column(name, sa.Date, nullable=False)


def _refers(
    name: str, target: str, plain: type = sa.Integer, may_be_empty: bool = False, unique: bool = False
) -> sa.Column[object]:
    return sa.Column(name, plain, sa.ForeignKey(target), nullable=may_be_empty, unique=unique or None)
