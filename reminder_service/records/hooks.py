"""What other programs are told: whom, of what, and what is still to be told.

An event's rows are written in the transaction of the event itself, so that none is told of what
did not happen and none is lost that did. They hold ids, states and days, no names, numbers or
words of anybody.
"""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import uuid4

from sqlalchemy import ColumnElement, Connection, and_, delete, exists, insert, select, update

from reminder_service.kinds import NoticeState
from reminder_service.records.open_tables import CallState, hook_calls, hook_wards, hooks
from reminder_service.records.tables import notices, people, wards

REPORT_KEPT = "report.kept"
REPORT_TAKEN_BACK = "report.taken-back"
NOTICE_HANDED_OVER = "notice.handed-over"
NOTICE_ENDED = "notice.ended"
EVENTS = (REPORT_KEPT, REPORT_TAKEN_BACK, NOTICE_HANDED_OVER, NOTICE_ENDED)
"""Everything that a program can ask to be told of."""

_OF_STATE = {
    NoticeState.HANDED_OVER: NOTICE_HANDED_OVER,
    NoticeState.DELIVERED: NOTICE_ENDED,
    NoticeState.UNDELIVERED: NOTICE_ENDED,
    NoticeState.REFUSED: NOTICE_ENDED,
    NoticeState.EXPIRED: NOTICE_ENDED,
    NoticeState.WITHDRAWN: NOTICE_ENDED,
}
"""Which event a notice's coming into a state is."""


@dataclass(frozen=True, slots=True)
class HookLine:
    """One hook as the page lists it.

    Attributes
    ----------
    wards : names of the wards it is told of, between commas; None for all
    made_by : login
    waiting, given_up : calls still to be made, and given up
    last_answer : what the last call that failed and still waits, or was given up, came to
    """

    id: int
    url: str
    events: tuple[str, ...]
    wards: str | None
    made_by: str
    made_at: datetime
    ended_at: datetime | None
    ended_because: str | None
    waiting: int
    given_up: int
    last_answer: str | None


@dataclass(frozen=True, slots=True)
class DueCall:
    """One call that a worker has taken on.

    Attributes
    ----------
    tries : which try this is, from 1
    """

    id: int
    message_id: str
    body: str
    happened_at: datetime
    tries: int


@dataclass(frozen=True, slots=True)
class Hook:
    """A hook that is to be told something now."""

    id: int
    url: str
    secret_sealed: str


def add_hook(
    c: Connection,
    *,
    url: str,
    events: Collection[str],
    ward_ids: Collection[int] | None,
    secret_sealed: str,
    person_id: int,
    at: datetime,
) -> int:
    """Add a hook and answer its id.

    Parameters
    ----------
    c : connection of a write transaction
    url : that is called
    events : some of `EVENTS`
    ward_ids : whose events it is told of; None for all
    secret_sealed : what its calls are signed with
    person_id : who makes it
    at : aware UTC instant
    """
    values = {
        "url": url,
        "events": sorted(events),
        "all_wards": ward_ids is None,
        "secret_sealed": secret_sealed,
        "person_id": person_id,
        "made_at": at,
    }
    hook_id: int = c.execute(insert(hooks).values(values).returning(hooks.c.id)).scalar_one()
    rows = [{"hook_id": hook_id, "ward_id": ward_id} for ward_id in sorted(ward_ids or ())]
    if rows:
        c.execute(insert(hook_wards), rows)
    return hook_id


def end_hook(c: Connection, hook_id: int, because: str, at: datetime) -> bool:
    """End a hook and give up what it was still to be told; False if none runs under the id.

    Index: primary key, ix_hook_calls_waiting.
    """
    running = (hooks.c.id == hook_id, hooks.c.ended_at.is_(None))
    ended = update(hooks).where(*running).values(ended_at=at, ended_because=because)
    if c.execute(ended).rowcount == 0:
        return False
    waits = (hook_calls.c.hook_id == hook_id, hook_calls.c.state == CallState.WAITING.value)
    given_up = {"state": CallState.GIVEN_UP.value, "ended_at": at, "last_answer": because}
    c.execute(update(hook_calls).where(*waits).values(given_up))
    return True


