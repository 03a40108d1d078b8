"""Tasks that wait for replanting; where wards lie, and their daily temperatures."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Add the column and both tables; nothing waits until a season is planned anew."""
    no = sa.text("false")
    op.add_column("tasks", sa.Column("waits", sa.Boolean(), server_default=no, nullable=False))
    op.create_table(
        "ward_places",
        sa.Column("ward_id", ID, nullable=False),
        sa.Column("latitude_deg", sa.Double()),
        sa.Column("soil", sa.String(8)),
        sa.CheckConstraint("soil IN ('sand', 'loam', 'clay')", name="ck_ward_places_soil"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_ward_places_ward_id"),
        sa.PrimaryKeyConstraint("ward_id", name="pk_ward_places"),
    )
    op.create_table(
        "temperatures",
        sa.Column("ward_id", ID, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("tmin_c", sa.Double(), nullable=False),
        sa.Column("tmax_c", sa.Double(), nullable=False),
        sa.Column("by", sa.String(80), nullable=False),
        sa.Column("kept_at", INSTANT, nullable=False),
        sa.CheckConstraint("tmin_c <= tmax_c", name="ck_temperatures_order"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_temperatures_ward_id"),
        sa.PrimaryKeyConstraint("ward_id", "day", name="pk_temperatures"),
    )
