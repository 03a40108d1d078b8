"""Texts to many farmers at once: whom one would reach, what was sent, what came back."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    Date,
    and_,
    case,
    exists,
    func,
    insert,
    literal,
    select,
)

from reminder_service.kinds import Kind, NoticeState, Stage
from reminder_service.records import tables as t
from reminder_service.records.broadcast_tables import broadcasts
from reminder_service.records.once import insert_once
from reminder_service.records.types import Decision
from reminder_service.records.views import Scope, in_scope, is_replaced, season_is_open

TASK = "by-hand"
"""What stands for the task of a notice that a person wrote."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which farmers a text is for.

    Attributes
    ----------
    ward_ids : theirs
    late_task : those with this task past its due day, its window still open; empty for all
    without : those who have not reported this on some plot; None for all
    """

    ward_ids: tuple[int, ...]
    late_task: str = ""
    without: Kind | None = None


@dataclass(frozen=True, slots=True)
class Recipient:
    """One farmer and the phone that their text goes to."""

    farmer_id: int
    phone_id: int
    ward_id: int
    zone: str
    language: str


@dataclass(frozen=True, slots=True)
class Broadcast:
    """One text to many as it was sent."""

    id: int
    at: datetime
    expires_at: datetime
    login: str
    chosen: Mapping[str, object]
    bodies: Mapping[str, str]
    texts: int


@dataclass(frozen=True, slots=True)
class CameBack:
    """One text from a phone that had got it; its body may be no UTF-8."""

    inbound_id: int
    phone_id: int
    farmer_name: str
    zone: str
    body: str
    sent_at: datetime


def recipients(
    c: Connection, scope: Scope, chosen: Chosen, days: Mapping[str, date]
) -> list[Recipient]:
    """Whom a text would reach: a text a phone, by its first farmer. Index: ix_farmers_ward_id.

    Farmers who stopped, whatever phone they stopped on, and those not let in yet are left out.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    chosen : which farmers
    days : local day in each zone of the wards
    """
    if not chosen.ward_ids or not days:
        return []
    farmer = t.farmers.c.id
    rows = c.execute(
        select(
            farmer,
            func.min(t.farmer_phones.c.phone_id).label("phone_id"),
            t.farmers.c.ward_id,
            t.wards.c.zone,
            t.farmers.c.language,
        )
        .select_from(
            t.farmers.join(t.farmer_phones).join(t.wards, t.farmers.c.ward_id == t.wards.c.id)
        )
        .where(
            t.farmers.c.ward_id.in_(sorted(chosen.ward_ids)),
            *in_scope(t.farmers.c.ward_id, scope),
            ~_stopped(),
            ~_not_let_in(),
            *_asked_for(chosen, days),
        )
        .group_by(farmer, t.farmers.c.ward_id, t.wards.c.zone, t.farmers.c.language)
        .order_by(farmer)
    )
    by_phone: dict[int, Recipient] = {}
    for row in rows:
        by_phone.setdefault(row.phone_id, Recipient(*row))
    return list(by_phone.values())


def _stopped() -> ColumnElement[bool]:
    own = t.farmer_phones.alias("own")
    return exists(
        select(literal(1))
        .select_from(own.join(t.phones, own.c.phone_id == t.phones.c.id))
        .where(own.c.farmer_id == t.farmers.c.id, t.phones.c.stopped_at.is_not(None))
    )


def _not_let_in() -> ColumnElement[bool]:
    return exists().where(
        t.newcomers.c.farmer_id == t.farmers.c.id,
        t.newcomers.c.decision != Decision.APPROVED.value,
    )


def _asked_for(chosen: Chosen, days: Mapping[str, date]) -> list[ColumnElement[bool]]:
    wanted: list[ColumnElement[bool]] = []
    own = t.plots.join(t.seasons)
    theirs = and_(t.plots.c.farmer_id == t.farmers.c.id, season_is_open())
    if chosen.late_task:
        day = case({zone: literal(day, Date) for zone, day in days.items()}, value=t.wards.c.zone)
        late = and_(
            t.tasks.c.season_id == t.seasons.c.id,
            t.tasks.c.name == chosen.late_task,
            t.tasks.c.done_on.is_(None),
            t.tasks.c.due_on < day,
            t.tasks.c.closes_on >= day,
        )
        wanted.append(exists(select(literal(1)).select_from(own.join(t.tasks)).where(theirs, late)))
    if chosen.without is not None:
        reported = exists().where(
            t.reports.c.season_id == t.seasons.c.id,
            t.reports.c.kind == chosen.without.value,
            t.reports.c.on.is_not(None),
            ~is_replaced(),
        )
        wanted.append(exists(select(literal(1)).select_from(own).where(theirs, ~reported)))
    return wanted


def add_broadcast(
    c: Connection,
    *,
    token: str,
    person_id: int,
    at: datetime,
    expires_at: datetime,
    chosen: Chosen,
    bodies: Mapping[str, str],
    texts: int,
) -> int | None:
    """Keep a text to many; None if the form was sent before. Index: uq_broadcasts_token."""
    return insert_once(
        c,
        broadcasts,
        {
            "token": token,
            "person_id": person_id,
            "at": at,
            "expires_at": expires_at,
            "chosen": {
                "wards": sorted(chosen.ward_ids),
                "late task": chosen.late_task,
                "without": None if chosen.without is None else chosen.without.value,
            },
            "bodies": dict(bodies),
            "texts": texts,
        },
    )


def queue_broadcast(
    c: Connection,
    broadcast_id: int,
    rows: Sequence[tuple[Recipient, str, int, date, datetime]],
    *,
    at: datetime,
    expires_at: datetime,
    importance: int,
) -> None:
    """Queue a text to many.

    Parameters
    ----------
    c : connection of a write transaction
    broadcast_id : which one
    rows : recipient, body, its segments, local day, and aware UTC instant to go out at
    at, expires_at : aware UTC instants
    importance : as a rulebook's
    """
    values = [
        {
            "key": f"{TASK}/{broadcast_id}/{recipient.phone_id}",
            "phone_id": recipient.phone_id,
            "farmer_id": recipient.farmer_id,
            "ward_id": recipient.ward_id,
            "task": TASK,
            "number": 1,
            "stage": Stage.QUESTION.value,
            "body": body,
            "segments": segments,
            "importance": importance,
            "state": NoticeState.PLANNED.value,
            "day": day,
            "send_at": send_at,
            "expires_at": expires_at,
            "created_at": at,
            "changed_at": at,
        }
        for recipient, body, segments, day, send_at in rows
    ]
    if values:
        c.execute(insert(t.notices), values)


def broadcasts_seen(c: Connection, person_id: int | None, limit: int) -> list[Broadcast]:
    """The latest texts to many: a person's own, or everybody's. Index: ix_broadcasts_person_id."""
    own = [] if person_id is None else [broadcasts.c.person_id == person_id]
    return _broadcasts(c, *own, limit=limit)


def broadcast_seen(c: Connection, broadcast_id: int, person_id: int | None) -> Broadcast | None:
    """One text to many, if it is the person's own or they may see all. Index: primary key."""
    own = [] if person_id is None else [broadcasts.c.person_id == person_id]
    found = _broadcasts(c, broadcasts.c.id == broadcast_id, *own, limit=1)
    return found[0] if found else None


