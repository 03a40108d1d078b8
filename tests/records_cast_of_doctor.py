"""Rows that a set-up is examined by: ticks that ran, a notice that is due, a text left lying."""

from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, insert

from reminder_service.records import tables as t
from reminder_service.work.ticks import WORK

PHONE = {"id": 1, "number": "+447700900001"}


def ran_well(c: Connection, at: datetime) -> None:
    """Every tick ran at an instant."""
    c.execute(delete(t.ticks))
    c.execute(insert(t.ticks), [{"name": name, "started_at": at, "ended_at": at} for name in WORK])


def due_since(c: Connection, at: datetime, **fields) -> None:
    """A notice that is due since an instant."""
    c.execute(insert(t.phones).values(PHONE))
    known = {
        "key": "due",
        "phone_id": 1,
        "task": "thin",
        "number": 1,
        "stage": "opens",
        "body": "Thin.",
        "segments": 1,
        "importance": 1,
        "state": "planned",
        "day": at.date(),
        "send_at": at,
        "expires_at": at + timedelta(days=3),
        "created_at": at,
        "changed_at": at,
    }
    c.execute(insert(t.notices).values(known | fields))


def texts_left(c: Connection, at: datetime) -> None:
    """A text that came in at an instant and was not worked."""
    c.execute(
        insert(t.inbound).values(
            gateway="console",
            message_id="1",
            sender=PHONE["number"],
            body=b"NEXT",
            sent_at=at,
            received_at=at,
        )
    )
