"""Conditions and values that the modules of the outbound queue share; no statement of its own."""

from datetime import datetime

from sqlalchemy import ColumnElement, case, exists, literal

from reminder_service.kinds import NoticeState, Stage
from reminder_service.records.tables import notices, phones

DUE = (NoticeState.PLANNED.value, NoticeState.WAITING.value)
"""States that a dispatcher may claim from."""


def urgency() -> tuple[ColumnElement[bool], ColumnElement[datetime], ColumnElement[int]]:
    """Order in which notices go out: replies first, then what expires first."""
    return (notices.c.stage != Stage.REPLY.value, notices.c.expires_at, notices.c.id)


def is_reply() -> ColumnElement[bool]:
    """Whether a notice answers a text."""
    return notices.c.stage == Stage.REPLY.value


def has_stopped(phone_id: ColumnElement[int]) -> ColumnElement[bool]:
    """Whether a phone's user said stop. Index: primary key of phones."""
    return exists().where(phones.c.id == phone_id, phones.c.stopped_at.is_not(None))


def unclaimed(state: object, **values: object) -> dict[str, object]:
    """Values of a row that no worker has any more."""
    return {"state": state, "claim": None, "lease_until": None, **values}


def back_to(untried: NoticeState) -> ColumnElement[str]:
    """State of a claimed row that is given back: in doubt if it may have left us."""
    tried = notices.c.attempt_id.is_not(None)
    return case((tried, literal(NoticeState.IN_DOUBT.value)), else_=literal(untried.value))


def not_after_expiry(at: datetime) -> ColumnElement[datetime]:
    """An instant, or the notice's expiry if that comes first."""
    wanted = literal(at, notices.c.send_at.type)
    return case((notices.c.expires_at < wanted, notices.c.expires_at), else_=wanted)
