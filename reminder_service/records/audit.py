"""The audit log: who did what to what; only ever added to."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from reminder_service.records import tables as t


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the audit log.

    Attributes
    ----------
    at : aware UTC instant
    who : login, or the name of what acted
    what, subject : what was done, to which row, e.g. ``hold`` and ``notice 12``
    before, after : values that changed
    """

    id: int
    at: datetime
    who: str
    what: str
    subject: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None


def note(
    c: Connection,
    *,
    at: datetime,
    who: str,
    what: str,
    subject: str,
    before: Mapping[str, object] | None = None,
    after: Mapping[str, object] | None = None,
) -> None:
    """Add one line to the audit log.

    Parameters
    ----------
    c : connection of the transaction that makes the change
    at : aware UTC instant
    who : login, or the name of what acted
    what, subject : what was done, and to which row
    before, after : values that changed, as JSON can hold them
    """
    c.execute(
        insert(t.audit).values(
            at=at,
            who=who,
            what=what,
            subject=subject,
            before=None if before is None else dict(before),
            after=None if after is None else dict(after),
        )
    )


def audit_of(c: Connection, subject: str, limit: int) -> list[Entry]:
    """What was done to one row, the last first. Index: ix_audit_subject_id."""
    rows = c.execute(
        select(t.audit)
        .where(t.audit.c.subject == subject)
        .order_by(t.audit.c.id.desc())
        .limit(limit)
    ).mappings()
    return [Entry(**row) for row in rows]
