"""The outbound queue as dispatchers work it: claim, begin an attempt, end it, bring back.

Every change is one conditional update that checks the state and, where a worker acts, its claim:
whoever comes late changes nothing. A claimed row that has an attempt may have left us, so it goes
back to `in doubt` and never straight to `planned`.
"""

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy import ColumnElement, Connection, and_, exists, insert, update

from reminder_service.kinds import NoticeState
from reminder_service.records.hooks import note_notices
from reminder_service.records.queue_claims import ClaimedNotice, claim_due, claim_in_doubt
from reminder_service.records.queue_rows import (
    back_to,
    has_stopped,
    is_reply,
    not_after_expiry,
    unclaimed,
)
from reminder_service.records.queue_sweep import expire, next_due_at, release_lapsed
from reminder_service.records.tables import Outcome, attempts, notices

__all__ = [
    "ClaimedNotice",
    "begin_attempt",
    "claim_due",
    "claim_in_doubt",
    "end_attempt",
    "expire",
    "next_due_at",
    "postpone",
    "refuse",
    "release_lapsed",
]

STOPPED = "the farmer said stop"


def begin_attempt(
    c: Connection,
    *,
    notice_ids: Sequence[int],
    claim: str,
    gateway: str,
    client_reference: str,
    at: datetime,
    segments: int = 0,
    cost: int = 0,
) -> tuple[int, list[int]] | None:
    """Write down that a text is about to be handed over. Index: primary key.

    A notice whose phone has said stop since the claim is taken out instead, unless it is a reply;
    one that an attempt is under way for is left alone. To be committed before the gateway is
    called.

    Parameters
    ----------
    c : connection of a write transaction
    notice_ids : what the text is made of
    claim : token of the round that claimed them
    gateway : name of the gateway
    client_reference : our id of the text
    at : aware UTC instant
    segments, cost : that were reserved for it; cost in thousandths of the programme's money

    Returns
    -------
    id of the attempt and of the notices it holds; None if no notice is left
    """
    under_way = exists().where(attempts.c.id == notices.c.attempt_id, attempts.c.ended_at.is_(None))
    ours = and_(_is_ours(notice_ids, claim), notices.c.lease_until > at, ~under_way)
    stopped = and_(~is_reply(), has_stopped(notices.c.phone_id))
    kept = update(notices).where(ours, ~stopped).values(changed_at=at).returning(notices.c.id)
    ids = sorted(c.execute(kept).scalars())
    if len(ids) < len(notice_ids):
        _take_out(c, and_(ours, stopped), at)
    if not ids:
        return None
    begun = insert(attempts).values(
        gateway=gateway,
        client_reference=client_reference,
        started_at=at,
        segments=segments,
        cost=cost,
    )
    attempt_id: int = c.execute(begun.returning(attempts.c.id)).scalar_one()
    c.execute(update(notices).where(notices.c.id.in_(ids)).values(attempt_id=attempt_id))
    return attempt_id, ids


def _take_out(c: Connection, which: ColumnElement[bool], at: datetime) -> None:
    state = back_to(NoticeState.WITHDRAWN)
    taken_out = unclaimed(state, changed_at=at, reason=STOPPED)
    changed = update(notices).where(which).values(taken_out).returning(notices.c.id)
    note_notices(c, c.execute(changed).scalars().all(), at)


def end_attempt(
    c: Connection,
    *,
    attempt_id: int,
    claim: str,
    outcome: Outcome,
    at: datetime,
    carrier_reference: str | None = None,
    reason: str | None = None,
    send_again_at: datetime | None = None,
) -> int:
    """Note what the gateway answered, unless the lease ran out and was settled meanwhile.

    Index: primary key, ix_notices_attempt_id.

    Parameters
    ----------
    c : connection of a write transaction
    attempt_id : what `begin_attempt` answered
    claim : token of the round that claimed the notices
    outcome : the answer
    at : aware UTC instant
    carrier_reference : the carrier's id, which its receipt will name
    reason : why, for the page
    send_again_at : aware UTC instant of the next try; needed for ``Outcome.LATER`` alone

    Returns
    -------
    how many notices were changed
    """
    ours = and_(
        notices.c.attempt_id == attempt_id,
        notices.c.state == NoticeState.CLAIMED.value,
        notices.c.claim == claim,
    )
    ended = (
        update(attempts)
        .where(attempts.c.id == attempt_id, attempts.c.ended_at.is_(None), exists().where(ours))
        .values(
            ended_at=at, outcome=outcome.value, carrier_reference=carrier_reference, reason=reason
        )
    )
    if c.execute(ended).rowcount == 0:
        return 0
    values = _after(outcome, at, send_again_at) | {"reason": reason, "changed_at": at}
    changed = update(notices).where(ours).values(values).returning(notices.c.id)
    return len(note_notices(c, c.execute(changed).scalars().all(), at))


def _after(outcome: Outcome, at: datetime, again_at: datetime | None) -> dict[str, object]:
    """Where an answer leads the notices of an attempt."""
    match outcome:
        case Outcome.TAKEN:
            return unclaimed(NoticeState.HANDED_OVER.value, sent_at=at)
        case Outcome.REFUSED:
            return unclaimed(NoticeState.REFUSED.value)
        case Outcome.UNSURE:
            return unclaimed(NoticeState.IN_DOUBT.value)
        case Outcome.LATER:
            if again_at is None:
                raise ValueError("outcome later: send_again_at is missing, say when to try again")
            waiting = NoticeState.WAITING.value
            return unclaimed(waiting, attempt_id=None, send_at=not_after_expiry(again_at))


def postpone(
    c: Connection,
    *,
    notice_ids: Sequence[int],
    claim: str,
    send_at: datetime,
    day: date,
    reason: str | None = None,
) -> int:
    """Put claimed notices off, for which nothing was tried. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    notice_ids : which
    claim : token of the round that claimed them
    send_at : aware UTC instant of the next chance
    day : its local day
    reason : why, for the page

    Returns
    -------
    how many were put off
    """
    later = {"send_at": not_after_expiry(send_at), "day": day, "reason": reason}
    return _give_back(c, _is_ours(notice_ids, claim), later)


def refuse(
    c: Connection, *, notice_ids: Sequence[int], claim: str, reason: str, at: datetime
) -> int:
    """End claimed notices that no route can carry and for which nothing was tried.

    Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    notice_ids : which
    claim : token of the round that claimed them
    reason : why, for the page
    at : aware UTC instant

    Returns
    -------
    how many were refused
    """
    ended = unclaimed(back_to(NoticeState.REFUSED), reason=reason, changed_at=at)
    changed = update(notices).where(_is_ours(notice_ids, claim)).values(ended)
    ids = c.execute(changed.returning(notices.c.id)).scalars().all()
    return len(note_notices(c, ids, at))


def _give_back(c: Connection, which: ColumnElement[bool], later: dict[str, object]) -> int:
    values = unclaimed(back_to(NoticeState.PLANNED), tries=notices.c.tries - 1) | later
    return c.execute(update(notices).where(which).values(values)).rowcount


def _is_ours(notice_ids: Sequence[int], claim: str) -> ColumnElement[bool]:
    """Whether a worker has a notice and no attempt is under way for it."""
    under_way = exists().where(attempts.c.id == notices.c.attempt_id, attempts.c.ended_at.is_(None))
    return and_(
        notices.c.id.in_(sorted(notice_ids)),
        notices.c.state == NoticeState.CLAIMED.value,
        notices.c.claim == claim,
        ~under_way,
    )
