"""An index of tasks not done by the day they close, so that the late ones are found at once."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the index."""
    is_open = sa.text("done_on IS NULL")
    op.create_index(
        "ix_tasks_open", "tasks", ["closes_on"], sqlite_where=is_open, postgresql_where=is_open
    )
