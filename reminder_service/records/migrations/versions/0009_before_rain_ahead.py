"""Rain that a source expects in the next days of a ward."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "rain_ahead",
        sa.Column("ward_id", ID, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("mm", sa.Double(), nullable=False),
        sa.Column("told_on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_rain_ahead_ward_id"),
        sa.PrimaryKeyConstraint("ward_id", "day", name="pk_rain_ahead"),
    )
