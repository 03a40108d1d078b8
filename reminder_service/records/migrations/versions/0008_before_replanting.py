"""Replanting: three more kinds of report, and the false starts of each ward's rains."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)

KINDS = "'first-rain', 'planted', 'germinated', 'tasselled', 'harvested', 'rain', 'done', 'count', "
BEFORE = f"kind IN ({KINDS}'borer-count')"
AFTER = f"kind IN ({KINDS}'borer-count', 'replanted', 'survived', 'lost')"


def upgrade() -> None:
    """Let reports be of the new kinds, and make the table."""
    if op.get_bind().dialect.name == "sqlite":
        _widen_on_sqlite()
    else:
        op.drop_constraint("ck_reports_kind", "reports", type_="check")
        op.create_check_constraint("ck_reports_kind", "reports", AFTER)
    op.create_table(
        "false_starts",
        sa.Column("id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.Column("season_starts_on", sa.Date(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("dry_from", sa.Date(), nullable=False),
        sa.Column("dry_until", sa.Date(), nullable=False),
        sa.Column("noticed_at", INSTANT, nullable=False),
        sa.Column("gone_at", INSTANT),
        sa.CheckConstraint("dry_from <= dry_until", name="ck_false_starts_run"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_false_starts_ward_id"),
        sa.PrimaryKeyConstraint("id", name="pk_false_starts"),
    )
    op.create_index(
        "ix_false_starts_ward_id_season_starts_on",
        "false_starts",
        ["ward_id", "season_starts_on"],
    )


def _widen_on_sqlite() -> None:
    """Write the wider check over the old one in the schema, where SQLite keeps it as text.

    SQLite cannot alter a check, and copying the table would break what points to its rows. This is
    the way that its documentation names for constraints that the rows on disk do not depend on
    (https://www.sqlite.org/lang_altertable.html, section 7).
    """
    c = op.get_bind()
    version = c.exec_driver_sql("PRAGMA schema_version").scalar_one()
    c.exec_driver_sql("PRAGMA writable_schema = ON")
    changed = c.execute(
        sa.text(
            "UPDATE sqlite_master SET sql = replace(sql, :before, :after) "
            "WHERE type = 'table' AND name = 'reports' AND instr(sql, :before) > 0"
        ),
        {"before": BEFORE, "after": AFTER},
    )
    c.exec_driver_sql(f"PRAGMA schema_version = {version + 1}")
    c.exec_driver_sql("PRAGMA writable_schema = OFF")
    if changed.rowcount != 1:
        raise sa.exc.InvalidRequestError(
            "the check on reports.kind is not as migration 0001 has it"
        )