def hook_lines(c: Connection) -> list[HookLine]:
    """Every hook, the newest first. They are few; their calls are kept for some days only."""
    rows = c.execute(
        select(hooks, people.c.login)
        .join(people, hooks.c.person_id == people.c.id)
        .order_by(hooks.c.id.desc())
    ).mappings()
    names: dict[int, list[str]] = {}
    seen = select(hook_wards.c.hook_id, wards.c.name).join(wards).order_by(wards.c.name)
    for hook_id, name in c.execute(seen):
        names.setdefault(hook_id, []).append(name)
    return [
        HookLine(
            row["id"],
            row["url"],
            tuple(row["events"]),
            None if row["all_wards"] else ", ".join(names.get(row["id"], [])),
            row["login"],
            row["made_at"],
            row["ended_at"],
            row["ended_because"],
            *_unsettled(c, row["id"]),
        )
        for row in rows.all()
    ]


def _unsettled(c: Connection, hook_id: int) -> tuple[int, int, str | None]:
    """Calls waiting and given up, and the last trouble. Index: hook_id, event, about."""
    states = (CallState.WAITING.value, CallState.GIVEN_UP.value)
    rows = c.execute(
        select(hook_calls.c.state, hook_calls.c.last_answer)
        .where(hook_calls.c.hook_id == hook_id, hook_calls.c.state.in_(states))
        .order_by(hook_calls.c.id)
    ).all()
    troubles = [row.last_answer for row in rows if row.last_answer]
    waiting = sum(row.state == CallState.WAITING.value for row in rows)
    return waiting, len(rows) - waiting, troubles[-1] if troubles else None


def note_event(
    c: Connection,
    event: str,
    about: str,
    ward_id: int | None,
    data: Mapping[str, object],
    at: datetime,
) -> int:
    """Let every hook that wants an event be told of it. The hooks are few and read through.

    Parameters
    ----------
    c : connection of the transaction in which it happens
    event : one of `EVENTS`
    about : which row, and what of it; the same is told once
    ward_id : where; None for no ward
    data : ids, states and days
    at : aware UTC instant

    Returns
    -------
    how many hooks will be told
    """
    return _note(c, _wanting(c), [(event, about, ward_id, data)], at)


def note_notices(c: Connection, ids: Sequence[int], at: datetime) -> Sequence[int]:
    """Let the hooks know in which final state some notices are now; answers the ids again.

    Without hooks this is one look at an empty table. Index: primary key.

    Parameters
    ----------
    c : connection of the transaction that changed the notices
    ids : notices whose state was changed
    at : aware UTC instant
    """
    wanting = _wanting(c) if ids else []
    if not wanting:
        return ids
    columns = notices.c["id", "ward_id", "season_id", "task", "number", "stage", "state", "sent_at"]
    happened = []
    for row in c.execute(select(*columns).where(notices.c.id.in_(sorted(ids))).order_by("id")):
        event = _OF_STATE.get(NoticeState(row.state))
        if event is None:
            continue
        data = {
            "notice_id": row.id,
            "ward_id": row.ward_id,
            "season_id": row.season_id,
            "task": row.task,
            "number": row.number,
            "stage": row.stage,
            "state": row.state,
            "sent_at": row.sent_at.isoformat() if row.sent_at else None,
        }
        happened.append((event, f"notice {row.id} {row.state}", row.ward_id, data))
    _note(c, wanting, happened, at)
    return ids


_Wanting = tuple[int, frozenset[str], frozenset[int] | None]


def _wanting(c: Connection) -> list[_Wanting]:
    running = select(hooks.c.id, hooks.c.events, hooks.c.all_wards).where(
        hooks.c.ended_at.is_(None)
    )
    found: list[_Wanting] = []
    for row in c.execute(running).all():
        theirs = select(hook_wards.c.ward_id).where(hook_wards.c.hook_id == row.id)
        seen = None if row.all_wards else frozenset(c.execute(theirs).scalars())
        found.append((row.id, frozenset(row.events), seen))
    return found


