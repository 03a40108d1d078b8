"""What planning writes: each season's tasks, and its notices in the outbound queue.

Everything here on one season is called under `farmers.lock_season`, so that two plans of the same
season never mix.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    and_,
    case,
    delete,
    insert,
    literal,
    or_,
    select,
    tuple_,
    update,
)

from reminder_service.kinds import MOVABLE, NoticeState, SeasonId, Stage
from reminder_service.records import tables as t
from reminder_service.records.hooks import note_notices
from reminder_service.records.views import tasks_by_season
from reminder_service.rules.plan import Task

_MOVABLE = sorted(state.value for state in MOVABLE)
WAITS_FOR_RAIN = "the soil is dry: waits for rain"
"""Reason of a text that is put off while no weeds come up."""

_REVIVABLE = [NoticeState.WITHDRAWN.value, NoticeState.EXPIRED.value]


@dataclass(frozen=True, slots=True)
class NoticeRow:
    """One notice of the queue, as far as planning must know it.

    Attributes
    ----------
    opens_on, due_on, closes_on : local days of its task when it was written
    day : local day it goes out
    send_at, expires_at, sent_at : aware UTC instants
    person_id : who held or withdrew it by hand
    reason : why it stands where it stands
    """

    id: int
    key: str
    phone_id: int
    task: str
    number: int
    stage: Stage
    opens_on: date | None
    due_on: date | None
    closes_on: date | None
    body: str
    segments: int
    importance: int
    state: NoticeState
    day: date
    send_at: datetime
    expires_at: datetime
    person_id: int | None
    sent_at: datetime | None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class NewNotice:
    """What one notice is to say, and when.

    Attributes
    ----------
    key : never sent twice
    opens_on, due_on, closes_on : local days of its task
    day : local day it goes out
    send_at, expires_at : aware UTC instants, the second not before the first
    waits_for_rain : whether it is put off because the soil is dry
    """

    key: str
    phone_id: int
    farmer_id: int | None
    ward_id: int | None
    season_id: SeasonId | None
    inbound_id: int | None
    task: str
    number: int
    stage: Stage
    opens_on: date | None
    due_on: date | None
    closes_on: date | None
    body: str
    segments: int
    importance: int
    day: date
    send_at: datetime
    expires_at: datetime
    waits_for_rain: bool = False


def tasks_of_season(c: Connection, season_id: SeasonId) -> list[Task]:
    """The last plan of a season, by due day. Index: primary key."""
    return tasks_by_season(c, [season_id])[season_id]


def write_tasks(c: Connection, season_id: SeasonId, tasks: Sequence[Task]) -> None:
    """Replace a season's tasks, touching only rows that differ. Index: primary key.

    Parameters
    ----------
    c : connection that holds the season's lock
    season_id : whose
    tasks : the whole plan, each name and number once
    """
    written = {(task.name, task.number): task for task in tasks_of_season(c, season_id)}
    wanted = {(task.name, task.number): task for task in tasks}
    stale = [key for key, task in written.items() if wanted.get(key) != task]
    fresh = [task for key, task in wanted.items() if written.get(key) != task]
    if stale:
        c.execute(
            delete(t.tasks).where(
                t.tasks.c.season_id == season_id,
                tuple_(t.tasks.c.name, t.tasks.c.number).in_(stale),
            )
        )
    if fresh:
        c.execute(insert(t.tasks), [_task_values(season_id, task) for task in fresh])


def _task_values(season_id: SeasonId, task: Task) -> dict[str, object]:
    return {
        "season_id": season_id,
        "name": task.name,
        "number": task.number,
        "opens_on": task.opens,
        "due_on": task.due,
        "closes_on": task.closes,
        "basis": task.basis.value,
        "estimated": sorted(task.estimated),
        "because": task.because,
        "importance": task.importance,
        "done_on": task.done_on,
        "waits": task.waits,
    }


def notices_of_season(c: Connection, season_id: SeasonId) -> list[NoticeRow]:
    """Every notice of a season, whatever its state, by id. Index: ix_notices_season_id."""
    rows = c.execute(
        select(*(t.notices.c[name] for name in NoticeRow.__slots__))
        .where(t.notices.c.season_id == season_id)
        .order_by(t.notices.c.id)
    ).mappings()
    return [
        NoticeRow(**row | {"stage": Stage(row["stage"]), "state": NoticeState(row["state"])})
        for row in map(dict, rows)
    ]


def insert_notices(c: Connection, notices: Sequence[NewNotice], at: datetime) -> None:
    """Queue new notices as planned, or as waiting for rain.

    Index: uq_notices_key, which lets no key in twice.

    Parameters
    ----------
    c : connection of a write transaction
    notices : what to queue
    at : aware UTC instant
    """
    rows = [
        _content(notice) | _standing(notice) | {"created_at": at, "changed_at": at}
        for notice in notices
    ]
    if rows:
        c.execute(insert(t.notices), rows)


def move_notices(c: Connection, moved: Sequence[tuple[int, NewNotice]], at: datetime) -> int:
    """Let rows say what the plan says now, unless they have left us meanwhile. Index: primary key.

    Held rows stay held and waiting rows waiting; a row that the plan had withdrawn, that expired,
    or that waited for rain in vain, is planned again.

    Parameters
    ----------
    c : connection that holds the season's lock
    moved : row id and new content
    at : aware UTC instant

    Returns
    -------
    how many rows were changed
    """
    revived = t.notices.c.state.in_(_REVIVABLE)
    values = {"tries": case((revived, 0), else_=t.notices.c.tries), "changed_at": at}
    may_move = or_(_is_movable(), and_(revived, t.notices.c.person_id.is_(None)))
    return sum(
        c.execute(
            update(t.notices)
            .where(t.notices.c.id == notice_id, may_move)
            .values(_content(notice) | _moved_standing(notice) | values)
        ).rowcount
        for notice_id, notice in sorted(moved, key=lambda pair: pair[0])
    )


def _standing(notice: NewNotice) -> dict[str, object]:
    """State and reason of a notice that was not in the queue."""
    if notice.waits_for_rain:
        return {"state": NoticeState.WAITING.value, "reason": WAITS_FOR_RAIN}
    return {"state": NoticeState.PLANNED.value, "reason": None}


def _moved_standing(notice: NewNotice) -> dict[str, object]:
    """State and reason of a row that is moved; what a person holds stays held."""
    n, new = t.notices.c, _standing(notice)
    anew = or_(n.state.in_(_REVIVABLE), n.reason == WAITS_FOR_RAIN)
    if notice.waits_for_rain:
        anew = n.state != NoticeState.HELD.value
    return {
        "state": case((anew, literal(new["state"])), else_=n.state),
        "reason": case((anew, new["reason"]), else_=n.reason),
    }


def withdraw_notices(c: Connection, ids: Sequence[int], reason: str, at: datetime) -> int:
    """Take notices out that the plan no longer asks for. Index: primary key.

    Parameters
    ----------
    c : connection that holds the season's lock
    ids : rows; those that are no longer movable are left alone
    reason : why, for the page
    at : aware UTC instant

    Returns
    -------
    how many rows were withdrawn
    """
    return _withdraw(c, t.notices.c.id.in_(sorted(ids)), reason, at)


def withdraw_for_phone(c: Connection, phone_id: int, reason: str, at: datetime) -> int:
    """Take out all that is still movable for a phone but replies.

    Index: ix_notices_phone_id_send_at_id.

    Returns
    -------
    how many rows were withdrawn
    """
    no_reply = t.notices.c.stage != Stage.REPLY.value
    return _withdraw(c, and_(t.notices.c.phone_id == phone_id, no_reply), reason, at)


def _withdraw(c: Connection, which: ColumnElement[bool], reason: str, at: datetime) -> int:
    """Whoever held a row did not withdraw it, so the plan may ask for it again."""
    withdrawn = {
        "state": NoticeState.WITHDRAWN.value,
        "reason": reason,
        "person_id": None,
        "changed_at": at,
    }
    changed = update(t.notices).where(which, _is_movable()).values(withdrawn)
    ids = c.execute(changed.returning(t.notices.c.id)).scalars().all()
    return len(note_notices(c, ids, at))


def _is_movable() -> ColumnElement[bool]:
    return t.notices.c.state.in_(_MOVABLE)


def _content(notice: NewNotice) -> dict[str, object]:
    content = asdict(notice) | {"stage": notice.stage.value}
    del content["waits_for_rain"]
    return content
