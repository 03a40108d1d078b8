"""Tasks that wait for replanting, since their stand was lost."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; nothing waits until a season is planned anew."""
    waits = sa.Column("waits", sa.Boolean(), server_default=sa.text("false"), nullable=False)
    op.add_column("tasks", waits)
