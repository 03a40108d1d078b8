"""Texts in doubt: what settles them, each once, and each on record.

A text is in doubt while its attempt ended unsure and its notices stand `in doubt`. Whatever settles
it locks the attempt first, as dispatchers do, and changes only notices that are still in doubt:
whoever comes late changes nothing.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    and_,
    case,
    exists,
    func,
    literal,
    or_,
    select,
    tuple_,
    update,
)

from reminder_service.kinds import NoticeState
from reminder_service.records import audit
from reminder_service.records.hooks import note_notices
from reminder_service.records.queue_rows import has_stopped, is_reply
from reminder_service.records.tables import Outcome, SettledBy, attempts, notices

SETTLE = "settle"
"""What the audit log calls a settlement."""

STOPPED = "not sent again: the farmer said stop"
TOO_LATE = "not sent again: too late to be of use"
GIVEN_UP = "not sent again: tried as often as is allowed"

IN_DOUBT = NoticeState.IN_DOUBT.value


@dataclass(frozen=True, slots=True)
class Doubt:
    """One text in doubt.

    Attributes
    ----------
    attempt_id : the try that nobody knows the end of
    gateway : name of the route that had it
    started_at : aware UTC instant of the try
    reason : why it is in doubt
    notice_ids : what the text is made of
    can_go_again : whether no notice of it is stopped
    """

    attempt_id: int
    gateway: str
    started_at: datetime
    reason: str | None
    notice_ids: tuple[int, ...]
    can_go_again: bool


@dataclass(frozen=True, slots=True)
class _Tried:
    """What settling must know of a try in doubt."""

    id: int
    gateway: str
    client_reference: str
    started_at: datetime


def doubt_of(c: Connection, notice_id: int) -> Doubt | None:
    """The text in doubt that a notice belongs to; None if it is not in doubt.

    Index: primary keys, ix_notices_attempt_id.
    """
    own = select(notices.c.attempt_id).where(notices.c.id == notice_id, notices.c.state == IN_DOUBT)
    members = c.execute(
        select(notices.c.id, _is_stopped().label("stopped"))
        .where(notices.c.attempt_id.in_(own), notices.c.state == IN_DOUBT)
        .order_by(notices.c.id)
    ).all()
    row = c.execute(select(attempts).where(attempts.c.id.in_(own))).one_or_none()
    if row is None:
        return None
    ids = tuple(member.id for member in members)
    can_go_again = not any(member.stopped for member in members)
    return Doubt(row.id, row.gateway, row.started_at, row.reason, ids, can_go_again)


def settle(
    c: Connection,
    attempt_ids: Collection[int],
    by: SettledBy,
    at: datetime,
    who: str = "queue",
) -> int:
    """Note that some texts in doubt are settled, whose notices have found their state already.

    Earlier tries of the same text, which carry the same reference, are settled with it. A text
    whose notices are in doubt still, because a later try came to nothing either, is left open.
    Index: primary key, ix_attempts_client_reference, ix_notices_attempt_id.

    Parameters
    ----------
    c : connection of the write transaction that moves the notices; to be called after that
    attempt_ids : the tries; those that were not in doubt or are settled already are left alone
    by : what settled them
    at : aware UTC instant
    who : login or name of what acted, for the audit log

    Returns
    -------
    how many tries are settled now and were not before
    """
    tries = attempts.alias("tries")
    in_doubt_still = exists().where(
        tries.c.client_reference == attempts.c.client_reference,
        tries.c.gateway == attempts.c.gateway,
        notices.c.attempt_id == tries.c.id,
        notices.c.state == IN_DOUBT,
    )
    which = and_(attempts.c.id.in_(sorted(attempt_ids)), ~in_doubt_still)
    texts = _mark_settled(c, which, by, at)
    if not texts:
        return 0
    same = tuple_(attempts.c.gateway, attempts.c.client_reference).in_(sorted(set(texts)))
    _mark_settled(c, same, by, at)
    rows = c.execute(
        select(notices.c.id, notices.c.state)
        .join(attempts, notices.c.attempt_id == attempts.c.id)
        .where(same)
    ).all()
    _note(c, [(row.id, row.state) for row in rows], by, at, who)
    return len(texts)


def _mark_settled(
    c: Connection, which: ColumnElement[bool], by: SettledBy, at: datetime
) -> list[tuple[str, str]]:
    """Settle tries in doubt; answers the route and the reference of each."""
    settled = (
        update(attempts)
        .where(which, _is_open())
        .values(settled_at=at, settled_by=by.value, asks=0, ask_at=None)
        .returning(attempts.c.gateway, attempts.c.client_reference)
    )
    return [(row.gateway, row.client_reference) for row in c.execute(settled)]


def _is_open() -> ColumnElement[bool]:
    return and_(attempts.c.outcome == Outcome.UNSURE.value, attempts.c.settled_at.is_(None))


def _note(
    c: Connection, rows: Sequence[tuple[int, str]], by: SettledBy, at: datetime, who: str
) -> None:
    """Put the settlement of some notices, with the state each has now, on the audit log."""
    for notice_id, state in rows:
        audit.note(
            c,
            at=at,
            who=who,
            what=SETTLE,
            subject=f"notice {notice_id}",
            before={"state": IN_DOUBT},
            after={"state": state, "settled by": by.value},
        )


def settle_as(
    c: Connection,
    attempt_id: int,
    state: NoticeState,
    *,
    by: SettledBy,
    who: str,
    at: datetime,
    reason: str | None = None,
    person_id: int | None = None,
) -> list[int]:
    """Give the notices of a text in doubt the state that it is known to have now.

    Index: primary key, ix_notices_attempt_id, ix_attempts_client_reference.

    Parameters
    ----------
    c : connection of a write transaction
    attempt_id : the try that nobody knew the end of
    state : delivered, undelivered or handed over
    by : what settles it
    who : login or name of what acts, for the audit log
    at : aware UTC instant
    reason : why, for the page
    person_id : who says so, if a person does

    Returns
    -------
    ids of the notices that were in doubt and are no longer; empty if somebody was faster
    """
    found = _locked(c, attempt_id)
    if found is None:
        return []
    values: dict[str, object] = {
        "state": state.value,
        "reason": reason,
        "sent_at": func.coalesce(notices.c.sent_at, found.started_at),
    }
    if person_id is not None:
        values |= {"person_id": person_id}
    return _settled(c, found, values, by, who, at)


def send_anew(
    c: Connection,
    attempt_id: int,
    *,
    by: SettledBy,
    who: str,
    at: datetime,
    reason: str,
    most_tries: int,
) -> list[int]:
    """Let a text that was in doubt go out as if it had never been tried.

    What may no longer go out ends where it would have: expired, withdrawn, or refused when its
    tries are used up. Index: primary key, ix_notices_attempt_id, ix_attempts_client_reference.

    Parameters
    ----------
    c : connection of a write transaction
    attempt_id : the try that nobody knew the end of
    by : what settles it
    who : name of what acts, for the audit log
    at : aware UTC instant
    reason : why it goes again, for the page
    most_tries : tries after which a notice is given up

    Returns
    -------
    ids of the notices that were in doubt and are no longer; empty if somebody was faster
    """
    found = _locked(c, attempt_id)
    if found is None:
        return []
    late = notices.c.expires_at <= at
    stopped = _is_stopped()
    used_up = notices.c.tries >= most_tries
    values = {
        "state": case(
            (late, literal(NoticeState.EXPIRED.value)),
            (stopped, literal(NoticeState.WITHDRAWN.value)),
            (used_up, literal(NoticeState.REFUSED.value)),
            else_=literal(NoticeState.PLANNED.value),
        ),
        "reason": case(
            (late, literal(TOO_LATE)),
            (stopped, literal(STOPPED)),
            (used_up, literal(GIVEN_UP)),
            else_=literal(reason),
        ),
        "attempt_id": case((or_(late, stopped, used_up), notices.c.attempt_id), else_=None),
    }
    return _settled(c, found, values, by, who, at)


def _locked(c: Connection, attempt_id: int) -> _Tried | None:
    """A try in doubt that is not settled yet, kept from others until the transaction ends."""
    own = [attempts.c[name] for name in _Tried.__slots__]
    wanted = select(*own).where(attempts.c.id == attempt_id, _is_open()).with_for_update()
    row = c.execute(wanted).mappings().one_or_none()
    return None if row is None else _Tried(**row)


def _settled(
    c: Connection,
    attempt: _Tried,
    values: Mapping[str, object],
    by: SettledBy,
    who: str,
    at: datetime,
) -> list[int]:
    """Move the notices of a text in doubt and note how; nothing if they are in doubt no more."""
    moved = (
        update(notices)
        .where(notices.c.attempt_id == attempt.id, notices.c.state == IN_DOUBT)
        .values({**values, "changed_at": at})
        .returning(notices.c.id, notices.c.state)
    )
    rows = c.execute(moved).all()
    if not rows:
        return []
    same = and_(
        attempts.c.client_reference == attempt.client_reference,
        attempts.c.gateway == attempt.gateway,
    )
    _mark_settled(c, same, by, at)
    _note(c, [(row.id, row.state) for row in rows], by, at, who)
    return sorted(note_notices(c, [row.id for row in rows], at))


def left_to_policy(
    c: Connection,
    *,
    resent: Collection[str],
    asked: Collection[str],
    most_asks: int,
    before: datetime,
    now: datetime,
    sendable: int | None,
    limit: int,
) -> list[int]:
    """Texts in doubt that neither sending again nor asking will settle, the oldest first.

    Index: ix_notices_state_send_at_id for the state, then primary key and ix_notices_attempt_id.

    Parameters
    ----------
    c : connection
    resent : routes whose carriers drop repeats: their texts are sent again until they expire
    asked : routes whose carriers can be asked
    most_asks : how often
    before : aware UTC instant; texts tried later than this are left alone
    now : aware UTC instant
    sendable : only texts all of which could still go out, with fewer tries than this; None for all
    limit : how many at most

    Returns
    -------
    ids of attempts
    """
    late = notices.c.expires_at <= now
    left = (
        select(attempts.c.id)
        .where(
            attempts.c.id.in_(select(notices.c.attempt_id).where(notices.c.state == IN_DOUBT)),
            _is_open(),
            attempts.c.ended_at <= before,
            or_(attempts.c.gateway.not_in(sorted(resent)), _has_notice(late)),
            or_(attempts.c.gateway.not_in(sorted(asked)), attempts.c.asks >= most_asks),
        )
        .order_by(attempts.c.ended_at, attempts.c.id)
        .limit(limit)
    )
    if sendable is not None:
        spent = or_(late, notices.c.tries >= sendable, _is_stopped())
        left = left.where(~_has_notice(spent))
    return list(c.execute(left).scalars())


def _has_notice(which: ColumnElement[bool]) -> ColumnElement[bool]:
    """Whether some notice of an attempt is of a kind."""
    return exists().where(notices.c.attempt_id == attempts.c.id, which)


def _is_stopped() -> ColumnElement[bool]:
    """Whether a notice may not go because its phone has said stop."""
    return and_(~is_reply(), has_stopped(notices.c.phone_id))
