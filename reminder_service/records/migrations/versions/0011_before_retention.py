"""Indexes of what has a body, so that retention finds the oldest at once."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make both indexes."""
    full = sa.text("length(body) > 0")
    for table, column in (("inbound", "received_at"), ("notices", "send_at")):
        op.create_index(
            f"ix_{table}_full", table, [column], sqlite_where=full, postgresql_where=full
        )
