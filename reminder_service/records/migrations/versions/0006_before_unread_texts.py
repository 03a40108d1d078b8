"""Texts that wait for a person to say what they mean; those unread so far wait too."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the table, and fill it from what each text was read as."""
    waiting = op.create_table(
        "waiting_texts",
        sa.Column("inbound_id", ID, nullable=False),
        sa.Column("why", sa.String(length=12), nullable=False),
        sa.Column("settled_at", sa.DateTime(timezone=True)),
        sa.Column("settled_as", sa.String(length=12)),
        sa.Column("person_id", ID),
        sa.CheckConstraint("why IN ('unread', 'asked back')", name="ck_waiting_texts_why"),
        sa.CheckConstraint(
            "settled_as IN ('reported', 'set aside', 'answered')",
            name="ck_waiting_texts_settled_as",
        ),
        sa.CheckConstraint(
            "(settled_at IS NULL) = (settled_as IS NULL)", name="ck_waiting_texts_settled"
        ),
        sa.ForeignKeyConstraint(["inbound_id"], ["inbound.id"], name="fk_waiting_texts_inbound_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_waiting_texts_person_id"),
        sa.PrimaryKeyConstraint("inbound_id", name="pk_waiting_texts"),
    )
    _index("ix_waiting_texts_open", "inbound_id", "settled_at IS NULL")
    _index("ix_waiting_texts_settled_at", "settled_at", "settled_at IS NOT NULL")
    inbound = sa.table("inbound", sa.column("id", ID), sa.column("read_as", sa.JSON()))
    unread = sa.select(inbound.c.id, sa.literal("unread")).where(
        inbound.c.read_as["unread"].as_boolean()
    )
    op.execute(sa.insert(waiting).from_select(["inbound_id", "why"], unread))


def _index(name: str, column: str, condition: str) -> None:
    where = sa.text(condition)
    op.create_index(name, "waiting_texts", [column], sqlite_where=where, postgresql_where=where)
