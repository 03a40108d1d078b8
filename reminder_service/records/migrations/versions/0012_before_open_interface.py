"""Keys of other programs, calls to them, calendar links, and one-time codes."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the nine tables."""
    _keys()
    _hooks()
    _calendars()
    _codes()


def _keys() -> None:
    op.create_table(
        "program_keys",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("key_hash", sa.String(length=64), nullable=False),
        sa.Column("scopes", sa.JSON(), nullable=False),
        sa.Column("all_wards", sa.Boolean(), nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("expires_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT),
        sa.Column("used_at", INSTANT),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_program_keys_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_program_keys"),
        sa.UniqueConstraint("key_hash", name="uq_program_keys_key_hash"),
    )
    op.create_table(
        "program_key_wards",
        sa.Column("key_id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["key_id"], ["program_keys.id"], name="fk_program_key_wards_key_id"
        ),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_program_key_wards_ward_id"),
        sa.PrimaryKeyConstraint("key_id", "ward_id", name="pk_program_key_wards"),
    )
    op.create_table(
        "answered_calls",
        sa.Column("id", ID, nullable=False),
        sa.Column("key_id", ID, nullable=False),
        sa.Column("idempotency_key", sa.String(length=200), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("began_at", INSTANT, nullable=False),
        sa.Column("status", sa.Integer()),
        sa.Column("answer", sa.JSON()),
        sa.ForeignKeyConstraint(["key_id"], ["program_keys.id"], name="fk_answered_calls_key_id"),
        sa.PrimaryKeyConstraint("id", name="pk_answered_calls"),
        sa.UniqueConstraint(
            "key_id", "idempotency_key", name="uq_answered_calls_key_id_idempotency_key"
        ),
    )
    op.create_index("ix_answered_calls_began_at", "answered_calls", ["began_at"])


def _hooks() -> None:
    op.create_table(
        "hooks",
        sa.Column("id", ID, nullable=False),
        sa.Column("url", sa.String(length=400), nullable=False),
        sa.Column("events", sa.JSON(), nullable=False),
        sa.Column("all_wards", sa.Boolean(), nullable=False),
        sa.Column("secret_sealed", sa.Text(), nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT),
        sa.Column("ended_because", sa.String(length=80)),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_hooks_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_hooks"),
    )
    op.create_table(
        "hook_wards",
        sa.Column("hook_id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["hook_id"], ["hooks.id"], name="fk_hook_wards_hook_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_hook_wards_ward_id"),
        sa.PrimaryKeyConstraint("hook_id", "ward_id", name="pk_hook_wards"),
    )
    op.create_table(
        "hook_calls",
        sa.Column("id", ID, nullable=False),
        sa.Column("hook_id", ID, nullable=False),
        sa.Column("message_id", sa.String(length=40), nullable=False),
        sa.Column("event", sa.String(length=40), nullable=False),
        sa.Column("about", sa.String(length=80), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("happened_at", INSTANT, nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("tries", sa.Integer(), server_default="0", nullable=False),
        sa.Column("next_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT),
        sa.Column("last_answer", sa.String(length=200)),
        sa.CheckConstraint("state IN ('waiting', 'taken', 'given up')", name="ck_hook_calls_state"),
        sa.ForeignKeyConstraint(["hook_id"], ["hooks.id"], name="fk_hook_calls_hook_id"),
        sa.PrimaryKeyConstraint("id", name="pk_hook_calls"),
        sa.UniqueConstraint("hook_id", "event", "about", name="uq_hook_calls_hook_id_event_about"),
        sa.UniqueConstraint("message_id", name="uq_hook_calls_message_id"),
    )
    op.create_index("ix_hook_calls_ended_at", "hook_calls", ["ended_at"])
    op.create_index(
        "ix_hook_calls_waiting",
        "hook_calls",
        ["hook_id", "next_at"],
        sqlite_where=sa.text("state = 'waiting'"),
        postgresql_where=sa.text("state = 'waiting'"),
    )


def _calendars() -> None:
    op.create_table(
        "calendar_links",
        sa.Column("id", ID, nullable=False),
        sa.Column("key_hash", sa.String(length=64), nullable=False),
        sa.Column("ward_id", ID),
        sa.Column("plot_id", ID),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT),
        sa.Column("used_at", INSTANT),
        sa.CheckConstraint(
            "(ward_id IS NULL) <> (plot_id IS NULL)", name="ck_calendar_links_of_one"
        ),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_calendar_links_person_id"),
        sa.ForeignKeyConstraint(["plot_id"], ["plots.id"], name="fk_calendar_links_plot_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_calendar_links_ward_id"),
        sa.PrimaryKeyConstraint("id", name="pk_calendar_links"),
        sa.UniqueConstraint("key_hash", name="uq_calendar_links_key_hash"),
    )
    op.create_index("ix_calendar_links_plot_id", "calendar_links", ["plot_id"])
    op.create_index("ix_calendar_links_ward_id", "calendar_links", ["ward_id"])


def _codes() -> None:
    op.create_table(
        "second_factors",
        sa.Column("person_id", ID, nullable=False),
        sa.Column("secret_sealed", sa.Text(), nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("confirmed_at", INSTANT),
        sa.Column("last_step", ID, server_default="0", nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_second_factors_person_id"),
        sa.PrimaryKeyConstraint("person_id", name="pk_second_factors"),
    )
    op.create_table(
        "recovery_codes",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("code_hash", sa.String(length=64), nullable=False),
        sa.Column("used_at", INSTANT),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_recovery_codes_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_recovery_codes"),
        sa.UniqueConstraint("person_id", "code_hash", name="uq_recovery_codes_person_id_code_hash"),
    )
