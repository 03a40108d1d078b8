"""Tables of the open interface: keys of other programs, calls to them, calendar links, codes.

They belong to the same metadata as `reminder_service.records.tables`. What opens something is kept
as a hash; what must be used again, as a sealed text.
"""

from enum import StrEnum

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    String,
    Table,
    Text,
    UniqueConstraint,
    text,
)

from reminder_service.records.tables import metadata
from reminder_service.records.types import Id, Instant


class CallState(StrEnum):
    """Where a call to another program stands."""

    WAITING = "waiting"
    TAKEN = "taken"
    GIVEN_UP = "given up"


program_keys = Table(
    "program_keys",
    metadata,
    Column("id", Id, primary_key=True),
    Column("name", String(40), nullable=False),
    Column("key_hash", String(64), nullable=False, unique=True),
    Column("scopes", JSON, nullable=False),
    Column("all_wards", Boolean, nullable=False),
    Column("person_id", Id, ForeignKey("people.id"), nullable=False),
    Column("made_at", Instant, nullable=False),
    Column("expires_at", Instant, nullable=False),
    Column("ended_at", Instant),
    Column("used_at", Instant),
)
"""Keys by which other programs ask us; ``person_id`` made one and answers for it."""

program_key_wards = Table(
    "program_key_wards",
    metadata,
    Column("key_id", Id, ForeignKey("program_keys.id"), primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), primary_key=True),
)
"""Wards that a key sees, unless it sees all."""

answered_calls = Table(
    "answered_calls",
    metadata,
    Column("id", Id, primary_key=True),
    Column("key_id", Id, ForeignKey("program_keys.id"), nullable=False),
    Column("idempotency_key", String(200), nullable=False),
    Column("fingerprint", String(64), nullable=False),
    Column("began_at", Instant, nullable=False, index=True),
    Column("status", Integer),
    Column("answer", JSON(none_as_null=True)),
    UniqueConstraint("key_id", "idempotency_key"),
)
"""Writes of other programs by their Idempotency-Key, kept a day; no ``status`` while under way."""

hooks = Table(
    "hooks",
    metadata,
    Column("id", Id, primary_key=True),
    Column("url", String(400), nullable=False),
    Column("events", JSON, nullable=False),
    Column("all_wards", Boolean, nullable=False),
    Column("secret_sealed", Text, nullable=False),
    Column("person_id", Id, ForeignKey("people.id"), nullable=False),
    Column("made_at", Instant, nullable=False),
    Column("ended_at", Instant),
    Column("ended_because", String(80)),
)
"""Addresses of other programs that are told what happens."""

hook_wards = Table(
    "hook_wards",
    metadata,
    Column("hook_id", Id, ForeignKey("hooks.id"), primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), primary_key=True),
)
"""Wards whose events a hook is told of, unless it is told of all."""

hook_calls = Table(
    "hook_calls",
    metadata,
    Column("id", Id, primary_key=True),
    Column("hook_id", Id, ForeignKey("hooks.id"), nullable=False),
    Column("message_id", String(40), nullable=False, unique=True),
    Column("event", String(40), nullable=False),
    Column("about", String(80), nullable=False),
    Column("body", Text, nullable=False),
    Column("happened_at", Instant, nullable=False),
    Column("state", String(10), nullable=False),
    Column("tries", Integer, nullable=False, server_default="0"),
    Column("next_at", Instant, nullable=False),
    Column("ended_at", Instant, index=True),
    Column("last_answer", String(200)),
    UniqueConstraint("hook_id", "event", "about"),
    CheckConstraint(f"state IN ({', '.join(repr(s.value) for s in CallState)})", name="state"),
    Index(
        "ix_hook_calls_waiting",
        "hook_id",
        "next_at",
        sqlite_where=text("state = 'waiting'"),
        postgresql_where=text("state = 'waiting'"),
    ),
)
"""What hooks are still to be told, and were; written in the transaction of the event itself."""

calendar_links = Table(
    "calendar_links",
    metadata,
    Column("id", Id, primary_key=True),
    Column("key_hash", String(64), nullable=False, unique=True),
    Column("ward_id", Id, ForeignKey("wards.id"), index=True),
    Column("plot_id", Id, ForeignKey("plots.id"), index=True),
    Column("person_id", Id, ForeignKey("people.id"), nullable=False),
    Column("made_at", Instant, nullable=False),
    Column("ended_at", Instant),
    Column("used_at", Instant),
    CheckConstraint("(ward_id IS NULL) <> (plot_id IS NULL)", name="of_one"),
)
"""Secret links to the calendar of a ward or of a plot."""

second_factors = Table(
    "second_factors",
    metadata,
    Column("person_id", Id, ForeignKey("people.id"), primary_key=True),
    Column("secret_sealed", Text, nullable=False),
    Column("made_at", Instant, nullable=False),
    Column("confirmed_at", Instant),
    Column("last_step", Id, nullable=False, server_default="0"),
)
"""Secrets that one-time codes are made of; ``last_step`` is the time step of the last code used."""

recovery_codes = Table(
    "recovery_codes",
    metadata,
    Column("id", Id, primary_key=True),
    Column("person_id", Id, ForeignKey("people.id"), nullable=False),
    Column("code_hash", String(64), nullable=False),
    Column("used_at", Instant),
    UniqueConstraint("person_id", "code_hash"),
)
"""Codes that stand in once each for a lost phone."""
