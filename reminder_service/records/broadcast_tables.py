"""Texts that a person sends to many farmers at once.

They belong to the same metadata as `reminder_service.records.tables`.
"""

from sqlalchemy import JSON, Column, ForeignKey, Index, Integer, String, Table

from reminder_service.records.tables import metadata
from reminder_service.records.types import Id, Instant

broadcasts = Table(
    "broadcasts",
    metadata,
    Column("id", Id, primary_key=True),
    Column("token", String(64), nullable=False, unique=True),
    Column("person_id", Id, ForeignKey("people.id"), nullable=False),
    Column("at", Instant, nullable=False),
    Column("expires_at", Instant, nullable=False),
    Column("chosen", JSON, nullable=False),
    Column("bodies", JSON, nullable=False),
    Column("texts", Integer, nullable=False),
    Index("ix_broadcasts_person_id", "person_id"),
)
"""``chosen`` says whom it was for, ``bodies`` the words by language; ``token`` keeps one form from
being sent twice. Its notices have keys that begin with ``by-hand/`` and the id."""
