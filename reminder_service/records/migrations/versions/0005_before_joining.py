"""Joining by text with consent, who is let in, and lead farmers who report for others."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the five tables."""
    _joinings()
    _consents()
    _newcomers()
    _lead_farmers()


def _joinings() -> None:
    op.create_table(
        "joinings",
        sa.Column("phone_id", ID, nullable=False),
        sa.Column("step", sa.String(length=16), nullable=False),
        sa.Column("answers", sa.JSON(), nullable=False),
        sa.Column("updated_at", INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["phone_id"], ["phones.id"], name="fk_joinings_phone_id"),
        sa.PrimaryKeyConstraint("phone_id", name="pk_joinings"),
    )
    op.create_index("ix_joinings_updated_at", "joinings", ["updated_at"])


def _consents() -> None:
    op.create_table(
        "consents",
        sa.Column("id", ID, nullable=False),
        sa.Column("phone_id", ID, nullable=False),
        sa.Column("given", sa.Boolean(), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("wording", sa.Text(), nullable=False),
        sa.Column("inbound_id", ID, nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["inbound_id"], ["inbound.id"], name="fk_consents_inbound_id"),
        sa.ForeignKeyConstraint(["phone_id"], ["phones.id"], name="fk_consents_phone_id"),
        sa.PrimaryKeyConstraint("id", name="pk_consents"),
    )
    op.create_index("ix_consents_phone_id", "consents", ["phone_id"])


def _newcomers() -> None:
    op.create_table(
        "newcomers",
        sa.Column("farmer_id", ID, nullable=False),
        sa.Column("phone_id", ID, nullable=False),
        sa.Column("consent_id", ID, nullable=False),
        sa.Column("joined_at", INSTANT, nullable=False),
        sa.Column("decision", sa.String(length=10), nullable=False),
        sa.Column("decided_at", INSTANT),
        sa.Column("person_id", ID),
        sa.CheckConstraint(
            "decision IN ('waiting', 'approved', 'declined')", name="ck_newcomers_decision"
        ),
        sa.ForeignKeyConstraint(["consent_id"], ["consents.id"], name="fk_newcomers_consent_id"),
        sa.ForeignKeyConstraint(["farmer_id"], ["farmers.id"], name="fk_newcomers_farmer_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_newcomers_person_id"),
        sa.ForeignKeyConstraint(["phone_id"], ["phones.id"], name="fk_newcomers_phone_id"),
        sa.PrimaryKeyConstraint("farmer_id", name="pk_newcomers"),
    )
    op.create_index("ix_newcomers_decision", "newcomers", ["decision"])


def _lead_farmers() -> None:
    op.create_table(
        "ward_leads",
        sa.Column("farmer_id", ID, nullable=False),
        sa.Column("ward_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["farmer_id"], ["farmers.id"], name="fk_ward_leads_farmer_id"),
        sa.ForeignKeyConstraint(["ward_id"], ["wards.id"], name="fk_ward_leads_ward_id"),
        sa.PrimaryKeyConstraint("farmer_id", "ward_id", name="pk_ward_leads"),
    )
    op.create_table(
        "lead_reports",
        sa.Column("report_id", ID, nullable=False),
        sa.Column("farmer_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["farmer_id"], ["farmers.id"], name="fk_lead_reports_farmer_id"),
        sa.ForeignKeyConstraint(["report_id"], ["reports.id"], name="fk_lead_reports_report_id"),
        sa.PrimaryKeyConstraint("report_id", name="pk_lead_reports"),
    )
