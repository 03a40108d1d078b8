"""Column types that both engines share, and the words that some columns hold."""

from datetime import UTC, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, DateTime, Dialect, Integer
from sqlalchemy.types import TypeDecorator


class Instant(TypeDecorator[datetime]):
    """A point in time, stored in UTC and always aware.

    Raises
    ------
    ValueError
        A naive datetime is bound.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a naive instant; SQLite keeps UTC without the offset."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"instant {value!r} is naive: give it a time zone")
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Answer in UTC, aware."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


Id = BigInteger().with_variant(Integer(), "sqlite")
"""A row id: 64 bits on both engines (SQLite's INTEGER is)."""


class Role(StrEnum):
    """What a person may see and change."""

    COORDINATOR = "coordinator"
    PROGRAMME_LEAD = "programme lead"
    AUDITOR = "auditor"


class SettledBy(StrEnum):
    """What settled an attempt that had ended in doubt."""

    RECEIPT = "receipt"
    ASKED = "asked"
    SENT_AGAIN = "sent again"
    POLICY = "policy"
    PERSON = "person"


class Outcome(StrEnum):
    """How one attempt at handing over ended."""

    TAKEN = "taken"
    REFUSED = "refused"
    LATER = "later"
    UNSURE = "unsure"


class Decision(StrEnum):
    """Whether a farmer who joined by text is let in."""

    WAITING = "waiting"
    APPROVED = "approved"
    DECLINED = "declined"


class Waits(StrEnum):
    """Why a text waits for a person."""

    UNREAD = "unread"
    ASKED_BACK = "asked back"


class Settlement(StrEnum):
    """What became of a text that waited for a person."""

    REPORTED = "reported"
    SET_ASIDE = "set aside"
    ANSWERED = "answered"
