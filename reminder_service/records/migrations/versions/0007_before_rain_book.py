"""The rain book: observations, gauge keepers, first rains of wards, seasons to re-plan."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables."""
    _observations()
    op.create_table(
        "gauge_keepers",
        sa.Column("farmer_id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["farmer_id"], ["farmers.id"], name="fk_gauge_keepers_farmer_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_gauge_keepers_ward_id"),
        sa.PrimaryKeyConstraint("farmer_id", "ward_id", name="pk_gauge_keepers"),
    )
    op.create_index("ix_gauge_keepers_ward_id", "gauge_keepers", ["ward_id"])
    op.create_table(
        "ward_first_rains",
        sa.Column("id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.Column("season_starts_on", sa.Date(), nullable=False),
        sa.Column("on", sa.Date()),
        sa.Column("declared_at", INSTANT, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_ward_first_rains_ward_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_ward_first_rains_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_ward_first_rains"),
    )
    op.create_index(
        "ix_ward_first_rains_ward_id_season_starts_on",
        "ward_first_rains",
        ["ward_id", "season_starts_on"],
    )
    op.create_table(
        "replans_due",
        sa.Column("season_id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["season_id"], ["seasons.id"], name="fk_replans_due_season_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_replans_due_ward_id"),
        sa.PrimaryKeyConstraint("season_id", name="pk_replans_due"),
    )
    op.create_index("ix_replans_due_ward_id", "replans_due", ["ward_id"])


def _observations() -> None:
    op.create_table(
        "rain_observations",
        sa.Column("id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.Column("plot_id", ID),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("mm", sa.Double(), nullable=False),
        sa.Column("trace", sa.Boolean(), nullable=False),
        sa.Column("observer", sa.String(length=12), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("kept_at", INSTANT, nullable=False),
        sa.Column("report_id", ID),
        sa.Column("person_id", ID),
        sa.Column("left_out_at", INSTANT),
        sa.CheckConstraint(
            "observer IN ('keeper', 'farmer', 'file', 'source')",
            name="ck_rain_observations_observer",
        ),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_rain_observations_ward_id"),
        sa.ForeignKeyConstraint(["plot_id"], ["plots.id"], name="fk_rain_observations_plot_id"),
        sa.ForeignKeyConstraint(
            ["report_id"], ["reports.id"], name="fk_rain_observations_report_id"
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["people.id"], name="fk_rain_observations_person_id"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_rain_observations"),
        sa.UniqueConstraint("report_id", name="uq_rain_observations_report_id"),
    )
    op.create_index("ix_rain_observations_ward_id_day", "rain_observations", ["ward_id", "day"])
