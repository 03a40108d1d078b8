"""First tables.

Written out, so that a later change to the tables leaves this step as it was.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make every table."""
    _farmers_and_plots()
    _people_and_records()
    _seasons_and_texts()
    _reports_and_tasks()
    _attempts()
    _notices()
    _notice_indexes()


def _farmers_and_plots() -> None:
    op.create_table(
        "wards",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("zone", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_wards"),
        sa.UniqueConstraint("name", name="uq_wards_name"),
    )
    op.create_table(
        "farmers",
        sa.Column("id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_farmers_ward_id"),
        sa.PrimaryKeyConstraint("id", name="pk_farmers"),
    )
    op.create_index("ix_farmers_ward_id", "farmers", ["ward_id"])
    op.create_table(
        "phones",
        sa.Column("id", ID, nullable=False),
        sa.Column("number", sa.String(length=16), nullable=False),
        sa.Column("stopped_at", INSTANT),
        sa.PrimaryKeyConstraint("id", name="pk_phones"),
        sa.UniqueConstraint("number", name="uq_phones_number"),
    )
    op.create_table(
        "farmer_phones",
        sa.Column("farmer_id", ID, nullable=False),
        sa.Column("phone_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["farmer_id"], ["farmers.id"], name="fk_farmer_phones_farmer_id"),
        sa.ForeignKeyConstraint(["phone_id"], ["phones.id"], name="fk_farmer_phones_phone_id"),
        sa.PrimaryKeyConstraint("farmer_id", "phone_id", name="pk_farmer_phones"),
    )
    op.create_index("ix_farmer_phones_phone_id", "farmer_phones", ["phone_id"])
    op.create_table(
        "plots",
        sa.Column("id", ID, nullable=False),
        sa.Column("farmer_id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.Column("number", sa.String(length=12), nullable=False),
        sa.Column("stations", sa.Integer(), nullable=False),
        sa.Column("stations_per_ha", sa.Integer(), nullable=False),
        sa.CheckConstraint("stations > 0 AND stations_per_ha > 0", name="ck_plots_stations"),
        sa.ForeignKeyConstraint(["farmer_id"], ["farmers.id"], name="fk_plots_farmer_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_plots_ward_id"),
        sa.PrimaryKeyConstraint("id", name="pk_plots"),
        sa.UniqueConstraint("ward_id", "number", name="uq_plots_ward_id_number"),
    )
    op.create_index("ix_plots_farmer_id", "plots", ["farmer_id"])


def _people_and_records() -> None:
    op.create_table(
        "people",
        sa.Column("id", ID, nullable=False),
        sa.Column("login", sa.String(length=80), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("password_hash", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("session_key", sa.String(length=64), nullable=False),
        sa.Column("failed_logins", sa.Integer(), server_default="0", nullable=False),
        sa.Column("locked_until", INSTANT),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "role IN ('coordinator', 'programme lead', 'auditor')", name="ck_people_role"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_people"),
        sa.UniqueConstraint("login", name="uq_people_login"),
    )
    op.create_table(
        "person_wards",
        sa.Column("person_id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_person_wards_person_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_person_wards_ward_id"),
        sa.PrimaryKeyConstraint("person_id", "ward_id", name="pk_person_wards"),
    )
    op.create_table(
        "audit",
        sa.Column("id", ID, nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("who", sa.String(length=80), nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("subject", sa.String(length=80), nullable=False),
        sa.Column("before", sa.JSON()),
        sa.Column("after", sa.JSON()),
        sa.PrimaryKeyConstraint("id", name="pk_audit"),
    )
    op.create_index("ix_audit_subject_id", "audit", ["subject", "id"])
    op.create_table(
        "ticks",
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("started_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT),
        sa.Column("error", sa.Text()),
        sa.PrimaryKeyConstraint("name", name="pk_ticks"),
    )


def _seasons_and_texts() -> None:
    op.create_table(
        "seasons",
        sa.Column("id", ID, nullable=False),
        sa.Column("plot_id", ID, nullable=False),
        sa.Column("label", sa.String(length=16), nullable=False),
        sa.Column("starts_on", sa.Date(), nullable=False),
        sa.Column("rulebook", sa.String(length=80), nullable=False),
        sa.Column("choices", sa.JSON(), nullable=False),
        sa.Column("planned_at", INSTANT),
        sa.Column("closed_at", INSTANT),
        sa.ForeignKeyConstraint(["plot_id"], ["plots.id"], name="fk_seasons_plot_id"),
        sa.PrimaryKeyConstraint("id", name="pk_seasons"),
        sa.UniqueConstraint("plot_id", "label", name="uq_seasons_plot_id_label"),
    )
    op.create_table(
        "inbound",
        sa.Column("id", ID, nullable=False),
        sa.Column("gateway", sa.String(length=40), nullable=False),
        sa.Column("message_id", sa.String(length=200), nullable=False),
        sa.Column("sender", sa.String(length=200), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("sent_at", INSTANT, nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("phone_id", ID),
        sa.Column("handled_at", INSTANT),
        sa.Column("read_as", sa.JSON()),
        sa.ForeignKeyConstraint(["phone_id"], ["phones.id"], name="fk_inbound_phone_id"),
        sa.PrimaryKeyConstraint("id", name="pk_inbound"),
        sa.UniqueConstraint("gateway", "message_id", name="uq_inbound_gateway_message_id"),
    )
    op.create_index("ix_inbound_phone_id_id", "inbound", ["phone_id", "id"])
    op.create_index(
        "ix_inbound_unhandled",
        "inbound",
        ["id"],
        sqlite_where=sa.text("handled_at IS NULL"),
        postgresql_where=sa.text("handled_at IS NULL"),
    )


def _reports_and_tasks() -> None:
    op.create_table(
        "reports",
        sa.Column("id", ID, nullable=False),
        sa.Column("season_id", ID, nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("on", sa.Date()),
        sa.Column("task", sa.String(length=40)),
        sa.Column("number", sa.Integer()),
        sa.Column("detail", sa.JSON()),
        sa.Column("sent_at", INSTANT, nullable=False),
        sa.Column("inbound_id", ID),
        sa.Column("person_id", ID),
        sa.Column("replaces_id", ID),
        sa.CheckConstraint(
            "kind IN ('first-rain', 'planted', 'germinated', 'tasselled', 'harvested', 'rain', "
            "'done', 'count', 'borer-count')",
            name="ck_reports_kind",
        ),
        sa.CheckConstraint('"on" IS NOT NULL OR replaces_id IS NOT NULL', name="ck_reports_dated"),
        sa.ForeignKeyConstraint(["inbound_id"], ["inbound.id"], name="fk_reports_inbound_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_reports_person_id"),
        sa.ForeignKeyConstraint(["replaces_id"], ["reports.id"], name="fk_reports_replaces_id"),
        sa.ForeignKeyConstraint(["season_id"], ["seasons.id"], name="fk_reports_season_id"),
        sa.PrimaryKeyConstraint("id", name="pk_reports"),
        sa.UniqueConstraint("replaces_id", name="uq_reports_replaces_id"),
    )
    op.create_index("ix_reports_inbound_id", "reports", ["inbound_id"])
    op.create_index("ix_reports_season_id", "reports", ["season_id"])
    op.create_table(
        "tasks",
        sa.Column("season_id", ID, nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("opens_on", sa.Date(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("closes_on", sa.Date(), nullable=False),
        sa.Column("basis", sa.String(length=10), nullable=False),
        sa.Column("estimated", sa.JSON(), nullable=False),
        sa.Column("because", sa.Text(), nullable=False),
        sa.Column("importance", sa.Integer(), nullable=False),
        sa.Column("done_on", sa.Date()),
        sa.CheckConstraint("basis IN ('reported', 'estimated')", name="ck_tasks_basis"),
        sa.CheckConstraint("opens_on <= due_on AND due_on <= closes_on", name="ck_tasks_window"),
        sa.ForeignKeyConstraint(["season_id"], ["seasons.id"], name="fk_tasks_season_id"),
        sa.PrimaryKeyConstraint("season_id", "name", "number", name="pk_tasks"),
    )


def _attempts() -> None:
    op.create_table(
        "attempts",
        sa.Column("id", ID, nullable=False),
        sa.Column("gateway", sa.String(length=40), nullable=False),
        sa.Column("client_reference", sa.String(length=64), nullable=False),
        sa.Column("started_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT),
        sa.Column("outcome", sa.String(length=10)),
        sa.Column("carrier_reference", sa.String(length=200)),
        sa.Column("reason", sa.Text()),
        sa.CheckConstraint(
            "outcome IN ('taken', 'refused', 'later', 'unsure')", name="ck_attempts_outcome"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_attempts"),
    )
    op.create_index("ix_attempts_client_reference", "attempts", ["client_reference"])


def _notices() -> None:
    op.create_table(
        "notices",
        sa.Column("id", ID, nullable=False),
        sa.Column("key", sa.String(length=160), nullable=False),
        sa.Column("phone_id", ID, nullable=False),
        sa.Column("farmer_id", ID),
        sa.Column("ward_id", ID),
        sa.Column("season_id", ID),
        sa.Column("inbound_id", ID),
        sa.Column("task", sa.String(length=40), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("stage", sa.String(length=16), nullable=False),
        sa.Column("opens_on", sa.Date()),
        sa.Column("due_on", sa.Date()),
        sa.Column("closes_on", sa.Date()),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("segments", sa.Integer(), nullable=False),
        sa.Column("importance", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("reason", sa.Text()),
        sa.Column("person_id", ID),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("send_at", INSTANT, nullable=False),
        sa.Column("expires_at", INSTANT, nullable=False),
        sa.Column("tries", sa.Integer(), server_default="0", nullable=False),
        sa.Column("claim", sa.String(length=36)),
        sa.Column("lease_until", INSTANT),
        sa.Column("attempt_id", ID),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("changed_at", INSTANT, nullable=False),
        sa.Column("sent_at", INSTANT),
        sa.CheckConstraint("(state = 'claimed') = (claim IS NOT NULL)", name="ck_notices_claim"),
        sa.CheckConstraint(
            "stage IN ('getting-ready', 'opens', 'nudge', 'last-call', 'correction', 'question', "
            "'reply')",
            name="ck_notices_stage",
        ),
        sa.CheckConstraint(
            "state IN ('planned', 'held', 'claimed', 'handed over', 'waiting', 'delivered', "
            "'undelivered', 'refused', 'in doubt', 'expired', 'withdrawn')",
            name="ck_notices_state",
        ),
        sa.CheckConstraint("send_at <= expires_at", name="ck_notices_timely"),
        sa.ForeignKeyConstraint(["attempt_id"], ["attempts.id"], name="fk_notices_attempt_id"),
        sa.ForeignKeyConstraint(["farmer_id"], ["farmers.id"], name="fk_notices_farmer_id"),
        sa.ForeignKeyConstraint(["inbound_id"], ["inbound.id"], name="fk_notices_inbound_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_notices_person_id"),
        sa.ForeignKeyConstraint(["phone_id"], ["phones.id"], name="fk_notices_phone_id"),
        sa.ForeignKeyConstraint(["season_id"], ["seasons.id"], name="fk_notices_season_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_notices_ward_id"),
        sa.PrimaryKeyConstraint("id", name="pk_notices"),
        sa.UniqueConstraint("key", name="uq_notices_key"),
    )


def _notice_indexes() -> None:
    op.create_index("ix_notices_attempt_id", "notices", ["attempt_id"])
    op.create_index("ix_notices_inbound_id", "notices", ["inbound_id"])
    op.create_index("ix_notices_phone_id_send_at_id", "notices", ["phone_id", "send_at", "id"])
    op.create_index("ix_notices_season_id", "notices", ["season_id"])
    op.create_index("ix_notices_send_at_id", "notices", ["send_at", "id"])
    op.create_index("ix_notices_state_send_at_id", "notices", ["state", "send_at", "id"])
    op.create_index("ix_notices_ward_id_send_at_id", "notices", ["ward_id", "send_at", "id"])
