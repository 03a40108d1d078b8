"""Routes and receipts: what carriers say, and how each route fares."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the two tables, and let an attempt be found by the carrier's reference."""
    op.create_table(
        "receipts",
        sa.Column("id", ID, nullable=False),
        sa.Column("gateway", sa.String(length=40), nullable=False),
        sa.Column("reference", sa.String(length=200)),
        sa.Column("client_reference", sa.String(length=64)),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("attempt_id", ID),
        sa.CheckConstraint(
            "reference IS NOT NULL OR client_reference IS NOT NULL", name="ck_receipts_named"
        ),
        sa.ForeignKeyConstraint(["attempt_id"], ["attempts.id"], name="fk_receipts_attempt_id"),
        sa.PrimaryKeyConstraint("id", name="pk_receipts"),
    )
    op.create_index("ix_receipts_attempt_id", "receipts", ["attempt_id"])
    unmatched = sa.text("attempt_id IS NULL")
    op.create_index(
        "ix_receipts_unmatched",
        "receipts",
        ["id"],
        sqlite_where=unmatched,
        postgresql_where=unmatched,
    )
    op.create_table(
        "route_health",
        sa.Column("route", sa.String(length=40), nullable=False),
        sa.Column("next_at", INSTANT, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("texts_that_day", sa.Integer(), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("rests_until", INSTANT),
        sa.Column("reason", sa.Text()),
        sa.PrimaryKeyConstraint("route", name="pk_route_health"),
    )
    op.create_index(
        "ix_attempts_gateway_carrier_reference", "attempts", ["gateway", "carrier_reference"]
    )