def _note(
    c: Connection,
    wanting: Sequence[_Wanting],
    happened: Sequence[tuple[str, str, int | None, Mapping[str, object]]],
    at: datetime,
) -> int:
    rows = []
    for event, about, ward_id, data in happened:
        said = {"type": event, "timestamp": at.isoformat(), "data": dict(data)}
        body = json.dumps(said, separators=(",", ":"))
        for hook_id, events, seen in wanting:
            if event in events and (seen is None or ward_id in seen):
                row = {"hook_id": hook_id, "event": event, "about": about, "body": body}
                row |= {"message_id": f"msg_{uuid4().hex}", "state": CallState.WAITING.value}
                rows.append(row | {"happened_at": at, "next_at": at})
    told = 0
    for row in rows:  # a notice may come into a state twice: it is told once
        known = exists().where(*(hook_calls.c[k] == row[k] for k in ("hook_id", "event", "about")))
        if not c.execute(select(known)).scalar_one():
            c.execute(insert(hook_calls).values(row))
            told += 1
    return told


def hooks_due(c: Connection, now: datetime) -> list[Hook]:
    """Hooks that are to be told something by now. Index: ix_hook_calls_waiting."""
    waits = exists().where(
        hook_calls.c.hook_id == hooks.c.id,
        hook_calls.c.state == CallState.WAITING.value,
        hook_calls.c.next_at <= now,
    )
    due = select(hooks.c.id, hooks.c.url, hooks.c.secret_sealed).where(
        hooks.c.ended_at.is_(None), waits
    )
    return [Hook(*row) for row in c.execute(due.order_by(hooks.c.id))]


def take_call(c: Connection, hook_id: int, now: datetime, lease: timedelta) -> DueCall | None:
    """Take the next call of a hook that is due, the oldest first. Index: ix_hook_calls_waiting.

    Whoever takes it has it until the lease ends; if nothing is noted by then, it is due again.

    Parameters
    ----------
    c : connection of a write transaction
    hook_id : whose
    now : aware UTC instant
    lease : how long it is kept from others
    """
    due = and_(
        hook_calls.c.hook_id == hook_id,
        hook_calls.c.state == CallState.WAITING.value,
        hook_calls.c.next_at <= now,
    )
    first = select(hook_calls.c.id).where(due).order_by(hook_calls.c.next_at, hook_calls.c.id)
    first = first.limit(1).with_for_update(skip_locked=True)
    taken = (
        update(hook_calls)
        .where(hook_calls.c.id == first.scalar_subquery(), due)
        .values(next_at=now + lease, tries=hook_calls.c.tries + 1)
        .returning(*hook_calls.c["id", "message_id", "body", "happened_at", "tries"])
    )
    row = c.execute(taken).one_or_none()
    return None if row is None else DueCall(*row)


def call_ended(c: Connection, call: DueCall, state: CallState, answer: str, at: datetime) -> None:
    """Note that a call was taken, or that it is given up. Index: primary key."""
    values = {"state": state.value, "ended_at": at, "last_answer": answer}
    c.execute(update(hook_calls).where(_is_held(call)).values(values))


def call_later(c: Connection, call: DueCall, next_at: datetime, answer: str) -> None:
    """Note that a call failed and when it is made again. Index: primary key."""
    values = {"next_at": next_at, "last_answer": answer}
    c.execute(update(hook_calls).where(_is_held(call)).values(values))


def _is_held(call: DueCall) -> ColumnElement[bool]:
    """Whether nobody else took the call on meanwhile, and the hook still runs."""
    waits = hook_calls.c.state == CallState.WAITING.value
    return and_(hook_calls.c.id == call.id, hook_calls.c.tries == call.tries, waits)


def drop_calls(c: Connection, before: datetime) -> int:
    """Forget calls that ended before an instant. Index: ix_hook_calls_ended_at."""
    old = hook_calls.c.ended_at < before
    return c.execute(delete(hook_calls).where(old)).rowcount
