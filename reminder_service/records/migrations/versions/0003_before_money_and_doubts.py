"""What texts cost, and how attempts in doubt were settled."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Add the columns, the table of what was spent, and an index."""
    for name in ("segments", "cost"):
        op.add_column("attempts", sa.Column(name, sa.Integer(), nullable=False, server_default="0"))
    op.add_column("attempts", sa.Column("settled_at", INSTANT))
    op.add_column("attempts", sa.Column("settled_by", sa.String(length=16)))
    op.create_index("ix_attempts_gateway_started_at", "attempts", ["gateway", "started_at"])
    op.create_table(
        "spending",
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("route", sa.String(length=40), nullable=False),
        sa.Column("texts", sa.Integer(), nullable=False),
        sa.Column("segments", sa.Integer(), nullable=False),
        sa.Column("cost", ID, nullable=False),
        sa.PrimaryKeyConstraint("day", "route", name="pk_spending"),
    )
