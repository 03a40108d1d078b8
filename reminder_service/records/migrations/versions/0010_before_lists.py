"""Lists of farmers and plots that people bring, and who vouched for the farmers' consent."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the four tables."""
    _imports()
    _rows()
    op.create_table(
        "vouched_consents",
        sa.Column("farmer_id", ID, nullable=False),
        sa.Column("import_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["farmer_id"], ["farmers.id"], name="fk_vouched_consents_farmer_id"
        ),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name="fk_vouched_consents_import_id"
        ),
        sa.PrimaryKeyConstraint("farmer_id", name="pk_vouched_consents"),
    )
    op.create_index("ix_vouched_consents_import_id", "vouched_consents", ["import_id"])


def _imports() -> None:
    op.create_table(
        "imports",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID),
        sa.Column("file_name", sa.String(length=200), nullable=False),
        sa.Column("form", sa.JSON(), nullable=False),
        sa.Column("file", sa.LargeBinary()),
        sa.Column("headings", sa.JSON(), nullable=False),
        sa.Column("sample", sa.JSON(), nullable=False),
        sa.Column("headings_row", sa.Integer(), nullable=False),
        sa.Column("columns", sa.JSON(), nullable=False),
        sa.Column("ward_id", ID),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("whole", sa.Boolean(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer()),
        sa.Column("highest", sa.JSON(), nullable=False),
        sa.Column("judged_at", INSTANT),
        sa.Column("counts", sa.JSON()),
        sa.Column("vouched_by", sa.String(length=80)),
        sa.Column("vouched_words", sa.Text()),
        sa.Column("vouched_at", INSTANT),
        sa.Column("claim", sa.String(length=36)),
        sa.Column("lease_until", INSTANT),
        sa.Column("error", sa.Text()),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("changed_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT),
        sa.CheckConstraint(
            "state IN ('columns', 'reading', 'judging', 'ready', 'writing', 'planning', 'done', "
            "'stopped')",
            name="ck_imports_state",
        ),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_imports_person_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_imports_ward_id"),
        sa.PrimaryKeyConstraint("id", name="pk_imports"),
    )
    where = sa.text("ended_at IS NULL")
    op.create_index(
        "ix_imports_at_work", "imports", ["id"], sqlite_where=where, postgresql_where=where
    )


def _rows() -> None:
    op.create_table(
        "import_rows",
        sa.Column("import_id", ID, nullable=False),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.Column("cells", sa.JSON(), nullable=False),
        sa.Column("fate", sa.String(length=12)),
        sa.Column("says", sa.JSON(), nullable=False),
        sa.Column("ward_id", ID),
        sa.Column("farmer_id", ID),
        sa.Column("first_row", sa.Integer()),
        sa.Column("plot_id", ID),
        sa.Column("season_id", ID),
        sa.Column("name", sa.String(length=80)),
        sa.Column("language", sa.String(length=8)),
        sa.Column("number", sa.String(length=12)),
        sa.Column("place", sa.Integer()),
        sa.Column("stations", sa.Integer()),
        sa.Column("stations_per_ha", sa.Integer()),
        sa.Column("choices", sa.JSON()),
        sa.Column("opens_season", sa.Boolean(), nullable=False),
        sa.Column("before", sa.JSON()),
        sa.Column("after", sa.JSON()),
        sa.CheckConstraint(
            "fate IN ('new farmer', 'new plot', 'change', 'same', 'fault')",
            name="ck_import_rows_fate",
        ),
        sa.ForeignKeyConstraint(["import_id"], ["imports.id"], name="fk_import_rows_import_id"),
        sa.PrimaryKeyConstraint("import_id", "row", name="pk_import_rows"),
    )
    op.create_index(
        "ix_import_rows_import_id_fate_row", "import_rows", ["import_id", "fate", "row"]
    )
    op.create_table(
        "import_phones",
        sa.Column("import_id", ID, nullable=False),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=16), nullable=False),
        sa.ForeignKeyConstraint(["import_id"], ["imports.id"], name="fk_import_phones_import_id"),
        sa.PrimaryKeyConstraint("import_id", "row", "place", name="pk_import_phones"),
    )