def _broadcasts(c: Connection, *which: ColumnElement[bool], limit: int) -> list[Broadcast]:
    b = broadcasts.c
    rows = c.execute(
        select(b.id, b.at, b.expires_at, t.people.c.login, b.chosen, b.bodies, b.texts)
        .select_from(broadcasts.join(t.people))
        .where(*which)
        .order_by(b.id.desc())
        .limit(limit)
    )
    return [Broadcast(*row) for row in rows]


def notices_of_broadcast(c: Connection, broadcast_id: int) -> list[tuple[int, NoticeState]]:
    """Ids and states of its notices. Index: uq_notices_key."""
    rows = c.execute(select(t.notices.c.id, t.notices.c.state).where(_of(broadcast_id)))
    return [(id_, NoticeState(state)) for id_, state in rows]


def states_of(found: Sequence[tuple[int, NoticeState]]) -> Counter[NoticeState]:
    """How many stand in each state."""
    return Counter(state for _, state in found)


def came_back(c: Connection, broadcast: Broadcast, scope: Scope, limit: int) -> list[CameBack]:
    """Texts from phones that had got it, until it ended, newest first.

    Index: uq_notices_key, then ix_inbound_phone_id_id.

    Parameters
    ----------
    c : connection
    broadcast : which one
    scope : wards the person may see
    limit : how many at most
    """
    i = t.inbound.c
    rows = c.execute(
        select(i.id, i.phone_id, t.farmers.c.name, t.wards.c.zone, i.body, i.sent_at)
        .select_from(
            t.notices.join(t.inbound, i.phone_id == t.notices.c.phone_id)
            .join(t.farmers, t.notices.c.farmer_id == t.farmers.c.id)
            .join(t.wards, t.notices.c.ward_id == t.wards.c.id)
        )
        .where(
            _of(broadcast.id),
            i.received_at >= t.notices.c.sent_at,
            i.received_at < broadcast.expires_at,
            *in_scope(t.notices.c.ward_id, scope),
        )
        .order_by(i.id.desc())
        .limit(limit)
    )
    return [
        CameBack(*row[:4], row.body.decode("utf-8", "replace").replace("\x00", "\ufffd"), row[5])
        for row in rows
    ]


def _of(broadcast_id: int) -> ColumnElement[bool]:
    """Keys of a text to many, as a stretch of the index: ``0`` follows the stroke in any order."""
    key = t.notices.c.key
    return and_(key > f"{TASK}/{broadcast_id}/", key < f"{TASK}/{broadcast_id}0")
