"""How often a carrier was asked what became of a text, and when it may be asked again."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the two columns."""
    asks = sa.Column("asks", sa.Integer(), nullable=False, server_default="0")
    op.add_column("attempts", asks)
    op.add_column("attempts", sa.Column("ask_at", sa.DateTime(timezone=True)))
