"""The outbound queue as people change it: hold, release, withdraw, send again."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import count
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, Connection, and_, select, update

from reminder_service.kinds import FINAL, MOVABLE, NoticeState
from reminder_service.records.errors import NotFound
from reminder_service.records.hooks import note_notices
from reminder_service.records.once import insert_once
from reminder_service.records.queue_rows import DUE
from reminder_service.records.tables import notices, wards

BY_HAND = "withdrawn by hand"

COPIED = (
    "phone_id",
    "farmer_id",
    "ward_id",
    "season_id",
    "inbound_id",
    "task",
    "number",
    "stage",
    "opens_on",
    "due_on",
    "closes_on",
    "body",
    "segments",
    "importance",
)
"""What a notice sent again has in common with the first one."""


def hold(c: Connection, ids: Sequence[int], person_id: int, at: datetime) -> list[int]:
    """Keep notices that are still to go out from going. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    ids : which
    person_id : who holds them
    at : aware UTC instant

    Returns
    -------
    ids of those that are held now and were not before
    """
    held = {"state": NoticeState.HELD.value, "person_id": person_id, "changed_at": at}
    return _changed(c, and_(notices.c.id.in_(sorted(ids)), notices.c.state.in_(DUE)), held)


def release(c: Connection, ids: Sequence[int], at: datetime) -> list[int]:
    """Let held notices go out again, at once if their time has come. Index: primary key.

    Returns
    -------
    ids of those that were held
    """
    which = and_(notices.c.id.in_(sorted(ids)), notices.c.state == NoticeState.HELD.value)
    planned = {"state": NoticeState.PLANNED.value, "person_id": None, "changed_at": at}
    return _changed(c, which, planned)


def withdraw_by_hand(c: Connection, ids: Sequence[int], person_id: int, at: datetime) -> list[int]:
    """Take notices out for good; planning does not bring them back. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    ids : which
    person_id : who withdraws them
    at : aware UTC instant

    Returns
    -------
    ids of those that were still movable
    """
    movable = notices.c.state.in_(sorted(state.value for state in MOVABLE))
    withdrawn = {
        "state": NoticeState.WITHDRAWN.value,
        "reason": BY_HAND,
        "person_id": person_id,
        "changed_at": at,
    }
    changed = _changed(c, and_(notices.c.id.in_(sorted(ids)), movable), withdrawn)
    return list(note_notices(c, changed, at))


def _changed(c: Connection, which: ColumnElement[bool], values: Mapping[str, object]) -> list[int]:
    changed = update(notices).where(which).values(values).returning(notices.c.id)
    return sorted(c.execute(changed).scalars())


def zone_of(c: Connection, notice_id: int) -> str:
    """IANA zone of a notice's ward, UTC if it belongs to none. Index: primary key.

    Raises
    ------
    NotFound
        There is no such notice.
    """
    row = c.execute(
        select(wards.c.zone)
        .select_from(notices.outerjoin(wards, notices.c.ward_id == wards.c.id))
        .where(notices.c.id == notice_id)
    ).one_or_none()
    if row is None:
        raise NotFound("notice", notice_id)
    return row.zone or "UTC"


def send_again(
    c: Connection,
    notice_id: int,
    *,
    person_id: int,
    at: datetime,
    send_at: datetime,
    expires_at: datetime,
) -> int:
    """Queue the text of a notice that has left the queue once more. Index: uq_notices_key.

    Parameters
    ----------
    c : connection of a write transaction
    notice_id : the notice that has left
    person_id : who asks for it
    at : aware UTC instant
    send_at, expires_at : aware UTC instants

    Returns
    -------
    id of the new notice

    Raises
    ------
    NotFound
        There is no such notice, or it has not left the queue.
    """
    zone = zone_of(c, notice_id)
    left = notices.c.state.in_(sorted(state.value for state in FINAL))
    row = c.execute(select(notices).where(notices.c.id == notice_id, left)).mappings().one_or_none()
    if row is None:
        raise NotFound("notice that has left the queue", notice_id)
    new = {name: row[name] for name in COPIED} | {
        "state": NoticeState.PLANNED.value,
        "person_id": person_id,
        "day": send_at.astimezone(ZoneInfo(zone)).date(),
        "send_at": send_at,
        "expires_at": expires_at,
        "created_at": at,
        "changed_at": at,
    }
    first_key = row["key"].partition("/again-")[0]
    keys = (f"{first_key}/again-{number}" for number in count(1))
    tries = (insert_once(c, notices, new | {"key": key}) for key in keys)
    return next(new_id for new_id in tries if new_id is not None)
