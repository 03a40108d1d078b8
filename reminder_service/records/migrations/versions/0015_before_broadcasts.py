"""Texts that a person sends to many farmers at once."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "broadcasts",
        sa.Column("id", ID, nullable=False),
        sa.Column("token", sa.String(64), nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("expires_at", INSTANT, nullable=False),
        sa.Column("chosen", sa.JSON(), nullable=False),
        sa.Column("bodies", sa.JSON(), nullable=False),
        sa.Column("texts", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_broadcasts_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_broadcasts"),
        sa.UniqueConstraint("token", name="uq_broadcasts_token"),
    )
    op.create_index("ix_broadcasts_person_id", "broadcasts", ["person_id"])
